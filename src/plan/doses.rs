//! What becomes of each dose on the days of the collection.
//!
//! Only hormones, only with the provider's agreement, and only by the windows
//! of the protocol is a dose moved; everything else is taken as prescribed or
//! asked about. Nothing here ever leaves a dose out.

use chrono::{Days, NaiveTime};

use super::anchors::{first_from, last_before};
use super::{Finding, Level, PlannedSlot, Setting, Stretch, moment_of};
use crate::clock::Moment;
use crate::medicine::Class;
use crate::order::{Dose, Form, Timing};
use crate::protocol::Allowed;

/// One dose of one day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlannedDose {
    pub medicine: String,
    /// Place of its `[[dose]]` in the order, from 0.
    pub index: usize,
    /// 1 before the night's sleep, 2 after it.
    pub day: u8,
    /// The order's own time, by which the patient knows the dose.
    pub usual: NaiveTime,
    /// Its moment: where the clocks skip the usual time it is another.
    pub usual_at: Moment,
    pub action: Action,
}

/// What to do with a dose.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Action {
    /// A hormone at its usual time.
    AsUsual,
    /// Just after the card of a slot.
    AfterCard { slot: String, at: Moment },
    /// To be asked before the collection.
    Ask,
    /// Not a hormone: never moved.
    AsPrescribed,
}

impl Action {
    /// The word `plan --json` uses for it.
    pub fn word(&self) -> &'static str {
        match self {
            Self::AsUsual => "as-usual",
            Self::AfterCard { .. } => "after-card",
            Self::Ask => "ask",
            Self::AsPrescribed => "as-prescribed",
        }
    }
}

impl PlannedDose {
    /// Whether it is taken at another time than usual.
    pub fn is_moved(&self) -> bool {
        matches!(self.action, Action::AfterCard { .. })
    }

    /// When it is taken; absent where it has to be asked.
    pub fn take_at(&self) -> Option<Moment> {
        match &self.action {
            Action::AsUsual | Action::AsPrescribed => Some(self.usual_at),
            Action::AfterCard { at, .. } => Some(*at),
            Action::Ask => None,
        }
    }

    /// Whether it is to be swallowed while nothing is drunk: it is not to wait for that.
    pub fn is_dry(&self, form: Form, drinks: &[Stretch]) -> bool {
        let is_in = |stretch: &Stretch, at: Moment| {
            stretch.allowed == Allowed::Nothing
                && stretch.from <= at
                && stretch.until.is_none_or(|until| at < until)
        };
        form.is_swallowed()
            && self
                .take_at()
                .is_some_and(|at| drinks.iter().any(|stretch| is_in(stretch, at)))
    }
}

/// The rule that holds for a medicine whatever the hour.
enum Standing {
    AsPrescribed,
    AsUsual,
    Ask(&'static str),
    /// The protocol's windows decide.
    ByWindow,
}

fn standing(setting: &Setting, dose: &Dose) -> Standing {
    let Some(class) = dose.class else {
        return Standing::Ask("it is not in the medicine table");
    };
    if !class.is_hormone() {
        return Standing::AsPrescribed;
    }
    let agreed = setting
        .order
        .provider
        .as_ref()
        .is_some_and(|provider| provider.dose_rules_agreed);
    if !agreed {
        return Standing::Ask("the provider has not agreed to the dose rules");
    }
    match dose.timing {
        Timing::Ask => return Standing::Ask("the order says to ask"),
        Timing::Unchanged => return Standing::AsUsual,
        Timing::Protocol => {}
    }
    if class == Class::Contraceptive {
        return Standing::Ask("hours matter for a contraceptive");
    }
    if dose.form.is_long_acting() {
        return Standing::Ask("it is a long-acting or unusual form");
    }
    if dose.form == Form::Patch {
        return patch(setting, dose);
    }
    Standing::ByWindow
}

/// A patch stays on; the question is only whether a change falls due.
fn patch(setting: &Setting, dose: &Dose) -> Standing {
    let (Some(change), Some(_)) = (dose.change_on, &setting.order.start) else {
        return Standing::Ask("the day of the patch's change is not known");
    };
    let first = setting.anchors.woke_before.date_naive();
    // The day after is that of the make-ups.
    let cards = setting.protocol.slots.iter().filter_map(|rule| {
        Some(setting.after(setting.anchors.moment(rule.anchor)?, rule.offset_minutes))
    });
    let last = cards.fold(setting.anchors.waking, Ord::max).date_naive() + Days::new(1);
    if change < first {
        // The change after it falls due on a day that nobody has named.
        Standing::Ask("the day of the patch's next change is not known")
    } else if change <= last {
        Standing::Ask("the patch is due to be changed during the collection")
    } else {
        Standing::AsUsual
    }
}

/// Plans every dose of the order: each time once before the night's sleep and
/// once after it.
pub(super) fn plan_doses(
    setting: &Setting,
    slots: &[PlannedSlot],
    findings: &mut Vec<Finding>,
) -> Vec<PlannedDose> {
    let mut planned = Vec::new();
    for (index, dose) in setting.order.doses.iter().enumerate() {
        let standing = standing(setting, dose);
        if let Standing::Ask(why) = standing {
            report(dose, why, findings);
        }
        for time in &dose.times {
            for (day, usual_at) in [1, 2].into_iter().zip(usual(setting, *time)) {
                let action = match &standing {
                    Standing::AsPrescribed => Action::AsPrescribed,
                    Standing::AsUsual => Action::AsUsual,
                    Standing::Ask(_) => Action::Ask,
                    Standing::ByWindow => by_window(setting, slots, usual_at),
                };
                if matches!((&standing, &action), (Standing::ByWindow, Action::Ask)) {
                    let why = format!(
                        "no rule moves its {} dose of day {day}",
                        time.format("%H:%M")
                    );
                    report(dose, &why, findings);
                }
                planned.push(PlannedDose {
                    medicine: dose.medicine.clone(),
                    index,
                    day,
                    usual: *time,
                    usual_at,
                    action,
                });
            }
        }
    }
    for (one, other) in ask_where_close(setting, &mut planned) {
        let dose = &setting.order.doses[planned[one].index];
        let [first, second] =
            [one, other].map(|at| planned[at].usual_at.format("%H:%M").to_string());
        let why = format!("moving brings its {first} dose close to that of {second}");
        report(dose, &why, findings);
    }
    planned
}

/// Notes of the provider's that stand beside what the sheet says of the dose: nobody but
/// a reader can tell whether the two agree.
pub(super) fn report_notes(
    setting: &Setting,
    doses: &[PlannedDose],
    drinks: &[Stretch],
    findings: &mut Vec<Finding>,
) {
    for (index, dose) in setting.order.doses.iter().enumerate() {
        let mut own = doses.iter().filter(|planned| planned.index == index);
        let what = if dose.note.is_none() {
            continue;
        } else if own.clone().any(PlannedDose::is_moved) {
            "is moved to after a card"
        } else if own.any(|planned| planned.is_dry(dose.form, drinks)) {
            "is to be taken with a sip of water while nothing is drunk"
        } else {
            continue;
        };
        let times: Vec<String> =
            dose.times.iter().map(|time| time.format("%H:%M").to_string()).collect();
        findings.push(Finding::new(
            Level::Warning,
            "dose-note",
            format!(
                "{} ({}) at {} {what} and has a note: read whether they agree",
                dose.medicine,
                dose.form.word(),
                times.join(", ")
            ),
        ));
    }
}

/// Doses of one medicine that moving would bring together, or much closer than they
/// usually are, are asked about: nobody agreed to two at a time. Gives their pairs.
///
/// Common practice, no source: much closer is less than half as far apart.
pub(super) fn ask_where_close(
    setting: &Setting,
    doses: &mut [PlannedDose],
) -> Vec<(usize, usize)> {
    let substance = |dose: &PlannedDose| &setting.order.doses[dose.index].substance;
    let mut close = Vec::new();
    for other in 0..doses.len() {
        for one in 0..other {
            let [a, b] = [one, other].map(|at| &doses[at]);
            let same = substance(a) == substance(b);
            // One that is asked about may well stay where it is.
            let [a_at, b_at] = [a, b].map(|dose| dose.take_at().unwrap_or(dose.usual_at));
            let usually = (a.usual_at - b.usual_at).abs();
            if same && (a.is_moved() || b.is_moved()) && (a_at - b_at).abs() * 2 < usually
            {
                close.push((one, other));
            }
        }
    }
    for (one, other) in &close {
        doses[*one].action = Action::Ask;
        doses[*other].action = Action::Ask;
    }
    close
}

fn report(dose: &Dose, why: &str, findings: &mut Vec<Finding>) {
    findings.push(Finding::new(
        Level::Warning,
        "ask-provider",
        format!("ask about {} ({}): {why}", dose.medicine, dose.form.word()),
    ));
}

/// The dose's ordinary moments: on day 2 the first from the waking after the night, on
/// day 1 the one before it. So none is lost where the clocks move a waking past it.
fn usual(setting: &Setting, time: NaiveTime) -> [Moment; 2] {
    let second = first_from(&setting.clock, time, setting.anchors.waking);
    [last_before(&setting.clock, time, second), second]
}

/// What the protocol's windows say of a hormone dose at `usual_at`.
///
/// A window that moves a dose takes in both its ends; one that asks leaves its
/// end to what follows.
fn by_window(setting: &Setting, slots: &[PlannedSlot], usual_at: Moment) -> Action {
    for window in &setting.protocol.doses.windows {
        let (Some(from), Some(until)) = (
            moment_of(&window.from, setting, slots),
            moment_of(&window.until, setting, slots),
        ) else {
            continue;
        };
        let moves = window.after.as_ref();
        let inside = usual_at >= from
            && (usual_at < until || moves.is_some() && usual_at == until);
        if !inside {
            continue;
        }
        let after = moves.and_then(|id| slots.iter().find(|slot| slot.id == *id));
        return match after.and_then(|slot| Some((slot, slot.collect_at?))) {
            Some((slot, at)) => moved(setting, usual_at, &slot.id, at),
            None => Action::Ask,
        };
    }
    Action::AsUsual
}

/// A dose moved to just after a card, unless that is too far.
pub(super) fn moved(
    setting: &Setting,
    usual_at: Moment,
    slot: &str,
    at: Moment,
) -> Action {
    let longest = setting.protocol.doses.longest_shift_minutes;
    let shift = at - usual_at;
    if shift.abs() > chrono::TimeDelta::minutes(longest) {
        Action::Ask
    } else {
        Action::AfterCard { slot: slot.to_owned(), at }
    }
}

/// Whether `dose` is of a medicine of which doses can be moved.
pub(super) fn is_hormone(dose: &Dose) -> bool {
    dose.class.is_some_and(Class::is_hormone)
}

/// Whether the protocol's windows decide about `dose`.
pub(super) fn is_by_window(setting: &Setting, dose: &Dose) -> bool {
    matches!(standing(setting, dose), Standing::ByWindow)
}
