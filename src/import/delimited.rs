//! Tables as text: CSV and TSV files.
//!
//! Takes bytes, gives rows. Quoting is that of RFC 4180, and is checked before
//! the `csv` library reads it: a quotation mark too few would make one cell of
//! several orders.

use std::collections::BTreeSet;

use csv::ByteRecord;

use super::columns::Columns;
use super::encoding::decode;
use super::table::{Mapper, known_headers};
use super::value::Value;
use super::{MOST_ROWS, Row, fault_at};
use crate::fault::Fault;

/// Reads a table.
///
/// # Errors
///
/// Faults of the file as a whole; those of a row are in the row.
pub(super) fn read(
    file: &str,
    bytes: &[u8],
    columns: &Columns,
) -> Result<Vec<Row>, Vec<Fault>> {
    let text = decode(file, bytes, columns.encoding).map_err(|fault| vec![fault])?;
    let delimiter = delimiter(&text, columns);
    let lines = Lines::of(file, &text, delimiter).map_err(|fault| vec![fault])?;
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut rows = Vec::new();
    let mut mapper: Option<(Mapper, usize)> = None;
    let mut numbers = lines.rows.iter().copied();
    for record in reader.byte_records() {
        // Both readers follow RFC 4180, so they can differ only by a mistake of
        // ours; a wrong row number would send a person to another patient.
        let (Ok(record), Some(number)) = (record, numbers.next()) else {
            return Err(vec![fault_at(
                file,
                "the rows of the file cannot be told apart",
                "save it again as CSV from a spreadsheet program",
            )]);
        };
        let cells = cells(&record);
        let Some((mapper, width)) = &mapper else {
            if cells.iter().any(|cell| !cell.is_empty()) {
                let header: Vec<String> = cells.iter().map(Value::shown).collect();
                let made = Mapper::new(file, number, &header, columns)?;
                mapper = Some((made, cells.len()));
            }
            continue;
        };
        if cells.iter().all(Value::is_empty) {
            continue;
        }
        if rows.len() == MOST_ROWS {
            return Err(vec![fault_at(
                file,
                format!("the file has more than {MOST_ROWS} rows of orders"),
                "export fewer orders at once",
            )]);
        }
        if cells.len() != *width {
            // Which cell belongs to which column is anybody's guess.
            rows.push(Row::unread(
                &format!("{file}, row {number}"),
                format!("the row has {} cells and the header has {width}", cells.len()),
                "give each row a cell for each column; a text that holds the separator \
                 goes in double quotation marks",
            ));
            continue;
        }
        let Some(mut row) = mapper.row(number, &cells) else { continue };
        if lines.stray.contains(&number) {
            row.complain(
                "a quotation mark stands inside a cell without quotes".into(),
                "put the cell in double quotation marks and write the mark twice: \
                 \"the \"\"Rose\"\"\"",
            );
        }
        rows.push(row);
    }
    if mapper.is_none() {
        return Err(vec![fault_at(
            file,
            "the file is empty",
            "export the orders with a header in the first row",
        )]);
    }
    Ok(rows)
}

fn cells(record: &ByteRecord) -> Vec<Value> {
    record
        .iter()
        .map(|cell| match cell {
            [] => Value::Empty,
            cell => Value::Text(String::from_utf8_lossy(cell).into_owned()),
        })
        .collect()
}

/// Comma, semicolon or tab: the one that makes most headers of the first row
/// that is not blank, or else the one it has most of.
fn delimiter(text: &str, columns: &Columns) -> u8 {
    let rest = text.trim_start();
    let score = |delimiter: &u8| {
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(*delimiter)
            .has_headers(false)
            .from_reader(rest.as_bytes());
        let mut record = ByteRecord::new();
        let _ = reader.read_byte_record(&mut record);
        let header: Vec<String> = cells(&record).iter().map(Value::shown).collect();
        (known_headers(&header, columns), header.len())
    };
    // The first of equals: a comma.
    let candidates = [b'\t', b';', b','];
    candidates.into_iter().max_by_key(score).unwrap_or(b',')
}

/// Where the rows of a text are.
struct Lines {
    /// The number of each row that is not blank, as a spreadsheet shows it:
    /// breaks inside quotes do not count, blank rows do.
    rows: Vec<u32>,
    /// Rows with a quotation mark inside a cell without quotes.
    stray: BTreeSet<u32>,
}

/// Where in a row a byte stands.
#[derive(Clone, Copy, PartialEq, Eq)]
enum At {
    Start,
    Bare,
    Quoted,
    AfterQuote,
}

impl Lines {
    fn of(file: &str, text: &str, delimiter: u8) -> Result<Self, Fault> {
        let mut lines = Self { rows: Vec::new(), stray: BTreeSet::new() };
        let (mut row, mut at, mut blank, mut opened) = (1, At::Start, true, 1);
        let mut before = b'\n';
        let separators = |line: &str| line.bytes().filter(|b| *b == delimiter).count();
        // What a mark too many has swallowed makes a row that is as wide as the others:
        // the rest of its own, and of the last row as much as stands before the cell.
        let closed = |row: u32, column: usize, width: usize, cell: &str| {
            let mut lines = cell.split(['\r', '\n']);
            let first = lines.next().map_or(0, separators);
            let last = lines.next_back().map(separators);
            // Of the first row nobody knows how wide the others are.
            if width == 0 || last != Some(column) || first + column != width {
                return Ok(());
            }
            Err(fault_at(
                &format!("{file}, row {row}"),
                "a cell in quotes seems to go on over other rows of the table",
                "close each cell with a quotation mark where it ends, in its own row",
            ))
        };
        let mut width = 0;
        let (mut cell, mut column, mut columns_before) = (0, 0, 0);
        for (index, byte) in text.bytes().enumerate() {
            // CR LF is one break.
            let is_second = before == b'\r' && byte == b'\n' && at != At::Quoted;
            before = byte;
            if is_second {
                continue;
            }
            let ends = matches!(byte, b'\r' | b'\n');
            if at == At::AfterQuote && (ends || byte == delimiter) {
                closed(opened, column, width, &text[cell..index])?;
            }
            at = match (at, byte) {
                (At::Quoted, b'"') => At::AfterQuote,
                (At::Quoted, _) => At::Quoted,
                (_, _) if ends => {
                    if !blank {
                        lines.rows.push(row);
                    }
                    row += 1;
                    width = width.max(columns_before);
                    (blank, columns_before) = (true, 0);
                    At::Start
                }
                (_, byte) if byte == delimiter => {
                    columns_before += 1;
                    At::Start
                }
                (At::Start, b'"') => {
                    (opened, cell, column) = (row, index, columns_before);
                    At::Quoted
                }
                (At::AfterQuote, b'"') => At::Quoted,
                (At::AfterQuote, _) => {
                    return Err(fault_at(
                        &format!("{file}, row {row}"),
                        "a cell in quotes goes on after its closing quotation mark",
                        "write a quotation mark inside a cell twice, and close each \
                         cell before the next separator",
                    ));
                }
                (At::Bare, b'"') => {
                    lines.stray.insert(row);
                    At::Bare
                }
                _ => At::Bare,
            };
            blank = blank && ends;
        }
        if at == At::Quoted {
            return Err(fault_at(
                &format!("{file}, row {opened}"),
                "a quotation mark is never closed",
                "close the cell in quotes; a mark inside a cell is written twice",
            ));
        }
        if at == At::AfterQuote {
            closed(opened, column, width, &text[cell..])?;
        }
        if !blank {
            lines.rows.push(row);
        }
        Ok(lines)
    }
}
