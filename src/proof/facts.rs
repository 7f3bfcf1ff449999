//! Compares the clock times, amounts, names and codes on the pages with the
//! plan itself, without the document data: times are read from the paper and
//! not written again.

use std::collections::BTreeSet;

use chrono::{NaiveTime, Timelike};

use super::text::{RUN, bare};
use super::{Difference, Part, tables};
use crate::clock::Moment;
use crate::document::{Kit, dose_after, dose_wait, which};
use crate::medicine::Class;
use crate::order::ClockStyle;
use crate::plan::{Action, Amount, Plan, PlannedDose};
use crate::protocol::Allowed;
use crate::words::{NO_BREAK, say};

/// Hour and minute of a day.
pub(super) type ClockTime = (u32, u32);

fn clock_time(moment: Moment) -> ClockTime {
    of_day(moment.time())
}

fn of_day(time: NaiveTime) -> ClockTime {
    (time.hour(), time.minute())
}

/// A clock time read from a text, and where in the text it ends.
#[derive(Clone, Copy)]
pub(super) struct ReadTime {
    pub time: ClockTime,
    end: usize,
}

/// `text` with noon and midnight as figures.
pub(super) fn with_figures(kit: &Kit, text: &str) -> String {
    let text = text.replace(NO_BREAK, " ");
    let noon = say!(kit.words, "clock-noon").replace(NO_BREAK, " ");
    let midnight = say!(kit.words, "clock-midnight").replace(NO_BREAK, " ");
    text.replace(&noon, "12:00 p").replace(&midnight, "12:00 a")
}

/// Every clock time in `text`: one or two figures, a colon and two figures, and
/// on the twelve-hour clock an `a` or a `p` after them.
pub(super) fn read_times(text: &str, style: ClockStyle) -> Vec<ReadTime> {
    let bytes = text.as_bytes();
    let digit = |at: usize| bytes.get(at).copied().filter(u8::is_ascii_digit);
    let mut found = Vec::new();
    let mut free_from = 0;
    for (colon, _) in text.match_indices(':') {
        let (Some(tens), Some(ones)) = (digit(colon + 1), digit(colon + 2)) else {
            continue;
        };
        if digit(colon + 3).is_some() && digit(colon + 4).is_some() {
            // "17:1515:15" cannot be: runs are set apart.
            continue;
        }
        let one = colon.checked_sub(1).filter(|at| *at >= free_from).and_then(digit);
        let two = colon.checked_sub(2).filter(|at| *at >= free_from).and_then(digit);
        let Some(one) = one else { continue };
        let number = |b: u8| u32::from(b - b'0');
        let mut hour = number(one) + two.map_or(0, |two| 10 * number(two));
        let minute = 10 * number(tens) + number(ones);
        let after = &text[colon + 3..];
        match (style, after.trim_start_matches(' ').chars().next()) {
            (ClockStyle::Twelve, Some('a')) if hour == 12 => hour = 0,
            (ClockStyle::Twelve, Some('p')) if hour < 12 => hour += 12,
            _ => {}
        }
        free_from = colon + 3;
        found.push(ReadTime { time: (hour, minute), end: colon + 3 });
    }
    found
}

/// What people wrote in their own words, which may hold times and amounts that
/// no plan knows.
fn texts_of_others(kit: &Kit) -> Vec<String> {
    let (lab, order) = (kit.lab, kit.order);
    let own = lab.words.get(kit.words.language).cloned().unwrap_or_default();
    let mut texts = vec![
        lab.name.clone(),
        lab.phone.clone(),
        lab.hours.clone(),
        lab.emergency.clone(),
        order.patient.family.clone(),
        order.patient.given.clone(),
    ];
    texts.extend(lab.address.iter().cloned());
    texts.extend([own.hours, own.mailing, own.bags].into_iter().flatten());
    for dose in &order.doses {
        texts.push(dose.medicine.clone());
        texts.extend(dose.note.clone());
    }
    if let Some(provider) = &order.provider {
        texts.extend([provider.name.clone(), provider.phone.clone()]);
    }
    texts.into_iter().map(|text| with_figures(kit, &text)).collect()
}

/// The times that people wrote themselves.
fn times_of_others(kit: &Kit) -> BTreeSet<ClockTime> {
    texts_of_others(kit)
        .into_iter()
        .flat_map(|text| {
            // Whatever clock they wrote by.
            [ClockStyle::Twelve, ClockStyle::TwentyFour].map(|style| {
                let read = read_times(&text, style);
                read.into_iter().map(|read| read.time).collect::<Vec<_>>()
            })
        })
        .flatten()
        .collect()
}

/// One part's reading: its times, its bare text, and what is wrong with it.
struct Reading<'a> {
    style: ClockStyle,
    text: String,
    times: Vec<ReadTime>,
    bare: &'a str,
    first: usize,
    found: Vec<Difference>,
}

impl<'a> Reading<'a> {
    fn of(kit: &Kit, part: &'a Part) -> Self {
        let text = with_figures(kit, &part.text.running);
        let mut reading = Self {
            style: kit.order.clock,
            times: read_times(&text, kit.order.clock),
            text,
            bare: &part.text.bare,
            first: part.first,
            found: Vec::new(),
        };
        reading.identity(kit, part);
        reading
    }

    fn differ(&mut self, what: String) {
        self.found.push(Difference::new(self.first, what));
    }

    /// Every printed page names the patient and the order.
    fn identity(&mut self, kit: &Kit, part: &Part) {
        let patient = &kit.order.patient;
        let name = bare(&patient.family.to_uppercase());
        self.expect_text("the name", &patient.given);
        for (index, page) in part.pages.iter().enumerate() {
            if page.is_blank() {
                continue;
            }
            let text = part.text.page(index);
            for wanted in [&name, &kit.order.number] {
                if !text.contains(wanted.as_str()) {
                    self.found.push(Difference::new(
                        part.first + index,
                        format!("expected \"{wanted}\" on the page"),
                    ));
                }
            }
        }
    }

    /// Only `allowed` times are on the pages, and those of other people.
    fn only(&mut self, kit: &Kit, allowed: impl IntoIterator<Item = Moment>) {
        let mut allowed: BTreeSet<ClockTime> =
            allowed.into_iter().map(clock_time).collect();
        let doses = kit.order.doses.iter();
        allowed.extend(doses.flat_map(|dose| &dose.times).copied().map(of_day));
        allowed.extend(times_of_others(kit));
        let strange: Vec<ClockTime> = self
            .times
            .iter()
            .map(|read| read.time)
            .filter(|time| !allowed.contains(time))
            .collect();
        for (hour, minute) in strange {
            self.differ(format!(
                "found the time {hour:02}:{minute:02}, which is not in the plan"
            ));
        }
    }

    /// `moment` stands somewhere with a text after it that `follows` accepts.
    fn expect(&mut self, moment: Moment, what: &str, follows: impl Fn(&str) -> bool) {
        self.expect_time(clock_time(moment), what, follows);
    }

    fn expect_time(
        &mut self,
        time: ClockTime,
        what: &str,
        follows: impl Fn(&str) -> bool,
    ) {
        let there = self
            .times
            .iter()
            .any(|read| read.time == time && follows(&self.text[read.end..]));
        if !there {
            self.differ(format!(
                "expected {what} at {:02}:{:02}, which is not there",
                time.0, time.1
            ));
        }
    }

    fn expect_text(&mut self, what: &str, text: &str) {
        if !self.bare.contains(&bare(text)) {
            self.differ(format!("expected {what} \"{text}\", which is not there"));
        }
    }
}

/// The next characters after a time, without white space, run marks and the
/// "am" or "pm" in whatever language.
fn bare_start(after: &str) -> String {
    let rest = after.trim_start_matches(' ');
    let end = rest.find(RUN).unwrap_or(rest.len());
    // What is left of the time's own run, if it ends with it, is its am or pm.
    let own = &rest[..end];
    let rest = if own.chars().count() <= 6 { &rest[end..] } else { rest };
    rest.chars().filter(|c| !c.is_whitespace() && *c != RUN).take(300).collect()
}

/// The instruction sheet: each card and emptying at its time, in its step.
pub(super) fn sheet(kit: &Kit, part: &Part) -> Vec<Difference> {
    let plan = kit.plan;
    let mut reading = Reading::of(kit, part);
    let step = |at, action: &str| {
        let which = which(kit.words, kit.order, plan, at).unwrap_or_default();
        bare(&format!("{action}{which}"))
    };
    for slot in &plan.slots {
        let Some(card) = slot.card else { continue };
        let number = card.to_string();
        if let Some(at) = slot.collect_at {
            let what = format!("card {card}");
            let action = say!(kit.words, "step-card", card = &number);
            let words = number + &step(at, &action);
            reading.expect(at, &what, |after| bare_start(after).starts_with(&words));
        }
        if let (Some(at), None) = (slot.empty_at, slot.emptied_by_card) {
            let words = step(at, &say!(kit.words, "step-empty"));
            let what = format!("the emptying before card {card}");
            reading.expect(at, &what, |after| bare_start(after).starts_with(&words));
        }
        if let Some(repeat) = &slot.repeat {
            let what = format!("the make-up of card {card}");
            reading.expect(repeat.collect_at, &what, |_| true);
            if let Some(at) = repeat.empty_at {
                reading.expect(at, "the emptying of a make-up", |_| true);
            }
        }
    }
    let pack = bare(&say!(kit.words, "step-pack"));
    reading.expect(plan.pack_at, "packing", |after| bare_start(after).starts_with(&pack));
    for dose in &plan.doses {
        match dose.action {
            Action::AfterCard { at, .. } => {
                reading.expect(at, &dose.medicine, |_| true);
                let (words, medicines) = (kit.words, kit.medicines);
                if let Some(wait) = dose_wait(words, medicines, kit.order, plan, dose) {
                    let wait = step(dose.usual_at, &wait);
                    let what = format!("that {} waits", dose.medicine);
                    reading.expect(dose.usual_at, &what, |after| {
                        bare_start(after).starts_with(&wait)
                    });
                }
                let now = dose_after(words, medicines, kit.order, dose);
                reading.expect_text("the step", &now);
            }
            // By the patient's own time, even where the clocks skip it.
            _ => reading.expect_time(of_day(dose.usual), &dose.medicine, |_| true),
        }
    }
    reading.only(kit, sheet_times(plan));
    amounts(kit, &mut reading, true);
    cautions(kit, &mut reading);
    let born = kit.words.full_date(kit.order.patient.born);
    reading.expect_text("the birth date", &born);
    if let Some(start) = tables::first_day(kit) {
        reading.expect_text("the first day", &start);
    }
    reading.found
}

/// The cautions that no sheet may be without, whatever the documents say.
fn cautions(kit: &Kit, reading: &mut Reading) {
    let (words, emergency) = (kit.words, &kit.lab.emergency);
    let rule = match &kit.order.provider {
        Some(provider) => say!(words, "med-rule", provider = &provider.name),
        None => say!(words, "med-rule-unnamed"),
    };
    let drink = match kit.plan.allowance {
        Amount::Prescribed => say!(words, "care-drink-prescribed"),
        _ => say!(words, "care-drink"),
    };
    for caution in [
        say!(words, "first-limits"),
        say!(words, "first-pregnant"),
        say!(words, "first-ill"),
        say!(words, "first-call", phone = &kit.lab.phone),
        rule,
        drink,
        say!(words, "care-later"),
        say!(words, "care-signs", emergency = emergency),
        say!(words, "care-steroid", emergency = emergency),
        say!(words, "care-cards"),
        say!(words, "care-not"),
    ] {
        reading.expect_text("the caution", &caution);
    }
    for dose in &kit.order.doses {
        if dose.class == Some(Class::Glucocorticoid) {
            let medicine = kit.medicines.translate(&dose.medicine, words.language);
            let caution = say!(words, "med-steroid", medicine = medicine);
            reading.expect_text("the caution", &caution);
        }
        if let Some(note) = &dose.note {
            reading.expect_text("the provider's note", note);
        }
    }
}

fn sheet_times(plan: &Plan) -> Vec<Moment> {
    let mut times = vec![plan.pack_at];
    let dose_times = |dose: &PlannedDose| dose.take_at();
    for slot in &plan.slots {
        times.extend(slot.collect_at);
        times.extend(slot.empty_at);
        if let Some(repeat) = &slot.repeat {
            times.extend(repeat.empty_at);
            times.push(repeat.collect_at);
            times.extend(repeat.doses.iter().flat_map(dose_times));
        }
    }
    times.extend(plan.doses.iter().flat_map(dose_times));
    times.extend(plan.doses.iter().map(|dose| dose.usual_at));
    times.extend(plan.caffeine.map(|(from, _)| from));
    times.extend(plan.drinks.iter().map(|stretch| stretch.from));
    times.extend(plan.drinks.iter().filter_map(|stretch| stretch.until));
    times.push(plan.anchors.bedtime);
    times
}

/// The amounts of the plan are there; on the sheet, no others are.
fn amounts(kit: &Kit, reading: &mut Reading, only: bool) {
    let mut planned = BTreeSet::new();
    for stretch in &kit.plan.drinks {
        let wanted = matches!(stretch.allowed, Allowed::Allowance | Allowed::WaterUpTo);
        if let (true, Some(drink)) = (wanted, stretch.amount) {
            planned.insert(drink.ml());
        }
    }
    let read = read_millilitres(&reading.text);
    for ml in &planned {
        if !read.contains(ml) {
            reading.differ(format!("expected the amount {ml} mL, which is not there"));
        }
    }
    if only {
        let others = texts_of_others(kit);
        let others: BTreeSet<u32> =
            others.iter().flat_map(|text| read_millilitres(text)).collect();
        for ml in read.difference(&planned).filter(|ml| !others.contains(ml)) {
            reading.differ(format!("found the amount {ml} mL, which is not in the plan"));
        }
    }
}

/// Every whole number of millilitres in `text`.
fn read_millilitres(text: &str) -> BTreeSet<u32> {
    text.match_indices(" mL")
        .filter_map(|(at, _)| {
            let figures: Vec<char> = text[..at]
                .chars()
                .rev()
                .take_while(|c| c.is_ascii_digit() || *c == ',')
                .filter(char::is_ascii_digit)
                .collect();
            figures.into_iter().rev().collect::<String>().parse().ok()
        })
        .collect()
}

/// The drinks table: each stretch from its start to its end, and the tables for
/// a changed day.
pub(super) fn fluids(kit: &Kit, part: &Part) -> Vec<Difference> {
    let plan = kit.plan;
    let mut reading = Reading::of(kit, part);
    let mut times: Vec<Moment> = Vec::new();
    for stretch in &plan.drinks {
        reading.expect(stretch.from, "a stretch of drinking", |_| true);
        times.push(stretch.from);
        if let Some(until) = stretch.until {
            reading.expect(until, "the end of a stretch", |_| true);
            times.push(until);
        }
    }
    if let Some((from, until)) = plan.caffeine {
        times.extend([from, until]);
    }
    let what_if = &plan.what_if;
    for shifted in what_if.dinner.iter().chain(&what_if.bedtime).chain(&what_if.waking) {
        let then = clock_time(shifted.then_at);
        reading.expect(shifted.if_at, "a row of a changed day", |after| {
            shifted.emptied_by_card.is_some()
                || read_times(after, kit.order.clock)
                    .first()
                    .is_some_and(|next| next.time == then)
        });
        times.extend([shifted.if_at, shifted.then_at]);
    }
    reading.only(kit, times);
    amounts(kit, &mut reading, false);
    reading.found
}

/// The return checklist: when to pack, and the number of each card.
pub(super) fn checklist(kit: &Kit, part: &Part) -> Vec<Difference> {
    let mut reading = Reading::of(kit, part);
    let words = kit.words;
    let at = kit.plan.pack_at;
    reading.expect(at, "packing", |_| true);
    let intro = say!(words, "list-intro", when = tables::day_and_time(kit, at));
    reading.expect_text("the day to pack", &intro);
    if let Some(date) = kit.plan.post_on {
        let post = say!(words, "list-post", date = words.day(date));
        reading.expect_text("the day to post", &post);
    }
    reading.only(kit, [kit.plan.pack_at]);
    codes(kit, &mut reading);
    reading.found
}

/// The information card: each card's number, its time beside it.
pub(super) fn card(kit: &Kit, part: &Part) -> Vec<Difference> {
    let mut reading = Reading::of(kit, part);
    // A long number may run over two lines of its cell.
    let text = reading.text.replace(RUN, "");
    for slot in &kit.plan.slots {
        let Some(at) = slot.collect_at else { continue };
        let time = clock_time(at);
        let beside = text.match_indices(&slot.code).any(|(index, code)| {
            let rest = &text[index + code.len()..];
            read_times(rest, reading.style).first().is_some_and(|read| read.time == time)
        });
        if !beside {
            reading.differ(format!(
                "expected {:02}:{:02} beside {}, which is not there",
                time.0, time.1, slot.code
            ));
        }
    }
    reading.only(kit, kit.plan.slots.iter().filter_map(|slot| slot.collect_at));
    codes(kit, &mut reading);
    reading.found
}

/// The packing slip: the number of each card, and when card 1 is done.
pub(super) fn packing(kit: &Kit, part: &Part) -> Vec<Difference> {
    let mut reading = Reading::of(kit, part);
    codes(kit, &mut reading);
    reading.found
}

fn codes(kit: &Kit, reading: &mut Reading) {
    for slot in &kit.plan.slots {
        reading.expect_text("the number", &slot.code);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times(text: &str) -> Vec<ClockTime> {
        read_times(text, ClockStyle::Twelve).into_iter().map(|read| read.time).collect()
    }

    #[test]
    fn a_word_after_a_time_of_the_24_hour_clock_is_no_am() {
        let read = read_times("de 12:35 a 21:10", ClockStyle::TwentyFour);
        let read: Vec<ClockTime> = read.into_iter().map(|read| read.time).collect();
        assert_eq!(read, [(12, 35), (21, 10)]);
    }

    #[test]
    fn times_are_read_from_either_clock() {
        assert_eq!(times("at 5:15 pm, then 17:15"), [(17, 15), (17, 15)]);
        assert_eq!(times("12:00 a or 12:00 p or 12:05 a"), [(0, 0), (12, 0), (0, 5)]);
        assert_eq!(times("6:30 a. m. y 6:30 p. m."), [(6, 30), (18, 30)]);
        assert_eq!(times("Note: 5 cards; ratio 1:2"), []);
    }

    #[test]
    fn a_figure_of_another_run_is_no_part_of_a_time() {
        assert_eq!(times("October 15\u{1}3:15 pm"), [(15, 15)]);
    }

    #[test]
    fn amounts_are_read_with_their_comma() {
        let read = read_millilitres("up to 350 mL (1½ cups) and 1,180 mL");
        assert_eq!(read, BTreeSet::from([350, 1180]));
    }
}
