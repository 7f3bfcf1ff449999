//! A plan as a calendar file with an alarm for each moment.
//!
//! # Source
//!
//! RFC 5545. Written here and not by a library: the one that is kept up cannot
//! make the VTIMEZONE that every TZID needs, and folds by characters where the
//! standard counts octets.

use chrono::{DateTime, Days, NaiveDateTime, TimeDelta};

use crate::clock::{Moment, Pass};
use crate::document::{calendar_dose, card_later, dose_wait, empty_more, short_interval};
use crate::fault::Fault;
use crate::medicine::Medicines;
use crate::order::{Order, Start};
use crate::plan::post::reminder;
use crate::plan::{Plan, PlannedSlot};
use crate::words::{NO_BREAK, Words, say};

/// Octets of a content line, without its line break.
const LINE_OCTETS: usize = 75;

/// Minutes before each moment at which the alarm rings. At the moment itself
/// it would be too late for a card before the first bite.
const ALARM_MINUTES: i64 = 5;

/// The calendar of a dated plan, as it is at the moment `made`: of two with the same
/// events a reader keeps the later one.
///
/// # Errors
///
/// A fault for an undated order, as a calendar has no "Day 1", and for one on
/// hold, whose patient is to get nothing yet.
pub fn calendar(
    order: &Order,
    plan: &Plan,
    words: &Words,
    made: NaiveDateTime,
) -> Result<String, Fault> {
    if let Some(hold) = plan.hold_faults().into_iter().next() {
        return Err(hold);
    }
    let Some(start) = &order.start else {
        return Err(Fault::new(
            format!("the order {} has no date, so it has no calendar", order.number),
            "add `start` and `zone` to the order",
        ));
    };
    let mut lines = Lines::default();
    lines.add("BEGIN", "VCALENDAR");
    lines.add("VERSION", "2.0");
    lines.add("PRODID", &format!("-//kitwright//{}//EN", env!("CARGO_PKG_VERSION")));
    lines.add("CALSCALE", "GREGORIAN");
    time_zone(start, plan, &mut lines);
    for event in events(order, start, plan, words) {
        event_lines(order, start, &event, made, &mut lines);
    }
    lines.add("END", "VCALENDAR");
    if let Some(fault) = words.faults().into_iter().next() {
        return Err(fault);
    }
    Ok(lines.0)
}

/// One thing to be reminded of.
struct Event {
    /// The same for the same thing, whatever its time.
    id: String,
    at: Moment,
    title: String,
}

fn events(order: &Order, start: &Start, plan: &Plan, words: &Words) -> Vec<Event> {
    let mut events = Vec::new();
    let mut push =
        |id: &str, at, title: String| events.push(Event { id: id.to_owned(), at, title });
    if let Some((from, _)) = plan.caffeine {
        push("caffeine", from, say!(words, "step-caffeine"));
    }
    for slot in &plan.slots {
        let (Some(at), Some(card)) = (slot.collect_at, slot.card) else { continue };
        let card = card.to_string();
        if let (Some(empty), None) = (slot.empty_at, slot.emptied_by_card) {
            let action = say!(words, "step-empty");
            let more = empty_more(words, plan, &card);
            push(&format!("empty-{card}"), empty, format!("{action} {more}"));
        }
        push(&format!("card-{card}"), at, card_title(order, plan, words, slot, &card));
    }
    let medicines = Medicines::builtin();
    for dose in &plan.doses {
        let (line, time) = (dose.index + 1, dose.usual.format("%H%M"));
        let id = format!("wait-{line}-{time}-{}", dose.day);
        if let Some(wait) = dose_wait(words, medicines, order, plan, dose) {
            push(&id, dose.usual_at, wait);
        }
    }
    let pack = say!(words, "step-pack");
    match plan.post_on.filter(|day| *day != plan.pack_at.date_naive()) {
        Some(day) => {
            push("pack", plan.pack_at, pack);
            let (at, _) = start.clock.at(day, reminder(plan.pack_at));
            push("post", at, post(plan, words));
        }
        None => push("pack", plan.pack_at, format!("{pack} {}", post(plan, words))),
    }
    events.sort_by_key(|event| event.at);
    events
}

/// A card, when to do it if that counts from waking, and what is taken after it.
fn card_title(
    order: &Order,
    plan: &Plan,
    words: &Words,
    slot: &PlannedSlot,
    card: &str,
) -> String {
    let doses = plan
        .doses_after(&slot.id)
        .map(|dose| calendar_dose(words, Medicines::builtin(), order, dose));
    let mut parts = vec![say!(words, "step-card", card = card)];
    let is_emptying =
        |other: &&PlannedSlot| slot.card.is_some() && other.emptied_by_card == slot.card;
    if let Some(next) = plan.slots.iter().find(is_emptying).and_then(|next| next.card) {
        parts.push(short_interval(words, plan, card, &next.to_string()));
    }
    parts.extend(card_later(words, slot));
    for dose in doses {
        if !parts.contains(&dose) {
            parts.push(dose);
        }
    }
    parts.join(" ")
}

fn post(plan: &Plan, words: &Words) -> String {
    let post = say!(words, "step-post");
    if plan.has_finding("post-check") {
        return format!("{post} {}", say!(words, "step-post-check"));
    }
    post
}

fn event_lines(
    order: &Order,
    start: &Start,
    event: &Event,
    made: NaiveDateTime,
    lines: &mut Lines,
) {
    let title = escape(&event.title.replace(NO_BREAK, " "));
    lines.add("BEGIN", "VEVENT");
    lines.add("UID", &format!("{}-{}@kitwright.invalid", order.number, event.id));
    lines.add("DTSTAMP", &basic(made, "Z"));
    if start.clock.pass(event.at) == Some(Pass::Second) {
        // Of a time that the zone has twice, its name stands for the first (RFC 5545,
        // section 3.3.5).
        lines.add("DTSTART", &basic(event.at.naive_utc(), "Z"));
    } else {
        let local = format!("DTSTART;TZID={}", start.zone);
        lines.add(&local, &basic(event.at.naive_local(), ""));
    }
    lines.add("DURATION", "PT10M");
    lines.add("SUMMARY", &title);
    // Two of a family may have kits.
    let whose = format!("{} {}", order.patient.given, order.number);
    lines.add("DESCRIPTION", &escape(&whose));
    lines.add("BEGIN", "VALARM");
    lines.add("ACTION", "DISPLAY");
    lines.add("DESCRIPTION", &title);
    lines.add("TRIGGER", &format!("-PT{ALARM_MINUTES}M"));
    lines.add("END", "VALARM");
    lines.add("END", "VEVENT");
}

/// The zone's offsets around the plan: the one in force before it, and each
/// change from a year before to a year after.
fn time_zone(start: &Start, plan: &Plan, lines: &mut Lines) {
    let from = plan.anchors.lunch - Days::new(366);
    let until = plan.pack_at + Days::new(366);
    let first = start.clock.after(from, TimeDelta::zero());
    lines.add("BEGIN", "VTIMEZONE");
    lines.add("TZID", &start.zone);
    let offset = first.offset().local_minus_utc();
    observance(start, first, first.naive_local(), offset, offset, lines);
    for change in start.clock.changes(from, until) {
        // The onset is written in the local time before the change.
        let onset = DateTime::from_timestamp(change.at.timestamp(), 0)
            .unwrap_or_default()
            .naive_utc()
            + TimeDelta::seconds(change.before_seconds.into());
        let (before, after) = (change.before_seconds, change.after_seconds);
        observance(start, change.at, onset, before, after, lines);
    }
    lines.add("END", "VTIMEZONE");
}

fn observance(
    start: &Start,
    at: Moment,
    onset: NaiveDateTime,
    before: i32,
    after: i32,
    lines: &mut Lines,
) {
    let kind = if start.clock.is_daylight(at) { "DAYLIGHT" } else { "STANDARD" };
    lines.add("BEGIN", kind);
    lines.add("DTSTART", &basic(onset, ""));
    lines.add("TZOFFSETFROM", &utc_offset(before));
    lines.add("TZOFFSETTO", &utc_offset(after));
    lines.add("TZNAME", &escape(&start.clock.abbreviation(at)));
    lines.add("END", kind);
}

fn basic(at: NaiveDateTime, zone: &str) -> String {
    format!("{}{zone}", at.format("%Y%m%dT%H%M%S"))
}

fn utc_offset(seconds: i32) -> String {
    let sign = if seconds < 0 { '-' } else { '+' };
    let minutes = seconds.abs() / 60;
    format!("{sign}{:02}{:02}", minutes / 60, minutes % 60)
}

/// Escapes TEXT (RFC 5545, section 3.3.11: a colon is not escaped).
fn escape(text: &str) -> String {
    text.replace('\\', "\\\\")
        .replace(';', "\\;")
        .replace(',', "\\,")
        .replace('\n', "\\n")
}

/// Content lines, folded.
#[derive(Default)]
struct Lines(String);

impl Lines {
    /// Adds a line, folded so that none is longer than 75 octets and no
    /// character is split (RFC 5545, section 3.1).
    fn add(&mut self, name: &str, value: &str) {
        let mut octets = 0;
        for c in format!("{name}:{value}").chars() {
            if octets + c.len_utf8() > LINE_OCTETS {
                self.0.push_str("\r\n ");
                octets = 1;
            }
            self.0.push(c);
            octets += c.len_utf8();
        }
        self.0.push_str("\r\n");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The characters and their escapes are those of RFC 5545, section 3.3.11.
    #[test]
    fn text_is_escaped_as_rfc_5545_says() {
        assert_eq!(
            escape("Wash hands; dry, then\nwait: 3 h \\ flat"),
            "Wash hands\\; dry\\, then\\nwait: 3 h \\\\ flat"
        );
    }

    #[test]
    fn no_line_is_longer_than_75_octets_and_folding_loses_nothing() {
        let long = "é".repeat(200);
        let mut lines = Lines::default();
        lines.add("SUMMARY", &long);
        assert!(lines.0.split("\r\n").all(|line| line.len() <= LINE_OCTETS));
        assert_eq!(lines.0.replace("\r\n ", ""), format!("SUMMARY:{long}\r\n"));
        let mut lines = Lines::default();
        lines.add("SUMMARY", &"e".repeat(200));
        let octets: Vec<usize> = lines.0.trim_end().split("\r\n").map(str::len).collect();
        assert_eq!(octets, [75, 75, 60], "a line is folded sooner than it must be");
    }
}
