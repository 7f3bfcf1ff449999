//! The rules that a date must keep, each with its reason in plain words.

use chrono::{Days, NaiveDate};

use super::{Day, Remark, cycle};
use crate::clock::Clock;
use crate::lab::Lab;
use crate::medicine::Class;
use crate::order::{Form, Order};
use crate::plan::{Plan, is_holiday};

/// What the order's and the laboratory's dates say of the day of a dated order.
pub(super) fn of_the_order(order: &Order, plan: &Plan, lab: &Lab, day: &mut Day) {
    let (date, limits, rules) = (day.date, &order.day, &lab.days);
    let mut against = |code, text: String| day.against.push(Remark::new(code, text));
    // The rules of the first day begin at lunch or before, or the day before, and the
    // kit may come in the afternoon.
    let begins = date.min(plan.first_rule().date_naive());
    if let Some(arrives) = limits.kit_arrives.filter(|arrives| begins <= *arrives) {
        let text = if begins < date {
            format!("begins on {begins}, not after {arrives}, when the kit arrives")
        } else {
            format!("is not after {arrives}, when the kit arrives")
        };
        against("kit", text);
    }
    if let Some(earliest) = limits.earliest.filter(|earliest| date < *earliest) {
        against("earliest", format!("is before the provider's earliest day, {earliest}"));
    }
    if let Some(latest) = limits.latest.filter(|latest| date > *latest) {
        against("latest", format!("is after the provider's latest day, {latest}"));
    }
    if let Some(cycle) = &order.cycle {
        let (reason, note) = cycle::ask(cycle, rules, date);
        if let Some(Remark { code, text }) = reason {
            against(code, text);
        }
        day.notes.extend(note);
    }
    let mut against = |code, text: String| day.against.push(Remark::new(code, text));
    let packed = plan.pack_at.date_naive();
    if let (Some(most), Some(post)) = (rules.longest_wait_days, plan.post_on) {
        let wait = (post - packed).num_days();
        if wait > most {
            against(
                "post",
                format!("has its cards wait {wait} days for the post of {post}"),
            );
        }
    }
    if rules.no_cards_on_us_federal_holidays
        && let Some(holiday) = card_dates(plan).into_iter().find(|on| is_holiday(*on))
    {
        against("holiday", format!("has a card on the public holiday {holiday}"));
    }
    if let (Some(expire), Some(post)) =
        (limits.cards_expire.or(rules.cards_expire), plan.post_on)
        && post > expire
    {
        against(
            "expiry",
            format!("has its cards posted on {post}, after they expire on {expire}"),
        );
    }
}

/// The dates on which a card is planned, in order.
fn card_dates(plan: &Plan) -> Vec<NaiveDate> {
    let mut dates: Vec<NaiveDate> = plan
        .slots
        .iter()
        .filter_map(|slot| slot.collect_at)
        .map(|at| at.date_naive())
        .collect();
    dates.sort();
    dates
}

/// No change of the clocks from the first rule of the plan until packing: what
/// is read off a clock beside the sheet must be right all the way.
pub(super) fn of_the_clock(clock: &Clock, plan: &Plan, day: &mut Day) {
    for change in clock.changes(plan.first_rule(), plan.pack_at) {
        let minutes = (change.after_seconds - change.before_seconds) / 60;
        let way = if minutes > 0 { "forward" } else { "back" };
        let at = change.at.format("%Y-%m-%d");
        day.against.push(Remark::new(
            "clock-change",
            format!(
                "has the clocks go {way} {} minutes on {at}, before packing",
                minutes.abs()
            ),
        ));
    }
}

/// A hormone patch is not changed in the midst of a collection; of a patch that
/// was changed before it, the next change is not known.
pub(super) fn of_the_patches(order: &Order, plan: &Plan, day: &mut Day) {
    let first = plan.anchors.woke_before.date_naive();
    // The day after is that of the make-ups.
    let last = plan.anchors.waking.max(plan.last_card()).date_naive() + Days::new(1);
    let may_matter = |class: Option<Class>| class.is_none_or(Class::is_hormone);
    for dose in &order.doses {
        let Some(change) = dose.change_on else { continue };
        if dose.form != Form::Patch || !may_matter(dose.class) {
            continue;
        }
        if (first..=last).contains(&change) {
            day.against.push(Remark::new(
                "patch",
                format!("has the patch with {} changed on {change}", dose.medicine),
            ));
        } else if change < first {
            day.notes.push(Remark::new(
                "patch-unknown",
                format!(
                    "the patch with {} is changed on {change}, and when it is changed \
                     after that is not known: ask",
                    dose.medicine
                ),
            ));
        }
    }
}

/// A reason's code in the words of a short list.
pub(super) fn in_words(code: &str, order: &Order) -> String {
    let date = |date: Option<NaiveDate>| date.map_or_else(String::new, |d| d.to_string());
    match code {
        "kit" => format!("the kit arrives on {}", date(order.day.kit_arrives)),
        "earliest" => format!("the earliest day is {}", date(order.day.earliest)),
        "latest" => format!("the latest day is {}", date(order.day.latest)),
        "cycle" => "not the cycle's day".into(),
        "post" => "a long wait for the post".into(),
        "holiday" => "a card on a public holiday".into(),
        "expiry" => "the cards expire before they are posted".into(),
        "clock-change" => "a change of the clocks".into(),
        "patch" => "a patch is changed".into(),
        "year" => "a year that cannot be planned".into(),
        other => other.into(),
    }
}
