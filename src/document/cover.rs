//! The run sheet: the first pages of a run's packing slips, for the packer.

use chrono::NaiveDate;
use serde::Serialize;

use super::sheet::List;
use super::{Entry, Kit, PageSetting, page_numbers, typst_paper};
use crate::fault::Fault;
use crate::order::{Paper, TextSize};
use crate::plan::Level;
use crate::words::{Words, say};

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Cover {
    pub page: PageSetting,
    pub title: String,
    pub notice: String,
    pub facts: Vec<Entry>,
    /// Orders of the run that got no kit, and why.
    pub left_out: List,
    pub kits_title: String,
    pub columns: Vec<String>,
    pub kits: Vec<CoverKit>,
    /// The day on which the run began.
    #[serde(skip)]
    pub today: NaiveDate,
    /// For each kit another order of the run with a name like its own.
    #[serde(skip)]
    pub alike: Vec<Option<String>>,
}

/// One kit's line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CoverKit {
    /// Its place in the piles, counted from 1.
    pub number: String,
    pub order: String,
    pub name: String,
    /// The day of card 1.
    pub start: String,
    /// What sets this kit apart.
    pub note: String,
}

/// What a run sheet says beside its kits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CoverFacts {
    /// The run's name: when it began, and its share of a larger run.
    pub run: String,
    pub part: usize,
    pub parts: usize,
    pub paper: Paper,
    /// Leaves of paper, and sheets or labels of stock, to load.
    pub leaves: usize,
    pub label_sheets: usize,
    pub stock: String,
    /// The first cell of the first label sheet.
    pub start_at: usize,
    /// Whether each label is a page of a roll.
    pub is_roll: bool,
    /// Kits of the whole run, and orders that got none.
    pub made: usize,
    pub out: usize,
    /// Of those, in English as findings are: on the first part's run sheet alone,
    /// since it names what is the matter with people.
    pub left_out: Vec<String>,
    /// The day on which the run began.
    pub today: NaiveDate,
    /// For each kit another order of the run with a name like its own.
    pub alike: Vec<Option<String>>,
    /// The newest entry of the ledger, if there is one.
    pub ledger: Option<String>,
}

/// Makes the run sheet; `blank` has an entry for each of its pages, as far as
/// they are known.
///
/// # Errors
///
/// A fault for every message or argument that the catalog lacks.
pub fn cover(
    facts: &CoverFacts,
    kits: &[Kit],
    lab: &str,
    words: &Words,
    blank: &[bool],
) -> Result<Cover, Vec<Fault>> {
    let entry = |label, value| Entry { label, value };
    let list = (0..kits.len()).map(|index| line(kits, index, words, facts)).collect();
    let made = Cover {
        page: PageSetting {
            title: say!(words, "cover-title"),
            language: words.language.to_owned(),
            paper: typst_paper(facts.paper),
            large: false,
            foot: lab.to_owned(),
            foot_more: facts.run.clone(),
            numbers: page_numbers(words, blank),
            unreviewed: (!words.is_reviewed())
                .then(|| say!(words, "translation-unreviewed")),
            logo: false,
        },
        title: say!(words, "cover-title"),
        notice: say!(words, "pack-for"),
        facts: vec![
            entry(
                say!(words, "cover-run"),
                say!(
                    words,
                    "cover-part",
                    run = &facts.run,
                    part = facts.part.to_string(),
                    parts = facts.parts.to_string()
                ),
            ),
            entry(say!(words, "cover-kits"), kits.len().to_string()),
            entry(
                say!(words, "cover-paper"),
                say!(words, "cover-leaves", leaves = facts.leaves as i64),
            ),
            entry(
                say!(words, "pack-stock"),
                if facts.is_roll {
                    let count = facts.label_sheets as i64;
                    say!(words, "cover-labels", stock = &facts.stock, count = count)
                } else {
                    let (sheets, cell) = (facts.label_sheets as i64, facts.start_at);
                    let cell = cell.to_string();
                    say!(
                        words,
                        "cover-sheets",
                        stock = &facts.stock,
                        sheets = sheets,
                        cell = cell
                    )
                },
            ),
            entry(
                say!(words, "cover-whole"),
                say!(
                    words,
                    "cover-counts",
                    made = facts.made.to_string(),
                    out = facts.out.to_string()
                ),
            ),
            entry(
                say!(words, "cover-ledger"),
                match &facts.ledger {
                    Some(head) => head.clone(),
                    None => say!(words, "cover-no-ledger"),
                },
            ),
        ],
        left_out: List {
            title: if facts.left_out.is_empty() {
                String::new()
            } else {
                say!(words, "cover-left-out")
            },
            lines: facts.left_out.clone(),
        },
        kits_title: say!(words, "cover-list"),
        columns: vec![
            say!(words, "cover-number"),
            say!(words, "label-order"),
            say!(words, "label-name"),
            say!(words, "pack-start"),
            say!(words, "cover-note"),
        ],
        kits: list,
        today: facts.today,
        alike: facts.alike.clone(),
    };
    super::sound(words, made)
}

/// A kit's line: the note names what a packer must not overlook.
fn line(kits: &[Kit], index: usize, words: &Words, facts: &CoverFacts) -> CoverKit {
    let kit = &kits[index];
    let mut notes = Vec::new();
    if kit.order.start.as_ref().is_some_and(|start| start.date <= facts.today) {
        notes.push(say!(words, "cover-past"));
    }
    if let Some(Some(other)) = facts.alike.get(index) {
        notes.push(say!(words, "cover-alike", order = other));
    }
    if kit.words.language != words.language {
        notes.push(say!(kit.words, "language-name"));
    }
    if kit.order.text == TextSize::Large {
        notes.push(say!(words, "cover-large"));
    }
    let things =
        kit.plan.findings.iter().filter(|finding| finding.level == Level::Warning);
    match things.count() {
        0 => {}
        count => notes.push(say!(words, "cover-things", count = count as i64)),
    }
    CoverKit {
        number: (index + 1).to_string(),
        order: kit.order.number.clone(),
        name: kit.order.patient.name(),
        start: match &kit.order.start {
            Some(start) => words.label_date(start.date),
            None => say!(words, "pack-undated"),
        },
        note: notes.join(", "),
    }
}
