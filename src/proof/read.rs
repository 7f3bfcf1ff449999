//! Reads the pages of a PDF: every glyph, image and drawn shape with its place.

use std::collections::HashMap;
use std::sync::Arc;

use hayro_interpret::font::{Glyph as PdfGlyph, GlyphRun};
use hayro_interpret::hayro_cmap::BfString;
use hayro_interpret::hayro_syntax::Pdf;
use hayro_interpret::kurbo::{Affine, BezPath, Rect, Shape};
use hayro_interpret::{
    BlendMode, ClipPath, Context, Device, DrawMode, DrawProps, Image, ImageDrawProps,
    InterpreterCache, InterpreterSettings, Paint, RectExt, SoftMask, TransformExt,
    interpret_page,
};

use super::code::Grid;
use super::file::File;
use super::gate;

/// The most pages that are read; a file of a run has half of that.
pub(super) const MOST_PAGES: usize = 4000;

/// The most glyphs, lines and images of one page; a full one has 4,000.
const MOST_ON_A_PAGE: usize = 50_000;

/// The most of all pages.
const MOST_OF_ALL: usize = 3_000_000;

const MM_PER_PT: f64 = 25.4 / 72.0;

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
    pub text: String,
    pub area: Area,
    /// Whether a run of text begins with it.
    pub starts_run: bool,
    /// Whether it leaves no ink, as a space.
    pub blank: bool,
}

/// Which way up an image stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    Upright,
    /// Turned by half.
    Half,
    /// In a mirror, on its side, or slanted.
    Other,
}

/// What an image shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    pub turn: Turn,
    /// What else is drawn on its place, before it or after, in words.
    pub touched_by: Option<String>,
    /// Its pixels, or why they are no modules as they are printed.
    pub grid: Result<Grid, String>,
}

/// One page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// Size in millimetres; media box and crop box are the same.
    pub width: f64,
    pub height: f64,
    pub glyphs: Vec<Glyph>,
    pub images: Vec<Area>,
    /// What each of `images` shows.
    pub pictures: Vec<Picture>,
    pub shapes: Vec<Area>,
    /// Filled shapes, each with the number of glyphs drawn before it.
    pub fills: Vec<(Area, usize)>,
    /// What shapes and text that is not black may cover, width of lines included.
    pub marks: Vec<Area>,
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
        self.glyphs.iter_mut().for_each(|glyph| back(&mut glyph.area));
        self.images.iter_mut().for_each(back);
        self.shapes.iter_mut().for_each(back);
        self.fills.iter_mut().for_each(|(area, _)| back(area));
        self.marks.iter_mut().for_each(back);
        if turned {
            self.pictures.iter_mut().for_each(|picture| {
                picture.turn = match picture.turn {
                    Turn::Upright => Turn::Half,
                    Turn::Half => Turn::Upright,
                    Turn::Other => Turn::Other,
                };
            });
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
        let mut ink: Vec<(usize, &Glyph)> = Vec::new();
        let mut run = 0;
        for glyph in &self.glyphs {
            run += usize::from(glyph.starts_run);
            if !glyph.blank {
                ink.push((run, glyph));
            }
        }
        for (fill, before) in &self.fills {
            let covered = self.glyphs[..*before]
                .iter()
                .find(|glyph| !glyph.blank && glyph.area.overlaps(fill));
            if let Some(glyph) = covered {
                return Some(format!("the character \"{}\" is covered", glyph.text));
            }
        }
        ink.sort_by(|a, b| a.1.area.top.total_cmp(&b.1.area.top));
        for (index, (run, glyph)) in ink.iter().enumerate() {
            let near = ink[index + 1..]
                .iter()
                .take_while(|(_, other)| other.area.top < glyph.area.bottom);
            for (other_run, other) in near {
                // Letters of one run are set by the font and may be kerned.
                if run != other_run && glyph.area.overlaps(&other.area) {
                    return Some(format!(
                        "the characters \"{}\" and \"{}\" are printed one on the other",
                        glyph.text, other.text
                    ));
                }
            }
        }
        None
    }

    /// What of the page lies outside `area`, in words.
    pub fn outside(&self, area: Area) -> Option<String> {
        let glyph = self.glyphs.iter().find(|g| !g.blank && !g.area.within(&area));
        if let Some(glyph) = glyph {
            return Some(format!("the character \"{}\"", glyph.text));
        }
        if self.images.iter().any(|image| !image.within(&area)) {
            return Some("an image".to_owned());
        }
        self.shapes.iter().any(|shape| !shape.within(&area)).then(|| "a line".to_owned())
    }
}

/// Reads all pages of a PDF.
///
/// # Errors
///
/// What is wrong, if it is not built as the PDFs of kits are.
pub fn read(bytes: &[u8]) -> Result<Vec<Page>, String> {
    let differences = match gate::check(&File::open(bytes)?, true) {
        Ok(()) => return pages(bytes),
        Err(differences) => differences,
    };
    let first = differences.first().map(|difference| match difference.page {
        0 => difference.what.clone(),
        page => format!("page {page}: {}", difference.what),
    });
    Err(first.unwrap_or_default())
}

/// Reads the pages of a PDF that was let through the gate.
pub(super) fn pages(bytes: &[u8]) -> Result<Vec<Page>, String> {
    let data: Arc<Vec<u8>> = Arc::new(bytes.to_vec());
    let pdf =
        Pdf::new(data).map_err(|error| format!("this is no sound PDF: {error:?}"))?;
    if pdf.pages().len() > MOST_PAGES {
        return Err(format!("the PDF has more than {MOST_PAGES} pages"));
    }
    let cache = InterpreterCache::new();
    let mut outlines = HashMap::new();
    let mut pages: Vec<Page> = Vec::new();
    let mut left = MOST_OF_ALL;
    for page in pdf.pages().iter() {
        if page.media_box().to_kurbo() != page.crop_box().to_kurbo() {
            return Err("a page is cropped, so a printer may shift it".to_owned());
        }
        let (width, height) = page.render_dimensions();
        let (width, height) = (f64::from(width), f64::from(height));
        let mut context = Context::new(
            page.initial_transform(true).to_kurbo(),
            Rect::new(0.0, 0.0, width, height),
            &cache,
            page.xref(),
            InterpreterSettings::default(),
        );
        let mut reader = Reader {
            page: Page::default(),
            outlines: &mut outlines,
            clips: Vec::new(),
            groups: Vec::new(),
        };
        interpret_page(page, &mut context, &mut reader);
        let mut page = reader.page;
        let things = page.glyphs.len() + page.images.len() + page.marks.len();
        if things >= MOST_ON_A_PAGE || things > left {
            return Err(format!("too much is drawn on page {}", pages.len() + 1));
        }
        left -= things;
        page.width = width * MM_PER_PT;
        page.height = height * MM_PER_PT;
        for index in 0..page.images.len() {
            page.pictures[index].touched_by = page.touching(index);
        }
        pages.push(page);
    }
    Ok(pages)
}

/// Collects what is drawn on a page.
struct Reader<'o> {
    page: Page,
    /// Bounding boxes of glyph outlines already seen.
    outlines: &'o mut HashMap<u128, Rect>,
    /// Clips in force, each within the one before.
    clips: Vec<Clip>,
    /// Of each group that is drawn in, whether it is opaque.
    groups: Vec<bool>,
}

/// What of the page can be drawn on.
#[derive(Clone, Copy)]
struct Clip {
    bounds: Rect,
    /// Whether it is all of `bounds`.
    is_whole: bool,
}

/// Whether a reader of a photocopy sees it: text that is not nearly black is
/// read as if it were not there.
fn is_dark(paint: &Paint) -> bool {
    match paint {
        Paint::Color(color) => {
            let [r, g, b, a] = color.to_rgba().to_rgba8();
            r.max(g).max(b) < 64 && a == 255
        }
        Paint::Pattern(_) => false,
    }
}

fn area(rect: Rect) -> Area {
    Area {
        left: rect.x0 * MM_PER_PT,
        top: rect.y0 * MM_PER_PT,
        right: rect.x1 * MM_PER_PT,
        bottom: rect.y1 * MM_PER_PT,
    }
}

/// How far a line that is drawn along a path reaches beyond the path, in the
/// path's own units: half its width, and more at corners.
fn reach(mode: &DrawMode, is_straight: bool) -> f64 {
    let (DrawMode::Stroke(line) | DrawMode::FillAndStroke(_, line)) = mode else {
        return 0.0;
    };
    let corner = if is_straight { 1.5 } else { f64::from(line.miter_limit).max(1.5) };
    f64::from(line.line_width) / 2.0 * corner
}

fn turn(transform: Affine) -> Turn {
    let [a, b, c, d, ..] = transform.as_coeffs();
    let is_level = b.abs() <= a.abs() * 1e-6 && c.abs() <= d.abs() * 1e-6;
    match is_level {
        true if a > 0.0 && d > 0.0 => Turn::Upright,
        true if a < 0.0 && d < 0.0 => Turn::Half,
        _ => Turn::Other,
    }
}

impl Reader<'_> {
    /// Whether so much is on the page that nothing more is taken up.
    fn is_full(&self) -> bool {
        self.page.glyphs.len() + self.page.images.len() + self.page.marks.len()
            >= MOST_ON_A_PAGE
    }

    /// `bounds` are those of the path, `reach` is how far its line goes beyond.
    fn shape(&mut self, bounds: Rect, reach: f64, transform: Affine, mode: &DrawMode) {
        if self.is_full() {
            return;
        }
        let drawn = area(transform.transform_rect_bbox(bounds));
        self.page.shapes.push(drawn);
        if matches!(mode, DrawMode::Fill(_) | DrawMode::FillAndStroke(..)) {
            self.page.fills.push((drawn, self.page.glyphs.len()));
        }
        let inked = bounds.inflate(reach, reach);
        self.page.marks.push(area(transform.transform_rect_bbox(inked)));
    }

    /// The bounds of a glyph as its font draws it.
    fn bounds(&mut self, glyph: &PdfGlyph) -> Rect {
        match glyph {
            PdfGlyph::Outline(outline) => {
                let key = outline.identifier().cache_key();
                *self
                    .outlines
                    .entry(key)
                    .or_insert_with(|| outline.outline().bounding_box())
            }
            PdfGlyph::Type3(_) => Rect::ZERO,
        }
    }

    fn glyph(&mut self, glyph: &PdfGlyph, transform: Affine, starts_run: bool) {
        let text = match glyph.as_unicode() {
            Some(BfString::Char(c)) => c.to_string(),
            Some(BfString::String(text)) => text,
            None => char::REPLACEMENT_CHARACTER.to_string(),
        };
        let bounds = self.bounds(glyph);
        let blank = bounds.area() == 0.0;
        let place = transform.transform_rect_bbox(bounds);
        // What is clipped away is not on the paper.
        if self.clips.last().is_some_and(|clip| !clip.bounds.contains(place.center())) {
            return;
        }
        let area = area(place);
        self.page.glyphs.push(Glyph { text, area, starts_run, blank });
    }

    /// The modules of an image that is drawn at `place`, if nothing keeps it from
    /// being printed as it is.
    fn grid(
        &self,
        image: &Image,
        place: Rect,
        props: &ImageDrawProps,
    ) -> Result<Grid, String> {
        let is_opaque = self.groups.iter().all(|opaque| *opaque)
            && props.soft_mask.is_none()
            && props.blend_mode == BlendMode::Normal;
        if !is_opaque {
            return Err("is not opaque".to_owned());
        }
        let is_whole = self.clips.iter().all(|clip| {
            let bounds = clip.bounds.inflate(0.01, 0.01);
            clip.is_whole && bounds.union(place) == bounds
        });
        if !is_whole {
            return Err("is cut".to_owned());
        }
        Grid::of(image)
    }

    fn clip(&mut self, inner: Rect, is_whole: bool) {
        let outer = self.clips.last().map_or(inner, |clip| clip.bounds);
        self.clips.push(Clip { bounds: outer.intersect(inner), is_whole });
    }
}

impl<'a> Device<'a> for Reader<'_> {
    fn draw_path(&mut self, path: &BezPath, props: DrawProps<'a>, mode: &DrawMode) {
        let reach = reach(mode, path.elements().len() <= 2);
        self.shape(path.bounding_box(), reach, props.transform, mode);
    }

    fn draw_rect(&mut self, rect: &Rect, props: DrawProps<'a>, mode: &DrawMode) {
        self.shape(*rect, reach(mode, true), props.transform, mode);
    }

    fn draw_glyph_run(
        &mut self,
        run: &GlyphRun<'_, 'a>,
        props: DrawProps<'a>,
        mode: &DrawMode,
    ) {
        let is_read = is_dark(&props.paint) && !matches!(mode, DrawMode::Invisible);
        for (index, glyph) in run.glyphs().iter().enumerate() {
            if self.is_full() {
                return;
            }
            let transform = props.transform * glyph.transform();
            if is_read {
                self.glyph(glyph, transform, index == 0);
            } else {
                let place = transform.transform_rect_bbox(self.bounds(glyph));
                self.page.marks.push(area(place));
            }
        }
    }

    fn draw_image(&mut self, image: Image<'a, '_>, props: ImageDrawProps<'a>) {
        // The transform takes the image's own pixels to the page.
        let pixels = Rect::new(0.0, 0.0, image.width().into(), image.height().into());
        let place = props.transform.transform_rect_bbox(pixels);
        if self.is_full() {
            return;
        }
        let grid = self.grid(&image, place, &props);
        self.page.images.push(area(place));
        let turn = turn(props.transform);
        self.page.pictures.push(Picture { turn, touched_by: None, grid });
    }

    fn push_clip_path(&mut self, clip: &ClipPath) {
        self.clip(clip.path.bounding_box(), false);
    }

    fn push_clip_rect(&mut self, rect: &Rect) {
        self.clip(*rect, true);
    }

    fn push_transparency_group(
        &mut self,
        opacity: f32,
        mask: Option<SoftMask<'a>>,
        blend: BlendMode,
    ) {
        self.groups.push(opacity >= 1.0 && mask.is_none() && blend == BlendMode::Normal);
    }

    fn pop_clip(&mut self) {
        self.clips.pop();
    }

    fn pop_transparency_group(&mut self) {
        self.groups.pop();
    }
}
