//! The days as lines for the terminal and as JSON, one object a day.
//!
//! For providers and packers, in English.

use std::fmt::Write;

use chrono::NaiveDate;
use serde_json::{Value, json};

use super::{Day, Remark, Search};
use crate::clock::zone_data_version;

/// One day as JSON. `is_start` tells the day that the order has already.
pub fn day_json(search: &Search, day: &Day) -> Value {
    let remarks = |remarks: &[Remark]| -> Vec<Value> {
        remarks
            .iter()
            .map(|remark| json!({ "code": remark.code, "text": remark.text }))
            .collect()
    };
    json!({
        "order": search.order.number,
        "date": day.date.to_string(),
        "weekday": day.date.format("%a").to_string(),
        "is_start": search.start() == Some(day.date),
        "suits": day.suits(),
        "against": remarks(&day.against),
        "notes": remarks(&day.notes),
    })
}

/// The days as a table, a line for each, and what follows from them.
pub fn table(search: &Search, days: &[Day]) -> String {
    let mut text = String::new();
    let patient = &search.order.patient;
    let _ = writeln!(
        text,
        "{}  {}, {}  {}, zone data {}",
        search.order.number,
        patient.family.to_uppercase(),
        patient.given,
        search.zone.name,
        zone_data_version()
    );
    for day in days {
        let _ = writeln!(text, "  {}  {}", with_weekday(day.date), verdict(day));
    }
    if let Some(start) = search.start() {
        let day = search.day(start);
        let _ =
            writeln!(text, "the order's day: {}  {}", with_weekday(start), verdict(&day));
    }
    for hold in search.holds() {
        let _ = writeln!(text, "on hold, whatever the day: {hold}");
    }
    let _ = match days.iter().find(|day| day.suits()) {
        Some(day) => writeln!(text, "the first that suits: {}", with_weekday(day.date)),
        None => writeln!(text, "no day of these {} suits", days.len()),
    };
    text
}

fn with_weekday(date: NaiveDate) -> String {
    date.format("%a %Y-%m-%d").to_string()
}

fn verdict(day: &Day) -> String {
    let list = |remarks: &[Remark]| {
        let texts: Vec<&str> =
            remarks.iter().map(|remark| remark.text.as_str()).collect();
        texts.join("; ")
    };
    match (day.suits(), day.notes.is_empty()) {
        (false, _) => format!("no     {}", list(&day.against)),
        (true, true) => "suits".to_owned(),
        (true, false) => format!("suits  but look: {}", list(&day.notes)),
    }
}
