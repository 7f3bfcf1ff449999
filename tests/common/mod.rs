//! What the tests share: an invented laboratory, orders as text, and the way
//! from an order's text to its plan and its finished kit.

// Each test file uses its own part of this.
#![allow(dead_code)]

use std::path::Path;
use std::sync::Arc;

use chrono::NaiveDate;
use kitwright::fault::{Fault, Source};
use kitwright::lab::{Lab, read_lab};
use kitwright::medicine::Medicines;
use kitwright::order::{Names, Order, read_order};
use kitwright::plan::{Plan, plan};
use kitwright::proof::Mode;
use kitwright::protocol::{Protocol, builtin, read_protocol};
use kitwright::words::languages;
use kitwright::workshop::Workshop;

pub const LAB: &str = r#"
name = "Harbor Bend Laboratory"
address = ["12 Quay Street", "Harbor Bend"]
phone = "555-0100"
hours = "Monday to Friday, 9 am to 5 pm"
zone = "America/Denver"
[mail]
holidays = "us-federal"
"#;

/// The day on which the tests read their orders.
pub fn today() -> NaiveDate {
    date("2026-09-01")
}

pub fn date(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub fn lab() -> Lab {
    read_lab(&Source::new("lab.toml", LAB), &languages()).unwrap()
}

pub fn protocol(name: &str) -> Protocol {
    read_protocol(&builtin(name).unwrap()).unwrap()
}

/// An order with `extra` after its routine; a dated one of an ordinary day.
pub fn order_text(extra: &str) -> String {
    format!(
        r#"order = "HB-20417"
protocol = "four-card"
start = 2026-10-14
zone = "America/Denver"

[patient]
family = "Okonkwo-Reyes"
given = "Marisol"
born = 1984-03-09
weight = "150 lb"

[routine]
lunch = 12:30
dinner = 17:15
bedtime = 22:30
wake = 06:30

{extra}"#
    )
}

/// An ordinary order with `settings`, lines of its head such as `text = "large"`.
pub fn order_set(settings: &str) -> String {
    order_text("").replace("[patient]", &format!("{settings}\n\n[patient]"))
}

/// The provider who agreed to the dose rules.
pub const AGREED: &str = r#"[provider]
name = "Dr. Ines Halloran"
phone = "555-0117"
dose_rules = "agreed"
"#;

pub fn source(text: &str) -> Arc<Source> {
    Source::new("order.toml", text)
}

pub fn read(text: &str) -> Result<Order, Vec<Fault>> {
    read_order(&source(text), &lab(), Medicines::builtin(), &Names::builtin(), today())
}

#[track_caller]
pub fn order(text: &str) -> Order {
    read(text).unwrap_or_else(|faults| {
        panic!("{}\n{text}", faults.iter().map(Fault::plain).collect::<String>())
    })
}

#[track_caller]
pub fn planned(text: &str) -> Plan {
    let order = order(text);
    plan(&order, &protocol(&order.protocol.value), &lab().mail)
}

/// The codes of a plan's findings.
pub fn codes(plan: &Plan) -> Vec<&'static str> {
    plan.findings.iter().map(|finding| finding.code).collect()
}

/// A workshop with a press, reading `lab.toml` from the demo orders. It reads PDFs back
/// with both readers, and draws their labels.
pub fn workshop() -> Workshop {
    let lab = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-orders/lab.toml");
    let mut shop = Workshop::new(Some(lab), None, today())
        .and_then(|shop| shop.with_press(None, None))
        .unwrap_or_else(|faults| panic!("{}", faults[0].plain()));
    shop.prove_by(Mode::Raster);
    shop
}

/// The demo orders, by file name.
pub fn demo_orders() -> Vec<(String, Arc<Source>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-orders");
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|kind| kind == "toml"))
        .filter(|path| !path.ends_with("lab.toml"))
        .collect();
    paths.sort();
    paths
        .into_iter()
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            let text = std::fs::read_to_string(&path).unwrap();
            (name.clone(), Source::new(name, text))
        })
        .collect()
}
