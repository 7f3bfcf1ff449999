//! A language's catalog: read, and every message said.

use std::sync::LazyLock;

use kitwright::words::{Arg, CATALOGS, Words};

use super::{faults, text_of};

pub const WORDS: &str = include_str!("../../words/catalog.txt");

/// The messages of the program.
static IDS: LazyLock<Vec<&str>> = LazyLock::new(|| {
    let lines = CATALOGS[0].1.lines();
    lines
        .filter_map(|line| Some(line.split_once(" =")?.0))
        .filter(|id| id.starts_with(|c: char| c.is_ascii_lowercase()))
        .collect()
});

/// The longest text of one message, in bytes.
const LONGEST: usize = 1 << 20;

pub fn read(data: &[u8]) {
    let Some(text) = text_of(data) else { return };
    let words = match Words::read("en", text) {
        Ok(words) => words,
        Err(found) => return faults::sound(&found),
    };
    let names = ["page", "pages", "time", "day", "weekday", "date", "medicine", "card"];
    let mut args: Vec<(&str, Arg)> =
        names.iter().map(|name| (*name, Arg::from("07:30"))).collect();
    args.push(("count", Arg::Number(2)));
    for id in IDS.iter() {
        let said = words.message(id, &args);
        assert!(said.len() < LONGEST, "law: {id} says {} bytes", said.len());
    }
    let found = words.faults();
    if !found.is_empty() {
        faults::sound(&found);
    }
}
