//! Make-up times for a missed card, and the tables for a changed day.

use chrono::{NaiveDate, NaiveTime, TimeDelta};

use super::anchors::days_later;
use super::doses::{ask_where_close, is_by_window, is_hormone, moved};
use super::{Action, Anchor, PlannedDose, PlannedSlot, Setting};
use crate::clock::Moment;

/// The most days to a make-up: no collection is as long.
const MOST_DAYS: u8 = 7;

/// Steps of the tables for a changed day, in minutes, to each side of the plan.
const STEP_MINUTES: i64 = 15;
const STEPS: i64 = 4;

/// The make-up of one card, one day later by the clock, or more where the make-up would
/// begin before the last planned card is done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Repeat {
    pub empty_at: Option<Moment>,
    pub stop_drinking_at: Option<Moment>,
    pub collect_at: Moment,
    /// Hormone doses that move on the day of the make-up, and those to ask
    /// about.
    pub doses: Vec<PlannedDose>,
}

/// What changes if the day goes differently.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct WhatIf {
    /// Dinner at the first moment: empty the bladder at the second.
    pub dinner: Vec<Shifted>,
    /// Bedtime at the first moment: empty the bladder at the second.
    pub bedtime: Vec<Shifted>,
    /// Waking at the first moment: the later card at the second.
    pub waking: Vec<Shifted>,
}

impl WhatIf {
    /// Whether nothing depends on how the day goes.
    pub fn is_empty(&self) -> bool {
        self.dinner.is_empty() && self.bedtime.is_empty() && self.waking.is_empty()
    }
}

/// A changed moment and what follows from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shifted {
    pub if_at: Moment,
    pub then_at: Moment,
    /// The card that is the emptying, whenever it is done; `then_at` is its planned time.
    pub emptied_by_card: Option<u8>,
    /// Whether this row is the plan as it stands.
    pub planned: bool,
}

/// Adds to each slot its make-up.
pub(super) fn with_repeats(
    setting: &Setting,
    mut slots: Vec<PlannedSlot>,
    doses: &[PlannedDose],
) -> Vec<PlannedSlot> {
    let mut made: Vec<Option<Repeat>> =
        slots.iter().map(|slot| repeat(setting, slot, &slots)).collect();
    // A dose that is asked about on the planned days is so on that of a make-up, too.
    let is_asked = |again: &PlannedDose| {
        doses.iter().any(|dose| {
            (dose.index, dose.usual) == (again.index, again.usual)
                && dose.action == Action::Ask
        })
    };
    for again in made.iter_mut().flatten().flat_map(|repeat| &mut repeat.doses) {
        if is_asked(again) {
            again.action = Action::Ask;
        }
    }
    for (slot, repeat) in slots.iter_mut().zip(made) {
        slot.repeat = repeat;
    }
    slots
}

fn repeat(
    setting: &Setting,
    slot: &PlannedSlot,
    slots: &[PlannedSlot],
) -> Option<Repeat> {
    slot.collect_at?;
    let rule = setting.protocol.slot(&slot.id)?;
    let last_planned = slots.iter().filter_map(|slot| slot.collect_at).max()?;
    let on = |days| {
        let anchor = later_anchor(setting, slot.anchor, days)?;
        let collect_at = setting.after(anchor, rule.offset_minutes);
        let before =
            rule.empty_before_minutes.map(|minutes| setting.after(collect_at, -minutes));
        let begins = before.unwrap_or(collect_at);
        (begins >= last_planned).then_some((days, anchor, collect_at, before))
    };
    let (days, anchor, collect_at, before) = (1..=MOST_DAYS).find_map(on)?;
    // A card that empties the bladder for a later one is made up together with
    // it, so the doses wait for the later one.
    let last = setting
        .protocol
        .slots
        .iter()
        .find(|other| other.emptied_by.as_ref() == Some(&slot.id));
    let (dose_slot, dose_at) = match last {
        Some(other) => (&other.id, setting.after(anchor, other.offset_minutes)),
        None => (&slot.id, collect_at),
    };
    // A card that another one empties the bladder for is made up alone: the emptying is
    // then when the other would be done, into the toilet.
    let other = rule.emptied_by.as_ref().and_then(|id| setting.protocol.slot(id));
    let empty_at =
        before.or(other.map(|other| setting.after(anchor, other.offset_minutes)));
    Some(Repeat {
        empty_at,
        stop_drinking_at: before,
        collect_at,
        doses: repeat_doses(setting, slot, slots, (days, anchor), (dose_slot, dose_at)),
    })
}

/// The moment of `anchor` some days later by the clock.
fn later_anchor(setting: &Setting, anchor: Anchor, days: u8) -> Option<Moment> {
    let anchors = &setting.anchors;
    let (date, at): (NaiveDate, Moment) = match anchor {
        Anchor::Lunch => (anchors.lunch.date_naive(), anchors.lunch),
        Anchor::Dinner => (anchors.dinner_date, anchors.dinner),
        Anchor::Bedtime => (anchors.bedtime_date, anchors.bedtime),
        Anchor::Waking => (anchors.waking_date, anchors.waking),
        Anchor::Night => return None,
    };
    let time = wall_time(setting, anchor, at);
    Some(days_later(&setting.clock, date, time, days.into()))
}

/// The wall time an anchor was placed from; in a gap it is not the time shown.
fn wall_time(setting: &Setting, anchor: Anchor, at: Moment) -> NaiveTime {
    let times = super::anchors::WallTimes::of(setting.order, setting.protocol);
    match anchor {
        Anchor::Lunch => times.lunch,
        Anchor::Dinner => times.dinner,
        Anchor::Bedtime => times.bedtime,
        Anchor::Waking => times.wake,
        Anchor::Night => at.time(),
    }
}

/// The hormone doses that the same rule moves on the day of the make-up.
///
/// The window that the planned card lies in is taken one day on, and ends with
/// `after`, the last card that is made up.
fn repeat_doses(
    setting: &Setting,
    slot: &PlannedSlot,
    slots: &[PlannedSlot],
    (days, anchor): (u8, Moment),
    (after_slot, collect_at): (&str, Moment),
) -> Vec<PlannedDose> {
    let Some(planned) = slot.collect_at else { return Vec::new() };
    let day = days + if planned < setting.anchors.waking { 1 } else { 2 };
    let Some(from) = window_start(setting, slots, planned) else { return Vec::new() };
    // As far before the make-up's anchor as the window starts before the
    // planned one.
    let planned_anchor = setting.anchors.moment(slot.anchor).unwrap_or(planned);
    let from = setting.clock.after(anchor, from - planned_anchor);
    let mut out = Vec::new();
    for (index, dose) in setting.order.doses.iter().enumerate() {
        let by_window = is_by_window(setting, dose);
        // Those that stay matter to the ones that are brought close to them.
        if !is_hormone(dose) {
            continue;
        }
        for time in &dose.times {
            let usual_at = super::anchors::first_from(&setting.clock, *time, from);
            let action = if usual_at > collect_at || !by_window {
                Action::AsUsual
            } else {
                moved(setting, usual_at, after_slot, collect_at)
            };
            let medicine = dose.medicine.clone();
            let usual = *time;
            out.push(PlannedDose { medicine, index, day, usual, usual_at, action });
        }
    }
    ask_where_close(setting, &mut out);
    out.retain(|dose| dose.action != Action::AsUsual);
    out
}

/// Start of the moving window that a planned card lies in.
fn window_start(
    setting: &Setting,
    slots: &[PlannedSlot],
    planned: Moment,
) -> Option<Moment> {
    setting
        .protocol
        .doses
        .windows
        .iter()
        .filter(|window| window.after.is_some())
        .filter_map(|window| {
            Some((
                super::moment_of(&window.from, setting, slots)?,
                super::moment_of(&window.until, setting, slots)?,
            ))
        })
        .find(|(from, until)| *from <= planned && planned <= *until)
        .map(|(from, _)| from)
}

/// The tables for a changed day, in steps of a quarter of an hour.
pub(super) fn what_if(setting: &Setting, slots: &[PlannedSlot]) -> WhatIf {
    let mut tables = WhatIf::default();
    for slot in slots {
        let Some(rule) = setting.protocol.slot(&slot.id) else { continue };
        let Some(anchor) = setting.anchors.moment(slot.anchor) else { continue };
        let shift = match (rule.empty_before_minutes, &rule.emptied_by) {
            // After waking the table is of the card and not of an emptying.
            (Some(_), _) if slot.anchor == Anchor::Waking => rule.offset_minutes,
            (Some(before), _) => rule.offset_minutes - before,
            (None, Some(_)) => rule.offset_minutes,
            (None, None) => continue,
        };
        // Those of its own anchor move with it.
        let others = || slots.iter().filter(|other| other.anchor != slot.anchor);
        let card_before = rule.empty_before_minutes.and_then(|_| {
            let cards =
                others().filter_map(|other| Some((other.collect_at?, other.card?)));
            cards.filter(|(at, _)| Some(*at) < slot.collect_at).max()
        });
        let next_begins = others()
            .filter(|other| other.collect_at > slot.collect_at)
            .filter_map(|other| match other.emptied_by_card {
                Some(_) => other.collect_at,
                None => other.empty_at.or(other.collect_at),
            })
            .min();
        let table = match slot.anchor {
            Anchor::Dinner => &mut tables.dinner,
            Anchor::Bedtime => &mut tables.bedtime,
            Anchor::Waking => &mut tables.waking,
            Anchor::Lunch | Anchor::Night => continue,
        };
        *table = (-STEPS..=STEPS)
            .filter_map(|step| {
                let if_at =
                    setting.clock.after(anchor, TimeDelta::minutes(step * STEP_MINUTES));
                // The cards before and after it are left alone: with a day that is
                // so far from the plan, none of its times hold.
                let is_early = card_before.is_some_and(|(card, _)| if_at <= card);
                let is_late = next_begins.is_some_and(|next| if_at >= next);
                if step != 0 && (is_early || is_late) {
                    return None;
                }
                // Nor is the bladder emptied before that, which would spoil it.
                let then_at = setting.after(if_at, shift);
                let before = card_before.filter(|(card, _)| then_at <= *card);
                Some(Shifted {
                    if_at,
                    then_at: before.map_or(then_at, |(card, _)| card),
                    emptied_by_card: before.map(|(_, card)| card),
                    planned: step == 0,
                })
            })
            .collect();
    }
    tables
}
