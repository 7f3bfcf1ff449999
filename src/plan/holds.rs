//! Reasons not to make a kit until a named person has cleared it.

use chrono::{Datelike, NaiveDate};

use super::fluids::limits_fluids;
use super::{Finding, Level, is_cleared};
use crate::medicine::Class;
use crate::order::{Dose, HealthFlag, HoldKind, Order};
use crate::protocol::Protocol;

/// Younger people are not given a kit without clearance, in years.
pub const AGE_OF_ADULTS: i32 = 18;

/// Whole years from `born` to `on`. Who is born on 29 February has a birthday
/// on 1 March in other years.
pub fn age_at(born: NaiveDate, on: NaiveDate) -> i32 {
    let before_birthday = (on.month(), on.day()) < (born.month(), born.day());
    on.year() - born.year() - i32::from(before_birthday)
}

/// Adds a hold for every reason the order gives, or a note of who cleared it. Gives the
/// holds that are cleared.
pub(super) fn find(
    order: &Order,
    protocol: &Protocol,
    findings: &mut Vec<Finding>,
) -> Vec<HoldKind> {
    let reasons = reasons(order, protocol);
    for (kind, why) in &reasons {
        hold(order, *kind, why, findings);
    }
    glucocorticoids(order, findings);
    drinking_matters(order, findings);
    let is_needed = |kind: &HoldKind| {
        reasons.iter().any(|(needed, _)| needed == kind)
            || *kind == HoldKind::Glucocorticoid && steroids(order).next().is_some()
    };
    let kinds = order.cleared.iter().map(|clearance| clearance.hold);
    let (cleared, idle): (Vec<HoldKind>, Vec<HoldKind>) = kinds.partition(is_needed);
    for kind in idle {
        findings.push(Finding::new(
            Level::Warning,
            "idle-clearance",
            format!("{} is cleared, and nothing in the order asks for that", kind.word()),
        ));
    }
    cleared
}

/// Reasons for a hold that a clearance alone lifts.
fn reasons(order: &Order, protocol: &Protocol) -> Vec<(HoldKind, String)> {
    let mut reasons = Vec::new();
    let age = age_at(order.patient.born, order.age_on);
    if age < AGE_OF_ADULTS {
        reasons.push((HoldKind::UnderAge, format!("the patient is {age}")));
    }
    if order.health.contains(&HealthFlag::Pregnant) {
        reasons.push((HoldKind::Pregnant, "the patient is pregnant".into()));
    }
    if limits_fluids(order) {
        reasons.push((HoldKind::FluidLimit, fluid_reasons(order)));
    }
    let rule = &protocol.allowance;
    if let Some(weight) = order.patient.weight
        && !weight.within_pounds(rule.lowest_lb, rule.highest_lb)
    {
        let (low, high) = (rule.lowest_lb, rule.highest_lb);
        let why = format!(
            "the weight {weight} is outside the {low} to {high} lb of the drink rule"
        );
        reasons.push((HoldKind::Weight, why));
    }
    reasons
}

/// A hold unless a clearance names it; the clearance is a finding, too.
fn hold(order: &Order, kind: HoldKind, why: &str, findings: &mut Vec<Finding>) {
    if is_cleared(order, kind) {
        cleared(order, kind, why, findings);
        return;
    }
    let word = kind.word();
    findings.push(Finding::new(
        Level::Hold,
        word,
        format!("{why}; cleared by [[cleared]] with hold = \"{word}\", by and on"),
    ));
}

fn cleared(order: &Order, kind: HoldKind, why: &str, findings: &mut Vec<Finding>) {
    for clearance in order.cleared.iter().filter(|clearance| clearance.hold == kind) {
        findings.push(Finding::new(
            Level::Info,
            "hold-cleared",
            format!(
                "{} ({why}) was cleared by {} on {}",
                kind.word(),
                clearance.by,
                clearance.on
            ),
        ));
    }
}

fn fluid_reasons(order: &Order) -> String {
    let flags = HealthFlag::CHOICES
        .iter()
        .filter(|(_, flag)| *flag != HealthFlag::Pregnant && order.health.contains(flag))
        .map(|(word, _)| word.replace('_', " "));
    let medicines = order
        .doses
        .iter()
        .filter(|dose| dose.class.is_some_and(Class::governs_fluids))
        .map(|dose| dose.medicine.clone());
    let reasons: Vec<String> = flags.chain(medicines).collect();
    format!("fluids are the prescriber's to set: {}", reasons.join(", "))
}

fn steroids(order: &Order) -> impl Iterator<Item = &Dose> {
    order.doses.iter().filter(|dose| dose.class == Some(Class::Glucocorticoid))
}

/// A glucocorticoid needs both the provider's own instruction and a named
/// person who vouches that it is one.
fn glucocorticoids(order: &Order, findings: &mut Vec<Finding>) {
    for dose in steroids(order) {
        let instructed = dose.note.is_some() && order.provider.is_some();
        let why = format!("{} is a glucocorticoid", dose.medicine);
        if instructed && is_cleared(order, HoldKind::Glucocorticoid) {
            cleared(order, HoldKind::Glucocorticoid, &why, findings);
            continue;
        }
        let mut missing = Vec::new();
        if order.provider.is_none() {
            missing.push("[provider]");
        }
        if dose.note.is_none() {
            missing.push("the provider's instruction as its `note`");
        }
        if !is_cleared(order, HoldKind::Glucocorticoid) {
            missing.push("[[cleared]] with hold = \"glucocorticoid\", by and on");
        }
        findings.push(Finding::new(
            Level::Hold,
            HoldKind::Glucocorticoid.word(),
            format!("{why}; cleared by {}", missing.join(" and ")),
        ));
    }
}

/// Medicines with which hours without a drink, or other meals, may not suit.
///
/// # Source
///
/// Sick-day consensus, AJKD 2023;81:564 (of acute illness, so it says so only at one
/// remove): with diuretics and medicines for diabetes little fluid harms the kidneys or
/// leads to ketoacidosis.
fn drinking_matters(order: &Order, findings: &mut Vec<Finding>) {
    for dose in &order.doses {
        let (code, check) = match dose.class {
            Some(Class::Diuretic) => ("diuretic", "two hours without a drink suit"),
            Some(Class::Insulin | Class::Antidiabetic) => {
                ("diabetes", "two hours without a drink, and the time of dinner, suit")
            }
            _ => continue,
        };
        let class = dose.class.map_or("", Class::describe);
        let medicine = &dose.medicine;
        let text = format!("{medicine} is {class}: check that {check} the patient");
        findings.push(Finding::new(Level::Warning, code, text));
    }
}
