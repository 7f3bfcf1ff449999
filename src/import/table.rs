//! Rows of a table, from whichever file, become orders in the making.
//!
//! Takes a header and rows of cells, gives a [`Row`] for each. Every column is
//! read, passed over because the laboratory says so, or a fault: nothing that
//! an export says of a patient is lost without a word.

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use super::columns::{Column, Columns, DateFormat, Kind, clean};
use super::draft::{Draft, Entry};
use super::value::{self, Half, Value};
use super::{LONGEST_CELL, MOST_COLUMNS, Row, quoted};
use crate::fault::{Fault, nearest, visible};
use crate::units::WeightUnit;

/// The longest header, in characters.
const LONGEST_HEADER: usize = 200;

/// A table whose header has been read.
pub(super) struct Mapper<'a> {
    file: &'a str,
    columns: &'a Columns,
    width: usize,
    /// What is read: the place in a row, and the column.
    read: Vec<(usize, Reading)>,
    /// Places of columns without a header, whose cells must be empty.
    nameless: Vec<usize>,
}

/// A column that is read, with the names it has in messages.
struct Reading {
    column: Column,
    field: Arc<str>,
    name: Arc<str>,
}

/// How many of `header`'s names the laboratory's columns know, in any capitals.
pub(super) fn known_headers(header: &[String], columns: &Columns) -> usize {
    let wanted: BTreeSet<String> =
        wanted(columns).iter().map(|column| column.header.to_lowercase()).collect();
    header.iter().filter(|name| wanted.contains(&clean(name).to_lowercase())).count()
}

/// Whether every column that must be there is.
pub(super) fn has_headers(header: &[String], columns: &Columns) -> bool {
    let header: Vec<String> = header.iter().map(|name| clean(name)).collect();
    let must = |column: &Column| {
        !columns.mapped().is_empty() || (column.field.required && column.dose.is_none())
    };
    wanted(columns)
        .iter()
        .filter(|column| must(column))
        .all(|column| header.contains(&column.header))
}

fn wanted(columns: &Columns) -> Vec<Column> {
    if columns.mapped().is_empty() {
        Columns::by_name()
    } else {
        columns.mapped().to_vec()
    }
}

impl<'a> Mapper<'a> {
    /// Matches `header`, which is row `row`, with the laboratory's columns.
    ///
    /// # Errors
    ///
    /// Every column that is missing, unknown or twice there.
    pub fn new(
        file: &'a str,
        row: u32,
        header: &[String],
        columns: &'a Columns,
    ) -> Result<Self, Vec<Fault>> {
        let mut faults = Vec::new();
        let mut wrong = |what: String, help: String| {
            let place = format!("{file}, row {row}");
            faults.push(super::fault_at(&place, what, help));
        };
        let mut names: Vec<String> = header.iter().map(|name| clean(name)).collect();
        while names.last().is_some_and(String::is_empty) {
            names.pop();
        }
        if names.len() > MOST_COLUMNS {
            wrong(
                format!(
                    "the table has {} columns, more than {MOST_COLUMNS}",
                    names.len()
                ),
                "export the columns that orders need".into(),
            );
            return Err(faults);
        }
        if let Some(long) =
            names.iter().find(|name| name.chars().count() > LONGEST_HEADER)
        {
            wrong(
                format!(
                    "the header `{}` has {} characters, more than {LONGEST_HEADER}",
                    visible(long),
                    long.chars().count()
                ),
                "put the headers in the first row that is not empty".into(),
            );
            return Err(faults);
        }
        let wanted = wanted(columns);
        let by_name = columns.mapped().is_empty();
        for column in wanted.iter().filter(|column| column.field.key == "weight") {
            let is_there = names.contains(&column.header);
            if let Some((said, unit)) =
                other_unit(&column.header, columns).filter(|_| is_there)
            {
                wrong(
                    format!(
                        "the column `{}` says {said}, and weight_unit in lab.toml says {unit}",
                        visible(&column.header)
                    ),
                    "find out which it is, and mend the header or weight_unit".into(),
                );
            }
        }
        for column in wanted.iter().filter(|column| column.field.kind == Kind::Date) {
            let is_there = names.contains(&column.header);
            if let Some((said, format)) =
                other_format(&column.header, columns).filter(|_| is_there)
            {
                wrong(
                    format!(
                        "the column `{}` says {}, and date_format in lab.toml says {}",
                        visible(&column.header),
                        said.words(),
                        format.words()
                    ),
                    "find out which it is, and mend the header or date_format".into(),
                );
            }
        }
        let is_near = |name: &String| {
            nearest(name, wanted.iter().map(|column| column.header.as_str())).is_some()
        };
        // An order has a number and a name at least.
        if names.iter().filter(|name| is_near(name)).count() < 2 {
            wrong(
                "the row holds no headers of orders".into(),
                "the headers are looked for in the first row that is not empty: take a \
                 title above them out of the export, or name the file's headers in \
                 [columns] of lab.toml"
                    .into(),
            );
            return Err(faults);
        }
        let known: Vec<&str> = names.iter().map(String::as_str).collect();
        let mut read = Vec::new();
        for column in &wanted {
            // An ignored column is never read, even where its header is the name
            // of a field.
            let ignored = columns.ignore.contains(&column.header);
            let at = names.iter().position(|name| *name == column.header);
            if let (Some(at), false) = (at, ignored) {
                read.push((at, column.clone()));
            } else if !by_name || (column.field.required && column.dose.is_none()) {
                wrong(
                    unread(column, columns),
                    if ignored {
                        "no order can be without it: take it out of `ignore`".into()
                    } else {
                        missing_help(column, &known, by_name)
                    },
                );
            }
        }
        if by_name {
            missing_of_doses(&read, columns, &mut wrong);
        }
        for (at, name) in names.iter().enumerate() {
            let shown = visible(name);
            if columns.ignore.contains(name) {
                continue;
            }
            if !name.is_empty() && names[..at].contains(name) {
                wrong(
                    format!("the column `{shown}` stands there twice"),
                    "give each column a header of its own".into(),
                );
            } else if !name.is_empty() && !read.iter().any(|(other, _)| *other == at) {
                wrong(
                    format!("nothing says what the column `{shown}` holds"),
                    unknown_help(name, &wanted),
                );
            }
        }
        if columns.default_protocol.is_none()
            && !wanted.iter().any(|column| column.field.key == "protocol" && !by_name)
            && !read.iter().any(|(_, column)| column.field.key == "protocol")
        {
            wrong(
                "no column says which protocol the orders are for".into(),
                "name its column in [columns] of lab.toml, or write there: \
                 default_protocol = \"four-card\""
                    .into(),
            );
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        // Columns in the order of the fields, so that a dose's columns follow
        // one another.
        let read = read
            .into_iter()
            .map(|(at, column)| {
                let field = match (column.dose, column.field.table) {
                    (Some(_), _) => column.field.name.into(),
                    (None, "") => column.field.name.into(),
                    (None, table) => format!("{table}.{}", column.field.name).into(),
                };
                let name = format!("column \"{}\"", column.header).into();
                (at, Reading { column, field, name })
            })
            .collect();
        let nameless = (0..names.len()).filter(|at| names[*at].is_empty()).collect();
        Ok(Self { file, columns, width: names.len(), read, nameless })
    }

    /// The columns that are read: their places, from 0, and their headers.
    pub fn columns(&self) -> impl Iterator<Item = (usize, &str)> {
        self.read.iter().map(|(at, read)| (*at, read.column.header.as_str()))
    }

    /// Reads row `number`; `None` for one without anything in it.
    pub fn row(&self, number: u32, cells: &[Value]) -> Option<Row> {
        if cells.iter().all(Value::is_empty) {
            return None;
        }
        let mut draft = Draft::new(format!("{}, row {number}", self.file));
        self.check_shape(&mut draft, cells);
        // The number in the order of each dose that has anything.
        let mut doses: HashMap<usize, usize> = HashMap::new();
        let mut reading = self.read.iter().peekable();
        while let Some((at, read)) = reading.next() {
            let Some(dose) = read.column.dose else {
                self.field(&mut draft, read, cells.get(*at).unwrap_or(&Value::Empty));
                if read.column.field.key == "order" {
                    self.protocol_of_all(&mut draft);
                }
                continue;
            };
            let mut group = vec![(read, cells.get(*at).unwrap_or(&Value::Empty))];
            while let Some((at, read)) =
                reading.next_if(|(_, next)| next.column.dose == Some(dose))
            {
                group.push((read, cells.get(*at).unwrap_or(&Value::Empty)));
            }
            if group.iter().any(|(_, cell)| !cell.is_empty()) {
                doses.insert(dose, draft.next_dose());
                self.dose(&mut draft, &group);
            }
        }
        self.check_halves(&mut draft, cells, &doses);
        Some(draft.finish())
    }

    /// A time that may be of the morning or of the evening, beside others of the row
    /// that say which: among those of the day, and among those of the doses.
    fn check_halves(
        &self,
        draft: &mut Draft,
        cells: &[Value],
        doses: &HashMap<usize, usize>,
    ) {
        for of_doses in [false, true] {
            let is_time = |read: &Reading| {
                matches!(read.column.field.kind, Kind::Time | Kind::Times)
                    && read.column.dose.is_some() == of_doses
            };
            let mut times: Vec<(&Reading, String, Half)> = Vec::new();
            for (at, read) in self.read.iter().filter(|(_, read)| is_time(read)) {
                let found = cells.get(*at).map(value::halves).unwrap_or_default();
                times.extend(found.into_iter().map(|(time, half)| (read, time, half)));
            }
            if !times.iter().any(|(_, _, half)| *half == Half::Said) {
                continue;
            }
            for (read, time, _) in times.iter().filter(|(.., half)| *half == Half::Either)
            {
                let number = read.column.dose.and_then(|dose| doses.get(&dose));
                let field = match number {
                    Some(number) => format!("dose[{number}].{}", read.field),
                    None => read.field.to_string(),
                };
                draft.wrong(
                    &field,
                    format!(
                        "`{}` has no am or pm, and other times beside it have",
                        visible(time)
                    ),
                    "write am or pm with it, too",
                );
            }
        }
    }

    /// Cells beyond the header, and cells that are far too long.
    fn check_shape(&self, draft: &mut Draft, cells: &[Value]) {
        let beyond = cells.iter().skip(self.width).find(|cell| !cell.is_empty());
        if let Some(cell) = beyond {
            draft.wrong(
                "",
                format!(
                    "a cell after the last column holds `{}`",
                    visible(&cell.shown())
                ),
                "give its column a header, or empty the cell",
            );
        }
        let nameless = self.nameless.iter().filter_map(|at| cells.get(*at));
        for cell in nameless.filter(|cell| !cell.is_empty()) {
            draft.wrong(
                "",
                format!(
                    "a cell in a column without a header holds `{}`",
                    visible(&cell.shown())
                ),
                "give its column a header, or empty the cell",
            );
        }
        let length = |cell: &Value| match cell {
            Value::Text(text) => text.chars().count(),
            _ => 0,
        };
        if let Some(long) = cells.iter().map(length).find(|long| *long > LONGEST_CELL) {
            draft.wrong(
                "",
                format!("a cell has {long} characters, more than {LONGEST_CELL}"),
                "shorten it; a quotation mark that is never closed looks like this, too",
            );
        }
    }

    fn field(&self, draft: &mut Draft, read: &Reading, cell: &Value) {
        let field = &read.column.field;
        draft.cell(read.field.clone(), read.name.clone(), cell.shown());
        if cell.is_empty() {
            match (&self.columns.default_protocol, field.key) {
                (Some(protocol), "protocol") => {
                    draft.set("", "protocol", Entry::Text(protocol.clone()));
                }
                (None, "protocol") => draft.wrong(
                    &read.field,
                    "the order has no protocol",
                    "fill the cell in, or write default_protocol in [columns] of lab.toml",
                ),
                _ if field.required => draft.wrong(
                    &read.field,
                    format!("the order has no `{}`", field.key),
                    "fill the cell in",
                ),
                _ => {}
            }
            return;
        }
        self.date(draft, &read.field, field.kind, cell);
        match value::read(cell, field.kind, self.columns) {
            Ok(entry) => draft.set(field.table, field.name, entry),
            Err((what, help)) => draft.wrong(&read.field, what, help),
        }
    }

    fn date(&self, draft: &mut Draft, field: &str, kind: Kind, cell: &Value) {
        if kind == Kind::Date {
            let order = value::day_and_month(cell, self.columns.date_format);
            draft.date(field, cell.shown(), order);
        }
    }

    /// Sets the laboratory's protocol where the table has no column for it.
    fn protocol_of_all(&self, draft: &mut Draft) {
        let has = self.read.iter().any(|(_, read)| read.column.field.key == "protocol");
        if let (Some(protocol), false) = (&self.columns.default_protocol, has) {
            draft.set("", "protocol", Entry::Text(protocol.clone()));
        }
    }

    fn dose(&self, draft: &mut Draft, group: &[(&Reading, &Value)]) {
        let number = draft.next_dose();
        let mut entries = Vec::new();
        for (read, cell) in group {
            let field = format!("dose[{number}].{}", read.field);
            draft.cell(field.as_str().into(), read.name.clone(), cell.shown());
            if cell.is_empty() {
                if read.column.field.required {
                    draft.wrong(
                        &field,
                        format!("the dose has no `{}`", read.column.field.key),
                        "fill the cell in, or empty the dose's other cells",
                    );
                }
                continue;
            }
            self.date(draft, &field, read.column.field.kind, cell);
            match value::read(cell, read.column.field.kind, self.columns) {
                Ok(entry) => entries.push((read.column.field.name, entry)),
                Err((what, help)) => draft.wrong(&field, what, help),
            }
        }
        draft.dose(entries);
    }
}

/// A dose whose columns are there in part.
fn missing_of_doses(
    read: &[(usize, Column)],
    columns: &Columns,
    wrong: &mut impl FnMut(String, String),
) {
    let doses: BTreeSet<usize> =
        read.iter().filter_map(|(_, column)| column.dose).collect();
    for column in Columns::by_name() {
        let Some(dose) = column.dose.filter(|dose| doses.contains(dose)) else {
            continue;
        };
        let there = read.iter().any(|(_, other)| other.header == column.header);
        if column.field.required && !there {
            wrong(
                unread(&column, columns),
                format!("dose {dose} needs its medicine, its form and its times"),
            );
        }
    }
}

/// The unit that a header of weights names and the one that the laboratory's file does,
/// where they are two.
fn other_unit(header: &str, columns: &Columns) -> Option<(&'static str, &'static str)> {
    let words = header.to_lowercase();
    let mut words = words.split(|c: char| !c.is_alphabetic());
    let said = words.find_map(value::weight_unit)?;
    let unit = match columns.weight_unit? {
        WeightUnit::Pound => "lb",
        WeightUnit::Kilogram => "kg",
    };
    (said != unit).then_some((said, unit))
}

/// The order of day and month that a header of dates shows, as `dd/mm/yyyy` does, and the
/// one that the laboratory's file names, where they are two.
fn other_format(header: &str, columns: &Columns) -> Option<(DateFormat, DateFormat)> {
    let words = header.to_lowercase();
    let words: Vec<&str> = words
        .split(|c: char| !c.is_alphabetic())
        .map(|word| match word {
            "d" | "dd" => "d",
            "m" | "mm" => "m",
            "yy" | "yyyy" => "y",
            _ => "",
        })
        .collect();
    let said = words.windows(3).find_map(|three| match three {
        ["d", "m", "y"] => Some(DateFormat::DayFirst),
        ["m", "d", "y"] => Some(DateFormat::MonthFirst),
        _ => None,
    })?;
    let format = columns.date_format?;
    (said != format).then_some((said, format))
}

/// Says why a column that is needed is not read.
fn unread(column: &Column, columns: &Columns) -> String {
    if columns.ignore.contains(&column.header) {
        format!("the column `{}` is needed and ignored", visible(&column.header))
    } else {
        format!("there is no column `{}`", visible(&column.header))
    }
}

fn missing_help(column: &Column, known: &[&str], by_name: bool) -> String {
    let unread = known.iter().copied().filter(|name| !name.is_empty());
    let near = match nearest(&column.header, unread) {
        Some(near) => format!("did you mean `{}`? ", visible(near)),
        None => String::new(),
    };
    if by_name {
        return format!("{near}name the file's headers in [columns] of lab.toml");
    }
    format!("{near}mend its name in [columns] of lab.toml, or the export")
}

fn unknown_help(name: &str, wanted: &[Column]) -> String {
    let headers = wanted.iter().map(|column| column.header.as_str());
    let near = match nearest(name, headers) {
        Some(near) => format!("did you mean `{}`? ", visible(near)),
        None => String::new(),
    };
    format!(
        "{near}name the field it fills in [columns] of lab.toml, or pass it over \
         there: ignore = [{}]",
        quoted(name)
    )
}
