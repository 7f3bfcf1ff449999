//! Rows and columns of a sheet that nobody sees: hidden by hand or by a filter, or
//! without height or width.
//!
//! The library says nothing of them. Which part of the archive is the sheet is not
//! found a second time: [`Watched`] tells where the library reads.

use std::cell::Cell;
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Cursor, Read, Seek, SeekFrom};
use std::rc::Rc;

use quick_xml::events::{BytesStart, Event};

use super::places::{attributes, place, reader};
use crate::import::MOST_COLUMNS;

/// Bytes, and the place in them from which they were last read.
pub(super) struct Watched<'a> {
    bytes: Cursor<&'a [u8]>,
    place: Rc<Cell<u64>>,
}

impl<'a> Watched<'a> {
    pub fn new(bytes: &'a [u8], place: Rc<Cell<u64>>) -> Self {
        Self { bytes: Cursor::new(bytes), place }
    }
}

impl Read for Watched<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        self.bytes.read(buffer)
    }
}

impl Seek for Watched<'_> {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        let place = self.bytes.seek(to)?;
        self.place.set(place);
        Ok(place)
    }
}

/// What nobody sees of a sheet.
#[derive(Debug, Default)]
pub(super) struct Hidden {
    /// By their numbers from 0. As long as the last hidden row is far down, which
    /// the size of what is unpacked bounds.
    rows: Vec<bool>,
    /// By their places from 0.
    columns: BTreeSet<usize>,
}

impl Hidden {
    /// Of the sheet whose part of the workbook has its data at `start`; `None` if that
    /// is not just one part, or it cannot be read.
    pub fn of_part(bytes: &[u8], start: u64) -> Option<Self> {
        let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).ok()?;
        let mut found = None;
        for index in 0..archive.len() {
            // Only what was opened has a place.
            let place = archive.by_index(index).ok()?.data_start();
            if place == Some(start) && found.replace(index).is_some() {
                return None;
            }
        }
        let part = archive.by_index(found?).ok()?;
        Self::of_xml(BufReader::new(part))
    }

    fn of_xml(xml: impl BufRead) -> Option<Self> {
        let mut reader = reader(xml);
        let mut hidden = Self::default();
        // As the library counts them: a row goes on from the one before.
        let (mut row, mut is_hidden) = (0, false);
        let mut buffer = Vec::new();
        loop {
            buffer.clear();
            match reader.read_event_into(&mut buffer).ok()? {
                Event::Start(tag) => match tag.local_name().as_ref() {
                    "col" => hidden.add_columns(&tag),
                    "row" => {
                        row = row_of(&tag).unwrap_or(row);
                        is_hidden = is_unseen(&tag, "ht");
                    }
                    // A cell can be of another row than it stands in.
                    "c" if is_hidden => hidden.add_row(row_of(&tag).unwrap_or(row)),
                    _ => {}
                },
                Event::End(tag) => match tag.local_name().as_ref() {
                    "row" => row += 1,
                    "sheetData" => return Some(hidden),
                    _ => {}
                },
                Event::Eof => return None,
                _ => {}
            }
        }
    }

    fn add_row(&mut self, row: usize) {
        if self.rows.len() <= row {
            self.rows.resize(row + 1, false);
        }
        self.rows[row] = true;
    }

    fn add_columns(&mut self, tag: &BytesStart) {
        if !is_unseen(tag, "width") {
            return;
        }
        let number = |name: &str| value(tag, name).and_then(|n| n.parse().ok());
        let first: usize = number("min").unwrap_or(1);
        let last: usize = number("max").unwrap_or(MOST_COLUMNS);
        self.columns.extend(first.saturating_sub(1)..last.min(MOST_COLUMNS));
    }

    /// Whether the row `number`, from 1, is hidden.
    pub fn has_row(&self, number: u32) -> bool {
        let index = (number as usize).checked_sub(1);
        index.and_then(|index| self.rows.get(index)).is_some_and(|hidden| *hidden)
    }

    /// Whether the column at `place`, from 0, is hidden.
    pub fn has_column(&self, place: usize) -> bool {
        self.columns.contains(&place)
    }
}

/// The attribute `name` of a tag, as it is written.
fn value<'a>(tag: &'a BytesStart, name: &str) -> Option<&'a str> {
    attributes(tag.attributes_raw()).find(|(known, _)| *known == name).map(|(_, v)| v)
}

/// The row, from 0, that a tag's `r` names.
fn row_of(tag: &BytesStart) -> Option<usize> {
    let (_, row) = place(value(tag, "r")?)?;
    usize::try_from(row.checked_sub(1)?).ok()
}

/// Whether a row or a column is hidden, or its `size` is nothing.
fn is_unseen(tag: &BytesStart, size: &str) -> bool {
    let hidden = value(tag, "hidden");
    hidden.is_some_and(|hidden| !["0", "false"].contains(&hidden.trim()))
        || value(tag, size)
            .and_then(|size| size.trim().parse::<f64>().ok())
            .is_some_and(|size| size <= 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_hidden_is_known_by_its_place() {
        let hidden = Hidden::of_xml(
            "<worksheet><cols><col min=\"2\" max=\"3\" hidden=\"true\"/><col min=\"5\" \
             max=\"5\" width=\"0\"/><col min=\"7\" max=\"7\" hidden=\"0\" width=\"9\"/>\
             <col min=\"199\" max=\"16384\" hidden=\"1\"/></cols><sheetData>\
             <row><c/></row><row hidden=\"1\"><c/></row><row r=\"5\"/>\
             <row ht=\"0\"><c/></row><row r=\"9\" hidden=\"1\"><c r=\"A11\"/></row>\
             <row hidden=\"false\"><c/></row></sheetData></worksheet>"
                .as_bytes(),
        )
        .unwrap();
        let rows: Vec<u32> = (0..20).filter(|row| hidden.has_row(*row)).collect();
        assert_eq!(rows, [2, 6, 11]);
        let columns: Vec<usize> = (0..300).filter(|at| hidden.has_column(*at)).collect();
        assert_eq!(columns, [1, 2, 4, 198, 199]);
        assert!(Hidden::of_xml("<worksheet><sheetData>".as_bytes()).is_none());
    }
}
