//! Turns an order and a protocol into a plan: this person's moments, amounts
//! and dose lines, with every finding a reader must know of.
//!
//! This is the only stage that does arithmetic on time. It reads no file and
//! asks for no current date, so the same order always gives the same plan, and
//! it makes no text that a patient reads.
//!
//! Anchors are wall times in the patient's zone; offsets are elapsed time.

mod anchors;
mod doses;
mod fluids;
mod holds;
pub mod post;
mod repeats;

use std::collections::BTreeMap;

use chrono::{NaiveDate, TimeDelta};

use crate::clock::{Clock, Moment, Pass, UNDATED_START, zone_data_version};
use crate::fault::Fault;
use crate::lab::Mail;
use crate::order::{HoldKind, Order};
use crate::protocol::{Anchor, Point, Protocol, SlotRule};
use crate::specimen;

pub use anchors::Anchors;
pub use doses::{Action, PlannedDose};
pub use fluids::{Amount, LookUpRow, Stretch, look_up};
pub use holds::{AGE_OF_ADULTS, age_at};
pub use post::{is_holiday, us_federal_holidays};
pub use repeats::{Repeat, Shifted, WhatIf};

/// The plan of one order.
#[derive(Debug, Clone)]
pub struct Plan {
    pub order: String,
    /// IANA name; absent on an undated sheet.
    pub zone: Option<String>,
    pub zone_data: &'static str,
    /// The day that counts as Day 1.
    pub day_one: NaiveDate,
    pub anchors: Anchors,
    /// The anchors whose times are the protocol's and not the patient's.
    pub assumed: Vec<Anchor>,
    pub slots: Vec<PlannedSlot>,
    pub doses: Vec<PlannedDose>,
    pub drinks: Vec<Stretch>,
    /// No caffeine from the first moment until the second.
    pub caffeine: Option<(Moment, Moment)>,
    /// How much the allowance by weight comes to, or why it has no figure.
    pub allowance: Amount,
    /// When the cards are dry enough to pack.
    pub pack_at: Moment,
    /// The first day with post; absent on an undated sheet.
    pub post_on: Option<NaiveDate>,
    pub what_if: WhatIf,
    /// The holds that a named person has cleared.
    pub cleared: Vec<HoldKind>,
    pub findings: Vec<Finding>,
    clock: Clock,
}

/// One slot with this person's moments.
#[derive(Debug, Clone)]
pub struct PlannedSlot {
    pub id: String,
    /// The card's number; absent for the spare.
    pub card: Option<u8>,
    /// Specimen code: order number, slot digit, check character.
    pub code: String,
    pub anchor: Anchor,
    pub offset_minutes: i64,
    pub title: BTreeMap<String, String>,
    /// When to empty the bladder into the toilet.
    pub empty_at: Option<Moment>,
    pub stop_drinking_at: Option<Moment>,
    /// Absent for the spare: nobody can say when.
    pub collect_at: Option<Moment>,
    pub collect_by: Option<Moment>,
    /// The earliest moment at which this card can be dry.
    pub dry_at: Option<Moment>,
    pub repeat: Option<Repeat>,
    /// The card whose collection is the emptying, where the time between two
    /// cards is too short for another.
    pub emptied_by_card: Option<u8>,
}

/// How grave a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// The kit is not made until a named person clears it.
    Hold,
    /// A person should look at it.
    Warning,
    /// Worth knowing.
    Info,
}

impl Level {
    pub fn word(self) -> &'static str {
        match self {
            Self::Hold => "hold",
            Self::Warning => "warning",
            Self::Info => "info",
        }
    }
}

/// Something a packer or a provider must know about a plan. In English: it goes
/// to the terminal and the packing slip, never to the patient.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    pub level: Level,
    pub code: &'static str,
    pub text: String,
}

impl Finding {
    pub(crate) fn new(level: Level, code: &'static str, text: impl Into<String>) -> Self {
        Self { level, code, text: text.into() }
    }
}

impl Plan {
    /// The holds that nobody has cleared.
    pub fn holds(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|finding| finding.level == Level::Hold)
    }

    /// A fault for each rule of the protocol that this day makes senseless, whatever
    /// anybody clears: its paper would contradict itself.
    pub fn senseless(&self) -> Vec<Fault> {
        let stands = |finding: &&Finding| SENSELESS.contains(&finding.code);
        let findings = self.findings.iter().filter(stands);
        findings
            .map(|finding| {
                Fault::new(
                    format!("the order {}: {}", self.order, finding.text),
                    "check the protocol's anchors and offsets, and the usual times of the \
                     order",
                )
            })
            .collect()
    }

    /// A fault for each hold that nobody has cleared; none for a plan that may go
    /// to the patient.
    pub fn hold_faults(&self) -> Vec<Fault> {
        self.holds()
            .map(|hold| {
                Fault::new(
                    format!("the order {} is on hold: {}", self.order, hold.text),
                    "clear the hold first",
                )
            })
            .collect()
    }

    /// Whether something with this code is to be known of the plan.
    pub fn has_finding(&self, code: &str) -> bool {
        self.findings.iter().any(|finding| finding.code == code)
    }

    pub fn slot(&self, id: &str) -> Option<&PlannedSlot> {
        self.slots.iter().find(|slot| slot.id == id)
    }

    /// The doses that are taken just after the card of the slot `id`.
    pub fn doses_after<'a>(
        &'a self,
        id: &'a str,
    ) -> impl Iterator<Item = &'a PlannedDose> {
        self.doses.iter().filter(move |dose| match &dose.action {
            Action::AfterCard { slot, .. } => slot == id,
            _ => false,
        })
    }

    pub fn is_dated(&self) -> bool {
        self.zone.is_some()
    }

    /// The first moment at which the plan asks something of the patient.
    pub fn first_rule(&self) -> Moment {
        let slots = self.slots.iter().flat_map(|slot| [slot.empty_at, slot.collect_at]);
        let drinks = self.drinks.iter().map(|stretch| stretch.from);
        let caffeine = self.caffeine.map(|(from, _)| from);
        slots
            .flatten()
            .chain(drinks)
            .chain(caffeine)
            .min()
            .unwrap_or(self.anchors.dinner)
            .min(self.anchors.dinner)
    }

    /// Which of two `moment` is, where the patient's clock shows its time twice.
    pub fn pass(&self, moment: Moment) -> Option<Pass> {
        self.clock.pass(moment)
    }

    /// The last planned collection.
    pub fn last_card(&self) -> Moment {
        self.slots
            .iter()
            .filter_map(|slot| slot.collect_at)
            .max()
            .unwrap_or(self.anchors.waking)
    }

    /// The day of the plan `moment` falls on: 1 for the start date.
    pub fn day_of(&self, moment: Moment) -> i64 {
        (moment.date_naive() - self.day_one).num_days() + 1
    }
}

/// Codes of findings that no paper may be made with.
const SENSELESS: &[&str] = &["card-order", "drink-order", "caffeine-order", "no-lunch"];

/// Everything the parts of a plan are made from.
struct Setting<'a> {
    order: &'a Order,
    protocol: &'a Protocol,
    clock: Clock,
    anchors: Anchors,
}

impl Setting<'_> {
    fn after(&self, moment: Moment, minutes: i64) -> Moment {
        self.clock.after(moment, TimeDelta::minutes(minutes))
    }

    /// A moment as findings tell it.
    fn shown(&self, at: Moment) -> String {
        match self.order.start {
            Some(_) => at.format("%Y-%m-%d %H:%M").to_string(),
            None => {
                let day = (at.date_naive() - UNDATED_START).num_days() + 1;
                format!("{} of day {day}", at.format("%H:%M"))
            }
        }
    }
}

/// Plans one order by one protocol.
///
/// Never fails: what stands in the way of a kit is a finding with
/// [`Level::Hold`], and everything that cannot be read is refused before.
pub fn plan(order: &Order, protocol: &Protocol, mail: &Mail) -> Plan {
    let (clock, day_one) = match &order.start {
        Some(start) => (start.clock.clone(), start.date),
        None => (Clock::undated(), UNDATED_START),
    };
    let mut findings = Vec::new();
    let routine = anchors::WallTimes::of(order, protocol);
    let anchors = anchors::place(
        &clock,
        day_one,
        protocol.starts_with,
        &routine,
        protocol,
        &mut findings,
    );
    anchors::report_lunch(&anchors, &routine, protocol, &mut findings);
    let setting = Setting { order, protocol, clock, anchors };
    let slots = plan_slots(&setting, &mut findings);
    let doses = doses::plan_doses(&setting, &slots, &mut findings);
    let allowance = fluids::amount(order, &protocol.allowance);
    let drinks = fluids::stretches(&setting, &slots, allowance);
    fluids::report_short_dinner(&drinks, &mut findings);
    fluids::report_contradictions(&setting, &drinks, &mut findings);
    fluids::report_old_weight(order, allowance, &mut findings);
    doses::report_notes(&setting, &doses, &drinks, &mut findings);
    let caffeine = protocol.caffeine.as_ref().and_then(|(from, until)| {
        Some((moment_of(from, &setting, &slots)?, moment_of(until, &setting, &slots)?))
    });
    if let Some((from, until)) = caffeine.filter(|(from, until)| from >= until) {
        findings.push(Finding::new(
            Level::Warning,
            "caffeine-order",
            format!(
                "caffeine stops at {}, and may be had from {} on",
                setting.shown(from),
                setting.shown(until)
            ),
        ));
    }
    let pack_at = anchors::pack_at(&setting, &slots);
    let post_on = order
        .start
        .as_ref()
        .map(|_| post::first_post(post::earliest(pack_at), mail, &mut findings));
    let slots = repeats::with_repeats(&setting, slots, &doses);
    let what_if = repeats::what_if(&setting, &slots);
    let cleared = holds::find(order, protocol, &mut findings);
    findings.sort_by_key(|finding| finding.level);

    Plan {
        order: order.number.clone(),
        zone: order.start.as_ref().map(|start| start.zone.clone()),
        zone_data: zone_data_version(),
        day_one,
        anchors: setting.anchors,
        assumed: routine.assumed(protocol),
        slots,
        doses,
        drinks,
        caffeine,
        allowance,
        pack_at,
        post_on,
        what_if,
        cleared,
        findings,
        clock: setting.clock,
    }
}

fn plan_slots(setting: &Setting, findings: &mut Vec<Finding>) -> Vec<PlannedSlot> {
    let mut slots: Vec<PlannedSlot> = Vec::new();
    for rule in &setting.protocol.slots {
        let slot = plan_slot(setting, rule, &slots, findings);
        slots.push(slot);
    }
    report_card_order(setting, &slots, findings);
    report_repeated(setting, &slots, findings);
    slots
}

/// Cards whose order in time is not that of the protocol: its offsets may be slips,
/// and rules between two such cards hold for no time at all.
fn report_card_order(
    setting: &Setting,
    slots: &[PlannedSlot],
    findings: &mut Vec<Finding>,
) {
    let cards: Vec<(u8, Moment)> =
        slots.iter().filter_map(|slot| slot.card.zip(slot.collect_at)).collect();
    for pair in cards.windows(2) {
        let [(card, at), (next, next_at)] = [pair[0], pair[1]];
        if next_at <= at {
            findings.push(Finding::new(
                Level::Warning,
                "card-order",
                format!(
                    "card {next} is planned at {}, and not after card {card}",
                    setting.shown(next_at)
                ),
            ));
        }
    }
}

/// Cards and emptyings at times that the clocks show twice. Those at an anchor are told
/// with the anchor.
fn report_repeated(
    setting: &Setting,
    slots: &[PlannedSlot],
    findings: &mut Vec<Finding>,
) {
    for slot in slots {
        let name =
            slot.card.map_or_else(|| slot.id.clone(), |card| format!("card {card}"));
        let emptying = slot.empty_at.filter(|_| slot.emptied_by_card.is_none());
        let card = slot.collect_at.filter(|_| slot.offset_minutes != 0);
        for (what, at) in
            [(format!("the emptying before {name}"), emptying), (name, card)]
        {
            let Some((at, pass)) = at.and_then(|at| Some((at, setting.clock.pass(at)?)))
            else {
                continue;
            };
            let which = match pass {
                Pass::First => "first",
                Pass::Second => "second",
            };
            findings.push(Finding::new(
                Level::Warning,
                "zone-fold",
                format!(
                    "the clocks show {} twice on {}: {what} is planned at the {which}",
                    at.format("%H:%M"),
                    at.date_naive()
                ),
            ));
        }
    }
}

fn plan_slot(
    setting: &Setting,
    rule: &SlotRule,
    earlier: &[PlannedSlot],
    findings: &mut Vec<Finding>,
) -> PlannedSlot {
    let collect_at = setting
        .anchors
        .moment(rule.anchor)
        .map(|anchor| setting.after(anchor, rule.offset_minutes));
    let mut empty_at = None;
    let mut emptied_by_card = None;
    if let (Some(collect), Some(minutes)) = (collect_at, rule.empty_before_minutes) {
        let wanted = setting.after(collect, -minutes);
        let last = earlier
            .iter()
            .filter_map(|slot| Some((slot.collect_at?, slot.card)))
            .filter(|(at, _)| *at <= collect)
            .max_by_key(|(at, _)| *at);
        empty_at = Some(wanted);
        if let Some((at, card)) = last
            && wanted <= at
        {
            empty_at = Some(at);
            emptied_by_card = card;
            findings.push(Finding::new(
                Level::Warning,
                "short-interval",
                format!(
                    "{} comes {} minutes after the card before it, no more than {minutes}: \
                     that card is the emptying, and nothing is drunk in between",
                    rule.id,
                    (collect - at).num_minutes(),
                ),
            ));
        }
    }
    PlannedSlot {
        id: rule.id.clone(),
        card: rule.card,
        code: specimen::code(&setting.order.number, rule.digit),
        anchor: rule.anchor,
        offset_minutes: rule.offset_minutes,
        title: rule.title.clone(),
        empty_at,
        stop_drinking_at: empty_at,
        collect_at,
        collect_by: rule
            .within_minutes
            .and_then(|minutes| Some(setting.after(collect_at?, minutes))),
        dry_at: collect_at
            .map(|at| setting.after(at, setting.protocol.drying_minimum_minutes)),
        repeat: None,
        emptied_by_card,
    }
}

/// The moment a point of the protocol stands for in this plan.
fn moment_of(point: &Point, setting: &Setting, slots: &[PlannedSlot]) -> Option<Moment> {
    let slot = |id: &String| slots.iter().find(|slot| slot.id == *id);
    match point {
        Point::Anchor(anchor) => setting.anchors.moment(*anchor),
        Point::Stop(id) => slot(id)?.stop_drinking_at,
        Point::Card(id) => slot(id)?.collect_at,
    }
}

/// Whether `order` has a clearance for holds of `kind`.
fn is_cleared(order: &Order, kind: HoldKind) -> bool {
    order.cleared.iter().any(|clearance| clearance.hold == kind)
}
