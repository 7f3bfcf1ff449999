//! An order in the making: values with the cells they were taken from.
//!
//! Takes typed values, gives the text of an order file as a person would write
//! it, quoted by `toml_edit`. The same values give the same text, whatever file
//! and row they stood in: the place is kept beside the text, in its `Origin`.

use std::sync::Arc;

use chrono::{Datelike, NaiveDate, NaiveTime, Timelike};
use toml_edit::{
    Array, ArrayOfTables, Date, Datetime, DocumentMut, Item, Table, Time, Value,
};

use super::value::DayAndMonth;
use super::{LONGEST_CELL, Row, UnsureDate};
use crate::fault::{Cell, Fault, Origin, Source};

/// The most characters of a cell that are kept for messages.
const MOST_KEPT: usize = 200;

/// A value of an order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Entry {
    Text(String),
    Date(NaiveDate),
    Time(NaiveTime),
    Times(Vec<NaiveTime>),
    Flag(bool),
}

/// What is wrong with a cell, and what would be right.
pub(super) type Complaint = (String, String);

/// One order in the making.
pub(super) struct Draft {
    /// File and row, as messages show it.
    place: String,
    /// Lines of comment at its head. They say nothing of places, which are others
    /// in the next export.
    notes: Vec<String>,
    order: DocumentMut,
    doses: ArrayOfTables,
    number: Option<String>,
    cells: Vec<Cell>,
    /// Faults by the field they are in.
    wrong: Vec<(String, Complaint)>,
    unsure_dates: Vec<UnsureDate>,
}

impl Draft {
    pub fn new(place: String) -> Self {
        Self {
            place,
            notes: Vec::new(),
            order: DocumentMut::new(),
            doses: ArrayOfTables::new(),
            number: None,
            cells: Vec::new(),
            wrong: Vec::new(),
            unsure_dates: Vec::new(),
        }
    }

    /// Adds a line of comment to the order's head; it may not name a place.
    pub fn note(&mut self, note: String) {
        self.notes.push(note);
    }

    /// Says what the field was taken from. A long text is cut: it is only shown.
    pub fn cell(&mut self, field: Arc<str>, name: Arc<str>, mut text: String) {
        if let Some((end, _)) = text.char_indices().nth(MOST_KEPT) {
            text.truncate(end);
        }
        self.cells.push(Cell { field, name, text });
    }

    /// Says that the cell of `field` is wrong.
    pub fn wrong(
        &mut self,
        field: &str,
        what: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.wrong.push((field.to_owned(), (what.into(), help.into())));
    }

    /// Says how sure the day and month of the date in `field` are.
    pub fn date(&mut self, field: &str, text: String, order: DayAndMonth) {
        if order != DayAndMonth::Sure {
            self.unsure_dates.push(UnsureDate { field: field.to_owned(), text, order });
        }
    }

    /// Sets a value; `table` is empty for the top of the order.
    pub fn set(&mut self, table: &str, name: &str, entry: Entry) {
        let field =
            if table.is_empty() { name.to_owned() } else { format!("{table}.{name}") };
        if self.refuse_long(&field, &entry) {
            return;
        }
        if table.is_empty() {
            if name == "order"
                && let Entry::Text(number) = &entry
            {
                self.number = Some(number.clone());
            }
            self.order.insert(name, Item::Value(value(entry)));
            return;
        }
        let item = self.order.entry(table).or_insert_with(|| Item::Table(Table::new()));
        if let Some(table) = item.as_table_mut() {
            table.insert(name, Item::Value(value(entry)));
        }
    }

    /// A text that is far too long is not handed on to be compared with others.
    fn refuse_long(&mut self, field: &str, entry: &Entry) -> bool {
        let Entry::Text(text) = entry else { return false };
        let count = text.chars().count();
        if count <= LONGEST_CELL {
            return false;
        }
        self.wrong(
            field,
            format!("the text has {count} characters, more than {LONGEST_CELL}"),
            "shorten it",
        );
        true
    }

    /// The number of the next dose's table, from 1.
    pub fn next_dose(&self) -> usize {
        self.doses.len() + 1
    }

    /// Adds a dose.
    pub fn dose(&mut self, entries: Vec<(&str, Entry)>) {
        let number = self.next_dose();
        let mut table = Table::new();
        for (name, entry) in entries {
            if self.refuse_long(&format!("dose[{number}].{name}"), &entry) {
                continue;
            }
            table.insert(name, Item::Value(value(entry)));
        }
        self.doses.push(table);
    }

    /// The finished row.
    pub fn finish(mut self) -> Row {
        if !self.doses.is_empty() {
            self.order.insert("dose", Item::ArrayOfTables(self.doses));
        }
        let mut text = String::new();
        for note in &self.notes {
            text.push_str("# ");
            text.push_str(&crate::fault::visible(note));
            text.push('\n');
        }
        if !text.is_empty() {
            text.push('\n');
        }
        text.push_str(&self.order.to_string());
        let origin = Origin { place: self.place, cells: self.cells };
        let source = Source::exported(origin, text);
        let faults = self
            .wrong
            .into_iter()
            .map(|(field, (what, help))| Fault::new(what, help).at(&source, 0..0, field))
            .collect();
        Row { faults, unsure_dates: self.unsure_dates, ..Row::new(source, self.number) }
    }
}

fn value(entry: Entry) -> Value {
    match entry {
        Entry::Text(text) => text.into(),
        Entry::Date(date) => Datetime {
            date: Some(Date {
                // Years are checked to have four figures before they get here.
                year: u16::try_from(date.year()).unwrap_or_default(),
                month: u8::try_from(date.month()).unwrap_or_default(),
                day: u8::try_from(date.day()).unwrap_or_default(),
            }),
            time: None,
            offset: None,
        }
        .into(),
        Entry::Time(time) => clock_time(time),
        Entry::Times(times) => {
            let list: Array = times.into_iter().map(clock_time).collect();
            list.into()
        }
        Entry::Flag(flag) => flag.into(),
    }
}

fn clock_time(time: NaiveTime) -> Value {
    let part = |number: u32| u8::try_from(number).unwrap_or_default();
    Datetime {
        date: None,
        time: Some(Time {
            hour: part(time.hour()),
            minute: part(time.minute()),
            second: None,
            nanosecond: None,
        }),
        offset: None,
    }
    .into()
}
