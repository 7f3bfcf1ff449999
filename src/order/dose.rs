//! The doses of an order: what is taken, how, when, and what may move.

use chrono::{NaiveDate, NaiveTime};

use super::{LONGEST_NAME, Reader};
use crate::fault::Fault;
use crate::fields::Fields;
use crate::medicine::Class;

/// The longest note of a provider, in characters.
const LONGEST_NOTE: usize = 200;

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dose {
    /// As the order writes it.
    pub medicine: String,
    /// The same for each name of one medicine.
    pub substance: String,
    /// What the medicine table knows of it; absent for an unknown one.
    pub class: Option<Class>,
    pub form: Form,
    /// As the order lists them, each once.
    pub times: Vec<NaiveTime>,
    pub timing: Timing,
    /// The day a patch is due to be changed.
    pub change_on: Option<NaiveDate>,
    /// The provider's own words.
    pub note: Option<String>,
}

impl Dose {
    /// Whether it is a patch that the protocol's rules leave on: one that is not due to
    /// be changed, where it is not asked about.
    pub fn stays_on(&self) -> bool {
        self.form == Form::Patch && self.timing == Timing::Protocol
    }
}

/// How a medicine is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Form {
    Tablet,
    Capsule,
    Liquid,
    UnderTongue,
    Gel,
    Cream,
    Spray,
    Drops,
    Inhaler,
    Suppository,
    Patch,
    Injection,
    Pellet,
    Implant,
    Ring,
    Other,
}

impl Form {
    pub const CHOICES: &'static [(&'static str, Self)] = &[
        ("tablet", Self::Tablet),
        ("capsule", Self::Capsule),
        ("liquid", Self::Liquid),
        ("under-tongue", Self::UnderTongue),
        ("gel", Self::Gel),
        ("cream", Self::Cream),
        ("spray", Self::Spray),
        ("drops", Self::Drops),
        ("inhaler", Self::Inhaler),
        ("suppository", Self::Suppository),
        ("patch", Self::Patch),
        ("injection", Self::Injection),
        ("pellet", Self::Pellet),
        ("implant", Self::Implant),
        ("ring", Self::Ring),
        ("other", Self::Other),
    ];

    /// The word an order uses for it; also the catalog's key for it.
    pub fn word(self) -> &'static str {
        Self::CHOICES.iter().find(|(_, form)| *form == self).map_or("other", |c| c.0)
    }

    /// Whether one dose acts for days, so that moving it by hours is no rule of
    /// ours to give.
    pub fn is_long_acting(self) -> bool {
        matches!(
            self,
            Self::Injection | Self::Pellet | Self::Implant | Self::Ring | Self::Other
        )
    }

    /// Whether it is swallowed, as with a sip of water.
    pub fn is_swallowed(self) -> bool {
        matches!(self, Self::Tablet | Self::Capsule | Self::Liquid)
    }

    /// Whether the medicine is on the skin and can get on hands and cards.
    pub fn is_on_skin(self) -> bool {
        matches!(self, Self::Gel | Self::Cream | Self::Spray)
    }
}

/// What the order says about the time of a dose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Timing {
    /// By the protocol's dose rules.
    Protocol,
    /// As on any day.
    Unchanged,
    /// To be settled with the provider.
    Ask,
}

impl Reader<'_> {
    pub(super) fn dose(&self, fields: &Fields) -> Option<Dose> {
        let medicine = fields.require(
            "medicine",
            "\"estradiol\"",
            fields.printed("medicine", LONGEST_NAME),
        );
        let form =
            fields.require("form", "\"tablet\"", fields.choice("form", Form::CHOICES));
        let kind = fields.choice("kind", &[("hormone", true), ("other", false)]);
        let listed = fields.times("times");
        if !fields.has("times") {
            fields.missing("times", "[07:30]");
        } else if listed.as_ref().is_some_and(Vec::is_empty) {
            fields.fault(
                Fault::new("`times` is empty", "give each time of day: times = [07:30]")
                    .at(fields.source, fields.span(), "times"),
            );
        }
        let listed = listed.unwrap_or_default();
        let times: Vec<NaiveTime> = listed.iter().map(|time| time.value).collect();
        let twice = (1..times.len()).any(|i| times[..i].contains(&times[i]));
        if twice || times.len() > 6 {
            fields.fault(listed[0].fault(
                fields.source,
                "`times` has a time twice or more than six times",
                "give each time of day once, at most six",
            ));
        }
        let timing = fields.choice(
            "timing",
            &[
                ("protocol", Timing::Protocol),
                ("unchanged", Timing::Unchanged),
                ("ask", Timing::Ask),
            ],
        );
        let change_on = fields.date("change_on");
        let note = fields.printed("note", LONGEST_NOTE).map(|note| note.value);
        let (medicine, form) = (medicine?, form?);
        let class = self.medicines.class(&medicine.value);
        let is_hormone = class.is_some_and(Class::is_hormone);
        if let (Some(kind), Some(class)) = (&kind, class)
            && kind.value
            && !class.is_hormone()
        {
            fields.fault(kind.fault(
                fields.source,
                format!(
                    "{} is {}, and the order calls it a hormone",
                    medicine.value,
                    class.describe()
                ),
                "take the `kind` line out; the medicine table decides what may be moved",
            ));
            return None;
        }
        if let Some(change) = &change_on
            && form.value != Form::Patch
        {
            fields.fault(change.fault(
                fields.source,
                "`change_on` is for patches",
                "take it out, or write form = \"patch\"",
            ));
        }
        Some(Dose {
            class,
            substance: self.medicines.substance(&medicine.value),
            medicine: medicine.value,
            form: form.value,
            times,
            // A hormone that the order calls something else is a question.
            timing: match (&kind, &timing) {
                (Some(kind), _) if !kind.value && is_hormone => Timing::Ask,
                (_, Some(timing)) => timing.value,
                (_, None) => Timing::Ask,
            },
            change_on: change_on.map(|date| date.value),
            note,
        })
    }
}
