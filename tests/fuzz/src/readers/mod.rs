//! What every reader of others' files must keep to, whatever the file says.
//!
//! One module for each reader: `read` hands it an input and panics where a law is
//! broken, and `WORDS` are words of its grammar, a line for each. All readers share these laws: no
//! panic; an answer or faults, never neither; see [`faults`].

pub mod bundle;
pub mod catalog;
pub mod code;
pub mod faults;
pub mod lab;
pub mod ledger;
pub mod mutate;
pub mod order;
pub mod page;
pub mod pdf;
pub mod protocol;
pub mod stock;
pub mod table;
pub mod workbook;

use std::collections::HashMap;
use std::sync::{Arc, LazyLock};

use chrono::NaiveDate;
use kitwright::fault::{Fault, Source};
use kitwright::import::Row;
use kitwright::lab::{Lab, read_lab};
use kitwright::medicine::Medicines;
use kitwright::order::{Names, Order, read_order};
use kitwright::protocol::{Protocol, builtin, builtin_names, read_protocol};
use kitwright::words::{Words, languages};

/// One reader: its name, what hands it an input, and the words of its grammar.
pub type Reader = (&'static str, fn(&[u8]), &'static str);

/// Every reader.
pub const READERS: &[Reader] = &[
    ("bundle", bundle::read, bundle::WORDS),
    ("catalog", catalog::read, catalog::WORDS),
    ("code", code::read, code::WORDS),
    ("lab", lab::read, lab::WORDS),
    ("ledger", ledger::read, ledger::WORDS),
    ("order", order::read, order::WORDS),
    ("page", page::read, page::WORDS),
    ("pdf", pdf::read, pdf::WORDS),
    ("protocol", protocol::read, protocol::WORDS),
    ("stock", stock::read, stock::WORDS),
    ("table", table::read, table::WORDS),
    ("workbook", workbook::read, workbook::WORDS),
];

/// The day on which orders are read.
const TODAY: NaiveDate = NaiveDate::from_ymd_opt(2026, 9, 1).unwrap();

/// The laboratory of the demo exports, with its columns.
const LAB: &str = include_str!("../../../../demo-orders/export/lab.toml");

/// The largest text that is looked at: with more, every reader says so at once.
const MOST: usize = 300 * 1024;

fn lab() -> &'static Lab {
    static LAB_READ: LazyLock<Lab> = LazyLock::new(|| lab_of(LAB));
    &LAB_READ
}

fn lab_of(text: &str) -> Lab {
    read_lab(&Source::new("lab.toml", text), &languages()).expect("a laboratory")
}

/// The built-in protocol of that name.
fn protocol_named(name: &str) -> Option<&'static Protocol> {
    static READ: LazyLock<HashMap<&str, Protocol>> = LazyLock::new(|| {
        let read =
            |name| read_protocol(&builtin(name).expect("built in")).expect("sound");
        builtin_names().into_iter().map(|name| (name, read(name))).collect()
    });
    READ.get(name)
}

/// Does something with the words of a language; each thread reads them once.
fn with_words<T>(language: &str, act: impl FnOnce(&Words) -> T) -> T {
    thread_local! {
        static ALL: HashMap<&'static str, Words> = languages()
            .into_iter()
            .map(|language| (language, Words::load(language).expect("a catalog")))
            .collect();
    }
    ALL.with(|all| act(all.get(language).expect("a language there is")))
}

/// The input as text, as far as it is UTF-8.
fn text_of(data: &[u8]) -> Option<&str> {
    std::str::from_utf8(data).ok().filter(|text| text.len() <= MOST)
}

fn order_of(source: &Arc<Source>) -> Result<Order, Vec<Fault>> {
    read_order(source, lab(), Medicines::builtin(), &Names::builtin(), TODAY)
}

/// Every row of an export becomes an order, or says why not.
fn orders_of(rows: &[Row]) -> Vec<Option<Order>> {
    let read = |row: &Row| match row.and_then(order_of) {
        Ok(order) => {
            assert_eq!(row.number.as_ref(), Some(&order.number), "law: another number");
            Some(order)
        }
        Err(faults) => {
            faults::of_export(&faults);
            None
        }
    };
    rows.iter().map(read).collect()
}
