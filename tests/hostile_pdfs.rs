//! PDFs that are made to hang, to fill memory, to overflow the stack, or to show
//! other things than they print. Each is refused, and the message says where and why.
//!
//! The bytes are built here, after ISO 32000-1:2008 (from memory for the numbers of
//! clauses).

mod common;

use std::io::Write;

use common::{order_set, order_text, source, workshop};
use flate2::Compression;
use flate2::write::ZlibEncoder;
use kitwright::imposition::Placing;
use kitwright::making::MadeKit;
use kitwright::proof::{FileKind, attached_orders, carried_orders, read};
use kitwright::workshop::{Planned, Workshop};
use lopdf::{Dictionary, Document, Object, ObjectId, Stream};

/// The parts of a small PDF that is sound.
#[derive(Clone)]
struct Small {
    catalog: String,
    /// Beside its type, parent, resources and contents.
    page: String,
    resources: String,
    content: Vec<u8>,
    /// Objects with the numbers from [`MORE`] on.
    more: Vec<Vec<u8>>,
    trailer: String,
}

/// The number of the first object that a case adds.
const MORE: usize = 6;

fn small() -> Small {
    Small {
        catalog: String::new(),
        page: "/MediaBox[0 0 200 100]".into(),
        resources: String::new(),
        content: b"q Q".to_vec(),
        more: Vec::new(),
        trailer: String::new(),
    }
}

impl Small {
    fn bytes(&self) -> Vec<u8> {
        let page = format!(
            "<</Type/Page/Parent 2 0 R/Resources 4 0 R/Contents 5 0 R{}>>",
            self.page
        );
        let mut objects = vec![
            format!("<</Type/Catalog/Pages 2 0 R{}>>", self.catalog).into_bytes(),
            b"<</Type/Pages/Count 1/Kids[3 0 R]>>".to_vec(),
            page.into_bytes(),
            format!("<<{}>>", self.resources).into_bytes(),
            stream("", &self.content),
        ];
        objects.extend(self.more.iter().cloned());
        file(&objects, &self.trailer)
    }
}

/// A file of objects with the numbers from 1 on, the first of them its catalog.
fn file(objects: &[Vec<u8>], trailer: &str) -> Vec<u8> {
    let mut bytes = b"%PDF-1.7\n".to_vec();
    let mut table = format!("xref\n0 {}\n0000000000 65535 f \n", objects.len() + 1);
    for (number, object) in (1..).zip(objects) {
        table.push_str(&format!("{:010} 00000 n \n", bytes.len()));
        bytes.extend(format!("{number} 0 obj\n").bytes());
        bytes.extend(object);
        bytes.extend(b"\nendobj\n");
    }
    let at = bytes.len();
    bytes.extend(table.bytes());
    let size = objects.len() + 1;
    let end = format!("trailer\n<</Size {size}/Root 1 0 R{trailer}>>\n");
    bytes.extend(end.bytes());
    bytes.extend(format!("startxref\n{at}\n%%EOF\n").bytes());
    bytes
}

fn stream(dict: &str, data: &[u8]) -> Vec<u8> {
    let mut object = format!("<</Length {}{dict}>>\nstream\n", data.len()).into_bytes();
    object.extend(data);
    object.extend(b"\nendstream");
    object
}

fn packed(data: &[u8]) -> Vec<u8> {
    let mut packer = ZlibEncoder::new(Vec::new(), Compression::best());
    packer.write_all(data).unwrap();
    packer.finish().unwrap()
}

/// A font that is sound but for what is changed.
fn font(change: impl Fn(&mut [String; 4])) -> Small {
    let mut parts = [
        "/Subtype/Type0/Encoding/Identity-H/ToUnicode 8 0 R/DescendantFonts[7 0 R]"
            .to_owned(),
        "/Subtype/CIDFontType2/CIDToGIDMap/Identity/DW 0/W[0 1 500]".to_owned(),
        "/FontFile2 8 0 R".to_owned(),
        "/BaseFont/ABCDEF+Some".to_owned(),
    ];
    change(&mut parts);
    let [font, descendant, descriptor, name] = parts;
    let more = [
        format!("<</Type/Font{name}{font}>>"),
        format!("<</Type/Font{descendant}/FontDescriptor<<{descriptor}>>>>"),
    ];
    let mut made = small();
    made.resources = "/Font<</f0 6 0 R>>".into();
    made.content = b"BT /f0 12 Tf <0001> Tj ET".to_vec();
    made.more = more.map(String::into_bytes).into();
    made.more.push(stream("", b"nothing"));
    made
}

/// A file with forms, each of which draws the next ten times.
fn forms(count: usize) -> Small {
    let mut made = small();
    made.resources = format!("/XObject<</x {MORE} 0 R>>");
    made.content = b"/x Do ".repeat(10);
    for index in 1..=count {
        let next = MORE + index % count;
        let (content, resources) = match index == count {
            true => (b"0 0 1 1 re f ".repeat(10), String::new()),
            false => {
                (b"/x Do ".repeat(10), format!("/Resources<</XObject<</x {next} 0 R>>>>"))
            }
        };
        let dict = format!("/Type/XObject/Subtype/Form/BBox[0 0 9 9]{resources}");
        made.more.push(stream(&dict, &content));
    }
    made
}

fn with(change: impl Fn(&mut Small)) -> Vec<u8> {
    let mut made = small();
    change(&mut made);
    made.bytes()
}

/// `bytes` with `from`, which stands there once, as `to`; as long as before.
fn replaced(bytes: &[u8], from: &str, to: &str) -> Vec<u8> {
    assert_eq!(from.len(), to.len());
    let at = bytes.windows(from.len()).rposition(|part| part == from.as_bytes());
    let at = at.unwrap_or_else(|| panic!("{from} is not there"));
    let mut bytes = bytes.to_vec();
    bytes[at..at + to.len()].copy_from_slice(to.as_bytes());
    bytes
}

/// An object that lies so deep that a reader which calls itself for each would
/// overflow its stack.
fn deep(open: &str, close: &str) -> Vec<u8> {
    [open.repeat(200_000), close.repeat(200_000)].concat().into_bytes()
}

/// What is wrong, file by file, with what must be said of it.
fn hostile() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    let sound = small().bytes();
    let zeros = |count: usize| packed(&vec![b' '; count]);
    vec![
        ("nothing", Vec::new(), "it does not begin with %PDF-"),
        ("no PDF", b"MZ\0\0".to_vec(), "it does not begin with %PDF-"),
        ("the head alone", b"%PDF-1.7\n".to_vec(), "expected `xref`, at byte 9"),
        ("cut short", sound[..sound.len() - 9].to_vec(), "`startxref` is not the place"),
        // The structure of the file.
        (
            "bytes of something else after the end",
            [&sound[..], b"#!/bin/sh"].concat(),
            "expected `xref`",
        ),
        (
            "an object that the table does not name",
            replaced(&sound, "3 0 obj", "9 0 obj"),
            "the table does not name each object at its place",
        ),
        (
            "an object twice",
            replaced(&sound, "5 0 obj", "4 0 obj"),
            "the object 4 stands there twice",
        ),
        (
            "another generation",
            replaced(&sound, "5 0 obj", "5 1 obj"),
            "the object 5 is not of generation 0",
        ),
        (
            "a number beyond all",
            b"%PDF-1.7\n4294967295 0 obj null endobj".to_vec(),
            "no object has the number 4294967295",
        ),
        (
            "a table before itself",
            with(|made| made.trailer = "/Prev 9".into()),
            "/Prev is not the place of the table before",
        ),
        ("more parts than there can be", sections(20), "it has more than 8 parts"),
        (
            "encrypted",
            with(|made| made.trailer = "/Encrypt 6 0 R".into()),
            "the trailer has /Encrypt",
        ),
        (
            "a table that is a stream",
            file(&[stream("/Type/XRef/W[1 2 1]/Size 2", b"xxxx")], "/XRefStm 9"),
            "the trailer has /XRefStm",
        ),
        (
            "a stream that is longer than it says",
            replaced(&sound, "/Length 3", "/Length 2"),
            "a stream has another length than it says",
        ),
        (
            "a stream that is shorter than it says",
            replaced(&sound, "/Length 3", "/Length 9"),
            "a stream has another length than it says",
        ),
        (
            "a stream beyond the end",
            with(|made| {
                made.more.push(b"<</Length 999999>>\nstream\nx\nendstream".to_vec())
            }),
            "a stream is longer than the file",
        ),
        (
            "a length somewhere else",
            with(|made| {
                made.more.push(b"<</Length 7 0 R>>\nstream\nx\nendstream".to_vec())
            }),
            "the length of a stream does not stand in it",
        ),
        (
            "a key twice",
            with(|made| made.page.push_str("/MediaBox[0 0 9 9]")),
            "/MediaBox stands twice in a dictionary",
        ),
        (
            "arrays in arrays",
            with(|made| made.more.push(deep("[", "]"))),
            "values lie more than 16 deep in each other",
        ),
        (
            "dictionaries in dictionaries",
            with(|made| made.more.push(deep("<</a", ">>"))),
            "values lie more than 16 deep in each other",
        ),
        (
            "a text without an end",
            with(|made| made.more.push(b"((((((".to_vec())),
            "has a text without an end",
        ),
        // What a file does beside its pages.
        (
            "a program when it is opened",
            with(|made| made.catalog = "/OpenAction<</S/JavaScript/JS(x)>>".into()),
            "the file has /OpenAction, as none of ours has",
        ),
        (
            "programs by name",
            with(|made| made.catalog = "/Names<</JavaScript 6 0 R>>".into()),
            "the file has /JavaScript, as none of ours has",
        ),
        (
            "a form to fill in",
            with(|made| made.catalog = "/AcroForm<</XFA 6 0 R>>".into()),
            "the file has /AcroForm, as none of ours has",
        ),
        (
            "layers",
            with(|made| made.catalog = "/OCProperties<<>>".into()),
            "the file has /OCProperties, as none of ours has",
        ),
        // Pages.
        (
            "pages that are their own parents",
            with(|made| {
                made.catalog = "/Lang(en)".into();
                made.more.push(b"<<>>".to_vec());
            })
            .pipe(|bytes| replaced(&bytes, "/Kids[3 0 R]", "/Kids[2 0 R]")),
            "a page, or a list of pages, stands there twice",
        ),
        (
            "lists of pages in lists of pages",
            lists_of_pages(20),
            "its pages lie more than 8 deep in each other",
        ),
        ("very many pages", many_pages(4001), "the PDF has more than 4000 pages"),
        (
            "notes on a page",
            with(|made| made.page.push_str("/Annots[]")),
            "page 1: the page has /Annots, as none of ours has",
        ),
        (
            "a page that is turned",
            with(|made| made.page.push_str("/Rotate 90")),
            "page 1: the page has /Rotate, as none of ours has",
        ),
        (
            "a page with another unit",
            with(|made| made.page.push_str("/UserUnit 2")),
            "page 1: the page has /UserUnit, as none of ours has",
        ),
        (
            "a page that is cropped",
            with(|made| made.page.push_str("/CropBox[0 0 50 50]")),
            "page 1: the page has /CropBox, as none of ours has",
        ),
        (
            "a page without end",
            with(|made| made.page = "/MediaBox[0 0 1e9 9]".into()),
            "a number runs into what follows",
        ),
        (
            "a page as large as a house",
            with(|made| made.page = "/MediaBox[0 0 100000 9]".into()),
            "page 1: the page has no size",
        ),
        // Streams.
        (
            "a drawing that unpacks without end",
            with(|made| {
                made.page.push_str("");
                made.more.push(stream("/Filter/FlateDecode", &zeros(64 << 20)));
            })
            .pipe(|bytes| replaced(&bytes, "/Contents 5", "/Contents 6")),
            "page 1: its drawing cannot be unpacked to 5",
        ),
        (
            "a drawing that is packed twice",
            with(|made| {
                let twice = packed(&zeros(1000));
                let filters = "/Filter[/FlateDecode/FlateDecode]";
                made.more.push(stream(filters, &twice));
            })
            .pipe(|bytes| replaced(&bytes, "/Contents 5", "/Contents 6")),
            "page 1: its drawing is packed in a way that kitwright does not",
        ),
        (
            "a drawing that is packed otherwise",
            with(|made| made.more.push(stream("/Filter/LZWDecode", b"\x80\x0b\x60")))
                .pipe(|bytes| replaced(&bytes, "/Contents 5", "/Contents 6")),
            "page 1: its drawing is packed in a way that kitwright does not",
        ),
        (
            "a drawing that lies in another file",
            with(|made| made.more.push(stream("/F(other.pdf)", b"q Q")))
                .pipe(|bytes| replaced(&bytes, "/Contents 5", "/Contents 6")),
            "page 1: its drawing is packed in a way that kitwright does not",
        ),
        (
            "a drawing with a predictor",
            with(|made| {
                let dict = "/Filter/FlateDecode/DecodeParms<</Predictor 15>>";
                made.more.push(stream(dict, &zeros(9)));
            })
            .pipe(|bytes| replaced(&bytes, "/Contents 5", "/Contents 6")),
            "page 1: its drawing is packed in a way that kitwright does not",
        ),
        // Operators.
        (
            "operands in operands",
            with(|made| made.content = deep("[", "]")),
            "page 1: its drawing has too many operands",
        ),
        (
            "operands without end",
            with(|made| made.content = b"1 ".repeat(300_000)),
            "page 1: its drawing has too many operands",
        ),
        (
            "operators without end",
            with(|made| made.content = b"n ".repeat(300_000)),
            "page 1: its drawing has too many operators",
        ),
        (
            "states without end",
            with(|made| made.content = b"q ".repeat(300_000)),
            "page 1: its drawing saves its state more than 64 times",
        ),
        (
            "shapes without end",
            with(|made| made.content = b"0 0 1 1 re f ".repeat(60_000)),
            "page 1: too much is drawn on the page",
        ),
        (
            "an operator of nobody",
            with(|made| made.content = b"1 0 d0".to_vec()),
            "page 1: its drawing has the operator `d0`, as none of ours has",
        ),
        (
            "an image among the operators",
            with(|made| made.content = b"BI /W 1 /H 1 /CS /G /BPC 8 ID 0 EI".to_vec()),
            "page 1: its drawing has the operator `BI`, as none of ours has",
        ),
        (
            "text that is a hole",
            with(|made| made.content = b"7 Tr".to_vec()),
            "page 1: its drawing shows text in mode 7, and not filled",
        ),
        // Drawings in drawings.
        (
            "a form that draws itself",
            with(|made| {
                made.resources = "/XObject<</x 6 0 R>>".into();
                made.content = b"/x Do".to_vec();
                let dict =
                    "/Subtype/Form/BBox[0 0 9 9]/Resources<</XObject<</x 6 0 R>>>>";
                made.more.push(stream(dict, b"/x Do"));
            }),
            "page 1: forms are drawn in each other without end",
        ),
        ("forms that come to millions", forms(7).bytes(), "has too many operators"),
        (
            "forms in forms",
            forms(30).bytes(),
            "forms are drawn in each other without end",
        ),
        (
            "a pattern that is a drawing",
            with(|made| {
                made.resources = "/Pattern<</p 6 0 R>>".into();
                made.more.push(stream("/PatternType 1/XStep 1/YStep 1", b"/p Do"));
            }),
            "page 1: a pattern has /",
        ),
        (
            "a mesh",
            with(|made| {
                made.resources = "/Shading<</s<</ShadingType 2>>>>".into();
            })
            .pipe(|bytes| replaced(&bytes, "/ShadingType 2", "/ShadingType 7")),
            "page 1: a gradient is of a kind that ours are not",
        ),
        (
            "a gradient that is a program",
            with(|made| {
                let function = "/Function<</FunctionType 4>>";
                made.resources = format!("/Shading<</s<</ShadingType 2{function}>>>>");
            }),
            "page 1: a gradient has colours that cannot be read",
        ),
        // Images.
        (
            "an image of the trade in scans",
            with(|made| {
                made.resources = "/XObject<</x 6 0 R>>".into();
                let dict = "/Subtype/Image/Width 33/Height 33/BitsPerComponent 8\
                            /ColorSpace/DeviceGray/Filter/JBIG2Decode";
                made.more.push(stream(dict, b"x"));
            }),
            "page 1: an image is packed in a way that kitwright does not",
        ),
        (
            "an image that is a mask",
            with(|made| {
                made.resources = "/XObject<</x 6 0 R>>".into();
                let dict = "/Subtype/Image/Width 33/Height 33/ImageMask true";
                made.more.push(stream(dict, b"x"));
            }),
            "page 1: an image has /ImageMask, as none of ours has",
        ),
        // Fonts.
        (
            "a font that is not embedded",
            font(|[font, ..]| *font = "/Subtype/Type1".into()).bytes(),
            "page 1: the font ABCDEF+Some is not embedded as ours are",
        ),
        (
            "a font without its program",
            font(|[_, _, descriptor, _]| descriptor.clear()).bytes(),
            "page 1: the font ABCDEF+Some is not embedded as ours are",
        ),
        (
            "a font that is drawings",
            font(|[font, ..]| *font = "/Subtype/Type3/CharProcs<<>>".into()).bytes(),
            "page 1: the font ABCDEF+Some is not embedded as ours are",
        ),
        (
            "a font with widths without end",
            font(|[_, font, ..]| {
                *font = "/Subtype/CIDFontType2/W[0 4294967295 500]".into();
            })
            .bytes(),
            "page 1: the font ABCDEF+Some has widths of more than 65536 glyphs",
        ),
        (
            "a font with glyphs of other characters",
            font(|[_, font, ..]| {
                *font = "/Subtype/CIDFontType2/CIDToGIDMap 8 0 R".into();
            })
            .bytes(),
            "page 1: the font ABCDEF+Some has a map of its own for its glyphs",
        ),
        (
            "a font whose program is something else",
            font(|_| {}).bytes(),
            "page 1: the font ABCDEF+Some cannot be read",
        ),
        (
            "a colour that is a program",
            with(|made| {
                made.resources =
                    "/ColorSpace<</c[/Separation/All/DeviceGray 6 0 R]>>".into();
            }),
            "page 1: a colour is of a kind that ours are not",
        ),
        (
            "a profile in which nothing is black",
            with(|made| {
                made.resources = "/ColorSpace<</c[/ICCBased 6 0 R]>>".into();
                made.more.push(stream("/N 1", b"profile"));
            }),
            "page 1: a colour has a profile that ours have not",
        ),
    ]
}

trait Pipe: Sized {
    fn pipe<T>(self, then: impl FnOnce(Self) -> T) -> T {
        then(self)
    }
}

impl Pipe for Vec<u8> {}

/// A file of `count` parts, each after the one before and with nothing of its own.
fn sections(count: usize) -> Vec<u8> {
    let mut bytes = small().bytes();
    for _ in 0..count {
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let (_, last) = text.rsplit_once("startxref\n").unwrap();
        let before: usize = last.lines().next().unwrap().parse().unwrap();
        let at = bytes.len();
        let part = format!(
            "xref\n0 0\ntrailer\n<</Size 6/Root 1 0 R/Prev {before}>>\nstartxref\n{at}\n\
             %%EOF\n"
        );
        bytes.extend(part.bytes());
    }
    bytes
}

fn lists_of_pages(depth: usize) -> Vec<u8> {
    let mut objects = vec![b"<</Type/Catalog/Pages 2 0 R>>".to_vec()];
    for number in 3..3 + depth {
        let parent = match number {
            3 => String::new(),
            number => format!("/Parent {} 0 R", number - 2),
        };
        let list = format!("<</Type/Pages/Count 1{parent}/Kids[{number} 0 R]>>");
        objects.push(list.into_bytes());
    }
    let page = format!("<</Type/Page/Parent {} 0 R/MediaBox[0 0 9 9]>>", depth + 1);
    objects.push(page.into_bytes());
    file(&objects, "")
}

fn many_pages(count: usize) -> Vec<u8> {
    let kids: String = (0..count).map(|index| format!("{} 0 R ", index + 3)).collect();
    let mut objects = vec![
        b"<</Type/Catalog/Pages 2 0 R>>".to_vec(),
        format!("<</Type/Pages/Count {count}/Kids[{kids}]>>").into_bytes(),
    ];
    let page = b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 9 9]>>";
    objects.extend((0..count).map(|_| page.to_vec()));
    file(&objects, "")
}

#[test]
fn the_small_file_is_sound() {
    let pages = read(&small().bytes()).unwrap();
    assert_eq!(pages.len(), 1);
    assert!(pages[0].is_blank());
}

#[test]
fn each_hostile_file_is_refused_with_its_reason() {
    for (what, bytes, wanted) in hostile() {
        let found = read(&bytes).expect_err(what);
        assert!(found.contains(wanted), "{what}: {found}");
        // No order is found in it, and nothing is hurt by looking.
        assert!(attached_orders(&bytes).is_empty(), "{what}");
    }
}

#[test]
fn the_message_of_a_file_that_carries_no_order_says_why() {
    let found = carried_orders(b"%PDF-1.7\n").unwrap_err();
    let wanted =
        "this is no PDF as kitwright writes it: expected `xref`, at byte 9".to_owned();
    assert_eq!(found, wanted);
}

fn kit(order: &str) -> (Workshop, Planned, MadeKit) {
    let mut shop = workshop();
    let planned = shop.plan(&source(order), "order.toml".as_ref()).unwrap();
    let made = shop.make(&planned, &Placing::default()).unwrap();
    (shop, planned, made)
}

/// A finished file with a change made by `lopdf`, which writes it whole.
fn changed(bytes: &[u8], change: impl FnOnce(&mut Document)) -> Vec<u8> {
    let mut document = Document::load_mem(bytes).unwrap();
    change(&mut document);
    let mut out = Vec::new();
    document.save_to(&mut out).unwrap();
    out
}

/// The object that the catalog refers to under `key`.
fn from_catalog(document: &Document, key: &[u8]) -> ObjectId {
    document.catalog().unwrap().get(key).unwrap().as_reference().unwrap()
}

/// A change of the operators of the page with number `page`, counted from 1.
fn redrawn(bytes: &[u8], page: u32, change: impl Fn(&str) -> String) -> Vec<u8> {
    changed(bytes, |document| {
        let page = document.get_pages()[&page];
        let content = document.get_page_content(page);
        // The operators are ASCII; texts are not, and keep their bytes.
        let text: String = content.iter().map(|byte| char::from(*byte)).collect();
        let new: Vec<u8> = change(&text).chars().map(|c| c as u8).collect();
        assert_ne!(new, content, "nothing was changed");
        document.change_page_content(page, new).unwrap();
    })
}

fn page_dict(document: &mut Document) -> &mut Dictionary {
    let page = document.get_pages()[&1];
    document.get_object_mut(page).unwrap().as_dict_mut().unwrap()
}

/// Where the first text of a page begins.
fn first_text(drawing: &str) -> usize {
    drawing.find("BT").unwrap()
}

#[test]
fn what_is_not_printed_as_it_seems_is_found_in_finished_files() {
    let (mut shop, planned, made) = kit(&order_text(""));
    let mut prove = |kind: FileKind, bytes: &[u8]| -> String {
        match shop.prove(&planned, &made, kind, bytes, kind.name()) {
            Ok(()) => String::new(),
            Err(faults) => {
                faults.iter().map(|fault| format!("{}\n", fault.what)).collect()
            }
        }
    };
    for kind in FileKind::ALL {
        assert_eq!(prove(kind, made.file(kind)), "");
        let same = changed(made.file(kind), |_| {});
        assert_eq!(prove(kind, &same), "", "written again");
    }
    let (paper, labels) = (made.file(FileKind::Paper), made.file(FileKind::Labels));
    let cases: Vec<(&str, FileKind, Vec<u8>, &str)> = vec![
        (
            "invisible text",
            FileKind::Paper,
            redrawn(paper, 2, |drawing| drawing.replacen("0 Tr", "3 Tr", 1)),
            "paper.pdf, page 2: its drawing shows text in mode 3, and not filled",
        ),
        (
            "white text",
            FileKind::Paper,
            redrawn(paper, 1, |drawing| {
                let at = first_text(drawing);
                format!("{} 1 g {}", &drawing[..at], &drawing[at..])
            }),
            "is not black",
        ),
        (
            "text that is cut",
            FileKind::Labels,
            redrawn(labels, 1, |drawing| format!("0 0 306 792 re W n {drawing}")),
            "labels.pdf, page 1: the character",
        ),
        (
            "text that is painted over",
            FileKind::Paper,
            redrawn(paper, 1, |drawing| format!("{drawing} 1 g 40 700 300 30 re f")),
            "is covered",
        ),
        (
            "text that is crossed out",
            FileKind::Paper,
            redrawn(paper, 1, |drawing| format!("{drawing} 40 727 m 300 727 l S")),
            "is covered",
        ),
        (
            "labels that are not opaque",
            FileKind::Labels,
            changed(labels, |document| {
                let page = document.get_pages()[&1];
                let faint = Object::Dictionary(Dictionary::from_iter([(
                    "ca",
                    Object::Real(0.0),
                )]));
                let resources = document.get_or_create_resources(page).unwrap();
                let states = Dictionary::from_iter([("g0", faint)]);
                resources.as_dict_mut().unwrap().set("ExtGState", states);
            })
            .pipe(|bytes| redrawn(&bytes, 1, |drawing| format!("/g0 gs {drawing}"))),
            "labels.pdf, page 1: it is drawn with /ca, and not opaque",
        ),
        (
            "text of a font that is not embedded",
            FileKind::Labels,
            changed(labels, |document| {
                let page = document.get_pages()[&1];
                let font = Dictionary::from_iter([
                    ("Type", Object::Name(b"Font".to_vec())),
                    ("Subtype", Object::Name(b"Type1".to_vec())),
                    ("BaseFont", Object::Name(b"Courier".to_vec())),
                ]);
                let font = document.add_object(font);
                let resources = document.get_or_create_resources(page).unwrap();
                let resources = resources.as_dict_mut().unwrap();
                let fonts = resources.get_mut(b"Font").unwrap().as_dict_mut().unwrap();
                fonts.set("f9", font);
            })
            .pipe(|bytes| {
                redrawn(&bytes, 1, |drawing| {
                    format!("{drawing} BT /f9 9 Tf 9 9 Td (now) Tj ET")
                })
            }),
            "labels.pdf, page 1: the font Courier is not embedded as ours are",
        ),
        (
            "bookmarks that go round",
            FileKind::Paper,
            changed(paper, |document| {
                let outline = from_catalog(document, b"Outlines");
                let outline = document.get_dictionary(outline).unwrap();
                let first = outline.get(b"First").unwrap().as_reference().unwrap();
                document.get_dictionary_mut(first).unwrap().set("Next", first);
            }),
            "it says too much beside its pages",
        ),
        (
            "metadata that nests deep",
            FileKind::Paper,
            changed(paper, |document| {
                let xml = ["<a>".repeat(9000), "</a>".repeat(9000)].concat();
                let stream = Stream::new(Dictionary::new(), xml.into_bytes());
                document
                    .objects
                    .insert(from_catalog(document, b"Metadata"), stream.into());
            }),
            "expected the title in the metadata",
        ),
        (
            "metadata that unpacks to too much",
            FileKind::Paper,
            changed(paper, |document| {
                let mut stream = Stream::new(Dictionary::new(), vec![b' '; 1 << 20]);
                stream.compress().unwrap();
                document
                    .objects
                    .insert(from_catalog(document, b"Metadata"), stream.into());
            }),
            "the metadata cannot be unpacked to 65536 bytes or fewer",
        ),
        (
            "a note on a page",
            FileKind::Paper,
            changed(paper, |document| {
                page_dict(document).set("Annots", Object::Array(Vec::new()));
            }),
            "paper.pdf, page 1: the page has /Annots, as none of ours has",
        ),
        (
            "a page that is turned",
            FileKind::Paper,
            changed(paper, |document| page_dict(document).set("Rotate", 180)),
            "paper.pdf, page 1: the page has /Rotate, as none of ours has",
        ),
        (
            "a second file in it",
            FileKind::Paper,
            changed(paper, |document| {
                let stream = Stream::new(Dictionary::new(), b"order".to_vec());
                let stream = document.add_object(stream);
                let files = Dictionary::from_iter([("F", Object::Reference(stream))]);
                let file = document.add_object(Dictionary::from_iter([(
                    "EF",
                    Object::Dictionary(files),
                )]));
                let catalog = document.catalog_mut().unwrap();
                let names = catalog.get_mut(b"Names").unwrap().as_dict_mut().unwrap();
                let files =
                    names.get_mut(b"EmbeddedFiles").unwrap().as_dict_mut().unwrap();
                let list = files.get_mut(b"Names").unwrap().as_array_mut().unwrap();
                list.push(Object::string_literal("HB-2.toml"));
                list.push(Object::Reference(file));
            }),
            "expected 1 attached orders, found 2",
        ),
    ];
    for (what, kind, bytes, wanted) in cases {
        let found = prove(kind, &bytes);
        assert!(found.contains(wanted), "{what}: {found}");
    }
}

/// Whatever byte is changed, or wherever the file ends, it is read or refused.
#[test]
fn a_finished_file_with_any_byte_changed_does_no_harm() {
    let order = order_set("stock = \"letter-2x5\"");
    let (.., made) = kit(&order);
    let sound = made.file(FileKind::Labels);
    assert!(read(sound).is_ok());
    for at in (0..sound.len()).step_by(61) {
        let mut bytes = sound.to_vec();
        bytes[at] ^= 0x11;
        let _ = (read(&bytes), attached_orders(&bytes));
        assert!(read(&sound[..at]).is_err(), "cut at {at}");
    }
}

/// As a user gives them: all to `proof`, and some to what prints again.
#[test]
fn the_commands_refuse_each_hostile_file() {
    let folder = tempfile::tempdir().unwrap();
    let order = folder.path().join("order.toml");
    std::fs::write(&order, order_text("")).unwrap();
    let lab =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-orders/lab.toml");
    let run = |arguments: &[&std::ffi::OsStr]| -> (Option<i32>, String) {
        let mut command = assert_cmd::Command::cargo_bin("kitwright").unwrap();
        let done = command.current_dir(folder.path()).args(arguments).output().unwrap();
        let told = String::from_utf8_lossy(&done.stderr).into_owned();
        // A long line is broken for the reader's window.
        (done.status.code(), told.split_whitespace().collect::<Vec<_>>().join(" "))
    };
    let mut names = Vec::new();
    for (number, (_, bytes, _)) in hostile().iter().enumerate() {
        let name = folder.path().join(format!("{number}.pdf"));
        std::fs::write(&name, bytes).unwrap();
        names.push(name);
    }
    let mut arguments: Vec<&std::ffi::OsStr> =
        vec!["proof".as_ref(), "--lab".as_ref(), lab.as_ref(), "--today".as_ref()];
    arguments.extend(["2026-09-01".as_ref(), order.as_os_str()]);
    arguments.extend(names.iter().map(|name| name.as_os_str()));
    let (code, told) = run(&arguments);
    assert_eq!(code, Some(1), "{told}");
    for (what, _, wanted) in hostile() {
        assert!(told.contains(wanted), "{what}: {told}");
    }
    for command in ["relabel", "reprint"] {
        for (number, (what, _, wanted)) in hostile().iter().enumerate().step_by(9) {
            let mut arguments: Vec<&std::ffi::OsStr> = vec![command.as_ref()];
            arguments.extend([names[number].as_os_str(), "--lab".as_ref(), lab.as_ref()]);
            let rest = ["--number", "1", "--reason", "torn", "--today", "2026-09-01"];
            arguments.extend(rest.map(std::ffi::OsStr::new));
            let (code, told) = run(&arguments);
            assert_eq!(code, Some(1), "{command} {what}: {told}");
            let refused = told.contains(wanted) || told.contains("carries no order");
            assert!(refused, "{command} {what}: {told}");
        }
    }
}
