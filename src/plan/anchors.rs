//! Places the anchors of a plan: lunch, dinner, bedtime and waking.

use chrono::{Days, NaiveDate, NaiveTime, TimeDelta};

use super::{Finding, Level, PlannedSlot, Setting};
use crate::clock::{Clock, Moment, Wall};
use crate::order::Order;
use crate::protocol::{Allowed, Anchor, Point, Protocol};

/// The moments of the four anchors.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Anchors {
    /// The waking before the first card.
    pub woke_before: Moment,
    pub lunch: Moment,
    pub dinner: Moment,
    pub bedtime: Moment,
    pub waking: Moment,
    /// The dates whose wall times gave dinner, bedtime and waking, from which
    /// "one day later by the clock" counts.
    pub dinner_date: NaiveDate,
    pub bedtime_date: NaiveDate,
    pub waking_date: NaiveDate,
}

impl Anchors {
    /// The moment of `anchor`; the night has none.
    pub fn moment(&self, anchor: Anchor) -> Option<Moment> {
        match anchor {
            Anchor::Lunch => Some(self.lunch),
            Anchor::Dinner => Some(self.dinner),
            Anchor::Bedtime => Some(self.bedtime),
            Anchor::Waking => Some(self.waking),
            Anchor::Night => None,
        }
    }
}

/// The wall times of one order, the protocol's where the order has none.
pub(super) struct WallTimes {
    pub lunch: NaiveTime,
    pub dinner: NaiveTime,
    pub bedtime: NaiveTime,
    pub wake: NaiveTime,
    assumed: Vec<Anchor>,
}

impl WallTimes {
    pub fn of(order: &Order, protocol: &Protocol) -> Self {
        let (given, default) = (&order.routine, &protocol.routine);
        let mut assumed = Vec::new();
        let mut pick = |anchor, given: Option<NaiveTime>, default| {
            given.unwrap_or_else(|| {
                assumed.push(anchor);
                default
            })
        };
        Self {
            lunch: pick(Anchor::Lunch, given.lunch, default.lunch),
            dinner: pick(Anchor::Dinner, given.dinner, default.dinner),
            bedtime: pick(Anchor::Bedtime, given.bedtime, default.bedtime),
            wake: pick(Anchor::Waking, given.wake, default.wake),
            assumed,
        }
    }

    /// The anchors whose time was not given and on which the protocol leans.
    pub fn assumed(&self, protocol: &Protocol) -> Vec<Anchor> {
        let leans = |anchor: &Anchor| {
            let by_slot = protocol.slots.iter().any(|slot| slot.anchor == *anchor);
            let by_caffeine = protocol
                .caffeine
                .as_ref()
                .is_some_and(|(from, _)| *from == Point::Anchor(*anchor));
            by_slot || by_caffeine || limits_drinks(protocol, *anchor)
        };
        self.assumed.iter().copied().filter(leans).collect()
    }
}

/// Whether a stretch in which not everything may be drunk begins or ends at `anchor`.
fn limits_drinks(protocol: &Protocol, anchor: Anchor) -> bool {
    let at = Point::Anchor(anchor);
    protocol
        .drinks
        .iter()
        .filter(|rule| rule.allowed != Allowed::Normal)
        .any(|rule| rule.from == at || rule.until.as_ref() == Some(&at))
}

/// One wall time placed on the calendar.
#[derive(Clone, Copy)]
struct Placed {
    at: Moment,
    date: NaiveDate,
    wall: Wall,
}

/// The first daily occurrence of `time` strictly after `moment`.
fn next(clock: &Clock, time: NaiveTime, moment: Moment) -> Placed {
    search(clock, time, moment, -1, |at| at > moment)
}

/// The last daily occurrence of `time` strictly before `moment`.
fn previous(clock: &Clock, time: NaiveTime, moment: Moment) -> Placed {
    search(clock, time, moment, 1, |at| at < moment)
}

/// Steps from one day beside `moment` through it until `found`; three days are
/// always enough, as a wall time comes round within two.
fn search(
    clock: &Clock,
    time: NaiveTime,
    moment: Moment,
    first: i64,
    found: impl Fn(Moment) -> bool,
) -> Placed {
    let mut day = first;
    loop {
        let date = moment.date_naive() + TimeDelta::days(day);
        let (at, wall) = clock.at(date, time);
        if found(at) || day.abs() > 3 {
            return Placed { at, date, wall };
        }
        day -= first;
    }
}

/// The first daily occurrence of `time` at or after `moment`.
pub(super) fn first_from(clock: &Clock, time: NaiveTime, moment: Moment) -> Moment {
    search(clock, time, moment, -1, |at| at >= moment).at
}

/// The last daily occurrence of `time` strictly before `moment`.
pub(super) fn last_before(clock: &Clock, time: NaiveTime, moment: Moment) -> Moment {
    previous(clock, time, moment).at
}

/// Puts the anchors in order around the one that falls on `day_one`: bedtime is
/// the first after dinner, waking the first after bedtime, lunch the last
/// before dinner. Holds for people who dine at five in the morning, too.
pub(super) fn place(
    clock: &Clock,
    day_one: NaiveDate,
    starts_with: Anchor,
    times: &WallTimes,
    protocol: &Protocol,
    findings: &mut Vec<Finding>,
) -> Anchors {
    let on_day_one = |time| {
        let (at, wall) = clock.at(day_one, time);
        Placed { at, date: day_one, wall }
    };
    let (dinner, bedtime, waking);
    match starts_with {
        Anchor::Waking => {
            waking = on_day_one(times.wake);
            bedtime = previous(clock, times.bedtime, waking.at);
            dinner = previous(clock, times.dinner, bedtime.at);
        }
        Anchor::Bedtime => {
            bedtime = on_day_one(times.bedtime);
            dinner = previous(clock, times.dinner, bedtime.at);
            waking = next(clock, times.wake, bedtime.at);
        }
        _ => {
            dinner = on_day_one(times.dinner);
            bedtime = next(clock, times.bedtime, dinner.at);
            waking = next(clock, times.wake, bedtime.at);
        }
    }
    let lunch = previous(clock, times.lunch, dinner.at);
    let woke_before = previous(clock, times.wake, dinner.at);
    let anchors = Anchors {
        woke_before: woke_before.at,
        lunch: lunch.at,
        dinner: dinner.at,
        bedtime: bedtime.at,
        waking: waking.at,
        dinner_date: dinner.date,
        bedtime_date: bedtime.date,
        waking_date: waking.date,
    };
    let named = [
        ("lunch", times.lunch, lunch),
        ("dinner", times.dinner, dinner),
        ("bedtime", times.bedtime, bedtime),
        ("waking", times.wake, waking),
    ];
    for (name, time, placed) in named {
        report_wall(name, time, placed, findings);
    }
    report_lengths(&anchors, protocol, findings);
    report_clock_change(clock, &anchors, findings);
    anchors
}

fn report_wall(name: &str, time: NaiveTime, placed: Placed, findings: &mut Vec<Finding>) {
    let (time, shown) = (time.format("%H:%M"), placed.at.format("%H:%M"));
    match placed.wall {
        Wall::Once => {}
        Wall::Skipped => findings.push(Finding::new(
            Level::Warning,
            "zone-gap",
            format!(
                "the clocks skip {time} on {}: {name} is planned at {shown}",
                placed.date
            ),
        )),
        Wall::Repeated => findings.push(Finding::new(
            Level::Warning,
            "zone-fold",
            format!(
                "the clocks show {time} twice on {}: {name} is planned at the first",
                placed.date
            ),
        )),
    }
}

/// A lunch further before dinner than this is likely a slip of the pen.
const LONGEST_AFTERNOON_MINUTES: i64 = 600;

fn report_lengths(anchors: &Anchors, protocol: &Protocol, findings: &mut Vec<Finding>) {
    if protocol.spans_night() {
        report_day(anchors, protocol, findings);
    }
    if protocol.spans_night() || limits_drinks(protocol, Anchor::Bedtime) {
        report_sleep(anchors, protocol, findings);
    }
}

/// A lunch that nobody gave, in the patient's sleep: the water that is allowed from
/// then on would have to last far too long.
pub(super) fn report_lunch(
    anchors: &Anchors,
    times: &WallTimes,
    protocol: &Protocol,
    findings: &mut Vec<Finding>,
) {
    let is_assumed = times.assumed(protocol).contains(&Anchor::Lunch);
    let afternoon = (anchors.dinner - anchors.lunch).num_minutes();
    if is_assumed
        && anchors.lunch < anchors.woke_before
        && afternoon > LONGEST_AFTERNOON_MINUTES
    {
        findings.push(Finding::new(
            Level::Warning,
            "no-lunch",
            format!(
                "no lunch is given, and at the protocol's, {}, the patient sleeps: give \
                 `lunch` in [routine]",
                times.lunch.format("%H:%M")
            ),
        ));
    }
}

fn report_day(anchors: &Anchors, protocol: &Protocol, findings: &mut Vec<Finding>) {
    let afternoon = (anchors.dinner - anchors.lunch).num_minutes();
    if protocol.caffeine.is_some()
        && (afternoon > LONGEST_AFTERNOON_MINUTES || anchors.lunch < anchors.woke_before)
    {
        findings.push(Finding::new(
            Level::Warning,
            "long-afternoon",
            format!(
                "lunch is {} before dinner: check the times, as no caffeine and little \
                 water are allowed from lunch on",
                hours(afternoon)
            ),
        ));
    }
    let at_dinner = protocol.slots.iter().filter(|slot| slot.anchor == Anchor::Dinner);
    let dry = at_dinner.filter_map(|slot| slot.empty_before_minutes).max();
    if let Some(dry) = dry.filter(|dry| afternoon <= *dry) {
        findings.push(Finding::new(
            Level::Warning,
            "short-afternoon",
            format!(
                "lunch is {} before dinner: check the times, as nothing is drunk in the \
                 {} before it",
                hours(afternoon),
                hours(dry)
            ),
        ));
    }
    let limits = &protocol.limits;
    let evening = (anchors.bedtime - anchors.dinner).num_minutes();
    if evening > limits.longest_evening_minutes {
        findings.push(Finding::new(
            Level::Warning,
            "long-interval",
            format!(
                "bedtime is {} after dinner, more than {}",
                hours(evening),
                hours(limits.longest_evening_minutes)
            ),
        ));
    }
}

fn report_sleep(anchors: &Anchors, protocol: &Protocol, findings: &mut Vec<Finding>) {
    let limits = &protocol.limits;
    let sleep = (anchors.waking - anchors.bedtime).num_minutes();
    let (code, word, limit) = if sleep < limits.shortest_sleep_minutes {
        ("short-sleep", "less", limits.shortest_sleep_minutes)
    } else if sleep > limits.longest_sleep_minutes {
        ("long-sleep", "more", limits.longest_sleep_minutes)
    } else {
        return;
    };
    findings.push(Finding::new(
        Level::Warning,
        code,
        format!("the night is {} long, {word} than {}", hours(sleep), hours(limit)),
    ));
}

fn report_clock_change(clock: &Clock, anchors: &Anchors, findings: &mut Vec<Finding>) {
    let until = clock.after(anchors.waking, TimeDelta::hours(2));
    let made_up = clock.after(until, TimeDelta::days(1));
    for (code, when, from, until) in [
        ("clock-change", "during the collection", anchors.lunch, until),
        ("clock-change-later", "on the day of the make-ups", until, made_up),
    ] {
        for change in clock.changes(from, until) {
            let minutes = (change.after_seconds - change.before_seconds) / 60;
            let way = if minutes > 0 { "forward" } else { "back" };
            // As the clocks show it before they change.
            let shown = change.at.naive_local() - TimeDelta::minutes(minutes.into());
            findings.push(Finding::new(
                Level::Info,
                code,
                format!(
                    "the clocks go {way} {} minutes at {}, {when}",
                    minutes.abs(),
                    shown.format("%Y-%m-%d %H:%M")
                ),
            ));
        }
    }
}

fn hours(minutes: i64) -> String {
    match (minutes / 60, minutes % 60) {
        (hours, 0) => format!("{hours} h"),
        (0, minutes) => format!("{minutes} min"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// When the cards can be packed: the first waking after a full night that
/// follows the last card, and at least the protocol's minimum drying time after
/// it, in elapsed time.
pub(super) fn pack_at(setting: &Setting, slots: &[PlannedSlot]) -> Moment {
    let last = slots
        .iter()
        .filter_map(|slot| slot.collect_at)
        .max()
        .unwrap_or(setting.anchors.waking);
    let dry = setting.after(last, setting.protocol.drying_minimum_minutes);
    let times = WallTimes::of(setting.order, setting.protocol);
    let night = next(&setting.clock, times.bedtime, last);
    let mut waking = next(&setting.clock, times.wake, night.at);
    while waking.at < dry {
        waking = next(&setting.clock, times.wake, waking.at);
    }
    waking.at
}

/// The moment some days later by the clock.
pub(super) fn days_later(
    clock: &Clock,
    date: NaiveDate,
    time: NaiveTime,
    days: u64,
) -> Moment {
    clock.at(date + Days::new(days), time).0
}
