//! Reads QR codes: from the modules of an image, and from a page as a printer
//! draws it.
//!
//! The modules are taken from the PDF's own image, one pixel a module, so that
//! nothing need be drawn. Decoding is rxing's. It corrects errors and does not
//! look at the patterns by which a scanner finds a code, so those are compared
//! here, module by module.

use std::sync::Arc;

use hayro::kurbo::Affine;
use hayro::vello_cpu::{
    Pixmap, RasterizerSettings, RenderContext, Resources, TargetInit,
    color::palette::css::WHITE,
};
use hayro::{RenderCache, RenderSettings, render_into};
use hayro_interpret::hayro_syntax::Pdf;
use hayro_interpret::{InterpreterSettings, TransformExt};
use qrcode::bits::encode_auto;
use qrcode::canvas::{Canvas, MaskPattern};
use qrcode::ec::construct_codewords;
use qrcode::{Color, EcLevel};
use rxing::BarcodeFormat;
use rxing::common::BitMatrix;
use rxing::helpers::detect_in_luma;
use rxing::qrcode::decoder::qrcode_decoder::decode_bitmatrix;

use super::Area;

/// Modules of the quiet zone on each side (ISO/IEC 18004, from memory).
const QUIET: usize = 4;

/// Sides of the codes that are read, in modules: versions 1 to 6, which have no
/// more than one alignment pattern (ISO/IEC 18004, from memory). A card's number
/// fits version 2.
const SIDES: [usize; 6] = [21, 25, 29, 33, 37, 41];

/// A pixel up to this is dark, and one of at least [`LIGHT`] is light.
const DARK: u8 = 63;
const LIGHT: u8 = 192;

/// The pixels of an image, each of them a module.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Grid {
    /// Modules to a side, quiet zone included.
    pub side: usize,
    /// Row by row from the top, whether the module is dark.
    pub dark: Vec<bool>,
}

impl Grid {
    /// That an image of this many pixels can be a code.
    ///
    /// # Errors
    ///
    /// Why it is none, in words that follow "the image".
    pub(super) fn is_size_of_one(width: usize, height: usize) -> Result<(), String> {
        if width == height && width <= SIDES[SIDES.len() - 1] + 2 * QUIET {
            return Ok(());
        }
        Err(format!("has {width} x {height} pixels, as no code has"))
    }

    /// The pixels of an image with `side` to a side and one byte for each of the
    /// `parts` of a colour.
    ///
    /// # Errors
    ///
    /// Why the image is no grid of modules, in words that follow "the image".
    pub(super) fn of_pixels(
        bytes: &[u8],
        parts: usize,
        side: usize,
    ) -> Result<Self, String> {
        if bytes.len() != side * side * parts || side == 0 {
            return Err("has another number of pixels than it says".to_owned());
        }
        let dark = bytes.chunks_exact(parts).map(|pixel| {
            let all = |test: fn(u8) -> bool| pixel.iter().all(|part| test(*part));
            match (all(|part| part <= DARK), all(|part| part >= LIGHT)) {
                (true, _) => Ok(true),
                (_, true) => Ok(false),
                _ => Err("has pixels that are neither dark nor light".to_owned()),
            }
        });
        Ok(Self { side, dark: dark.collect::<Result<_, _>>()? })
    }

    fn is_dark(&self, row: usize, column: usize) -> bool {
        self.dark[row * self.side + column]
    }

    /// The text of the code.
    ///
    /// # Errors
    ///
    /// What is wrong with the code, in words that follow "the image".
    pub fn decode(&self) -> Result<String, String> {
        let side = self
            .side
            .checked_sub(2 * QUIET)
            .filter(|side| SIDES.contains(side))
            .ok_or_else(|| {
            format!("is {0} x {0} modules, as no code is", self.side)
        })?;
        let within = |at: usize| (QUIET..QUIET + side).contains(&at);
        let quiet_is_free = (0..self.side * self.side)
            .filter(|at| !within(at / self.side) || !within(at % self.side))
            .all(|at| !self.dark[at]);
        if !quiet_is_free {
            return Err(format!("has no quiet zone of {QUIET} light modules"));
        }
        let dark = |row: usize, column: usize| self.is_dark(row + QUIET, column + QUIET);
        if let Some(what) = missing_pattern(side, dark) {
            return Err(format!("lacks a code's {what}"));
        }
        let mut bits = BitMatrix::with_single_dimension(side as u32)
            .map_err(|error| format!("is no code: {error}"))?;
        for (row, column) in (0..side * side).map(|at| (at / side, at % side)) {
            if dark(row, column) {
                bits.set(column as u32, row as u32);
            }
        }
        let read = decode_bitmatrix(&bits)
            .map_err(|error| format!("holds no code that can be read: {error}"))?;
        // The decoder says this of a code that it could only read in a mirror.
        if read.getOther().is_some() {
            return Err("shows a code in a mirror".to_owned());
        }
        // The decoder gives the two bits that stand for the level.
        let level = match read.getECLevel() {
            "1" => "L",
            "0" => "M",
            "3" => "Q",
            "2" => "H",
            other => other,
        };
        if level != "Q" {
            return Err(format!("has error correction of level {level}, and not Q"));
        }
        // A code is read even where a quarter of it is damaged.
        let text = read.getText();
        let mask = [2, 3, 4].map(|column| dark(8, column));
        let wanted = encoded(text, mask).ok_or("holds what no code of ours can")?;
        let found = (0..side * side).map(|at| dark(at / side, at % side));
        let wrong = found.zip(&wanted).filter(|(found, wanted)| found != *wanted).count();
        if wrong > 0 || wanted.len() != side * side {
            return Err(format!("has {wrong} damaged modules"));
        }
        Ok(text.to_owned())
    }
}

/// The modules of the code of `text`, without quiet zone, at level Q and masked as the
/// bits of its format say, which stand in the code from the third on.
///
/// # Source
///
/// ISO/IEC 18004, 7.9 (from memory): the bits are inverted by 101.
fn encoded(text: &str, mask: [bool; 3]) -> Option<Vec<bool>> {
    let pattern = match mask {
        [true, false, true] => MaskPattern::Checkerboard,
        [true, false, false] => MaskPattern::HorizontalLines,
        [true, true, true] => MaskPattern::VerticalLines,
        [true, true, false] => MaskPattern::DiagonalLines,
        [false, false, true] => MaskPattern::LargeCheckerboard,
        [false, false, false] => MaskPattern::Fields,
        [false, true, true] => MaskPattern::Diamonds,
        [false, true, false] => MaskPattern::Meadow,
    };
    let bits = encode_auto(text.as_bytes(), EcLevel::Q).ok()?;
    let version = bits.version();
    let (data, correction) =
        construct_codewords(&bits.into_bytes(), version, EcLevel::Q).ok()?;
    let mut canvas = Canvas::new(version, EcLevel::Q);
    canvas.draw_all_functional_patterns();
    canvas.draw_data(&data, &correction);
    canvas.apply_mask(pattern);
    Some(canvas.into_colors().iter().map(|color| *color == Color::Dark).collect())
}

/// The first pattern that every code of `side` modules has and this one has not:
/// finder patterns with their separators, timing patterns, the alignment pattern
/// and the module that is always dark.
///
/// # Source
///
/// ISO/IEC 18004, 6.3 (from memory); `tests` below compares with the encoder.
fn missing_pattern(
    side: usize,
    dark: impl Fn(usize, usize) -> bool,
) -> Option<&'static str> {
    // Rings about the middle of a finder pattern, from within: dark to 1, light at
    // 2, dark at 3, and the light separator at 4.
    let ring = |one: usize, other: usize| one.abs_diff(other);
    for (row, column) in [(3, 3), (3, side - 4), (side - 4, 3)] {
        for (y, x) in (0..side * side).map(|at| (at / side, at % side)) {
            let distance = ring(y, row).max(ring(x, column));
            if distance <= 4 && dark(y, x) != !matches!(distance, 2 | 4) {
                return Some("finder patterns");
            }
        }
    }
    let timing = (8..side - 8).all(|at| {
        let wanted = at % 2 == 0;
        dark(6, at) == wanted && dark(at, 6) == wanted
    });
    if !timing {
        return Some("timing patterns");
    }
    if side > SIDES[0] {
        let middle = side - 7;
        for (y, x) in (0..25).map(|at| (middle - 2 + at / 5, middle - 2 + at % 5)) {
            let distance = ring(y, middle).max(ring(x, middle));
            if dark(y, x) != (distance != 1) {
                return Some("alignment pattern");
            }
        }
    }
    (!dark(side - 8, 8)).then_some("dark module")
}

/// The text of the QR code in `area` of a page (counted from 0), drawn at
/// `dots_per_inch` as a printer would.
///
/// # Errors
///
/// What stands in the way: no PDF, no such page, no QR code.
pub fn decode_qr(
    bytes: &[u8],
    page: usize,
    area: Area,
    dots_per_inch: f64,
) -> Result<String, String> {
    let pdf = open(bytes)?;
    decode_drawn(&pdf, &RenderCache::new(), page, area, dots_per_inch)
}

pub(super) fn open(bytes: &[u8]) -> Result<Pdf, String> {
    Pdf::new(Arc::new(bytes.to_vec()))
        .map_err(|error| format!("this is no sound PDF: {error:?}"))
}

/// As [`decode_qr`], for a PDF that is open.
pub(super) fn decode_drawn<'a>(
    pdf: &'a Pdf,
    cache: &RenderCache<'a>,
    page: usize,
    area: Area,
    dots_per_inch: f64,
) -> Result<String, String> {
    let page = pdf.pages().get(page).ok_or("there is no such page")?;
    let dots = |mm: f64| mm / 25.4 * dots_per_inch;
    let width = dots(area.right - area.left).round() as u16;
    let height = dots(area.bottom - area.top).round() as u16;
    let transform = Affine::translate((-dots(area.left), -dots(area.top)))
        * Affine::scale(dots_per_inch / 72.0)
        * page.initial_transform(true).to_kurbo();
    let mut context = RenderContext::new(width, height);
    render_into(
        page,
        cache,
        &InterpreterSettings::default(),
        &RenderSettings::default(),
        &mut context,
        transform,
    );
    context.flush();
    let mut pixels = Pixmap::new(width, height);
    context.render_with(
        &mut pixels,
        &mut Resources::default(),
        RasterizerSettings {
            target_init: TargetInit::Clear(WHITE),
            ..Default::default()
        },
    );
    let luma: Vec<u8> = pixels.data().iter().map(|pixel| pixel.g).collect();
    detect_in_luma(luma, width.into(), height.into(), Some(BarcodeFormat::QR_CODE))
        .map(|result| result.getText().to_owned())
        .map_err(|error| format!("no QR code can be read on the label: {error}"))
}

#[cfg(test)]
mod tests {
    use qrcode::{QrCode, Version};

    use super::*;

    /// A code made by the encoder, with its quiet zone.
    fn grid(text: &str, version: i16, level: EcLevel) -> Grid {
        let code = QrCode::with_version(text, Version::Normal(version), level).unwrap();
        let side = code.width() + 2 * QUIET;
        let mut grid = Grid { side, dark: vec![false; side * side] };
        for (index, color) in code.to_colors().iter().enumerate() {
            let (row, column) = (index / code.width(), index % code.width());
            grid.dark[(row + QUIET) * side + column + QUIET] = *color == Color::Dark;
        }
        grid
    }

    #[test]
    fn codes_of_every_size_up_to_version_six_are_read() {
        // The most alphanumeric characters at level Q (ISO/IEC 18004, table 7, from
        // memory).
        for (version, length) in [(1, 16), (2, 29), (3, 47), (4, 67), (5, 87), (6, 108)] {
            let text: String = "HB-20417-15".chars().cycle().take(length).collect();
            let made = grid(&text, version, EcLevel::Q);
            assert_eq!(made.decode().unwrap(), text, "version {version}");
        }
        let wide = grid("HB-20417-15", 3, EcLevel::Q);
        assert!(wide.decode().unwrap_err().ends_with("damaged modules"));
        let large = grid("HB-20417-15", 7, EcLevel::Q);
        assert_eq!(large.decode().unwrap_err(), "is 53 x 53 modules, as no code is");
        let lesser = grid("HB-20417-15", 2, EcLevel::M);
        let why = "has error correction of level M, and not Q";
        assert_eq!(lesser.decode().unwrap_err(), why);
    }

    #[test]
    fn each_module_of_a_pattern_and_of_the_quiet_zone_is_looked_at() {
        let sound = grid("HB-LONGEST-ORDER-NO1-1Z", 2, EcLevel::Q);
        let damaged: Vec<String> = (0..sound.dark.len())
            .map(|at| {
                let mut grid = sound.clone();
                grid.dark[at] = !grid.dark[at];
                grid.decode().unwrap_err()
            })
            .collect();
        let count = |what: &str| damaged.iter().filter(|why| why.contains(what)).count();
        // Counts of ISO/IEC 18004, from memory: three finders with separators are
        // 3 x 64, two timing patterns between them 2 x 9 in version 2, the alignment
        // pattern 25; the quiet zone is what is left of 33 x 33 around 25 x 25.
        assert_eq!(count("finder patterns"), 3 * 64);
        assert_eq!(count("timing patterns"), 2 * 9);
        assert_eq!(count("alignment pattern"), 25);
        assert_eq!(count("dark module"), 1);
        assert_eq!(count("quiet zone"), 33 * 33 - 25 * 25);
        let others = 25 * 25 - (192 + 18 + 25 + 1);
        assert_eq!(count("damaged modules"), others);
    }

    #[test]
    fn a_code_that_is_turned_mirrored_or_inverted_is_refused() {
        let sound = grid("HB-LONGEST-ORDER-NO1-1Z", 2, EcLevel::Q);
        let side = sound.side;
        let with = |dark: &dyn Fn(usize, usize) -> bool| {
            let dark = (0..side * side).map(|at| dark(at / side, at % side)).collect();
            Grid { side, dark }.decode().unwrap_err()
        };
        let turned =
            with(&|row, column| sound.is_dark(side - 1 - row, side - 1 - column));
        assert_eq!(turned, "lacks a code's finder patterns");
        let inverted = with(&|row, column| !sound.is_dark(row, column));
        assert_eq!(inverted, "has no quiet zone of 4 light modules");
        let mirrored = with(&|row, column| sound.is_dark(column, row));
        assert_eq!(mirrored, "shows a code in a mirror");
    }
}
