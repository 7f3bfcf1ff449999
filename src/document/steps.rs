//! The numbered day: one action a line, the clock time first.

use serde::Serialize;

use super::{Kit, day_of, each_once, is_midnight, medicine_and_form};
use crate::clock::{Moment, Pass};
use crate::medicine::Medicines;
use crate::order::Order;
use crate::plan::{Action, Amount, Plan, PlannedDose, PlannedSlot};
use crate::protocol::{Allowed, Anchor};
use crate::words::{Words, say};

/// A part of the day under one heading.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Part {
    /// The part of the day, with the date on which it begins.
    pub heading: String,
    pub steps: Vec<Step>,
}

/// One thing to do.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Step {
    /// Clock time, or a word such as "Then".
    pub time: String,
    /// The day, where it is not that of the step before.
    pub day: Option<String>,
    /// The number on the card, for a step that does one.
    pub card: Option<String>,
    pub action: String,
    pub more: Vec<String>,
}

/// A step with its place in the day.
struct Timed {
    at: Moment,
    step: Step,
}

impl Timed {
    /// A step at a clock time, which says which of two it is where the clocks show that
    /// time twice.
    fn new(kit: &Kit, at: Moment, action: String, mut more: Vec<String>) -> Self {
        more.splice(0..0, which(kit.words, kit.order, kit.plan, at));
        Self { at, step: step(kit.time(at), action, more) }
    }
}

/// What is said of a step at a time that the clocks show twice, or at a midnight, which
/// is at either end of a day.
pub(crate) fn which(
    words: &Words,
    order: &Order,
    plan: &Plan,
    at: Moment,
) -> Option<String> {
    match plan.pass(at) {
        Some(Pass::First) => Some(say!(words, "step-time-first")),
        Some(Pass::Second) => Some(say!(words, "step-time-second")),
        None => is_midnight(order, at).then(|| {
            let day = day_of(words, plan, at.date_naive());
            say!(words, "step-time-midnight", day = day)
        }),
    }
}

pub(super) fn parts(kit: &Kit) -> Vec<Part> {
    let (before, after) = (before_sleep(kit), after_waking(kit));
    let mut parts = Vec::new();
    if !before.is_empty() {
        parts.push(part(kit, say!(kit.words, "part-before"), before));
    }
    if let Some(night) = night(kit) {
        parts.push(night);
    }
    if !after.is_empty() {
        parts.push(part(kit, say!(kit.words, "part-after"), after));
    }
    parts.push(part(kit, say!(kit.words, "part-pack"), packing(kit)));
    parts
}

/// Steps under a heading; a step on another day than the one before says so.
fn part(kit: &Kit, title: String, timed: Vec<Timed>) -> Part {
    let mut date = timed[0].at.date_naive();
    let heading = say!(kit.words, "part-heading", title = title, day = kit.day(date));
    let steps = timed
        .into_iter()
        .map(|Timed { at, mut step }| {
            if at.date_naive() != date {
                date = at.date_naive();
                step.day = Some(kit.day(date));
            }
            step
        })
        .collect();
    Part { heading, steps }
}

fn step(time: String, action: String, more: Vec<String>) -> Step {
    Step { time, day: None, card: None, action, more }
}

fn before_sleep(kit: &Kit) -> Vec<Timed> {
    let mut steps = Vec::new();
    if let Some((from, until)) = kit.plan.caffeine {
        let ends = |slot: &&PlannedSlot| slot.collect_at == Some(until);
        let more = match kit.plan.slots.iter().find(ends).and_then(|slot| slot.card) {
            Some(card) => {
                say!(kit.words, "step-caffeine-more", card = card.to_string())
            }
            None => {
                let time = kit.time_beside(until, from);
                say!(kit.words, "step-caffeine-until", time = time)
            }
        };
        let action = say!(kit.words, "step-caffeine");
        steps.push(Timed::new(kit, from, action, vec![more]));
    }
    for stretch in &kit.plan.drinks {
        if let (Allowed::WaterUpTo, Some(amount), Some(until)) =
            (stretch.allowed, stretch.amount, stretch.until)
        {
            let action = say!(
                kit.words,
                "step-water",
                amount = kit.words.drink(amount),
                until = kit.time_beside(until, stretch.from)
            );
            steps.push(Timed::new(kit, stretch.from, action, Vec::new()));
        }
    }
    for slot in slots(kit, false) {
        push_slot(kit, slot, &mut steps);
    }
    // A dinner with a rule of its own has a step where no card comes before it.
    let at = kit.plan.anchors.dinner;
    let is_told = kit.plan.slots.iter().any(|slot| slot.collect_at == Some(at));
    if !is_told && kit.plan.drinks.iter().any(|s| s.allowed == Allowed::WithDinner) {
        steps.push(Timed::new(kit, at, dinner(kit), Vec::new()));
    }
    push_waits(kit, false, &mut steps);
    // Stable, so that an emptying stays before the card at the same moment.
    steps.sort_by_key(|timed| timed.at);
    steps
}

/// The slots before the night's sleep, or after it.
fn slots<'a>(kit: &Kit<'a>, after: bool) -> impl Iterator<Item = &'a PlannedSlot> {
    let plan = kit.plan;
    plan.slots.iter().filter(move |slot| {
        slot.collect_at.is_some_and(|at| (at >= plan.anchors.waking) == after)
    })
}

/// The emptying, the card, the meal and the doses of one slot.
fn push_slot(kit: &Kit, slot: &PlannedSlot, steps: &mut Vec<Timed>) {
    let (Some(at), Some(card)) = (slot.collect_at, slot.card) else { return };
    let card = card.to_string();
    if let (Some(empty), None) = (slot.empty_at, slot.emptied_by_card) {
        let action = say!(kit.words, "step-empty");
        let more = empty_more(kit.words, kit.plan, &card);
        steps.push(Timed::new(kit, empty, action, vec![more]));
    }
    let mut more = vec![how_soon(kit, slot)];
    if let Some(before) = slot.emptied_by_card {
        let before = before.to_string();
        more.push(short_interval(kit.words, kit.plan, &before, &card));
    }
    if let Some(by) = slot.collect_by {
        let minutes = (by - at).num_minutes();
        let within = say!(kit.words, "step-card-within", minutes = minutes);
        more.push(if (slot.anchor, slot.offset_minutes) == (Anchor::Waking, 0) {
            format!("{within} {}", say!(kit.words, "step-card-woke"))
        } else {
            within
        });
    }
    let mut timed = Timed::new(kit, at, say!(kit.words, "step-card", card = &card), more);
    timed.step.card = Some(card);
    steps.push(timed);
    if (slot.anchor, slot.offset_minutes) == (Anchor::Dinner, 0) {
        steps.push(Timed { at, step: then(kit, dinner(kit)) });
    }
    for action in doses_after(kit, slot) {
        steps.push(Timed { at, step: then(kit, action) });
    }
}

/// What to eat and drink at dinner.
fn dinner(kit: &Kit) -> String {
    let at = kit.plan.anchors.dinner;
    let has = |allowed| {
        kit.plan.drinks.iter().any(|stretch| {
            stretch.allowed == allowed
                && stretch.from <= at
                && stretch.until.is_none_or(|until| until > at)
        })
    };
    if !kit.plan.allowance.is_ours() {
        say!(kit.words, "step-dinner-prescribed")
    } else if has(Allowed::WithDinner) {
        say!(kit.words, "step-dinner")
    } else if has(Allowed::Nothing) {
        say!(kit.words, "step-dinner-dry")
    } else {
        say!(kit.words, "step-dinner-alone")
    }
}

fn then(kit: &Kit, action: String) -> Step {
    step(say!(kit.words, "step-then"), action, Vec::new())
}

/// What to take just after the card of `slot`, each dose by its usual time: who took it
/// then must not take it again.
fn doses_after(kit: &Kit, slot: &PlannedSlot) -> Vec<String> {
    let moved = kit.plan.doses_after(&slot.id);
    each_once(moved.map(|dose| dose_after(kit.words, kit.medicines, kit.order, dose)))
}

/// At the usual time of each dose that is taken later: that it waits. Habit would take
/// it then, and the card would be lost.
fn push_waits(kit: &Kit, after: bool, steps: &mut Vec<Timed>) {
    for dose in &kit.plan.doses {
        let Some(action) = dose_wait(kit.words, kit.medicines, kit.order, kit.plan, dose)
        else {
            continue;
        };
        let is_there =
            |step: &Timed| step.at == dose.usual_at && step.step.action == action;
        if (dose.usual_at >= kit.plan.anchors.waking) == after
            && !steps.iter().any(is_there)
        {
            steps.push(Timed::new(kit, dose.usual_at, action, Vec::new()));
        }
    }
}

/// What is said of a dose at its usual time, if it is taken later, after a card.
pub(crate) fn dose_wait(
    words: &Words,
    medicines: &Medicines,
    order: &Order,
    plan: &Plan,
    dose: &PlannedDose,
) -> Option<String> {
    let Action::AfterCard { slot, at } = &dose.action else { return None };
    let card = plan.slot(slot)?.card?;
    let form = order.doses[dose.index].form;
    let medicine = medicine_and_form(words, medicines, &dose.medicine, form);
    (dose.usual_at < *at).then(|| {
        say!(words, "step-dose-wait", medicine = medicine, card = card.to_string())
    })
}

/// What is said where the card before is the emptying for `card`.
pub(crate) fn short_interval(
    words: &Words,
    plan: &Plan,
    before: &str,
    card: &str,
) -> String {
    if plan.allowance.is_ours() {
        say!(words, "step-short", before = before, card = card)
    } else {
        say!(words, "step-short-prescribed", before = before, card = card)
    }
}

/// What is said with the emptying for `card`. Nothing is forbidden whose drinking is
/// prescribed.
pub(crate) fn empty_more(words: &Words, plan: &Plan, card: &str) -> String {
    if plan.allowance.is_ours() {
        say!(words, "step-empty-more", card = card)
    } else {
        say!(words, "step-empty-more-prescribed", card = card)
    }
}

/// What is said of a dose that is taken after a card.
pub(crate) fn dose_after(
    words: &Words,
    medicines: &Medicines,
    order: &Order,
    dose: &PlannedDose,
) -> String {
    let form = order.doses[dose.index].form;
    let medicine = medicine_and_form(words, medicines, &dose.medicine, form);
    let usual = words.time(dose.usual, order.clock);
    say!(words, "step-dose-after", medicine = medicine, usual = usual)
}

/// What a calendar says, after a card, of a dose that is taken then: one reminder is of
/// both, so that the dose does not ring before the card.
pub(crate) fn calendar_dose(
    words: &Words,
    medicines: &Medicines,
    order: &Order,
    dose: &PlannedDose,
) -> String {
    let form = order.doses[dose.index].form;
    let medicine = medicine_and_form(words, medicines, &dose.medicine, form);
    let usual = words.time(dose.usual, order.clock);
    say!(words, "calendar-dose", medicine = medicine, usual = usual)
}

/// When to do a card that counts from waking, which is when it really was.
pub(crate) fn card_later(words: &Words, slot: &PlannedSlot) -> Option<String> {
    let minutes = slot.offset_minutes;
    (slot.anchor == Anchor::Waking && minutes > 0)
        .then(|| say!(words, "step-card-later", offset = offset(words, minutes)))
}

fn how_soon(kit: &Kit, slot: &PlannedSlot) -> String {
    if let Some(later) = card_later(kit.words, slot) {
        return later;
    }
    match (slot.anchor, slot.offset_minutes) {
        (Anchor::Lunch, 0) => say!(kit.words, "step-card-lunch"),
        (Anchor::Dinner, 0) => say!(kit.words, "step-card-dinner"),
        (Anchor::Bedtime, 0) => say!(kit.words, "step-card-bedtime"),
        (Anchor::Waking, 0) => say!(kit.words, "step-card-waking"),
        (anchor, minutes) if minutes < 0 => say!(
            kit.words,
            "step-card-before",
            offset = offset(kit.words, -minutes),
            anchor = kit.anchor_word(anchor)
        ),
        (anchor, minutes) => say!(
            kit.words,
            "step-card-general",
            offset = offset(kit.words, minutes),
            anchor = kit.anchor_word(anchor)
        ),
    }
}

fn offset(words: &Words, minutes: i64) -> String {
    if minutes % 60 == 0 && minutes > 0 {
        say!(words, "offset-hours", count = minutes / 60)
    } else {
        say!(words, "offset-minutes", count = minutes)
    }
}

/// Getting up in the night, with the spare card if there is one: no clock time, as nobody
/// can say when.
fn night(kit: &Kit) -> Option<Part> {
    let has_spare = kit.plan.slots.iter().any(|slot| slot.anchor == Anchor::Night);
    let time = say!(kit.words, "step-spare-time");
    // Who is up for good does the card of waking; a later one keeps its time.
    let is_at_waking =
        |slot: &&PlannedSlot| slot.anchor == Anchor::Waking && slot.offset_minutes == 0;
    let waking = slots(kit, true).next().filter(is_at_waking);
    let up = waking
        .and_then(|slot| slot.card)
        .map(|card| say!(kit.words, "step-spare-up", card = card.to_string()));
    let step = match (has_spare, up) {
        (true, up) => {
            let mut more = vec![
                say!(kit.words, "step-spare-first"),
                say!(kit.words, "step-spare-second"),
            ];
            more.extend(up);
            let step = step(time, say!(kit.words, "step-spare"), more);
            Step { card: Some(String::new()), ..step }
        }
        (false, Some(up)) => step(time, say!(kit.words, "step-night"), vec![up]),
        (false, None) => return None,
    };
    Some(Part { heading: say!(kit.words, "part-night"), steps: vec![step] })
}

fn after_waking(kit: &Kit) -> Vec<Timed> {
    let mut steps = Vec::new();
    let last = kit.plan.last_card();
    for slot in slots(kit, true) {
        push_slot(kit, slot, &mut steps);
        let Some(at) = slot.collect_at else { continue };
        let allowance = kit.plan.drinks.iter().find(|s| s.allowed == Allowed::Allowance);
        if allowance.is_some_and(|stretch| stretch.from == at) {
            let mut step = then(kit, allowance_words(kit));
            let caffeine =
                kit.plan.caffeine.is_some_and(|(from, until)| from <= at && at < until);
            step.more.push(if caffeine {
                say!(kit.words, "step-allowance-help")
            } else {
                say!(kit.words, "step-allowance-eat")
            });
            steps.push(Timed { at, step });
        }
        if at == last {
            let done = if kit.plan.allowance.is_ours() {
                say!(kit.words, "step-done")
            } else {
                say!(kit.words, "step-done-prescribed")
            };
            steps.push(Timed { at, step: then(kit, done) });
        }
    }
    push_waits(kit, true, &mut steps);
    steps.sort_by_key(|timed| timed.at);
    steps
}

fn allowance_words(kit: &Kit) -> String {
    let card = kit.last_card_number();
    match kit.plan.allowance {
        Amount::Figure(drink) => say!(
            kit.words,
            "step-allowance",
            amount = kit.words.drink(drink),
            card = card
        ),
        Amount::LookUp => say!(kit.words, "step-allowance-lookup", card = card),
        Amount::Prescribed => say!(kit.words, "step-allowance-prescribed", card = card),
        Amount::Ask => say!(kit.words, "step-allowance-ask", card = card),
    }
}

fn packing(kit: &Kit) -> Vec<Timed> {
    let at = kit.plan.pack_at;
    let mut steps = vec![Timed::new(kit, at, say!(kit.words, "step-pack"), Vec::new())];
    let (post_at, action) = match kit.plan.post_on {
        Some(date) => {
            let midday = chrono::NaiveTime::from_hms_opt(12, 0, 0).unwrap_or_default();
            let moment = date.and_time(midday).and_utc().fixed_offset();
            let same = date == at.date_naive();
            (if same { at } else { moment }, say!(kit.words, "step-post"))
        }
        None => (at, say!(kit.words, "step-post-undated")),
    };
    let mut post = then(kit, action);
    if kit.plan.has_finding("post-check") {
        post.more.push(say!(kit.words, "step-post-check"));
    }
    steps.push(Timed { at: post_at, step: post });
    steps
}
