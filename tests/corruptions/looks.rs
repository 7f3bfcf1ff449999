//! Text that is there and cannot be read, or reads otherwise than it prints.

use kitwright::proof::FileKind::{Labels, Paper};
use lopdf::{Dictionary, ObjectId, Stream, dictionary};

use crate::kits::Of::Evening;
use crate::pdf::{Pdf, name};
use crate::{Case, case};

/// A caution of the second page, for all the ways to hide it.
const CAUTION: &str = "Do not drink extra later";
/// What the proof says where it is not seen.
const MISSED: &str = "expected the caution \"Do not drink extra later to catch up.\"";

/// Puts operators before and after a caution.
fn around(pdf: &mut Pdf, begin: &str, end: &str) {
    let found = pdf.find(2, CAUTION);
    let blocks = pdf.blocks_of(&found);
    pdf.wrap(2, &blocks, begin, end);
}

/// Puts operators right before the text of a caution is shown.
fn before_text(pdf: &mut Pdf, drawing: &str) {
    let found = pdf.find(2, CAUTION);
    let at = found.glyphs[0].operator;
    let decoded = lopdf::content::Content::decode(drawing.as_bytes()).unwrap();
    let mut operations = pdf.operations(2);
    operations.splice(at..at, decoded.operations);
    pdf.set_operations(2, operations);
}

/// A graphics state for the second page, under the name `Odd`.
fn state(pdf: &mut Pdf, entries: Dictionary) {
    let state = pdf.document.add_object(entries);
    pdf.resource(2, "ExtGState", "Odd", state.into());
}

/// Where a caution begins, in points from the lower left corner.
fn place(pdf: &Pdf) -> (f64, f64) {
    let found = pdf.find(2, CAUTION);
    pdf.points(2, pdf.blocks_of(&found)[0].origin)
}

/// A picture of one grey pixel.
fn picture(pdf: &mut Pdf, page: usize, shade: u8) {
    let entries = dictionary! {
        "Type" => "XObject",
        "Subtype" => "Image",
        "Width" => 1,
        "Height" => 1,
        "ColorSpace" => "DeviceGray",
        "BitsPerComponent" => 8,
    };
    let stream = pdf.document.add_object(Stream::new(entries, vec![shade]));
    pdf.resource(page, "XObject", "Odd", stream.into());
}

/// Draws a black picture whose lower left corner is there, in points.
fn draw_picture(pdf: &mut Pdf, page: usize, side: u8, (x, y): (u16, u16)) {
    picture(pdf, page, 0);
    pdf.draw(page, &format!("q {side} 0 0 {side} {x} {y} cm /Odd Do Q"));
}

/// A form with what the block of a caution draws, in its place.
fn as_form(pdf: &mut Pdf, more: Dictionary) {
    let found = pdf.find(2, CAUTION);
    let block = pdf.blocks_of(&found)[0].operators.clone();
    let mut operations = pdf.operations(2);
    let drawn: Vec<_> = operations.drain(block.clone()).collect();
    operations
        .insert(block.start, lopdf::content::Operation::new("Do", vec![name("Odd")]));
    pdf.set_operations(2, operations);
    let resources = pdf.resolved(pdf.page(2), b"Resources");
    let mut entries = dictionary! {
        "Type" => "XObject",
        "Subtype" => "Form",
        "BBox" => vec![0.into(), 0.into(), 612.into(), 792.into()],
        "Resources" => resources,
    };
    entries.extend(&more);
    let bytes = lopdf::content::Content { operations: drawn }.encode().unwrap();
    let form = pdf.document.add_object(Stream::new(entries, bytes));
    pdf.resource(2, "XObject", "Odd", form.into());
}

fn group() -> Dictionary {
    dictionary! { "Group" => dictionary! { "S" => "Transparency" } }
}

/// The font of some text of a page.
fn font(pdf: &Pdf, page: usize, anchor: &str, text: &str) -> ObjectId {
    pdf.find_after(page, anchor, text).glyphs[0].font
}

/// The glyphs of two characters change places in the font program's eyes: their
/// codes now pick each other's outline, and everything else says what it said.
fn exchange_outlines(pdf: &mut Pdf, font: ObjectId, one: &str, other: &str) {
    let map = pdf.characters(font);
    let codes = |wanted: &str| -> Vec<u16> {
        let same = |text: &str| text.replace('\u{A0}', " ") == wanted;
        map.iter().filter(|(_, text)| same(text)).map(|(code, _)| *code).take(1).collect()
    };
    let (one, other) = (codes(one), codes(other));
    assert!(!one.is_empty() && one.len() == other.len(), "{one:?} {other:?}");
    let last = *map.keys().last().unwrap();
    let mut glyphs: Vec<u16> = (0..=last).collect();
    for (one, other) in one.iter().zip(&other) {
        glyphs.swap(usize::from(*one), usize::from(*other));
    }
    let bytes = glyphs.iter().flat_map(|glyph| glyph.to_be_bytes()).collect();
    let stream = pdf.document.add_object(Stream::new(Dictionary::new(), bytes));
    let descendant = pdf.descendant(font);
    assert_eq!(
        pdf.dictionary(descendant).get(b"CIDToGIDMap").unwrap(),
        &name("Identity")
    );
    pdf.dictionary(descendant).set("CIDToGIDMap", stream);
}

/// The outlines of two characters change places within the font program itself
/// (ISO/IEC 14496-22, `glyf` and `loca`, from memory): what is outside of it says what
/// it said.
fn exchange_in_program(pdf: &mut Pdf, font: ObjectId, one: &str, other: &str) {
    let map = pdf.characters(font);
    let glyph = |wanted: &str| {
        usize::from(*map.iter().find(|(_, text)| *text == wanted).unwrap().0)
    };
    let (one, other) = (glyph(one), glyph(other));
    let descendant = pdf.descendant(font);
    let descriptor = pdf.under(descendant, "FontDescriptor");
    let program = pdf.under(descriptor, "FontFile2");
    let stream = pdf.document.get_object(program).unwrap().as_stream().unwrap();
    let mut bytes = stream.get_plain_content().unwrap();
    let number = |bytes: &[u8], at: usize, size: usize| {
        bytes[at..at + size].iter().fold(0, |all, byte| all << 8 | usize::from(*byte))
    };
    let table = |tag: &[u8]| {
        let entries = (0..number(&bytes, 4, 2)).map(|index| 12 + index * 16);
        let entry = entries.into_iter().find(|at| &bytes[*at..at + 4] == tag).unwrap();
        number(&bytes, entry + 8, 4)
    };
    let (head, loca, glyf) = (table(b"head"), table(b"loca"), table(b"glyf"));
    let count = number(&bytes, table(b"maxp") + 4, 2);
    let is_long = number(&bytes, head + 50, 2) == 1;
    let (size, unit) = if is_long { (4, 1) } else { (2, 2) };
    let starts: Vec<usize> = (0..=count)
        .map(|index| number(&bytes, loca + index * size, size) * unit)
        .collect();
    let mut outlines: Vec<Vec<u8>> = starts
        .windows(2)
        .map(|pair| bytes[glyf + pair[0]..glyf + pair[1]].to_vec())
        .collect();
    assert!(!outlines[one].is_empty() && outlines[one] != outlines[other]);
    outlines.swap(one, other);
    let mut at = 0;
    for (index, outline) in outlines.iter().enumerate() {
        let start = &((at / unit) as u32).to_be_bytes()[4 - size..];
        bytes[loca + index * size..][..size].copy_from_slice(start);
        bytes[glyf + at..][..outline.len()].copy_from_slice(outline);
        at += outline.len();
    }
    pdf.set_stream(program, bytes);
}

/// Every code of a font on every page, and its ToUnicode, with two characters
/// exchanged: it reads as it did and prints otherwise.
fn exchange_glyphs(pdf: &mut Pdf, font: ObjectId, one: &str, other: &str) {
    let mut map = pdf.characters(font);
    let code = |wanted: &str| *map.iter().find(|(_, text)| *text == wanted).unwrap().0;
    let (one, other) = (code(one), code(other));
    for page in 1..=pdf.page_count() {
        let glyphs = pdf.glyphs(page).into_iter().filter(|glyph| glyph.font == font);
        let changes: Vec<_> = glyphs
            .filter_map(|glyph| match glyph.code {
                code if code == one => Some((glyph, Some(other))),
                code if code == other => Some((glyph, Some(one))),
                _ => None,
            })
            .collect();
        if !changes.is_empty() {
            pdf.set_codes(page, &changes);
        }
    }
    let (text, other_text) = (map[&one].clone(), map[&other].clone());
    map.insert(one, other_text);
    map.insert(other, text);
    pdf.set_characters(font, &map);
}

pub const CASES: &[Case] = &[
    case("white text", Evening, Paper, |pdf| before_text(pdf, "1 g"), 1, MISSED),
    case("grey text", Evening, Paper, |pdf| before_text(pdf, "0.6 g"), 1, MISSED),
    case(
        "text in a yellow that a copier does not see",
        Evening,
        Paper,
        |pdf| before_text(pdf, "1 1 0 rg"),
        1,
        MISSED,
    ),
    case(
        "text that is all transparent",
        Evening,
        Paper,
        |pdf| {
            state(pdf, dictionary! { "ca" => 0 });
            before_text(pdf, "/Odd gs");
        },
        2,
        "the character \"D\" is not opaque",
    ),
    case(
        "text that is half transparent",
        Evening,
        Paper,
        |pdf| {
            state(pdf, dictionary! { "ca" => 0.4 });
            before_text(pdf, "/Odd gs");
        },
        2,
        "the character \"D\" is not opaque",
    ),
    case(
        "text that is blended away",
        Evening,
        Paper,
        |pdf| {
            state(pdf, dictionary! { "BM" => "Screen" });
            // On white, Screen leaves white.
            let (x, y) = place(pdf);
            around(pdf, &format!("1 g {x} {y} 300 8 re f /Odd gs"), "");
        },
        2,
        "the character \"D\" is not opaque",
    ),
    case(
        "text behind a soft mask",
        Evening,
        Paper,
        |pdf| {
            let entries = dictionary! {
                "Type" => "XObject",
                "Subtype" => "Form",
                "BBox" => vec![0.into(), 0.into(), 612.into(), 792.into()],
                "Group" => dictionary! { "S" => "Transparency", "CS" => "DeviceGray" },
            };
            let form = pdf.document.add_object(Stream::new(entries, b"0 g".to_vec()));
            let mask = dictionary! { "Type" => "Mask", "S" => "Luminosity", "G" => form };
            state(pdf, dictionary! { "SMask" => mask });
            around(pdf, "/Odd gs", "");
        },
        2,
        "the character \"D\" is not opaque",
    ),
    case(
        "text in a group that is all transparent",
        Evening,
        Paper,
        |pdf| {
            as_form(pdf, group());
            state(pdf, dictionary! { "ca" => 0 });
            let operations = pdf.operations(2);
            let at = operations.iter().position(|it| {
                it.operator == "Do" && it.operands[0].as_name().ok() == Some(b"Odd")
            });
            let mut operations = operations;
            let at = at.unwrap();
            let more = b"q /Odd gs".to_vec();
            let more = lopdf::content::Content::decode(&more).unwrap().operations;
            operations.insert(at + 1, lopdf::content::Operation::new("Q", Vec::new()));
            operations.splice(at..at, more);
            pdf.set_operations(2, operations);
        },
        2,
        "the character \"D\" is not opaque",
    ),
    case(
        "text in render mode 3",
        Evening,
        Paper,
        |pdf| before_text(pdf, "3 Tr"),
        2,
        "shows text in mode 3, and not filled",
    ),
    case(
        "text that only clips",
        Evening,
        Paper,
        |pdf| before_text(pdf, "7 Tr"),
        2,
        "shows text in mode 7, and not filled",
    ),
    case(
        "text drawn as an outline so thin that it does not print",
        Evening,
        Paper,
        |pdf| before_text(pdf, "0.001 w 1 Tr"),
        2,
        "shows text in mode 1, and not filled",
    ),
    case(
        "text drawn as an outline so thick that it is a blot",
        Evening,
        Paper,
        |pdf| before_text(pdf, "9 w 1 Tr"),
        2,
        "shows text in mode 1, and not filled",
    ),
    case(
        "text that is clipped away",
        Evening,
        Paper,
        |pdf| around(pdf, "0 0 1 1 re W n", ""),
        1,
        MISSED,
    ),
    case(
        "text that a clip with a hole leaves out",
        Evening,
        Paper,
        |pdf| {
            let (x, y) = place(pdf);
            let hole = format!("0 0 612 792 re {x} {} 400 20 re W* n", y - 5.0);
            around(pdf, &hole, "");
        },
        2,
        "the character \"D\" is cut",
    ),
    case(
        "the lower half of a line clipped away",
        Evening,
        Paper,
        |pdf| {
            let (_, y) = place(pdf);
            around(pdf, &format!("0 {} 612 20 re W n", y + 2.5), "");
        },
        2,
        "found \"Donotdrinkextralatertocatchu\"",
    ),
    case(
        "text covered by a white rectangle",
        Evening,
        Paper,
        |pdf| {
            let (x, y) = place(pdf);
            pdf.draw(2, &format!("q 1 g {x} {y} 300 8 re f Q"));
        },
        2,
        "\"D\" is covered",
    ),
    case(
        "text covered by a thick white line",
        Evening,
        Paper,
        |pdf| {
            let (x, y) = place(pdf);
            let y = y + 4.0;
            pdf.draw(2, &format!("q 1 G 8 w {x} {y} m {} {y} l S Q", x + 300.0));
        },
        2,
        "is covered",
    ),
    case(
        "text struck through",
        Evening,
        Paper,
        |pdf| {
            let (x, y) = place(pdf);
            let y = y + 4.0;
            pdf.draw(2, &format!("q 0 G 1 w {x} {y} m {} {y} l S Q", x + 200.0));
        },
        2,
        "the character \"D\" is covered",
    ),
    case(
        "text covered by a picture",
        Evening,
        Paper,
        |pdf| {
            let (x, y) = place(pdf);
            picture(pdf, 2, 255);
            pdf.draw(2, &format!("q 300 0 0 8 {x} {y} cm /Odd Do Q"));
        },
        2,
        "is covered",
    ),
    case(
        "text covered by a shading",
        Evening,
        Paper,
        |pdf| {
            let (x, y) = place(pdf);
            let function = dictionary! {
                "FunctionType" => 2,
                "Domain" => vec![0.into(), 1.into()],
                "C0" => vec![1.into()],
                "C1" => vec![1.into()],
                "N" => 1,
            };
            let shading = dictionary! {
                "ShadingType" => 2,
                "ColorSpace" => "DeviceGray",
                "Coords" => vec![0.into(), 0.into(), 612.into(), 0.into()],
                "Function" => function,
                "Extend" => vec![true.into(), true.into()],
            };
            let shading = pdf.document.add_object(shading);
            pdf.resource(2, "Shading", "Odd", shading.into());
            let clip = format!("{x} {y} 300 8 re W n");
            pdf.draw(2, &format!("q {clip} /Odd sh Q"));
        },
        2,
        "is covered",
    ),
    case(
        "a picture that nobody planned on a page of paper",
        Evening,
        Paper,
        |pdf| draw_picture(pdf, 3, 30, (560, 700)),
        3,
        "image",
    ),
    case(
        "a picture that nobody planned, clear of the margin",
        Evening,
        Paper,
        |pdf| draw_picture(pdf, 3, 30, (400, 700)),
        3,
        "found an image, which nobody planned",
    ),
    case(
        "a picture to the right of the laboratory's name",
        Evening,
        Paper,
        |pdf| draw_picture(pdf, 1, 20, (400, 740)),
        1,
        "found an image, which nobody planned",
    ),
    case(
        "a picture below the place of a logo",
        Evening,
        Paper,
        |pdf| draw_picture(pdf, 1, 10, (40, 400)),
        1,
        "found an image, which nobody planned",
    ),
    case(
        "text of 1 pt",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(2, CAUTION);
            let blocks = pdf.blocks_of(&found);
            let at = blocks[0].origin;
            pdf.distort(2, &blocks, at, [1.0 / 12.0, 0.0, 0.0, 1.0 / 12.0]);
        },
        2,
        CAUTION,
    ),
    case(
        "text of 1 pt on a label",
        Evening,
        Labels,
        |pdf| {
            let found = pdf.find(1, "BRIGHTWATER");
            let blocks = pdf.blocks_of(&found);
            let at = blocks[0].origin;
            pdf.distort(1, &blocks, at, [0.1, 0.0, 0.0, 0.1]);
        },
        1,
        "BRIGHTWATER",
    ),
    case(
        "text mirrored in its place",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(2, CAUTION);
            let blocks = pdf.blocks_of(&found);
            let (x, y) = blocks[0].origin;
            pdf.distort(2, &blocks, (x + 40.0, y), [-1.0, 0.0, 0.0, 1.0]);
        },
        2,
        CAUTION,
    ),
    case(
        "text upside down in its place",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find(2, CAUTION);
            let blocks = pdf.blocks_of(&found);
            let (x, y) = blocks[0].origin;
            pdf.distort(2, &blocks, (x + 40.0, y - 1.5), [-1.0, 0.0, 0.0, -1.0]);
        },
        2,
        CAUTION,
    ),
    case(
        "letters spread over the page",
        Evening,
        Paper,
        |pdf| before_text(pdf, "3 Tc"),
        2,
        CAUTION,
    ),
    case(
        "letters squeezed to a tenth",
        Evening,
        Paper,
        |pdf| before_text(pdf, "10 Tz"),
        2,
        CAUTION,
    ),
    case(
        "ToUnicode that says another figure",
        Evening,
        Paper,
        |pdf| {
            let font = font(pdf, 1, "Before you sleep", "6:00 pm");
            let mut map = pdf.characters(font);
            let code = pdf.find_after(1, "Before you sleep", "6:00 pm").glyphs[0].code;
            map.insert(code, "8".into());
            pdf.set_characters(font, &map);
        },
        1,
        "expected card 1 at 18:00",
    ),
    case(
        "ToUnicode that is gone",
        Evening,
        Paper,
        |pdf| {
            let font = font(pdf, 1, "Before you sleep", "6:00 pm");
            pdf.dictionary(font).remove(b"ToUnicode");
        },
        1,
        "the /ToUnicode of the font",
    ),
    case(
        "two figures exchanged that read as they did",
        Evening,
        Paper,
        |pdf| {
            let font = font(pdf, 1, "Before you sleep", "6:00 pm");
            exchange_glyphs(pdf, font, "6", "8");
        },
        1,
        "prints",
    ),
    case(
        "two outlines exchanged in a font",
        Evening,
        Paper,
        |pdf| {
            let font = font(pdf, 1, "Before you sleep", "6:00 pm");
            exchange_outlines(pdf, font, "6", "8");
        },
        1,
        "has a map of its own for its glyphs",
    ),
    case(
        "two outlines exchanged in the font of labels",
        Evening,
        Labels,
        |pdf| {
            let font = font(pdf, 1, "Planned 27-Oct-2026, ", "6");
            exchange_outlines(pdf, font, "6", "2");
        },
        1,
        "has a map of its own for its glyphs",
    ),
    case(
        "two outlines exchanged within a font program",
        Evening,
        Paper,
        |pdf| {
            let font = font(pdf, 1, "Before you sleep", "6:00 pm");
            exchange_in_program(pdf, font, "6", "8");
        },
        1,
        "what reads as \"6\" prints as something else",
    ),
    case(
        "two outlines exchanged within the font program of labels",
        Evening,
        Labels,
        |pdf| {
            let font = font(pdf, 1, "Planned 27-Oct-2026, ", "6");
            exchange_in_program(pdf, font, "6", "2");
        },
        1,
        "prints as something else",
    ),
    case(
        "an outline that is empty",
        Evening,
        Paper,
        |pdf| {
            let font = font(pdf, 1, "Before you sleep", "6:00 pm");
            exchange_outlines(pdf, font, "6", " ");
        },
        1,
        "has a map of its own for its glyphs",
    ),
    case(
        "a font program that is another font's",
        Evening,
        Paper,
        |pdf| {
            let bold = font(pdf, 1, "Before you sleep", "6:00 pm");
            let other = font(pdf, 1, "(2 cups) until ", "4:00 pm");
            assert_ne!(bold, other);
            let program = |pdf: &Pdf, font| {
                let descendant = pdf.descendant(font);
                let found = pdf.document.get_dictionary(descendant).unwrap();
                let id = found.get(b"FontDescriptor").unwrap().as_reference().unwrap();
                let found = pdf.document.get_dictionary(id).unwrap();
                (id, found.get(b"FontFile2").unwrap().clone())
            };
            let (descriptor, _) = program(pdf, bold);
            let (_, file) = program(pdf, other);
            pdf.dictionary(descriptor).set("FontFile2", file);
        },
        1,
        "prints",
    ),
    case(
        "text of a font that is not in the file",
        Evening,
        Paper,
        |pdf| {
            let font = pdf.document.add_object(dictionary! {
                "Type" => "Font",
                "Subtype" => "Type1",
                "BaseFont" => "Helvetica",
            });
            pdf.resource(3, "Font", "Odd", font.into());
            pdf.draw(3, "BT /Odd 12 Tf 400 740 Td (Drink a lot) Tj ET");
        },
        3,
        "font",
    ),
    case(
        "text of a font that is drawn by operators",
        Evening,
        Paper,
        |pdf| {
            let glyph = b"1000 0 0 0 750 750 d1 0 0 750 750 re f".to_vec();
            let glyph = pdf.document.add_object(Stream::new(Dictionary::new(), glyph));
            let font = pdf.document.add_object(dictionary! {
                "Type" => "Font",
                "Subtype" => "Type3",
                "FontBBox" => vec![0.into(), 0.into(), 750.into(), 750.into()],
                "FontMatrix" => vec![
                    0.001.into(), 0.into(), 0.into(), 0.001.into(), 0.into(), 0.into(),
                ],
                "CharProcs" => dictionary! { "space" => glyph },
                "Encoding" => dictionary! {
                    "Type" => "Encoding",
                    "Differences" => vec![32.into(), name("space")],
                },
                "FirstChar" => 32,
                "LastChar" => 32,
                "Widths" => vec![1000.into()],
            });
            pdf.resource(3, "Font", "Odd", font.into());
            // Its one glyph is a black square that says it is a space.
            pdf.draw(3, "BT /Odd 12 Tf 400 740 Td (     ) Tj ET");
        },
        3,
        "is not embedded as ours are",
    ),
    case(
        "text of a form that nobody planned",
        Evening,
        Paper,
        |pdf| {
            let font = font(pdf, 3, "", "What you may drink");
            let title = pdf.find(3, "drink").glyphs;
            let text: String =
                title.iter().map(|glyph| format!("{:04x}", glyph.code)).collect();
            let drawing = format!("BT /F 12 Tf 420 740 Td <{text}> Tj ET");
            let entries = dictionary! {
                "Type" => "XObject",
                "Subtype" => "Form",
                "BBox" => vec![0.into(), 0.into(), 612.into(), 792.into()],
                "Resources" => dictionary! { "Font" => dictionary! { "F" => font } },
            };
            let form = Stream::new(entries, drawing.into_bytes());
            let form = pdf.document.add_object(form);
            pdf.resource(3, "XObject", "Odd", form.into());
            pdf.draw(3, "/Odd Do");
        },
        3,
        "found \"drink\", which nobody planned",
    ),
    case(
        "a figure printed over another",
        Evening,
        Paper,
        |pdf| {
            let found = pdf.find_after(1, "Before you sleep", "6:00 pm");
            let block = pdf.blocks_of(&found)[0].operators.clone();
            let mut operations = pdf.operations(1);
            let again = operations[block].to_vec();
            operations.extend(again);
            pdf.set_operations(1, operations);
        },
        1,
        "printed one on the other",
    ),
];
