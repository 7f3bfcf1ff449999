//! Reads what an order says of the day of card 1: the date itself or the wish
//! for one, the dates it must keep to, and the cycle it follows.
//!
//! Whether a date suits is worked out in `days`; here only what cannot be is
//! refused.

use std::ops::RangeInclusive;

use chrono::{Datelike, NaiveDate};

use super::{Reader, Start};
use crate::clock::{Clock, zone_help};
use crate::fault::visible;
use crate::fields::{Fields, Found};

/// Years a collection can be planned for.
pub const START_YEARS: RangeInclusive<i32> = 2000..=2199;
/// What stands for the date where the program is to choose it.
pub const FIRST_SUITABLE: &str = "first suitable";
/// Lengths of a cycle in days that are taken for more than a slip of the pen.
/// Common practice, no source.
pub const CYCLE_DAYS: RangeInclusive<i64> = 15..=60;
/// The furthest from the first day of a period that its cycles are counted on,
/// in days. Common practice, no source: ten cycles of thirty days.
pub const LONGEST_COUNT_DAYS: i64 = 300;

/// A zone by its IANA name, with its clock.
#[derive(Debug, Clone)]
pub struct Zone {
    pub name: String,
    pub clock: Clock,
}

/// The dates the day of card 1 must keep to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DayLimits {
    /// The day the kit is in the patient's hands.
    pub kit_arrives: Option<NaiveDate>,
    /// The provider's first and last day for card 1.
    pub earliest: Option<NaiveDate>,
    pub latest: Option<NaiveDate>,
    /// The last day on which this kit's cards may be posted.
    pub cards_expire: Option<NaiveDate>,
}

/// The menstrual cycle that the day of card 1 is counted by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cycle {
    /// First day of bleeding of the last period: day 1 of the cycle.
    pub first_day: Found<NaiveDate>,
    /// Usual length in days.
    pub length: Option<i64>,
    /// Shortest and longest of the recent cycles in days.
    pub range: Option<(i64, i64)>,
    /// False where the provider says the cycle is irregular.
    pub regular: bool,
}

impl Cycle {
    /// The shortest and the longest length the count may have to do with; a
    /// usual length is both. Absent for an irregular cycle without lengths.
    pub fn lengths(&self) -> Option<(i64, i64)> {
        self.length.map(|length| (length, length)).or(self.range)
    }
}

/// What the head of an order says of its day.
pub(super) struct When {
    pub zone: Option<Zone>,
    pub start: Option<Start>,
    pub first_suitable: Option<Found<()>>,
    pub first_suitable_from: Option<NaiveDate>,
}

impl Reader<'_> {
    /// `None` is a fault.
    pub(super) fn when(&self) -> Option<When> {
        let top = self.top;
        let start = top.date_or("start", FIRST_SUITABLE);
        let from = top.date("first_suitable_from");
        let zone = self.zone();
        let mut sound = start.is_some() || !top.has("start");
        let date = start.as_ref().and_then(|start| start.value);
        if let (Some(start), Some(date)) = (&start, date)
            && !START_YEARS.contains(&date.year())
        {
            top.fault(start.fault(
                top.source,
                format!("the start is in the year {}", date.year()),
                "write the day of card 1 as year-month-day, such as 2026-10-14",
            ));
            sound = false;
        }
        if let (Some(start), Some(None)) = (&start, &zone) {
            top.fault(start.fault(
                top.source,
                "a dated order needs a `zone`",
                "add the patient's zone by its IANA name: zone = \"America/Denver\"",
            ));
            sound = false;
        }
        if let Some(from) = &from
            && date.is_none_or(|date| date <= from.value)
            && sound
        {
            top.fault(from.fault(
                top.source,
                format!(
                    "`first_suitable_from` is {}, and there is no later `start`",
                    from.value
                ),
                "take the line out: the program writes it beside a date it chose",
            ));
            sound = false;
        }
        let zone = zone.filter(|_| sound)?;
        let dated = date.zip(zone.clone()).map(|(date, zone)| Start {
            date,
            zone: zone.name,
            clock: zone.clock,
        });
        let first_suitable =
            start.filter(|start| start.value.is_none()).map(|start| start.map(|_| ()));
        let first_suitable_from = from.map(|from| from.value);
        Some(When { zone, start: dated, first_suitable, first_suitable_from })
    }

    /// The order's zone or the laboratory's. The outer `None` is a fault.
    fn zone(&self) -> Option<Option<Zone>> {
        let top = self.top;
        let given = top.text("zone");
        let name = match (&given, &self.lab.zone) {
            (Some(zone), _) => &zone.value,
            (None, _) if top.has("zone") => return None,
            (None, Some(zone)) => zone,
            (None, None) => return Some(None),
        };
        match Clock::named(name) {
            Ok(clock) => Some(Some(Zone { name: name.clone(), clock })),
            Err(near) => {
                if let Some(given) = &given {
                    top.fault(given.fault(
                        top.source,
                        format!(
                            "`{}` is no place of the IANA time zone database",
                            visible(name)
                        ),
                        zone_help(&near),
                    ));
                }
                None
            }
        }
    }

    /// `start` is the order's date, if it has one.
    pub(super) fn cycle(
        &self,
        fields: &Fields,
        start: Option<NaiveDate>,
    ) -> Option<Cycle> {
        let first = fields.require("first_day", "2026-09-24", fields.date("first_day"));
        let length = fields.number("length", CYCLE_DAYS);
        let shortest = fields.number("shortest", CYCLE_DAYS);
        let longest = fields.number("longest", CYCLE_DAYS);
        let regular = fields.flag("regular").is_none_or(|flag| flag.value);
        if let Some(first) = &first {
            self.first_day(fields, first, start);
        }
        if fields.has("shortest") != fields.has("longest") {
            let other = if fields.has("shortest") { "longest" } else { "shortest" };
            fields.missing(other, "28");
        } else if !fields.has("length") && !fields.has("shortest") && regular {
            fields.missing("length", "28");
        }
        let range = shortest.as_ref().zip(longest.as_ref());
        if let Some((shortest, longest)) = range
            && shortest.value > longest.value
        {
            fields.fault(shortest.fault(
                fields.source,
                format!(
                    "the shortest cycle has {} days, more than the longest, {}",
                    shortest.value, longest.value
                ),
                "give the shortest and the longest of the recent cycles",
            ));
        } else if let (Some(length), Some((shortest, longest))) = (&length, range)
            && !(shortest.value..=longest.value).contains(&length.value)
        {
            fields.fault(length.fault(
                fields.source,
                format!(
                    "the usual length is {} days, outside the {} to {} of the recent \
                     cycles",
                    length.value, shortest.value, longest.value
                ),
                "ask for the days on which the last periods began, and count again",
            ));
        }
        let range = range.map(|(shortest, longest)| (shortest.value, longest.value));
        let length = length.map(|length| length.value);
        Some(Cycle { first_day: first?, length, range, regular })
    }

    fn first_day(
        &self,
        fields: &Fields,
        first: &Found<NaiveDate>,
        start: Option<NaiveDate>,
    ) {
        let what = if first.value > self.today {
            format!("the last period began on {}, which is in the future", first.value)
        } else if let Some(start) = start.filter(|start| first.value > *start) {
            format!("the last period began on {}, after the start, {start}", first.value)
        } else if let Some(start) = start
            && (start - first.value).num_days() > LONGEST_COUNT_DAYS
        {
            format!(
                "the last period began on {}, more than {LONGEST_COUNT_DAYS} days before \
                 the start, {start}",
                first.value
            )
        } else {
            return;
        };
        fields.fault(first.fault(
            fields.source,
            what,
            "give the first day of bleeding of the last period: first_day = 2026-09-24",
        ));
    }
}

/// Reads `[day]`; dates that leave no day between them are faults.
pub(super) fn limits(fields: &Fields) -> DayLimits {
    let arrives = fields.date("kit_arrives");
    let earliest = fields.date("earliest");
    let latest = fields.date("latest");
    let expire = fields.date("cards_expire");
    let clash = |first: &Option<Found<NaiveDate>>,
                 first_words: &str,
                 last: &Option<Found<NaiveDate>>,
                 last_words: &str,
                 same_day_is_wrong: bool| {
        let (Some(first), Some(last)) = (first, last) else { return };
        if first.value > last.value || same_day_is_wrong && first.value == last.value {
            fields.fault(first.fault(
                fields.source,
                format!(
                    "{first_words} {} and {last_words} {}: no day is left",
                    first.value, last.value
                ),
                "mend the date that is wrong, or ask the provider for other days",
            ));
        }
    };
    // The day of arrival is no day for card 1, and cards are posted days after it.
    let (kit, after) = ("the kit arrives on", "the earliest day is");
    clash(&earliest, after, &latest, "the latest is", false);
    clash(&arrives, kit, &latest, "the latest day is", true);
    clash(&arrives, kit, &expire, "its cards expire on", true);
    clash(&earliest, after, &expire, "the cards expire on", true);
    let date = |found: Option<Found<NaiveDate>>| found.map(|date| date.value);
    DayLimits {
        kit_arrives: date(arrives),
        earliest: date(earliest),
        latest: date(latest),
        cards_expire: date(expire),
    }
}
