//! Imposition: which label lies in which cell of which sheet.
//!
//! Takes a stock and how many labels each kit has, gives each label its cell.
//! No two labels share a cell, none lies on a cell that is used already, and
//! the labels of one kit lie on one sheet wherever a sheet can hold them.

use crate::stock::{Length, Medium, Stock};

/// How labels are laid on the sheets of one run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placing {
    /// The first free cell of the first sheet, counted from 1, row by row.
    pub start_at: usize,
    pub each_kit: EachKit,
    /// The printer's error, taken back: to the right and down.
    pub nudge: (Length, Length),
    pub feed: Feed,
}

impl Default for Placing {
    fn default() -> Self {
        Self {
            start_at: 1,
            each_kit: EachKit::Next,
            nudge: (Length::from_um(0), Length::from_um(0)),
            feed: Feed::HeadFirst,
        }
    }
}

/// Where each kit's first label lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum EachKit {
    /// In the next free cell.
    Next,
    /// At the start of a row.
    Row,
    /// On a sheet of its own.
    Sheet,
}

/// Which edge of a sheet goes into the printer first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Feed {
    HeadFirst,
    /// The sheet is turned, so it is printed turned.
    FootFirst,
}

impl Feed {
    pub const CHOICES: &'static [(&'static str, Self)] =
        &[("head-first", Self::HeadFirst), ("foot-first", Self::FootFirst)];
}

/// The cells of all kits of one file of labels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Imposition {
    /// For each kit, the cell of each label: see [`Stock::cell`].
    pub cells: Vec<Vec<usize>>,
    /// The first cell of the first sheet that is not free from the start, counted
    /// from 1: as was asked for, or 1 where not even one kit fits from there on.
    pub start_at: usize,
    /// How many sheets they take, a part-used first one included.
    pub sheets: usize,
    /// The first free cell of the last sheet, counted from 1, if it has one.
    pub free_from: Option<usize>,
}

/// Gives each label of each kit its cell.
pub fn impose(
    stock: &Stock,
    labels: &[usize],
    start_at: usize,
    each_kit: EachKit,
) -> Imposition {
    let (a_sheet, a_row) = (stock.cells_per_page(), stock.columns as usize);
    let first = start_at.saturating_sub(1) % a_sheet;
    let mut next = first;
    let mut cells = Vec::with_capacity(labels.len());
    for &count in labels {
        let step = match each_kit {
            EachKit::Next => 1,
            EachKit::Row => a_row,
            EachKit::Sheet => a_sheet,
        };
        // The part-used sheet counts as the first kit's own.
        if next > first {
            next = next.next_multiple_of(step);
        } else if each_kit == EachKit::Row {
            next = next.next_multiple_of(a_row);
        }
        let taken = next % a_sheet;
        if taken > 0 && taken + count > a_sheet {
            next = next.next_multiple_of(a_sheet);
        }
        cells.push((next..next + count).collect());
        next += count;
    }
    if cells.first().is_some_and(|cells: &Vec<usize>| cells[0] >= a_sheet) {
        // Nothing fits on what is left of the first sheet, so it is not printed.
        return impose(stock, labels, 1, each_kit);
    }
    let left = next % a_sheet;
    Imposition {
        start_at: first + 1,
        cells,
        sheets: next.div_ceil(a_sheet),
        free_from: (left > 0).then_some(left + 1),
    }
}

impl Placing {
    /// Refuses a first cell that the stock does not have, and a nudge that takes
    /// what is printed off the page.
    ///
    /// # Errors
    ///
    /// What is wrong and what would be right.
    pub fn check(&self, stock: &Stock) -> Result<(), (String, String)> {
        let cells = stock.cells_per_page();
        if (1..=cells).contains(&self.start_at) {
            return self.check_nudge(stock);
        }
        let what = format!("the stock {} has no cell {}", stock.name, self.start_at);
        let help = match stock.medium {
            Medium::Roll => "a roll has one label to a page: leave --start-at out".into(),
            Medium::Sheet(_) => format!(
                "count the cells row by row from the top left; give a number from 1 to \
                 {cells}"
            ),
        };
        Err((what, help))
    }
}

impl Placing {
    fn check_nudge(&self, stock: &Stock) -> Result<(), (String, String)> {
        let (width, height) = stock.page_size();
        let last = stock.cell(stock.cells_per_page() - 1);
        let inset = stock.inset.um();
        // The free margins of the page: left, top, right, bottom.
        let margins = [
            stock.left.um() + inset,
            stock.top.um() + inset,
            width.um() - last.x.um() - stock.label_width.um() + inset,
            height.um() - last.y.um() - stock.label_height.um() + inset,
        ];
        let turn = |side: usize| match self.feed {
            Feed::HeadFirst => margins[side],
            Feed::FootFirst => margins[(side + 2) % 4],
        };
        let (x, y) = (self.nudge.0.um(), self.nudge.1.um());
        if -x <= turn(0) && -y <= turn(1) && x <= turn(2) && y <= turn(3) {
            return Ok(());
        }
        Err((
            format!(
                "a nudge of {}, {} mm moves labels of {} off the page",
                self.nudge.0.to_mm(),
                self.nudge.1.to_mm(),
                stock.name
            ),
            format!(
                "to the right it can be {} to {} mm, and down {} to {} mm",
                Length::from_um(-turn(0)).to_mm(),
                Length::from_um(turn(2)).to_mm(),
                Length::from_um(-turn(1)).to_mm(),
                Length::from_um(turn(3)).to_mm()
            ),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stock::builtin;

    #[track_caller]
    fn case(
        why: &str,
        stock: &str,
        labels: &[usize],
        start_at: usize,
        each: EachKit,
        firsts: &[usize],
        sheets: usize,
    ) {
        let imposed = impose(&builtin(stock).unwrap(), labels, start_at, each);
        let found: Vec<usize> = imposed.cells.iter().map(|cells| cells[0]).collect();
        assert_eq!((found.as_slice(), imposed.sheets), (firsts, sheets), "{why}");
    }

    #[test]
    fn kits_follow_each_other_and_do_not_straddle_sheets() {
        use EachKit::{Next, Row, Sheet};
        case("two kits fill a sheet", "letter-2x5", &[5, 5, 5], 1, Next, &[0, 5, 10], 2);
        case("four cells are too few", "letter-2x7", &[5, 5, 5], 1, Next, &[0, 5, 14], 2);
        case("a part-used sheet", "letter-2x5", &[5, 5], 4, Next, &[3, 10], 2);
        case("too few cells are left", "letter-2x5", &[5], 7, Next, &[0], 1);
        case("rows of two", "letter-2x7", &[5, 5], 1, Row, &[0, 6], 1);
        case("the row begun is left", "letter-2x7", &[5], 2, Row, &[2], 1);
        case("a sheet each", "letter-3x10", &[5, 5], 1, Sheet, &[0, 30], 2);
        case("the part-used sheet first", "letter-3x10", &[5, 5], 7, Sheet, &[6, 30], 2);
        case("a roll", "roll-102x51", &[5, 5], 1, Next, &[0, 5], 10);
        case("no kits", "letter-2x5", &[], 1, Next, &[], 0);
    }
}
