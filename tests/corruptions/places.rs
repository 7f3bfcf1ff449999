//! What is drawn beside the text: boxes to tick, lines to write on, rulers, and
//! where everything stands.

use kitwright::proof::FileKind::{Labels, Packing, Paper};
use lopdf::Object;
use lopdf::content::Operation;

use crate::kits::Of::{Evening, Metric, Undated};
use crate::pdf::{Block, PT_PER_MM, Pdf};
use crate::{Case, case};

/// The drawn pieces, no text and no picture, in a rectangle of a page: its left,
/// upper, right and lower edge in millimetres.
fn drawn(pdf: &Pdf, page: usize, area: [f64; 4]) -> Vec<Block> {
    let [left, top, right, bottom] = area;
    let mut blocks = pdf.blocks(page);
    blocks.retain(|block| {
        let (x, y) = block.origin;
        !block.is_text
            && block.picture.is_none()
            && (left..right).contains(&x)
            && (top..bottom).contains(&y)
    });
    blocks
}

/// The drawn pieces on the line of a text: 4 mm above it to 2 mm below.
fn on_line(pdf: &Pdf, page: usize, text: &str) -> Vec<Block> {
    let found = pdf.find(page, text);
    let (_, y) = pdf.blocks_of(&found)[0].origin;
    drawn(pdf, page, [0.0, y - 5.0, 300.0, y + 3.0])
}

/// All pieces of a page.
fn all(pdf: &Pdf, page: usize) -> Vec<Block> {
    pdf.blocks(page)
}

/// Draws the line of the timeline that no drinks are in shorter by a fifth, from its
/// left end or from its right.
fn shorten_line(pdf: &mut Pdf, from_left: bool) {
    let found = pdf.find(1, "drink nothing");
    let (_, y) = pdf.blocks_of(&found)[0].origin;
    let mut blocks = drawn(pdf, 1, [15.0, y, 300.0, y + 8.0]);
    blocks.truncate(1);
    let operations = pdf.operations(1);
    let at = |operator: &str| {
        let mut inside = operations[blocks[0].operators.clone()].iter();
        let found = inside.find(|it| it.operator == operator).unwrap();
        f64::from(found.operands[0].as_float().unwrap())
    };
    let length = (at("l") - at("m")) / PT_PER_MM;
    let (x, y) = blocks[0].origin;
    let about = if from_left { x + length } else { x };
    pdf.distort(1, &blocks, (about, y), [0.8, 0.0, 0.0, 1.0]);
}

/// Changes the operators of the drawn pieces in a rectangle of a page.
fn redraw(pdf: &mut Pdf, page: usize, area: [f64; 4], change: impl Fn(&mut Operation)) {
    let blocks = drawn(pdf, page, area);
    assert!(!blocks.is_empty(), "nothing to change");
    let mut operations = pdf.operations(page);
    for block in blocks {
        operations[block.operators].iter_mut().for_each(&change);
    }
    pdf.set_operations(page, operations);
}

/// Draws every line of a piece as wide as `width` points.
fn widen(pdf: &mut Pdf, page: usize, area: [f64; 4], width: f32) {
    let is_there = |operation: &Operation| operation.operator == "w";
    assert!(pdf.operations(page).iter().any(is_there));
    redraw(pdf, page, area, |operation| {
        if is_there(operation) {
            operation.operands = vec![Object::Real(width)];
        }
    });
}

/// Where the box with the cautions is on the first page.
const CAUTIONS: [f64; 4] = [10.0, 30.0, 300.0, 60.0];

pub const CASES: &[Case] = &[
    case(
        "the lines to write on of a label cut away",
        Evening,
        Labels,
        |pdf| {
            let blocks = drawn(pdf, 1, [4.0, 13.0, 105.0, 63.0]);
            pdf.wrap(1, &blocks, "0 0 1 1 re W n", "");
        },
        1,
        "a line to write on after",
    ),
    case(
        "the boxes to tick cut away",
        Evening,
        Paper,
        |pdf| {
            let blocks = drawn(pdf, 4, [10.0, 20.0, 25.0, 250.0]);
            pdf.wrap(4, &blocks, "0 0 1 1 re W n", "");
        },
        4,
        "a box to tick before",
    ),
    case(
        "the frame around the cautions so thick that they are under it",
        Evening,
        Paper,
        |pdf| widen(pdf, 1, CAUTIONS, 40.0),
        1,
        "a frame around",
    ),
    case(
        "the cautions crossed out instead of framed",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(1, "Do not start yet if:");
            let (x, y) = pdf.blocks_of(&found)[0].origin;
            let blocks = drawn(pdf, 1, CAUTIONS);
            pdf.remove(1, &blocks);
            let (left, top) = pdf.points(1, (x - 4.0, y - 7.0));
            let (right, bottom) = pdf.points(1, (x + 180.0, y + 14.0));
            let cross = format!(
                "q 2 w {left} {top} m {right} {bottom} l {left} {bottom} m {right} {top} l S Q"
            );
            pdf.draw(1, &cross);
        },
        1,
        "a frame around",
    ),
    case(
        "the frames of the cards on the timeline over their numbers",
        Evening,
        Paper,
        |pdf| widen(pdf, 1, [10.0, 55.0, 300.0, 80.0], 22.0),
        1,
        "a frame around \"1\"",
    ),
    case(
        "the boxes to tick filled in",
        Evening,
        Paper,
        |pdf| {
            redraw(pdf, 4, [10.0, 20.0, 25.0, 250.0], |operation| {
                if operation.operator == "S" {
                    operation.operator = "B".into();
                }
            });
        },
        4,
        "a box to tick before",
    ),
    case(
        "the boxes to tick drawn with lines that nobody can see",
        Evening,
        Paper,
        |pdf| {
            let blocks = drawn(pdf, 4, [10.0, 20.0, 25.0, 250.0]);
            pdf.wrap(4, &blocks, "0.00001 w", "");
        },
        4,
        "a box to tick before",
    ),
    case(
        "the boxes to tick drawn with broken lines that have no ink",
        Evening,
        Paper,
        |pdf| {
            let blocks = drawn(pdf, 4, [10.0, 20.0, 25.0, 250.0]);
            pdf.wrap(4, &blocks, "[0 1000] 500 d", "");
        },
        4,
        "a box to tick before",
    ),
    case(
        "the lines to write on of a label too thin to be seen",
        Evening,
        Labels,
        |pdf| {
            let blocks = drawn(pdf, 1, [4.0, 13.0, 105.0, 63.0]);
            pdf.wrap(1, &blocks, "0.00001 w", "");
        },
        1,
        "a line to write on after",
    ),
    case(
        "a line of the timeline that begins late",
        Evening,
        Paper,
        |pdf| shorten_line(pdf, true),
        1,
        "expected the line of the timeline that begins at",
    ),
    case(
        "a line of the timeline that ends early",
        Evening,
        Paper,
        |pdf| shorten_line(pdf, false),
        1,
        "expected the line of the timeline that begins at",
    ),
    case(
        "an end of the ruler that is half as high",
        Evening,
        Labels,
        |pdf| {
            let ruler = drawn(pdf, 1, [11.0, 6.0, 113.0, 10.0]);
            pdf.distort(1, &ruler[1..2], (12.0, 8.0), [1.0, 0.0, 0.0, 0.5]);
        },
        1,
        "expected a ruler of one dark line of 100 mm",
    ),
    case(
        "a box to tick left out of the checklist",
        Evening,
        Paper,
        |pdf| {
            let blocks = on_line(pdf, 4, "Every card is dry.");
            pdf.remove(4, &blocks);
        },
        4,
        "box",
    ),
    case(
        "a box to tick left out of the packing slip",
        Evening,
        Packing,
        |pdf| {
            let blocks = on_line(pdf, 1, "Collection cup: 1");
            pdf.remove(1, &blocks);
        },
        1,
        "box",
    ),
    case(
        "a line to write on left out of the information card",
        Evening,
        Paper,
        |pdf| {
            let blocks = on_line(pdf, 5, "I woke up at");
            pdf.remove(5, &blocks);
        },
        5,
        "line",
    ),
    case(
        "the grid of the information card left out",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find_after(5, "What really happened", "HB-20424-1");
            let (_, y) = pdf.blocks_of(&found)[0].origin;
            let blocks = drawn(pdf, 5, [0.0, y - 12.0, 300.0, y + 50.0]);
            pdf.remove(5, &blocks);
        },
        5,
        "line",
    ),
    case(
        "the lines to write on left out of a label",
        Evening,
        Labels,
        |pdf| {
            let blocks = drawn(pdf, 1, [4.0, 13.0, 105.0, 63.0]);
            pdf.remove(1, &blocks);
        },
        1,
        "HB-20424-1",
    ),
    case(
        "the thick lines of the timeline left out",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(1, "drink nothing");
            let (_, y) = pdf.blocks_of(&found)[0].origin;
            let mut blocks = drawn(pdf, 1, [15.0, y, 300.0, y + 8.0]);
            // The first is a line, and so are the others of the drawing.
            blocks.truncate(1);
            pdf.remove(1, &blocks);
        },
        1,
        "line",
    ),
    case(
        "the words of a stretch of the timeline moved towards the next",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(1, "drink nothing");
            let blocks = pdf.blocks_of(&found);
            pdf.shift(1, &blocks, 3.0, 0.0);
        },
        1,
        "\"drink nothing\" after and beside",
    ),
    case(
        "the words of a stretch of the timeline moved below its line",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(1, "drink nothing");
            let blocks = pdf.blocks_of(&found);
            pdf.shift(1, &blocks, 0.0, 6.0);
        },
        1,
        "\"drink nothing\" after and beside",
    ),
    case(
        "the frame of a card left out of the timeline",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find_after(1, "Empty bladder", "1");
            let (x, y) = pdf.blocks_of(&found)[0].origin;
            let blocks = drawn(pdf, 1, [x - 6.0, y - 8.0, x, y + 4.0]);
            pdf.remove(1, &blocks);
        },
        1,
        "expected a frame around \"1\"",
    ),
    case(
        "a line that nobody planned on a page",
        Evening,
        Paper,
        |pdf| pdf.draw(4, "q 0.5 w 300 100 m 340 100 l S Q"),
        4,
        "found a line or a shape from",
    ),
    case(
        "the frame around the first warning left out",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(1, "Do not start yet if:");
            let (_, y) = pdf.blocks_of(&found)[0].origin;
            let blocks = drawn(pdf, 1, [0.0, y - 8.0, 300.0, y]);
            pdf.remove(1, &blocks);
        },
        1,
        "frame",
    ),
    case(
        "the line of a ruler 99 mm long",
        Evening,
        Labels,
        |pdf| {
            let ruler = drawn(pdf, 1, [11.0, 6.0, 113.0, 10.0]);
            assert_eq!(ruler.len(), 3);
            pdf.distort(1, &ruler, (12.0, 8.0), [0.99, 0.0, 0.0, 1.0]);
        },
        1,
        "expected a ruler of one dark line of 100 mm",
    ),
    case(
        "a ruler without its ends",
        Evening,
        Labels,
        |pdf| {
            let ruler = drawn(pdf, 1, [11.0, 6.0, 113.0, 10.0]);
            pdf.remove(1, &ruler[1..]);
        },
        1,
        "expected a ruler of one dark line of 100 mm",
    ),
    case(
        "an end of the ruler that stands lower than its line",
        Evening,
        Labels,
        |pdf| {
            let ruler = drawn(pdf, 1, [11.0, 6.0, 113.0, 10.0]);
            pdf.shift(1, &ruler[1..2], 0.0, 0.8);
        },
        1,
        "expected a ruler of one dark line of 100 mm",
    ),
    case(
        "a sheet without a ruler",
        Evening,
        Labels,
        |pdf| {
            let ruler = drawn(pdf, 1, [11.0, 6.0, 113.0, 10.0]);
            pdf.remove(1, &ruler);
        },
        1,
        "expected a ruler of one dark line of 100 mm",
    ),
    case(
        "a figure of the ruler's words",
        Metric,
        Labels,
        |pdf| pdf.retype(1, "Print at ", "100", "101"),
        1,
        "beside the labels",
    ),
    case(
        "a page moved half out of the paper",
        Evening,
        Paper,
        |pdf| {
            let blocks = all(pdf, 3);
            pdf.shift(3, &blocks, 100.0, 0.0);
        },
        3,
        "lies outside the page",
    ),
    case(
        "a page scaled to half",
        Evening,
        Paper,
        |pdf| {
            let blocks = all(pdf, 3);
            pdf.distort(3, &blocks, (108.0, 140.0), [0.5, 0.0, 0.0, 0.5]);
        },
        3,
        "expected \"BRIGHTWATER, T. · Order HB-20424\" next",
    ),
    case(
        "a page moved by 4 mm into the printer's margin",
        Evening,
        Paper,
        |pdf| {
            let blocks = all(pdf, 3);
            pdf.shift(3, &blocks, -14.0, 0.0);
        },
        3,
        "margin",
    ),
    case(
        "a line of text pushed over another",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(2, "Do not drink extra later");
            let blocks = pdf.blocks_of(&found);
            pdf.shift(2, &blocks, 0.0, 4.0);
        },
        2,
        "printed one on the other",
    ),
    case(
        "a time pushed to the line of another step",
        Evening,
        Paper,
        |pdf| {
            let time = pdf.find_after(1, "Before you sleep", "6:00 pm");
            let time = pdf.blocks_of(&time);
            let step = pdf.find_after(1, "Before you sleep", "12:30 pm");
            let step = pdf.blocks_of(&step);
            let (x, y) = step[0].origin;
            let (from_x, from_y) = time[0].origin;
            // Beside the other, so that they do not touch.
            pdf.shift(1, &time, x - from_x - 20.0, y - from_y);
        },
        1,
        "6:00",
    ),
    case(
        "a text of a label moved 6 mm",
        Evening,
        Labels,
        |pdf| {
            let found = pdf.find(1, "Collected");
            let blocks = pdf.blocks_of(&found);
            pdf.shift(1, &blocks, 0.0, -6.0);
        },
        1,
        "HB-20424-1",
    ),
    case(
        "a card's frame so high that its lower side runs through the next line",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(1, "Do it just before you eat");
            let (_, y) = pdf.blocks_of(&found)[0].origin;
            let frames = drawn(pdf, 1, [0.0, y - 9.0, 60.0, y]);
            let frame = &frames[..1];
            pdf.distort(1, frame, frame[0].origin, [1.0, 0.0, 0.0, 1.55]);
        },
        1,
        "is covered",
    ),
    case(
        "a line to write on with a pen that is flat",
        Evening,
        Labels,
        |pdf| {
            let line = on_line(pdf, 1, "Collected");
            pdf.before_paint(1, &line[0], "1 0 0 0.001 0 0 cm");
        },
        1,
        "a line to write on after",
    ),
    case(
        "the dots of the night as dashes that are hardly there",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(1, "sleep");
            let (_, y) = pdf.blocks_of(&found)[0].origin;
            let lines = drawn(pdf, 1, [100.0, y, 300.0, y + 8.0]);
            let operations = pdf.operations(1);
            let is_dotted = |block: &&Block| {
                let inside = &operations[block.operators.clone()];
                inside.iter().any(|operation| operation.operator == "d")
            };
            let dotted = lines.iter().find(is_dotted).unwrap();
            pdf.before_paint(1, dotted, "0 J");
        },
        1,
        "the line of the timeline that begins at",
    ),
    case(
        "the tips of a line as long as the page",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(1, "Do not start yet if:");
            let (_, y) = pdf.blocks_of(&found)[0].origin;
            let frame = drawn(pdf, 1, [0.0, y - 8.0, 300.0, y]);
            pdf.before_paint(1, &frame[0], "60000 M");
        },
        1,
        "a frame around",
    ),
    case(
        "a line along a text so thin that nobody sees it",
        Undated,
        Paper,
        |pdf| {
            let found = pdf.find(1, "We did not have your own times");
            let (_, y) = pdf.blocks_of(&found)[0].origin;
            let bar = drawn(pdf, 1, [0.0, y - 9.0, 20.0, y + 9.0]);
            let (x, y) = pdf.points(1, bar[0].origin);
            pdf.remove(1, &bar[..1]);
            pdf.draw(1, &format!("{x} {} 0.0002 24 re f", y - 24.0));
        },
        1,
        "a thick line along",
    ),
];
