//! One page as it is printed: every glyph, image and drawn shape with its place.

use std::collections::BTreeSet;

use ecow::EcoString;

use super::code::Grid;

/// The most glyphs, lines and images of one page; a full one has 4,000.
pub(super) const MOST_ON_A_PAGE: usize = 50_000;

/// The most of all pages of a file.
pub(super) const MOST_OF_ALL: usize = 3_000_000;

/// Height of the bands in which things that share a place are looked for, and the
/// last of them.
const BAND_MM: f64 = 12.0;
const MOST_BANDS: u64 = 1000;

/// Where in a number that stands for a glyph in a band its left edge begins, in
/// thousandths of a millimetre, and where its band does.
const LEFT_SHIFT: u32 = 20;
const BAND_SHIFT: u32 = 45;
const MOST_LEFT: u64 = (1 << (BAND_SHIFT - LEFT_SHIFT)) - 1;

/// The bands that `area` lies in.
fn bands(area: &Area) -> std::ops::RangeInclusive<u64> {
    let band_of = |mm: f64| ((mm.max(0.0) / BAND_MM) as u64).min(MOST_BANDS);
    band_of(area.top)..=band_of(area.bottom)
}

/// The number of the glyph that `entry` stands for.
fn glyph_of(entry: u64) -> usize {
    (entry & ((1 << LEFT_SHIFT) - 1)) as usize
}

/// How many letters before it one may lie on, such as an accent.
const KERNED: usize = 3;

/// Millimetres to a point, the unit of PDFs.
pub(super) const MM_PER_PT: f64 = 25.4 / 72.0;

/// A rectangle in millimetres from the page's top left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Area {
    /// Whether this area lies in `outer`, to a tenth of a millimetre.
    pub fn within(&self, outer: &Self) -> bool {
        let slack = super::TOLERANCE_MM;
        self.left >= outer.left - slack
            && self.top >= outer.top - slack
            && self.right <= outer.right + slack
            && self.bottom <= outer.bottom + slack
    }

    /// Whether `inner` lies in this area and touches none of its edges.
    pub fn surrounds(&self, inner: &Self) -> bool {
        self.left < inner.left
            && self.right > inner.right
            && self.top < inner.top
            && self.bottom > inner.bottom
    }

    /// Whether no edge of the two areas is more than `apart` millimetres from the
    /// other's.
    pub fn is_near(&self, other: &Self, apart: f64) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= apart;
        near(self.left, other.left)
            && near(self.top, other.top)
            && near(self.right, other.right)
            && near(self.bottom, other.bottom)
    }

    /// The smallest area that holds both.
    pub fn union(&self, other: &Self) -> Self {
        Self {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// Whether the two areas share more than a sliver.
    pub fn overlaps(&self, other: &Self) -> bool {
        let sliver = 0.15;
        self.left + sliver < other.right
            && other.left + sliver < self.right
            && self.top + sliver < other.bottom
            && other.top + sliver < self.bottom
    }

    /// Whether the two areas share a hundredth of a millimetre.
    pub fn touches(&self, other: &Self) -> bool {
        let sliver = 0.01;
        self.left + sliver < other.right
            && other.left + sliver < self.right
            && self.top + sliver < other.bottom
            && other.top + sliver < self.bottom
    }

    /// The area with `by` more on each side.
    pub fn grown(&self, by: f64) -> Self {
        Self {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }

    pub fn moved(&self, x: f64, y: f64) -> Self {
        Self {
            left: self.left + x,
            top: self.top + y,
            right: self.right + x,
            bottom: self.bottom + y,
        }
    }

    /// The area on a page that is turned by half.
    pub fn turned(&self, width: f64, height: f64) -> Self {
        Self {
            left: width - self.right,
            top: height - self.bottom,
            right: width - self.left,
            bottom: height - self.top,
        }
    }

    /// The middle of the area.
    pub fn centre(&self) -> (f64, f64) {
        ((self.left + self.right) / 2.0, (self.top + self.bottom) / 2.0)
    }

    pub fn holds(&self, (x, y): (f64, f64)) -> bool {
        x >= self.left && x < self.right && y >= self.top && y < self.bottom
    }
}

/// One glyph as it is printed.
#[derive(Debug, Clone, PartialEq)]
pub struct Glyph {
    /// The characters it stands for; a mark that nothing expects where the PDF
    /// does not say.
    pub text: EcoString,
    /// Its ink.
    pub area: Area,
    /// Where on its line it begins, from the left and from the top, in millimetres.
    pub origin: (f64, f64),
    /// How far on the next one begins in its font, and the size of the type, in
    /// millimetres.
    pub advance: f64,
    pub size: f64,
    pub turn: Turn,
    /// Whether a run of text begins with it.
    pub starts_run: bool,
    /// Whether it leaves no ink, as a space.
    pub blank: bool,
    /// Whether it is marked with a number, by which it is read out.
    pub is_heard: bool,
}

/// Which way up an image or a character stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    Upright,
    /// Turned by half.
    Half,
    /// In a mirror, on its side, slanted; or a character that is stretched.
    Other,
}

impl Turn {
    /// On a page that is turned by half.
    fn by_half(self) -> Self {
        match self {
            Self::Upright => Self::Half,
            Self::Half => Self::Upright,
            Self::Other => Self::Other,
        }
    }
}

/// How a colour looks on a photocopy.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shade {
    /// Nearly black.
    Dark,
    White,
    Other,
}

/// A line or a shape as it is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawing {
    pub area: Area,
    /// Width of its line in millimetres, or 0 for a shape that is only filled.
    pub width: f64,
    /// Whether the line is broken into dots or dashes.
    pub is_broken: bool,
    pub shade: Shade,
    /// Whether it is a line along an edge of the page, or a shape with such edges.
    pub is_level: bool,
    /// Whether it runs along the edges of its area, round the corners at most.
    pub is_outline: bool,
    /// Whether it is drawn as ours are: not cut, not filled and outlined at once, and
    /// with ink where it is a line.
    pub is_sound: bool,
}

/// What an image shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    pub turn: Turn,
    /// Its number among what is marked on the page, for those who hear it.
    pub mark: Option<usize>,
    /// What else is drawn on its place, before it or after, in words.
    pub touched_by: Option<String>,
    /// Its pixels, or why they are no modules as they are printed.
    pub grid: Result<Grid, String>,
}

/// One page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// Number of its object in the file.
    pub object: usize,
    /// Size in millimetres; media box and crop box are the same.
    pub width: f64,
    pub height: f64,
    pub glyphs: Vec<Glyph>,
    pub images: Vec<Area>,
    /// What each of `images` shows.
    pub pictures: Vec<Picture>,
    pub shapes: Vec<Area>,
    /// What each of `shapes` looks like.
    pub drawings: Vec<Drawing>,
    /// Filled shapes.
    pub fills: Vec<Area>,
    /// What hides or crosses glyphs, each with the number of glyphs before which it is
    /// drawn: fills, images, and straight lines. Dark ones hide those after them, too.
    pub covers: Vec<(Area, usize)>,
    /// What shapes and text that is not black may cover, width of lines included.
    pub marks: Vec<Area>,
    /// How much is marked with a number, from 0 on.
    pub marked: usize,
    /// Words that are heard in place of what is marked, and its number.
    pub heard: Vec<(Option<usize>, String)>,
    /// Languages in which something of it is read out, where that is said.
    pub languages: BTreeSet<String>,
    /// What is not printed as it seems, in words: text that is not black, or cut.
    pub faults: Vec<String>,
}

impl Page {
    /// Whether nothing is on the page.
    pub fn is_blank(&self) -> bool {
        self.glyphs.is_empty()
            && self.images.is_empty()
            && self.shapes.is_empty()
            && self.marks.is_empty()
    }

    /// The page as it would be had it not been moved by `nudge` millimetres, nor
    /// turned by half.
    pub fn put_back(&mut self, nudge: (f64, f64), turned: bool) {
        let (width, height) = (self.width, self.height);
        let back = |area: &mut Area| {
            *area = area.moved(-nudge.0, -nudge.1);
            if turned {
                *area = area.turned(width, height);
            }
        };
        for glyph in &mut self.glyphs {
            back(&mut glyph.area);
            let (x, y) = (glyph.origin.0 - nudge.0, glyph.origin.1 - nudge.1);
            glyph.origin = if turned { (width - x, height - y) } else { (x, y) };
        }
        self.images.iter_mut().for_each(back);
        self.shapes.iter_mut().for_each(back);
        self.drawings.iter_mut().for_each(|drawing| back(&mut drawing.area));
        self.fills.iter_mut().for_each(back);
        self.covers.iter_mut().for_each(|(area, _)| back(area));
        self.marks.iter_mut().for_each(back);
        if turned {
            self.pictures.iter_mut().for_each(|picture| {
                picture.turn = picture.turn.by_half();
            });
            self.glyphs.iter_mut().for_each(|glyph| glyph.turn = glyph.turn.by_half());
        }
    }

    /// Whether so much is on the page that nothing more is taken up.
    pub(super) fn is_full(&self) -> bool {
        self.things() >= MOST_ON_A_PAGE
    }

    /// How many things are on the page.
    pub(super) fn things(&self) -> usize {
        self.glyphs.len() + self.images.len() + self.marks.len() + self.heard.len()
    }

    /// Notes for each picture what else is drawn on its place.
    pub(super) fn find_touched(&mut self) {
        for index in 0..self.images.len() {
            self.pictures[index].touched_by = self.touching(index);
        }
    }

    /// What touches the image with number `index`, in words.
    fn touching(&self, index: usize) -> Option<String> {
        let image = self.images[index];
        let glyph = self.glyphs.iter().find(|g| !g.blank && g.area.touches(&image));
        if let Some(glyph) = glyph {
            return Some(format!("the character \"{}\"", glyph.text));
        }
        if self.marks.iter().any(|mark| mark.touches(&image)) {
            return Some("a shape".to_owned());
        }
        let mut others = self.images.iter().enumerate();
        others
            .any(|(other, area)| other != index && area.touches(&image))
            .then(|| "another image".to_owned())
    }

    /// Two characters that are printed one on the other, or one that a shape
    /// drawn later covers, in words.
    pub fn collision(&self) -> Option<String> {
        let order = self.by_bands();
        if let Some(glyph) = self.covered(&order) {
            return Some(format!("the character \"{}\" is covered", glyph.text));
        }
        let (one, other) = self.printed_on_each_other(&order)?;
        Some(format!(
            "the characters \"{}\" and \"{}\" are printed one on the other",
            one.text, other.text
        ))
    }

    /// The page cut into bands, and in each the glyphs with ink from the left: a number
    /// stands for a band, a left edge and the number of a glyph.
    fn by_bands(&self) -> Vec<u64> {
        let mut order: Vec<u64> = Vec::with_capacity(2 * self.glyphs.len());
        for (index, glyph) in (0..).zip(&self.glyphs) {
            if glyph.blank {
                continue;
            }
            let left = ((glyph.area.left.max(0.0) * 1000.0) as u64).min(MOST_LEFT);
            for band in bands(&glyph.area) {
                order.push(band << BAND_SHIFT | left << LEFT_SHIFT | index);
            }
        }
        order.sort_unstable();
        order
    }

    /// A glyph that something covers.
    fn covered(&self, order: &[u64]) -> Option<&Glyph> {
        self.covers.iter().find_map(|(cover, before)| {
            let bands = bands(cover);
            let start =
                order.partition_point(|entry| *entry < bands.start() << BAND_SHIFT);
            let near = order[start..]
                .iter()
                .take_while(|entry| *entry >> BAND_SHIFT <= *bands.end());
            near.map(|entry| glyph_of(*entry))
                .find(|index| index < before && self.glyphs[*index].area.overlaps(cover))
                .map(|index| &self.glyphs[index])
        })
    }

    /// Two glyphs that share a place. Letters of one run are set by the font and may
    /// be kerned, so a letter may lie on the few before it.
    fn printed_on_each_other(&self, order: &[u64]) -> Option<(&Glyph, &Glyph)> {
        let mut runs = Vec::with_capacity(self.glyphs.len());
        let mut run = 0;
        for glyph in &self.glyphs {
            run += usize::from(glyph.starts_run);
            runs.push(run);
        }
        for (at, entry) in order.iter().enumerate() {
            let index = glyph_of(*entry);
            let one = &self.glyphs[index];
            for near in &order[at + 1..] {
                let other_index = glyph_of(*near);
                let other = &self.glyphs[other_index];
                if near >> BAND_SHIFT != entry >> BAND_SHIFT
                    || other.area.left >= one.area.right
                {
                    break;
                }
                let is_kerned = runs[index] == runs[other_index]
                    && index.abs_diff(other_index) <= KERNED;
                if !is_kerned && one.area.overlaps(&other.area) {
                    return Some((one, other));
                }
            }
        }
        None
    }

    /// What of the page lies outside `area`, in words.
    pub fn outside(&self, area: Area) -> Option<String> {
        self.outside_but(area, |_| false)
    }

    /// As [`Page::outside`], without the shapes that `may` lie there.
    pub fn outside_but(&self, area: Area, may: impl Fn(&Area) -> bool) -> Option<String> {
        let glyph = self.glyphs.iter().find(|g| !g.blank && !g.area.within(&area));
        if let Some(glyph) = glyph {
            return Some(format!("the character \"{}\"", glyph.text));
        }
        if self.images.iter().any(|image| !image.within(&area)) {
            return Some("an image".to_owned());
        }
        let is_wrong = |shape: &Area| !shape.within(&area) && !may(shape);
        self.shapes.iter().any(is_wrong).then(|| "a line".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// From 10 to 20 across and from 30 to 50 down.
    const AREA: Area = Area { left: 10.0, top: 30.0, right: 20.0, bottom: 50.0 };

    /// That area with `by` added to each of its edges in turn.
    fn with(by: f64) -> [Area; 4] {
        [
            Area { left: AREA.left + by, ..AREA },
            Area { top: AREA.top + by, ..AREA },
            Area { right: AREA.right + by, ..AREA },
            Area { bottom: AREA.bottom + by, ..AREA },
        ]
    }

    #[test]
    fn an_area_lies_in_another_to_a_tenth_of_a_millimetre() {
        assert!(with(0.09).iter().chain(&with(-0.09)).all(|area| area.within(&AREA)));
        let is_within = |by| with(by).map(|area| area.within(&AREA));
        assert_eq!(is_within(0.11), [true, true, false, false]);
        assert_eq!(is_within(-0.11), [false, false, true, true]);
    }

    #[test]
    fn an_area_surrounds_what_touches_none_of_its_edges() {
        assert!(AREA.grown(0.01).surrounds(&AREA));
        for inner in with(0.0).into_iter().chain(with(0.02)).chain(with(-0.02)) {
            assert!(!AREA.surrounds(&inner), "{inner:?}");
        }
    }

    #[test]
    fn areas_are_near_if_no_edge_is_further_away() {
        for by in [0.4, -0.4] {
            assert!(with(by).iter().all(|area| area.is_near(&AREA, 0.5)), "{by}");
        }
        for by in [0.6, -0.6] {
            assert!(with(by).iter().all(|area| !area.is_near(&AREA, 0.5)), "{by}");
        }
    }

    #[test]
    fn areas_beside_each_other_share_nothing_but_a_sliver() {
        let (wide, high) = (AREA.right - AREA.left, AREA.bottom - AREA.top);
        for (sliver, share) in
            [(0.15, Area::overlaps as fn(&Area, &Area) -> bool), (0.01, Area::touches)]
        {
            for (by, is) in [(sliver - 0.005, false), (sliver + 0.005, true)] {
                for (x, y) in [
                    (wide - by, 0.0),
                    (by - wide, 0.0),
                    (0.0, high - by),
                    (0.0, by - high),
                ] {
                    assert_eq!(share(&AREA, &AREA.moved(x, y)), is, "{by}: {x}, {y}");
                }
            }
        }
        let grown = Area { left: 9.0, top: 29.0, right: 21.0, bottom: 51.0 };
        assert_eq!(AREA.grown(1.0), grown);
        assert_eq!(
            AREA.union(&AREA.moved(5.0, -5.0)),
            Area { top: 25.0, right: 25.0, ..AREA }
        );
    }
}
