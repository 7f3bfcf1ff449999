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

/// The most pages that are read; a file of a run has half of that.
const MOST_PAGES: usize = 4000;

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

/// One page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// Size in millimetres; media box and crop box are the same.
    pub width: f64,
    pub height: f64,
    pub glyphs: Vec<Glyph>,
    pub images: Vec<Area>,
    pub shapes: Vec<Area>,
    /// Filled shapes, each with the number of glyphs drawn before it.
    pub fills: Vec<(Area, usize)>,
}

impl Page {
    /// Whether nothing is on the page.
    pub fn is_blank(&self) -> bool {
        self.glyphs.is_empty() && self.images.is_empty() && self.shapes.is_empty()
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
/// What is wrong, if the bytes are no PDF that can be read.
pub fn read(bytes: &[u8]) -> Result<Vec<Page>, String> {
    let data: Arc<Vec<u8>> = Arc::new(bytes.to_vec());
    let pdf =
        Pdf::new(data).map_err(|error| format!("this is no sound PDF: {error:?}"))?;
    if pdf.pages().len() > MOST_PAGES {
        return Err(format!("the PDF has more than {MOST_PAGES} pages"));
    }
    let cache = InterpreterCache::new();
    let mut outlines = HashMap::new();
    let mut pages = Vec::new();
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
        reader.page.width = width * MM_PER_PT;
        reader.page.height = height * MM_PER_PT;
        pages.push(reader.page);
    }
    Ok(pages)
}

/// Collects what is drawn on a page.
struct Reader<'o> {
    page: Page,
    /// Bounding boxes of glyph outlines already seen.
    outlines: &'o mut HashMap<u128, Rect>,
    /// Clips in force, each within the one before.
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
    fn shape(&mut self, bounds: Rect, mode: &DrawMode) {
        let area = area(bounds);
        self.page.shapes.push(area);
        if matches!(mode, DrawMode::Fill(_) | DrawMode::FillAndStroke(..)) {
            self.page.fills.push((area, self.page.glyphs.len()));
        }
    }

    fn glyph(&mut self, glyph: &PdfGlyph, transform: Affine, starts_run: bool) {
        let text = match glyph.as_unicode() {
            Some(BfString::Char(c)) => c.to_string(),
            Some(BfString::String(text)) => text,
            None => char::REPLACEMENT_CHARACTER.to_string(),
        };
        let bounds = match glyph {
            PdfGlyph::Outline(outline) => {
                let key = outline.identifier().cache_key();
                *self
                    .outlines
                    .entry(key)
                    .or_insert_with(|| outline.outline().bounding_box())
            }
            PdfGlyph::Type3(_) => Rect::ZERO,
        };
        let blank = bounds.area() == 0.0;
        let place = transform.transform_rect_bbox(bounds);
        // What is clipped away is not on the paper.
        if self.clips.last().is_some_and(|clip| !clip.contains(place.center())) {
            return;
        }
        let area = area(place);
        self.page.glyphs.push(Glyph { text, area, starts_run, blank });
    }
}

impl<'a> Device<'a> for Reader<'_> {
    fn draw_path(&mut self, path: &BezPath, props: DrawProps<'a>, mode: &DrawMode) {
        self.shape(props.transform.transform_rect_bbox(path.bounding_box()), mode);
    }

    fn draw_rect(&mut self, rect: &Rect, props: DrawProps<'a>, mode: &DrawMode) {
        self.shape(props.transform.transform_rect_bbox(*rect), mode);
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
