//! The modules of a QR code.
//!
//! The crate `qrcode` makes the symbol. Only the choice among its eight masks is
//! made here, by the same rules: that took the crate more time than all the rest.

use qrcode::bits::encode_auto;
use qrcode::canvas::{Canvas, MaskPattern};
use qrcode::ec::construct_codewords;
use qrcode::types::{QrError, QrResult};
use qrcode::{Color, EcLevel};

/// Eight masks (ISO/IEC 18004, from memory).
const MASKS: [MaskPattern; 8] = [
    MaskPattern::Checkerboard,
    MaskPattern::HorizontalLines,
    MaskPattern::VerticalLines,
    MaskPattern::DiagonalLines,
    MaskPattern::LargeCheckerboard,
    MaskPattern::Fields,
    MaskPattern::Diamonds,
    MaskPattern::Meadow,
];

/// The widest symbol that is made: a row of it is one number.
pub const WIDEST: i16 = 120;

/// The symbol of `text` without its quiet zone: modules to a side, and for each in
/// rows whether it is dark.
///
/// # Errors
///
/// The text is too long for a QR code of [`WIDEST`] modules to a side.
pub fn symbol(text: &str, level: EcLevel) -> QrResult<(usize, Vec<bool>)> {
    let bits = encode_auto(text.as_bytes(), level)?;
    let version = bits.version();
    if version.width() > WIDEST {
        return Err(QrError::DataTooLong);
    }
    let (data, correction) = construct_codewords(&bits.into_bytes(), version, level)?;
    let mut canvas = Canvas::new(version, level);
    canvas.draw_all_functional_patterns();
    canvas.draw_data(&data, &correction);
    let side = usize::try_from(version.width()).unwrap_or_default();
    let masked = MASKS.iter().map(|mask| {
        let mut canvas = canvas.clone();
        canvas.apply_mask(*mask);
        canvas.into_colors().iter().map(|color| *color == Color::Dark).collect()
    });
    let best = masked.min_by_key(|dark: &Vec<bool>| penalty(side, dark));
    Ok((side, best.unwrap_or_default()))
}

/// How hard a symbol is to read: lines of one colour, blocks of one colour, what
/// looks like a finder, and more dark than light or less (ISO/IEC 18004, from memory).
fn penalty(side: usize, dark: &[bool]) -> u32 {
    let rows: Vec<u128> = dark.chunks(side).map(line).collect();
    let columns: Vec<u128> =
        (0..side).map(|x| line((0..side).map(|y| &dark[y * side + x]))).collect();
    let lines: u32 = rows
        .iter()
        .chain(&columns)
        .map(|line| runs(*line, side) + finders(*line, side))
        .sum();
    let count = dark.iter().filter(|dark| **dark).count();
    let balance = (count * 200 / dark.len()).abs_diff(100);
    lines + blocks(&rows, side) + u32::try_from(balance).unwrap_or(u32::MAX)
}

/// A row or a column, its first module in the lowest bit.
fn line<'a>(dark: impl IntoIterator<Item = &'a bool>) -> u128 {
    dark.into_iter()
        .enumerate()
        .fold(0, |line, (place, dark)| line | u128::from(*dark) << place)
}

/// Three for each five modules of one colour in a row, and one for each more.
fn runs(line: u128, side: usize) -> u32 {
    // Where a module is as the one before it.
    let mut like = !(line ^ (line << 1)) & mask(side) & !1;
    let mut penalty = 0;
    while like != 0 {
        let start = like.trailing_zeros();
        let more = (like >> start).trailing_ones();
        if more >= 4 {
            penalty += more - 1;
        }
        like &= !(mask(more as usize) << start);
    }
    penalty
}

/// Three for each two by two modules of one colour.
fn blocks(rows: &[u128], side: usize) -> u32 {
    let like = |a: u128, b: u128| !(a ^ b);
    rows.windows(2)
        .map(|pair| {
            let (above, below) = (pair[0], pair[1]);
            let same =
                like(above, below) & like(above, above >> 1) & like(below, below >> 1);
            3 * (same & mask(side - 1)).count_ones()
        })
        .sum()
}

/// Forty for each place that has the proportions of a finder and is light for four
/// modules before or behind it. What is beyond the symbol is light.
fn finders(line: u128, side: usize) -> u32 {
    const FINDER: u128 = 0b101_1101;
    let padded = line << 4;
    let found = (0..side - 6).filter(|place| {
        let here = padded >> place;
        here >> 4 & 0x7f == FINDER && (here & 0xf == 0 || here >> 11 & 0xf == 0)
    });
    40 * found.count() as u32
}

/// So many of the lowest bits.
fn mask(bits: usize) -> u128 {
    (1 << bits) - 1
}
