//! A workbook: an archive as it comes, or its parts as text.
//!
//! An input that is no archive is the parts of one, each after a line `=== name`;
//! those that are left out are an ordinary workbook's.

use std::io::{Cursor, Write};
use std::path::Path;

use kitwright::import;
use zip::write::SimpleFileOptions;

use super::{MOST, faults, lab, orders_of};

pub const WORDS: &str = include_str!("../../words/workbook.txt");

const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const OFFICE: &str =
    "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const PACKAGE: &str = "http://schemas.openxmlformats.org/package/2006";

pub fn read(data: &[u8]) {
    if data.len() > MOST {
        return;
    }
    let bytes = if data.starts_with(b"PK") {
        data.to_vec()
    } else {
        let text = String::from_utf8_lossy(data);
        let Some(bytes) = archive(&parts_of(&text)) else { return };
        bytes
    };
    let columns = &lab().columns;
    match import::read(Path::new("orders.xlsx"), &bytes, columns) {
        Ok(rows) => drop(orders_of(&rows)),
        Err(found) => faults::of_export(&found),
    }
}

/// The parts that an input gives, with their names.
fn parts_of(text: &str) -> Vec<(String, String)> {
    let mut parts: Vec<(String, String)> = Vec::new();
    for line in text.split_inclusive('\n') {
        match line.strip_prefix("=== ") {
            Some(name) => parts.push((name.trim().to_owned(), String::new())),
            None => {
                if let Some((_, part)) = parts.last_mut() {
                    part.push_str(line);
                }
            }
        }
    }
    let given = |wanted: &str, parts: &[(String, String)]| {
        parts.iter().any(|(name, _)| name == wanted)
    };
    for (name, part) in usual() {
        if !given(name, &parts) {
            parts.push((name.to_owned(), part));
        }
    }
    parts
}

/// The parts of an ordinary workbook of one sheet, but for the sheet.
fn usual() -> Vec<(&'static str, String)> {
    let kinds = "application/vnd.openxmlformats-officedocument.spreadsheetml";
    vec![
        (
            "[Content_Types].xml",
            format!(
                "<Types xmlns=\"{PACKAGE}/content-types\"><Default Extension=\"rels\" \
                 ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/>\
                 <Default Extension=\"xml\" ContentType=\"application/xml\"/>\
                 <Override PartName=\"/xl/workbook.xml\" \
                 ContentType=\"{kinds}.sheet.main+xml\"/></Types>"
            ),
        ),
        (
            "_rels/.rels",
            format!(
                "<Relationships xmlns=\"{PACKAGE}/relationships\"><Relationship Id=\"a\" \
                 Type=\"{OFFICE}/officeDocument\" Target=\"xl/workbook.xml\"/>\
                 </Relationships>"
            ),
        ),
        (
            "xl/workbook.xml",
            format!(
                "<workbook xmlns=\"{MAIN}\" xmlns:r=\"{OFFICE}\"><sheets>\
                 <sheet name=\"Orders\" sheetId=\"1\" r:id=\"a\"/></sheets></workbook>"
            ),
        ),
        (
            "xl/_rels/workbook.xml.rels",
            format!(
                "<Relationships xmlns=\"{PACKAGE}/relationships\">\
                 <Relationship Id=\"a\" Type=\"{OFFICE}/worksheet\" \
                 Target=\"worksheets/sheet1.xml\"/>\
                 <Relationship Id=\"b\" Type=\"{OFFICE}/sharedStrings\" \
                 Target=\"sharedStrings.xml\"/>\
                 <Relationship Id=\"c\" Type=\"{OFFICE}/styles\" Target=\"styles.xml\"/>\
                 </Relationships>"
            ),
        ),
        ("xl/styles.xml", format!("<styleSheet xmlns=\"{MAIN}\"/>")),
        ("xl/sharedStrings.xml", format!("<sst xmlns=\"{MAIN}\"/>")),
    ]
}

fn archive(parts: &[(String, String)]) -> Option<Vec<u8>> {
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, part) in parts {
        archive.start_file(name.as_str(), SimpleFileOptions::default()).ok()?;
        archive.write_all(part.as_bytes()).ok()?;
    }
    Some(archive.finish().ok()?.into_inner())
}

/// A workbook with these texts as its cells; `None` if XML cannot hold one of them.
pub fn of_texts(grid: &[Vec<String>]) -> Option<Vec<u8>> {
    let mut sheet = format!("<worksheet xmlns=\"{MAIN}\"><sheetData>");
    for (row, cells) in grid.iter().enumerate() {
        sheet.push_str(&format!("<row r=\"{}\">", row + 1));
        for (column, cell) in cells.iter().enumerate() {
            // XML 1.0, section 2.2, and line ends, which it turns into others. A
            // spreadsheet takes `_x0041_` for a letter.
            let plain = |c: char| {
                c >= ' ' && !matches!(c, '\u{FFFE}' | '\u{FFFF}' | '\u{7F}'..='\u{9F}')
            };
            if !cell.chars().all(plain) || cell.contains("_x") {
                return None;
            }
            let text =
                cell.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
            let place = format!("{}{}", letters(column), row + 1);
            sheet.push_str(&format!(
                "<c r=\"{place}\" t=\"inlineStr\"><is><t xml:space=\"preserve\">{text}</t></is></c>"
            ));
        }
        sheet.push_str("</row>");
    }
    sheet.push_str("</sheetData></worksheet>");
    let mut parts = parts_of("");
    parts.push(("xl/worksheets/sheet1.xml".into(), sheet));
    archive(&parts)
}

/// The name of a column, `A` for 0.
fn letters(column: usize) -> String {
    let letter = char::from(b'A' + (column % 26) as u8);
    match column / 26 {
        0 => letter.to_string(),
        rest => format!("{}{letter}", letters(rest - 1)),
    }
}
