//! The data of a kit's documents, as the program's own templates get it.

use serde::Deserialize;

#[derive(Deserialize)]
pub struct Paper {
    pub page: PageSetting,
    pub sheet: Sheet,
    pub fluids: Fluids,
    pub checklist: Checklist,
    pub card: Card,
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct PageSetting {
    pub title: String,
    pub paper: String,
    pub foot: String,
    pub foot_more: String,
    pub numbers: Vec<String>,
}

#[derive(Deserialize)]
pub struct Entry {
    pub label: String,
    pub value: String,
}

#[derive(Deserialize)]
pub struct List {
    pub title: String,
    pub lines: Vec<String>,
}

#[derive(Deserialize)]
pub struct Sheet {
    pub lab: String,
    pub title: String,
    pub start: String,
    pub who: Vec<Entry>,
    pub first: List,
    pub before: Vec<String>,
    pub timeline: Timeline,
    pub remember: String,
    pub parts: Vec<Part>,
    pub how: Numbered,
    pub medicines: Medicines,
    pub wrong: List,
    pub repeats: Repeats,
    pub care: List,
    pub call: List,
}

#[derive(Deserialize)]
pub struct Timeline {
    pub stations: Vec<Station>,
    pub segments: Vec<Segment>,
}

#[derive(Deserialize)]
pub struct Station {
    pub time: String,
    pub label: Option<String>,
    pub card: Option<String>,
}

#[derive(Deserialize)]
pub struct Segment {
    pub weight: f32,
    pub kind: String,
    pub label: Option<String>,
}

#[derive(Deserialize)]
pub struct Part {
    pub heading: String,
    pub steps: Vec<Step>,
}

#[derive(Deserialize)]
pub struct Step {
    pub time: String,
    pub day: Option<String>,
    pub card: Option<String>,
    pub action: String,
    pub more: Vec<String>,
}

#[derive(Deserialize)]
pub struct Numbered {
    pub title: String,
    pub lines: Vec<Entry>,
}

#[derive(Deserialize)]
pub struct Medicines {
    pub title: String,
    pub rule: String,
    pub columns: Vec<String>,
    pub rows: Vec<MedicineRow>,
    pub notes: Vec<String>,
}

#[derive(Deserialize)]
pub struct MedicineRow {
    pub medicine: String,
    pub usual: String,
    pub before: String,
    pub after: String,
}

#[derive(Deserialize)]
pub struct Repeats {
    pub title: String,
    pub columns: Vec<String>,
    pub rows: Vec<RepeatRow>,
    pub notes: Vec<String>,
}

#[derive(Deserialize)]
pub struct RepeatRow {
    pub card: String,
    pub day: String,
    pub empty: String,
    pub stop: String,
    pub collect: String,
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Fluids {
    pub title: String,
    pub who: Vec<Entry>,
    pub intro: String,
    pub columns: Vec<String>,
    pub rows: Vec<Entry>,
    pub notes: Vec<String>,
    pub table_title: Option<String>,
    pub own: Option<String>,
    pub tables: Vec<LookUp>,
    pub no_table: Option<String>,
    pub cup: Option<String>,
    pub changes: Changes,
}

#[derive(Deserialize)]
pub struct LookUp {
    pub columns: Vec<String>,
    pub rows: Vec<LookUpRow>,
}

#[derive(Deserialize)]
pub struct LookUpRow {
    pub weight: String,
    pub amount: String,
    pub own: bool,
}

#[derive(Deserialize)]
pub struct Changes {
    pub title: Option<String>,
    pub tables: Vec<ChangeTable>,
}

#[derive(Deserialize)]
pub struct ChangeTable {
    pub columns: Vec<String>,
    pub rows: Vec<ChangeRow>,
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct ChangeRow {
    pub if_at: String,
    pub then_at: String,
    pub planned: bool,
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Checklist {
    pub title: String,
    pub who: Vec<Entry>,
    pub intro: String,
    pub items: Vec<String>,
    pub cards_title: String,
    pub cards: Vec<Entry>,
    pub address_title: String,
    pub address: Vec<String>,
    pub keep: String,
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Card {
    pub title: String,
    pub intro: String,
    pub who: Vec<Entry>,
    pub known: Vec<Entry>,
    pub blanks: Vec<String>,
    pub pregnant: Vec<String>,
    pub accession: String,
    pub times_title: String,
    pub columns: Vec<String>,
    pub rows: Vec<CardRow>,
    pub night: Vec<String>,
    pub drinks: String,
    pub medicines_title: String,
    pub medicines: Vec<String>,
    pub other_medicines: String,
    pub sign: String,
}

#[derive(Deserialize)]
pub struct CardRow {
    pub card: String,
    pub code: String,
    pub planned: String,
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Labels {
    pub title: String,
    pub page_width: f32,
    pub page_height: f32,
    pub label_width: f32,
    pub label_height: f32,
    pub inset: f32,
    pub ruler: Option<String>,
    pub sheets: Vec<Vec<Label>>,
}

#[derive(Deserialize)]
pub struct Label {
    pub x: f32,
    pub y: f32,
    pub name: String,
    pub born: String,
    pub heading: String,
    pub code: String,
    pub planned: String,
    pub collected: String,
    pub date: String,
    pub time: String,
    pub half: Option<String>,
    pub qr: Qr,
}

#[derive(Deserialize)]
pub struct Qr {
    pub modules: u32,
    pub side: f32,
    pub pixels: Vec<u8>,
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Slip {
    pub page: PageSetting,
    pub title: String,
    pub notice: String,
    pub who: Vec<Entry>,
    pub facts: Vec<Entry>,
    pub contents_title: String,
    pub contents: Vec<String>,
    pub cards_title: String,
    pub tick: String,
    pub cards: Vec<Entry>,
    pub findings_title: String,
    pub findings: Vec<String>,
    pub sign: Vec<String>,
}
