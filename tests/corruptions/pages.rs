//! Whole pages: missing, doubled, exchanged, turned, of another size.

use kitwright::proof::FileKind::{Labels, Packing, Paper};
use lopdf::{Dictionary, IncrementalDocument, Object, Stream, dictionary};

use crate::kits::Of::{Evening, Large, Reprint, Roll, Run};
use crate::pdf::{Pdf, real};
use crate::{Case, case};

fn all(pdf: &Pdf) -> Vec<usize> {
    (1..=pdf.page_count()).collect()
}

fn without(pdf: &mut Pdf, page: usize) {
    let mut pages = all(pdf);
    pages.retain(|number| *number != page);
    pdf.arrange(&pages);
}

fn exchange(pdf: &mut Pdf, one: usize, other: usize) {
    let mut pages = all(pdf);
    pages.swap(one - 1, other - 1);
    pdf.arrange(&pages);
}

fn rectangle(numbers: [f64; 4]) -> Object {
    numbers.map(real).to_vec().into()
}

/// A page of the size of another with nothing on it.
fn blank_like(pdf: &mut Pdf, page: usize) -> Object {
    let page = pdf.document.get_dictionary(pdf.page(page)).unwrap();
    let entries = dictionary! {
        "Type" => "Page",
        "Parent" => page.get(b"Parent").unwrap().clone(),
        "MediaBox" => page.get(b"MediaBox").unwrap().clone(),
        "Resources" => Dictionary::new(),
    };
    pdf.document.add_object(entries).into()
}

fn insert_blank(pdf: &mut Pdf, before: usize) {
    let blank = blank_like(pdf, 1);
    let count = pdf.page_count() as i64 + 1;
    let pages: Vec<usize> = all(pdf);
    pdf.arrange(&pages);
    let root = pdf.catalog().get(b"Pages").unwrap().as_reference().unwrap();
    let root = pdf.dictionary(root);
    root.set("Count", count);
    let Ok(Object::Array(kids)) = root.get_mut(b"Kids") else { panic!() };
    kids.insert(before - 1, blank);
}

/// Writes the file and hands its bytes to an incremental update.
fn update(pdf: &mut Pdf, change: impl FnOnce(&mut IncrementalDocument)) {
    let mut bytes = Vec::new();
    pdf.document.save_to(&mut bytes).unwrap();
    let document = lopdf::Document::load_mem(&bytes).unwrap();
    let mut updated = IncrementalDocument::create_from(bytes, document);
    change(&mut updated);
    let mut out = Vec::new();
    updated.save_to(&mut out).unwrap();
    *pdf = Pdf::finished(out);
}

pub const CASES: &[Case] = &[
    case(
        "the first page missing",
        Evening,
        Paper,
        |pdf| without(pdf, 1),
        1,
        "begins with",
    ),
    case(
        "the second page missing",
        Evening,
        Paper,
        |pdf| without(pdf, 2),
        1,
        "Your medicines",
    ),
    case(
        "the last page missing",
        Evening,
        Paper,
        |pdf| without(pdf, 5),
        1,
        "Information card",
    ),
    case(
        "a page doubled",
        Evening,
        Paper,
        |pdf| pdf.arrange(&[1, 2, 2, 3, 4, 5]),
        3,
        "which nobody planned",
    ),
    case(
        "a page that stands in the file's list twice",
        Evening,
        Paper,
        |pdf| {
            let pages = [1, 2, 2, 3, 4, 5].map(|number| pdf.page(number).into());
            pdf.set_pages(pages.to_vec());
        },
        3,
        "stands there twice",
    ),
    case(
        "the last page doubled",
        Evening,
        Paper,
        |pdf| pdf.arrange(&[1, 2, 3, 4, 5, 5]),
        6,
        "which nobody planned",
    ),
    case(
        "a page in front that belongs to no part",
        Evening,
        Paper,
        |pdf| pdf.arrange(&[5, 1, 2, 3, 4, 5]),
        1,
        "Information card",
    ),
    case(
        "the pages in reverse",
        Evening,
        Paper,
        |pdf| pdf.arrange(&[5, 4, 3, 2, 1]),
        1,
        "begins with",
    ),
    case(
        "the two pages of the instruction sheet exchanged",
        Evening,
        Paper,
        |pdf| exchange(pdf, 1, 2),
        2,
        "expected \"Check that the card has your name and birth date.",
    ),
    case(
        "two pages within a part exchanged",
        Large,
        Paper,
        |pdf| exchange(pdf, 2, 3),
        2,
        "Page 2",
    ),
    case(
        "the pages of two parts exchanged",
        Evening,
        Paper,
        |pdf| exchange(pdf, 3, 4),
        1,
        "begins with",
    ),
    case(
        "the page of another patient in its place",
        Run,
        Paper,
        |pdf| exchange(pdf, 3, 15),
        3,
        "expected \"HB-20417\" on the page",
    ),
    case(
        "the information cards of two patients exchanged",
        Run,
        Paper,
        |pdf| exchange(pdf, 5, 17),
        5,
        "expected \"HB-20417\" on the page",
    ),
    case(
        "a blank page in front",
        Evening,
        Paper,
        |pdf| insert_blank(pdf, 1),
        1,
        "the page has no /Contents",
    ),
    case(
        "a blank page at the end",
        Evening,
        Paper,
        |pdf| insert_blank(pdf, 6),
        6,
        "page",
    ),
    case(
        "a blank side between two patients missing",
        Run,
        Paper,
        |pdf| without(pdf, 6),
        6,
        "",
    ),
    case(
        "something on a side that is to be blank",
        Run,
        Paper,
        |pdf| pdf.draw(6, "0 G 100 100 m 200 100 l S"),
        6,
        "expected a blank page",
    ),
    case(
        "a page turned by a quarter",
        Evening,
        Paper,
        |pdf| pdf.page_entry(3, "Rotate", 90.into()),
        3,
        "the page has /Rotate",
    ),
    case(
        "a page turned by half",
        Evening,
        Paper,
        |pdf| pdf.page_entry(4, "Rotate", 180.into()),
        4,
        "the page has /Rotate",
    ),
    case(
        "a page of labels turned by half",
        Evening,
        Labels,
        |pdf| pdf.page_entry(1, "Rotate", 180.into()),
        1,
        "the page has /Rotate",
    ),
    case(
        "a page of another size",
        Evening,
        Paper,
        |pdf| pdf.page_entry(3, "MediaBox", rectangle([0.0, 0.0, 595.28, 841.89])),
        3,
        "expected a page of 215.9 x 279.4 mm",
    ),
    case(
        "a page whose box begins elsewhere",
        Evening,
        Paper,
        |pdf| pdf.page_entry(3, "MediaBox", rectangle([50.0, 0.0, 662.0, 792.0])),
        3,
        "outside the page",
    ),
    case(
        "a label's page of another size",
        Roll,
        Labels,
        |pdf| pdf.page_entry(2, "MediaBox", rectangle([0.0, 0.0, 300.0, 144.0])),
        2,
        "expected a page of 101.6 x 50.8 mm",
    ),
    case(
        "a page that is cropped",
        Evening,
        Paper,
        |pdf| pdf.page_entry(3, "CropBox", rectangle([0.0, 0.0, 612.0, 400.0])),
        3,
        "the page has /CropBox",
    ),
    case(
        "a page that is trimmed",
        Evening,
        Paper,
        |pdf| pdf.page_entry(3, "TrimBox", rectangle([0.0, 0.0, 612.0, 400.0])),
        3,
        "TrimBox",
    ),
    case(
        "a page in larger units",
        Evening,
        Paper,
        |pdf| pdf.page_entry(3, "UserUnit", real(2.0)),
        3,
        "UserUnit",
    ),
    case(
        "a label's page in larger units",
        Roll,
        Labels,
        |pdf| pdf.page_entry(1, "UserUnit", real(1.5)),
        1,
        "UserUnit",
    ),
    case(
        "a page's number",
        Evening,
        Paper,
        |pdf| pdf.retype(2, "Order HB-20424", "Page 2", "Page 3"),
        2,
        "Page3",
    ),
    case(
        "the number of pages at a page's foot",
        Evening,
        Paper,
        |pdf| pdf.retype(2, "Page 2 ", "of 5", "of 6"),
        2,
        "of6",
    ),
    case(
        "the page numbers of two pages of a part exchanged",
        Evening,
        Paper,
        |pdf| {
            pdf.retype(1, "Order HB-20424", "Page 1", "Page 2");
            pdf.retype(2, "Order HB-20424", "Page 2", "Page 1");
        },
        1,
        "Page 1 of 5",
    ),
    case(
        "an update that replaces a page's text",
        Evening,
        Paper,
        |pdf| {
            let page = pdf.page(4);
            update(pdf, |updated| {
                let stream = Stream::new(Dictionary::new(), b"q Q".to_vec());
                let stream = updated.new_document.add_object(stream);
                updated.opt_clone_object_to_new_document(page).unwrap();
                let page = updated.new_document.get_object_mut(page).unwrap();
                page.as_dict_mut().unwrap().set("Contents", stream);
            });
        },
        1,
        "Before you post",
    ),
    case(
        "an update with the text of another patient's page",
        Run,
        Paper,
        |pdf| {
            let (one, other) = (pdf.page(3), pdf.page(15));
            let contents = |pdf: &Pdf, page| {
                let page = pdf.document.get_dictionary(page).unwrap();
                [b"Contents".as_slice(), b"Resources"]
                    .map(|key| page.get(key).unwrap().clone())
            };
            let [contents, resources] = contents(pdf, other);
            update(pdf, |updated| {
                updated.opt_clone_object_to_new_document(one).unwrap();
                let page = updated.new_document.get_object_mut(one).unwrap();
                let page = page.as_dict_mut().unwrap();
                page.set("Contents", contents);
                page.set("Resources", resources);
            });
        },
        3,
        "expected \"HB-20417\" on the page",
    ),
    case(
        "the number of a reprint on paper",
        Reprint,
        Paper,
        |pdf| pdf.retype(2, "", "Reprint 1", "Reprint 2"),
        2,
        "Reprint2",
    ),
    case(
        "the mark of a reprint left out on a label",
        Reprint,
        Labels,
        |pdf| {
            let found = pdf.find(1, "Reprint 1");
            let blocks = pdf.blocks_of(&found);
            pdf.remove(1, &blocks);
        },
        1,
        "expected \"Reprint 1\"",
    ),
    case(
        "a reprint's mark on a first printing",
        Evening,
        Labels,
        |pdf| {
            // In what the font has: another text in the cell of a label.
            let found = pdf.find(1, "Collected");
            let block = pdf.blocks_of(&found)[0].clone();
            let mut operations = pdf.operations(1);
            let again = operations[block.operators].to_vec();
            let from = operations.len();
            operations.extend(again);
            pdf.set_operations(1, operations);
            let last = pdf.blocks(1).pop().unwrap();
            assert!(last.operators.start >= from);
            pdf.shift(1, &[last], 30.0, -6.0);
        },
        1,
        "found \"Collected\", which nobody planned",
    ),
    case("a page of labels missing", Run, Labels, |pdf| without(pdf, 2), 0, "found 1"),
    case(
        "the pages of labels exchanged",
        Run,
        Labels,
        |pdf| exchange(pdf, 1, 2),
        1,
        "HB-20417",
    ),
    case(
        "two labels of a roll exchanged",
        Roll,
        Labels,
        |pdf| exchange(pdf, 1, 2),
        1,
        "HB-20417-1",
    ),
    case(
        "a label of a roll missing",
        Roll,
        Labels,
        |pdf| without(pdf, 3),
        0,
        "expected 5 pages of labels, found 4",
    ),
    case(
        "a label of a roll twice",
        Roll,
        Labels,
        |pdf| pdf.arrange(&[1, 2, 3, 3, 4, 5]),
        0,
        "expected 5 pages of labels, found 6",
    ),
    case(
        "the packing slips of two kits exchanged",
        Run,
        Packing,
        |pdf| exchange(pdf, 2, 3),
        2,
        "expected \"HB-20417\" on the page",
    ),
    case(
        "a packing slip missing",
        Run,
        Packing,
        |pdf| without(pdf, 3),
        0,
        "expected 3 packing slips, found 2",
    ),
];
