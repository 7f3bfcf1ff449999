//! An order's text: read, planned, written anew and read again.

use std::sync::Arc;

use chrono::{NaiveTime, TimeDelta};
use kitwright::calendar::calendar;
use kitwright::days::{self, Search};
use kitwright::document::{Edition, Kit, paper_documents};
use kitwright::fault::Source;
use kitwright::fields::span_of;
use kitwright::medicine::{Class, Medicines};
use kitwright::order::rewrite::{Change, changed};
use kitwright::order::{Order, number_in};
use kitwright::plan::{Action, Plan, plan};
use kitwright::report;
use kitwright::specimen;
use kitwright::stock;
use kitwright::units::Weight;

use super::{TODAY, faults, lab, order_of, protocol_named, text_of, with_words};

pub const WORDS: &str = include_str!("../../words/order.txt");

pub fn read(data: &[u8]) {
    let Some(text) = text_of(data) else { return };
    let source = Source::new("order.toml", text);
    let number = number_in(text);
    match order_of(&source) {
        Ok(order) => {
            assert_eq!(number.as_ref(), Some(&order.number), "law: another number");
            good(&source, &order);
        }
        Err(found) => {
            faults::of_file(&found);
            for place in found.iter().filter_map(|fault| fault.place.as_ref()) {
                let span = span_of(text, &place.field);
                assert!(span.end <= text.len(), "law: {span:?} is not in the file");
            }
        }
    }
}

fn good(source: &Arc<Source>, order: &Order) {
    let Some(protocol) = protocol_named(&order.protocol.value) else { return };
    let mut made = plan(order, protocol, &lab().mail);
    made.findings.extend(days::findings(order, &made, lab()));
    planned(order, &made);
    written(order, &made);
    rewritten(source, order);
    if let Some(asked) = &order.first_suitable {
        let search = match Search::new(order, protocol, lab(), TODAY) {
            Ok(search) => search,
            Err(found) => return faults::of_file(&found),
        };
        match search.first(asked) {
            Err(found) => faults::fault(&found),
            Ok(date) => {
                let dated = days::with_start(source, asked, date, TODAY);
                let again = order_of(&dated).expect("law: a chosen day makes it wrong");
                let start = again.start.as_ref().map(|start| start.date);
                assert_eq!(start, Some(date), "law: another day than the one chosen");
                assert_eq!(again.first_suitable_from, Some(TODAY));
                assert_eq!(rest(order), rest(&again), "law: a chosen day changes more");
            }
        }
    }
}

/// Laws of a plan, as in `tests/laws.rs`.
fn planned(order: &Order, plan: &Plan) {
    assert_eq!(plan.order, order.number);
    for (index, slot) in plan.slots.iter().enumerate() {
        let (number, digit) =
            specimen::parse(&slot.code).expect("law: a code that is none");
        assert_eq!(number, order.number);
        assert_eq!(specimen::code(&number, digit), slot.code);
        let others = &plan.slots[..index];
        assert!(
            others.iter().all(|other| other.code != slot.code),
            "law: one code twice"
        );
        if let (Some(empty), Some(collect)) = (slot.empty_at, slot.collect_at) {
            assert!(empty <= collect, "law: emptied after the card");
        }
    }
    let cards: Vec<_> = plan.slots.iter().filter_map(|slot| slot.collect_at).collect();
    assert!(cards.is_sorted_by(|a, b| a < b), "law: cards out of order: {cards:?}");
    assert!(plan.pack_at > plan.last_card(), "law: packed before the last card");
    let wanted: usize = order.doses.iter().map(|dose| dose.times.len() * 2).sum();
    assert_eq!(plan.doses.len(), wanted, "law: a dose is left out, or twice there");
    let agreed =
        order.provider.as_ref().is_some_and(|provider| provider.dose_rules_agreed);
    let repeats = plan.slots.iter().filter_map(|slot| slot.repeat.as_ref());
    for dose in plan.doses.iter().chain(repeats.flat_map(|repeat| &repeat.doses)) {
        let class = order.doses[dose.index].class;
        if matches!(dose.action, Action::AfterCard { .. }) {
            assert_eq!(class, Some(Class::Hormone), "law: no hormone is moved");
            assert!(agreed, "law: moved without agreement");
            let shift = dose.take_at().map(|at| at - dose.usual_at);
            let most = TimeDelta::hours(4);
            let within =
                shift.is_some_and(|shift| (TimeDelta::zero()..=most).contains(&shift));
            assert!(within, "law: moved by {shift:?}");
        }
        if class == Some(Class::Glucocorticoid) {
            assert_eq!(dose.action, Action::AsPrescribed, "law: a steroid is moved");
        }
    }
    for finding in &plan.findings {
        faults::line("finding", &finding.text);
    }
}

/// Everything that is written from a plan without a press.
pub fn written(order: &Order, plan: &Plan) {
    let table = report::table(order, plan);
    assert!(table.lines().all(|line| !line.contains(char::is_control)), "{table}");
    let json = report::json(plan).to_string();
    assert!(json.len() < 1 << 20, "law: a plan of {} bytes", json.len());
    let stock = stock::builtin(stock::default_for(order.paper)).expect("built in");
    let Some(protocol) = protocol_named(&order.protocol.value) else { return };
    with_words(&order.language, |words| {
        let kit = Kit {
            order,
            lab: lab(),
            protocol,
            plan,
            stock: &stock,
            words,
            medicines: Medicines::builtin(),
            edition: Edition::default(),
        };
        if let Err(found) = paper_documents(&kit, &[false, true]) {
            panic!("law: a plan that no words tell: {}", found[0].plain());
        }
        match calendar(order, plan, words, Default::default()) {
            Err(found) => faults::fault(&found),
            Ok(text) => {
                // RFC 5545, section 3.1.
                let fits = text.split("\r\n").all(|line| line.len() <= 75);
                assert!(fits && text.ends_with("END:VCALENDAR\r\n"), "law: {text}");
            }
        }
    });
}

/// A changed text reads to the order with that change and no other.
fn rewritten(source: &Arc<Source>, order: &Order) {
    let time = |hour, minute| NaiveTime::from_hms_opt(hour, minute, 0);
    let change = Change {
        lunch: time(12, 31),
        dinner: time(17, 16),
        bedtime: time(22, 31),
        wake: time(6, 31),
        ..Change::default()
    };
    let changed_text = changed(source, &change);
    let again = match order_of(&changed_text) {
        Ok(again) => again,
        Err(found) => {
            let (text, why) = (&changed_text.text, found[0].plain());
            panic!("law: a changed routine makes it wrong: {why}\n{text}");
        }
    };
    let found = [
        again.routine.lunch,
        again.routine.dinner,
        again.routine.bedtime,
        again.routine.wake,
    ];
    let wanted = [change.lunch, change.dinner, change.bedtime, change.wake];
    assert_eq!(found, wanted, "law: another routine than the one given");
    assert_eq!(head(order), head(&again), "law: a changed routine changes the head");
    assert_eq!(rest(order), rest(&again), "law: a changed routine changes more");
    // The same values over again change nothing more.
    assert_eq!(changed(&changed_text, &change).text, changed_text.text);
    corrected_patient(source, order);
    // A date needs a zone, and the cycle may be against another.
    if order.zone.is_some() && order.cycle.is_none() {
        let start = order.start.as_ref().map_or(TODAY, |start| start.date);
        let change = Change { start: Some(start), ..Change::default() };
        let text = changed(source, &change);
        let again = match order_of(&text) {
            Ok(again) => again,
            Err(found) => {
                let (text, why) = (&text.text, found[0].plain());
                panic!("law: a changed start makes it wrong: {why}\n{text}");
            }
        };
        assert_eq!(again.start.as_ref().map(|start| start.date), Some(start));
        assert_eq!(again.first_suitable_from, None, "law: the program chose no day");
        assert_eq!(again.routine, order.routine);
        assert_eq!(rest(order), rest(&again), "law: a changed start changes more");
    }
}

/// A corrected name and weight are read as they were given, and nothing else changes.
fn corrected_patient(source: &Arc<Source>, order: &Order) {
    let change = Change {
        family: Some("O'Hara \u{c5}gren".into()),
        weight: Some("151 lb".into()),
        ..Change::default()
    };
    let text = changed(source, &change);
    let again = match order_of(&text) {
        Ok(again) => again,
        Err(found) => {
            let (text, why) = (&text.text, found[0].plain());
            panic!("law: a corrected patient makes it wrong: {why}\n{text}");
        }
    };
    assert_eq!(again.patient.weight, Weight::parse("151 lb"), "law: another weight");
    let mut wanted = order.clone();
    wanted.patient.family = "O'Hara \u{c5}gren".into();
    wanted.patient.weight = again.patient.weight;
    assert_eq!(rest(&wanted), rest(&again), "law: a corrected patient changes more");
    assert_eq!(wanted.routine, again.routine);
}

/// What an order says of its day.
fn head(order: &Order) -> String {
    let start = order.start.as_ref().map(|start| (start.date, &start.zone));
    let asked = order.first_suitable.is_some();
    format!("{:?}", (start, asked, order.first_suitable_from, order.age_on))
}

/// What an order says but for its day and its routine, without places.
fn rest(order: &Order) -> String {
    let cycle = order
        .cycle
        .as_ref()
        .map(|cycle| (cycle.first_day.value, cycle.length, cycle.range, cycle.regular));
    let top = (
        &order.number,
        &order.protocol.value,
        order.zone.as_ref().map(|zone| &zone.name),
        &order.day,
        cycle,
        &order.language,
        (order.paper, order.clock, order.text),
        order.stock.as_ref().map(|stock| &stock.value),
    );
    let tables =
        (&order.patient, &order.provider, &order.doses, &order.health, &order.cleared);
    format!("{top:?} {tables:?}")
}
