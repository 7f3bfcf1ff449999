//! Reads the pages of a PDF a second time, with `hayro`, and compares.
//!
//! Nothing is proven by it alone. It shares no code with the reader of [`super::draw`]
//! but the fonts' own library, so a mistake of either shows.

use std::collections::HashMap;

use ecow::EcoString;
use hayro_interpret::font::{Glyph as PdfGlyph, GlyphRun};
use hayro_interpret::hayro_cmap::BfString;
use hayro_interpret::kurbo::{Affine, BezPath, Rect, Shape};
use hayro_interpret::{
    BlendMode, ClipPath, Context, Device, DrawMode, DrawProps, Image, ImageDrawProps,
    InterpreterCache, InterpreterSettings, Paint, RectExt, SoftMask, TransformExt,
    interpret_page,
};

use super::draw::turn_of_text;
use super::page::{Area, Glyph, MM_PER_PT, Page};
use super::{Difference, code};

/// How far the places of the two readers may lie apart, in millimetres.
const APART_MM: f64 = 0.01;

/// What is other on `pages` than a second reading of `bytes` finds. The file must
/// have been let through, for this reader bounds nothing.
pub(super) fn compare(bytes: &[u8], pages: &[Page]) -> Vec<Difference> {
    let again = match read(bytes) {
        Ok(again) => again,
        Err(why) => return vec![Difference::new(0, why)],
    };
    if again.len() != pages.len() {
        let (once, again) = (pages.len(), again.len());
        let what = format!("{once} pages were read, and {again} the second time");
        return vec![Difference::new(0, what)];
    }
    let pairs = (1..).zip(pages.iter().zip(&again));
    pairs
        .filter_map(|(number, (once, again))| {
            let what = difference(once, again)?;
            Some(Difference::new(number, format!("read a second time, {what}")))
        })
        .collect()
}

/// How `again` is not `once`, in words.
fn difference(once: &Page, again: &Page) -> Option<String> {
    let near = |a: f64, b: f64| (a - b).abs() <= APART_MM;
    let same = |one: &Area, other: &Area| one.is_near(other, APART_MM);
    if !near(once.width, again.width) || !near(once.height, again.height) {
        return Some("the page has another size".to_owned());
    }
    let count = once.glyphs.len();
    if count != again.glyphs.len() {
        let again = again.glyphs.len();
        return Some(format!("it has {again} characters, and not {count}"));
    }
    let same_glyph = |one: &Glyph, other: &Glyph| {
        one.text == other.text
            && (one.starts_run, one.blank) == (other.starts_run, other.blank)
            && same(&one.area, &other.area)
            && near(one.origin.0, other.origin.0)
            && near(one.origin.1, other.origin.1)
            && near(one.size, other.size)
            && one.turn == other.turn
    };
    let mut glyphs = once.glyphs.iter().zip(&again.glyphs);
    if let Some((one, _)) = glyphs.find(|(one, other)| !same_glyph(one, other)) {
        return Some(format!("the character \"{}\" is another or elsewhere", one.text));
    }
    let all_same = |one: &[Area], other: &[Area]| {
        one.len() == other.len() && one.iter().zip(other).all(|(a, b)| same(a, b))
    };
    if !all_same(&once.images, &again.images) {
        return Some("the images are others or elsewhere".to_owned());
    }
    (!all_same(&once.shapes, &again.shapes))
        .then(|| "the lines are others or elsewhere".to_owned())
}

/// Reads the pages with `hayro`: their glyphs, images and shapes.
///
/// # Errors
///
/// What is wrong, if the bytes are no PDF that can be read.
pub fn read(bytes: &[u8]) -> Result<Vec<Page>, String> {
    let pdf = code::open(bytes)?;
    let cache = InterpreterCache::new();
    let mut outlines = HashMap::new();
    let mut pages: Vec<Page> = Vec::new();
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
        let mut reader =
            Reader { page: Page::default(), outlines: &mut outlines, clips: Vec::new() };
        interpret_page(page, &mut context, &mut reader);
        let mut page = reader.page;
        page.width = width * MM_PER_PT;
        page.height = height * MM_PER_PT;
        pages.push(page);
    }
    Ok(pages)
}

/// Collects what is drawn on a page.
struct Reader<'o> {
    page: Page,
    /// Bounds of glyph outlines already seen.
    outlines: &'o mut HashMap<u128, Rect>,
    /// Bounds of the clips in force, each within the one before.
    clips: Vec<Rect>,
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

impl Reader<'_> {
    fn glyph(&mut self, glyph: &PdfGlyph, transform: Affine, starts_run: bool) {
        let text = match glyph.as_unicode() {
            Some(BfString::Char(c)) => EcoString::from(c),
            Some(BfString::String(text)) => EcoString::from(text),
            None => EcoString::from(char::REPLACEMENT_CHARACTER),
        };
        let bounds = match glyph {
            PdfGlyph::Outline(outline) => {
                let key = outline.identifier().cache_key();
                *self.outlines.entry(key).or_insert_with(|| {
                    let outline = outline.outline();
                    if outline.is_empty() { Rect::ZERO } else { outline.control_box() }
                })
            }
            PdfGlyph::Type3(_) => Rect::ZERO,
        };
        let blank = bounds.area() == 0.0;
        let place = transform.transform_rect_bbox(bounds);
        // What is clipped away is not on the paper.
        if self.clips.last().is_some_and(|clip| !clip.contains(place.center())) {
            return;
        }
        let [a, b, c, d, x, y] = transform.as_coeffs();
        self.page.glyphs.push(Glyph {
            text,
            area: area(place),
            origin: (x * MM_PER_PT, y * MM_PER_PT),
            // The other reader does not say; what stands next shows it.
            advance: 0.0,
            size: d.abs() * 1000.0 * MM_PER_PT,
            turn: turn_of_text([a, b, c, d]),
            starts_run,
            blank,
            // Nor this.
            is_heard: true,
        });
    }

    fn shape(&mut self, bounds: Rect, transform: Affine) {
        self.page.shapes.push(area(transform.transform_rect_bbox(bounds)));
    }
}

impl<'a> Device<'a> for Reader<'_> {
    fn draw_path(&mut self, path: &BezPath, props: DrawProps<'a>, _: &DrawMode) {
        self.shape(path.bounding_box(), props.transform);
    }

    fn draw_rect(&mut self, rect: &Rect, props: DrawProps<'a>, _: &DrawMode) {
        self.shape(*rect, props.transform);
    }

    fn draw_glyph_run(
        &mut self,
        run: &GlyphRun<'_, 'a>,
        props: DrawProps<'a>,
        mode: &DrawMode,
    ) {
        if !is_dark(&props.paint) || matches!(mode, DrawMode::Invisible) {
            return;
        }
        for (index, glyph) in run.glyphs().iter().enumerate() {
            self.glyph(glyph, props.transform * glyph.transform(), index == 0);
        }
    }

    fn draw_image(&mut self, image: Image<'a, '_>, props: ImageDrawProps<'a>) {
        // The transform takes the image's own pixels to the page.
        let pixels = Rect::new(0.0, 0.0, image.width().into(), image.height().into());
        self.page.images.push(area(props.transform.transform_rect_bbox(pixels)));
    }

    fn push_clip_path(&mut self, clip: &ClipPath) {
        let inner = clip.path.bounding_box();
        let outer = self.clips.last().copied().unwrap_or(inner);
        self.clips.push(outer.intersect(inner));
    }

    fn push_transparency_group(&mut self, _: f32, _: Option<SoftMask<'a>>, _: BlendMode) {
    }

    fn pop_clip(&mut self) {
        self.clips.pop();
    }

    fn pop_transparency_group(&mut self) {}
}
