//! The fonts of a PDF: what each code stands for, and the bounds of its glyph.
//!
//! `hayro-font` takes the fonts apart. What it says of a code is kept, since a page
//! has some thousand glyphs and a font some hundred.

use std::cell::RefCell;

use ecow::EcoString;
use hayro_font::hayro_cmap::BfString;
use hayro_font::hayro_syntax::object::{Dict, ObjectIdentifier};
use hayro_font::hayro_syntax::xref::XRef;
use hayro_font::kurbo::Rect;
use hayro_font::{CMapResolverFn, FontCache, FontGlyph, FontResolverFn};
use std::sync::Arc;

use super::faces::Faces;

/// What is drawn for a code, in thousandths of the size of the text.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawn {
    /// The characters it stands for; a mark that nothing expects where the PDF
    /// does not say.
    pub text: EcoString,
    /// Bounds of the points that its outline is drawn by, which hold the outline.
    pub bounds: Rect,
    pub advance: f64,
    /// Whether it looks as in the program's own fonts, if they are known.
    pub is_ours: bool,
}

impl Drawn {
    /// Whether it leaves no ink, as a space.
    pub fn is_blank(&self) -> bool {
        self.bounds.area() == 0.0
    }
}

/// A font.
pub(super) struct Font<'a> {
    font: hayro_font::Font<'a>,
    /// The program's own fonts, and which of them may be this one.
    faces: Option<(Arc<Faces>, Vec<usize>)>,
    /// What is known of each code.
    known: RefCell<Vec<Option<Drawn>>>,
}

impl Font<'_> {
    /// What is drawn for `code`.
    pub fn drawn(&self, code: u16) -> Drawn {
        let index = usize::from(code);
        let mut known = self.known.borrow_mut();
        if known.len() <= index {
            known.resize(index + 1, None);
        }
        known[index].get_or_insert_with(|| self.look_up(u32::from(code))).clone()
    }

    fn look_up(&self, code: u32) -> Drawn {
        let FontGlyph::Outline(glyph) = self.font.glyph(self.font.map_code(code), code)
        else {
            // The gate lets no such font through.
            let text = EcoString::new();
            return Drawn { text, bounds: Rect::ZERO, advance: 0.0, is_ours: false };
        };
        let text = match glyph.as_unicode() {
            Some(BfString::Char(c)) => EcoString::from(c),
            Some(BfString::String(text)) => EcoString::from(text),
            None => EcoString::from(char::REPLACEMENT_CHARACTER),
        };
        let outline = glyph.outline();
        let bounds = if outline.is_empty() { Rect::ZERO } else { outline.control_box() };
        let advance = self.font.code_advance(code).x;
        let is_ours = self
            .faces
            .as_ref()
            .is_none_or(|(faces, own)| faces.has(own, &text, &outline, advance));
        Drawn { text, bounds, advance, is_ours }
    }
}

/// The fonts of a file.
pub(super) struct Fonts<'a> {
    xref: &'a XRef,
    cache: FontCache<'a>,
    no_font: FontResolverFn,
    no_map: CMapResolverFn,
}

impl<'a> Fonts<'a> {
    pub fn of(xref: &'a XRef) -> Self {
        Self {
            xref,
            cache: FontCache::new(),
            no_font: Arc::new(|_| None),
            no_map: Arc::new(|_| None),
        }
    }

    /// The font that is the object `number` and has this name, if it can be read.
    /// It is held against `faces` if there are some.
    pub fn load(
        &self,
        number: usize,
        name: &str,
        faces: Option<&Arc<Faces>>,
    ) -> Option<Font<'a>> {
        let id = ObjectIdentifier::new(u32::try_from(number).ok()?, 0);
        let dict = self.xref.get::<Dict<'a>>(id)?;
        let font = self.cache.font(&dict, &self.no_font, &self.no_map)?;
        let faces = faces.map(|faces| (faces.clone(), faces.named(name)));
        font.is_horizontal().then(|| Font { font, faces, known: RefCell::default() })
    }
}
