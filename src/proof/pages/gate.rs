//! What a PDF of ours may hold: keys by name, and bounds on pages, fonts and colours.

use std::collections::HashSet;

use super::{DEEPEST, Refused};
use crate::proof::file::{Dict, File, Value};

/// The most pages that are read; a file of a run has half of that.
const MOST_PAGES: usize = 4000;

/// The most characters of a font.
const MOST_CHARACTERS: usize = 65_536;

/// Keys that each kind of dictionary may have. What a logo may need beside is in
/// the second list.
pub(super) struct Keys(&'static [&'static str], &'static [&'static str]);

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
pub(super) const PAGE: Keys = Keys(
    &["Contents", "MediaBox", "Parent", "Resources", "StructParents", "Tabs", "Type"],
    &["Group"],
);
pub(super) const RESOURCES: Keys = Keys(
    &["ColorSpace", "ExtGState", "Font", "ProcSet", "XObject"],
    &["Pattern", "Shading"],
);
pub(super) const FONT: Keys = Keys(
    &["BaseFont", "DescendantFonts", "Encoding", "Subtype", "ToUnicode", "Type"],
    &[],
);
pub(super) const DESCENDANT: Keys = Keys(
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
pub(super) const IMAGE: Keys = Keys(
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
pub(super) const FORM: Keys = Keys(
    &["BBox", "Filter", "FormType", "Length", "Matrix", "Resources", "Subtype", "Type"],
    &["Group"],
);
pub(super) const STATE: Keys = Keys(&["BM", "CA", "SMask", "Type", "ca"], &["AIS"]);
pub(super) const SOFT_MASK: Keys = Keys(&["BC", "G", "S", "Type"], &[]);
const PATTERN: Keys = Keys(&["Matrix", "PatternType", "Shading", "Type"], &[]);
const SHADING: Keys = Keys(
    &["AntiAlias", "BBox", "ColorSpace", "Coords", "Domain", "Extend", "Function"],
    &["ShadingType"],
);
const FUNCTION: Keys = Keys(
    &["Bounds", "C0", "C1", "Domain", "Encode", "FunctionType", "Functions", "N"],
    &["Range"],
);

/// What is allowed.
pub(super) struct Gate<'f, 'a> {
    pub file: &'f File<'a>,
    pub may_have_logo: bool,
    /// Pages, and lists of them.
    seen: HashSet<usize>,
    /// Number of the page that stands there twice, or 0.
    pub twice: usize,
}

impl<'f, 'a> Gate<'f, 'a> {
    pub fn new(file: &'f File<'a>, may_have_logo: bool) -> Self {
        Self { file, may_have_logo, seen: HashSet::new(), twice: 0 }
    }

    /// The pages in their order, if nothing of the file is refused beside them.
    pub fn pages(&mut self) -> Result<Vec<(usize, Dict<'a>)>, Refused> {
        let catalog = self.file.catalog()?;
        self.keys(&catalog, &CATALOG, "the file")?;
        if let Some(names) = self.file.dict(&catalog, "Names")? {
            self.keys(&names, &NAMES, "the file")?;
        }
        let mut pages = Vec::new();
        let root = catalog.get("Pages").ok_or("the file has no pages")?;
        self.list(root, None, 0, &mut pages)?;
        Ok(pages)
    }

    /// That `dict` has no key but those of `keys`.
    pub fn keys(&self, dict: &Dict, keys: &Keys, what: &str) -> Result<(), Refused> {
        let is_allowed = |key: &[u8]| {
            let more = if self.may_have_logo { keys.1 } else { &[] };
            keys.0.iter().chain(more).any(|allowed| allowed.as_bytes() == key)
        };
        match dict.keys_but(is_allowed).next() {
            None => Ok(()),
            Some(key) => Err(format!("{what} has /{key}, as none of ours has")),
        }
    }

    /// The pages of a list. Nothing stands in it twice.
    fn list(
        &mut self,
        node: &Value<'a>,
        parent: Option<usize>,
        depth: usize,
        pages: &mut Vec<(usize, Dict<'a>)>,
    ) -> Result<(), Refused> {
        if depth > DEEPEST {
            return Err(format!("its pages lie more than {DEEPEST} deep in each other"));
        }
        let Value::Ref(number) = node else {
            return Err("a page is no reference".to_owned());
        };
        if !self.seen.insert(*number) {
            self.twice = pages.len() + 1;
            return Err("a page, or a list of pages, stands there twice".to_owned());
        }
        let Value::Dict(node) = self.file.resolve(node)? else {
            return Err("a page is no dictionary".to_owned());
        };
        if node.get("Parent") != parent.map(Value::Ref).as_ref() {
            return Err("a page lies in another list than it says".to_owned());
        }
        if !node.is("Type", "Pages") {
            if pages.len() == MOST_PAGES {
                return Err(format!("the PDF has more than {MOST_PAGES} pages"));
            }
            pages.push((*number, node));
            return Ok(());
        }
        self.keys(&node, &PAGES, "the list of pages")?;
        let Some(Value::Array(kids)) = node.get("Kids") else {
            return Err("the list of pages has no /Kids".to_owned());
        };
        let before = pages.len();
        kids.iter()
            .try_for_each(|kid| self.list(kid, Some(*number), depth + 1, pages))?;
        let count = (pages.len() - before) as f64;
        if node.get("Count") != Some(&Value::Number(count)) {
            return Err(format!(
                "a list of {count} pages says that it has another number"
            ));
        }
        Ok(())
    }

    /// The widths of a font: runs of three figures, or of one and a list. A reader
    /// that believes a run of all four thousand million numbers fills its memory.
    pub fn widths(&self, font: &Dict<'a>) -> Result<(), Refused> {
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
        if characters > MOST_CHARACTERS {
            return Err(format!("has widths of more than {MOST_CHARACTERS} glyphs"));
        }
        Ok(())
    }

    /// What a logo is painted with: a gradient along a line or between circles.
    pub fn pattern(&self, value: &Value<'a>) -> Result<(), Refused> {
        let Value::Dict(pattern) = self.file.resolve(value)? else {
            return Err("a pattern is no gradient".to_owned());
        };
        self.keys(&pattern, &PATTERN, "a pattern")?;
        let shading = pattern.get("Shading").ok_or("a pattern is no gradient")?;
        self.shading(shading)
    }

    pub fn shading(&self, value: &Value<'a>) -> Result<(), Refused> {
        let Value::Dict(shading) = self.file.resolve(value)? else {
            return Err("a gradient is of a kind that ours are not".to_owned());
        };
        self.keys(&shading, &SHADING, "a gradient")?;
        let kind = shading.get("ShadingType");
        if ![2.0, 3.0].iter().any(|known| kind == Some(&Value::Number(*known))) {
            return Err("a gradient is of a kind that ours are not".to_owned());
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
}

pub(super) fn is_of_logos(key: &[u8]) -> bool {
    IMAGE.1.iter().any(|known| known.as_bytes() == key)
}
