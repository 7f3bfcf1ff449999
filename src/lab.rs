//! Reads `lab.toml`: what is the same for every order of one laboratory.
//!
//! Takes TOML text and, for the logo, the bytes of an SVG file; gives a [`Lab`]
//! or every fault in it.

mod days;
mod logo;

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::NaiveDate;

use crate::clock::{Clock, zone_help};
use crate::fault::{Fault, Source, visible};
use crate::fields::{Fields, Found, check_words, read_file};
use crate::import::columns::{Columns, read_columns};
use crate::imposition::Feed;
use crate::order::{ClockStyle, Paper, check_number};
use crate::stock::Length;

pub use days::DayRules;
pub use logo::{LOGO_MAX_BYTES, check_logo};

/// One laboratory.
#[derive(Debug, Clone)]
pub struct Lab {
    pub name: String,
    pub address: Vec<String>,
    pub phone: String,
    /// When the phone is answered, where `words` has no hours for a language.
    pub hours: String,
    /// File name of the logo, beside `lab.toml`.
    pub logo: Option<String>,
    /// What every order number starts with; may be empty.
    pub id_prefix: String,
    pub zone: Option<String>,
    pub language: String,
    pub paper: Paper,
    pub clock: Option<ClockStyle>,
    /// Name of the label stock.
    pub stock: Option<Found<String>>,
    /// The ledger's file, relative to the folder of this one.
    pub ledger: Option<String>,
    /// Number to call in an emergency.
    pub emergency: String,
    pub mail: Mail,
    pub days: DayRules,
    pub approval: Option<Approval>,
    /// Texts of the laboratory by language.
    pub words: BTreeMap<String, LabWords>,
    /// Printers by the laboratory's own names for them.
    pub printers: BTreeMap<String, Printer>,
    /// How its exports are to be read.
    pub columns: Columns,
    pub source: Arc<Source>,
}

/// Days without post.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Mail {
    pub us_federal_holidays: bool,
    pub closed: Vec<NaiveDate>,
}

/// Who approved the protocol, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Approval {
    pub by: String,
    pub on: NaiveDate,
}

/// What the laboratory says in its own words, in one language.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LabWords {
    pub hours: Option<String>,
    pub mailing: Option<String>,
    pub bags: Option<String>,
}

/// A printer of labels, as it was measured with an alignment page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Printer {
    /// Its queue's name.
    pub queue: String,
    /// To the right and down, to take back the printer's own error.
    pub nudge: (Length, Length),
    pub feed: Feed,
}

/// Reads one laboratory file.
///
/// # Errors
///
/// Every fault of the file, each with its place.
pub fn read_lab(source: &Arc<Source>, languages: &[&str]) -> Result<Lab, Vec<Fault>> {
    read_file(source, |top| lab(top, languages))
}

fn lab(top: &Fields, languages: &[&str]) -> Option<Lab> {
    let name = short(top, "name", "\"Harbor Bend Laboratory\"");
    let address = top.texts("address");
    let wrong = address.iter().filter_map(|line| check_words(top.source, line).err());
    wrong.for_each(|fault| top.fault(fault));
    let address: Vec<String> = address.into_iter().map(|line| line.value).collect();
    if address.is_empty() && !top.has("address") {
        top.missing("address", "[\"12 Quay Street\", \"Harbor Bend\"]");
    }
    if address.len() > 4 || address.iter().any(|line| line.chars().count() > 60) {
        top.fault(
            Fault::new(
                "`address` is longer than 4 lines of 60 characters",
                "shorten it to what goes on an envelope",
            )
            .at(top.source, top.span(), "address"),
        );
    }
    let phone = short(top, "phone", "\"555-0100\"");
    let hours = short(top, "hours", "\"Monday to Friday, 9 am to 5 pm\"");
    let logo = top.text("logo");
    if let Some(logo) = &logo
        && (logo.value.contains(['/', '\\']) || !logo.value.ends_with(".svg"))
    {
        top.fault(logo.fault(
            top.source,
            format!("`{}` is not an SVG file beside lab.toml", visible(&logo.value)),
            "give the file's name alone, such as logo = \"logo.svg\"",
        ));
    }
    let id_prefix = top.text("id_prefix").and_then(|prefix| id_prefix(top, prefix));
    let zone = top.text("zone").and_then(|zone| match Clock::named(&zone.value) {
        Ok(_) => Some(zone.value),
        Err(near) => {
            top.fault(zone.fault(
                top.source,
                format!(
                    "`{}` is no place of the IANA time zone database",
                    visible(&zone.value)
                ),
                zone_help(&near),
            ));
            None
        }
    });
    let known: Vec<(&str, &str)> = languages.iter().map(|name| (*name, *name)).collect();
    let language = top.choice("language", &known);
    let paper = top.choice("paper", Paper::CHOICES);
    let clock = top.choice("clock", ClockStyle::CHOICES);
    let stock = top.text("stock");
    let ledger = top.text("ledger").and_then(|name| ledger(top, name));
    let emergency = top.printed("emergency", 40).map(|number| number.value);
    let mail = top.table("mail", mail).unwrap_or_default();
    let days = top.table("days", days::day_rules).unwrap_or_default();
    let approval = top.table("approved", approval).flatten();
    let words = top.table("words", |fields| words(fields, languages)).unwrap_or_default();
    let printers = top.table("printers", printers).unwrap_or_default();
    let columns = top.table("columns", read_columns).unwrap_or_default();
    Some(Lab {
        name: name?,
        address,
        phone: phone?,
        hours: hours?,
        logo: logo.map(|logo| logo.value),
        id_prefix: id_prefix.unwrap_or_default(),
        zone,
        language: language.map_or("en", |language| language.value).to_owned(),
        paper: paper.map_or(Paper::Letter, |paper| paper.value),
        clock: clock.map(|clock| clock.value),
        stock,
        ledger,
        emergency: emergency.unwrap_or_else(|| "911".to_owned()),
        mail,
        days,
        approval,
        words,
        printers,
        columns,
        source: top.source.clone(),
    })
}

fn short(fields: &Fields, key: &str, example: &str) -> Option<String> {
    let text = fields.require(key, example, fields.printed(key, 80))?;
    Some(text.value)
}

/// What an order number can begin with.
fn id_prefix(fields: &Fields, prefix: Found<String>) -> Option<String> {
    // Any number that begins so will do.
    let number = format!("{}0000", prefix.value);
    if prefix.value.is_empty() || check_number(&number, "").is_ok() {
        return Some(prefix.value);
    }
    fields.fault(prefix.fault(
        fields.source,
        format!("no order number can begin with `{}`", visible(&prefix.value)),
        "use up to 16 capital letters A to Z, figures and single hyphens, such as \
         id_prefix = \"HB-\"",
    ));
    None
}

fn ledger(fields: &Fields, name: Found<String>) -> Option<String> {
    let folder = name.value.ends_with(['/', '\\']);
    if !name.value.trim().is_empty() && !folder && !name.value.contains('\0') {
        return Some(name.value);
    }
    fields.fault(name.fault(
        fields.source,
        "`ledger` names no file",
        "give a file name, such as ledger = \"ledger.db\"",
    ));
    None
}

fn mail(fields: &Fields) -> Mail {
    let holidays = fields.choice("holidays", &[("us-federal", true), ("none", false)]);
    Mail {
        us_federal_holidays: holidays.is_some_and(|choice| choice.value),
        closed: fields
            .dates("closed")
            .into_iter()
            .flatten()
            .map(|date| date.value)
            .collect(),
    }
}

/// The most by which a printer's error is taken back, in micrometres.
pub const MOST_NUDGE: i64 = 10_000;

fn printers(fields: &Fields) -> BTreeMap<String, Printer> {
    let nudge = |fields: &Fields, key| {
        let found = fields.thousandths(key, -MOST_NUDGE..=MOST_NUDGE);
        Length::from_um(found.map_or(0, |found| found.value))
    };
    let read = |fields: &Fields, name: &str| Printer {
        queue: fields
            .text_up_to("queue", 200)
            .map_or(name.to_owned(), |queue| queue.value),
        nudge: (nudge(fields, "nudge_x"), nudge(fields, "nudge_y")),
        feed: fields.choice("feed", Feed::CHOICES).map_or(Feed::HeadFirst, |f| f.value),
    };
    let names = fields.keys().into_iter().map(|name| name.value);
    names
        .filter_map(|name| {
            let printer = fields.table(&name, |fields| read(fields, &name))?;
            Some((name, printer))
        })
        .collect()
}

fn approval(fields: &Fields) -> Option<Approval> {
    let by = short(fields, "by", "\"Dr. A. Lindqvist, medical director\"");
    let on = fields.require("on", "2026-09-01", fields.date("on"));
    Some(Approval { by: by?, on: on?.value })
}

fn words(fields: &Fields, languages: &[&str]) -> BTreeMap<String, LabWords> {
    let mut all = BTreeMap::new();
    for language in languages {
        let texts = fields.table(language, |fields| LabWords {
            hours: phrase(fields, "hours"),
            mailing: phrase(fields, "mailing"),
            bags: phrase(fields, "bags"),
        });
        if let Some(texts) = texts {
            all.insert((*language).to_owned(), texts);
        }
    }
    all
}

/// One or two short sentences, or nothing.
fn phrase(fields: &Fields, key: &str) -> Option<String> {
    fields.printed(key, 240).map(|text| text.value)
}
