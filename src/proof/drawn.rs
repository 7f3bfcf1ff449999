//! Boxes to tick, lines to write on, frames and tables: what is drawn beside texts,
//! looked for where it belongs. What nothing of it is was planned by nobody.

use std::ops::Range;

use super::flow::{Block, Mark};
use super::page::{Area, Drawing, Shade};
use super::{Difference, Page};

/// Side of a box to tick, in millimetres.
const TICK_MM: f64 = 4.0;

/// The shortest line to write on.
const LEAST_LINE_MM: f64 = 6.0;

/// The shortest line to write on that has nothing before it.
const LEAST_BLANK_MM: f64 = 100.0;

/// How much higher a frame may be than what stands in it: that of the laboratory's
/// own number leaves room for it.
const MOST_ROOM_MM: f64 = 20.0;

/// The thinnest bar along a text.
const LEAST_BAR_MM: f64 = 0.3;

/// How far below the last row of a table its line may be.
const MOST_BELOW_MM: f64 = 12.0;

/// From this width on a frame is around more than one row of a table.
const WIDE_MM: f64 = 120.0;

/// The widest line of a frame.
const MOST_WIDTH_MM: f64 = 1.5;

/// What is drawn on some pages, and what of it is accounted for.
pub(super) struct Drawings<'p> {
    pages: Vec<Vec<(&'p Drawing, bool)>>,
}

impl<'p> Drawings<'p> {
    pub fn of(pages: &'p [Page]) -> Self {
        let of_page = |page: &'p Page| {
            page.drawings.iter().map(|drawing| (drawing, false)).collect()
        };
        Self { pages: pages.iter().map(of_page).collect() }
    }

    /// The nearest, by `distance`, of those on a page that are not accounted for and
    /// are dark; none has a distance that is not `Some`.
    pub fn take(
        &mut self,
        page: usize,
        distance: impl Fn(&Drawing) -> Option<f64>,
    ) -> Option<Area> {
        self.take_any(page, |drawing| {
            if drawing.shade == Shade::Dark { distance(drawing) } else { None }
        })
    }

    /// As [`Drawings::take`], of whatever colour.
    pub fn take_any(
        &mut self,
        page: usize,
        distance: impl Fn(&Drawing) -> Option<f64>,
    ) -> Option<Area> {
        let free = self.pages.get_mut(page)?.iter_mut();
        let free = free.filter(|(drawing, is_used)| !is_used && drawing.is_sound);
        let (_, nearest) = free
            .filter_map(|entry| Some((distance(entry.0)?, entry)))
            .min_by(|(one, _), (other, _)| one.total_cmp(other))?;
        nearest.1 = true;
        Some(nearest.0.area)
    }

    /// Accounts for everything on a page that `is` accepts.
    pub fn take_all(&mut self, page: usize, is: impl Fn(&Drawing) -> bool) {
        let drawings = self.pages.get_mut(page).map(Vec::as_mut_slice);
        for (drawing, is_used) in drawings.unwrap_or_default() {
            *is_used |= is(drawing);
        }
    }

    /// The drawing that `block` is to have.
    ///
    /// # Errors
    ///
    /// What is missing, in words before the name of the text.
    pub fn take_mark(&mut self, mark: Mark, block: &Block) -> Result<(), &'static str> {
        let (taken, missing) = match mark {
            Mark::Tick => (self.take_tick(block), "a box to tick before"),
            Mark::Line => (self.take_line(block), "a line to write on after"),
            Mark::Frame => (self.take_frame(block), "a frame around"),
            Mark::Card => (self.take_card(block), "an empty frame before"),
            Mark::Bar => (self.take_bar(block), "a thick line along"),
            Mark::Dash => (self.take_dash(block), "a short line before"),
        };
        if taken { Ok(()) } else { Err(missing) }
    }

    fn take_tick(&mut self, block: &Block) -> bool {
        let text = block.first;
        let is_tick = |drawing: &Drawing| {
            let area = drawing.area;
            let (_, middle) = area.centre();
            let gap = text.left - area.right;
            let near = |side: f64| (side - TICK_MM).abs() < 0.15;
            let is = is_frame(drawing)
                && drawing.is_level
                && near(area.right - area.left)
                && near(area.bottom - area.top)
                && (0.5..6.0).contains(&gap)
                && (text.top - 1.0..text.bottom + 1.0).contains(&middle);
            is.then_some(gap)
        };
        self.take(block.pages.0, is_tick).is_some()
    }

    fn take_line(&mut self, block: &Block) -> bool {
        let (x, y) = block.end;
        let left = block.first.left;
        let is_line = |drawing: &Drawing| {
            let area = drawing.area;
            if !is_across(drawing) || area.right - area.left < LEAST_LINE_MM {
                return None;
            }
            // Where the text leaves no room the line stands below it.
            let is_after =
                (area.top - y).abs() < 1.5 && (-0.2..6.0).contains(&(area.left - x));
            let is_below =
                (3.0..14.0).contains(&(area.top - y)) && area.left <= left + 0.5;
            (is_after || is_below).then_some((area.top - y).abs())
        };
        self.take(block.pages.1, is_line).is_some()
    }

    fn take_frame(&mut self, block: &Block) -> bool {
        let mut around = |page: usize, text: Area| {
            let frame = |drawing: &Drawing| {
                let area = drawing.area;
                let room = (area.bottom - area.top) - (text.bottom - text.top);
                // One row of a table, or a box on a page as wide as this.
                let most =
                    if area.right - area.left > WIDE_MM { MOST_ROOM_MM } else { 9.0 };
                let is = is_frame(drawing) && area.surrounds(&text) && room < most;
                is.then_some(room)
            };
            self.take(page, frame)
        };
        let (from, until) = block.pages;
        let Some(first) = around(from, block.first) else { return false };
        if from < until && around(until, block.last).is_none() {
            return false;
        }
        // On the pages between, its sides go on.
        (from + 1..until).all(|page| {
            let between = |drawing: &Drawing| {
                let area = drawing.area;
                let sides =
                    (area.left - first.left).abs() + (area.right - first.right).abs();
                let is = is_frame(drawing) && sides < 0.1;
                is.then_some(area.top - area.bottom)
            };
            self.take(page, between).is_some()
        })
    }

    fn take_card(&mut self, block: &Block) -> bool {
        let text = block.first;
        let is_card = |drawing: &Drawing| {
            let area = drawing.area;
            let gap = text.left - area.right;
            let is = is_frame(drawing)
                && (7.0..14.0).contains(&(area.right - area.left))
                && (8.0..14.0).contains(&(area.bottom - area.top))
                && (0.5..5.0).contains(&gap)
                && area.top < text.bottom
                && area.bottom > text.top;
            is.then_some(gap)
        };
        self.take(block.pages.0, is_card).is_some()
    }

    fn take_bar(&mut self, block: &Block) -> bool {
        let text = block.first;
        let is_bar = |drawing: &Drawing| {
            let area = drawing.area;
            let gap = text.left - area.right;
            let wide = (area.right - area.left).max(drawing.width);
            let is = area.right - area.left < 1.0
                && (LEAST_BAR_MM..MOST_WIDTH_MM).contains(&wide)
                && !drawing.is_broken
                && (0.5..8.0).contains(&gap)
                && area.top < text.top
                && (area.bottom > text.bottom || block.pages.0 != block.pages.1);
            is.then_some(gap)
        };
        self.take(block.pages.0, is_bar).is_some()
    }

    fn take_dash(&mut self, block: &Block) -> bool {
        let text = block.first;
        let is_dash = |drawing: &Drawing| {
            let area = drawing.area;
            let gap = text.left - area.right;
            let is = is_across(drawing)
                && (area.right - area.left - 2.0).abs() < 0.1
                && (1.0..4.0).contains(&gap)
                && (text.top - 0.5..text.top + 6.0).contains(&area.top);
            is.then_some(area.top - text.top)
        };
        self.take(block.pages.0, is_dash).is_some()
    }

    /// The next line to write on below a place of a page, or on the page after it.
    pub fn take_blank(&mut self, page: usize, below: f64) -> Option<(usize, Area)> {
        let is_blank = |drawing: &Drawing| {
            let area = drawing.area;
            let is = is_across(drawing) && area.right - area.left > LEAST_BLANK_MM;
            is.then_some(area.top)
        };
        let here =
            self.take(page, |drawing| is_blank(drawing).filter(|top| *top > below));
        here.map(|area| (page, area)).or_else(|| {
            let next = page + 1;
            self.take(next, is_blank).map(|area| (next, area))
        })
    }

    /// The lines of a table: below each row, and in a grid also above the first and
    /// between the columns. What is missing, and the row that it belongs to.
    pub fn take_table<'b>(
        &mut self,
        rows: &'b [Block],
        columns: &[Vec<Block>],
        is_grid: bool,
    ) -> Option<(&'static str, &'b Block)> {
        for rows in rows.chunk_by(|one, next| one.pages.1 == next.pages.0) {
            let Some(first) = rows.first() else { continue };
            let page = first.pages.0;
            // From the first line to the last, where all are as long.
            let mut whole: Option<Area> = None;
            if is_grid {
                let above = (first.first.top - 12.0, first.first.top);
                whole = self.take_rule(page, first.first, above, None, |y| above.1 - y);
                if whole.is_none() {
                    return Some(("a line of the table above", first));
                }
            }
            for (index, row) in rows.iter().enumerate() {
                let next = rows.get(index + 1);
                let from = row.last.bottom;
                let between =
                    (from, next.map_or(from + MOST_BELOW_MM, |next| next.first.top));
                let Some(rule) =
                    self.take_rule(page, row.last, between, whole, |y| y - from)
                else {
                    return Some(("a line of the table below", row));
                };
                whole = Some(Area { top: whole.map_or(rule.top, |it| it.top), ..rule });
            }
            if let Some(whole) = whole.filter(|_| is_grid)
                && !self.take_columns(page, columns, whole)
            {
                return Some(("the lines between the columns of the table at", first));
            }
        }
        None
    }

    /// A line that runs along all of `row` at a height within `between`, the one that
    /// has the least `distance`. It is as long as `other`, another line of the table.
    fn take_rule(
        &mut self,
        page: usize,
        row: Area,
        between: (f64, f64),
        other: Option<Area>,
        distance: impl Fn(f64) -> f64,
    ) -> Option<Area> {
        let near = |a: f64, b: f64| (a - b).abs() < 0.1;
        let is_as_long = |area: Area| {
            other.is_none_or(|it| near(it.left, area.left) && near(it.right, area.right))
        };
        let is_rule = |drawing: &Drawing| {
            let area = drawing.area;
            let is = is_across(drawing)
                && area.left <= row.left + 0.3
                && area.right >= row.right - 0.3
                && is_as_long(area)
                && (between.0 - 0.2..=between.1 + 0.2).contains(&area.top);
            is.then(|| distance(area.top))
        };
        self.take(page, is_rule)
    }

    /// The lines between columns, from the first to the last line of the table, `whole`.
    fn take_columns(&mut self, page: usize, columns: &[Vec<Block>], whole: Area) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() < 0.3;
        let is_down = |drawing: &Drawing| {
            let area = drawing.area;
            area.right - area.left < 0.01
                && is_frame(drawing)
                && near(area.top, whole.top)
                && near(area.bottom, whole.bottom)
        };
        // How far the texts of each column reach; a column may have none.
        let reach = |column: &Vec<Block>| {
            let here = column.iter().filter(|block| block.pages.0 == page);
            here.map(|block| (block.first.left, block.first.right))
                .reduce(|(left, right), (from, until)| (left.min(from), right.max(until)))
        };
        let reaches: Vec<(f64, f64)> = columns.iter().filter_map(reach).collect();
        let lefts = reaches.iter().map(|(left, _)| Some(*left)).chain([None]);
        let rights =
            [None].into_iter().chain(reaches.iter().map(|(_, right)| Some(*right)));
        let is_whole = reaches.len() == columns.len();
        for (right, left) in rights.zip(lefts) {
            // The outermost are at the ends of the lines from left to right.
            let (from, until) = match (right, left) {
                (None, _) if is_whole => (whole.left, whole.left),
                (_, None) if is_whole => (whole.right, whole.right),
                (right, left) => {
                    (right.unwrap_or(whole.left), left.unwrap_or(whole.right))
                }
            };
            let (from, until) = (from - 0.2, until + 0.2);
            let is_between = |drawing: &Drawing| {
                let x = drawing.area.left;
                let is = is_down(drawing) && (from..=until).contains(&x);
                is.then_some(if right.is_some() { x - from } else { until - x })
            };
            if self.take(page, is_between).is_none() {
                return false;
            }
        }
        // Beside columns without a text on this page there are lines, too.
        if !is_whole {
            self.take_all(page, is_down);
        }
        true
    }

    /// What is drawn and belongs to nothing, if `first` is the number of the first
    /// page: one difference for each page.
    pub fn rest(&self, first: usize) -> Vec<Difference> {
        let of_page = |(number, page): (usize, &Vec<(&Drawing, bool)>)| {
            let (drawing, _) = page.iter().find(|(_, is_used)| !is_used)?;
            let Area { left, top, right, bottom } = drawing.area;
            let what = format!(
                "found a line or a shape from {left:.1} mm, {top:.1} mm to {right:.1} mm, \
                 {bottom:.1} mm, which nobody planned"
            );
            Some(Difference::new(number, what))
        };
        (first..).zip(&self.pages).filter_map(of_page).collect()
    }
}

/// Whether it is a frame, or a part of one, around what can be read.
pub(super) fn is_frame(drawing: &Drawing) -> bool {
    (0.0..MOST_WIDTH_MM).contains(&drawing.width)
        && drawing.width > 0.0
        && drawing.is_outline
        && !drawing.is_broken
}

/// Whether it is a line from left to right.
pub(super) fn is_across(drawing: &Drawing) -> bool {
    is_thick_across(drawing, 0.0..MOST_WIDTH_MM)
}

/// Whether it is a line from left to right that is as thick as this, in millimetres.
pub(super) fn is_thick_across(drawing: &Drawing, thick: Range<f64>) -> bool {
    drawing.width > 0.0
        && thick.contains(&drawing.width)
        && drawing.is_level
        && drawing.area.bottom - drawing.area.top < 0.01
        && !drawing.is_broken
}

#[cfg(test)]
mod tests;
