//! Make-up times and the tables for a changed day.

use serde::Serialize;

use super::Kit;
use crate::clock::Moment;
use crate::plan::{Action, PlannedDose, PlannedSlot, Repeat, Shifted};
use crate::protocol::Allowed;
use crate::words::say;

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Repeats {
    pub title: String,
    pub columns: Vec<String>,
    pub rows: Vec<Row>,
    pub notes: Vec<String>,
}

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Row {
    pub card: String,
    pub day: String,
    pub empty: String,
    pub stop: String,
    pub collect: String,
}

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Changes {
    /// Absent where nothing depends on the day's course.
    pub title: Option<String>,
    /// What it means where a table says a card in the place of a time.
    pub note: Option<String>,
    pub tables: Vec<ChangeTable>,
}

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct ChangeTable {
    pub columns: [String; 2],
    pub rows: Vec<ChangeRow>,
}

#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct ChangeRow {
    pub if_at: String,
    pub then_at: String,
    pub planned: bool,
}

pub(super) fn repeats(kit: &Kit) -> Repeats {
    let mut rows = Vec::new();
    let mut notes = Vec::new();
    let mut asks = false;
    let mut told: Vec<(&PlannedSlot, &PlannedDose)> = Vec::new();
    for slot in &kit.plan.slots {
        let (Some(repeat), Some(card)) = (&slot.repeat, slot.card) else { continue };
        let follower = follower(kit, slot);
        let name = match &follower {
            Some((next, _)) => {
                say!(kit.words, "repeat-card-with", card = card.to_string(), next = next)
            }
            None if is_follower(kit, slot) => {
                say!(kit.words, "repeat-card-alone", card = card.to_string())
            }
            None => card.to_string(),
        };
        let count = if follower.is_some() { 2 } else { 1 };
        notes.extend(dose_notes(kit, &name, count, repeat));
        told.extend(repeat.doses.iter().map(|dose| (slot, dose)));
        asks |= repeat.doses.iter().any(|dose| dose.action == Action::Ask);
        rows.push(row(kit, name, repeat, follower.map(|(_, at)| at)));
    }
    // Of a card that is made up with another, and of that other alone, one is made up.
    let both = |one: &PlannedSlot, other: &PlannedSlot| {
        let rule = |slot: &PlannedSlot| kit.protocol.slot(&slot.id)?.emptied_by.clone();
        one.id != other.id
            && rule(one).as_ref() != Some(&other.id)
            && rule(other).as_ref() != Some(&one.id)
    };
    let twice = |(slot, dose): &(&PlannedSlot, &PlannedDose)| {
        told.iter().any(|(other, again)| {
            both(slot, other)
                && (dose.index, dose.usual_at) == (again.index, again.usual_at)
        })
    };
    if told.iter().any(twice) {
        notes.push(if asks {
            say!(kit.words, "repeat-once-ask")
        } else {
            say!(kit.words, "repeat-once")
        });
    }
    notes.extend(kit.plan.slots.iter().filter_map(|slot| {
        let (before, card) = (slot.emptied_by_card?.to_string(), slot.card?.to_string());
        let rule = super::steps::short_interval(kit.words, kit.plan, &before, &card);
        Some(say!(kit.words, "repeat-both", before = before, card = card, rule = rule))
    }));
    if kit.plan.caffeine.is_some() {
        notes.push(say!(kit.words, "repeat-rules-caffeine"));
    } else if kit.plan.drinks.iter().any(|stretch| stretch.allowed == Allowed::Nothing) {
        notes.push(say!(kit.words, "repeat-rules"));
    }
    if kit.plan.doses.iter().any(|dose| dose.action == Action::Ask) {
        notes.push(say!(kit.words, "repeat-ask"));
    }
    notes.push(say!(kit.words, "repeat-pack"));
    Repeats {
        title: say!(kit.words, "repeat-heading"),
        columns: vec![
            say!(kit.words, "repeat-card"),
            say!(kit.words, "repeat-day"),
            say!(kit.words, "repeat-empty"),
            say!(kit.words, "repeat-stop"),
            say!(kit.words, "repeat-collect"),
        ],
        rows,
        notes,
    }
}

/// The card that is made up together with `slot`'s, and when: the one that
/// `slot`'s collection empties the bladder for.
pub(super) fn follower(kit: &Kit, slot: &PlannedSlot) -> Option<(String, Moment)> {
    let rule = kit
        .protocol
        .slots
        .iter()
        .find(|rule| rule.emptied_by.as_ref() == Some(&slot.id))?;
    let next = kit.plan.slot(&rule.id)?;
    Some((next.card?.to_string(), next.repeat.as_ref()?.collect_at))
}

fn is_follower(kit: &Kit, slot: &PlannedSlot) -> bool {
    kit.protocol.slot(&slot.id).is_some_and(|rule| rule.emptied_by.is_some())
}

fn row(kit: &Kit, card: String, repeat: &Repeat, follower: Option<Moment>) -> Row {
    let none = || say!(kit.words, "repeat-none");
    let at = |moment: Option<Moment>| {
        moment.map_or_else(none, |moment| kit.time_beside(moment, repeat.collect_at))
    };
    let collect = kit.time_beside(repeat.collect_at, repeat.collect_at);
    let collect = match follower {
        Some(next) => say!(
            kit.words,
            "list-and",
            first = collect,
            last = kit.time_beside(next, repeat.collect_at)
        ),
        None => collect,
    };
    Row {
        card,
        day: kit.day(repeat.collect_at.date_naive()),
        empty: at(repeat.empty_at),
        stop: at(repeat.stop_drinking_at),
        collect,
    }
}

fn dose_notes(kit: &Kit, card: &str, count: i64, repeat: &Repeat) -> Vec<String> {
    repeat
        .doses
        .iter()
        .map(|dose| {
            let medicine = kit.medicine_told(dose.index);
            let usual = kit.usual_time(dose);
            match &dose.action {
                Action::AfterCard { at, .. } => say!(
                    kit.words,
                    "repeat-dose",
                    count = count,
                    card = card,
                    usual = usual,
                    medicine = medicine,
                    time = kit.exact_time(*at)
                ),
                _ => say!(
                    kit.words,
                    "repeat-dose-ask",
                    count = count,
                    card = card,
                    usual = usual,
                    medicine = medicine
                ),
            }
        })
        .collect()
}

pub(super) fn changes(kit: &Kit) -> Changes {
    let what_if = &kit.plan.what_if;
    let empty = || say!(kit.words, "changes-empty");
    let mut tables = Vec::new();
    let mut push = |columns: [String; 2], rows: &[Shifted]| {
        if !rows.is_empty() {
            let rows = rows.iter().map(|shifted| change_row(kit, shifted)).collect();
            tables.push(ChangeTable { columns, rows });
        }
    };
    push([say!(kit.words, "changes-dinner"), empty()], &what_if.dinner);
    push([say!(kit.words, "changes-bedtime"), empty()], &what_if.bedtime);
    let later = say!(kit.words, "changes-card", card = kit.last_card_number());
    push([say!(kit.words, "changes-waking"), later], &what_if.waking);
    let title = (!tables.is_empty()).then(|| say!(kit.words, "changes-heading"));
    let by_card = what_if.bedtime.iter().filter(|row| !row.planned);
    let next = |card: u8| {
        kit.plan.slots.iter().filter_map(|slot| slot.card).find(|next| *next > card)
    };
    let note = by_card.filter_map(|row| row.emptied_by_card).next().and_then(|card| {
        let (before, next) = (card.to_string(), next(card)?.to_string());
        Some(if kit.plan.allowance.is_ours() {
            say!(kit.words, "changes-both", before = before, card = next)
        } else {
            say!(kit.words, "changes-both-prescribed", before = before, card = next)
        })
    });
    Changes { title, note, tables }
}

fn change_row(kit: &Kit, shifted: &Shifted) -> ChangeRow {
    ChangeRow {
        if_at: kit.exact_time(shifted.if_at),
        then_at: match shifted.emptied_by_card {
            Some(card) => kit.card_name(Some(card)),
            None => kit.exact_time(shifted.then_at),
        },
        planned: shifted.planned,
    }
}
