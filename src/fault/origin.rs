//! Where the text of a source came from, if it was written from an export.
//!
//! A fault of such a text is shown by file, row and column, with what the cell
//! says: nobody has seen the line of the text that it is in.

use std::path::Path;
use std::sync::Arc;

use super::Source;

/// The most characters of a cell that a report shows.
const MOST_SHOWN: usize = 80;

/// The row, or the entry, that a text was written from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Origin {
    /// File and row, such as `orders.csv, row 5`.
    pub place: String,
    /// What each field was taken from; a field that was left empty, too.
    pub cells: Vec<Cell>,
}

/// What one field was taken from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// Dotted name of the field, such as `patient.weight` or `dose[2].times`.
    pub field: Arc<str>,
    /// The cell's own name, such as `column "Weight"`.
    pub name: Arc<str>,
    /// The cell's text as the export has it.
    pub text: String,
}

impl Origin {
    /// Where a fault of `field` is, and what stands there.
    pub(super) fn describe(&self, field: &str) -> (String, Option<String>) {
        let Some(cell) = self.cells.iter().find(|cell| &*cell.field == field) else {
            return (self.place.clone(), None);
        };
        let path = format!("{}, {}", self.place, cell.name);
        let note = if cell.text.is_empty() {
            "it is empty".to_owned()
        } else {
            format!("it reads `{}`", visible(&cell.text))
        };
        (path, Some(note))
    }
}

impl Source {
    /// How a command line names the order `number` that was read from here; `FILE`
    /// where it was not from a file of its own.
    pub(crate) fn on_the_command_line(&self, number: &str) -> String {
        match &self.origin {
            Some(origin) => {
                // The row stands after it.
                let file = origin.place.rsplit_once(", ").map_or("", |(file, _)| file);
                format!("{} --order {number}", shell_word(file))
            }
            None if Path::new(&self.name).is_file() => shell_word(&self.name),
            None => "FILE".into(),
        }
    }
}

/// A word as a shell takes it.
pub(crate) fn shell_word(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "_-./=:,+@".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        return word.to_owned();
    }
    format!("'{}'", word.replace('\'', "'\\''"))
}

/// `text` with what cannot be seen written out, and cut where it is long.
pub(crate) fn visible(text: &str) -> String {
    let mut out = String::new();
    for (count, c) in text.chars().enumerate() {
        if count == MOST_SHOWN {
            out.push_str(" ...");
            break;
        }
        if crate::fields::forbidden(c) {
            out.extend(c.escape_default());
        } else {
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::{Fault, Source};

    fn cell(field: &str, name: &str, text: &str) -> Cell {
        Cell { field: field.into(), name: name.into(), text: text.into() }
    }

    fn origin() -> Origin {
        Origin {
            place: "orders.csv, row 5".into(),
            cells: vec![
                cell("patient.weight", "column \"Weight\"", "150"),
                cell("dose[1].note", "column \"Note 1\"", "with food"),
                cell("dose[2].note", "column \"Note 2\"", "a\u{202E}b"),
            ],
        }
    }

    #[test]
    fn a_fault_of_an_exported_row_is_shown_by_row_column_and_cell() {
        let source = Source::exported(origin(), "weight = \"150\"\n");
        let fault = Fault::new("`150` is not a weight", "write the number and its unit")
            .at(&source, 9..14, "patient.weight");
        assert_eq!(
            fault.plain(),
            "error: `150` is not a weight\n\
             --> orders.csv, row 5, column \"Weight\"\n \
             = note: it reads `150`\n \
             = help: write the number and its unit"
        );
    }

    #[test]
    fn what_cannot_be_seen_in_a_cell_is_written_out() {
        let (path, note) = origin().describe("dose[2].note");
        assert_eq!(path, "orders.csv, row 5, column \"Note 2\"");
        assert_eq!(note.as_deref(), Some("it reads `a\\u{202e}b`"));
    }

    #[test]
    fn a_field_that_no_column_gives_is_shown_by_its_row() {
        assert_eq!(origin().describe("dose"), ("orders.csv, row 5".into(), None));
    }
}
