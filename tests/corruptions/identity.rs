//! Whose paper it is: names, birth dates, order numbers and codes.

use kitwright::proof::FileKind::{Labels, Packing, Paper};

use crate::kits::Of::{Evening, Run, Spanish};
use crate::{Case, case};

pub const CASES: &[Case] = &[
    case(
        "a letter of the family name at the head of the sheet",
        Evening,
        Paper,
        |pdf| pdf.retype(1, "", "BRIGHTWATER", "BRIGHTWATEE"),
        1,
        "BRIGHTWATEE",
    ),
    case(
        "a letter of the given name at the head of the sheet",
        Evening,
        Paper,
        |pdf| pdf.retype(1, "", "Temperance", "Temperanca"),
        1,
        "expected the name \"Temperance\"",
    ),
    case(
        "a letter of the name at the foot of a page",
        Evening,
        Paper,
        |pdf| pdf.retype(3, "caffeine", "BRIGHTWATER, T.", "BRIGHTWATER, I."),
        3,
        "BRIGHTWATER,I.",
    ),
    case(
        "a letter with an accent",
        Spanish,
        Paper,
        |pdf| pdf.retype(1, "", "IBÁÑEZ", "IBANEZ"),
        1,
        "IBANEZ",
    ),
    case(
        "a figure of the birth date on the sheet",
        Evening,
        Paper,
        |pdf| pdf.retype(1, "December ", "1, 1966", "1, 1968"),
        1,
        "expected the birth date",
    ),
    case(
        "a figure of the birth date on the information card",
        Evening,
        Paper,
        |pdf| pdf.retype(5, "December ", "1, 1966", "1, 1968"),
        5,
        "1968",
    ),
    case(
        "a figure of the order number at the head of the drinks table",
        Evening,
        Paper,
        |pdf| pdf.retype(3, "Order", "HB-20424", "HB-20421"),
        3,
        "HB-20421",
    ),
    case(
        "a figure of the order number at the foot of the sheet",
        Evening,
        Paper,
        |pdf| pdf.retype(2, "BRIGHTWATER, T. · Order ", "HB-20424", "HB-20425"),
        2,
        "HB-20425",
    ),
    case(
        "a figure of a code on the checklist",
        Evening,
        Paper,
        |pdf| pdf.retype(4, "Card 1", "HB-20424-1", "HB-20424-2"),
        4,
        "expected the row \"Card 1 | HB-20424-1",
    ),
    case(
        "a card's number on the checklist",
        Evening,
        Paper,
        |pdf| pdf.retype(4, "Cards in this kit", "Card 2", "Card 3"),
        4,
        "expected the row \"Card 2 | HB-20424-2",
    ),
    case(
        "a figure of a code on the information card",
        Evening,
        Paper,
        |pdf| pdf.retype(5, "What really happened", "HB-20424-3", "HB-20424-4"),
        5,
        "beside HB-20424-3",
    ),
    case(
        "a card's number on the information card",
        Evening,
        Paper,
        |pdf| pdf.retype(5, "Time done", "1", "2"),
        5,
        "expected the row \"1 | HB-20424-1",
    ),
    case(
        "the number of a card in its step",
        Evening,
        Paper,
        |pdf| pdf.retype(1, "until card 2 is done.10:15 pm", "2", "3"),
        1,
        "expected card 2 at 22:15",
    ),
    case(
        "the number of a card on the timeline",
        Evening,
        Paper,
        |pdf| pdf.retype(1, "Empty bladder", "1", "2"),
        1,
        "expected \"1\"",
    ),
    case(
        "a letter of the name on a label",
        Evening,
        Labels,
        |pdf| pdf.retype(1, "", "BRIGHTWATER", "BRIGHTWATEE"),
        1,
        "expected \"BRIGHTWATER\" on the label HB-20424-1",
    ),
    case(
        "the initial on a label",
        Evening,
        Labels,
        |pdf| pdf.retype(1, "BRIGHTWATER, ", "T", "R"),
        1,
        "expected \"BRIGHTWATER, T.\"",
    ),
    case(
        "the day of birth on a label",
        Evening,
        Labels,
        |pdf| pdf.retype(1, "Born ", "01-Dec", "02-Dec"),
        1,
        "expected the birth date 1966-12-01 on the label HB-20424-1",
    ),
    case(
        "the year of birth on a label",
        Evening,
        Labels,
        |pdf| pdf.retype(1, "Born 01-Dec-", "1966", "1960"),
        1,
        "expected the birth date 1966-12-01 on the label HB-20424-1",
    ),
    case(
        "the printed code of a label, and not its QR code",
        Evening,
        Labels,
        |pdf| pdf.retype(1, "", "HB-20424-2", "HB-20424-1"),
        1,
        "on the label HB-20424-2",
    ),
    case(
        "the last character of a printed code",
        Evening,
        Labels,
        |pdf| {
            let text = pdf.text(1);
            let at = text.find("HB-20424-1").unwrap() + "HB-20424-1".len();
            let check = &text[at..at + 1];
            let other = if check == "0" { "4" } else { "0" };
            pdf.retype(1, "HB-20424-1", check, other);
        },
        1,
        "on the label HB-20424-1",
    ),
    case(
        "a card's number on a label",
        Evening,
        Labels,
        |pdf| pdf.retype(1, "", "Card 1", "Card 2"),
        1,
        "expected \"Card 1 – Before dinner\" on the label HB-20424-1",
    ),
    case(
        "the headings of two labels exchanged",
        Evening,
        Labels,
        |pdf| {
            let one = pdf.find(1, "Before dinner");
            let other = pdf.find(1, "Waking up");
            pdf.exchange_places(&one, &other);
        },
        1,
        "on the label HB-20424-1",
    ),
    case(
        "the name of another patient of the run on a label",
        Run,
        Labels,
        |pdf| {
            let one = pdf.find(2, "IBÁÑEZ NÚÑEZ, Á.");
            let other = pdf.find(2, "BRIGHTWATER, T.");
            pdf.exchange_places(&one, &other);
        },
        2,
        "expected \"BRIGHTWATER\" on the label HB-20424-1",
    ),
    case(
        "a letter of the name on a packing slip",
        Evening,
        Packing,
        |pdf| pdf.retype(1, "", "BRIGHTWATER", "BRIGHTWATEE"),
        1,
        "BRIGHTWATEE",
    ),
    case(
        "the birth date on a packing slip",
        Evening,
        Packing,
        |pdf| pdf.retype(1, "December ", "1, 1966", "1, 1965"),
        1,
        "1965",
    ),
    case(
        "a figure of a code on a packing slip",
        Evening,
        Packing,
        |pdf| pdf.retype(1, "Card 4", "HB-20424-4", "HB-20424-2"),
        1,
        "expected the row \"Card 4 | HB-20424-4",
    ),
    case(
        "an order number on the run sheet",
        Run,
        Packing,
        |pdf| pdf.retype(1, "", "HB-20421", "HB-20424"),
        1,
        "HB-20421",
    ),
    case(
        "a letter of a name on the run sheet",
        Run,
        Packing,
        |pdf| pdf.retype(1, "", "OKONKWO-REYES", "OKONKWO-REYED"),
        1,
        "OKONKWO-REYED",
    ),
];
