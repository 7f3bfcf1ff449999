//! A finished PDF taken apart, changed and put together again.
//!
//! Works on the operators of the content streams and on the objects beside
//! them, with another library than the proof reads with. Whatever is asked for
//! and is not there is a panic, so no case can pass because it changed nothing.
//!
//! # Source
//!
//! Operators and keys are those of ISO 32000-1:2008 (from memory).

use std::collections::BTreeMap;
use std::ops::Range;

use lopdf::content::{Content, Operation};
use lopdf::{Dictionary, Document, Object, ObjectId, Stream};

pub const PT_PER_MM: f64 = 72.0 / 25.4;

/// Operators that leave ink.
const PAINTS: &[&str] = &["Tj", "TJ", "Do", "S", "s", "f", "f*", "B", "B*", "b", "b*"];

pub struct Pdf {
    pub document: Document,
    /// The file itself, where it was written already.
    finished: Option<Vec<u8>>,
}

/// A glyph in a text operator.
#[derive(Debug, Clone)]
pub struct Placed {
    /// The operator, among those of its page.
    pub operator: usize,
    /// Which string of its operands, and which byte of that.
    string: usize,
    byte: usize,
    pub code: u16,
    pub font: ObjectId,
    /// What it stands for; a no-break space is a space here.
    pub text: String,
}

/// Glyphs that follow each other on one page.
pub struct Found {
    pub page: usize,
    pub glyphs: Vec<Placed>,
}

/// An isolated piece of a content stream, from its `q` to its `Q`.
#[derive(Debug, Clone)]
pub struct Block {
    pub operators: Range<usize>,
    /// Where it begins to draw, in millimetres from the upper left corner.
    pub origin: (f64, f64),
    pub is_text: bool,
    /// The name of the picture that it draws.
    pub picture: Option<Vec<u8>>,
}

pub fn real(number: f64) -> Object {
    Object::Real(number as f32)
}

pub fn name(text: &str) -> Object {
    Object::Name(text.as_bytes().to_vec())
}

impl Pdf {
    #[track_caller]
    pub fn open(bytes: &[u8]) -> Self {
        Self { document: Document::load_mem(bytes).unwrap(), finished: None }
    }

    /// A file that is not to be written again: its bytes matter.
    pub fn finished(bytes: Vec<u8>) -> Self {
        Self { finished: Some(bytes.clone()), ..Self::open(&bytes) }
    }

    pub fn bytes(mut self) -> Vec<u8> {
        if let Some(bytes) = self.finished {
            return bytes;
        }
        let mut out = Vec::new();
        self.document.save_to(&mut out).unwrap();
        out
    }

    /// The page with that number, from 1.
    #[track_caller]
    pub fn page(&self, number: usize) -> ObjectId {
        self.document.page_iter().nth(number - 1).unwrap()
    }

    #[track_caller]
    pub fn page_entry(&mut self, number: usize, key: &str, value: Object) {
        let page = self.page(number);
        self.dictionary(page).set(key, value);
    }

    #[track_caller]
    pub fn dictionary(&mut self, id: ObjectId) -> &mut Dictionary {
        match self.document.get_object_mut(id).unwrap() {
            Object::Dictionary(found) => found,
            Object::Stream(found) => &mut found.dict,
            other => panic!("{other:?} is no dictionary"),
        }
    }

    #[track_caller]
    pub fn catalog(&mut self) -> &mut Dictionary {
        self.document.catalog_mut().unwrap()
    }

    /// The first object that `is` accepts.
    #[track_caller]
    pub fn object(&self, is: impl Fn(&Dictionary) -> bool) -> ObjectId {
        let dictionary = |object: &Object| match object {
            Object::Dictionary(found) => is(found),
            Object::Stream(found) => is(&found.dict),
            _ => false,
        };
        let mut objects = self.document.objects.iter();
        *objects.find(|(_, object)| dictionary(object)).unwrap().0
    }

    #[track_caller]
    pub fn operations(&self, page: usize) -> Vec<Operation> {
        let bytes = self.document.get_page_content(self.page(page));
        Content::decode(&bytes).unwrap().operations
    }

    #[track_caller]
    pub fn set_operations(&mut self, page: usize, operations: Vec<Operation>) {
        let bytes = Content { operations }.encode().unwrap();
        let stream = self.document.add_object(Stream::new(Dictionary::new(), bytes));
        self.page_entry(page, "Contents", stream.into());
    }

    /// Draws more on a page, in the operators of a content stream and in points
    /// from the lower left corner.
    #[track_caller]
    pub fn draw(&mut self, page: usize, drawing: &str) {
        let mut operations = self.operations(page);
        operations.extend(Content::decode(drawing.as_bytes()).unwrap().operations);
        self.set_operations(page, operations);
    }

    /// Adds a named resource of a page, such as a font.
    #[track_caller]
    pub fn resource(&mut self, page: usize, kind: &str, key: &str, value: Object) {
        let page = self.page(page);
        let mut resources = self.resolved(page, b"Resources");
        let mut of_kind = match resources.get(kind.as_bytes()) {
            Ok(Object::Reference(id)) => {
                self.document.get_dictionary(*id).unwrap().clone()
            }
            Ok(Object::Dictionary(found)) => found.clone(),
            _ => Dictionary::new(),
        };
        of_kind.set(key, value);
        resources.set(kind, of_kind);
        self.dictionary(page).set("Resources", resources);
    }

    /// A dictionary that an object has, or refers to, under `key`.
    #[track_caller]
    pub fn resolved(&self, id: ObjectId, key: &[u8]) -> Dictionary {
        let entry = self.document.get_dictionary(id).unwrap().get(key).unwrap();
        match entry {
            Object::Reference(id) => self.document.get_dictionary(*id).unwrap().clone(),
            other => other.as_dict().unwrap().clone(),
        }
    }

    /// The object of a named resource of a page.
    #[track_caller]
    pub fn resource_id(&self, page: usize, kind: &str, key: &[u8]) -> ObjectId {
        let resources = self.resolved(self.page(page), b"Resources");
        let of_kind = match resources.get(kind.as_bytes()).unwrap() {
            Object::Reference(id) => self.document.get_dictionary(*id).unwrap().clone(),
            other => other.as_dict().unwrap().clone(),
        };
        of_kind.get(key).unwrap().as_reference().unwrap()
    }

    /// Takes pieces out of a page and puts them at the end of another.
    #[track_caller]
    pub fn carry(&mut self, blocks: &[Block], from: usize, to: usize) {
        let operations = self.operations(from);
        let mut carried: Vec<Operation> = blocks
            .iter()
            .flat_map(|block| operations[block.operators.clone()].to_vec())
            .collect();
        // Each page has its own names for the fonts.
        for operation in &mut carried {
            if operation.operator == "Tf" {
                let key = operation.operands[0].as_name().unwrap().to_vec();
                let font = self.resource_id(from, "Font", &key);
                let odd = format!("Odd{}", font.0);
                self.resource(to, "Font", &odd, font.into());
                operation.operands[0] = name(&odd);
            }
        }
        self.remove(from, blocks);
        let mut there = self.operations(to);
        there.extend(carried);
        self.set_operations(to, there);
    }

    /// For each code of a font what its ToUnicode says.
    #[track_caller]
    pub fn characters(&self, font: ObjectId) -> BTreeMap<u16, String> {
        let map = self.document.get_dictionary(font).unwrap().get(b"ToUnicode").unwrap();
        let map = self.document.get_object(map.as_reference().unwrap()).unwrap();
        let text = map.as_stream().unwrap().get_plain_content().unwrap();
        let text = String::from_utf8(text).unwrap();
        assert!(!text.contains("beginbfrange"), "ranges are not read here");
        let mut out = BTreeMap::new();
        for part in text.split("beginbfchar").skip(1) {
            let part = part.split("endbfchar").next().unwrap();
            let words: Vec<&str> =
                part.split(['<', '>']).map(str::trim).filter(|w| !w.is_empty()).collect();
            for pair in words.chunks(2) {
                let code = u16::from_str_radix(pair[0], 16).unwrap();
                let units: Vec<u16> = pair[1]
                    .as_bytes()
                    .chunks(4)
                    .map(|four| std::str::from_utf8(four).unwrap())
                    .map(|four| u16::from_str_radix(four, 16).unwrap())
                    .collect();
                out.insert(code, String::from_utf16(&units).unwrap());
            }
        }
        out
    }

    /// Puts another ToUnicode into a font.
    pub fn set_characters(&mut self, font: ObjectId, map: &BTreeMap<u16, String>) {
        let mut text = String::from(
            "/CIDInit /ProcSet findresource begin 12 dict begin begincmap\n\
             /CMapName /Changed def /CMapType 2 def\n\
             1 begincodespacerange <0000> <ffff> endcodespacerange\n",
        );
        for (code, stands_for) in map {
            let units: String =
                stands_for.encode_utf16().map(|unit| format!("{unit:04x}")).collect();
            text += &format!("1 beginbfchar <{code:04x}> <{units}> endbfchar\n");
        }
        text += "endcmap CMapName currentdict /CMap defineresource pop end end\n";
        let stream = Stream::new(Dictionary::new(), text.into_bytes());
        let stream = self.document.add_object(stream);
        self.dictionary(font).set("ToUnicode", stream);
    }

    /// Every glyph of a page's content stream, in its order.
    #[track_caller]
    pub fn glyphs(&self, page: usize) -> Vec<Placed> {
        let mut fonts: BTreeMap<Vec<u8>, (ObjectId, BTreeMap<u16, String>)> =
            BTreeMap::new();
        let mut font = None;
        let mut out = Vec::new();
        for (at, operation) in self.operations(page).iter().enumerate() {
            match operation.operator.as_str() {
                "Tf" => {
                    let key = operation.operands[0].as_name().unwrap().to_vec();
                    let entry = fonts.entry(key.clone()).or_insert_with(|| {
                        let id = self.resource_id(page, "Font", &key);
                        (id, self.characters(id))
                    });
                    font = Some(entry.clone());
                }
                "Tj" | "TJ" => {
                    let (id, characters) = font.as_ref().unwrap();
                    for (string, bytes) in strings(operation).iter().enumerate() {
                        for byte in (0..bytes.len()).step_by(2) {
                            let code = u16::from_be_bytes([bytes[byte], bytes[byte + 1]]);
                            let text = characters[&code].replace('\u{A0}', " ");
                            let font = *id;
                            let operator = at;
                            out.push(Placed { operator, string, byte, code, font, text });
                        }
                    }
                }
                _ => {}
            }
        }
        out
    }

    /// The text of a page as its content stream has it.
    pub fn text(&self, page: usize) -> String {
        self.glyphs(page).into_iter().map(|glyph| glyph.text).collect()
    }

    /// The first place of `text` on a page. A line's end leaves no space.
    #[track_caller]
    pub fn find(&self, page: usize, text: &str) -> Found {
        self.find_after(page, "", text)
    }

    /// The first place of `text` on a page behind the first place of `anchor`.
    #[track_caller]
    pub fn find_after(&self, page: usize, anchor: &str, text: &str) -> Found {
        let glyphs = self.glyphs(page);
        let whole: String = glyphs.iter().map(|glyph| glyph.text.as_str()).collect();
        let Some(anchored) = whole.find(anchor).map(|at| at + anchor.len()) else {
            panic!("no \"{anchor}\" on page {page}: {whole}");
        };
        let Some(start) = whole[anchored..].find(text).map(|at| at + anchored) else {
            panic!("no \"{text}\" behind \"{anchor}\" on page {page}: {whole}");
        };
        let mut at = 0;
        let glyphs = glyphs
            .into_iter()
            .filter(|glyph| {
                let here = (start..start + text.len()).contains(&at);
                at += glyph.text.len();
                here
            })
            .collect();
        Found { page, glyphs }
    }

    /// Prints `with`, which may be shorter, where `text` stands behind `anchor`.
    #[track_caller]
    pub fn retype(&mut self, page: usize, anchor: &str, text: &str, with: &str) {
        let found = self.find_after(page, anchor, text);
        let with: Vec<String> = with.chars().map(String::from).collect();
        assert!(found.glyphs.len() >= with.len(), "more glyphs than there were");
        let changes: Vec<(Placed, Option<u16>)> = found
            .glyphs
            .iter()
            .enumerate()
            .map(|(index, glyph)| {
                let code = with.get(index).map(|with| match glyph.text == *with {
                    true => glyph.code,
                    false => self.code(glyph, with),
                });
                (glyph.clone(), code)
            })
            .collect();
        self.set_codes(page, &changes);
    }

    /// The code of a character in the font of `like`. Of two it takes the one of
    /// a glyph that the font's widths say is as wide.
    #[track_caller]
    pub fn code(&self, like: &Placed, character: &str) -> u16 {
        let map = self.characters(like.font);
        let codes: Vec<u16> = map
            .iter()
            .filter(|(_, text)| text.replace('\u{A0}', " ") == character)
            .map(|(code, _)| *code)
            .collect();
        let width = self.width(like.font, like.code);
        let same = codes.iter().find(|code| self.width(like.font, **code) == width);
        let held: String = map.values().map(String::as_str).collect();
        *same
            .or(codes.first())
            .unwrap_or_else(|| panic!("the font has no \"{character}\", only {held}"))
    }

    /// Advance of a code in thousandths of the font's size.
    pub fn width(&self, font: ObjectId, code: u16) -> f32 {
        let descendant = self.descendant(font);
        let widths = self.document.get_dictionary(descendant).unwrap().get(b"W").unwrap();
        let widths = match widths {
            Object::Reference(id) => self.document.get_object(*id).unwrap(),
            other => other,
        };
        let items = widths.as_array().unwrap();
        let mut index = 0;
        while index < items.len() {
            let first = items[index].as_i64().unwrap();
            if let Ok(list) = items[index + 1].as_array() {
                let offset = i64::from(code) - first;
                if let Some(width) =
                    usize::try_from(offset).ok().and_then(|o| list.get(o))
                {
                    return width.as_float().unwrap();
                }
                index += 2;
            } else {
                let last = items[index + 1].as_i64().unwrap();
                if (first..=last).contains(&i64::from(code)) {
                    return items[index + 2].as_float().unwrap();
                }
                index += 3;
            }
        }
        0.0
    }

    /// The CIDFont of a composite font.
    #[track_caller]
    pub fn descendant(&self, font: ObjectId) -> ObjectId {
        let list = self.document.get_dictionary(font).unwrap().get(b"DescendantFonts");
        let list = match list.unwrap() {
            Object::Reference(id) => self.document.get_object(*id).unwrap(),
            other => other,
        };
        list.as_array().unwrap()[0].as_reference().unwrap()
    }

    /// Takes the glyphs of a text out of its operators.
    #[track_caller]
    pub fn erase(&mut self, found: &Found) {
        let gone: Vec<_> =
            found.glyphs.iter().map(|glyph| (glyph.clone(), None)).collect();
        self.set_codes(found.page, &gone);
    }

    /// Puts another code, or none, in the place of some glyphs, which are in the
    /// order of the page.
    #[track_caller]
    pub fn set_codes(&mut self, page: usize, changes: &[(Placed, Option<u16>)]) {
        assert!(!changes.is_empty(), "nothing to change");
        let mut operations = self.operations(page);
        // From the end, so that the places before stay.
        for (glyph, code) in changes.iter().rev() {
            put(&mut operations[glyph.operator], glyph, *code);
        }
        self.set_operations(page, operations);
    }

    /// The pieces of a page that leave ink.
    #[track_caller]
    pub fn blocks(&self, page: usize) -> Vec<Block> {
        blocks(&self.operations(page), self.height(page))
    }

    /// The height of a page in points.
    fn height(&self, page: usize) -> f64 {
        let page = self.document.get_dictionary(self.page(page)).unwrap();
        let media = page.get(b"MediaBox").unwrap().as_array().unwrap();
        f64::from(media[3].as_float().unwrap())
    }

    /// A place in millimetres from the upper left corner of a page, in points from its
    /// lower left.
    #[track_caller]
    pub fn points(&self, page: usize, (x, y): (f64, f64)) -> (f64, f64) {
        (x * PT_PER_MM, self.height(page) - y * PT_PER_MM)
    }

    /// The object that `id` refers to under `key`.
    #[track_caller]
    pub fn under(&mut self, id: ObjectId, key: &str) -> ObjectId {
        self.dictionary(id).get(key.as_bytes()).unwrap().as_reference().unwrap()
    }

    /// The values of two objects under `key` change places.
    #[track_caller]
    pub fn exchange_entries(&mut self, key: &str, one: ObjectId, other: ObjectId) {
        let mut value = |id| self.dictionary(id).get(key.as_bytes()).unwrap().clone();
        let (first, second) = (value(one), value(other));
        self.dictionary(one).set(key, second);
        self.dictionary(other).set(key, first);
    }

    /// The pieces that print a text, each once.
    #[track_caller]
    pub fn blocks_of(&self, found: &Found) -> Vec<Block> {
        let mut blocks = self.blocks(found.page);
        blocks.retain(|block| {
            found.glyphs.iter().any(|glyph| block.operators.contains(&glyph.operator))
        });
        assert!(!blocks.is_empty());
        blocks
    }

    /// Puts operators at the beginning of some pieces of a page, where the axes
    /// are still the page's own, and others at their end.
    #[track_caller]
    pub fn wrap(&mut self, page: usize, blocks: &[Block], begin: &str, end: &str) {
        assert!(!blocks.is_empty(), "nothing to change");
        let decode = |text: &str| Content::decode(text.as_bytes()).unwrap().operations;
        let mut operations = self.operations(page);
        for block in blocks.iter().rev() {
            let Range { start, end: last } = block.operators;
            operations.splice(last - 1..last - 1, decode(end));
            operations.splice(start + 1..start + 1, decode(begin));
        }
        self.set_operations(page, operations);
    }

    /// Takes pieces out of a page.
    #[track_caller]
    pub fn remove(&mut self, page: usize, blocks: &[Block]) {
        assert!(!blocks.is_empty(), "nothing to take out");
        let mut operations = self.operations(page);
        for block in blocks.iter().rev() {
            operations.drain(block.operators.clone());
        }
        self.set_operations(page, operations);
    }

    /// Draws a piece once more, after itself.
    #[track_caller]
    pub fn repeat(&mut self, page: usize, block: &Block) {
        let mut operations = self.operations(page);
        let again = operations[block.operators.clone()].to_vec();
        operations.splice(block.operators.end..block.operators.end, again);
        self.set_operations(page, operations);
    }

    /// Puts operators right before the one that leaves ink.
    #[track_caller]
    pub fn before_paint(&mut self, page: usize, block: &Block, text: &str) {
        let mut operations = self.operations(page);
        // A path comes between its first point and its ink, where nothing may be set.
        let begins =
            |at: &usize| ["re", "m"].contains(&operations[*at].operator.as_str());
        let at = block.operators.clone().find(begins).unwrap();
        operations.splice(at..at, Content::decode(text.as_bytes()).unwrap().operations);
        self.set_operations(page, operations);
    }

    /// Draws two pieces each in the place of the other: their matrices change
    /// places, and their order in the content stream stays.
    #[track_caller]
    pub fn exchange_places(&mut self, one: &Found, other: &Found) {
        assert_eq!(one.page, other.page);
        let page = one.page;
        let (one, other) = (self.blocks_of(one), self.blocks_of(other));
        let ([one], [other]) = (&one[..], &other[..]) else {
            panic!("a text of several pieces");
        };
        let mut operations = self.operations(page);
        for operator in ["cm", "Tm"] {
            let at = |block: &Block, operations: &[Operation]| {
                block.operators.clone().find(|at| operations[*at].operator == operator)
            };
            match (at(one, &operations), at(other, &operations)) {
                (Some(one), Some(other)) => {
                    let operands = operations[one].operands.clone();
                    operations[one].operands = operations[other].operands.clone();
                    operations[other].operands = operands;
                }
                (None, None) => {}
                _ => panic!("one of them has no {operator}"),
            }
        }
        self.set_operations(page, operations);
    }

    /// Moves pieces by millimetres, to the right and down.
    #[track_caller]
    pub fn shift(&mut self, page: usize, blocks: &[Block], right: f64, down: f64) {
        let (x, y) = (right * PT_PER_MM, -down * PT_PER_MM);
        self.wrap(page, blocks, &format!("1 0 0 1 {x} {y} cm"), "");
    }

    /// Turns, scales or mirrors pieces about a point of the page, in millimetres
    /// from its upper left corner. The matrix is one of a y axis that goes up.
    #[track_caller]
    pub fn distort(
        &mut self,
        page: usize,
        blocks: &[Block],
        about: (f64, f64),
        matrix: [f64; 4],
    ) {
        let (x, y) = self.points(page, about);
        let [a, b, c, d] = matrix;
        let (e, f) = (x - a * x - c * y, y - b * x - d * y);
        self.wrap(page, blocks, &format!("{a} {b} {c} {d} {e} {f} cm"), "");
    }

    /// The pages are those of `numbers`, in that order; where one comes again it is
    /// a copy.
    #[track_caller]
    pub fn arrange(&mut self, numbers: &[usize]) {
        let mut kids: Vec<Object> = Vec::new();
        for number in numbers {
            let page = self.page(*number);
            let again = kids.contains(&page.into());
            let copy = |pdf: &mut Self| {
                let page = pdf.document.get_object(page).unwrap().clone();
                pdf.document.add_object(page)
            };
            kids.push(if again { copy(self) } else { page }.into());
        }
        self.set_pages(kids);
    }

    /// The page tree has these leaves.
    #[track_caller]
    pub fn set_pages(&mut self, kids: Vec<Object>) {
        let root = self.catalog().get(b"Pages").unwrap().as_reference().unwrap();
        for kid in &kids {
            let page = self.dictionary(kid.as_reference().unwrap());
            assert!(page.has(b"MediaBox") && page.has(b"Resources"));
            page.set("Parent", root);
        }
        let root = self.dictionary(root);
        root.set("Count", kids.len() as i64);
        root.set("Kids", kids);
    }

    pub fn page_count(&self) -> usize {
        self.document.page_iter().count()
    }

    /// The stream of a picture that a page draws, unpacked.
    #[track_caller]
    pub fn picture(&mut self, page: usize, block: &Block) -> (ObjectId, Vec<u8>) {
        let key = block.picture.as_ref().unwrap();
        let id = self.resource_id(page, "XObject", key);
        let stream = self.document.get_object(id).unwrap().as_stream().unwrap();
        (id, stream.get_plain_content().unwrap())
    }

    #[track_caller]
    pub fn set_stream(&mut self, id: ObjectId, bytes: Vec<u8>) {
        let stream = self.document.get_object_mut(id).unwrap().as_stream_mut().unwrap();
        stream.set_plain_content(bytes);
    }
}

/// The strings that a text operator shows.
fn strings(operation: &Operation) -> Vec<&[u8]> {
    match &operation.operands[0] {
        Object::Array(items) => {
            items.iter().filter_map(|item| item.as_str().ok()).collect()
        }
        one => vec![one.as_str().unwrap()],
    }
}

/// Puts a code, or nothing, in the place of a glyph.
fn put(operation: &mut Operation, glyph: &Placed, code: Option<u16>) {
    let string = match &mut operation.operands[0] {
        Object::Array(items) => {
            let mut strings = items.iter_mut().filter_map(|item| item.as_str_mut().ok());
            strings.nth(glyph.string).unwrap()
        }
        one => one.as_str_mut().unwrap(),
    };
    let with = code.map(u16::to_be_bytes);
    let with = with.as_ref().map_or(&[][..], |bytes| &bytes[..]);
    string.splice(glyph.byte..glyph.byte + 2, with.iter().copied());
}

/// The innermost pieces between `q` and `Q` that leave ink, each with its place.
fn blocks(operations: &[Operation], height: f64) -> Vec<Block> {
    let mut out = Vec::new();
    let mut open: Vec<(usize, [f64; 6], bool)> = Vec::new();
    for (at, operation) in operations.iter().enumerate() {
        match operation.operator.as_str() {
            "q" => {
                let matrix = open.last().map_or([1.0, 0.0, 0.0, 1.0, 0.0, 0.0], |o| o.1);
                open.push((at, matrix, false));
            }
            "cm" => {
                if let Some((_, matrix, _)) = open.last_mut() {
                    *matrix = times(&numbers(operation), matrix);
                }
            }
            "Q" => {
                let (start, matrix, paints) = open.pop().unwrap();
                if paints {
                    out.push(block(operations, start..at + 1, &matrix, height));
                }
            }
            paint if PAINTS.contains(&paint) => {
                if let Some((_, _, paints)) = open.last_mut() {
                    *paints = true;
                }
            }
            _ => {}
        }
    }
    out
}

fn block(
    operations: &[Operation],
    range: Range<usize>,
    matrix: &[f64; 6],
    height: f64,
) -> Block {
    let inside = &operations[range.clone()];
    let of = |wanted: &[&str]| {
        inside.iter().find(|operation| wanted.contains(&operation.operator.as_str()))
    };
    let picture = of(&["Do"]).map(|it| it.operands[0].as_name().unwrap().to_vec());
    let text = of(&["Tm"]);
    let (x, y) = match (text, of(&["m", "re"])) {
        (Some(text), _) => {
            let [.., x, y] = numbers(text);
            (x, y)
        }
        (None, Some(path)) => {
            let place = path.operands.iter().map(|it| f64::from(it.as_float().unwrap()));
            let place: Vec<f64> = place.collect();
            (place[0], place[1])
        }
        (None, None) => (0.5, 0.5),
    };
    let [a, b, c, d, e, f] = matrix;
    let (x, y) = (a * x + c * y + e, b * x + d * y + f);
    Block {
        operators: range,
        origin: (x / PT_PER_MM, (height - y) / PT_PER_MM),
        is_text: text.is_some(),
        picture,
    }
}

fn numbers(operation: &Operation) -> [f64; 6] {
    std::array::from_fn(|index| f64::from(operation.operands[index].as_float().unwrap()))
}

/// The matrix that does `first`, then `then`.
fn times(first: &[f64; 6], then: &[f64; 6]) -> [f64; 6] {
    let [a, b, c, d, e, f] = first;
    let [g, h, i, j, k, l] = then;
    [
        a * g + b * i,
        a * h + b * j,
        c * g + d * i,
        c * h + d * j,
        e * g + f * i + k,
        e * h + f * j + l,
    ]
}
