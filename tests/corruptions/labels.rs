//! Labels: their QR codes, and where they lie.

use kitwright::proof::FileKind::Labels;
use kitwright::proof::Mode;

use crate::kits::Of::{Evening, Metric, Reprint, Roll, Run};
use crate::kits::{made, shop};
use crate::pdf::{Block, Pdf};
use crate::{Case, case};

/// Cells of the stock `letter-2x5`, counted from 0: left, upper, right and lower
/// edge in millimetres.
///
/// # Source
///
/// glabels-data 3.4.1, the layout that the stock is from.
fn cell(index: usize) -> [f64; 4] {
    let (row, column) = ((index / 2) as f64, (index % 2) as f64);
    let (left, top) = (4.13 + 106.36 * column, 12.7 + 50.8 * row);
    [left, top, left + 101.6, top + 50.8]
}

/// Everything in a cell.
fn label(pdf: &Pdf, index: usize) -> Vec<Block> {
    let [left, top, right, bottom] = cell(index);
    let mut blocks = pdf.blocks(1);
    blocks.retain(|block| {
        let (x, y) = block.origin;
        (left..right).contains(&x) && (top..bottom).contains(&y)
    });
    assert!(blocks.len() > 8, "{blocks:?}");
    blocks
}

/// The QR codes of a page, in their order.
fn codes(pdf: &Pdf, page: usize) -> Vec<Block> {
    let mut blocks = pdf.blocks(page);
    blocks.retain(|block| block.picture.is_some());
    blocks
}

/// Draws in the place of one picture of a page another one's.
fn exchange_codes(pdf: &mut Pdf, page: usize, one: usize, other: usize) {
    let blocks = codes(pdf, page);
    let mut operations = pdf.operations(page);
    let at = [one, other].map(|index| {
        let range = blocks[index].operators.clone();
        range.into_iter().find(|at| operations[*at].operator == "Do").unwrap()
    });
    let operands = operations[at[0]].operands.clone();
    operations[at[0]].operands = operations[at[1]].operands.clone();
    operations[at[1]].operands = operands;
    pdf.set_operations(page, operations);
}

/// Changes the modules of a label's QR code: rows of bytes, 0 for black.
fn modules(pdf: &mut Pdf, label: usize, change: fn(&mut Vec<u8>, usize)) {
    let block = codes(pdf, 1)[label].clone();
    let (id, mut pixels) = pdf.picture(1, &block);
    let side = pixels.len().isqrt();
    assert_eq!(side * side, pixels.len());
    change(&mut pixels, side);
    pdf.set_stream(id, pixels);
}

fn turn_over(pixels: &mut [u8], side: usize, row: usize, column: usize) {
    pixels[row * side + column] ^= 255;
}

/// Draws a QR code otherwise, about the middle of its place or its upper right corner.
fn distort_code(pdf: &mut Pdf, index: usize, from_corner: f64, matrix: [f64; 4]) {
    let block = codes(pdf, 1)[index].clone();
    let [_, top, right, _] = cell(index);
    let about = (right - 3.0 - from_corner, top + 3.0 + from_corner);
    pdf.distort(1, &[block], about, matrix);
}

/// Half a side of the codes on `letter-2x5`.
const HALF_MM: f64 = 11.05;

pub const CASES: &[Case] = &[
    case(
        "a QR code drawn upside down in its place",
        Evening,
        Labels,
        |pdf| distort_code(pdf, 0, HALF_MM, [-1.0, 0.0, 0.0, -1.0]),
        1,
        "does not stand upright",
    ),
    case(
        "a QR code drawn in a mirror in its place",
        Evening,
        Labels,
        |pdf| distort_code(pdf, 0, HALF_MM, [-1.0, 0.0, 0.0, 1.0]),
        1,
        "does not stand upright",
    ),
    case(
        "a QR code drawn too narrow",
        Evening,
        Labels,
        |pdf| distort_code(pdf, 0, 0.0, [0.97, 0.0, 0.0, 1.0]),
        1,
        "of 22.1 mm to a side for HB-20424-1",
    ),
    case(
        "a QR code drawn too low",
        Evening,
        Labels,
        |pdf| distort_code(pdf, 0, 0.0, [1.0, 0.0, 0.0, 0.97]),
        1,
        "of 22.1 mm to a side for HB-20424-1",
    ),
    case(
        "a QR code in middle grey",
        Evening,
        Labels,
        |pdf| {
            modules(pdf, 0, |pixels, _| {
                pixels.iter_mut().filter(|it| **it == 0).for_each(|it| *it = 128);
            });
        },
        1,
        "has pixels that are neither dark nor light",
    ),
    case(
        "a line that nobody planned on a label",
        Evening,
        Labels,
        |pdf| {
            let [left, _, _, bottom] = cell(0);
            let (x, y) = pdf.points(1, (left + 6.0, bottom - 1.5));
            pdf.draw(1, &format!("q 0.5 w {x} {y} m {} {y} l S Q", x + 40.0));
        },
        1,
        "found a line or a shape from",
    ),
    case(
        "the words on the label of a card that may not be needed",
        Evening,
        Labels,
        |pdf| pdf.retype(1, "Only if you get up from ", "sleep", "speep"),
        1,
        "expected \"Only if you get up from sleep\" on the label HB-20424-",
    ),
    case(
        "a text of a label drawn after all the others, in its place",
        Evening,
        Labels,
        |pdf| {
            let found = pdf.find(1, "HB-20424-1");
            let block = pdf.blocks_of(&found)[0].operators.clone();
            let mut operations = pdf.operations(1);
            let drawn: Vec<_> = operations.drain(block).collect();
            operations.extend(drawn);
            pdf.set_operations(1, operations);
        },
        1,
        "expected \"HB-20424-1",
    ),
    case(
        "the QR codes of two labels exchanged",
        Evening,
        Labels,
        |pdf| exchange_codes(pdf, 1, 0, 1),
        1,
        "expected a QR code of HB-20424-1",
    ),
    case(
        "the QR code of another patient's label",
        Run,
        Labels,
        |pdf| exchange_codes(pdf, 2, 0, 6),
        2,
        "expected a QR code of HB-20421-1",
    ),
    case(
        "one module of a QR code, which error correction makes good",
        Evening,
        Labels,
        |pdf| modules(pdf, 0, |pixels, side| turn_over(pixels, side, side - 6, side - 6)),
        1,
        "HB-20424-1",
    ),
    case(
        "so many modules of a QR code that it cannot be read",
        Evening,
        Labels,
        |pdf| {
            modules(pdf, 0, |pixels, side| {
                for row in 13..side - 4 {
                    for column in 13..side - 4 {
                        turn_over(pixels, side, row, column);
                    }
                }
            });
        },
        1,
        "holds no code that can be read",
    ),
    case(
        "a QR code inverted",
        Evening,
        Labels,
        |pdf| modules(pdf, 0, |pixels, _| pixels.iter_mut().for_each(|it| *it ^= 255)),
        1,
        "HB-20424-1",
    ),
    case(
        "a QR code in pale grey",
        Evening,
        Labels,
        |pdf| {
            modules(pdf, 0, |pixels, _| {
                pixels.iter_mut().filter(|it| **it == 0).for_each(|it| *it = 200);
            });
        },
        1,
        "HB-20424-1",
    ),
    case(
        "a QR code mirrored in its place",
        Evening,
        Labels,
        |pdf| {
            modules(pdf, 0, |pixels, side| {
                pixels.chunks_mut(side).for_each(<[u8]>::reverse);
            });
        },
        1,
        "HB-20424-1",
    ),
    case(
        "a QR code turned by a quarter in its place",
        Evening,
        Labels,
        |pdf| {
            modules(pdf, 0, |pixels, side| {
                let before = pixels.clone();
                for (at, pixel) in pixels.iter_mut().enumerate() {
                    *pixel = before[(side - 1 - at % side) * side + at / side];
                }
            });
        },
        1,
        "HB-20424-1",
    ),
    case(
        "a QR code without its quiet zone",
        Evening,
        Labels,
        |pdf| {
            modules(pdf, 0, |pixels, side| {
                for row in 0..side {
                    for column in 0..side {
                        if row < 3 || column < 3 || row >= side - 3 || column >= side - 3
                        {
                            pixels[row * side + column] = 0;
                        }
                    }
                }
            });
        },
        1,
        "HB-20424-1",
    ),
    case(
        "a QR code left out",
        Evening,
        Labels,
        |pdf| {
            let block = codes(pdf, 1)[1].clone();
            pdf.remove(1, &[block]);
        },
        1,
        "expected one image on the label HB-20424-2",
    ),
    case(
        "a QR code twice on a label",
        Evening,
        Labels,
        |pdf| {
            let block = codes(pdf, 1)[1].clone();
            let mut operations = pdf.operations(1);
            let again = operations[block.operators].to_vec();
            operations.extend(again);
            pdf.set_operations(1, operations);
            let last = codes(pdf, 1).pop().unwrap();
            pdf.shift(1, &[last], -30.0, 20.0);
        },
        1,
        "expected one image on the label HB-20424-2",
    ),
    case(
        "a QR code a tenth smaller, its upper right corner kept",
        Evening,
        Labels,
        |pdf| {
            let block = codes(pdf, 1)[0].clone();
            let [_, top, right, _] = cell(0);
            pdf.distort(1, &[block], (right - 3.0, top + 3.0), [0.9, 0.0, 0.0, 0.9]);
        },
        1,
        "HB-20424-1",
    ),
    case(
        "a QR code under a white rectangle",
        Evening,
        Labels,
        |pdf| {
            let [_, top, right, _] = cell(0);
            let (x, y) = pdf.points(1, (right - 20.0, top + 20.0));
            pdf.draw(1, &format!("q 1 g {x} {y} 60 60 re f Q"));
        },
        1,
        "a shape touches the QR code of HB-20424-1",
    ),
    case(
        "a label moved 1 mm to the right",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 0);
            pdf.shift(1, &blocks, 1.0, 0.0);
        },
        1,
        "the label HB-20424-1",
    ),
    case(
        "a label moved 1 mm down",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 2);
            pdf.shift(1, &blocks, 0.0, 1.0);
        },
        1,
        "the label HB-20424-3",
    ),
    case(
        "a label moved by a cell, onto one that is free",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 0);
            pdf.shift(1, &blocks, 0.0, 4.0 * 50.8);
        },
        1,
        "the label HB-20424-1",
    ),
    case(
        "a label on the cell of another",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 0);
            pdf.shift(1, &blocks, 106.36, 0.0);
        },
        1,
        "the label HB-20424-1",
    ),
    case(
        "a label moved onto a used cell",
        Run,
        Labels,
        |pdf| {
            // The first two cells are used already.
            let blocks = label(pdf, 2);
            pdf.shift(1, &blocks, 0.0, -50.8);
        },
        1,
        "the label HB-20417-1",
    ),
    case(
        "two labels in each other's cells",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 0);
            pdf.shift(1, &blocks, 106.36, 0.0);
            let other: Vec<Block> = label(pdf, 1)
                .into_iter()
                .filter(|block| blocks.iter().all(|b| b.operators != block.operators))
                .collect();
            pdf.shift(1, &other, -106.36, 0.0);
        },
        1,
        "the label HB-20424-1",
    ),
    case(
        "a label turned by half in its cell",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 0);
            let [left, top, right, bottom] = cell(0);
            let middle = ((left + right) / 2.0, (top + bottom) / 2.0);
            pdf.distort(1, &blocks, middle, [-1.0, 0.0, 0.0, -1.0]);
        },
        1,
        "the label HB-20424-1",
    ),
    case(
        "a label turned by 2 degrees about its QR code",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 0);
            let [_, top, right, _] = cell(0);
            let (sin, cos) = 2.0_f64.to_radians().sin_cos();
            let about = (right - 13.0, top + 13.0);
            pdf.distort(1, &blocks, about, [cos, sin, -sin, cos]);
        },
        1,
        "the label HB-20424-1",
    ),
    case(
        "a label mirrored in its cell",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 0);
            let [left, _, right, _] = cell(0);
            pdf.distort(1, &blocks, ((left + right) / 2.0, 0.0), [-1.0, 0.0, 0.0, 1.0]);
        },
        1,
        "the label HB-20424-1",
    ),
    case(
        "a label scaled by 2 %",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 0);
            let [left, top, ..] = cell(0);
            pdf.distort(1, &blocks, (left, top), [1.02, 0.0, 0.0, 1.02]);
        },
        1,
        "the label HB-20424-1",
    ),
    case(
        "a label scaled by 2 %, the corner of its QR code kept",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 0);
            let [_, top, right, _] = cell(0);
            pdf.distort(1, &blocks, (right - 3.0, top + 3.0), [0.98, 0.0, 0.0, 0.98]);
        },
        1,
        "of 22.1 mm to a side for HB-20424-1",
    ),
    case(
        "a whole sheet of labels moved by 0.5 mm",
        Metric,
        Labels,
        |pdf| {
            let blocks = pdf.blocks(1);
            pdf.shift(1, &blocks, 0.0, 0.5);
        },
        1,
        "the label HB-20420-1",
    ),
    case(
        "a whole sheet of labels scaled to 99 %",
        Metric,
        Labels,
        |pdf| {
            let blocks = pdf.blocks(1);
            pdf.distort(1, &blocks, (105.0, 148.5), [0.99, 0.0, 0.0, 0.99]);
        },
        1,
        "the label HB-20420-1",
    ),
    case(
        "a sheet of labels whose nudge is left out",
        Reprint,
        Labels,
        |pdf| {
            let blocks = pdf.blocks(1);
            pdf.shift(1, &blocks, -0.7, 0.9);
        },
        1,
        "has slipped by",
    ),
    case(
        "a label of a roll moved by 1 mm",
        Roll,
        Labels,
        |pdf| {
            let blocks = pdf.blocks(2);
            pdf.shift(2, &blocks, 1.0, 0.0);
        },
        2,
        "the label HB-20417-2",
    ),
    case(
        "a label printed twice, the other on a free cell",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 4);
            let mut operations = pdf.operations(1);
            let from = operations.len();
            let again: Vec<_> = blocks
                .iter()
                .flat_map(|block| operations[block.operators.clone()].to_vec())
                .collect();
            operations.extend(again);
            pdf.set_operations(1, operations);
            let mut doubled = pdf.blocks(1);
            doubled.retain(|block| block.operators.start >= from);
            pdf.shift(1, &doubled, 106.36, 0.0);
        },
        1,
        "beside the labels",
    ),
    case(
        "a label left out",
        Evening,
        Labels,
        |pdf| {
            let blocks = label(pdf, 3);
            pdf.remove(1, &blocks);
        },
        1,
        "expected one image on the label HB-20424-4",
    ),
    case(
        "the time of another label's card beside the right code",
        Evening,
        Labels,
        |pdf| {
            let one = pdf.find(1, "Planned 27-Oct-2026, 6:00");
            let other = pdf.find(1, "Planned 28-Oct-2026, 8:15");
            pdf.exchange_places(&one, &other);
        },
        1,
        "on the label HB-20424-1",
    ),
];

#[test]
fn the_code_of_another_label_is_found_again_where_it_is_drawn() {
    let made = made(Evening);
    let mut pdf = Pdf::open(made.file(Labels));
    exchange_codes(&mut pdf, 1, 0, 1);
    let mut shop = shop();
    shop.prove_by(Mode::Raster);
    let said = made.prove(&mut shop, Labels, &pdf.bytes());
    let drawn = said.iter().filter(|line| line.ends_with("drawn")).count();
    assert_eq!(drawn, 2, "{said:?}");
}
