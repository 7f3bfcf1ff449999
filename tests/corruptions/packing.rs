//! What the packer reads: counts, facts, things to look at, the run sheet.

use kitwright::proof::FileKind::Packing;

use crate::kits::Of::{Evening, Metric, Run};
use crate::pdf::Pdf;
use crate::{Case, case};

fn drop(pdf: &mut Pdf, page: usize, text: &str) {
    let found = pdf.find(page, text);
    let blocks = pdf.blocks_of(&found);
    pdf.remove(page, &blocks);
}

pub const CASES: &[Case] = &[
    case(
        "the number of cards to put in",
        Evening,
        Packing,
        |pdf| pdf.retype(1, "Cards with labels: ", "5", "4"),
        1,
        "expected \"Cards with labels: 5\"",
    ),
    case(
        "the number of pages of the instruction sheet",
        Evening,
        Packing,
        |pdf| pdf.retype(1, "Instruction sheet, ", "2", "1"),
        1,
        "expected \"Instruction sheet, 2 pages\"",
    ),
    case(
        "a line of what to put in left out",
        Evening,
        Packing,
        |pdf| drop(pdf, 1, "Return envelope"),
        1,
        "expected \"Return envelope, addressed: 1\"",
    ),
    case(
        "a card left out of the list to tick",
        Evening,
        Packing,
        |pdf| {
            drop(pdf, 1, "HB-20424-3");
            drop(pdf, 1, "Card 3");
        },
        1,
        "expected the row \"Card 3 | HB-20424-3",
    ),
    case(
        "two codes exchanged on the list to tick",
        Evening,
        Packing,
        |pdf| {
            let one = pdf.find(1, "HB-20424-1");
            let other = pdf.find(1, "HB-20424-2");
            pdf.exchange_places(&one, &other);
        },
        1,
        "HB-20424-1",
    ),
    case(
        "the size of paper",
        Metric,
        Packing,
        |pdf| pdf.retype(1, "Paper", "A4", "A3"),
        1,
        "expected the row \"Paper | A4\" of the facts",
    ),
    case(
        "the stock of labels",
        Metric,
        Packing,
        |pdf| pdf.retype(1, "a4-", "3x7", "2x7"),
        1,
        "expected the row \"Labels | a4-3x7\" of the facts",
    ),
    case(
        "the language of a kit",
        Run,
        Packing,
        |pdf| pdf.retype(3, "Language", "Español", "Espamol"),
        3,
        "of the facts",
    ),
    case(
        "who approved the protocol",
        Evening,
        Packing,
        |pdf| pdf.retype(1, "Approved by", "Lindqvist", "Lindquist"),
        1,
        "expected the row \"Approved by | Dr. A. Lindqvist",
    ),
    case(
        "the version of the sheets",
        Evening,
        Packing,
        |pdf| pdf.retype(1, "Protocol", "0.1.0", "0.1.1"),
        1,
        "expected the row \"Protocol | ",
    ),
    case(
        "a thing to look at left out",
        Run,
        Packing,
        |pdf| drop(pdf, 3, "Ask about levothyroxine"),
        3,
        "expected \"Ask about levothyroxine",
    ),
    case(
        "the words that it is not for the kit",
        Evening,
        Packing,
        |pdf| drop(pdf, 1, "For the packer."),
        1,
        "expected \"For the packer. Do not put this in the kit.\"",
    ),
    case(
        "the line for who packed it",
        Evening,
        Packing,
        |pdf| drop(pdf, 1, "Packed by"),
        1,
        "expected \"Packed by\"",
    ),
    case(
        "the place of a kit in the piles",
        Run,
        Packing,
        |pdf| pdf.retype(2, "Place in the piles", "No. 1", "No. 2"),
        2,
        "No.2",
    ),
    case(
        "the sides of a kit in the pile of paper",
        Run,
        Packing,
        |pdf| pdf.retype(3, "paper sides ", "7", "9"),
        3,
        "sides9",
    ),
    case(
        "the cell of a kit's labels",
        Run,
        Packing,
        |pdf| pdf.retype(2, "labels sheet 1: ", "3", "4"),
        2,
        "sheet1:4",
    ),
    case(
        "the number of kits on the run sheet",
        Run,
        Packing,
        |pdf| pdf.retype(1, "Kits in this part", "3", "2"),
        1,
        "expected the row \"Kits in this part | 3\"",
    ),
    case(
        "the number of leaves on the run sheet",
        Run,
        Packing,
        |pdf| pdf.retype(1, "Paper", "9 leaves", "5 leaves"),
        1,
        "of the facts",
    ),
    case(
        "the first cell on the run sheet",
        Run,
        Packing,
        |pdf| pdf.retype(1, "first label in cell ", "3", "1"),
        1,
        "of the facts",
    ),
    case(
        "how many were left out on the run sheet",
        Run,
        Packing,
        |pdf| pdf.retype(1, "3 made, ", "1", "0"),
        1,
        "of the facts",
    ),
    case(
        "an order that was left out is not named",
        Run,
        Packing,
        |pdf| drop(pdf, 1, "HB-20499: on hold"),
        1,
        "expected \"HB-20499: on hold\"",
    ),
    case(
        "two names exchanged on the run sheet",
        Run,
        Packing,
        |pdf| {
            let one = pdf.find(1, "OKONKWO-REYES, Marisol");
            let other = pdf.find(1, "BRIGHTWATER, Temperance");
            pdf.exchange_places(&one, &other);
        },
        1,
        "OKONKWO-REYES, Marisol",
    ),
    case(
        "a note of the run sheet beside another kit",
        Run,
        Packing,
        |pdf| {
            let note = pdf.find_after(1, "HB-20421", "Español, 2 things to");
            let rest = pdf.find_after(1, "Español, 2 things to", "look at");
            let mut blocks = pdf.blocks_of(&note);
            blocks.extend(pdf.blocks_of(&rest));
            let (_, from) = blocks[0].origin;
            let other = pdf.find(1, "HB-20417");
            let (_, to) = pdf.blocks_of(&other)[0].origin;
            pdf.shift(1, &blocks, 0.0, to - from);
        },
        1,
        "expected \"Español, 2 things to look at\" to the right of",
    ),
    case(
        "a line of the run sheet left out",
        Run,
        Packing,
        |pdf| {
            drop(pdf, 1, "HB-20421");
            drop(pdf, 1, "IBÁÑEZ");
        },
        1,
        "expected the row \"2 | HB-20421",
    ),
];
