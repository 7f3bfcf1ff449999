//! Fonts, shaped text, and lines that are broken where the next word does not fit.

use std::ops::Range;
use std::path::Path;
use std::rc::Rc;

use krilla::text::{Font, GlyphId, KrillaGlyph};
use rustybuzz::{Direction, Face, Feature, ShapePlan, UnicodeBuffer, ttf_parser::Tag};

/// Height of capitals in ems, from the font files: a line is as tall as they are.
pub const CAP: f32 = 0.668;
pub const EM: f32 = 12.0;
/// Between lines.
pub const LEADING: f32 = 0.45 * EM;

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Style {
    Regular,
    Bold,
    Mono,
}

/// A text that has been shaped.
pub struct Run {
    pub text: String,
    pub style: Style,
    pub glyphs: Vec<KrillaGlyph>,
}

impl Run {
    /// Width in ems of some of its glyphs.
    fn ems(&self, glyphs: Range<usize>) -> f32 {
        self.glyphs[glyphs].iter().map(|glyph| glyph.x_advance).sum()
    }

    pub fn width(&self, size: f32) -> f32 {
        self.ems(0..self.glyphs.len()) * size
    }
}

/// A stretch of a line in one style; `x` is where it begins.
pub struct Piece {
    pub x: f32,
    pub run: Rc<Run>,
    pub glyphs: Range<usize>,
}

impl Piece {
    pub fn width(&self, size: f32) -> f32 {
        self.run.ems(self.glyphs.clone()) * size
    }
}

struct Loaded {
    font: Font,
    face: Face<'static>,
    plan: ShapePlan,
}

pub struct Fonts([Loaded; 3]);

impl Fonts {
    /// The program's own fonts, from their folder.
    pub fn load(folder: &Path) -> Self {
        Self(
            [
                "AtkinsonHyperlegibleNext-Regular.ttf",
                "AtkinsonHyperlegibleNext-Bold.ttf",
                "AtkinsonHyperlegibleMono-Bold.ttf",
            ]
            .map(|name| {
                let bytes = std::fs::read(folder.join(name)).expect("a font");
                let bytes: &'static [u8] = bytes.leak();
                let face = Face::from_slice(bytes, 0).expect("a font");
                let plan = ShapePlan::new(
                    &face,
                    Direction::LeftToRight,
                    Some(rustybuzz::script::LATIN),
                    None,
                    &features(),
                );
                let font = Font::new(bytes.to_vec().into(), 0).expect("a font");
                Loaded { font, face, plan }
            }),
        )
    }

    pub fn font(&self, style: Style) -> Font {
        self.0[style as usize].font.clone()
    }

    pub fn shape(&self, text: &str, style: Style) -> Rc<Run> {
        let loaded = &self.0[style as usize];
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.set_direction(Direction::LeftToRight);
        buffer.set_script(rustybuzz::script::LATIN);
        let shaped = rustybuzz::shape_with_plan(&loaded.face, &loaded.plan, buffer);
        let em = loaded.face.units_per_em() as f32;
        let (infos, positions) = (shaped.glyph_infos(), shaped.glyph_positions());
        let glyphs =
            infos.iter().zip(positions).enumerate().map(|(index, (info, at))| {
                let start = info.cluster as usize;
                let end = infos[index + 1..]
                    .iter()
                    .map(|next| next.cluster as usize)
                    .find(|next| *next != start)
                    .unwrap_or(text.len());
                KrillaGlyph::new(
                    GlyphId::new(info.glyph_id),
                    at.x_advance as f32 / em,
                    at.x_offset as f32 / em,
                    at.y_offset as f32 / em,
                    at.y_advance as f32 / em,
                    start..end,
                    None,
                )
            });
        let glyphs = glyphs.collect();
        Rc::new(Run { text: text.to_owned(), style, glyphs })
    }

    pub fn width(&self, text: &str, style: Style, size: f32) -> f32 {
        self.shape(text, style).width(size)
    }
}

fn features() -> [Feature; 1] {
    [Feature::new(Tag::from_bytes(b"tnum"), 1, ..)]
}

/// Breaks runs into lines of `room`; the runs are apart by a space. A word wider
/// than that stands alone.
pub fn wrap(runs: &[Rc<Run>], size: f32, room: f32) -> Vec<Vec<Piece>> {
    let mut lines: Vec<Vec<Piece>> = vec![Vec::new()];
    let mut x = 0.0;
    for run in runs {
        let space = space_ems(run) * size;
        let mut begin = 0;
        while begin <= run.glyphs.len() {
            let end = (begin..run.glyphs.len())
                .find(|index| is_space(run, *index))
                .unwrap_or(run.glyphs.len());
            let word = begin..end;
            begin = end + 1;
            let wide = run.ems(word.clone()) * size;
            let line = lines.last_mut().expect("a line");
            if !line.is_empty() && x + space + wide > room {
                lines.push(vec![Piece { x: 0.0, run: run.clone(), glyphs: word }]);
                x = wide;
                continue;
            }
            match line.last_mut() {
                Some(piece) if Rc::ptr_eq(&piece.run, run) => {
                    piece.glyphs.end = word.end;
                    x += space + wide;
                }
                last => {
                    if last.is_some() {
                        x += space;
                    }
                    line.push(Piece { x, run: run.clone(), glyphs: word });
                    x += wide;
                }
            }
        }
    }
    lines
}

fn is_space(run: &Run, index: usize) -> bool {
    &run.text[run.glyphs[index].text_range.clone()] == " "
}

fn space_ems(run: &Run) -> f32 {
    (0..run.glyphs.len())
        .find(|index| is_space(run, *index))
        .map_or(0.25, |index| run.glyphs[index].x_advance)
}

/// Height of some lines.
pub fn tall(lines: usize, size: f32, leading: f32) -> f32 {
    lines as f32 * CAP * size + (lines.max(1) - 1) as f32 * leading
}
