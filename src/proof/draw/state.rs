//! What the operators of a page change before they draw: the graphics state, the path
//! that is being drawn, and the place of the next text.

use std::rc::Rc;

use hayro::kurbo::{Affine, CubicBez, Point, Rect, Shape, Vec2};

use super::geometry::scale;
use super::operand::Needs;
use super::{Color, Refused};
use crate::proof::font::Font;
use crate::proof::page::Shade;

/// What of the page can be drawn on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Clip {
    pub bounds: Rect,
    /// Whether it is all of `bounds`.
    pub is_whole: bool,
}

impl Clip {
    /// Whether all of `area` can be drawn on, to a hundredth of a millimetre.
    pub fn holds(&self, area: Rect) -> bool {
        let bounds = self.bounds.inflate(0.01, 0.01);
        self.is_whole && bounds.union(area) == bounds
    }
}

/// The graphics state. Places are millimetres from the page's top left corner.
#[derive(Clone)]
pub(super) struct State<'f> {
    pub to_page: Affine,
    pub clip: Option<Clip>,
    pub is_opaque: bool,
    pub fill: Color,
    pub stroke: Color,
    pub fill_shade: Shade,
    pub stroke_shade: Shade,
    /// Whether lines are broken into dots or dashes.
    pub is_broken: bool,
    /// Their first dash, and what is longest of dashes and gaps.
    pub dash: f64,
    pub gap: f64,
    pub has_round_ends: bool,
    pub line_width: f64,
    pub miter_limit: f64,
    pub font: Option<Rc<Font<'f>>>,
    pub size: f64,
    pub letter_space: f64,
    pub scale: f64,
    pub leading: f64,
    pub rise: f64,
}

impl State<'_> {
    pub fn of(to_page: Affine) -> Self {
        Self {
            to_page,
            clip: None,
            is_opaque: true,
            fill: Color::Light(1),
            stroke: Color::Light(1),
            fill_shade: Shade::Dark,
            stroke_shade: Shade::Dark,
            is_broken: false,
            dash: 0.0,
            gap: 0.0,
            has_round_ends: false,
            line_width: 1.0,
            miter_limit: 10.0,
            font: None,
            size: 0.0,
            letter_space: 0.0,
            scale: 1.0,
            leading: 0.0,
            rise: 0.0,
        }
    }

    pub fn clip_to(&mut self, bounds: Rect, is_whole: bool) {
        self.clip = Some(match self.clip {
            None => Clip { bounds, is_whole },
            Some(clip) => Clip {
                bounds: clip.bounds.intersect(bounds),
                is_whole: clip.is_whole && is_whole,
            },
        });
    }
}

/// The most lines, and bends, of an outline.
const MOST_SIDES: usize = 12;

/// The largest rounded corner, in millimetres.
const MOST_BEND_MM: f64 = 4.0;

/// A path that is being drawn, on the page.
#[derive(Default)]
pub(super) struct Path {
    pub bounds: Option<Rect>,
    /// Corners, as long as it may be a rectangle.
    pub corners: Vec<Point>,
    /// The bounds of its lines and of its curves, the first of them.
    pub sides: Vec<Rect>,
    pub bends: Vec<Rect>,
    pub lines: usize,
    pub has_curves: bool,
    pub moves: usize,
    pub start: Point,
    pub at: Point,
    /// What is drawn on next is cut to it.
    pub is_clip: bool,
}

impl Path {
    pub fn add(&mut self, bounds: Rect) {
        self.bounds = Some(self.bounds.map_or(bounds, |other| other.union(bounds)));
    }

    pub fn move_to(&mut self, at: Point) {
        self.moves += 1;
        (self.start, self.at) = (at, at);
        self.add(Rect::from_points(at, at));
        self.corner(at);
    }

    pub fn line_to(&mut self, at: Point) {
        self.lines += 1;
        let side = Rect::from_points(self.at, at);
        self.add(side);
        if self.sides.len() <= MOST_SIDES {
            self.sides.push(side);
        }
        self.at = at;
        self.corner(at);
    }

    pub fn curve_to(&mut self, one: Point, two: Point, end: Point) {
        self.has_curves = true;
        let bend = CubicBez::new(self.at, one, two, end).bounding_box();
        self.add(bend);
        if self.bends.len() <= MOST_SIDES {
            self.bends.push(bend);
        }
        self.at = end;
    }

    pub fn close(&mut self) {
        self.at = self.start;
    }

    pub fn corner(&mut self, at: Point) {
        if self.corners.len() <= 5 {
            self.corners.push(at);
        }
    }

    /// Whether it runs along the edges of its bounds, and bends at the corners at most:
    /// what is inside is free.
    pub fn is_outline(&self) -> bool {
        let whole = self.bounds.unwrap_or_default();
        let near = |a: f64, b: f64| (a - b).abs() < 0.01;
        let is_along = |side: &Rect| {
            let upright = near(side.x0, side.x1)
                && (near(side.x0, whole.x0) || near(side.x0, whole.x1));
            let level = near(side.y0, side.y1)
                && (near(side.y0, whole.y0) || near(side.y0, whole.y1));
            upright || level
        };
        let is_corner =
            |bend: &Rect| bend.width() < MOST_BEND_MM && bend.height() < MOST_BEND_MM;
        let is_short = self.sides.len() <= MOST_SIDES && self.bends.len() <= MOST_SIDES;
        // One that runs back on itself has a tip there.
        let is_level = |side: &Rect| side.width() > side.height();
        let turns =
            self.sides.windows(2).all(|two| is_level(&two[0]) != is_level(&two[1]));
        is_short
            && (turns || self.sides.len() <= 1)
            && self.sides.iter().all(is_along)
            && self.bends.iter().all(is_corner)
    }

    /// Its straight parts.
    pub fn sides(&self) -> &[Rect] {
        &self.sides
    }

    /// Whether it is a single line along an edge of the page.
    pub fn is_straight(&self) -> bool {
        let bounds = self.bounds.unwrap_or_default();
        let is_thin = bounds.width() < 1e-6 || bounds.height() < 1e-6;
        is_thin && !self.has_curves
    }

    /// Whether it is a single rectangle along the edges of the page.
    pub fn is_rectangle(&self) -> bool {
        let corners = match &self.corners[..] {
            [corners @ .., last] if corners.first() == Some(last) => corners,
            corners => corners,
        };
        let [one, two, three, four] = corners else { return false };
        let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
        let along = |a: &Point, b: &Point| (near(a.x, b.x), near(a.y, b.y));
        let turns =
            [along(one, two), along(two, three), along(three, four), along(four, one)];
        let is_one = self.moves == 1 && !self.has_curves;
        let upright = [(true, false), (false, true), (true, false), (false, true)];
        let level = [(false, true), (true, false), (false, true), (true, false)];
        is_one && (turns == upright || turns == level)
    }
}

/// Where a stream of operators is.
pub(super) struct Run<'f> {
    pub state: State<'f>,
    pub saved: Vec<State<'f>>,
    pub path: Path,
    /// Where the next glyph goes, and where its line began.
    pub text: Affine,
    pub line: Affine,
    /// Whether it is between `BT` and `ET`.
    pub in_text: bool,
}

impl Run<'_> {
    /// That an operator stands within a text if it may only stand there, and outside if
    /// it may not: readers differ about those that do otherwise (ISO 32000-1:2008, 8.2
    /// and 9.4, from memory).
    pub fn stands_right(&self, word: &[u8]) -> Result<(), Refused> {
        let place = match word {
            b"BT" | b"q" | b"Q" | b"cm" | b"Do" if self.in_text => "within",
            b"ET" | b"Tm" | b"Td" | b"TD" | b"T*" | b"Tj" | b"TJ" | b"'"
                if !self.in_text =>
            {
                "outside of"
            }
            _ => return Ok(()),
        };
        let word = String::from_utf8_lossy(word);
        Err(format!("has the operator `{word}` {place} a text"))
    }

    pub fn next_line(&mut self, x: f64, y: f64) {
        self.line *= Affine::translate(Vec2::new(x, y));
        self.text = self.line;
    }

    pub fn advance(&mut self, by: f64) {
        let [a, b, c, d, e, f] = self.text.as_coeffs();
        self.text = Affine::new([a, b, c, d, e + by * a, f + by * b]);
    }

    pub fn construct(&mut self, needs: &Needs) -> Result<(), Refused> {
        let (path, to_page) = (&mut self.path, self.state.to_page);
        let point = |x: f64, y: f64| to_page * Point::new(x, y);
        match needs.word {
            b"m" => {
                let [x, y] = needs.numbers()?;
                path.move_to(point(x, y));
            }
            b"l" => {
                let [x, y] = needs.numbers()?;
                path.line_to(point(x, y));
            }
            b"c" => {
                let [a, b, c, d, x, y] = needs.numbers()?;
                path.curve_to(point(a, b), point(c, d), point(x, y));
            }
            b"v" => {
                let [c, d, x, y] = needs.numbers()?;
                path.curve_to(path.at, point(c, d), point(x, y));
            }
            b"y" => {
                let [a, b, x, y] = needs.numbers()?;
                path.curve_to(point(a, b), point(x, y), point(x, y));
            }
            b"re" => {
                let [x, y, width, height] = needs.numbers()?;
                path.move_to(point(x, y));
                path.line_to(point(x + width, y));
                path.line_to(point(x + width, y + height));
                path.line_to(point(x, y + height));
                path.close();
            }
            _ => path.close(),
        }
        Ok(())
    }
}

/// How far a line that is drawn along a path reaches beyond it, in millimetres: half
/// its width, and more at corners.
pub(super) fn reach(path: &Path, state: &State) -> f64 {
    let is_straight = !path.has_curves && (path.lines <= 1 || path.is_rectangle());
    let corner = if is_straight { 1.5 } else { state.miter_limit.max(1.5) };
    state.line_width.abs() * scale(state.to_page) / 2.0 * corner
}
