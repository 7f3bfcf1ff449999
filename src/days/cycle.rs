//! The day that a menstrual cycle gives for card 1.
//!
//! The first day of bleeding is day 1. Card 1 falls on the day whose number is
//! the length less `days_before_period`: day 21 of 28. Later cycles follow by
//! the length. An irregular cycle gives no day.

use chrono::{NaiveDate, TimeDelta};

use super::Remark;
use crate::lab::DayRules;
use crate::order::{Cycle, LONGEST_COUNT_DAYS};

/// The oldest first day that a day may be counted from, in days before the
/// search: two of the longest cycles that are taken. After that a newer period
/// has begun, or its absence is for the provider. Common practice, no source.
const OLDEST_PERIOD_DAYS: i64 = 120;

/// The dates that suit in one cycle, which may be none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Window {
    pub first: NaiveDate,
    pub last: NaiveDate,
    /// How many periods are expected between the last known one and this.
    pub ahead: i64,
}

/// Why no day can be counted from this cycle at all, if none can.
pub(super) fn unsure(cycle: &Cycle, rules: &DayRules) -> Option<Remark> {
    let text = match cycle.range {
        _ if !cycle.regular => "the cycle is irregular".to_owned(),
        Some((shortest, longest)) if longest - shortest > rules.cycle_spread_days => {
            format!(
                "the cycle is irregular, {shortest} to {longest} days, which differ by \
                 more than {}",
                rules.cycle_spread_days
            )
        }
        _ => {
            let (shortest, longest) = cycle.lengths()?;
            let known_to = longest - shortest;
            if known_to <= 2 * rules.cycle_tolerance_days {
                return None;
            }
            format!(
                "for a cycle of {shortest} to {longest} days without a usual `length` it \
                 is not sure, and the laboratory allows {} days either way",
                rules.cycle_tolerance_days
            )
        }
    };
    Some(Remark::new("cycle", text))
}

/// Whether the last known period is too long ago to look from `today`.
pub(super) fn is_stale(cycle: &Cycle, today: NaiveDate) -> Option<Remark> {
    let first = cycle.first_day.value;
    let ago = (today - first).num_days();
    (ago > OLDEST_PERIOD_DAYS).then(|| {
        Remark::new(
            "cycle",
            format!(
                "the last period began on {first}, {ago} days ago, more than \
                 {OLDEST_PERIOD_DAYS}"
            ),
        )
    })
}

/// The windows of the cycles that can be counted, in order.
fn windows(cycle: &Cycle, rules: &DayRules) -> Vec<Window> {
    let Some((shortest, longest)) = cycle.lengths() else { return Vec::new() };
    let first = cycle.first_day.value;
    let date = |days: i64| first.checked_add_signed(TimeDelta::days(days));
    let tolerance = rules.cycle_tolerance_days;
    (0..)
        .map_while(|ahead| {
            // Day 1 is no day after the first, so day n is n - 1 after it.
            let soonest = (ahead + 1) * shortest - rules.days_before_period - 1;
            let latest = (ahead + 1) * longest - rules.days_before_period - 1;
            if latest + tolerance > LONGEST_COUNT_DAYS {
                return None;
            }
            // Within the tolerance of the day that any of the lengths gives.
            Some(Window {
                first: date(latest - tolerance)?,
                last: date(soonest + tolerance)?,
                ahead,
            })
        })
        .filter(|window| window.first <= window.last)
        .collect()
}

/// What the cycle says of `date`: against it, or to be looked at.
pub(super) fn ask(
    cycle: &Cycle,
    rules: &DayRules,
    date: NaiveDate,
) -> (Option<Remark>, Option<Remark>) {
    if let Some(unsure) = unsure(cycle, rules) {
        let text = format!("cannot be counted: {}", unsure.text);
        return (Some(Remark::new("cycle", text)), None);
    }
    let windows = windows(cycle, rules);
    let Some(next) = windows.iter().find(|window| window.last >= date) else {
        let text = format!(
            "is too far from the last period, {}, to count the cycles",
            cycle.first_day.value
        );
        return (Some(Remark::new("cycle", text)), None);
    };
    if date < next.first {
        let which = if next.first == next.last {
            format!("which is {}", next.first.format("%a %Y-%m-%d"))
        } else {
            format!("which is from {} to {}", next.first, next.last)
        };
        let text = format!("is not the cycle's day, {which}");
        return (Some(Remark::new("cycle", text)), None);
    }
    let note = (next.ahead > 0).then(|| {
        let count = if next.ahead == 1 {
            "a period that is".to_owned()
        } else {
            format!("{} periods that are", next.ahead)
        };
        Remark::new(
            "cycle-ahead",
            format!(
                "the day of the cycle is counted over {count} not known yet: count again \
                 when the next begins"
            ),
        )
    });
    (None, note)
}
