//! A table as text: no row is lost, and no cell.

use std::path::Path;
use std::sync::LazyLock;

use kitwright::fault::Origin;
use kitwright::import::columns::Columns;
use kitwright::import::{self, Row};
use kitwright::order::Order;
use unicode_normalization::UnicodeNormalization;

use super::{LAB, MOST, faults, lab_of, orders_of, workbook};

pub const WORDS: &str = include_str!("../../words/table.txt");

/// Ways in which exports are read: by the names of fields, by the laboratory's
/// columns, and in other encodings.
static WAYS: LazyLock<Vec<Columns>> = LazyLock::new(|| {
    let plain = LAB.split("[columns]").next().unwrap_or_default();
    let by_name = format!("{plain}[columns]\ndefault_protocol = \"four-card\"\n");
    let mapped = LAB.replace("\"utf-8\"", "\"windows-1250\"");
    [by_name.as_str(), LAB, mapped.as_str()].map(|text| lab_of(text).columns).to_vec()
});

pub fn read(data: &[u8]) {
    if data.len() > MOST {
        return;
    }
    for columns in WAYS.iter() {
        match import::read(Path::new("orders.csv"), data, columns) {
            Ok(rows) => drop(orders_of(&rows)),
            Err(found) => faults::of_export(&found),
        }
    }
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(data);
    let grid: Vec<Vec<String>> = reader
        .records()
        .map_while(Result::ok)
        .map(|record| record.iter().map(str::to_owned).collect())
        .collect();
    for columns in &WAYS[..2] {
        written(&grid, columns);
    }
}

/// The same cells in files of other forms make the same orders.
fn written(grid: &[Vec<String>], columns: &Columns) {
    let blank = |row: &&Vec<String>| row.iter().all(|cell| cell.trim().is_empty());
    let Some(header) = grid.iter().find(|row| !blank(row)) else { return };
    let cells = grid.iter().skip_while(blank).skip(1).filter(|row| !blank(row));
    let body: Vec<&Vec<String>> = cells.collect();
    let Ok(rows) = import::read(Path::new("a.csv"), &delimited(grid, b','), columns)
    else {
        return;
    };
    assert_eq!(rows.len(), body.len(), "law: rows are lost, or made up");
    let orders = orders_of(&rows);
    for ((row, order), cells) in rows.iter().zip(&orders).zip(&body) {
        match order {
            Some(order) => kept(header, cells, row, order, columns),
            None => assert!(row.and_then(super::order_of).is_err(), "law: neither nor"),
        }
    }
    let same = |other: &[Row], what: &str| {
        let texts = |rows: &[Row]| -> Vec<(String, usize)> {
            let one = |row: &Row| (row.source.text.clone(), row.faults.len());
            rows.iter().map(one).collect()
        };
        assert_eq!(texts(&rows), texts(other), "law: other orders from {what}");
    };
    for (delimiter, what) in [(b';', "semicolons"), (b'\t', "tabs")] {
        if let Ok(other) =
            import::read(Path::new("a.tsv"), &delimited(grid, delimiter), columns)
        {
            same(&other, what);
        }
    }
    if let Some(bytes) = workbook::of_texts(grid)
        && grid.iter().all(|row| row.len() == header.len())
    {
        match import::read(Path::new("a.xlsx"), &bytes, columns) {
            Ok(other) => same(&other, "a workbook"),
            Err(found) => panic!("law: no workbook: {}", found[0].plain()),
        }
    }
}

/// The cells as text, each in quotes, by the writer of the `csv` library.
fn delimited(grid: &[Vec<String>], delimiter: u8) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new()
        .delimiter(delimiter)
        .quote_style(csv::QuoteStyle::Always)
        .terminator(csv::Terminator::CRLF)
        .flexible(true)
        .from_writer(Vec::new());
    for row in grid {
        let _ = writer.write_record(row);
    }
    writer.into_inner().unwrap_or_default()
}

/// Every cell of an order that is read is in it, or in a column that is passed over.
fn kept(
    header: &[String],
    cells: &[String],
    row: &Row,
    order: &Order,
    columns: &Columns,
) {
    let origin: &Origin = row.source.origin.as_ref().expect("law: a row from nowhere");
    let mut doses = std::collections::BTreeSet::new();
    for (name, cell) in header.iter().zip(cells).filter(|(_, c)| !c.trim().is_empty()) {
        let words: Vec<&str> = name.split_whitespace().collect();
        let name: String = words.join(" ").nfc().collect();
        if columns.ignore.contains(&name) {
            continue;
        }
        let shown = format!("column \"{name}\"");
        let found = origin.cells.iter().find(|cell| *cell.name == *shown);
        let found =
            found.unwrap_or_else(|| panic!("law: the cell `{cell}` of {name} is lost"));
        let start: String = cell.chars().take(200).collect();
        assert_eq!(found.text, start, "law: another cell in {name}");
        let clean: String = cell.trim().nfc().collect();
        match &*found.field {
            "order" => assert_eq!(order.number, cell.trim(), "law: another number"),
            "patient.family" => {
                assert_eq!(order.patient.family, clean, "law: another name")
            }
            "patient.given" => {
                assert_eq!(order.patient.given, clean, "law: another name")
            }
            "patient.born" if cell.len() == 10 && cell.as_bytes()[4] == b'-' => {
                let born = order.patient.born.to_string();
                assert_eq!(&born, cell, "law: another birth date");
            }
            "patient.weight" => {
                assert!(order.patient.weight.is_some(), "law: the weight is lost");
            }
            field => {
                if let Some((dose, _)) =
                    field.split_once('.').filter(|f| f.0.starts_with("dose"))
                {
                    doses.insert(dose.to_owned());
                }
            }
        }
    }
    assert_eq!(order.doses.len(), doses.len(), "law: a dose is lost, or made up");
}
