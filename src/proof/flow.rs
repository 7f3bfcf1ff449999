//! Whether texts stand on their pages where their document has them.
//!
//! A document's texts have an order and places: one below the other, side by side
//! in a row, line by line within a text. [`Flow`] says so, and here it is compared
//! with what stands on the pages, glyph by glyph. Two texts that changed places, a
//! row that has slipped, letters that do not follow each other are found so, though
//! each text is there as often as it should be.

use std::borrow::Cow;

use super::drawn::Drawings;
use super::page::{Area, Glyph, MM_PER_PT, Turn};
use super::timeline::Timeline;
use super::{Difference, Page};

/// Texts in the order in which they are read, and how they stand to each other.
pub(super) enum Flow<'a> {
    /// One text, in lines. An empty one is not printed.
    Text(Cow<'a, str>),
    /// Each below the one before, or on a later page.
    Down(Vec<Flow<'a>>),
    /// Each to the right of the one before, on its height.
    Across(Vec<Flow<'a>>),
    /// Each to the right of the one before, or below it where the first begins.
    Wrapped(Vec<Flow<'a>>),
    /// One of these, whichever the page has.
    Either(Vec<Flow<'a>>),
    Table(Table<'a>),
    Timeline(Timeline<'a>),
    /// With something drawn beside it or around it.
    Drawn(Mark, Box<Flow<'a>>),
    /// A line to write on with nothing before it.
    Blank,
}

/// Rows of cells.
pub(super) struct Table<'a> {
    /// Stands again where the table runs on over a page.
    pub head: Vec<Flow<'a>>,
    pub rows: Vec<Vec<Flow<'a>>>,
    /// Whether there are lines between its columns, and not only below its rows.
    pub is_grid: bool,
}

/// What is drawn beside a text or around it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    /// A box to tick, before it.
    Tick,
    /// A line to write on, after it.
    Line,
    /// A frame around it.
    Frame,
    /// The frame of a card without a number, before it.
    Card,
    /// A thick line along its left side.
    Bar,
    /// A short line before it.
    Dash,
}

pub(super) fn text<'a>(text: impl Into<Cow<'a, str>>) -> Flow<'a> {
    Flow::Text(text.into())
}

/// Texts of one paragraph, with a space between each two.
pub(super) fn joined<'a>(texts: impl IntoIterator<Item = &'a str>) -> Flow<'a> {
    let texts: Vec<&str> = texts.into_iter().collect();
    Flow::Text(texts.join(" ").into())
}

impl<'a> Flow<'a> {
    pub fn with(self, mark: Mark) -> Self {
        Self::Drawn(mark, Box::new(self))
    }
}

/// How far texts may overlap, in millimetres, as rounding makes them.
const SLACK_MM: f64 = 0.1;

/// Parts of the size of type: of a capital above its line, and how far letters may
/// stand from where their font has them. They are kerned by some hundredths.
const CAPITAL: f64 = 0.7;
const KERNED: f64 = 0.25;

/// How far apart the lines of a text are, in parts of the size of its type.
const LINES: (f64, f64) = (0.85, 2.0);

/// The most differences that are named of a part.
const MOST_FOUND: usize = 5;

/// Where a text, or several, stand.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Block {
    /// Its first page and its last, counted from 0 among those that are read.
    pub pages: (usize, usize),
    /// Its places on these two.
    pub first: Area,
    pub last: Area,
    /// Where its last line ends.
    pub end: (f64, f64),
    /// Its glyphs.
    pub glyphs: (usize, usize),
}

impl Block {
    fn and(self, next: Self) -> Self {
        let first = if self.pages.0 == next.pages.0 {
            self.first.union(&next.first)
        } else {
            self.first
        };
        let last = if self.pages.1 == next.pages.1 {
            self.last.union(&next.last)
        } else {
            next.last
        };
        Self {
            pages: (self.pages.0, next.pages.1),
            first,
            last,
            end: next.end,
            glyphs: (self.glyphs.0, next.glyphs.1),
        }
    }

    /// This one after those before it.
    pub(super) fn after(self, whole: Option<Self>) -> Self {
        match whole {
            Some(whole) => whole.and(self),
            None => self,
        }
    }

    pub(super) fn is_below(&self, other: &Self) -> bool {
        self.pages.0 > other.pages.1
            || self.pages.0 == other.pages.1
                && self.first.top >= other.last.bottom - SLACK_MM
    }

    fn is_right_of(&self, other: &Self) -> bool {
        let (one, two) = (&other.last, &self.first);
        self.pages.0 == other.pages.1
            && two.left >= one.right - SLACK_MM
            && two.top < one.bottom
            && one.top < two.bottom
    }
}

/// What all texts of some pages have in common.
#[derive(Debug, Clone, Copy)]
pub(super) struct Setting {
    /// Number of the first of the pages, counted from 1.
    pub first: usize,
    /// The smallest type, in points.
    pub least: f64,
    /// Whether they are read out. Feet are not, nor the head of a table where it stands
    /// again.
    pub is_heard: bool,
}

/// A text that is expected and does not come next. What is read afterwards would be
/// out of step, so nothing is.
pub(super) struct Lost {
    wanted: String,
}

/// Reads the glyphs of some pages in their order.
pub(super) struct Reader<'p> {
    setting: Setting,
    glyphs: Vec<(&'p Glyph, usize)>,
    at: usize,
    pub drawings: Drawings<'p>,
    found: Vec<Difference>,
    /// The block that was read last.
    before: Option<(usize, f64)>,
}

impl<'p> Reader<'p> {
    /// A reader of those glyphs of `pages` that `is_read` accepts.
    pub fn new(
        setting: Setting,
        pages: &'p [Page],
        drawings: Drawings<'p>,
        is_read: impl Fn(&Page, &Glyph) -> bool,
    ) -> Self {
        let glyphs = pages
            .iter()
            .enumerate()
            .flat_map(|(number, page)| {
                page.glyphs.iter().map(move |glyph| (page, glyph, number))
            })
            .filter(|(page, glyph, _)| is_read(page, glyph))
            .map(|(_, glyph, number)| (glyph, number))
            .collect();
        Self { setting, glyphs, at: 0, drawings, found: Vec::new(), before: None }
    }

    /// Compares the glyphs with `flow`, which must be all that they are.
    ///
    /// # Errors
    ///
    /// The place where another text stands than is expected there.
    pub fn compare(&mut self, flow: &Flow) -> Result<Option<Block>, Difference> {
        let read = self.read(flow);
        let rest = self.skip_blanks(self.at);
        match read {
            Ok(_) if rest < self.glyphs.len() => {
                let what = format!("found \"{}\", which nobody planned", self.next(rest));
                Err(Difference::new(self.page_of(rest), what))
            }
            Ok(block) => Ok(block),
            Err(lost) => {
                let what = match self.next(rest) {
                    next if next.is_empty() => {
                        format!("expected \"{}\" next, found nothing", lost.wanted)
                    }
                    next => {
                        format!("expected \"{}\" next, found \"{next}\"", lost.wanted)
                    }
                };
                Err(Difference::new(self.page_of(rest), what))
            }
        }
    }

    /// What was found, and the drawings that nobody expected.
    pub fn finish(self) -> (Vec<Difference>, Drawings<'p>) {
        (self.found, self.drawings)
    }

    fn page_of(&self, at: usize) -> usize {
        let glyph = self.glyphs.get(at).or(self.glyphs.last());
        self.setting.first + glyph.map_or(0, |(_, page)| *page)
    }

    /// Some text from `at` on, for a message.
    fn next(&self, at: usize) -> String {
        shown(self.glyphs.get(at..).unwrap_or_default(), 60)
    }

    /// A text that was read, for a message.
    fn name(&self, block: &Block) -> String {
        shown(&self.glyphs[block.glyphs.0..block.glyphs.1], 80)
    }

    fn differ(&mut self, block: &Block, what: impl FnOnce(&Self) -> String) {
        if self.found.len() < MOST_FOUND {
            let what = what(self);
            let page = self.setting.first + block.pages.0;
            self.found.push(Difference::new(page, what));
        }
    }

    fn skip_blanks(&self, mut at: usize) -> usize {
        let is_blank = |text: &str| text.chars().all(char::is_whitespace);
        while self.glyphs.get(at).is_some_and(|(glyph, _)| is_blank(&glyph.text)) {
            at += 1;
        }
        at
    }

    /// Where `text` ends, if it stands at `at`. Spaces and the ends of lines do not
    /// count.
    fn ends(&self, at: usize, text: &str) -> Option<usize> {
        let mut wanted = text.chars().filter(|c| !c.is_whitespace()).peekable();
        let mut at = at;
        while wanted.peek().is_some() {
            let (glyph, _) = self.glyphs.get(at)?;
            for c in glyph.text.chars().filter(|c| !c.is_whitespace()) {
                if wanted.next() != Some(c) {
                    return None;
                }
            }
            at += 1;
        }
        Some(at)
    }

    /// Where `flow` ends, if its texts stand at `at` in their order.
    fn fits(&self, at: usize, flow: &Flow) -> Option<usize> {
        match flow {
            Flow::Text(text) => self.ends(at, text),
            Flow::Down(parts) | Flow::Across(parts) | Flow::Wrapped(parts) => {
                parts.iter().try_fold(at, |at, part| self.fits(at, part))
            }
            Flow::Either(flows) => flows.iter().find_map(|flow| self.fits(at, flow)),
            Flow::Drawn(_, flow) => self.fits(at, flow),
            Flow::Table(_) | Flow::Timeline(_) | Flow::Blank => None,
        }
    }

    pub(super) fn read(&mut self, flow: &Flow) -> Result<Option<Block>, Lost> {
        let block = match flow {
            Flow::Text(text) => self.text(text)?,
            Flow::Down(parts) => self
                .in_order(parts, |reader, before, block, _| reader.down(before, block))?,
            Flow::Across(parts) => self.in_order(parts, |reader, before, block, _| {
                reader.across(before, block)
            })?,
            Flow::Wrapped(parts) => self.in_order(parts, Self::wrapped)?,
            Flow::Either(flows) => {
                let fits = |flow: &&Flow| self.fits(self.at, flow).is_some();
                match flows.iter().find(fits).or(flows.first()) {
                    Some(flow) => self.read(flow)?,
                    None => None,
                }
            }
            Flow::Table(table) => self.table(table)?,
            Flow::Timeline(timeline) => super::timeline::read(self, timeline)?,
            Flow::Drawn(mark, flow) => {
                let block = self.read(flow)?;
                if let Some(block) = &block
                    && let Err(what) = self.drawings.take_mark(*mark, block)
                {
                    self.missing(block, what);
                }
                block
            }
            Flow::Blank => self.blank(),
        };
        if let Some(block) = &block {
            self.before = Some((block.pages.1, block.last.bottom));
        }
        Ok(block)
    }

    /// Reads `parts` one after the other. `check` gets the one before, the next, and
    /// where the first of all begins from the left.
    fn in_order(
        &mut self,
        parts: &[Flow],
        check: impl Fn(&mut Self, &Block, &Block, f64),
    ) -> Result<Option<Block>, Lost> {
        let mut whole: Option<Block> = None;
        let mut before: Option<Block> = None;
        for part in parts {
            let Some(block) = self.read(part)? else { continue };
            if let (Some(before), Some(whole)) = (&before, &whole) {
                check(self, before, &block, whole.first.left);
            }
            before = Some(block.clone());
            whole = Some(block.after(whole));
        }
        Ok(whole)
    }

    pub(super) fn down(&mut self, before: &Block, block: &Block) {
        if !block.is_below(before) {
            self.misplaced(before, block, "below");
        }
    }

    fn across(&mut self, before: &Block, block: &Block) {
        if !block.is_right_of(before) {
            self.misplaced(before, block, "to the right of");
        }
    }

    pub(super) fn misplaced(&mut self, before: &Block, block: &Block, place: &str) {
        self.differ(block, |reader| {
            let (one, other) = (reader.name(block), reader.name(before));
            format!("expected \"{one}\" {place} \"{other}\", found it elsewhere")
        });
    }

    /// Notes that `what` is not there, in words before the name of a text.
    pub(super) fn missing(&mut self, block: &Block, what: &str) {
        self.differ(block, |reader| {
            format!("expected {what} \"{}\", which is not there", reader.name(block))
        });
    }

    fn wrapped(&mut self, before: &Block, block: &Block, left: f64) {
        // A frame around it moves it a little to the right.
        let is_below = block.is_below(before) && block.first.left <= left + 0.8;
        if !is_below && !block.is_right_of(before) {
            self.misplaced(before, block, "beside or below");
        }
    }

    fn blank(&mut self) -> Option<Block> {
        let (page, below) = self.before?;
        match self.drawings.take_blank(page, below) {
            Some((page, area)) => Some(Block {
                pages: (page, page),
                first: area,
                last: area,
                end: (area.right, area.bottom),
                glyphs: (self.at, self.at),
            }),
            None => {
                if self.found.len() < MOST_FOUND {
                    let what = "expected an empty line to write on, which is not there";
                    self.found.push(Difference::new(self.setting.first + page, what));
                }
                None
            }
        }
    }

    fn table(&mut self, table: &Table) -> Result<Option<Block>, Lost> {
        let mut rows: Vec<Block> = Vec::new();
        let mut columns: Vec<Vec<Block>> = Vec::new();
        let head = std::iter::once(&table.head).filter(|head| !head.is_empty());
        for row in head.chain(&table.rows) {
            let page = rows.last().map(|row| row.pages.1);
            let turned =
                self.glyphs.get(self.skip_blanks(self.at)).map(|(_, page)| *page);
            let is_over = page.is_some() && page != turned;
            if is_over && self.fits_all(&table.head) {
                let is_heard = std::mem::replace(&mut self.setting.is_heard, false);
                self.row(&table.head, &mut rows, &mut columns)?;
                self.setting.is_heard = is_heard;
            }
            self.row(row, &mut rows, &mut columns)?;
        }
        let pairs: Vec<_> = rows.windows(2).map(|pair| (&pair[0], &pair[1])).collect();
        for (before, row) in pairs {
            self.down(before, row);
        }
        if let Some((what, row)) =
            self.drawings.take_table(&rows, &columns, table.is_grid)
        {
            let row = row.clone();
            self.missing(&row, what);
        }
        Ok(rows.into_iter().reduce(Block::and))
    }

    fn fits_all(&self, row: &[Flow]) -> bool {
        let ends = row.iter().try_fold(self.at, |at, cell| self.fits(at, cell));
        ends.is_some()
    }

    fn row(
        &mut self,
        cells: &[Flow],
        rows: &mut Vec<Block>,
        columns: &mut Vec<Vec<Block>>,
    ) -> Result<(), Lost> {
        columns.resize(columns.len().max(cells.len()), Vec::new());
        let mut before: Option<Block> = None;
        let mut whole: Option<Block> = None;
        for (cell, column) in cells.iter().zip(columns) {
            let Some(block) = self.read(cell)? else { continue };
            if let Some(before) = &before {
                self.across(before, &block);
            }
            before = Some(block.clone());
            column.push(block.clone());
            whole = Some(block.after(whole));
        }
        rows.extend(whole);
        Ok(())
    }

    /// Reads one text: its letters side by side as their font has them, and its lines
    /// one below the other.
    fn text(&mut self, wanted: &str) -> Result<Option<Block>, Lost> {
        let mut letters = wanted.chars().peekable();
        let skip_spaces = |letters: &mut std::iter::Peekable<std::str::Chars>| {
            let mut some = false;
            while letters.next_if(|c| c.is_whitespace()).is_some() {
                some = true;
            }
            some
        };
        skip_spaces(&mut letters);
        if letters.peek().is_none() {
            return Ok(None);
        }
        let lost = || Lost { wanted: wanted.to_owned() };
        let start = self.skip_blanks(self.at);
        let (first, page) = *self.glyphs.get(start).ok_or_else(lost)?;
        let mut block = Block {
            pages: (page, page),
            first: NOWHERE,
            last: NOWHERE,
            end: first.origin,
            glyphs: (start, start),
        };
        let mut fault: Option<String> = None;
        let mut before: Option<(&Glyph, usize)> = None;
        let (mut has_space, mut wants_space) = (false, false);
        let mut at = start;
        while letters.peek().is_some() {
            let (glyph, page) = *self.glyphs.get(at).ok_or_else(lost)?;
            let is_space = glyph.text.chars().all(char::is_whitespace);
            for c in glyph.text.chars().filter(|c| !c.is_whitespace()) {
                if letters.next() != Some(c) {
                    self.at = start;
                    return Err(lost());
                }
            }
            let step = Step::between(before, (glyph, page));
            let what = if is_space != glyph.blank {
                Some("has ink for a space, or none for a letter")
            } else if self.setting.is_heard && !is_space && !glyph.is_heard {
                Some("is printed and not read out")
            } else if step == Step::Apart {
                Some("has letters that do not follow each other as in their font")
            } else if !is_space && step == Step::Beside && has_space != wants_space {
                Some("has a space too many or too few")
            } else if (glyph.size - first.size).abs() > first.size * 0.01 {
                Some("is set in type of several sizes")
            } else if glyph.turn != Turn::Upright {
                Some("does not stand upright, or is stretched")
            } else {
                None
            };
            fault = fault.or_else(|| what.map(str::to_owned));
            before = Some((glyph, page));
            at += 1;
            if is_space {
                has_space = true;
                continue;
            }
            block.add(glyph, page, at);
            has_space = false;
            wants_space = skip_spaces(&mut letters);
        }
        self.at = at;
        let points = first.size / MM_PER_PT;
        if points < self.setting.least * 0.995 {
            let least = self.setting.least;
            fault = Some(format!("is set in {points:.1} pt, less than {least} pt"));
        }
        if let Some(fault) = fault {
            self.differ(&block, |reader| format!("\"{}\" {fault}", reader.name(&block)));
        }
        Ok(Some(block))
    }
}

/// The text of some glyphs, with a space between runs, `most` characters of it.
fn shown(glyphs: &[(&Glyph, usize)], most: usize) -> String {
    let mut text = String::new();
    for (glyph, _) in glyphs.iter().take(most) {
        if glyph.starts_run && !text.is_empty() && !text.ends_with(' ') {
            text.push(' ');
        }
        text.push_str(&glyph.text);
    }
    text.trim().to_owned()
}

const NOWHERE: Area = Area {
    left: f64::INFINITY,
    top: f64::INFINITY,
    right: f64::NEG_INFINITY,
    bottom: f64::NEG_INFINITY,
};

impl Block {
    fn add(&mut self, glyph: &Glyph, page: usize, after: usize) {
        let (x, y) = glyph.origin;
        let place = Area {
            left: x.min(glyph.area.left),
            top: y - CAPITAL * glyph.size,
            right: (x + glyph.advance).max(glyph.area.right),
            bottom: y,
        };
        if page != self.pages.1 {
            self.last = NOWHERE;
        }
        self.pages.1 = page;
        self.last = self.last.union(&place);
        if page == self.pages.0 {
            self.first = self.last;
        }
        self.end = (x + glyph.advance, y);
        self.glyphs.1 = after;
    }
}

/// How one letter of a text stands to the one before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Step {
    /// It is the first, or begins a line.
    New,
    Beside,
    Apart,
}

impl Step {
    fn between(before: Option<(&Glyph, usize)>, (glyph, page): (&Glyph, usize)) -> Self {
        let Some((before, page_before)) = before else { return Self::New };
        if page != page_before {
            return if page > page_before { Self::New } else { Self::Apart };
        }
        let (x, y) = (glyph.origin.0 - before.origin.0, glyph.origin.1 - before.origin.1);
        let size = before.size;
        if y.abs() <= size * 0.02 {
            let apart = (x - before.advance).abs();
            return if apart <= KERNED * size { Self::Beside } else { Self::Apart };
        }
        let is_next = x < before.advance && y >= LINES.0 * size && y <= LINES.1 * size;
        if is_next { Self::New } else { Self::Apart }
    }
}

#[cfg(test)]
mod tests;
