//! What of a person's health holds a kit back, and who cleared it.

use chrono::{Days, NaiveDate};

use super::{Reader, name};
use crate::fields::Fields;

/// A fact of health that holds a kit back until a person has cleared it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum HealthFlag {
    Pregnant,
    Breastfeeding,
    FluidLimit,
    KidneyDisease,
    HeartFailure,
    DiabetesInsipidus,
    KidneyStones,
    SickleCell,
}

impl HealthFlag {
    pub const CHOICES: &'static [(&'static str, Self)] = &[
        ("pregnant", Self::Pregnant),
        ("breastfeeding", Self::Breastfeeding),
        ("fluid_limit", Self::FluidLimit),
        ("kidney_disease", Self::KidneyDisease),
        ("heart_failure", Self::HeartFailure),
        ("diabetes_insipidus", Self::DiabetesInsipidus),
        ("kidney_stones", Self::KidneyStones),
        ("sickle_cell", Self::SickleCell),
    ];
}

/// Why a kit is not made yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HoldKind {
    UnderAge,
    Pregnant,
    FluidLimit,
    Glucocorticoid,
    Weight,
}

impl HoldKind {
    pub const CHOICES: &'static [(&'static str, Self)] = &[
        ("under-18", Self::UnderAge),
        ("pregnant", Self::Pregnant),
        ("fluid-limit", Self::FluidLimit),
        ("glucocorticoid", Self::Glucocorticoid),
        ("weight", Self::Weight),
    ];

    pub fn word(self) -> &'static str {
        Self::CHOICES.iter().find(|(_, kind)| *kind == self).map_or("hold", |c| c.0)
    }
}

/// A hold that a named person has cleared.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Clearance {
    pub hold: HoldKind,
    pub by: String,
    pub on: NaiveDate,
}

impl Reader<'_> {
    pub(super) fn clearance(&self, fields: &Fields) -> Option<Clearance> {
        let hold = fields.require(
            "hold",
            "\"fluid-limit\"",
            fields.choice("hold", HoldKind::CHOICES),
        );
        let by = name(fields, "by", "\"R. Adeyemi, RN\"");
        let on = fields.require("on", "2026-10-01", fields.date("on"));
        if let Some(on) = &on
            // Where the clocks are ahead it may be tomorrow by now.
            && on.value > self.today + Days::new(1)
        {
            fields.fault(on.fault(
                fields.source,
                format!("the hold was cleared on {}, which is in the future", on.value),
                "give the day on which the named person cleared it",
            ));
            return None;
        }
        Some(Clearance { hold: hold?.value, by: by?, on: on?.value })
    }
}

pub(super) fn health(fields: &Fields) -> Vec<HealthFlag> {
    HealthFlag::CHOICES
        .iter()
        .filter(|(key, _)| fields.flag(key).is_some_and(|flag| flag.value))
        .map(|(_, flag)| *flag)
        .collect()
}
