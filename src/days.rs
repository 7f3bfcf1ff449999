//! Says which dates suit as the day of card 1, and why the others do not.
//!
//! Takes an order, a protocol and a laboratory; plans the order for each date
//! and asks the rules of it. Reads no clock and no file: `today` is given.
//! Where the rules leave no date that is sure, it gives none, and the provider
//! is asked.

mod cycle;
mod rewrite;
mod rules;
mod show;

use chrono::{Datelike, NaiveDate};

use crate::fault::Fault;
use crate::fields::Found;
use crate::lab::Lab;
use crate::order::{HoldKind, Order, START_YEARS, Start, Zone};
use crate::plan::{Finding, Level, Plan, plan};
use crate::protocol::Protocol;

pub use rewrite::with_start;
pub use show::{day_json, table};

/// How many days after today are searched for the first that suits.
pub const HORIZON_DAYS: usize = 180;

/// One thing to say of a date. In English: it goes to the terminal and the
/// packing slip, never to the patient.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    pub code: &'static str,
    pub text: String,
}

impl Remark {
    fn new(code: &'static str, text: impl Into<String>) -> Self {
        Self { code, text: text.into() }
    }
}

/// One date and what the rules say of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Day {
    pub date: NaiveDate,
    /// Why it does not suit.
    pub against: Vec<Remark>,
    /// What to look at, though it may suit.
    pub notes: Vec<Remark>,
}

impl Day {
    pub fn suits(&self) -> bool {
        self.against.is_empty()
    }
}

/// The search for the day of card 1 of one order.
pub struct Search<'a> {
    pub order: &'a Order,
    protocol: &'a Protocol,
    lab: &'a Lab,
    zone: &'a Zone,
    today: NaiveDate,
}

impl<'a> Search<'a> {
    /// Sets up a search for a day after `today`, a date of UTC.
    ///
    /// # Errors
    ///
    /// A fault if there is no zone, and one for each thing about the cycle that
    /// leaves no date that is sure.
    pub fn new(
        order: &'a Order,
        protocol: &'a Protocol,
        lab: &'a Lab,
        today: NaiveDate,
    ) -> Result<Self, Vec<Fault>> {
        let mut faults = Vec::new();
        if let Some(cycle) = &order.cycle {
            let stale = cycle::is_stale(cycle, today);
            for remark in cycle::unsure(cycle, &lab.days).into_iter().chain(stale) {
                faults.push(cycle.first_day.fault(
                    &order.source,
                    format!("no day can be counted: {}", remark.text),
                    "ask the provider for the day, and write it as `start` without \
                     [cycle]",
                ));
            }
        }
        let Some(zone) = &order.zone else {
            faults.push(
                Fault::new(
                    "a day is chosen by the clock of a zone, and the order has no `zone`",
                    "add the patient's zone by its IANA name: zone = \"America/Denver\"",
                )
                .at(&order.source, 0..0, "zone"),
            );
            return Err(faults);
        };
        if !faults.is_empty() {
            return Err(faults);
        }
        Ok(Self { order, protocol, lab, zone, today })
    }

    /// What the rules say of `date` as the day of card 1.
    pub fn day(&self, date: NaiveDate) -> Day {
        let mut day = Day { date, against: Vec::new(), notes: Vec::new() };
        if date <= self.today {
            let text = if date < self.today {
                format!("is past: today is {}", self.today)
            } else {
                "is today: card 1 is planned ahead".to_owned()
            };
            day.against.push(Remark::new("past", text));
        }
        if !START_YEARS.contains(&date.year()) {
            let (first, last) = (START_YEARS.start(), START_YEARS.end());
            day.against.push(Remark::new(
                "year",
                format!("is outside the years {first} to {last}"),
            ));
            return day;
        }
        let order = self.on(date);
        let plan = plan(&order, self.protocol, &self.lab.mail);
        // `today` is a date of UTC: east of it the next day may have begun.
        let begins = plan.first_rule();
        if date > self.today && begins.naive_utc().date() <= self.today {
            let begins = begins.format("%Y-%m-%d %H:%M");
            let text = format!("begins on {begins}, which is today in UTC");
            day.against.push(Remark::new("past", text));
        }
        rules::of_the_order(&order, &plan, self.lab, &mut day);
        rules::of_the_clock(&self.zone.clock, &plan, &mut day);
        rules::of_the_patches(&order, &plan, &mut day);
        for finding in &plan.findings {
            if matches!(finding.code, "post-check" | "under-18") {
                day.notes.push(Remark::new(finding.code, finding.text.clone()));
            }
        }
        day
    }

    /// `count` days from `from` on.
    pub fn days(&self, from: NaiveDate, count: usize) -> Vec<Day> {
        from.iter_days().take(count).map(|date| self.day(date)).collect()
    }

    /// The first day after today that suits, within [`HORIZON_DAYS`].
    ///
    /// # Errors
    ///
    /// A fault with the most common reasons, if none does.
    pub fn first(&self, asked: &Found<()>) -> Result<NaiveDate, Fault> {
        let mut against: Vec<(&'static str, usize)> = Vec::new();
        for date in self.today.iter_days().skip(1).take(HORIZON_DAYS) {
            let day = self.day(date);
            if day.suits() {
                return Ok(date);
            }
            for Remark { code, .. } in day.against {
                match against.iter_mut().find(|(known, _)| *known == code) {
                    Some((_, count)) => *count += 1,
                    None => against.push((code, 1)),
                }
            }
        }
        against.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        let most: Vec<String> = against
            .iter()
            .take(3)
            .map(|(code, count)| {
                format!("{} ({count} days)", rules::in_words(code, self.order))
            })
            .collect();
        Err(asked.fault(
            &self.order.source,
            format!("no day of the {HORIZON_DAYS} after {} suits", self.today),
            format!(
                "most often against it: {}; `kitwright days` says it of each day",
                most.join(", ")
            ),
        ))
    }

    /// The day that the order has already.
    pub fn start(&self) -> Option<NaiveDate> {
        self.order.start.as_ref().map(|start| start.date)
    }

    /// The holds that stand on every day; that of age depends on the day.
    fn holds(&self) -> Vec<String> {
        plan(self.order, self.protocol, &self.lab.mail)
            .holds()
            .filter(|hold| hold.code != HoldKind::UnderAge.word())
            .map(|hold| hold.text.clone())
            .collect()
    }

    /// The order with `date` as its day of card 1.
    fn on(&self, date: NaiveDate) -> Order {
        let zone = self.zone.clone();
        Order {
            start: Some(Start { date, zone: zone.name, clock: zone.clock }),
            age_on: date,
            ..self.order.clone()
        }
    }
}

/// What a packer must know of the day of a dated order: how it was chosen, and
/// what speaks against it. Nothing for an undated one.
///
/// Depends on the files alone, never on today, so that a later proof finds the
/// same.
pub fn findings(order: &Order, plan: &Plan, lab: &Lab) -> Vec<Finding> {
    let Some(start) = &order.start else { return Vec::new() };
    let mut found = Vec::new();
    let mut day = Day { date: start.date, against: Vec::new(), notes: Vec::new() };
    rules::of_the_order(order, plan, lab, &mut day);
    for Remark { code, text } in std::mem::take(&mut day.against) {
        let text = format!("the day of card 1, {}, {text}", start.date);
        found.push(Finding::new(Level::Warning, code, text));
    }
    if order.first_suitable_from.is_some() {
        rules::of_the_patches(order, plan, &mut day);
    }
    for Remark { code, text } in day.notes {
        found.push(Finding::new(Level::Warning, code, text));
    }
    if let Some(from) = order.first_suitable_from {
        if order.day.kit_arrives.is_none() && order.day.earliest.is_none() {
            found.push(Finding::new(
                Level::Warning,
                "arrival-unknown",
                "the order does not say when the kit arrives: check that it does before \
                 the day of card 1",
            ));
        }
        found.push(Finding::new(
            Level::Info,
            "day-chosen",
            format!(
                "the day of card 1, {}, was chosen by the program: the first suitable \
                 after {from}",
                start.date
            ),
        ));
    }
    found
}
