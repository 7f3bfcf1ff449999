//! A protocol's text: read, and orders planned by it.

use std::sync::LazyLock;

use kitwright::document::{Edition, Kit, paper_documents};
use kitwright::fault::Source;
use kitwright::medicine::Medicines;
use kitwright::order::Order;
use kitwright::plan::plan;
use kitwright::protocol::{Protocol, read_protocol};
use kitwright::report;
use kitwright::specimen;
use kitwright::stock;

use super::{faults, lab, order_of, text_of, with_words};

pub const WORDS: &str = include_str!("../../words/protocol.txt");

/// Orders of ordinary and of hard days, dated and not.
static ORDERS: LazyLock<Vec<Order>> = LazyLock::new(|| {
    [
        include_str!("../../../../demo-orders/01-plain.toml"),
        include_str!("../../../../demo-orders/02-night-worker.toml"),
        include_str!("../../../../demo-orders/03-clock-change.toml"),
        include_str!("../../../../demo-orders/05-spanish.toml"),
        include_str!("../../../../demo-orders/08-evening-doser.toml"),
        include_str!("../../../../demo-orders/09-undated.toml"),
    ]
    .map(|text| order_of(&Source::new("order.toml", text)).expect("a demo order"))
    .to_vec()
});

pub fn read(data: &[u8]) {
    let Some(text) = text_of(data) else { return };
    match read_protocol(&Source::new("protocol.toml", text)) {
        Err(found) => faults::of_file(&found),
        Ok(protocol) => ORDERS.iter().for_each(|order| planned(&protocol, order)),
    }
}

fn planned(protocol: &Protocol, order: &Order) {
    let plan = plan(order, protocol, &lab().mail);
    assert_eq!(plan.slots.len(), protocol.slots.len(), "law: a slot is left out");
    for (slot, rule) in plan.slots.iter().zip(&protocol.slots) {
        let parsed = specimen::parse(&slot.code);
        assert_eq!(parsed, Some((order.number.clone(), rule.digit)), "law: another code");
        assert_eq!(
            slot.collect_at.is_some(),
            rule.card.is_some(),
            "law: a card, no time"
        );
        assert_eq!(slot.repeat.is_some(), rule.card.is_some(), "law: a card, no make-up");
        if let (Some(empty), Some(collect)) = (slot.empty_at, slot.collect_at) {
            assert!(empty <= collect, "law: emptied after the card");
        }
    }
    let wanted: usize = order.doses.iter().map(|dose| dose.times.len() * 2).sum();
    assert_eq!(plan.doses.len(), wanted, "law: a dose is left out, or twice there");
    assert!(plan.pack_at > plan.last_card(), "law: packed before the last card");
    assert_eq!(plan.caffeine.is_some(), protocol.caffeine.is_some());
    for finding in &plan.findings {
        faults::line("finding", &finding.text);
    }
    for stretch in &plan.drinks {
        assert!(
            stretch.until.is_none_or(|until| stretch.from < until),
            "law: {stretch:?}"
        );
    }
    let table = report::table(order, &plan);
    assert!(table.lines().all(|line| !line.contains(char::is_control)), "{table}");
    report::json(&plan);
    let stock = stock::builtin(stock::default_for(order.paper)).expect("built in");
    with_words(&order.language, |words| {
        let kit = Kit {
            order,
            lab: lab(),
            protocol,
            plan: &plan,
            stock: &stock,
            words,
            medicines: Medicines::builtin(),
            edition: Edition::default(),
        };
        if let Err(found) = paper_documents(&kit, &[false, true]) {
            faults::sound(&found);
        }
    });
}
