//! What the file says about itself and asks of a printer, what travels in it,
//! and what a reader could show beside its pages.

use kitwright::proof::FileKind::{Labels, Packing, Paper};
use lopdf::{Dictionary, Object, ObjectId, Stream, dictionary};

use crate::kits::Of::{Evening, Run, Spanish};
use crate::pdf::{Pdf, name, real};
use crate::{Case, case};

fn preference(pdf: &mut Pdf, key: &str, value: Option<&str>) {
    let Ok(Object::Dictionary(found)) = pdf.catalog().get_mut(b"ViewerPreferences")
    else {
        panic!("no preferences")
    };
    match value {
        Some(value) => found.set(key, name(value)),
        None => drop(found.remove(key.as_bytes()).unwrap()),
    }
}

/// All dictionaries that `is` accepts.
pub fn all(pdf: &Pdf, is: impl Fn(&Dictionary) -> bool) -> Vec<ObjectId> {
    let is = |object: &Object| object.as_dict().is_ok_and(&is);
    pdf.document.objects.iter().filter(|(_, o)| is(o)).map(|(id, _)| *id).collect()
}

/// The file specifications of what is attached.
fn attached(pdf: &Pdf) -> Vec<ObjectId> {
    all(pdf, |found| found.has_type(b"Filespec"))
}

fn content(pdf: &Pdf, file: ObjectId) -> ObjectId {
    let file = pdf.document.get_dictionary(file).unwrap();
    file.get(b"EF").unwrap().as_dict().unwrap().get(b"F").unwrap().as_reference().unwrap()
}

fn change_attached(pdf: &mut Pdf, change: fn(&mut Vec<u8>)) {
    let stream = content(pdf, attached(pdf)[0]);
    let object = pdf.document.get_object(stream).unwrap().as_stream().unwrap();
    let mut bytes = object.get_plain_content().unwrap();
    change(&mut bytes);
    pdf.set_stream(stream, bytes);
}

/// A text string of the file's own information.
fn info(pdf: &mut Pdf) -> &mut Dictionary {
    let id = pdf.document.trailer.get(b"Info").unwrap().as_reference().unwrap();
    pdf.dictionary(id)
}

/// What the bookmarks hang on.
fn outlines(pdf: &mut Pdf) -> ObjectId {
    pdf.catalog().get(b"Outlines").unwrap().as_reference().unwrap()
}

/// The first object whose `key` is `value`.
pub fn having(pdf: &Pdf, key: &str, value: Object) -> ObjectId {
    pdf.object(|found| found.get(key.as_bytes()).is_ok_and(|it| *it == value))
}

/// Puts `entries` as a note of a reader's on a page.
fn annotate(pdf: &mut Pdf, page: usize, entries: Dictionary) {
    let mut note = dictionary! {
        "Type" => "Annot",
        "Rect" => [400.0, 700.0, 560.0, 760.0].map(real).to_vec(),
        // To be printed.
        "F" => 4,
    };
    note.extend(&entries);
    let note = pdf.document.add_object(note);
    pdf.page_entry(page, "Annots", vec![note.into()].into());
}

fn appearance(pdf: &mut Pdf, drawing: &str) -> Object {
    let entries = dictionary! {
        "Type" => "XObject",
        "Subtype" => "Form",
        "BBox" => [0.0, 0.0, 160.0, 60.0].map(real).to_vec(),
        "Resources" => Dictionary::new(),
    };
    pdf.document.add_object(Stream::new(entries, drawing.as_bytes().to_vec())).into()
}

/// Puts what prints a text into a layer.
fn layer(pdf: &mut Pdf, page: usize, text: &str, properties: Dictionary) {
    let group = dictionary! { "Type" => "OCG", "Name" => Object::string_literal("x") };
    let group = pdf.document.add_object(group);
    let mut properties = properties;
    properties.set("OCGs", vec![group.into()]);
    let Ok(Object::Dictionary(shown)) = properties.get_mut(b"D") else { panic!() };
    if shown.has(b"OFF") {
        shown.set("OFF", vec![group.into()]);
    }
    if shown.has(b"AS") {
        let usage = dictionary! {
            "Event" => "Print",
            "Category" => vec![name("Print")],
            "OCGs" => vec![group.into()],
        };
        shown.set("AS", vec![usage.into()]);
        let off = dictionary! { "Print" => dictionary! { "PrintState" => "OFF" } };
        pdf.dictionary(group).set("Usage", off);
    }
    pdf.catalog().set("OCProperties", properties);
    pdf.resource(page, "Properties", "Odd", group.into());
    let found = pdf.find(page, text);
    let blocks = pdf.blocks_of(&found);
    pdf.wrap(page, &blocks, "/OC /Odd BDC", "EMC");
}

const CAUTION: &str = "Do not drink extra later";

pub const CASES: &[Case] = &[
    case(
        "scaling left to the printer",
        Evening,
        Labels,
        |pdf| preference(pdf, "PrintScaling", None),
        0,
        "expected PrintScaling None, found nothing",
    ),
    case(
        "scaling asked for",
        Evening,
        Paper,
        |pdf| preference(pdf, "PrintScaling", Some("AppDefault")),
        0,
        "expected PrintScaling None, found AppDefault",
    ),
    case(
        "paper to be printed on one side",
        Evening,
        Paper,
        |pdf| preference(pdf, "Duplex", Some("Simplex")),
        0,
        "expected Duplex DuplexFlipLongEdge, found Simplex",
    ),
    case(
        "paper to be turned over its short edge",
        Evening,
        Paper,
        |pdf| preference(pdf, "Duplex", Some("DuplexFlipShortEdge")),
        0,
        "expected Duplex DuplexFlipLongEdge",
    ),
    case(
        "labels to be printed on both sides",
        Evening,
        Labels,
        |pdf| preference(pdf, "Duplex", Some("DuplexFlipLongEdge")),
        0,
        "expected Duplex Simplex",
    ),
    case(
        "two copies asked for",
        Evening,
        Labels,
        |pdf| {
            let Ok(Object::Dictionary(found)) =
                pdf.catalog().get_mut(b"ViewerPreferences")
            else {
                panic!()
            };
            found.set("NumCopies", 2);
        },
        0,
        "NumCopies",
    ),
    case(
        "a range of pages asked for",
        Evening,
        Paper,
        |pdf| {
            let Ok(Object::Dictionary(found)) =
                pdf.catalog().get_mut(b"ViewerPreferences")
            else {
                panic!()
            };
            found.set("PrintPageRange", vec![0.into(), 1.into()]);
        },
        0,
        "PrintPageRange",
    ),
    case(
        "a figure of the attached order",
        Evening,
        Paper,
        |pdf| {
            change_attached(pdf, |bytes| {
                let at = bytes.windows(5).position(|five| five == b"18:00").unwrap();
                bytes[at + 1] = b'9';
            });
        },
        0,
        "the attached HB-20424.toml is not the order this is compared with",
    ),
    case(
        "a space more in the attached order",
        Evening,
        Packing,
        |pdf| change_attached(pdf, |bytes| bytes.push(b' ')),
        0,
        "the attached HB-20424.toml is not the order this is compared with",
    ),
    case(
        "the attached order under another name",
        Evening,
        Labels,
        |pdf| {
            let file = attached(pdf)[0];
            pdf.dictionary(file).set("F", Object::string_literal("HB-20425.toml"));
        },
        0,
        "the attached HB-20424.toml is named HB-20425.toml",
    ),
    case(
        "the attached order under another name for newer readers",
        Evening,
        Labels,
        |pdf| {
            let file = attached(pdf)[0];
            let file = pdf.dictionary(file);
            assert!(file.has(b"UF"));
            file.set("UF", Object::string_literal("HB-20425.toml"));
        },
        0,
        "HB-20425.toml",
    ),
    case(
        "the attached order left out",
        Evening,
        Paper,
        |pdf| {
            let file = attached(pdf)[0];
            pdf.document.objects.remove(&file);
        },
        0,
        "there is no object",
    ),
    case(
        "a file more attached",
        Evening,
        Paper,
        |pdf| {
            let file = pdf.document.get_object(attached(pdf)[0]).unwrap().clone();
            let more = pdf.document.add_object(file);
            let names = [("F", "more.toml"), ("UF", "more.toml")];
            for (key, name) in names {
                pdf.dictionary(more).set(key, Object::string_literal(name));
            }
            let catalog = pdf.document.catalog_mut().unwrap();
            let names = catalog.get_mut(b"Names").unwrap().as_dict_mut().unwrap();
            let files = names.get_mut(b"EmbeddedFiles").unwrap().as_dict_mut().unwrap();
            let list = files.get_mut(b"Names").unwrap().as_array_mut().unwrap();
            list.push(Object::string_literal("more.toml"));
            list.push(Object::Reference(more));
        },
        0,
        "expected 1 attached orders, found 2",
    ),
    case(
        "the attached orders of two patients exchanged",
        Run,
        Paper,
        |pdf| {
            let files = attached(pdf);
            let (one, other) = (content(pdf, files[0]), content(pdf, files[1]));
            let stream = |id| pdf.document.get_object(id).unwrap().clone();
            let (first, second) = (stream(one), stream(other));
            pdf.document.objects.insert(one, second);
            pdf.document.objects.insert(other, first);
        },
        0,
        "is not the order this is compared with",
    ),
    case(
        "the file's language",
        Spanish,
        Paper,
        |pdf| pdf.catalog().set("Lang", Object::string_literal("en")),
        0,
        "language",
    ),
    case(
        "the file's title",
        Evening,
        Paper,
        |pdf| {
            let title = Object::string_literal("Your collection times - HB-20425");
            info(pdf).set("Title", title);
        },
        0,
        "title",
    ),
    case(
        "the file's title in its metadata",
        Evening,
        Paper,
        |pdf| {
            let id = pdf.catalog().get(b"Metadata").unwrap().as_reference().unwrap();
            let stream = pdf.document.get_object(id).unwrap().as_stream().unwrap();
            let text = String::from_utf8(stream.get_plain_content().unwrap()).unwrap();
            let changed = text.replace("HB-20424", "HB-20425");
            assert_ne!(text, changed);
            pdf.set_stream(id, changed.into_bytes());
        },
        0,
        "title",
    ),
    case(
        "a bookmark's words",
        Evening,
        Paper,
        |pdf| {
            let id = pdf.object(|found| {
                let title = found.get(b"Title").and_then(Object::as_str);
                found.has(b"Parent") && title.is_ok()
            });
            pdf.dictionary(id).set("Title", Object::string_literal("HB-20425 SMITH"));
        },
        1,
        "bookmark",
    ),
    case(
        "a bookmark that leads to another page",
        Evening,
        Paper,
        |pdf| {
            let page = pdf.page(1);
            let drinks = Object::string_literal("What you may drink");
            let id = having(pdf, "Title", drinks);
            let to = vec![page.into(), name("XYZ"), 0.into(), 0.into(), 0.into()];
            pdf.dictionary(id).set("Dest", to);
        },
        1,
        "the bookmark \"What you may drink\"",
    ),
    case(
        "the bookmarks of two patients exchanged",
        Run,
        Paper,
        |pdf| {
            let outlines = outlines(pdf);
            let one = pdf.under(outlines, "First");
            let other = pdf.under(one, "Next");
            pdf.exchange_entries("Title", one, other);
        },
        1,
        "bookmark",
    ),
    case(
        "a bookmark left out",
        Run,
        Packing,
        |pdf| {
            let outlines = outlines(pdf);
            let last = pdf.under(outlines, "Last");
            let before = pdf.under(last, "Prev");
            pdf.dictionary(before).remove(b"Next").unwrap();
            pdf.dictionary(outlines).set("Last", before);
        },
        4,
        "expected a bookmark",
    ),
    case(
        "a bookmark that runs a script",
        Evening,
        Paper,
        |pdf| {
            let drinks = Object::string_literal("What you may drink");
            let id = having(pdf, "Title", drinks);
            let script = dictionary! {
                "S" => "JavaScript",
                "JS" => Object::string_literal("this.print()"),
            };
            pdf.dictionary(id).set("A", script);
        },
        0,
        "the bookmark \"What you may drink\" has /A",
    ),
    case(
        "a note of a reader's with text",
        Evening,
        Paper,
        |pdf| {
            let entries = dictionary! {
                "Subtype" => "FreeText",
                "Contents" => Object::string_literal("Drink a lot"),
                "DA" => Object::string_literal("/Helv 12 Tf 0 g"),
            };
            annotate(pdf, 3, entries);
        },
        3,
        "the page has /Annots",
    ),
    case(
        "a note of a reader's that is a white square",
        Evening,
        Paper,
        |pdf| {
            let form = appearance(pdf, "1 g 0 0 160 60 re f");
            let entries = dictionary! {
                "Subtype" => "Square",
                "AP" => dictionary! { "N" => form },
                "Rect" => [30.0, 500.0, 300.0, 700.0].map(real).to_vec(),
            };
            annotate(pdf, 3, entries);
        },
        3,
        "the page has /Annots",
    ),
    case(
        "a note of a reader's that is shown on screen alone",
        Evening,
        Paper,
        |pdf| {
            let form = appearance(pdf, "0 g 0 0 160 60 re f");
            let entries = dictionary! {
                "Subtype" => "Stamp",
                "AP" => dictionary! { "N" => form },
                "F" => 32 + 4,
            };
            annotate(pdf, 3, entries);
        },
        3,
        "the page has /Annots",
    ),
    case(
        "a field to fill in",
        Evening,
        Paper,
        |pdf| {
            let entries = dictionary! {
                "Subtype" => "Widget",
                "FT" => "Tx",
                "T" => Object::string_literal("time"),
                "V" => Object::string_literal("7:00 pm"),
            };
            annotate(pdf, 3, entries);
            let Ok(Object::Array(notes)) =
                pdf.document.get_dictionary(pdf.page(3)).unwrap().get(b"Annots")
            else {
                panic!()
            };
            let fields = notes.clone();
            let form = dictionary! { "Fields" => fields, "NeedAppearances" => true };
            pdf.catalog().set("AcroForm", form);
        },
        0,
        "the file has /AcroForm",
    ),
    case(
        "a script that runs when the file is opened",
        Evening,
        Paper,
        |pdf| {
            let script = dictionary! {
                "S" => "JavaScript",
                "JS" => Object::string_literal("this.print()"),
            };
            pdf.catalog().set("OpenAction", script);
        },
        0,
        "OpenAction",
    ),
    case(
        "a caution in a layer that is hidden",
        Evening,
        Paper,
        |pdf| {
            let shown = dictionary! { "OFF" => Object::Array(Vec::new()) };
            layer(pdf, 2, CAUTION, dictionary! { "D" => shown });
        },
        0,
        "the file has /OCProperties",
    ),
    case(
        "a caution in a layer that is hidden in print",
        Evening,
        Paper,
        |pdf| {
            let shown = dictionary! { "AS" => Object::Array(Vec::new()) };
            layer(pdf, 2, CAUTION, dictionary! { "D" => shown });
        },
        0,
        "the file has /OCProperties",
    ),
    case(
        "the mark that says it is tagged",
        Evening,
        Paper,
        |pdf| {
            let id = pdf.catalog().remove(b"MarkInfo");
            assert!(id.is_some());
            pdf.catalog().remove(b"StructTreeRoot").unwrap();
        },
        0,
        "the file is not tagged",
    ),
];
