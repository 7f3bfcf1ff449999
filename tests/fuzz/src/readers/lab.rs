//! A laboratory's file: read, an order read by it, and an export by its columns.

use std::path::Path;

use kitwright::fault::Source;
use kitwright::import;
use kitwright::lab::{MOST_NUDGE, read_lab};
use kitwright::medicine::Medicines;
use kitwright::order::{Names, read_order};
use kitwright::words::languages;

use super::{TODAY, faults, orders_of, text_of};

pub const WORDS: &str = include_str!("../../words/lab.txt");

const ORDER: &str = include_str!("../../../../demo-orders/01-plain.toml");
const EXPORT: &[u8] = include_bytes!("../../../../demo-orders/export/orders.csv");

pub fn read(data: &[u8]) {
    let Some(text) = text_of(data) else { return };
    let lab = match read_lab(&Source::new("lab.toml", text), &languages()) {
        Ok(lab) => lab,
        Err(found) => return faults::of_file(&found),
    };
    for (name, printer) in &lab.printers {
        let (x, y) = printer.nudge;
        let within = x.um().abs() <= MOST_NUDGE && y.um().abs() <= MOST_NUDGE;
        assert!(within, "law: {name} is nudged by {x:?}, {y:?}");
    }
    let medicines = Medicines::builtin();
    let order = Source::new("order.toml", ORDER);
    if let Err(found) = read_order(&order, &lab, medicines, &Names::builtin(), TODAY) {
        faults::of_file(&found);
    }
    match import::read(Path::new("orders.csv"), EXPORT, &lab.columns) {
        Ok(rows) => drop(orders_of(&rows)),
        Err(found) => faults::of_export(&found),
    }
}
