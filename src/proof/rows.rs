//! Looks for rows of texts on pages: cells that stand one after the other, and
//! rows that follow each other with nothing in between.
//!
//! A page's glyphs come in reading order, so a value that stands beside another
//! label, or a row that has moved, is found here, where each text by itself is
//! there as often as it should be.

use super::text::{Text, bare};
use super::{Difference, Part};

/// The rows of a table, in their order; a cell may be empty.
pub(super) struct Table<'a> {
    /// What it is, in words, for a difference.
    pub what: &'a str,
    pub rows: Vec<Vec<String>>,
    /// Headings that stand again where the table runs on over a page.
    pub headings: &'a [String],
    /// Whether nothing but the foot follows it.
    pub is_last: bool,
}

impl<'a> Table<'a> {
    pub fn new(what: &'a str, rows: Vec<Vec<String>>) -> Self {
        Self { what, rows, headings: &[], is_last: false }
    }
}

/// That `table` stands on the pages of `part`, row after row.
pub(super) fn compare(part: &Part, table: &Table) -> Option<Difference> {
    let text = &part.text;
    let headings: String = table.headings.iter().map(|text| bare(text)).collect();
    let reader = Reader { text, feet: &part.feet, headings };
    let first = table.rows.first()?;
    // The furthest that any beginning got: the row that is missing.
    let mut best = 0;
    for (at, _) in text.bare.match_indices(&joined(first)) {
        let reached = reader.follow(at, &table.rows);
        match reached {
            (rows, end) if rows == table.rows.len() => {
                if !table.is_last || reader.is_foot(end) {
                    return None;
                }
                best = best.max(rows.saturating_sub(1));
            }
            (rows, _) => best = best.max(rows),
        }
    }
    let row: Vec<&str> = table.rows[best]
        .iter()
        .map(String::as_str)
        .filter(|cell| !cell.is_empty())
        .collect();
    let what = format!(
        "expected the row \"{}\" of {}, which is not there or not in its place",
        row.join(" | "),
        table.what
    );
    Some(Difference::new(part.first, what))
}

fn joined(row: &[String]) -> String {
    row.iter().map(|cell| bare(cell)).collect()
}

struct Reader<'t> {
    text: &'t Text,
    /// How a page's foot begins.
    feet: &'t [String],
    headings: String,
}

impl Reader<'_> {
    /// How many of `rows` stand one after the other from `at` on, and where the
    /// last of them ends.
    fn follow(&self, at: usize, rows: &[Vec<String>]) -> (usize, usize) {
        let mut end = at;
        for (index, row) in rows.iter().enumerate() {
            let next = self.row(end, row).or_else(|| {
                let over = self.next_page(end).filter(|_| index > 0)?;
                self.row(over, row)
            });
            match next {
                Some(next) => end = next,
                None => return (index, end),
            }
        }
        (rows.len(), end)
    }

    /// Where `row` ends, if it stands at `at` with each cell at the start of a
    /// run.
    fn row(&self, at: usize, row: &[String]) -> Option<usize> {
        let mut end = at;
        for cell in row.iter().map(|cell| bare(cell)).filter(|cell| !cell.is_empty()) {
            if !self.text.is_edge(end) || !self.text.bare[end..].starts_with(&cell) {
                return None;
            }
            end += cell.len();
        }
        self.text.is_edge(end).then_some(end)
    }

    fn is_foot(&self, at: usize) -> bool {
        self.feet.iter().any(|foot| self.text.bare[at..].starts_with(foot))
    }

    /// Where the table goes on, if only the foot of its page follows `at`.
    fn next_page(&self, at: usize) -> Option<usize> {
        if !self.is_foot(at) {
            return None;
        }
        let start = *self.text.pages.iter().find(|start| **start > at)?;
        let again = self.text.bare[start..].starts_with(&self.headings);
        Some(start + if again { self.headings.len() } else { 0 })
    }
}

#[cfg(test)]
mod tests {
    use super::super::text::tests::page;
    use super::*;

    #[track_caller]
    fn check(why: &str, pages: &[&[&str]], rows: &[&[&str]], missing: Option<&str>) {
        let pages: Vec<_> = pages.iter().map(|runs| page(runs)).collect();
        let part = Part::new(1, &pages, vec!["Foot".to_owned()]);
        let owned = |row: &&[&str]| row.iter().map(|cell| (*cell).to_owned()).collect();
        let headings = ["No.".to_owned(), "Note".to_owned()];
        let table = Table {
            what: "a table",
            rows: rows.iter().map(owned).collect(),
            headings: &headings,
            is_last: true,
        };
        let found = compare(&part, &table).map(|found| found.what);
        let wanted = missing.map(|row| {
            format!(
                "expected the row \"{row}\" of a table, which is not there or not in its \
                 place"
            )
        });
        assert_eq!(found, wanted, "{why}");
    }

    #[test]
    fn rows_stand_one_after_the_other_and_cells_in_their_row() {
        let rows: &[&[&str]] = &[&["1", "HB-1", "large print"], &["2", "HB-2", ""]];
        let right: &[&str] = &["1", "HB-1", "large", " print", "2", "HB-2", "Foot"];
        check("as planned", &[right], rows, None);
        let swapped: &[&str] = &["2", "HB-2", "1", "HB-1", "large print", "Foot"];
        check("rows the other way round", &[swapped], rows, Some("2 | HB-2"));
        let moved: &[&str] = &["1", "HB-1", "2", "HB-2", "large print", "Foot"];
        check("a note beside another", &[moved], rows, Some("1 | HB-1 | large print"));
        let other: &[&str] = &["1", "HB-2", "large print", "2", "HB-1", "Foot"];
        check("numbers swapped", &[other], rows, Some("1 | HB-1 | large print"));
        let cut: &[&str] = &["11", "HB-1", "large print", "2", "HB-2", "Foot"];
        check("half of a figure", &[cut], rows, Some("1 | HB-1 | large print"));
        let more: &[&str] = &["1", "HB-1", "large print", "2", "HB-2", "large", "Foot"];
        check("a note too many", &[more], rows, Some("2 | HB-2"));
    }

    #[test]
    fn a_table_runs_on_over_a_page_with_its_headings() {
        let rows: &[&[&str]] = &[&["1", "HB-1"], &["2", "HB-2"]];
        let first: &[&str] = &["No.", "Note", "1", "HB-1", "Foot", "Page 1"];
        let second: &[&str] = &["No.", "Note", "2", "HB-2", "Foot", "Page 2"];
        check("with headings", &[first, second], rows, None);
        let bare: &[&str] = &["2", "HB-2", "Foot", "Page 2"];
        check("without", &[first, bare], rows, None);
        let other: &[&str] = &["Stray", "2", "HB-2", "Foot", "Page 2"];
        check("after another text", &[first, other], rows, Some("2 | HB-2"));
        let early: &[&str] = &["No.", "Note", "1", "HB-1", "Stray", "Foot", "Page 1"];
        check("before another text", &[early, second], rows, Some("2 | HB-2"));
    }
}
