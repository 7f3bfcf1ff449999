//! What may be drunk, stretch by stretch, and the allowance by body weight.

use chrono::TimeDelta;

use super::{AGE_OF_ADULTS, Finding, Level, PlannedSlot, Setting, age_at, moment_of};
use crate::clock::Moment;
use crate::order::{HealthFlag, Order};
use crate::protocol::{AllowanceRule, Allowed};
use crate::units::{Drink, Weight, WeightUnit};

/// One stretch of the day and what may be drunk in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch {
    pub from: Moment,
    /// Absent for the last, which has no end.
    pub until: Option<Moment>,
    pub allowed: Allowed,
    pub amount: Option<Drink>,
}

/// The allowance by weight, or why the sheet gives no figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Amount {
    Figure(Drink),
    /// No weight in the order: the look-up table.
    LookUp,
    /// A prescribed limit or amount goes before any table.
    Prescribed,
    /// Under age, pregnant, or a weight outside the rule: ask.
    Ask,
}

impl Amount {
    pub fn figure(self) -> Option<Drink> {
        match self {
            Self::Figure(drink) => Some(drink),
            _ => None,
        }
    }

    /// Whether amounts are the protocol's to give: where they are the provider's,
    /// no figure and no table is printed.
    pub fn is_ours(self) -> bool {
        matches!(self, Self::Figure(_) | Self::LookUp)
    }
}

/// Common practice, no source: a meal and its drink take longer.
const SHORTEST_DINNER: TimeDelta = TimeDelta::minutes(30);

/// Reports a dinner that is hardly begun when drinking stops again.
pub(super) fn report_short_dinner(drinks: &[Stretch], findings: &mut Vec<Finding>) {
    let dinner = drinks.iter().filter(|s| s.allowed == Allowed::WithDinner);
    for (from, until) in dinner.filter_map(|s| Some((s.from, s.until?))) {
        if until - from < SHORTEST_DINNER {
            findings.push(Finding::new(
                Level::Warning,
                "short-dinner",
                format!(
                    "there are {} minutes for dinner and its drink before drinking stops: \
                     check the times of dinner and bedtime",
                    (until - from).num_minutes()
                ),
            ));
        }
    }
}

/// Reports a time at which nothing may be drunk by one rule, and something by another.
pub(super) fn report_contradictions(
    setting: &Setting,
    drinks: &[Stretch],
    findings: &mut Vec<Finding>,
) {
    let dry = drinks.iter().filter(|s| s.allowed == Allowed::Nothing);
    for (dry, end) in dry.filter_map(|s| Some((s, s.until?))) {
        let others = drinks.iter().filter(|s| s.allowed != Allowed::Nothing);
        let meets = |other: &&Stretch| {
            other.from < end && other.until.is_none_or(|until| until > dry.from)
        };
        if let Some(other) = others.clone().find(meets) {
            findings.push(Finding::new(
                Level::Warning,
                "drink-order",
                format!(
                    "nothing may be drunk from {} to {}, and by another rule something from \
                     {} on",
                    setting.shown(dry.from),
                    setting.shown(end),
                    setting.shown(other.from)
                ),
            ));
        }
    }
}

/// Common practice, no source: what an adult weighs is asked for once a year.
const WEIGHT_LASTS: TimeDelta = TimeDelta::days(366);

/// Reports a figure that rests on a weight of long ago.
pub(super) fn report_old_weight(
    order: &Order,
    allowance: Amount,
    findings: &mut Vec<Finding>,
) {
    let (Some(start), Some(weighed)) = (&order.start, order.patient.weighed) else {
        return;
    };
    if allowance.figure().is_some() && start.date - weighed > WEIGHT_LASTS {
        findings.push(Finding::new(
            Level::Warning,
            "old-weight",
            format!(
                "the weight that the drink allowance rests on is of {weighed}, more than a \
                 year before card 1: ask for the weight of now"
            ),
        ));
    }
}

/// One row of the look-up table: whole units of weight and what they allow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LookUpRow {
    /// Lowest and highest weight, in whole pounds or kilograms.
    pub from: i64,
    pub until: i64,
    pub amount: Drink,
}

/// The allowance of every whole weight the rule covers, equal ones together.
pub fn look_up(rule: &AllowanceRule, unit: WeightUnit) -> Vec<LookUpRow> {
    let mut rows: Vec<LookUpRow> = Vec::new();
    for figure in 1..=rule.highest_lb {
        let weight = Weight::from_thousandths(figure * 1000, unit);
        if !weight.within_pounds(rule.lowest_lb, rule.highest_lb) {
            continue;
        }
        let amount = weight.allowance(rule.thousandths_of_cup_per_100_lb);
        match rows.last_mut() {
            Some(row) if row.amount == amount => row.until = figure,
            _ => rows.push(LookUpRow { from: figure, until: figure, amount }),
        }
    }
    rows
}

/// The allowance for one order.
///
/// Who has a prescribed limit keeps to it, and is never told to drink beside it.
/// Children, pregnancy and weights outside the rule get no figure.
pub(super) fn amount(order: &Order, rule: &AllowanceRule) -> Amount {
    if limits_fluids(order) {
        return Amount::Prescribed;
    }
    let adult = age_at(order.patient.born, order.age_on) >= AGE_OF_ADULTS;
    let pregnant = order.health.contains(&HealthFlag::Pregnant);
    if !adult || pregnant {
        return Amount::Ask;
    }
    match order.patient.weight {
        None => Amount::LookUp,
        Some(weight) if weight.within_pounds(rule.lowest_lb, rule.highest_lb) => {
            Amount::Figure(weight.allowance(rule.thousandths_of_cup_per_100_lb))
        }
        Some(_) => Amount::Ask,
    }
}

/// Whether only the prescriber may say how much this person drinks.
pub(super) fn limits_fluids(order: &Order) -> bool {
    let flagged = order.health.iter().any(|flag| *flag != HealthFlag::Pregnant);
    let medicine = order
        .doses
        .iter()
        .any(|dose| dose.class.is_some_and(|class| class.governs_fluids()));
    flagged || medicine
}

/// The stretches of the protocol in this plan; an empty one is left out.
pub(super) fn stretches(
    setting: &Setting,
    slots: &[PlannedSlot],
    allowance: Amount,
) -> Vec<Stretch> {
    let mut out = Vec::new();
    for rule in &setting.protocol.drinks {
        let Some(from) = moment_of(&rule.from, setting, slots) else { continue };
        let until = match &rule.until {
            None => None,
            Some(point) => match moment_of(point, setting, slots) {
                None => continue,
                some => some,
            },
        };
        if until.is_some_and(|until| from >= until) {
            continue;
        }
        let amount = match rule.allowed {
            // Who has an amount of their own gets no other.
            Allowed::WaterUpTo if allowance.is_ours() => {
                rule.quarter_cups.map(Drink::from_quarter_cups)
            }
            Allowed::Allowance => allowance.figure(),
            _ => None,
        };
        out.push(Stretch { from, until, allowed: rule.allowed, amount });
    }
    out
}
