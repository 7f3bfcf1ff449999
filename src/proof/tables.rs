//! The rows that the pages must hold, from the plan and the order themselves:
//! medicines, drinks, make-up times, cards, packing facts and the run sheet.
//!
//! Written a second time on purpose: a mistake in the documents that sets a
//! value beside another label is not made here, too.

use chrono::{NaiveDate, Timelike};

use super::rows::{Table, compare};
use super::{Difference, Part};
use crate::clock::{Moment, Pass};
use crate::document::{Cover, Kit, medicine_and_form, sheet_version};
use crate::order::{ClockStyle, Paper, TextSize};
use crate::plan::{Action, Amount, Level, PlannedDose, PlannedSlot, Shifted, Stretch};
use crate::protocol::Allowed;
use crate::words::{Words, say};

fn time(kit: &Kit, moment: Moment) -> String {
    kit.words.clock(moment, kit.order.clock)
}

/// A time of day, and which of two where the clocks show it twice.
fn exact_time(kit: &Kit, moment: Moment) -> String {
    let time = time(kit, moment);
    match kit.plan.pass(moment) {
        Some(Pass::First) => say!(kit.words, "time-first", time = time),
        Some(Pass::Second) => say!(kit.words, "time-second", time = time),
        None => time,
    }
}

/// A day: its date, or its number where the sheet has no dates.
pub(super) fn day(kit: &Kit, date: NaiveDate) -> String {
    if kit.plan.is_dated() {
        return kit.words.day(date);
    }
    match (date - kit.plan.day_one).num_days() + 1 {
        number if number < 1 => say!(kit.words, "day-number-before"),
        number => say!(kit.words, "day-number", number = number),
    }
}

pub(super) fn day_and_time(kit: &Kit, moment: Moment) -> String {
    dated(kit, day(kit, moment.date_naive()), moment)
}

/// A day that is written already, and a time of it; midnight as a word says which end
/// of the day it is.
pub(super) fn dated(kit: &Kit, day: String, moment: Moment) -> String {
    let time = exact_time(kit, moment);
    if is_midnight(kit, moment) {
        say!(kit.words, "card-day-and-midnight", day = day, time = time)
    } else {
        say!(kit.words, "card-day-and-time", day = day, time = time)
    }
}

/// Whether a time is printed as the word for midnight.
fn is_midnight(kit: &Kit, moment: Moment) -> bool {
    (kit.order.clock, moment.hour(), moment.minute()) == (ClockStyle::Twelve, 0, 0)
}

/// A time of day, with its day where that is not the day of `other`, or where the time
/// is midnight as a word.
fn time_beside(kit: &Kit, moment: Moment, other: Moment) -> String {
    let time = exact_time(kit, moment);
    if is_midnight(kit, moment) {
        return day_and_time(kit, moment);
    }
    if moment.date_naive() == other.date_naive() {
        return time;
    }
    say!(kit.words, "time-next-day", time = time, day = day(kit, moment.date_naive()))
}

/// What a dated sheet says of the day on which the patient first has something
/// to do.
pub(super) fn first_day(kit: &Kit) -> Option<String> {
    let mut first = kit.order.start.as_ref()?.date;
    let mut not_after = |moment: Moment| first = first.min(moment.date_naive());
    not_after(kit.plan.anchors.bedtime);
    if let Some((from, _)) = kit.plan.caffeine {
        not_after(from);
    }
    for slot in &kit.plan.slots {
        slot.empty_at.into_iter().chain(slot.collect_at).for_each(&mut not_after);
    }
    Some(say!(kit.words, "sheet-start", date = kit.words.day(first)))
}

pub(super) fn card_name(words: &Words, slot: &PlannedSlot) -> String {
    match slot.card {
        Some(card) => say!(words, "card-number", card = card.to_string()),
        None => say!(words, "card-number-spare"),
    }
}

/// The instruction sheet's medicines and make-up times.
pub(super) fn sheet(kit: &Kit, part: &Part) -> Vec<Difference> {
    let words = kit.words;
    let headings = [
        say!(words, "med-medicine"),
        say!(words, "med-usual"),
        say!(words, "part-before"),
        say!(words, "part-after"),
    ];
    let rows = medicine_rows(kit);
    let lines = rows.iter().map(|row| with_labels(&headings, row)).collect();
    let table = Table { headings: &headings, ..Table::new("the medicines", rows) };
    let medicines = compare(part, &table)
        .filter(|_| compare(part, &Table::new("the medicines", lines)).is_some());
    let repeats = compare(part, &Table::new("the make-up times", repeat_rows(kit)));
    medicines.into_iter().chain(repeats).collect()
}

/// A row whose values stand after their headings, each on a line of its own.
fn with_labels(headings: &[String], row: &[String]) -> Vec<String> {
    let lines = headings.iter().zip(row).enumerate();
    lines
        .flat_map(|(number, (heading, value))| {
            let label = (number > 0).then_some(heading);
            label.into_iter().chain([value]).cloned()
        })
        .collect()
}

/// For each time of a dose: the medicine, when it is usually taken, and what to
/// do with it before the night's sleep and after it.
fn medicine_rows(kit: &Kit) -> Vec<Vec<String>> {
    let doses = &kit.plan.doses;
    let mut rows = Vec::new();
    for (index, dose) in kit.order.doses.iter().enumerate() {
        let of_day = |day: u8| -> Vec<&PlannedDose> {
            doses.iter().filter(|dose| dose.index == index && dose.day == day).collect()
        };
        let (before, after) = (of_day(1), of_day(2));
        for number in 0..before.len().max(after.len()) {
            let pair = [before.get(number), after.get(number)];
            let usual = dose.times.get(number).copied();
            let usual = usual.map(|usual| kit.words.time(usual, kit.order.clock));
            let usual = usual.unwrap_or_default();
            let medicine =
                medicine_and_form(kit.words, kit.medicines, &dose.medicine, dose.form);
            let [before, mut after] =
                pair.map(|dose| dose.map_or_else(String::new, |dose| action(kit, dose)));
            // A dose in the night is of neither column: who has to ask about it must
            // read so wherever they look.
            let is_asked = |dose: &&PlannedDose| {
                dose.action == Action::Ask && dose.usual_at > kit.plan.anchors.bedtime
            };
            if pair[0].is_some_and(is_asked) {
                after = before.clone();
            }
            rows.push(vec![medicine, usual, before, after]);
        }
    }
    rows
}

fn action(kit: &Kit, dose: &PlannedDose) -> String {
    match &dose.action {
        Action::AsPrescribed => say!(kit.words, "med-prescribed"),
        Action::AsUsual if kit.order.doses[dose.index].stays_on() => {
            say!(kit.words, "med-patch")
        }
        Action::AsUsual => say!(kit.words, "med-as-usual"),
        Action::Ask => say!(kit.words, "med-ask"),
        Action::AfterCard { slot, at } => {
            let card = kit.plan.slot(slot).and_then(|slot| slot.card).unwrap_or_default();
            let time = exact_time(kit, *at);
            say!(kit.words, "med-after-card", card = card.to_string(), time = time)
        }
    }
}

/// For each card that can be made up: its number, and that of the card made up
/// with it, the day, and the three times.
fn repeat_rows(kit: &Kit) -> Vec<Vec<String>> {
    let words = kit.words;
    let mut rows = Vec::new();
    for slot in &kit.plan.slots {
        let (Some(card), Some(repeat)) = (slot.card, &slot.repeat) else { continue };
        let card = card.to_string();
        let collect = repeat.collect_at;
        let beside = |moment: Moment| time_beside(kit, moment, collect);
        let or_none = |moment: Option<Moment>| {
            moment.map_or_else(|| say!(words, "repeat-none"), beside)
        };
        let emptied_by = |slot: &PlannedSlot| {
            kit.protocol.slot(&slot.id).and_then(|rule| rule.emptied_by.clone())
        };
        let with = kit
            .plan
            .slots
            .iter()
            .find(|next| emptied_by(next).as_ref() == Some(&slot.id))
            .and_then(|next| Some((next.card?.to_string(), next.repeat.as_ref()?)));
        let mut done = beside(collect);
        let name = match with {
            Some((next, repeat)) => {
                let last = beside(repeat.collect_at);
                done = say!(words, "list-and", first = done, last = last);
                say!(words, "repeat-card-with", card = card, next = next)
            }
            None if emptied_by(slot).is_some() => {
                say!(words, "repeat-card-alone", card = card)
            }
            None => card,
        };
        rows.push(vec![
            name,
            day(kit, collect.date_naive()),
            or_none(repeat.empty_at),
            or_none(repeat.stop_drinking_at),
            done,
        ]);
    }
    rows
}

/// The drinks table: each stretch of the day beside what may be drunk in it; and the
/// tables for a changed day.
pub(super) fn fluids(kit: &Kit, part: &Part) -> Vec<Difference> {
    let row = |stretch: &Stretch| {
        let from = day_and_time(kit, stretch.from);
        let when = match stretch.until {
            Some(until) => {
                let to = time_beside(kit, until, stretch.from);
                say!(kit.words, "range", from = from, to = to)
            }
            None => say!(kit.words, "fluids-from", from = from),
        };
        vec![when, drinking(kit, stretch)]
    };
    let rows = kit.plan.drinks.iter().map(row).collect();
    let what_if = &kit.plan.what_if;
    let changed = [&what_if.dinner, &what_if.bedtime, &what_if.waking].map(|table| {
        let row = |shifted: &Shifted| {
            let then = match shifted.emptied_by_card {
                Some(card) => say!(kit.words, "card-number", card = card.to_string()),
                None => exact_time(kit, shifted.then_at),
            };
            vec![exact_time(kit, shifted.if_at), then]
        };
        compare(part, &Table::new("a changed day", table.iter().map(row).collect()))
    });
    let words = kit.words;
    let headings = [say!(words, "fluids-when"), say!(words, "fluids-what")];
    let drinks = Table { headings: &headings, ..Table::new("the drinks table", rows) };
    let drinks = compare(part, &drinks);
    drinks.into_iter().chain(changed.into_iter().flatten()).collect()
}

/// What may be drunk in `stretch`. Where that is the provider's to say there is
/// no amount, and nothing is forbidden or offered but by their word.
fn drinking(kit: &Kit, stretch: &Stretch) -> String {
    let words = kit.words;
    let allowance = kit.plan.allowance;
    let amount = stretch.amount.map(|drink| words.drink(drink)).unwrap_or_default();
    match (stretch.allowed, allowance, allowance.is_ours()) {
        (Allowed::Normal, _, true) => say!(words, "fluids-normal"),
        (Allowed::Normal, _, false) => say!(words, "fluids-normal-prescribed"),
        (Allowed::Allowance, Amount::Figure(_), _) => {
            say!(words, "fluids-allowance", amount = amount)
        }
        (Allowed::Allowance, Amount::LookUp, _) => say!(words, "fluids-allowance-lookup"),
        (Allowed::Allowance, Amount::Ask, _) => say!(words, "fluids-allowance-ask"),
        (Allowed::Nothing, _, false) => say!(words, "fluids-nothing-prescribed"),
        (Allowed::Allowance, Amount::Prescribed, _) | (_, _, false) => {
            say!(words, "fluids-allowance-prescribed")
        }
        (Allowed::Nothing, _, true) => say!(words, "fluids-nothing"),
        (Allowed::WaterUpTo, _, true) => {
            say!(words, "fluids-water-up-to", amount = amount)
        }
        (Allowed::WithDinner, _, true) => say!(words, "fluids-with-dinner"),
        (Allowed::IfThirsty, _, true) => say!(words, "fluids-if-thirsty"),
    }
}

/// Each card's name beside its number.
pub(super) fn cards(kit: &Kit, part: &Part) -> Option<Difference> {
    let row = |slot| vec![card_name(kit.words, slot), slot.code.clone()];
    let rows = kit.plan.slots.iter().map(row).collect();
    compare(part, &Table::new("the list of cards", rows))
}

/// The information card: each card, its number and when it is planned.
pub(super) fn information_card(kit: &Kit, part: &Part) -> Option<Difference> {
    let row = |slot: &PlannedSlot| {
        let card = match slot.card {
            Some(card) => card.to_string(),
            None => say!(kit.words, "card-spare"),
        };
        let planned =
            slot.collect_at.map_or_else(String::new, |at| day_and_time(kit, at));
        vec![card, slot.code.clone(), planned]
    };
    let headings = [
        say!(kit.words, "card-card"),
        say!(kit.words, "card-code"),
        say!(kit.words, "card-planned"),
        say!(kit.words, "card-emptied"),
        say!(kit.words, "card-date"),
        say!(kit.words, "card-time"),
    ];
    let rows = kit.plan.slots.iter().map(row).collect();
    compare(part, &Table { headings: &headings, ..Table::new("the cards", rows) })
}

/// The packing slip's facts, in the packers' words, and its list of cards.
pub(super) fn packing(kit: &Kit, packers: &Words, part: &Part) -> Vec<Difference> {
    let language = say!(kit.words, "language-name");
    let kit = Kit { words: packers, ..*kit };
    let first = kit.plan.slots.iter().filter_map(|slot| slot.collect_at).min();
    let start = match first.filter(|_| kit.plan.is_dated()) {
        Some(at) => day_and_time(&kit, at),
        None => say!(packers, "pack-undated"),
    };
    let size = match kit.order.paper {
        Paper::Letter => "Letter",
        Paper::A4 => "A4",
    };
    let paper = match kit.order.text {
        TextSize::Standard => size.to_owned(),
        TextSize::Large => say!(packers, "pack-large", paper = size),
    };
    let approval = match &kit.lab.approval {
        Some(approval) => {
            let on = packers.full_date(approval.on);
            say!(packers, "pack-approved", by = &approval.by, on = on)
        }
        None => say!(packers, "pack-unapproved"),
    };
    let rows = vec![
        vec![say!(packers, "pack-start"), start],
        vec![say!(packers, "pack-language"), language],
        vec![say!(packers, "pack-paper"), paper],
        vec![say!(packers, "pack-stock"), kit.stock.name.clone()],
        vec![say!(packers, "pack-protocol"), sheet_version(kit.protocol)],
        vec![say!(packers, "pack-approval"), approval],
    ];
    let facts = compare(part, &Table::new("the facts", rows));
    facts.into_iter().chain(cards(&kit, part)).collect()
}

/// The run sheet: a line for each kit, in the order of the piles, and each fact
/// beside its label.
pub(super) fn cover(
    kits: &[Kit],
    packers: &Words,
    data: &Cover,
    part: &Part,
) -> Vec<Difference> {
    let facts = data
        .facts
        .iter()
        .map(|fact| vec![fact.label.clone(), fact.value.clone()])
        .collect();
    let facts = Table::new("the facts", facts);
    let count = vec![vec![say!(packers, "cover-kits"), kits.len().to_string()]];
    let count = Table::new("the number of kits", count);
    let row = |index| cover_row(kits, index, packers, data);
    let lines = Table {
        what: "the kits",
        rows: (0..kits.len()).map(row).collect(),
        headings: &data.columns,
        is_last: true,
    };
    [facts, count, lines].iter().filter_map(|table| compare(part, table)).collect()
}

/// One kit's line: its place, order, name, first day, and what sets it apart.
fn cover_row(kits: &[Kit], index: usize, packers: &Words, data: &Cover) -> Vec<String> {
    let kit = &kits[index];
    let mut notes = Vec::new();
    let start = match &kit.order.start {
        Some(start) => {
            if start.date <= data.today {
                notes.push(say!(packers, "cover-past"));
            }
            packers.label_date(start.date)
        }
        None => say!(packers, "pack-undated"),
    };
    if let Some(Some(other)) = data.alike.get(index) {
        notes.push(say!(packers, "cover-alike", order = other));
    }
    if kit.words.language != packers.language {
        notes.push(say!(kit.words, "language-name"));
    }
    if kit.order.text == TextSize::Large {
        notes.push(say!(packers, "cover-large"));
    }
    let warnings = kit.plan.findings.iter();
    let warnings = warnings.filter(|finding| finding.level == Level::Warning).count();
    if warnings > 0 {
        notes.push(say!(packers, "cover-things", count = warnings as i64));
    }
    vec![
        (index + 1).to_string(),
        kit.order.number.clone(),
        format!(
            "{}, {}",
            kit.order.patient.family.to_uppercase(),
            kit.order.patient.given
        ),
        start,
        notes.join(", "),
    ]
}
