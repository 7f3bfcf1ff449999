//! Lets a PDF through to the reader of pages only if it is built as ours are.
//!
//! A PDF can hold far more than paper needs: programs, forms, notes, layers,
//! fonts that are drawings, images that unpack to gigabytes. Each of these could
//! make what is read differ from what is printed, or keep the reader busy for
//! ever. None of them is in a file of ours, so whatever is not known to be is
//! refused: keys are allowed by name, and sizes and counts are bounded before
//! anything is unpacked or drawn.

use std::collections::{HashMap, HashSet};

use super::content::{self, Count};
use super::file::{Dict, File, Object, Value};
use super::{Difference, read};

/// The most bytes that any one stream may unpack to.
const MOST_OF_ONE: usize = 16 * 1024 * 1024;

/// The most bytes that all streams of a file may unpack to: for each byte of it,
/// beside, and in all. Ours come to one for each byte, and to eight in a large run.
const MOST_A_BYTE: usize = 16;
const MOST_BESIDE: usize = 4 * 1024 * 1024;
const MOST_OF_ALL: usize = 256 * 1024 * 1024;

/// The most operators of one page, drawn objects included; a full one has 2,000.
const MOST_A_PAGE: usize = 200_000;

/// The most operators, and bytes of text, of all pages.
const MOST_OPERATORS: usize = 10_000_000;
const MOST_TEXT: usize = 16 * 1024 * 1024;

/// How deep pages, and drawn objects, may lie in each other.
const DEEPEST: usize = 8;

/// The most characters of a font.
const MOST_CHARACTERS: usize = 65_536;

/// Keys that each kind of dictionary may have. What a logo may need beside is in
/// the second list.
struct Keys(&'static [&'static str], &'static [&'static str]);

const CATALOG: Keys = Keys(
    &[
        "AF",
        "Lang",
        "MarkInfo",
        "Metadata",
        "Names",
        "Outlines",
        "OutputIntents",
        "Pages",
        "StructTreeRoot",
        "Type",
        "ViewerPreferences",
    ],
    &[],
);
const NAMES: Keys = Keys(&["EmbeddedFiles"], &[]);
const PAGES: Keys = Keys(&["Count", "Kids", "Parent", "Type"], &[]);
const PAGE: Keys = Keys(
    &["Contents", "MediaBox", "Parent", "Resources", "StructParents", "Tabs", "Type"],
    &["Group"],
);
const RESOURCES: Keys = Keys(
    &["ColorSpace", "ExtGState", "Font", "ProcSet", "XObject"],
    &["Pattern", "Shading"],
);
const FONT: Keys = Keys(
    &["BaseFont", "DescendantFonts", "Encoding", "Subtype", "ToUnicode", "Type"],
    &[],
);
const DESCENDANT: Keys = Keys(
    &[
        "BaseFont",
        "CIDSystemInfo",
        "CIDToGIDMap",
        "DW",
        "FontDescriptor",
        "Subtype",
        "Type",
        "W",
    ],
    &[],
);
const IMAGE: Keys = Keys(
    &[
        "BitsPerComponent",
        "ColorSpace",
        "Filter",
        "Height",
        "Length",
        "Subtype",
        "Type",
        "Width",
    ],
    &["Decode", "Interpolate", "SMask"],
);
const FORM: Keys = Keys(
    &["BBox", "Filter", "FormType", "Length", "Matrix", "Resources", "Subtype", "Type"],
    &["Group"],
);
const STATE: Keys = Keys(&["BM", "CA", "SMask", "Type", "ca"], &["AIS"]);
const SOFT_MASK: Keys = Keys(&["BC", "G", "S", "Type"], &[]);
const PATTERN: Keys = Keys(&["Matrix", "PatternType", "Shading", "Type"], &[]);
const SHADING: Keys = Keys(
    &["AntiAlias", "BBox", "ColorSpace", "Coords", "Domain", "Extend", "Function"],
    &["ShadingType"],
);
const FUNCTION: Keys = Keys(
    &["Bounds", "C0", "C1", "Domain", "Encode", "FunctionType", "Functions", "N"],
    &["Range"],
);

/// Goes through a file; `may_have_logo` says whether its pages can bear drawings
/// that are not ours.
///
/// # Errors
///
/// Everything that keeps the pages from being read, with its page.
pub(super) fn check(file: &File, may_have_logo: bool) -> Result<(), Vec<Difference>> {
    let mut gate = Gate {
        file,
        may_have_logo,
        found: Vec::new(),
        left: MOST_OF_ALL.min(file.size() * MOST_A_BYTE + MOST_BESIDE),
        operators: MOST_OPERATORS,
        text: MOST_TEXT,
        pages_seen: HashSet::new(),
        fonts: HashSet::new(),
        forms: HashMap::new(),
        unpacked: HashMap::new(),
    };
    if let Err(why) = gate.document() {
        gate.found.push(Difference::new(0, why));
    }
    if gate.found.is_empty() { Ok(()) } else { Err(gate.found) }
}

struct Gate<'f, 'a> {
    file: &'f File<'a>,
    may_have_logo: bool,
    found: Vec<Difference>,
    /// Bytes that may still be unpacked.
    left: usize,
    /// Operators and bytes of text that may still be drawn.
    operators: usize,
    text: usize,
    pages_seen: HashSet<usize>,
    /// Fonts that are sound.
    fonts: HashSet<usize>,
    /// What drawing a form comes to; `None` while it is being looked at.
    forms: HashMap<usize, Option<Count>>,
    /// Sizes of streams that were unpacked.
    unpacked: HashMap<usize, usize>,
}

/// Why something is refused.
type Refused = String;

impl<'a> Gate<'_, 'a> {
    fn document(&mut self) -> Result<(), Refused> {
        let catalog = self.file.catalog()?;
        self.keys(&catalog, &CATALOG, "the file")?;
        if let Some(names) = self.file.dict(&catalog, "Names")? {
            self.keys(&names, &NAMES, "the file")?;
        }
        let mut pages = Vec::new();
        let root = catalog.get("Pages").ok_or("the file has no pages")?;
        self.pages(root, 0, &mut pages)?;
        for (number, page) in (1..).zip(pages) {
            if let Err(why) = self.page(&page) {
                self.found.push(Difference::new(number, why));
            }
        }
        Ok(())
    }

    /// That `dict` has no key but those of `keys`.
    fn keys(&self, dict: &Dict, keys: &Keys, what: &str) -> Result<(), Refused> {
        let is_allowed = |key: &[u8]| {
            let more = if self.may_have_logo { keys.1 } else { &[] };
            keys.0.iter().chain(more).any(|allowed| allowed.as_bytes() == key)
        };
        match dict.entries().find(|(key, _)| !is_allowed(key)) {
            None => Ok(()),
            Some((key, _)) => {
                let key: String = String::from_utf8_lossy(key).chars().take(40).collect();
                Err(format!("{what} has /{}, as none of ours has", key.escape_debug()))
            }
        }
    }

    /// The pages of a tree, in their order. Nothing stands in it twice.
    fn pages(
        &mut self,
        node: &Value<'a>,
        depth: usize,
        pages: &mut Vec<Dict<'a>>,
    ) -> Result<(), Refused> {
        if depth > DEEPEST {
            return Err(format!("its pages lie more than {DEEPEST} deep in each other"));
        }
        let Value::Ref(number) = node else {
            return Err("a page is no reference".to_owned());
        };
        if !self.pages_seen.insert(*number) {
            return Err("a page, or a list of pages, stands there twice".to_owned());
        }
        let Value::Dict(node) = self.file.resolve(node)? else {
            return Err("a page is no dictionary".to_owned());
        };
        if !node.is("Type", "Pages") {
            if pages.len() == read::MOST_PAGES {
                let most = read::MOST_PAGES;
                return Err(format!("the PDF has more than {most} pages"));
            }
            pages.push(node);
            return Ok(());
        }
        self.keys(&node, &PAGES, "the list of pages")?;
        let Some(Value::Array(kids)) = node.get("Kids") else {
            return Err("the list of pages has no /Kids".to_owned());
        };
        kids.iter().try_for_each(|kid| self.pages(kid, depth + 1, pages))
    }

    fn page(&mut self, page: &Dict<'a>) -> Result<(), Refused> {
        if !page.is("Type", "Page") {
            return Err("the page is of another type".to_owned());
        }
        self.keys(page, &PAGE, "the page")?;
        let Some(Value::Ref(contents)) = page.get("Contents") else {
            return match page.get("Contents") {
                Some(Value::Array(parts)) => self.drawn_in_parts(page, parts),
                _ => Err("the page has no /Contents".to_owned()),
            };
        };
        let count = self.content(*contents)?;
        self.drawn(page, count)
    }

    /// A page whose operators stand in several streams, none of which ends within
    /// an operand.
    fn drawn_in_parts(
        &mut self,
        page: &Dict<'a>,
        parts: &[Value<'a>],
    ) -> Result<(), Refused> {
        let mut sum = Count::default();
        for part in parts {
            let Value::Ref(number) = part else {
                return Err("a part of the page is no reference".to_owned());
            };
            sum = sum.and(self.content(*number)?, 1);
        }
        self.drawn(page, sum)
    }

    /// That a page which does what `count` says may be drawn.
    fn drawn(&mut self, page: &Dict<'a>, count: Count) -> Result<(), Refused> {
        let count = match self.file.dict(page, "Resources")? {
            Some(resources) => self.with_resources(&resources, count, 0)?,
            None => count,
        };
        if count.operators > MOST_A_PAGE {
            return Err(format!("the page has more than {MOST_A_PAGE} operators"));
        }
        let left = self.operators.checked_sub(count.operators);
        self.operators = left.ok_or("the pages have too many operators")?;
        let left = self.text.checked_sub(count.text);
        self.text = left.ok_or("the pages have too much text")?;
        Ok(())
    }

    /// What a stream of operators does by itself.
    fn content(&mut self, number: usize) -> Result<Count, Refused> {
        let object = self.file.object(number)?;
        let bytes = self.stream(number, &object, "its drawing")?;
        content::count(&bytes).map_err(|why| format!("its drawing {why}"))
    }

    /// The bytes of a stream, unpacked.
    fn stream(
        &mut self,
        number: usize,
        object: &Object<'a>,
        what: &str,
    ) -> Result<std::borrow::Cow<'a, [u8]>, Refused> {
        let most = self.left.min(MOST_OF_ONE);
        let bytes = object.unpacked(most).map_err(|why| format!("{what} {why}"))?;
        // Drawn again, it is unpacked again.
        self.left -= bytes.len();
        self.unpacked.insert(number, bytes.len());
        Ok(bytes)
    }

    /// As [`Gate::stream`], for what is only unpacked and not looked at here; once.
    fn unpacks(&mut self, value: Option<&Value<'a>>, what: &str) -> Result<(), Refused> {
        let Some(Value::Ref(number)) = value else {
            return Err(format!("{what} is not there"));
        };
        if !self.unpacked.contains_key(number) {
            let object = self.file.object(*number)?;
            self.stream(*number, &object, what)?;
        }
        Ok(())
    }

    /// What `count` comes to with everything that it draws of `resources`.
    fn with_resources(
        &mut self,
        resources: &Dict<'a>,
        count: Count,
        depth: usize,
    ) -> Result<Count, Refused> {
        self.keys(resources, &RESOURCES, "its resources")?;
        for (_, font) in self.entries(resources, "Font")? {
            self.font(&font)?;
        }
        for (_, space) in self.entries(resources, "ColorSpace")? {
            self.color_space(&space)?;
        }
        for (_, state) in self.entries(resources, "ExtGState")? {
            self.state(&state, depth)?;
        }
        for (_, pattern) in self.entries(resources, "Pattern")? {
            self.pattern(&pattern)?;
        }
        for (_, shading) in self.entries(resources, "Shading")? {
            self.shading(&shading)?;
        }
        // Whichever it draws, it is the one that does most.
        let mut most = Count::default();
        for (_, object) in self.entries(resources, "XObject")? {
            most = most.most(self.drawn_object(&object, depth)?);
        }
        Ok(count.and(most, count.draws))
    }

    /// The entries of a dictionary of resources, as they stand there.
    fn entries(
        &self,
        resources: &Dict<'a>,
        key: &str,
    ) -> Result<Vec<(Vec<u8>, Value<'a>)>, Refused> {
        let Some(dict) = self.file.dict(resources, key)? else { return Ok(Vec::new()) };
        Ok(dict.entries().map(|(key, value)| (key.to_vec(), value.clone())).collect())
    }

    /// A font: composite, embedded, with the characters it stands for.
    fn font(&mut self, value: &Value<'a>) -> Result<(), Refused> {
        let Value::Ref(number) = value else {
            return Err("a font is no reference".to_owned());
        };
        if self.fonts.contains(number) {
            return Ok(());
        }
        let object = self.file.object(*number)?;
        let font = object.dict().ok_or("a font is no dictionary")?;
        let name = match font.get("BaseFont") {
            Some(Value::Name(name)) => String::from_utf8_lossy(name).into_owned(),
            _ => "of a page".to_owned(),
        };
        let name = format!("the font {}", name.escape_debug());
        if !font.is("Subtype", "Type0") || !font.is("Encoding", "Identity-H") {
            return Err(format!("{name} is not embedded as ours are"));
        }
        self.keys(font, &FONT, &name)?;
        self.unpacks(font.get("ToUnicode"), &format!("the /ToUnicode of {name}"))?;
        let Some(Value::Array(fonts)) = font.get("DescendantFonts") else {
            return Err(format!("{name} is not embedded"));
        };
        let [font] = &fonts[..] else {
            return Err(format!("{name} is not embedded"));
        };
        let Value::Dict(font) = self.file.resolve(font)? else {
            return Err(format!("{name} is not embedded"));
        };
        self.keys(&font, &DESCENDANT, &name)?;
        if !font.is("Subtype", "CIDFontType2") && !font.is("Subtype", "CIDFontType0") {
            return Err(format!("{name} is not embedded as ours are"));
        }
        if font.get("CIDToGIDMap").is_some() && !font.is("CIDToGIDMap", "Identity") {
            return Err(format!("{name} has a map of its own for its glyphs"));
        }
        self.widths(&font).map_err(|why| format!("{name} {why}"))?;
        let descriptor = self.file.dict(&font, "FontDescriptor")?.unwrap_or_default();
        let program = descriptor.get("FontFile2").or(descriptor.get("FontFile3"));
        if program.is_none() {
            return Err(format!("{name} is not embedded"));
        }
        self.unpacks(program, &name)?;
        self.fonts.insert(*number);
        Ok(())
    }

    /// The widths of a font: runs of three figures, or of one and a list. A reader
    /// that believes a run of all four thousand million numbers fills its memory.
    fn widths(&self, font: &Dict<'a>) -> Result<(), Refused> {
        let widths = match font.get("W").map(|value| self.file.resolve(value)) {
            None => return Ok(()),
            Some(Ok(Value::Array(widths))) => widths,
            Some(_) => return Err("has no list of widths".to_owned()),
        };
        let mut values = widths.iter();
        let mut characters = 0;
        while let Some(first) = values.next() {
            let run = match (first, values.next()) {
                (Value::Number(_), Some(Value::Array(list))) => list.len() as f64,
                (Value::Number(first), Some(Value::Number(last))) => {
                    values.next();
                    last - first + 1.0
                }
                _ => return Err("has widths that cannot be read".to_owned()),
            };
            if !(0.0..=MOST_CHARACTERS as f64).contains(&run) {
                return Err(format!("has widths of more than {MOST_CHARACTERS} glyphs"));
            }
            characters += run as usize;
        }
        if characters > 2 * MOST_CHARACTERS {
            return Err(format!("has widths of more than {MOST_CHARACTERS} glyphs"));
        }
        Ok(())
    }

    /// A colour: of the device, or with a profile.
    fn color_space(&mut self, value: &Value<'a>) -> Result<(), Refused> {
        match self.file.resolve(value)? {
            Value::Name(name) if name.starts_with(b"Device") => Ok(()),
            Value::Array(parts) => match &parts[..] {
                [Value::Name(name), profile] if **name == *b"ICCBased" => {
                    self.unpacks(Some(profile), "the profile of a colour")
                }
                _ => Err("a colour is of a kind that ours are not".to_owned()),
            },
            _ => Err("a colour is of a kind that ours are not".to_owned()),
        }
    }

    /// A graphics state: opaque, unless it may be a logo's.
    fn state(&mut self, value: &Value<'a>, depth: usize) -> Result<(), Refused> {
        let Value::Dict(state) = self.file.resolve(value)? else {
            return Err("a graphics state is no dictionary".to_owned());
        };
        self.keys(&state, &STATE, "a graphics state")?;
        if self.may_have_logo {
            return self.soft_mask(&state, depth);
        }
        for (key, value) in state.entries() {
            let is_plain = match (key, value) {
                (b"Type", _) => true,
                (b"CA" | b"ca", Value::Number(alpha)) => *alpha == 1.0,
                (b"BM", Value::Name(mode)) => **mode == *b"Normal",
                (b"SMask", Value::Name(mask)) => **mask == *b"None",
                _ => false,
            };
            if !is_plain {
                let key = String::from_utf8_lossy(key);
                return Err(format!("it is drawn with /{key}, and not opaque"));
            }
        }
        Ok(())
    }

    /// What a part of a logo is seen through.
    fn soft_mask(&mut self, state: &Dict<'a>, depth: usize) -> Result<(), Refused> {
        let Some(mask) = state.get("SMask") else { return Ok(()) };
        match self.file.resolve(mask)? {
            Value::Name(_) => Ok(()),
            Value::Dict(mask) => {
                self.keys(&mask, &SOFT_MASK, "a mask")?;
                let group = mask.get("G").ok_or("a mask has no form")?;
                self.drawn_object(group, depth).map(|_| ())
            }
            _ => Err("a mask is no dictionary".to_owned()),
        }
    }

    /// What a logo is painted with: a gradient.
    fn pattern(&mut self, value: &Value<'a>) -> Result<(), Refused> {
        let Value::Dict(pattern) = self.file.resolve(value)? else {
            return Err("a pattern is no gradient".to_owned());
        };
        self.keys(&pattern, &PATTERN, "a pattern")?;
        let shading = pattern.get("Shading").ok_or("a pattern is no gradient")?;
        self.shading(shading)
    }

    /// A gradient along a line or between circles.
    fn shading(&mut self, value: &Value<'a>) -> Result<(), Refused> {
        let Value::Dict(shading) = self.file.resolve(value)? else {
            return Err("a gradient is of a kind that ours are not".to_owned());
        };
        self.keys(&shading, &SHADING, "a gradient")?;
        let kind = shading.get("ShadingType");
        if ![2.0, 3.0].iter().any(|known| kind == Some(&Value::Number(*known))) {
            return Err("a gradient is of a kind that ours are not".to_owned());
        }
        if let Some(space) = shading.get("ColorSpace") {
            self.color_space(space)?;
        }
        let function = shading.get("Function").ok_or("a gradient has no colours")?;
        self.function(function, 0)
    }

    /// The colours of a gradient: from one to another, or pieces of such.
    fn function(&self, value: &Value<'a>, depth: usize) -> Result<(), Refused> {
        let Value::Dict(function) = self.file.resolve(value)? else {
            return Err("a gradient has colours that cannot be read".to_owned());
        };
        self.keys(&function, &FUNCTION, "a gradient")?;
        match (function.get("FunctionType"), function.get("Functions")) {
            (Some(Value::Number(2.0)), None) => Ok(()),
            (Some(Value::Number(3.0)), Some(Value::Array(parts))) if depth == 0 => {
                parts.iter().try_for_each(|part| self.function(part, depth + 1))
            }
            _ => Err("a gradient has colours that cannot be read".to_owned()),
        }
    }

    /// An image or a form; what drawing it comes to.
    fn drawn_object(
        &mut self,
        value: &Value<'a>,
        depth: usize,
    ) -> Result<Count, Refused> {
        let Value::Ref(number) = value else {
            return Err("a drawn object is no reference".to_owned());
        };
        let object = self.file.object(*number)?;
        let dict = object.dict().ok_or("a drawn object is no stream")?;
        if dict.is("Subtype", "Image") {
            self.image(*number, &object, dict)?;
            return Ok(Count { operators: 1, ..Count::default() });
        }
        if !dict.is("Subtype", "Form") {
            return Err("a drawn object is neither image nor form".to_owned());
        }
        self.keys(dict, &FORM, "a form")?;
        match self.forms.get(number) {
            Some(Some(count)) => return Ok(*count),
            Some(None) => return Err("a form draws itself".to_owned()),
            None if depth == DEEPEST => {
                return Err(format!("forms lie more than {DEEPEST} deep in each other"));
            }
            None => {}
        }
        self.forms.insert(*number, None);
        let bytes = self.stream(*number, &object, "a form")?;
        let count = content::count(&bytes).map_err(|why| format!("a form {why}"))?;
        let count = match self.file.dict(dict, "Resources")? {
            Some(resources) => self.with_resources(&resources, count, depth + 1)?,
            None if count.draws > 0 => {
                return Err("a form draws with what it does not name".to_owned());
            }
            None => count,
        };
        self.forms.insert(*number, Some(count));
        Ok(count)
    }

    fn image(
        &mut self,
        number: usize,
        object: &Object<'a>,
        image: &Dict<'a>,
    ) -> Result<(), Refused> {
        self.keys(image, &IMAGE, "an image")?;
        if let Some(space) = image.get("ColorSpace") {
            self.color_space(space)?;
        }
        // A photograph in a logo is never unpacked: no code is packed like that.
        if self.may_have_logo && image.is("Filter", "DCTDecode") {
            return Ok(());
        }
        if !self.unpacked.contains_key(&number) {
            self.stream(number, object, "an image")?;
        }
        Ok(())
    }
}

impl Count {
    /// This and `times` that.
    fn and(self, other: Self, times: usize) -> Self {
        let sum =
            |one: usize, other: usize| one.saturating_add(other.saturating_mul(times));
        Self {
            operators: sum(self.operators, other.operators),
            draws: self.draws,
            text: sum(self.text, other.text),
        }
    }

    /// The larger figures of two.
    fn most(self, other: Self) -> Self {
        Self {
            operators: self.operators.max(other.operators),
            draws: self.draws.max(other.draws),
            text: self.text.max(other.text),
        }
    }
}
