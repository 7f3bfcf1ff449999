//! Changes to what those hear who have a file read out to them.

use kitwright::proof::FileKind::{Labels, Paper};
use lopdf::content::Operation;
use lopdf::{Dictionary, Object, ObjectId, dictionary};

use crate::kits::Of::Evening;
use crate::pdf::{Found, Pdf, name};
use crate::settings::{all, having};
use crate::{Case, case};

/// The elements of the structure that are heard in other words.
fn heard(pdf: &Pdf) -> Vec<ObjectId> {
    all(pdf, |found| found.has(b"Alt"))
}

/// The element of what is marked with a number on a page.
fn element_of(pdf: &Pdf, page: usize, number: i64) -> ObjectId {
    let page = Object::Reference(pdf.page(page));
    pdf.object(|found| {
        let kids = found.get(b"K").and_then(Object::as_array);
        found.get(b"Pg").is_ok_and(|it| *it == page)
            && kids.is_ok_and(|kids| kids.contains(&number.into()))
    })
}

/// The element of a text.
fn element_of_text(pdf: &Pdf, found: &Found) -> ObjectId {
    let before = &pdf.operations(found.page)[..found.glyphs[0].operator];
    let number = before.iter().rev().find_map(number_of_mark).unwrap();
    element_of(pdf, found.page, number)
}

fn has_kind(element: &Dictionary, kind: &[u8]) -> bool {
    element.get(b"S").is_ok_and(|it| it.as_name().is_ok_and(|it| it == kind))
}

/// The words that are heard for what an operator marks.
fn words_of_mark(operation: &mut Operation) -> Option<&mut Object> {
    let entries = operation.operands.get_mut(1)?.as_dict_mut().ok()?;
    entries.get_mut(b"Alt").ok()
}

/// The number of what an operator marks.
fn number_of_mark(operation: &Operation) -> Option<i64> {
    let entries = operation.operands.get(1)?.as_dict().ok()?;
    entries.get(b"MCID").ok()?.as_i64().ok()
}

/// Has the mark of card 1's time say something more.
fn say_of_time(pdf: &mut Pdf, key: &str, value: Object) {
    let found = pdf.find_after(1, "Before you sleep", "6:00 pm");
    let mut operations = pdf.operations(1);
    let mark = operations[..found.glyphs[0].operator]
        .iter_mut()
        .rfind(|operation| number_of_mark(operation).is_some());
    mark.unwrap().operands[1].as_dict_mut().unwrap().set(key, value);
    pdf.set_operations(1, operations);
}

pub const CASES: &[Case] = &[
    case(
        "a time in the words for those who hear the timeline",
        Evening,
        Paper,
        |pdf| {
            let id = pdf.object(|found| found.has(b"Alt"));
            pdf.dictionary(id).set("Alt", Object::string_literal("Card 1 at 7:00 pm."));
        },
        1,
        "7:00 pm",
    ),
    case(
        "the words for those who hear a QR code",
        Evening,
        Labels,
        |pdf| {
            let id = pdf.object(|found| found.has(b"Alt"));
            let other = "QR code: HB-20424-4";
            pdf.dictionary(id).set("Alt", Object::string_literal(other));
        },
        1,
        "HB-20424-4",
    ),
    case(
        "the words for those who hear two QR codes exchanged",
        Evening,
        Labels,
        |pdf| {
            let figures = heard(pdf);
            pdf.exchange_entries("Alt", figures[0], figures[1]);
        },
        1,
        "expected to be read out: \"QR code: HB-20424-1",
    ),
    case(
        "the words for those who hear a QR code left out",
        Evening,
        Labels,
        |pdf| {
            let figure = heard(pdf)[1];
            pdf.dictionary(figure).remove(b"Alt").unwrap();
        },
        1,
        "expected to be read out: \"QR code: HB-20424-2",
    ),
    case(
        "words that are heard in place of a paragraph",
        Evening,
        Paper,
        |pdf| {
            let id = having(pdf, "S", name("Strong"));
            pdf.dictionary(id)
                .set("ActualText", Object::string_literal("Card 1: 7:00 pm"));
        },
        1,
        "read out without need: \"Card 1: 7:00 pm\"",
    ),
    case(
        "words that are heard in place of a paragraph, under a key in figures",
        Evening,
        Paper,
        |pdf| {
            let id = having(pdf, "S", name("Strong"));
            pdf.dictionary(id).set("EEE", Object::string_literal("Card 1: 7:00 pm"));
            let mut bytes = Vec::new();
            pdf.document.save_to(&mut bytes).unwrap();
            let key = bytes.windows(5).position(|five| five == b"/EEE(").unwrap();
            bytes[key..key + 5].copy_from_slice(b"/#45(");
            *pdf = Pdf::finished(bytes);
        },
        1,
        "read out without need: \"Card 1: 7:00 pm\"",
    ),
    case(
        "the title of a heading",
        Evening,
        Paper,
        |pdf| {
            let id = having(pdf, "T", Object::string_literal("While you sleep"));
            pdf.dictionary(id).set("T", Object::string_literal("Stop your medicines"));
        },
        1,
        "the heading \"Stop your medicines\"",
    ),
    case(
        "a word that is read out for what is printed",
        Evening,
        Paper,
        |pdf| {
            say_of_time(pdf, "ActualText", Object::string_literal("7:00 pm"));
        },
        1,
        "read out otherwise than it is printed",
    ),
    case(
        "what is long for what is printed",
        Evening,
        Paper,
        |pdf| {
            say_of_time(pdf, "E", Object::string_literal("7:00 pm"));
        },
        1,
        "read out otherwise than it is printed",
    ),
    case(
        "words on the page that are heard for what is printed",
        Evening,
        Paper,
        |pdf| {
            say_of_time(pdf, "Alt", Object::string_literal("7:00 pm"));
        },
        1,
        "the page itself has \"7:00 pm\" read out",
    ),
    case(
        "the words on the page for two QR codes exchanged",
        Evening,
        Labels,
        |pdf| {
            let mut operations = pdf.operations(1);
            let mut words: Vec<&mut Object> =
                operations.iter_mut().filter_map(words_of_mark).collect();
            let (one, others) = words.split_first_mut().unwrap();
            std::mem::swap(*one, others[0]);
            pdf.set_operations(1, operations);
        },
        1,
        "the page itself has \"QR code: HB-20424-2",
    ),
    case(
        "a mark that hides what it marks from those who do not ask for it",
        Evening,
        Paper,
        |pdf| {
            say_of_time(pdf, "OC", name("Never"));
        },
        1,
        "has a mark with /OC, as none of ours has",
    ),
    case(
        "a mark within another",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find_after(1, "Before you sleep", "6:00 pm");
            let blocks = pdf.blocks_of(&found);
            pdf.wrap(1, &blocks, "/Artifact BMC", "EMC");
        },
        1,
        "has marks within each other",
    ),
    case(
        "two times exchanged for those who hear them",
        Evening,
        Paper,
        |pdf| {
            let card =
                element_of_text(pdf, &pdf.find_after(1, "Before you sleep", "6:00 pm"));
            let later =
                element_of_text(pdf, &pdf.find_after(1, "Before you sleep", "10:15 pm"));
            pdf.exchange_entries("K", card, later);
        },
        1,
        "is not read out in the order in which it is printed",
    ),
    case(
        "two rows exchanged for those who hear them",
        Evening,
        Paper,
        |pdf| {
            let body = all(pdf, |found| has_kind(found, b"TBody"))[0];
            let Ok(Object::Array(rows)) = pdf.dictionary(body).get_mut(b"K") else {
                panic!()
            };
            rows.swap(0, 1);
        },
        0,
        "from page 2 its structure is found elsewhere",
    ),
    case(
        "a cell that is read out with the head of another column",
        Evening,
        Paper,
        |pdf| {
            let cells = all(pdf, |found| has_kind(found, b"TD"));
            pdf.exchange_entries("A", cells[0], cells[1]);
        },
        0,
        "with the head of another column",
    ),
    case(
        "the way back from a page that leads to another element",
        Evening,
        Labels,
        |pdf| {
            let parents = pdf.object(|found| found.has(b"ParentTree"));
            let tree = pdf.dictionary(parents).get_mut(b"ParentTree").unwrap();
            let list = tree.as_dict_mut().unwrap().get_mut(b"Nums").unwrap();
            let list = list.as_array().unwrap()[1].as_reference().unwrap();
            let list = pdf.document.get_object_mut(list).unwrap();
            list.as_array_mut().unwrap().swap(5, 15);
        },
        0,
        "from page 1 its structure is found elsewhere",
    ),
    case(
        "a time that is read out in another language",
        Evening,
        Paper,
        |pdf| say_of_time(pdf, "Lang", Object::string_literal("es")),
        1,
        "is read out in another language: \"es\"",
    ),
    case(
        "an element that stands in two places",
        Evening,
        Paper,
        |pdf| {
            let rows = all(pdf, |found| has_kind(found, b"TR"));
            let kids = pdf.dictionary(rows[1]).get(b"K").unwrap().clone();
            pdf.dictionary(rows[2]).set("K", kids);
        },
        0,
        "an element of its structure stands there twice",
    ),
    case(
        "an element of a kind that is passed over",
        Evening,
        Paper,
        |pdf| {
            let id = having(pdf, "S", name("Strong"));
            pdf.dictionary(id).set("S", name("Private"));
        },
        0,
        "an element of a kind that ours are not",
    ),
    case(
        "a kind that stands for one that is passed over",
        Evening,
        Paper,
        |pdf| {
            let id = pdf.object(|found| found.has(b"RoleMap"));
            let roles = dictionary! { "Strong" => "Artifact" };
            pdf.dictionary(id).set("RoleMap", roles);
        },
        0,
        "a role of its own for /Strong",
    ),
    case(
        "a text that is printed and not read out",
        Evening,
        Paper,
        |pdf| {
            let mut operations = pdf.operations(2);
            let last = operations.iter().rposition(|it| number_of_mark(it).is_some());
            let number = number_of_mark(&operations[last.unwrap()]).unwrap();
            operations[last.unwrap()] = Operation::new("BMC", vec![name("Artifact")]);
            pdf.set_operations(2, operations);
            let id = element_of(pdf, 2, number);
            let Ok(Object::Array(kids)) = pdf.dictionary(id).get_mut(b"K") else {
                panic!()
            };
            kids.retain(|kid| *kid != number.into());
        },
        2,
        "is printed and not read out",
    ),
    case(
        "a mark left out among those of a page",
        Evening,
        Paper,
        |pdf| {
            let mut operations = pdf.operations(1);
            let third = operations.iter().position(|it| number_of_mark(it) == Some(2));
            operations[third.unwrap()] = Operation::new("BMC", vec![name("Artifact")]);
            pdf.set_operations(1, operations);
        },
        1,
        "has marks that are not numbered in order",
    ),
];
