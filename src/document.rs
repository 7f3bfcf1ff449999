//! Turns a plan into the words of each document: plain data, ready to print.
//!
//! Times, dates and amounts become text here and nowhere later. Nothing is
//! worked out: what a document says is either in the plan or in the order.

mod card;
mod checklist;
mod cover;
mod fluids;
mod labels;
mod medicines;
mod packing;
mod qr;
mod repeats;
mod sheet;
mod steps;
mod timeline;

use chrono::{NaiveDate, NaiveTime};
use serde::Serialize;

use crate::clock::{Moment, Pass};
use crate::fault::Fault;
use crate::lab::Lab;
use crate::medicine::Medicines;
use crate::order::{self, ClockStyle, Dose, Form, Order, TextSize};
use crate::plan::{Plan, PlannedDose};
use crate::protocol::{Anchor, Protocol};
use crate::stock::Stock;
use crate::words::{Words, say};

pub use cover::{Cover, CoverFacts, CoverKit, cover};
pub(crate) use labels::module_mm;
pub use labels::{Label, Labels, label_sheets, modules};
pub use packing::{Packing, PackingSlip, PageCounts, SlipPlace, packing_slip};
pub use qr::symbol;
pub(crate) use steps::{
    calendar_dose, card_later, dose_after, dose_wait, empty_more, short_interval, which,
};

/// Everything the documents of one order are made from.
pub struct Kit<'a> {
    pub order: &'a Order,
    pub lab: &'a Lab,
    pub protocol: &'a Protocol,
    pub plan: &'a Plan,
    pub stock: &'a Stock,
    pub words: &'a Words,
    pub medicines: &'a Medicines,
    pub edition: Edition,
}

/// Which printing of a kit's paper this is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Edition {
    /// 0 for the first content; more after the patient's day was changed.
    pub revision: u32,
    /// 0 for the first printing of that content.
    pub reprint: u32,
}

/// The documents of one kit that go on paper and into the kit.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct PaperDocuments {
    pub page: PageSetting,
    pub attachment: Attachment,
    pub bookmark: String,
    pub sheet: sheet::Sheet,
    pub fluids: fluids::Fluids,
    pub checklist: checklist::Checklist,
    pub card: card::InformationCard,
}

/// What every page of a PDF has in common.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct PageSetting {
    pub title: String,
    pub language: String,
    pub paper: &'static str,
    pub large: bool,
    /// Left of each page's foot.
    pub foot: String,
    /// Below it: zone and version.
    pub foot_more: String,
    /// Right of it, for each side from the first: "Page 2 of 6"; empty for a
    /// blank one.
    pub numbers: Vec<String>,
    /// Printed where the translation is not reviewed.
    pub unreviewed: Option<String>,
    /// Whether there is a logo file.
    pub logo: bool,
}

/// A label and what stands beside it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Entry {
    pub label: String,
    pub value: String,
}

/// An order's file, as it travels in a PDF.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Attachment {
    /// The order number and `.toml`.
    pub name: String,
    pub text: String,
    pub description: &'static str,
}

/// Makes the documents of one kit that go on paper; `blank` says which of its
/// sides are blank, as far as that is known.
///
/// # Errors
///
/// A fault for every message or argument that the catalog lacks.
pub fn paper_documents(kit: &Kit, blank: &[bool]) -> Result<PaperDocuments, Vec<Fault>> {
    let documents = PaperDocuments {
        page: kit.page_setting(say!(kit.words, "sheet-title"), blank),
        attachment: kit.attachment(),
        bookmark: kit.bookmark(),
        sheet: sheet::sheet(kit),
        fluids: fluids::fluids(kit),
        checklist: checklist::checklist(kit),
        card: card::information_card(kit),
    };
    sound(kit.words, documents)
}

/// What stands at the foot of each side: its number among the sides that are
/// printed, and nothing on a blank one.
pub fn page_numbers(words: &Words, blank: &[bool]) -> Vec<String> {
    let pages = blank.iter().filter(|blank| !**blank).count();
    let mut page = 0;
    let mut number = |blank: &bool| {
        if *blank {
            return String::new();
        }
        page += 1;
        say!(words, "page-of", page = page.to_string(), pages = pages.to_string())
    };
    blank.iter().map(&mut number).collect()
}

fn sound<T>(words: &Words, made: T) -> Result<T, Vec<Fault>> {
    let faults = words.faults();
    if faults.is_empty() { Ok(made) } else { Err(faults) }
}

impl Kit<'_> {
    fn style(&self) -> ClockStyle {
        self.order.clock
    }

    /// A moment's time of day.
    fn time(&self, moment: Moment) -> String {
        self.words.clock(moment, self.style())
    }

    /// A moment's time of day, with which of two it is where the clocks show it twice.
    fn exact_time(&self, moment: Moment) -> String {
        let time = self.time(moment);
        match self.plan.pass(moment) {
            None => time,
            Some(Pass::First) => say!(self.words, "time-first", time = time),
            Some(Pass::Second) => say!(self.words, "time-second", time = time),
        }
    }

    /// A time of day, with its day where that is not the day of `beside`.
    fn time_beside(&self, moment: Moment, beside: Moment) -> String {
        if moment.date_naive() == beside.date_naive() && !self.is_midnight(moment) {
            return self.exact_time(moment);
        }
        let day = self.day(moment.date_naive());
        if self.is_midnight(moment) {
            return self.time_of_day(day, moment);
        }
        say!(self.words, "time-next-day", time = self.exact_time(moment), day = day)
    }

    /// A day: its date, or its number on an undated sheet.
    fn day(&self, date: NaiveDate) -> String {
        day_of(self.words, self.plan, date)
    }

    fn day_and_time(&self, moment: Moment) -> String {
        self.time_of_day(self.day(moment.date_naive()), moment)
    }

    /// Whether it is a midnight that is printed as a word: such a one is at either end
    /// of a day.
    fn is_midnight(&self, moment: Moment) -> bool {
        is_midnight(self.order, moment)
    }

    /// Some names as the end of a sentence has them; `None` if there are none.
    fn in_words(&self, mut names: Vec<String>) -> Option<String> {
        let last = names.pop()?;
        if names.is_empty() {
            return Some(last);
        }
        Some(say!(self.words, "list-and", first = names.join(", "), last = last))
    }

    /// The day, as it is written already, and the time of a moment. Midnight as a word
    /// is at either end of a day: there it says at which.
    fn time_of_day(&self, day: String, moment: Moment) -> String {
        let time = self.exact_time(moment);
        if self.is_midnight(moment) {
            say!(self.words, "card-day-and-midnight", day = day, time = time)
        } else {
            say!(self.words, "card-day-and-time", day = day, time = time)
        }
    }

    /// The patient's name for sheets: "OKONKWO-REYES, Marisol".
    ///
    /// # Source
    ///
    /// NHS Common User Interface, name display: family name in capitals, comma,
    /// given name; never cut.
    fn patient_name(&self) -> String {
        let patient = &self.order.patient;
        say!(
            self.words,
            "field-name",
            family = patient.family.to_uppercase(),
            given = &patient.given
        )
    }

    /// Family name in capitals and the first initial, for labels and feet:
    /// "OKONKWO-REYES, M."
    fn short_name(&self) -> String {
        let patient = &self.order.patient;
        let initial: String =
            patient.given.chars().take(1).flat_map(char::to_uppercase).collect();
        format!("{}, {initial}.", patient.family.to_uppercase())
    }

    fn medicine_name(&self, name: &str) -> String {
        self.medicines.translate(name, self.words.language)
    }

    /// The medicine of one of the order's doses, with its form where the order has it in
    /// another one, too.
    fn medicine_told(&self, index: usize) -> String {
        let dose = &self.order.doses[index];
        let name = self.medicine_name(&dose.medicine);
        let is_other = |other: &Dose| {
            other.form != dose.form && self.medicine_name(&other.medicine) == name
        };
        if self.order.doses.iter().any(is_other) {
            medicine_and_form(self.words, self.medicines, &dose.medicine, dose.form)
        } else {
            name
        }
    }

    /// The time by which the patient knows a dose.
    fn usual_time(&self, dose: &PlannedDose) -> String {
        self.words.time(dose.usual, self.style())
    }

    /// A planned dose's medicine and its form: "estradiol, gel".
    fn medicine_with_form(&self, dose: &PlannedDose) -> String {
        let form = self.order.doses[dose.index].form;
        medicine_and_form(self.words, self.medicines, &dose.medicine, form)
    }

    fn slot_title(&self, title: &std::collections::BTreeMap<String, String>) -> String {
        title.get(self.words.language).cloned().unwrap_or_default()
    }

    fn anchor_word(&self, anchor: Anchor) -> String {
        match anchor {
            Anchor::Lunch => say!(self.words, "anchor-lunch"),
            Anchor::Dinner => say!(self.words, "anchor-dinner"),
            Anchor::Bedtime => say!(self.words, "anchor-bedtime"),
            Anchor::Waking | Anchor::Night => say!(self.words, "anchor-waking"),
        }
    }

    /// The provider's name, if the order has one.
    fn provider_name(&self) -> Option<&str> {
        self.order.provider.as_ref().map(|provider| provider.name.as_str())
    }

    /// The card whose doing ends the ban on caffeine and moved doses: the last.
    fn last_card_number(&self) -> String {
        self.plan
            .slots
            .iter()
            .filter(|slot| slot.collect_at.is_some())
            .max_by_key(|slot| slot.collect_at)
            .and_then(|slot| slot.card)
            .map_or_else(String::new, |card| card.to_string())
    }

    fn who(&self) -> Vec<Entry> {
        let entry = |label, value| Entry { label, value };
        vec![
            entry(say!(self.words, "label-name"), self.patient_name()),
            entry(
                say!(self.words, "label-born"),
                self.words.full_date(self.order.patient.born),
            ),
            entry(say!(self.words, "label-order"), self.order.number.clone()),
        ]
    }

    /// The order's file, as it travels in each PDF of the kit.
    pub fn attachment(&self) -> Attachment {
        Attachment {
            name: format!("{}.toml", self.order.number),
            text: self.order.source.text.clone(),
            description: "order",
        }
    }

    fn bookmark(&self) -> String {
        format!("{}  {}", self.order.number, self.short_name())
    }

    /// "Reprint 1", "Revision 2"; absent on the first printing.
    fn edition_mark(&self) -> Option<String> {
        let Edition { revision, reprint } = self.edition;
        let revised = (revision > 0)
            .then(|| say!(self.words, "mark-revision", number = i64::from(revision)));
        let again = (reprint > 0)
            .then(|| say!(self.words, "mark-reprint", number = i64::from(reprint)));
        let marks: Vec<String> = revised.into_iter().chain(again).collect();
        (!marks.is_empty()).then(|| marks.join(", "))
    }

    /// What the pages of this kit have in common; `blank` says which sides are
    /// blank.
    pub(crate) fn page_setting(&self, title: String, blank: &[bool]) -> PageSetting {
        let sheet = sheet_version(self.protocol);
        let mut foot_more = match &self.plan.zone {
            Some(zone) => say!(
                self.words,
                "foot-zone",
                zone = zone,
                version = self.plan.zone_data,
                sheet = sheet
            ),
            None => say!(self.words, "foot-undated", sheet = sheet),
        };
        if let Some(mark) = self.edition_mark() {
            foot_more = say!(self.words, "foot-edition", mark = mark, more = foot_more);
        }
        PageSetting {
            title,
            language: self.words.language.to_owned(),
            paper: typst_paper(self.order.paper),
            large: self.order.text == TextSize::Large,
            foot: say!(
                self.words,
                "foot-order",
                name = self.short_name(),
                order = &self.order.number
            ),
            foot_more,
            numbers: page_numbers(self.words, blank),
            unreviewed: (!self.words.is_reviewed())
                .then(|| say!(self.words, "translation-unreviewed")),
            logo: self.lab.logo.is_some(),
        }
    }
}

/// The typesetter's name of a paper size.
fn typst_paper(paper: order::Paper) -> &'static str {
    match paper {
        order::Paper::Letter => "us-letter",
        order::Paper::A4 => "a4",
    }
}

/// A medicine and its form in the words of a language: "estradiol (gel)".
pub(crate) fn medicine_and_form(
    words: &Words,
    medicines: &Medicines,
    name: &str,
    form: Form,
) -> String {
    let name = medicines.translate(name, words.language);
    if form == Form::Other {
        return name;
    }
    say!(words, "med-named", name = name, form = words.keyed("form", form.word()))
}

/// A day of a plan: its date, or its number on an undated sheet.
fn day_of(words: &Words, plan: &Plan, date: NaiveDate) -> String {
    if plan.is_dated() {
        return words.day(date);
    }
    let number = (date - plan.day_one).num_days() + 1;
    if number < 1 {
        return say!(words, "day-number-before");
    }
    say!(words, "day-number", number = number)
}

/// Whether a moment is printed as the word for midnight.
pub(crate) fn is_midnight(order: &Order, moment: Moment) -> bool {
    order.clock == ClockStyle::Twelve && moment.time() == NaiveTime::MIN
}

/// The names in their order, each once.
fn each_once(names: impl Iterator<Item = String>) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for name in names {
        if !out.contains(&name) {
            out.push(name);
        }
    }
    out
}

/// The version printed on each sheet: program, protocol and its version.
pub fn sheet_version(protocol: &Protocol) -> String {
    let program = env!("CARGO_PKG_VERSION");
    format!("{program}/{}-{}", protocol.name, protocol.version)
}
