//! The fonts of the program, to hold those of a PDF against them: what a character
//! looks like in print must be what it looks like there.
//!
//! A PDF carries parts of its fonts, and a list of what character each glyph stands
//! for. Were the list or an outline wrong, a time would read right and print wrong.

use std::collections::HashMap;
use std::sync::{Arc, RwLock};

use ecow::EcoString;
use hayro_font::kurbo::BezPath;
use rustybuzz::ttf_parser::{Tag, name_id};
use rustybuzz::{Face as Shaper, Feature, UnicodeBuffer};
use skrifa::{DrawMemory, Font, GlyphId, PathSink, ScalerFont};

/// Outlines and advances are in thousandths of the size of the text.
const UNITS: f32 = 1000.0;

/// How far an advance may be off: PDFs round it.
const ROUNDED: f64 = 1.0;

/// The bytes of a font file.
pub type FontBytes = Arc<dyn AsRef<[u8]> + Send + Sync>;

/// The fonts that text is set in.
#[derive(Default)]
pub struct Faces {
    faces: Vec<Face>,
    known: RwLock<Known>,
}

/// What a text may look like in a face, which is told by its index.
type Known = HashMap<(usize, EcoString), Arc<[Looks]>>;

struct Face {
    /// As a PDF names it.
    name: String,
    bytes: FontBytes,
    index: u32,
    font: Font,
    scaler: ScalerFont,
    /// Whether its outlines are made for one of several weights or widths; they are
    /// in no file then.
    is_variable: bool,
}

/// What a character may look like.
struct Looks {
    outline: BezPath,
    advance: f64,
}

impl Faces {
    /// The fonts of some files: their bytes, and the number of the font in its file.
    pub fn new(files: impl IntoIterator<Item = (FontBytes, u32)>) -> Self {
        let faces =
            files.into_iter().filter_map(|(bytes, index)| Face::new(bytes, index));
        Self { faces: faces.collect(), ..Self::default() }
    }

    /// The fonts with the name that a PDF gives one, which begins with a mark of six
    /// letters; all, if none has it.
    pub(super) fn named(&self, name: &str) -> Vec<usize> {
        let name = name.split_once('+').map_or(name, |(_, name)| name);
        let has_name = |index: &usize| self.faces[*index].name == name;
        let named: Vec<usize> = (0..self.faces.len()).filter(has_name).collect();
        if named.is_empty() { (0..self.faces.len()).collect() } else { named }
    }

    /// Whether `text` looks so in one of some fonts.
    pub(super) fn has(
        &self,
        faces: &[usize],
        text: &str,
        outline: &BezPath,
        advance: f64,
    ) -> bool {
        let is = |looks: &Looks| {
            (looks.advance - advance).abs() <= ROUNDED && looks.outline == *outline
        };
        faces.iter().any(|face| {
            self.faces[*face].is_variable || self.looks(*face, text).iter().any(is)
        })
    }

    fn looks(&self, face: usize, text: &str) -> Arc<[Looks]> {
        let key = (face, EcoString::from(text));
        let known = self.known.read().ok().and_then(|known| known.get(&key).cloned());
        if let Some(known) = known {
            return known;
        }
        let looks: Arc<[Looks]> = self.faces[face].looks(text).into();
        if let Ok(mut known) = self.known.write() {
            known.insert(key, looks.clone());
        }
        looks
    }
}

impl Face {
    fn new(bytes: FontBytes, index: u32) -> Option<Self> {
        let font = Font::new(bytes.clone(), index)?;
        let shaper = Shaper::from_slice((*bytes).as_ref(), index)?;
        let names = shaper.names().into_iter();
        let mut names = names.filter(|name| name.name_id == name_id::POST_SCRIPT_NAME);
        Some(Self {
            name: names.find_map(|name| name.to_string()).unwrap_or_default(),
            is_variable: shaper.is_variable(),
            scaler: ScalerFont::unhinted(font.clone(), Some(UNITS)),
            font,
            bytes,
            index,
        })
    }

    /// What `text`, a character or some that are joined, may look like: with figures
    /// of one width, with those of their own, and as it is without any rule.
    fn looks(&self, text: &str) -> Vec<Looks> {
        let Some(shaper) = Shaper::from_slice((*self.bytes).as_ref(), self.index) else {
            return Vec::new();
        };
        let tabular = Feature::new(Tag::from_bytes(b"tnum"), 1, ..);
        let shaped = |features: &[Feature]| {
            let mut buffer = UnicodeBuffer::new();
            buffer.push_str(text);
            let shaped = rustybuzz::shape(&shaper, features, buffer);
            match shaped.glyph_infos() {
                [glyph] => Some(glyph.glyph_id),
                _ => None,
            }
        };
        let mut letters = text.chars();
        let plain = match (letters.next(), letters.next()) {
            (Some(letter), None) => shaper.glyph_index(letter).map(|id| u32::from(id.0)),
            _ => None,
        };
        let mut glyphs = vec![shaped(&[tabular]), shaped(&[]), plain];
        glyphs.dedup();
        let is_there = |glyph: &u32| *glyph != 0;
        let glyphs = glyphs.into_iter().flatten().filter(is_there);
        glyphs.map(|glyph| self.drawn(glyph)).collect()
    }

    fn drawn(&self, glyph: u32) -> Looks {
        let glyph = GlyphId::new(glyph);
        let mut path = Path(BezPath::new());
        if let Some(outline) = self.scaler.outline(glyph) {
            // An outline that cannot be drawn is empty, in a PDF too.
            let _ = outline.draw(DrawMemory::Scratch, &mut path);
        }
        let advance = self.font.glyph_metrics().h_advance(glyph);
        let advance = f64::from(advance * UNITS / f32::from(self.font.units_per_em()));
        Looks { outline: path.0, advance }
    }
}

/// Takes up an outline as the reader of PDFs does.
struct Path(BezPath);

impl PathSink for Path {
    fn move_to(&mut self, x: f32, y: f32) {
        self.0.move_to((x, y));
    }

    fn line_to(&mut self, x: f32, y: f32) {
        if !self.0.elements().is_empty() {
            self.0.line_to((x, y));
        }
    }

    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        if !self.0.elements().is_empty() {
            self.0.quad_to((cx, cy), (x, y));
        }
    }

    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        if !self.0.elements().is_empty() {
            self.0.curve_to((ax, ay), (bx, by), (x, y));
        }
    }

    fn close(&mut self) {
        if !self.0.elements().is_empty() {
            self.0.close_path();
        }
    }
}
