//! Workbooks: the sheet of an XLSX file that holds the orders.
//!
//! Takes bytes, gives rows. Formulas are never worked out: the value that was
//! saved with one is read, and one without is a fault. What the archive unpacks
//! to is measured before the `calamine` library opens it.

mod hidden;
mod places;

use std::cell::Cell;
use std::collections::BTreeSet;
use std::io::{BufReader, Cursor, Read, Write};
use std::rc::Rc;

use calamine::{DataRef, Reader, SheetType, SheetVisible, Xlsx, XlsxError};

use hidden::{Hidden, Watched};
use places::wrong_place;

use super::columns::{Columns, clean};
use super::format::{self, Shown};
use super::table::{Mapper, has_headers, known_headers};
use super::value::Value;
use super::{MAX_UNPACKED, MOST_COLUMNS, MOST_ROWS, Row, fault_at};
use crate::fault::{Fault, suggest, visible};

/// The most files in the archive of a workbook.
const MOST_PARTS: usize = 10_000;
/// The most texts that the cells of a workbook share: each takes memory.
const MOST_TEXTS: u64 = 5_000_000;
const RESAVE: &str =
    "save it again as an Excel workbook (.xlsx) without a password, or as CSV";
/// The most sheets that are searched for the headers.
const MOST_SHEETS: usize = 100;

type Workbook<'a> = Xlsx<Watched<'a>>;

/// Reads the orders of a workbook.
///
/// # Errors
///
/// Faults of the file as a whole; those of a row are in the row.
pub(super) fn read(
    file: &str,
    bytes: &[u8],
    columns: &Columns,
) -> Result<Vec<Row>, Vec<Fault>> {
    measure(file, bytes).map_err(|fault| vec![fault])?;
    // What no spreadsheet program writes can be more than the library thought of.
    std::panic::catch_unwind(|| read_measured(file, bytes, columns)).unwrap_or_else(|_| {
        Err(vec![fault_at(
            file,
            "the workbook cannot be read: something in it is not as the format has it",
            RESAVE,
        )])
    })
}

fn read_measured(
    file: &str,
    bytes: &[u8],
    columns: &Columns,
) -> Result<Vec<Row>, Vec<Fault>> {
    let unreadable = |error: XlsxError| vec![unreadable(file, &error)];
    let place = Rc::new(Cell::new(0));
    let mut workbook: Workbook =
        Xlsx::new(Watched::new(bytes, place.clone())).map_err(unreadable)?;
    let sheet = find_sheet(file, &mut workbook, columns)?;
    drop(workbook.worksheet_cells_reader(&sheet).map_err(unreadable)?);
    let Some(hidden) = Hidden::of_part(bytes, place.get()) else {
        return Err(vec![fault_at(
            &format!("{file}, sheet \"{}\"", visible(&clean(&sheet))),
            "what is hidden of the sheet cannot be read",
            RESAVE,
        )]);
    };
    read_sheet(file, &mut workbook, &sheet, columns, &hidden)
}

/// Unpacks every part of the archive into nothing, counts, and looks at the places of
/// cells.
///
/// What a part says of its own size is not believed, and how many texts one says it
/// holds must be possible: the library takes memory for so many.
fn measure(file: &str, bytes: &[u8]) -> Result<(), Fault> {
    let damaged = |error: &dyn std::fmt::Display| {
        fault_at(
            file,
            format!(
                "the file is no workbook that can be opened: {}",
                visible(&error.to_string())
            ),
            RESAVE,
        )
    };
    let mut archive =
        zip::ZipArchive::new(Cursor::new(bytes)).map_err(|error| damaged(&error))?;
    if archive.len() > MOST_PARTS {
        return Err(fault_at(
            file,
            format!("the workbook has {} parts, more than {MOST_PARTS}", archive.len()),
            "save the sheet with the orders as a workbook of its own",
        ));
    }
    let mut left = MAX_UNPACKED;
    let mut counts = Counts::default();
    for index in 0..archive.len() {
        let part = archive.by_index(index).map_err(|error| damaged(&error))?;
        let mut part = Weighed::new(part.take(left + 1), &mut counts);
        let wrong = wrong_place(BufReader::new(&mut part));
        // What stands after the XML, and what is none, is weighed, too.
        let copied = std::io::copy(&mut part, &mut std::io::sink()).map(drop);
        let size = part.end().and_then(|size| copied.map(|()| size));
        let size = size.map_err(|error| damaged(&error))?;
        left = left.checked_sub(size).ok_or_else(|| {
            fault_at(
                file,
                format!(
                    "the workbook unpacks to more than {} MB",
                    MAX_UNPACKED / 1024 / 1024
                ),
                "save the sheet with the orders as a workbook of its own",
            )
        })?;
        if let Some(place) = wrong {
            return Err(fault_at(
                file,
                format!("the workbook names the cells `{}`", visible(&place)),
                "a cell is named by letters and a row, up to XFD1048576, and an area by \
                 its first cell and its last; save the file again from a spreadsheet \
                 program",
            ));
        }
    }
    if counts.most > MOST_TEXTS {
        return Err(fault_at(
            file,
            format!("the workbook says it has {} texts in its cells", counts.most),
            RESAVE,
        ));
    }
    Ok(())
}

/// The largest `uniqueCount` that stands anywhere in the parts, whichever the library
/// takes for the texts of the cells, in UTF-8 or in UTF-16.
#[derive(Default)]
struct Counts {
    most: u64,
    /// The end of what was seen: the attribute may go on in what follows.
    tail: Vec<u8>,
}

impl Counts {
    /// Longer than the attribute with any number that a program writes, in UTF-16.
    const REACH: usize = 256;

    /// Looks at the tail up to `end`.
    fn look(&mut self, end: usize) {
        // Its rarest letter.
        for at in memchr::memchr_iter(b'q', &self.tail[..end]) {
            let around = at.saturating_sub(6)..(at + Self::REACH).min(self.tail.len());
            // Without the zeros of UTF-16, and the spaces around the equals sign.
            let is_ink = |byte: &u8| !b"\0 \t\r\n".contains(byte);
            let text: Vec<u8> =
                self.tail[around].iter().copied().filter(is_ink).collect();
            let value = text
                .windows(NAME.len())
                .position(|window| window == NAME)
                .map(|name| &text[name + NAME.len()..]);
            self.most = self.most.max(value.map_or(0, count));
        }
    }

    /// Goes on with another part.
    fn end_part(&mut self) {
        self.look(self.tail.len());
        self.tail.clear();
    }
}

/// A part that is counted while it is read.
struct Weighed<'a, R> {
    part: R,
    counts: &'a mut Counts,
    size: u64,
    /// Why it could not be read to its end.
    broken: Option<std::io::Error>,
}

impl<'a, R: Read> Weighed<'a, R> {
    fn new(part: R, counts: &'a mut Counts) -> Self {
        Self { part, counts, size: 0, broken: None }
    }

    /// How large the part was, in bytes.
    fn end(self) -> std::io::Result<u64> {
        self.counts.end_part();
        self.broken.map_or(Ok(self.size), Err)
    }
}

impl<R: Read> Read for Weighed<'_, R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let read = match self.part.read(buffer) {
            Ok(read) => read,
            // The reader of XML may keep it to itself.
            Err(error) => {
                let told = std::io::Error::new(error.kind(), error.to_string());
                self.broken.get_or_insert(error);
                return Err(told);
            }
        };
        self.size += read as u64;
        self.counts.write_all(&buffer[..read])?;
        Ok(read)
    }
}

const NAME: &[u8] = b"uniqueCount";

/// The number after the name of an attribute; more than any if it cannot be seen.
fn count(value: &[u8]) -> u64 {
    let is_before = |byte: &&u8| b"=\"'".contains(byte);
    let before = value.iter().take_while(is_before).count();
    let figures: Vec<u8> =
        value[before..].iter().copied().take_while(u8::is_ascii_digit).collect();
    let is_whole = value.len() > before + figures.len();
    match (is_whole, figures.is_empty()) {
        (false, _) => u64::MAX,
        (true, true) => 0,
        (true, false) => String::from_utf8_lossy(&figures).parse().unwrap_or(u64::MAX),
    }
}

impl Write for Counts {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.tail.extend_from_slice(bytes);
        let end = self.tail.len().saturating_sub(Self::REACH);
        self.look(end);
        // As much before it as the attribute's name reaches.
        self.tail.drain(..end.saturating_sub(8));
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

fn unreadable(place: &str, error: &XlsxError) -> Fault {
    fault_at(
        place,
        format!("the workbook cannot be read: {}", visible(&error.to_string())),
        RESAVE,
    )
}

/// The sheet that the laboratory names, or the only one in sight whose first row
/// has all the headers. Of several nobody can tell whether all are meant, and the same
/// is so of one that is hidden, or that lacks a header.
fn find_sheet(
    file: &str,
    workbook: &mut Workbook,
    columns: &Columns,
) -> Result<String, Vec<Fault>> {
    let wrong = |what: String, help: String| Err(vec![fault_at(file, what, help)]);
    let sheets: Vec<(String, bool)> = workbook
        .sheets_metadata()
        .iter()
        .filter(|sheet| sheet.typ == SheetType::WorkSheet)
        .map(|sheet| (sheet.name.clone(), sheet.visible != SheetVisible::Visible))
        .collect();
    let in_sight: Vec<&str> = sheets
        .iter()
        .filter(|(_, is_hidden)| !is_hidden)
        .map(|(name, _)| name.as_str())
        .collect();
    if let Some(wanted) = &columns.sheet {
        if workbook.sheet_names().contains(wanted) {
            return Ok(wanted.clone());
        }
        // Spreadsheet programs give a sheet a name of at most 31 characters.
        let known: Vec<&str> =
            in_sight.iter().copied().filter(|name| name.len() < 200).collect();
        return wrong(
            format!("the workbook has no sheet `{wanted}`"),
            suggest(wanted, &known),
        );
    }
    if sheets.len() > MOST_SHEETS {
        return wrong(
            format!("the workbook has {} sheets, more than {MOST_SHEETS}", sheets.len()),
            "name the one with the orders in [columns] of lab.toml: sheet = \"Orders\""
                .into(),
        );
    }
    let mut found: Vec<&str> = Vec::new();
    let mut others: Vec<(&str, &str)> = Vec::new();
    for (name, is_hidden) in &sheets {
        let why = match headers_of(workbook, name, columns) {
            Ok(Headers::Whole { above: 0 }) if !is_hidden => {
                found.push(name);
                continue;
            }
            Ok(Headers::None) => continue,
            Ok(Headers::Whole { .. } | Headers::Part) if *is_hidden => {
                "has headers of orders, and is hidden"
            }
            Ok(Headers::Whole { .. }) => "has headers of orders below other rows",
            Ok(Headers::Part) => "has headers of orders, and not all of them",
            Ok(Headers::Unknown) | Err(_) => "cannot be looked through for headers",
        };
        others.push((name, why));
    }
    let chosen = match (&in_sight[..], &found[..]) {
        ([only], _) | (_, [only]) => *only,
        (_, []) => {
            return wrong(
                format!(
                    "none of the sheets {} has the headers",
                    visible(&in_sight.join(", "))
                ),
                "put the headers in the first row, or name the sheet in [columns] of \
                 lab.toml: sheet = \"Orders\""
                    .into(),
            );
        }
        (_, several) => {
            return wrong(
                format!("several sheets hold orders: {}", visible(&several.join(", "))),
                ONE_SHEET.into(),
            );
        }
    };
    let faults: Vec<Fault> = others
        .iter()
        .filter(|(name, _)| *name != chosen)
        .map(|(name, why)| {
            let (name, chosen) = (visible(name), visible(chosen));
            fault_at(file, format!("beside {chosen} the sheet {name} {why}"), ONE_SHEET)
        })
        .collect();
    if faults.is_empty() { Ok(chosen.to_owned()) } else { Err(faults) }
}

const ONE_SHEET: &str = "name the one that is meant in [columns] of lab.toml: sheet = \
                         \"Orders\"; or save each with orders as a workbook of its own, in \
                         sight, with all headers in its first row";

/// The most rows with a title and the like that are looked through for headers.
const MOST_ABOVE: usize = 10;

/// What a sheet has of the headers of orders in one of its first rows.
#[derive(Clone, Copy)]
enum Headers {
    None,
    /// Two or more: an order has a number and a name at least.
    Part,
    /// All that must be there, below so many rows with anything in them.
    Whole {
        above: usize,
    },
    /// The rows cannot be followed so far.
    Unknown,
}

fn headers_of(
    workbook: &mut Workbook,
    sheet: &str,
    columns: &Columns,
) -> Result<Headers, XlsxError> {
    let (mut above, mut found) = (0, Headers::None);
    let walked = walk(workbook, sheet, &BTreeSet::new(), |_, cells| {
        let header: Vec<String> = cells.iter().map(Value::shown).collect();
        if has_headers(&header, columns) {
            found = Headers::Whole { above };
        } else if known_headers(&header, columns) >= 2 {
            found = Headers::Part;
        }
        if matches!(found, Headers::Whole { .. }) || above == MOST_ABOVE {
            return Ok::<_, ()>(Next::Stop);
        }
        above += 1;
        Ok(Next::GoOn)
    })?;
    match (found, walked) {
        (Headers::None, Walked::TooWide(_) | Walked::OutOfOrder(_)) => {
            Ok(Headers::Unknown)
        }
        _ => Ok(found),
    }
}

fn read_sheet(
    file: &str,
    workbook: &mut Workbook,
    sheet: &str,
    columns: &Columns,
    hidden: &Hidden,
) -> Result<Vec<Row>, Vec<Fault>> {
    let place = format!("{file}, sheet \"{}\"", visible(&clean(sheet)));
    let unreadable = |error: XlsxError| vec![unreadable(&place, &error)];
    let unsolved = unsolved(workbook, sheet).map_err(unreadable)?;
    let mut rows: Vec<Row> = Vec::new();
    let mut numbers: Vec<u32> = Vec::new();
    let mut mapper: Option<Mapper> = None;
    let mut header_row = 0;
    // Hidden columns that are read and hold something.
    let mut unseen: BTreeSet<usize> = BTreeSet::new();
    let walked = walk(workbook, sheet, &unsolved, |number, cells| {
        let Some(mapper) = &mapper else {
            let header: Vec<String> = cells.iter().map(Value::shown).collect();
            mapper = Some(Mapper::new(file, number, &header, columns)?);
            header_row = number;
            return Ok(Next::GoOn);
        };
        let columns = mapper.columns().map(|(at, _)| at);
        unseen.extend(columns.filter(|at| {
            hidden.has_column(*at) && cells.get(*at).is_some_and(|cell| !cell.is_empty())
        }));
        if let Some(row) = mapper.row(number, cells) {
            rows.push(row);
            numbers.push(number);
        }
        if rows.len() > MOST_ROWS {
            return Err(vec![fault_at(
                &place,
                format!("the sheet has more than {MOST_ROWS} rows of orders"),
                "export fewer orders at once",
            )]);
        }
        Ok(Next::GoOn)
    })
    .map_err(unreadable)?;
    match walked {
        Walked::Whole => {}
        Walked::Refused(faults) => return Err(faults),
        Walked::TooWide(row) => {
            return Err(vec![fault_at(
                &format!("{file}, row {row}"),
                format!("the row has a cell beyond column {MOST_COLUMNS}"),
                "export the columns that orders need",
            )]);
        }
        Walked::OutOfOrder(row) => {
            return Err(vec![fault_at(
                &format!("{file}, row {row}"),
                "the rows or cells of the sheet are not in order",
                "open the workbook in a spreadsheet program and save it again",
            )]);
        }
    }
    let Some(mapper) = mapper else {
        return Err(vec![fault_at(
            &place,
            "the sheet is empty",
            "export the orders with a header in the first row",
        )]);
    };
    let headers = mapper.columns().filter(|(at, _)| unseen.contains(at));
    let mut faults: Vec<Fault> = headers
        .map(|(_, header)| {
            fault_at(
                &format!("{file}, row {header_row}"),
                format!("the column `{}` is hidden", visible(header)),
                "unhide it, so that what is read is what is seen; or delete it, and take \
                 it out of [columns] of lab.toml",
            )
        })
        .collect();
    if hidden.has_row(header_row) {
        faults.push(fault_at(
            &format!("{file}, row {header_row}"),
            "the row with the headers is hidden",
            "unhide it",
        ));
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    // Only the first of merged cells has a value, so that the rest would look
    // empty though a person sees the value in all of them.
    let merged = workbook.merge_cells_by_sheet_name(sheet).map_err(unreadable)?;
    // Some programs name an area by its other corners.
    let rows_of = |start: u32, end: u32| (start.min(end), start.max(end));
    let mut areas: Vec<(u32, u32)> =
        merged.iter().map(|area| rows_of(area.start.0, area.end.0)).collect();
    areas.sort_unstable();
    let mut areas = areas.into_iter().peekable();
    let mut covered = 0;
    for (row, number) in rows.iter_mut().zip(numbers) {
        if hidden.has_row(number) {
            row.complain(
                format!("row {number} is hidden, by hand or by a filter"),
                "unhide it if its kit is wanted, or delete it",
            );
        }
        // Rows count from 1 and areas from 0: `covered` is the first row after
        // all areas that begin at or above this one.
        while let Some((_, end)) = areas.next_if(|(start, _)| *start < number) {
            covered = covered.max(end.saturating_add(1));
        }
        if number <= covered {
            row.complain(
                format!("cells of row {number} are merged with others"),
                "unmerge them and fill in each cell",
            );
        }
    }
    Ok(rows)
}

/// Positions of formulas that no value was saved with.
fn unsolved(
    workbook: &mut Workbook,
    sheet: &str,
) -> Result<BTreeSet<(u32, u32)>, XlsxError> {
    let mut found = BTreeSet::new();
    let mut cells = workbook.worksheet_cells_reader(sheet)?;
    while let Some(cell) = cells.next_cell_with_formula_metadata()? {
        if cell.formula.is_some() && cell.value == DataRef::Empty {
            found.insert(cell.pos);
        }
    }
    Ok(found)
}

enum Next {
    GoOn,
    Stop,
}

/// How a walk over a sheet ended.
enum Walked<E> {
    Whole,
    Refused(E),
    /// The row has a cell beyond the last column that is read.
    TooWide(u32),
    OutOfOrder(u32),
}

/// Hands each row that has a cell to `take`, with its number from 1.
fn walk<E>(
    workbook: &mut Workbook,
    sheet: &str,
    unsolved: &BTreeSet<(u32, u32)>,
    mut take: impl FnMut(u32, &[Value]) -> Result<Next, E>,
) -> Result<Walked<E>, XlsxError> {
    let mut cells = workbook.worksheet_cells_reader(sheet)?;
    let mut row: Vec<Value> = Vec::new();
    let mut current = 0;
    while let Some((cell, style)) = cells.next_cell_with_style_id()? {
        let (row_index, column) = cell.get_position();
        let format = cells.styles().get(style).and_then(|s| s.number_format.as_ref());
        let format = format.map_or("General", |format| format.format_code.as_str());
        let value = if unsolved.contains(&(row_index, column)) {
            Value::Broken("a formula that was never worked out".into())
        } else {
            value(cell.get_value(), format)
        };
        if value.is_empty() {
            continue;
        }
        let number = row_index.saturating_add(1);
        if number < current {
            return Ok(Walked::OutOfOrder(number));
        }
        if number > current {
            if !row.is_empty() {
                match take(current, &row) {
                    Ok(Next::GoOn) => {}
                    Ok(Next::Stop) => return Ok(Walked::Whole),
                    Err(fault) => return Ok(Walked::Refused(fault)),
                }
            }
            row.clear();
            current = number;
        }
        let column = column as usize;
        if column >= MOST_COLUMNS {
            return Ok(Walked::TooWide(number));
        }
        if column < row.len() {
            return Ok(Walked::OutOfOrder(number));
        }
        row.resize(column, Value::Empty);
        row.push(value);
    }
    if row.is_empty() {
        return Ok(Walked::Whole);
    }
    match take(current, &row) {
        Ok(_) => Ok(Walked::Whole),
        Err(fault) => Ok(Walked::Refused(fault)),
    }
}

fn value(cell: &DataRef, format: &str) -> Value {
    match cell {
        DataRef::Empty => Value::Empty,
        DataRef::Int(number) => Value::Number(*number as f64, format.into()),
        DataRef::Float(number) => Value::Number(*number, format.into()),
        DataRef::String(text) => text_value(text, format),
        DataRef::SharedString(text) => text_value(text, format),
        DataRef::Bool(flag) => Value::Flag(*flag),
        DataRef::DateTime(moment) => Value::Moment(*moment, format.into()),
        // ISO 8601 in the cell: read as a text is, by the same rules.
        DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => {
            Value::Text(text.clone())
        }
        DataRef::Error(error) => Value::Broken(format!("the error {error}")),
    }
}

fn text_value(text: &str, format: &str) -> Value {
    let shown = match format::text(format) {
        _ if text.trim().is_empty() => Shown::Bare,
        shown => shown,
    };
    let seen = match shown {
        Shown::Bare => return Value::Text(text.to_owned()),
        Shown::With(more) => format!("with `{}`", visible(&more)),
        Shown::Otherwise => "otherwise".to_owned(),
    };
    Value::Broken(format!(
        "the text `{}`, shown {seen} by the format `{}`",
        visible(text),
        visible(format)
    ))
}
