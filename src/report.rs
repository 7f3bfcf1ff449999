//! A plan for machines (JSON) and for the terminal (a table).
//!
//! For providers and packers, in English and on the 24-hour clock; what the
//! patient reads is made in `document`.

use std::fmt::Write;

use serde_json::{Value, json};

use crate::clock::Moment;
use crate::order::Order;
use crate::plan::{Plan, PlannedDose, PlannedSlot, Stretch};

/// The whole plan as JSON, moments as ISO 8601 with offset.
///
/// On an undated sheet a moment is `D1T17:15:00`: the day of the plan and the
/// time of day.
pub fn json(plan: &Plan) -> Value {
    let at = |moment: Moment| stamp(plan, moment);
    json!({
        "order": plan.order,
        "zone": plan.zone,
        "zone_data": plan.zone_data,
        "slots": plan.slots.iter().map(|slot| slot_json(plan, slot)).collect::<Vec<_>>(),
        "doses": plan.doses.iter().map(|dose| dose_json(plan, dose)).collect::<Vec<_>>(),
        "drinks": plan.drinks.iter().map(|s| stretch_json(plan, s)).collect::<Vec<_>>(),
        "caffeine": plan.caffeine.map(|(from, until)| json!({
            "from": at(from),
            "until": at(until),
        })),
        "pack_at": at(plan.pack_at),
        "post_on": plan.post_on.map(|date| date.to_string()),
        "findings": plan.findings.iter().map(|finding| json!({
            "level": finding.level.word(),
            "code": finding.code,
            "text": finding.text,
        })).collect::<Vec<_>>(),
    })
}

fn slot_json(plan: &Plan, slot: &PlannedSlot) -> Value {
    let at = |moment: Option<Moment>| moment.map(|moment| stamp(plan, moment));
    json!({
        "slot": slot.id,
        "card": slot.card,
        "code": slot.code,
        "empty_at": at(slot.empty_at),
        "stop_drinking_at": at(slot.stop_drinking_at),
        "collect_at": at(slot.collect_at),
        "collect_by": at(slot.collect_by),
        "dry_at": at(slot.dry_at),
        "repeat": slot.repeat.as_ref().map(|repeat| json!({
            "empty_at": at(repeat.empty_at),
            "stop_drinking_at": at(repeat.stop_drinking_at),
            "collect_at": at(Some(repeat.collect_at)),
            "doses": repeat.doses.iter().map(|d| dose_json(plan, d)).collect::<Vec<_>>(),
        })),
    })
}

fn dose_json(plan: &Plan, dose: &PlannedDose) -> Value {
    use crate::plan::Action;
    let after = match &dose.action {
        Action::AfterCard { slot, .. } => Some(slot),
        _ => None,
    };
    json!({
        "medicine": dose.medicine,
        "day": dose.day,
        "usual_at": stamp(plan, dose.usual_at),
        "take_at": dose.take_at().map(|moment| stamp(plan, moment)),
        "action": dose.action.word(),
        "after_slot": after,
    })
}

fn stretch_json(plan: &Plan, stretch: &Stretch) -> Value {
    json!({
        "from": stamp(plan, stretch.from),
        "until": stretch.until.map(|until| stamp(plan, until)),
        "rule": stretch.allowed.word(),
        "ml": stretch.amount.map(|drink| drink.ml()),
        "quarter_cups": stretch.amount.map(|drink| drink.quarter_cups()),
    })
}

fn stamp(plan: &Plan, moment: Moment) -> String {
    if plan.is_dated() {
        moment.format("%Y-%m-%dT%H:%M:%S%:z").to_string()
    } else {
        format!("D{}T{}", plan.day_of(moment), moment.format("%H:%M:%S"))
    }
}

/// The plan as a table for the terminal.
pub fn table(order: &Order, plan: &Plan) -> String {
    let mut text = String::new();
    let patient = &order.patient;
    let zone = plan.zone.as_deref().unwrap_or("no date");
    let _ = writeln!(
        text,
        "{}  {}, {}  {zone}, zone data {}",
        plan.order,
        patient.family.to_uppercase(),
        patient.given,
        plan.zone_data
    );
    let mut rows: Vec<(Moment, u8, String)> = Vec::new();
    let mut row = |at: Moment, rank: u8, words: String| rows.push((at, rank, words));
    if let Some((from, until)) = plan.caffeine {
        row(from, 0, format!("no caffeine until {}", short(plan, until)));
    }
    for slot in &plan.slots {
        let name =
            slot.card.map_or_else(|| "spare".into(), |card| format!("card {card}"));
        if let (Some(at), None) = (slot.empty_at, slot.emptied_by_card) {
            row(at, 1, format!("empty the bladder, then drink nothing until {name}"));
        }
        if let Some(at) = slot.collect_at {
            row(at, 2, format!("{name}, {}  {}", slot.id, slot.code));
        }
    }
    for dose in plan.doses.iter().filter(|dose| dose.take_at() != Some(dose.usual_at)) {
        let usual = short(plan, dose.usual_at);
        let at = dose.take_at().unwrap_or(dose.usual_at);
        let words = match dose.take_at() {
            Some(_) => format!("take {} (usual {usual})", dose.medicine),
            None => format!("ask about {} (usual {usual})", dose.medicine),
        };
        row(at, 3, words);
    }
    row(plan.pack_at, 4, "pack, if every card is dry".into());
    rows.sort_by_key(|row| (row.0, row.1));
    for (at, _, words) in rows {
        let _ = writeln!(text, "  {:<17} {words}", short(plan, at));
    }
    if let Some(spare) = plan.slots.iter().find(|slot| slot.card.is_none()) {
        let words = format!("spare card, {}  {}", spare.id, spare.code);
        let _ = writeln!(text, "  {:<17} {words}", "if up at night");
    }
    if let Some(date) = plan.post_on {
        let _ = writeln!(text, "  {:<17} post", date.format("%a %Y-%m-%d").to_string());
    }
    if let Some(drink) = plan.allowance.figure() {
        let (ml, cups) = (drink.ml(), crate::words::cups(drink.quarter_cups()));
        let _ = writeln!(text, "  {:<17} {ml} mL, {cups} US cups", "morning drink");
    }
    for finding in &plan.findings {
        let _ = writeln!(
            text,
            "  {:<17} {}: {}",
            finding.level.word(),
            finding.code,
            finding.text
        );
    }
    text
}

/// The lines in which two plans of one kit differ: those of the one before after a
/// `-`, those of the one now after a `+`.
pub fn changes(before: (&Order, &Plan), now: (&Order, &Plan)) -> String {
    let (before, now) = (table(before.0, before.1), table(now.0, now.1));
    let diff = similar::TextDiff::from_lines(&before, &now);
    diff.iter_all_changes()
        .filter_map(|change| match change.tag() {
            similar::ChangeTag::Equal => None,
            similar::ChangeTag::Delete => Some(format!("- {}", change.value())),
            similar::ChangeTag::Insert => Some(format!("+ {}", change.value())),
        })
        .collect()
}

fn short(plan: &Plan, moment: Moment) -> String {
    if plan.is_dated() {
        moment.format("%a %m-%d %H:%M").to_string()
    } else {
        format!("day {} {}", plan.day_of(moment), moment.format("%H:%M"))
    }
}
