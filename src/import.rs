//! Reads exports: orders of many patients in one file of another system.
//!
//! Takes the bytes of a table (CSV, TSV, XLSX) or of an HL7 FHIR R4 bundle,
//! gives a [`Row`] for each order in it: the text of an order file, written
//! from the row, which `order::read_order` then checks like any other. Nothing
//! is guessed, and a row that is wrong does not keep the others back.

pub mod columns;

mod delimited;
mod draft;
mod encoding;
mod fhir;
mod format;
mod table;
mod value;
mod xlsx;

use std::collections::HashMap;
use std::path::Path;
use std::sync::Arc;

use crate::fault::{self, Fault, Origin, Source};
use columns::Columns;
use value::DayAndMonth;

/// The largest export that is read, in bytes.
pub const MAX_BYTES: usize = 64 * 1024 * 1024;
/// The most that a workbook may unpack to, in bytes.
const MAX_UNPACKED: u64 = 256 * 1024 * 1024;
/// The largest bundle, in bytes: a parsed one takes many times its size.
const MAX_BUNDLE: usize = 16 * 1024 * 1024;
/// The most rows of orders, and the most entries of a bundle.
const MOST_ROWS: usize = 100_000;
const MOST_COLUMNS: usize = 200;
/// The longest cell, in characters.
const LONGEST_CELL: usize = 4_000;

/// One order of an export.
#[derive(Debug, Clone)]
pub struct Row {
    /// The text of its order file. Where the row is wrong, what could be read of
    /// it; empty if that is nothing.
    pub source: Arc<Source>,
    /// Its order number, where it has one.
    pub number: Option<String>,
    /// What is wrong with the row itself; the order may be wrong besides.
    pub faults: Vec<Fault>,
    unsure_dates: Vec<UnsureDate>,
}

/// A date that is another with day and month the other way round.
#[derive(Debug, Clone)]
struct UnsureDate {
    field: String,
    text: String,
    order: DayAndMonth,
}

impl Row {
    /// An order file, of which nothing is said yet.
    pub fn new(source: Arc<Source>, number: Option<String>) -> Self {
        Self { source, number, faults: Vec::new(), unsure_dates: Vec::new() }
    }

    /// Goes on with the row's text if nothing is wrong with the row.
    ///
    /// # Errors
    ///
    /// The row's faults, and those that `read` finds in other fields.
    pub fn and_then<T>(
        &self,
        read: impl FnOnce(&Arc<Source>) -> Result<T, Vec<Fault>>,
    ) -> Result<T, Vec<Fault>> {
        // An order file can be empty, too, and nothing is said of that yet.
        if self.source.text.is_empty() && !self.faults.is_empty() {
            return Err(self.faults.clone());
        }
        let more = match read(&self.source) {
            Ok(value) if self.faults.is_empty() => return Ok(value),
            Ok(_) => Vec::new(),
            Err(faults) => faults,
        };
        let field = |fault: &Fault| fault.place.as_ref().map(|place| place.field.clone());
        let known: Vec<_> = self.faults.iter().map(field).collect();
        let more = more.into_iter().filter(|fault| !known.contains(&field(fault)));
        Err(self.faults.iter().cloned().chain(more).collect())
    }

    /// A row of which nothing can be read.
    fn unread(place: &str, what: String, help: &str) -> Self {
        let fault = fault_at(place, what, help);
        let source = fault.place.as_ref().map(|place| place.source.clone());
        let source = source.unwrap_or_else(|| Source::new(place, ""));
        Self { faults: vec![fault], ..Self::new(source, None) }
    }

    fn complain(&mut self, what: String, help: &str) {
        self.faults.push(Fault::new(what, help).at(&self.source, 0..0, ""));
    }
}

/// Whether the file is an export by its name. A `.txt` file is none: it can be
/// an order.
pub fn is_export(path: &Path) -> bool {
    kind(path).is_some()
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum FileKind {
    Delimited,
    Workbook,
    Bundle,
}

fn kind(path: &Path) -> Option<FileKind> {
    let extension = path.extension()?.to_str()?.to_ascii_lowercase();
    match extension.as_str() {
        "csv" | "tsv" => Some(FileKind::Delimited),
        "xlsx" => Some(FileKind::Workbook),
        "json" => Some(FileKind::Bundle),
        _ => None,
    }
}

/// Reads an export. `bytes` are the file's, `path` is its name for messages.
///
/// The rows stand as they do in the file, and the same bytes give the same
/// texts.
///
/// # Errors
///
/// Faults of the file as a whole: it is too large, is not what its name says,
/// or has columns that nothing is said about.
pub fn read(
    path: &Path,
    bytes: &[u8],
    columns: &Columns,
) -> Result<Vec<Row>, Vec<Fault>> {
    let file = path.display().to_string();
    let kind = kind(path);
    let most = if kind == Some(FileKind::Bundle) { MAX_BUNDLE } else { MAX_BYTES };
    if bytes.len() > most {
        return Err(vec![fault_at(
            &file,
            format!("the file has {} kB, more than {}", bytes.len() / 1024, most / 1024),
            "export fewer orders at once",
        )]);
    }
    let mut rows = match kind {
        Some(FileKind::Delimited) => delimited::read(&file, bytes, columns)?,
        Some(FileKind::Workbook) => xlsx::read(&file, bytes, columns)?,
        Some(FileKind::Bundle) => fhir::read(&file, bytes, columns)?,
        None => {
            return Err(vec![fault_at(
                &file,
                "the file is no export by its name",
                "an export ends in .csv, .tsv, .xlsx or .json",
            )]);
        }
    };
    refuse_twins(&mut rows);
    refuse_other_order(&mut rows);
    Ok(rows)
}

/// Makes every date wrong that would be another with day and month the other way round,
/// if a date of the file is one only that way: what wrote this one wrote the others.
fn refuse_other_order(rows: &mut [Row]) {
    let found = rows.iter().find_map(|row| {
        let is_other = |date: &&UnsureDate| date.order == DayAndMonth::OtherWay;
        let date = row.unsure_dates.iter().find(is_other)?;
        Some((date.text.clone(), row.source.name.clone()))
    });
    let Some((other, place)) = found else { return };
    for row in rows {
        let either =
            row.unsure_dates.iter().filter(|d| d.order == DayAndMonth::EitherWay);
        row.faults.extend(either.map(|date| {
            let what = format!(
                "`{}` may have day and month the other way round, as `{}` in {place} has",
                fault::visible(&date.text),
                fault::visible(&other)
            );
            let help = "find out which is right, and mend date_format in [columns] of \
                        lab.toml or the export; a text such as 1984-03-09 has one reading";
            Fault::new(what, help).at(&row.source, 0..0, date.field.clone())
        }));
    }
}

/// Makes rows with the same order number wrong, all of them: nobody can tell
/// here which is the right one.
fn refuse_twins(rows: &mut [Row]) {
    let mut seen: HashMap<String, Vec<usize>> = HashMap::new();
    for (index, row) in rows.iter().enumerate() {
        if let Some(number) = &row.number {
            seen.entry(number.clone()).or_default().push(index);
        }
    }
    for (number, twins) in seen.into_iter().filter(|(_, twins)| twins.len() > 1) {
        for index in &twins {
            // Two places are enough to find the rest by.
            let other = twins.iter().find(|other| *other != index).unwrap_or(index);
            let other = rows[*other].source.name.clone();
            let row = &mut rows[*index];
            let fault = Fault::new(
                format!("the order number {number} stands in {other}, too"),
                "each order has a number of its own; take one of the rows out",
            );
            row.faults.push(fault.at(&row.source, 0..0, "order"));
        }
    }
}

/// A text as it can be pasted into a TOML file, or as a report shows it where it is long.
fn quoted(text: &str) -> String {
    const LONGEST: usize = 80;
    if text.chars().count() <= LONGEST {
        return toml_edit::Value::from(text).to_string();
    }
    format!("\"{}\"", fault::visible(text))
}

/// A fault of a place in an export that is no field of an order.
fn fault_at(place: &str, what: impl Into<String>, help: impl Into<String>) -> Fault {
    let origin = Origin { place: place.to_owned(), cells: Vec::new() };
    Fault::new(what, help).at(&Source::exported(origin, ""), 0..0, "")
}
