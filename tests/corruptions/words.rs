//! What the paper says: cautions, medicines, amounts, notes, whom to call.

use kitwright::proof::FileKind::Paper;

use crate::kits::Of::{Evening, Large, Metric, Spanish, Steroid, Undated};
use crate::pdf::Pdf;
use crate::{Case, case};

/// Takes out everything that the pieces with these texts print.
fn drop(pdf: &mut Pdf, page: usize, texts: &[&str]) {
    for text in texts {
        let found = pdf.find(page, text);
        let blocks = pdf.blocks_of(&found);
        pdf.remove(page, &blocks);
    }
}

/// Moves a line of text to a place of another page, in millimetres.
fn move_to(pdf: &mut Pdf, text: &str, from: usize, to: usize, place: (f64, f64)) {
    let found = pdf.find(from, text);
    let blocks = pdf.blocks_of(&found);
    pdf.carry(&blocks, from, to);
    let moved = pdf.find(to, text);
    let blocks = pdf.blocks_of(&moved);
    let (x, y) = blocks[0].origin;
    pdf.shift(to, &blocks, place.0 - x, place.1 - y);
}

/// Prints two texts that are equally long in each other's place.
fn exchange_texts(pdf: &mut Pdf, page: usize, one: (&str, &str), other: (&str, &str)) {
    pdf.retype(page, one.0, one.1, other.1);
    pdf.retype(page, other.0, other.1, one.1);
}

pub const CASES: &[Case] = &[
    case(
        "a caution about ill health left out",
        Evening,
        Paper,
        |pdf| drop(pdf, 2, &["If you are very thirsty, hot or unwell"]),
        1,
        "expected the caution \"If you are very thirsty, hot or unwell, drink.",
    ),
    case(
        "not left out of \"Do not drink extra later\"",
        Evening,
        Paper,
        |pdf| {
            let not = pdf.find_after(2, "Do ", "not drink extra");
            let not = crate::pdf::Found { page: 2, glyphs: not.glyphs[..4].to_vec() };
            pdf.erase(&not);
        },
        1,
        "expected the caution \"Do not drink extra later to catch up.\"",
    ),
    case(
        "not left out of the rule about medicines",
        Evening,
        Paper,
        |pdf| {
            let not = pdf.find_after(2, "Your medicines", "not stop, skip");
            let not = crate::pdf::Found { page: 2, glyphs: not.glyphs[..4].to_vec() };
            pdf.erase(&not);
        },
        1,
        "expected the caution \"Do not stop, skip, delay or change any medicine",
    ),
    case(
        "\"Do\" for \"Do not\" at the head of the sheet",
        Evening,
        Paper,
        |pdf| {
            let not = pdf.find(1, "not start yet if:");
            let not = crate::pdf::Found { page: 1, glyphs: not.glyphs[..4].to_vec() };
            pdf.erase(&not);
        },
        1,
        "expected \"Do not start yet if:\"",
    ),
    case(
        "a caution about a steroid left out",
        Steroid,
        Paper,
        |pdf| drop(pdf, 2, &["prednisone is a steroid."]),
        1,
        "expected the caution \"prednisone is a steroid. Never stop it suddenly.\"",
    ),
    case(
        "\"Never\" made \"Newer\" in a caution",
        Steroid,
        Paper,
        |pdf| pdf.retype(2, "prednisone is a steroid. ", "Never", "Newer"),
        2,
        "Newer",
    ),
    case(
        "a caution in Spanish left out",
        Spanish,
        Paper,
        |pdf| drop(pdf, 2, &["Después, no beba"]),
        1,
        "expected the caution \"Después, no beba de más para compensar.\"",
    ),
    case(
        "a caution moved from its page to the one before",
        Evening,
        Paper,
        // To where nothing stands, above all else.
        |pdf| move_to(pdf, "Do not drink extra later", 2, 1, (80.0, 7.0)),
        1,
        "Do not drink extra later",
    ),
    case(
        "a sentence moved to the page of another part",
        Evening,
        Paper,
        |pdf| move_to(pdf, "Do not drink extra later", 2, 4, (80.0, 7.0)),
        4,
        "found \"Donotdrinkextralatertocatchup.\"",
    ),
    case(
        "two sentences exchanged on a page",
        Evening,
        Paper,
        |pdf| {
            let one = pdf.find(2, "Do not drink extra later");
            let other = pdf.find(2, "Never use a card with");
            pdf.exchange_places(&one, &other);
        },
        2,
        "Do not drink extra later",
    ),
    case(
        "a word of the provider's note",
        Evening,
        Paper,
        |pdf| pdf.retype(2, "Take it with a ", "small", "smell"),
        1,
        "expected the provider's note \"Take it with a small snack.\"",
    ),
    case(
        "the note of the provider about a steroid left out",
        Steroid,
        Paper,
        |pdf| drop(pdf, 2, &["From your provider:"]),
        1,
        "expected the provider's note \"Take every dose",
    ),
    case(
        "a figure of the laboratory's phone number",
        Evening,
        Paper,
        |pdf| pdf.retype(1, "Call ", "555-0100", "555-0101"),
        1,
        "expected the caution \"Call 555-0100 first.\"",
    ),
    case(
        "a figure of the provider's phone number",
        Evening,
        Paper,
        |pdf| pdf.retype(2, "Your provider, ", "555-0131", "555-0132"),
        2,
        "555-0132",
    ),
    case(
        "a figure of the emergency number",
        Evening,
        Paper,
        |pdf| pdf.retype(2, "In an emergency call ", "911", "811"),
        2,
        "call811.",
    ),
    case(
        "a letter of the laboratory's name",
        Evening,
        Paper,
        |pdf| pdf.retype(2, "Questions", "Harbor", "Harbon"),
        2,
        "Harbon",
    ),
    case(
        "a figure of the address to send it to",
        Evening,
        Paper,
        |pdf| pdf.retype(4, "", "80999", "80990"),
        4,
        "80990",
    ),
    case(
        "the provider's name",
        Evening,
        Paper,
        |pdf| pdf.retype(2, "Your medicines", "Lindgren", "Lindgrem"),
        2,
        "Lindgrem",
    ),
    case(
        "a medicine's name",
        Evening,
        Paper,
        |pdf| pdf.retype(2, "You take it at", "lamotrigine", "lamotrigone"),
        2,
        "found \"lamotrigone(tablet)\"",
    ),
    case(
        "a medicine's form",
        Evening,
        Paper,
        |pdf| pdf.retype(2, "estradiol (", "patch", "paste"),
        2,
        "paste",
    ),
    case(
        "the line of a dose left out",
        Evening,
        Paper,
        |pdf| {
            drop(
                pdf,
                2,
                &[
                    "progesterone (capsule)",
                    "9:00 pm",
                    "After card 2 (10:15 pm)",
                    "As usual",
                ],
            )
        },
        1,
        "expected the row \"progesterone (capsule) | 9:00 pm",
    ),
    case(
        "the names of two medicines exchanged in their table",
        Evening,
        Paper,
        |pdf| {
            let one = pdf.find_after(2, "You take it at", "progesterone (capsule)");
            let other = pdf.find_after(2, "You take it at", "estradiol (patch)");
            pdf.exchange_places(&one, &other);
        },
        2,
        "progesterone (capsule)",
    ),
    case(
        "\"Ask before\" left out beside a medicine",
        Spanish,
        Paper,
        |pdf| drop(pdf, 2, &["Pregunte antes: ________"]),
        1,
        "expected the row \"levotiroxina (tableta)",
    ),
    case(
        "\"ask before\" made \"as prescribed\"",
        Spanish,
        Paper,
        |pdf| pdf.retype(2, "", "Pregunte antes: ________", "Como dice su receta"),
        2,
        "found \"Comodicesureceta\"",
    ),
    case(
        "\"ask before\" and \"as prescribed\" exchanged between two medicines",
        Spanish,
        Paper,
        |pdf| {
            let one = pdf.find_after(2, "levotiroxina (tableta)", "Pregunte antes");
            let other = pdf.find_after(2, "8:00 a. m.", "Como dice su receta");
            pdf.exchange_places(&one, &other);
        },
        2,
        "Pregunte antes",
    ),
    case(
        "the dose in a step made another's",
        Evening,
        Paper,
        |pdf| pdf.retype(1, "Now take ", "progesterone", "progestarone"),
        1,
        "progestarone",
    ),
    case(
        "a figure of the cups in a step",
        Evening,
        Paper,
        |pdf| pdf.retype(1, "Drink water only, up to ", "2 cups", "8 cups"),
        1,
        "(8cups)",
    ),
    case(
        "a figure of the millilitres in a step",
        Evening,
        Paper,
        |pdf| {
            let text = pdf.text(1);
            let rest = text.split_once("You may drink water, up to ").unwrap().1;
            let figure = &rest[..1];
            let other = if figure == "8" { "6" } else { "8" };
            pdf.retype(1, "You may drink water, up to ", figure, other);
        },
        1,
        "mL, which is not in the plan",
    ),
    case(
        "a figure of the millilitres in the drinks table",
        Evening,
        Paper,
        |pdf| {
            let text = pdf.text(3);
            let rest = text.split_once("Water, up to ").unwrap().1;
            let figure = &rest[..1];
            let other = if figure == "8" { "6" } else { "8" };
            pdf.retype(3, "Water, up to ", figure, other);
        },
        3,
        "of the drinks table",
    ),
    case(
        "an amount in the table by weight",
        Evening,
        Paper,
        |pdf| pdf.retype(3, "Most water", "0 mL", "8 mL"),
        3,
        "118mL",
    ),
    case(
        "a weight in the table by weight",
        Evening,
        Paper,
        |pdf| pdf.retype(3, "Most water", " lb", " kg"),
        3,
        "kg",
    ),
    case(
        "the patient's own weight",
        Evening,
        Paper,
        |pdf| pdf.retype(3, "Your weight: ", "172 lb", "112 lb"),
        3,
        "112lb",
    ),
    case(
        "the unit of the patient's own weight",
        Metric,
        Paper,
        |pdf| pdf.retype(3, "Your weight: 68.5 ", "kg", "lb"),
        3,
        "68.5lb",
    ),
    case(
        "the point of the patient's own weight",
        Metric,
        Paper,
        |pdf| pdf.retype(3, "Your weight: 68", ".", ":"),
        3,
        "68:5",
    ),
    case(
        "two rows of the table by weight exchanged",
        Evening,
        Paper,
        |pdf| {
            let one = pdf.find_after(3, "Most water", "230 mL");
            let other = pdf.find_after(3, "Most water", "350 mL");
            pdf.exchange_places(&one, &other);
        },
        3,
        "350 mL",
    ),
    case(
        "a line of the return checklist left out",
        Evening,
        Paper,
        |pdf| drop(pdf, 4, &["Every card is dry."]),
        4,
        "expected \"Every card is dry. If one is damp, wait.\"",
    ),
    case(
        "a line about a lost card left out",
        Evening,
        Paper,
        |pdf| drop(pdf, 2, &["You feel ill, dizzy or very thirsty"]),
        1,
        "expected \"You feel ill, dizzy or very thirsty",
    ),
    case(
        "two lines of how to do a card exchanged",
        Evening,
        Paper,
        |pdf| {
            let one = pdf.find(2, "Urinate into the clean cup.");
            let other = pdf.find(2, "Write the date and time on the card.");
            pdf.exchange_places(&one, &other);
        },
        2,
        "Urinate into the clean cup.",
    ),
    case(
        "the numbers of two lines of how to do a card exchanged",
        Evening,
        Paper,
        |pdf| {
            let one = pdf.find_after(2, "Dry them.", "3");
            let other = pdf.find_after(2, "Urinate into the clean cup.", "4");
            pdf.exchange_places(&one, &other);
        },
        2,
        "\"3\"",
    ),
    case(
        "the headings of two parts of the day exchanged",
        Evening,
        Paper,
        |pdf| {
            let one = pdf.find(1, "Before you sleep – ");
            let other = pdf.find(1, "After you wake up – ");
            pdf.exchange_places(&one, &other);
        },
        1,
        "Before you sleep",
    ),
    case(
        "the times of two steps exchanged in place",
        Evening,
        Paper,
        |pdf| {
            let one = pdf.find_after(1, "Before you sleep", "12:30 pm");
            let other = pdf.find_after(1, "until 4:00 pm.", "4:00 pm");
            pdf.exchange_places(&one, &other);
        },
        1,
        "12:30",
    ),
    case(
        "two times of the timeline exchanged",
        Evening,
        Paper,
        |pdf| {
            let (one, other) = ("Empty bladder1", "sleep");
            exchange_texts(pdf, 1, (other, "4:00 pm"), (one, "6:00 pm"));
        },
        1,
        "4:00 pm",
    ),
    case(
        "two cards of the timeline exchanged",
        Evening,
        Paper,
        |pdf| exchange_texts(pdf, 1, ("10:15 pm", "3"), ("6:15 am", "4")),
        1,
        "\"3\"",
    ),
    case(
        "two amounts of the table by weight exchanged",
        Evening,
        Paper,
        |pdf| {
            let (one, other) = ("225 to 249 lb", "250 to 274 lb");
            let amounts = ("530 mL (2¼ cups)", "590 mL (2½ cups)");
            exchange_texts(pdf, 3, (one, amounts.0), (other, amounts.1));
        },
        3,
        "250 to 274 lb",
    ),
    case(
        "two lines of how to do a card exchanged in the text as well",
        Evening,
        Paper,
        |pdf| exchange_texts(pdf, 2, ("Dry them.", "3"), ("clean cup.", "4")),
        2,
        "\"3\"",
    ),
    case(
        "two figures of one time exchanged on paper, in the text as before",
        Undated,
        Paper,
        |pdf| {
            let found = pdf.find_after(1, "until 4:30 pm.", "4:30 pm");
            let glyphs = &found.glyphs;
            let [hour, colon] =
                [0, 1].map(|at| pdf.width(glyphs[at].font, glyphs[at].code));
            let string = |glyph: &crate::pdf::Placed| {
                lopdf::Object::string_literal(glyph.code.to_be_bytes().to_vec())
            };
            let (back, on) = ((hour + colon).into(), (-hour - colon).into());
            let mut items: Vec<lopdf::Object> = vec![on];
            for (glyph, moved) in glyphs.iter().zip([&back, &back, &items[0].clone()]) {
                items.push(string(glyph));
                items.push(moved.clone());
            }
            items.extend(glyphs[3..].iter().map(string));
            let mut operations = pdf.operations(1);
            let operation = &mut operations[glyphs[0].operator];
            operation.operator = "TJ".into();
            operation.operands = vec![items.into()];
            pdf.set_operations(1, operations);
        },
        1,
        "4:30 pm",
    ),
    case(
        "a space between two words left out",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(1, "Drink water only, up to 470");
            let at = "Drink water only, up to".len();
            let space =
                crate::pdf::Found { page: 1, glyphs: vec![found.glyphs[at].clone()] };
            pdf.erase(&space);
        },
        1,
        "has a space too many or too few",
    ),
    case(
        "a caution in large print left out",
        Large,
        Paper,
        |pdf| {
            let page = (1..=pdf.page_count())
                .find(|page| pdf.text(*page).contains("Do not drink extra later"))
                .unwrap();
            drop(pdf, page, &["Do not drink extra later"]);
        },
        1,
        "expected the caution \"Do not drink extra later to catch up.\"",
    ),
];
