//! Compares what a label says with the plan itself, without the document data:
//! whose it is, which card it belongs to, and when that is planned. Dates and
//! times are read from the label.

use chrono::{NaiveDate, Timelike};

use super::facts::{read_times, with_figures};
use super::tables::{card_name, dated, day};
use super::text::bare;
use super::{Difference, Part};
use crate::document::Kit;
use crate::plan::PlannedSlot;
use crate::words::{Words, say};

/// Stands for a date in a message, to find the word before it.
const DATE: &str = "\u{1}";

/// Compares the label of `slot`, which is all that is in `part`; `number` counts
/// the pages from 1.
pub(super) fn compare(
    kit: &Kit,
    slot: &PlannedSlot,
    part: &Part,
    number: usize,
) -> Vec<Difference> {
    let (words, code) = (kit.words, &slot.code);
    let text = &part.text.bare;
    let mut found = Vec::new();
    let mut differ = |what: String| found.push(Difference::new(number, what));

    let heading = say!(
        words,
        "label-heading",
        card = card_name(words, slot),
        title = title(kit, slot)
    );
    let mut wanted = vec![kit.order.patient.family.to_uppercase(), code.clone(), heading];
    wanted.push(match slot.collect_at {
        None => say!(words, "label-planned-spare"),
        Some(at) => {
            let date = at.date_naive();
            let day = match kit.plan.is_dated() {
                true => words.label_date(date),
                false => day(kit, date),
            };
            say!(words, "label-planned", time = dated(kit, day, at))
        }
    });
    for wanted in wanted.iter().filter(|wanted| !text.contains(&bare(wanted))) {
        differ(format!("expected \"{wanted}\" on the label {code}"));
    }

    let born = say!(words, "label-born-short", date = DATE);
    let birth_date = kit.order.patient.born;
    if !has_after(text, &born, |after| read_date(words, after) == Some(birth_date)) {
        differ(format!("expected the birth date {birth_date} on the label {code}"));
    }
    if let Some(at) = slot.collect_at {
        let date = at.date_naive();
        let planned = say!(words, "label-planned", time = dated(kit, DATE.into(), at));
        let is_right = |after: &str| {
            if kit.plan.is_dated() {
                return read_date(words, after) == Some(date);
            }
            let rest = after.strip_prefix(&bare(&day(kit, date)));
            rest.is_some_and(|rest| !rest.starts_with(|c: char| c.is_ascii_digit()))
        };
        if !has_after(text, &planned, is_right) {
            let day = if kit.plan.is_dated() { date.to_string() } else { day(kit, date) };
            differ(format!("expected the planned day {day} on the label {code}"));
        }
    }

    let running = with_figures(kit, &part.text.running);
    let read: Vec<(u32, u32)> =
        read_times(&running, kit.order.clock).into_iter().map(|read| read.time).collect();
    let planned: Vec<(u32, u32)> =
        slot.collect_at.iter().map(|at| (at.hour(), at.minute())).collect();
    if read != planned {
        differ(format!(
            "expected the times {planned:?} on the label {code}, found {read:?}"
        ));
    }
    found
}

/// The slot's title in the patient's language, or in English.
fn title(kit: &Kit, slot: &PlannedSlot) -> String {
    let titles = &slot.title;
    titles
        .get(kit.words.language)
        .or_else(|| titles.get("en"))
        .or_else(|| titles.values().next())
        .cloned()
        .unwrap_or_default()
}

/// Whether the words of `message` stand in `text` with something right after
/// them, where the message has its date, that `is_right` accepts.
fn has_after(text: &str, message: &str, is_right: impl Fn(&str) -> bool) -> bool {
    let before = bare(message.split(DATE).next().unwrap_or_default());
    text.match_indices(&before).any(|(at, word)| is_right(&text[at + word.len()..]))
}

/// The date that `text` begins with, place by place: two figures, a month's
/// short name, four figures.
fn read_date(words: &Words, text: &str) -> Option<NaiveDate> {
    let mut places = text.splitn(3, '-');
    let (day, month, year) = (places.next()?, places.next()?, places.next()?);
    let figures = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let year = year.get(..4).filter(|year| figures(year))?;
    if day.len() != 2 || !figures(day) {
        return None;
    }
    let mut named = (1..).zip(words.label_months()).filter(|(_, name)| *name == month);
    // A name that stands for two months says nothing.
    let (Some((month, _)), None) = (named.next(), named.next()) else { return None };
    NaiveDate::from_ymd_opt(year.parse().ok()?, month, day.parse().ok()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(text: &str) -> Option<NaiveDate> {
        Some(text.parse().unwrap())
    }

    /// The abbreviations are CLDR's, through ICU4X.
    #[test]
    fn a_date_is_read_place_by_place_in_each_language() {
        let (en, es) = (Words::load("en").unwrap(), Words::load("es").unwrap());
        assert_eq!(read_date(&en, "09-Mar-1984HB-20417-15"), date("1984-03-09"));
        assert_eq!(read_date(&en, "09-Mar-198420417-15"), date("1984-03-09"));
        assert_eq!(read_date(&es, "31-ene-2026,5:15"), date("2026-01-31"));
        for other in
            ["09-Mai-1984", "9-Mar-1984", "09-Mar-84", "31-Feb-2026", "Mar", "09-03-1984"]
        {
            assert_eq!(read_date(&en, other), None, "{other}");
        }
    }

    #[test]
    fn every_month_has_a_short_name_of_its_own() {
        for language in crate::words::languages() {
            let words = Words::load(language).unwrap();
            for month in 1..=12 {
                let first = NaiveDate::from_ymd_opt(2026, month, 1).unwrap();
                let printed = bare(&words.label_date(first));
                assert_eq!(read_date(&words, &printed), Some(first), "{printed}");
            }
        }
    }

    #[test]
    fn a_date_counts_only_right_after_its_word() {
        let words = Words::load("en").unwrap();
        let text = "Born09-Mar-1984HB-20417-15Planned14-Oct-2026,5:15pm";
        let born = say!(words, "label-born-short", date = DATE);
        let is = |wanted: &'static str| {
            let words = &words;
            move |after: &str| read_date(words, after) == date(wanted)
        };
        assert!(has_after(text, &born, is("1984-03-09")));
        assert!(!has_after(text, &born, is("2026-10-14")));
    }
}
