//! Shapes on pages, and pages that are filled from the top.

use std::ops::Range;
use std::rc::Rc;

use crate::data::PageSetting;
use crate::text::{CAP, EM, Fonts, LEADING, Run, Style, wrap};

pub const MM: f32 = 72.0 / 25.4;
pub const HAIR: f32 = 0.6;
pub const RULE: f32 = 1.0;
pub const HEAVY: f32 = 2.0;
pub const LEFT: f32 = 15.0 * MM;
const TOP: f32 = 10.0 * MM;
const BOTTOM: f32 = 20.0 * MM;

/// Something drawn; lengths in points from the upper left corner of its page.
pub enum Shape<'a> {
    Text { x: f32, y: f32, size: f32, run: Rc<Run>, glyphs: Range<usize> },
    Line { from: (f32, f32), to: (f32, f32), width: f32, dash: Option<[f32; 2]> },
    Box { x: f32, y: f32, w: f32, h: f32, stroke: f32, radius: f32 },
    Image { x: f32, y: f32, side: f32, modules: u32, pixels: &'a [u8] },
    Logo { x: f32, y: f32 },
}

/// What has been drawn on a page.
pub struct Drawing<'a, 'f> {
    pub fonts: &'f Fonts,
    pub shapes: Vec<Shape<'a>>,
}

impl Drawing<'_, '_> {
    /// A whole run at its baseline. Gives its width.
    pub fn run(&mut self, x: f32, y: f32, size: f32, run: Rc<Run>) -> f32 {
        let (glyphs, width) = (0..run.glyphs.len(), run.width(size));
        self.shapes.push(Shape::Text { x, y, size, run, glyphs });
        width
    }

    /// A text at its baseline. Gives its width.
    pub fn text(&mut self, x: f32, y: f32, size: f32, style: Style, text: &str) -> f32 {
        let run = self.fonts.shape(text, style);
        self.run(x, y, size, run)
    }

    pub fn right(&mut self, x: f32, y: f32, size: f32, style: Style, text: &str) {
        let run = self.fonts.shape(text, style);
        self.run(x - run.width(size), y, size, run);
    }

    pub fn line(&mut self, from: (f32, f32), to: (f32, f32), width: f32) {
        self.shapes.push(Shape::Line { from, to, width, dash: None });
    }

    pub fn frame(&mut self, x: f32, y: f32, w: f32, h: f32, stroke: f32) {
        self.line((x, y), (x + w, y), stroke);
        self.line((x, y + h), (x + w, y + h), stroke);
        self.line((x, y), (x, y + h), stroke);
        self.line((x + w, y), (x + w, y + h), stroke);
    }

    /// Lines of text from `y` on. Gives where they end.
    pub fn para(&mut self, x: f32, y: f32, room: f32, texts: &[(&str, Style)]) -> f32 {
        self.para_of(x, y, room, texts, EM, LEADING)
    }

    pub fn para_of(
        &mut self,
        x: f32,
        mut y: f32,
        room: f32,
        texts: &[(&str, Style)],
        size: f32,
        leading: f32,
    ) -> f32 {
        let runs = self.runs(texts);
        for line in wrap(&runs, size, room) {
            y += CAP * size;
            for piece in line {
                let (x, run, glyphs) = (x + piece.x, piece.run, piece.glyphs);
                self.shapes.push(Shape::Text { x, y, size, run, glyphs });
            }
            y += leading;
        }
        y - leading
    }

    pub fn runs(&self, texts: &[(&str, Style)]) -> Vec<Rc<Run>> {
        texts.iter().map(|(text, style)| self.fonts.shape(text, *style)).collect()
    }
}

/// Pages that are filled from the top; what does not fit begins the next one.
pub struct Flow<'a, 'f> {
    pub size: (f32, f32),
    pub area: f32,
    fonts: &'f Fonts,
    pages: Vec<Drawing<'a, 'f>>,
    y: f32,
    below: f32,
    empty: bool,
}

impl<'a, 'f> Flow<'a, 'f> {
    pub fn new(page: &PageSetting, fonts: &'f Fonts) -> Self {
        let size = match page.paper.as_str() {
            "us-letter" => (612.0, 792.0),
            "a4" => (210.0 * MM, 297.0 * MM),
            other => panic!("no size is known of the paper {other}"),
        };
        let area = size.0 - 2.0 * LEFT;
        let pages = vec![Drawing { fonts, shapes: Vec::new() }];
        Self { size, area, fonts, pages, y: TOP, below: 0.0, empty: true }
    }

    pub fn new_page(&mut self) {
        self.pages.push(Drawing { fonts: self.fonts, shapes: Vec::new() });
        (self.y, self.below, self.empty) = (TOP, 0.0, true);
    }

    /// Places a block that stays on one page, with the usual distances.
    pub fn add(&mut self, place: impl FnMut(&mut Drawing<'a, 'f>, f32) -> f32) {
        self.add_between(6.0, 6.0, place);
    }

    /// Places a block that stays on one page. `place` draws from a height on and
    /// gives where it ends; where that is too far down it is drawn again, on the
    /// next page.
    pub fn add_between(
        &mut self,
        above: f32,
        below: f32,
        mut place: impl FnMut(&mut Drawing<'a, 'f>, f32) -> f32,
    ) {
        let start = if self.empty { self.y } else { self.y + self.below.max(above) };
        let page = self.pages.last_mut().expect("a page");
        let mark = page.shapes.len();
        let mut end = place(page, start);
        if end > self.size.1 - BOTTOM && !self.empty {
            page.shapes.truncate(mark);
            self.new_page();
            end = place(self.pages.last_mut().expect("a page"), self.y);
        }
        (self.y, self.below, self.empty) = (end, below, false);
    }

    pub fn skip(&mut self, distance: f32) {
        self.y += distance;
    }

    /// The pages, each with its foot.
    pub fn finish(mut self, setting: &PageSetting) -> Vec<Vec<Shape<'a>>> {
        for (page, number) in self.pages.iter_mut().zip(&setting.numbers) {
            let mut y = self.size.1 - BOTTOM + 3.0 * MM;
            let right = LEFT + self.area;
            page.line((LEFT, y), (right, y), HAIR);
            y += 1.2 * MM + CAP * EM;
            page.text(LEFT, y, EM, Style::Regular, &setting.foot);
            page.right(right, y, EM, Style::Regular, number);
            page.text(LEFT, y + (CAP + 0.4) * EM, EM, Style::Regular, &setting.foot_more);
        }
        self.pages.into_iter().map(|page| page.shapes).collect()
    }
}
