//! Looks at a laboratory's logo before the typesetter does.
//!
//! Takes the bytes of an SVG file, gives nothing or every fault in it, each with
//! its line. A logo is a drawing of plain shapes: what could fetch, run, or grow
//! is not read, whatever a browser would make of it.

use std::collections::HashMap;

use roxmltree::{Attribute, Document, Node, NodeId, ParsingOptions};

use crate::fault::{Fault, Source, visible};

/// The largest logo that is read, in bytes.
pub const LOGO_MAX_BYTES: usize = 64 * 1024;
/// The most elements of a logo.
const MOST_ELEMENTS: u32 = 2_000;
/// The most that are drawn, once each reference is followed.
const MOST_DRAWN: u64 = 20_000;
/// The deepest that elements lie in each other.
const DEEPEST: usize = 32;
/// The widest and the highest shape of a logo: it stands beside a line of text.
const MOST_TIMES: f64 = 12.0;
/// The largest number that a shape is drawn with; beyond it drawing takes long.
const LARGEST: f64 = 1e6;
/// How often it may be made ten times larger by transformations, all together.
const MOST_TENFOLD: f64 = 6.0;
/// Sizes outside this are refused as slips, in CSS pixels.
const SIZES: std::ops::RangeInclusive<f64> = 1.0..=10_000.0;
/// The most faults that are shown.
const MOST_FAULTS: usize = 20;

const SIMPLER: &str = "draw it simpler: it is printed 6 mm high";
const SVG: &str = "http://www.w3.org/2000/svg";

/// Elements that are read, by the names of SVG 1.1 (W3C).
const KNOWN: &[&str] = &[
    "svg",
    "g",
    "defs",
    "use",
    "path",
    "rect",
    "circle",
    "ellipse",
    "line",
    "polyline",
    "polygon",
    "linearGradient",
    "radialGradient",
    "stop",
    "clipPath",
    "mask",
    "style",
    "title",
    "desc",
    "metadata",
];

/// Checks that a logo is a drawing of plain shapes.
///
/// # Errors
///
/// Every element and every reference that is not read, and everything that would
/// make it larger than a logo.
pub fn check_logo(name: &str, bytes: &[u8]) -> Result<(), Vec<Fault>> {
    let whole = |what: &str, help: &str| {
        vec![Fault::new(format!("the logo {name} {what}"), help)]
    };
    if bytes.starts_with(&[0x1F, 0x8B]) {
        return Err(whole("is compressed", "save it as plain SVG"));
    }
    let Ok(text) = std::str::from_utf8(bytes) else {
        return Err(whole("is not UTF-8 text", "save it as SVG in UTF-8"));
    };
    let source = Source::new(name, text);
    let options = ParsingOptions { nodes_limit: 4 * MOST_ELEMENTS, ..Default::default() };
    let document = Document::parse_with_options(text, options)
        .map_err(|error| vec![syntax_fault(&source, &error)])?;
    let mut reading = Reading {
        source: &source,
        faults: Vec::new(),
        ids: HashMap::new(),
        drawn: HashMap::new(),
    };
    reading.document(&document);
    reading.faults.truncate(MOST_FAULTS);
    if reading.faults.is_empty() { Ok(()) } else { Err(reading.faults) }
}

fn syntax_fault(source: &std::sync::Arc<Source>, error: &roxmltree::Error) -> Fault {
    use roxmltree::Error::{DtdDetected, NodesLimitReached};
    let (what, help) = match error {
        DtdDetected => (
            "the logo has a document type declaration".to_owned(),
            "take out what begins with <!DOCTYPE, up to its end: no part of the drawing \
             is in it",
        ),
        NodesLimitReached => {
            (format!("the logo has more than {MOST_ELEMENTS} elements"), SIMPLER)
        }
        error => (
            format!("the logo is not SVG: {}", visible(&error.to_string())),
            "save it again from a drawing program as plain SVG",
        ),
    };
    let at = match error {
        DtdDetected => source.text.find("<!DOCTYPE").unwrap_or(0),
        error => offset(&source.text, error.pos()),
    };
    Fault::new(what, help).at(source, at..at, "")
}

/// The byte at a row and column, both counted from 1.
fn offset(text: &str, at: roxmltree::TextPos) -> usize {
    let before = text.split_inclusive('\n').take(at.row as usize - 1);
    let start = before.map(str::len).sum::<usize>();
    let column = at.col.saturating_sub(1) as usize;
    let line = &text[start.min(text.len())..];
    start + line.char_indices().nth(column).map_or(0, |(index, _)| index)
}

/// What an element draws, once each reference is followed.
#[derive(Debug, Clone, Copy)]
struct Drawn {
    count: u64,
    /// How deep it goes, itself counted.
    depth: usize,
    /// How often it is made ten times larger, at most.
    tenfold: f64,
}

/// A logo that is being looked at.
struct Reading<'a, 'input> {
    source: &'a std::sync::Arc<Source>,
    faults: Vec<Fault>,
    ids: HashMap<&'a str, Node<'a, 'input>>,
    /// What each element draws; `None` while that is being counted.
    drawn: HashMap<NodeId, Option<Drawn>>,
}

impl<'a, 'input> Reading<'a, 'input> {
    fn document(&mut self, document: &'a Document<'input>) {
        let root = document.root_element();
        if !root.has_tag_name((SVG, "svg")) {
            self.wrong(
                root,
                format!("the logo begins with <{}> and is not SVG", tag(root)),
                "begin it with <svg xmlns=\"http://www.w3.org/2000/svg\">",
            );
            return;
        }
        let elements = root.descendants().filter(Node::is_element);
        let count = elements.clone().count();
        if count > MOST_ELEMENTS as usize {
            self.wrong(
                root,
                format!("the logo has {count} elements, more than {MOST_ELEMENTS}"),
                SIMPLER,
            );
            return;
        }
        for element in elements.clone() {
            if let Some(id) = element.attribute("id") {
                self.ids.entry(id).or_insert(element);
            }
        }
        self.size(root);
        for element in elements {
            self.element(element);
        }
        if self.faults.is_empty() {
            self.amount(root);
        }
    }

    fn wrong(&mut self, element: Node, what: String, help: &str) {
        let start = element.range().start;
        let end = start + 1 + tag(element).len();
        self.faults.push(Fault::new(what, help).at(self.source, start..end, ""));
    }

    fn element(&mut self, element: Node<'a, 'input>) {
        let is_drawn = element.tag_name().namespace() == Some(SVG);
        let name = element.tag_name().name();
        let is_inner = name == "svg" && element.parent_element().is_some();
        if is_drawn && (!KNOWN.contains(&name) || is_inner) {
            let help = match name {
                "text" | "tspan" | "textPath" => "turn letters into paths",
                "svg" => "take its shapes out of it",
                "image" | "feImage" => "draw it with shapes: an image is not crisp",
                _ => "draw it with plain shapes: paths, lines, circles and so on",
            };
            self.wrong(element, format!("the logo has a <{}>", visible(name)), help);
        }
        if element.ancestors().skip(1).count() == DEEPEST + 1 {
            self.wrong(
                element,
                format!("the logo has elements in each other, more than {DEEPEST} deep"),
                "take groups apart",
            );
        }
        for attribute in element.attributes() {
            if attribute.name().to_ascii_lowercase().starts_with("on") {
                self.wrong(
                    element,
                    format!("the logo has a script, `{}`", visible(attribute.name())),
                    "take it out",
                );
            }
            self.references(element, &of_attribute(&attribute));
            let is_measure = attribute.namespace().is_none()
                && !["id", "class", "href"].contains(&attribute.name());
            if is_drawn && is_measure {
                self.measures(element, attribute.name(), attribute.value());
            }
        }
        if is_drawn && name == "style" {
            let sheet: String =
                element.children().filter_map(|child| child.text()).collect();
            if sheet.to_ascii_lowercase().contains("@import") {
                self.wrong(
                    element,
                    "the logo has a style sheet that is fetched".into(),
                    "write the styles into the file",
                );
            }
            self.style_references(element, &urls(&sheet));
        }
    }

    /// Refuses numbers that no drawing has.
    fn measures(&mut self, element: Node, key: &str, value: &str) {
        let large = numbers(value).into_iter().find(|number| number.abs() > LARGEST);
        if let Some(number) = large {
            self.wrong(
                element,
                format!("the logo has the number {number} in `{}`", visible(key)),
                "draw it smaller: with numbers up to a million",
            );
        }
    }

    /// Refuses references to anything but an element of the logo.
    fn references(&mut self, element: Node, found: &[String]) {
        for url in found {
            let shown = visible(url);
            match url.strip_prefix('#') {
                Some(id) if self.ids.contains_key(id) => {}
                Some(_) => self.wrong(
                    element,
                    format!("the logo refers to `{shown}`, which is not in it"),
                    "mend the reference, or take it out",
                ),
                None => self.wrong(
                    element,
                    format!("the logo refers to `{shown}`, outside of it"),
                    "a logo stands in one file: draw it there",
                ),
            }
        }
    }

    /// A rule can hold for every element there is, so what it refers to is a gradient.
    fn style_references(&mut self, element: Node, found: &[String]) {
        self.references(element, found);
        for url in found {
            let target = url.strip_prefix('#').and_then(|id| self.ids.get(id));
            if target.is_some_and(|target| !tag(*target).ends_with("Gradient")) {
                self.wrong(
                    element,
                    format!("the logo has a style that refers to `{}`", visible(url)),
                    "write it as an attribute of each element it is for",
                );
            }
        }
    }

    /// Counts what is drawn with every reference followed, and refuses a ring of
    /// them.
    fn amount(&mut self, root: Node<'a, 'input>) {
        match self.drawn(root) {
            Ok(Drawn { count, .. }) if count > MOST_DRAWN => self.wrong(
                root,
                format!(
                    "the logo draws more than {MOST_DRAWN} elements, once its references \
                     are followed"
                ),
                SIMPLER,
            ),
            Ok(Drawn { depth, .. }) if depth > 2 * DEEPEST => self.wrong(
                root,
                format!(
                    "the logo has references that lead on more than {} deep",
                    2 * DEEPEST
                ),
                SIMPLER,
            ),
            Ok(Drawn { tenfold, .. }) if tenfold > MOST_TENFOLD => self.wrong(
                root,
                format!(
                    "the logo is made more than ten times larger {MOST_TENFOLD} times over"
                ),
                "draw it larger, and take out `transform`",
            ),
            Ok(_) => {}
            Err(element) => self.wrong(
                element,
                format!("the logo has a <{}> that refers back to itself", tag(element)),
                "take the reference out",
            ),
        }
    }

    fn drawn(&mut self, element: Node<'a, 'input>) -> Result<Drawn, Node<'a, 'input>> {
        match self.drawn.get(&element.id()) {
            Some(Some(drawn)) => return Ok(*drawn),
            Some(None) => return Err(element),
            None => {}
        }
        self.drawn.insert(element.id(), None);
        let mut inner: Vec<Node> = element.children().filter(Node::is_element).collect();
        for url in element.attributes().flat_map(|attribute| of_attribute(&attribute)) {
            inner.extend(url.strip_prefix('#').and_then(|id| self.ids.get(id)));
        }
        let mut drawn = Drawn { count: 1, depth: 0, tenfold: 0.0 };
        for one in inner {
            let one = self.drawn(one)?;
            drawn.count = drawn.count.saturating_add(one.count);
            drawn.depth = drawn.depth.max(one.depth);
            drawn.tenfold = drawn.tenfold.max(one.tenfold);
        }
        drawn.depth += 1;
        let turned = element.attributes().filter(|a| is_transform(a));
        drawn.tenfold += turned.map(|a| tenfold(a.value())).sum::<f64>();
        self.drawn.insert(element.id(), Some(drawn));
        Ok(drawn)
    }

    /// Refuses a logo that is far wider or higher than it should be.
    fn size(&mut self, root: Node) {
        // Endless ones are no numbers of SVG, and the view is asked for instead.
        let number = |key| root.attribute(key).and_then(length);
        let drawn = number("width").zip(number("height"));
        let of_view = root.attribute("viewBox").and_then(view);
        let sizes: Vec<(f64, f64)> = drawn.into_iter().chain(of_view).collect();
        if sizes.is_empty() {
            self.wrong(
                root,
                "the logo does not say how large it is".into(),
                "give it a viewBox, such as viewBox=\"0 0 48 24\"",
            );
        }
        for (width, height) in sizes {
            let times = width / height;
            let is_shaped = (1.0 / MOST_TIMES..=MOST_TIMES).contains(&times);
            if !SIZES.contains(&width) || !SIZES.contains(&height) || !is_shaped {
                self.wrong(
                    root,
                    format!("the logo is {width} wide and {height} high"),
                    "give it 1 to 10000 either way, and at most 12 times as much one way \
                     as the other",
                );
                return;
            }
        }
    }
}

fn tag<'a>(element: Node<'a, '_>) -> &'a str {
    element.tag_name().name()
}

/// What an attribute refers to.
fn of_attribute(attribute: &Attribute) -> Vec<String> {
    if attribute.name() == "href" {
        return vec![attribute.value().trim().to_owned()];
    }
    urls(attribute.value())
}

/// What stands in each `url(...)` of a style.
fn urls(style: &str) -> Vec<String> {
    // Positions in the one are those in the other.
    let lower = style.to_ascii_lowercase();
    lower
        .match_indices("url(")
        .map(|(at, start)| {
            let rest = &style[at + start.len()..];
            let inner = rest.split(')').next().unwrap_or(rest);
            inner.trim().trim_matches(['"', '\'']).trim().to_owned()
        })
        .collect()
}

fn is_transform(attribute: &Attribute) -> bool {
    let name = attribute.name().to_ascii_lowercase();
    name.ends_with("transform") || name == "style"
}

/// How often a list of transformations makes a shape ten times larger, at most.
fn tenfold(transform: &str) -> f64 {
    let each = transform.split(')').map(|one| {
        let one = one.to_ascii_lowercase();
        let numbers = numbers(&one);
        let largest = numbers.iter().copied().fold(0.0, f64::max);
        let by = if one.contains("skew") {
            largest.to_radians().tan().abs()
        } else if one.contains("matrix") {
            // No vector grows by more than the norm (Frobenius) of the matrix.
            numbers.iter().take(4).map(|number| number * number).sum::<f64>().sqrt()
        } else if one.contains("scale") {
            largest
        } else {
            1.0
        };
        by.max(1.0).log10()
    });
    each.sum()
}

/// The numbers in an attribute, as SVG and CSS write them: `1.5-2e3.5` are three.
fn numbers(text: &str) -> Vec<f64> {
    let mut found = Vec::new();
    let bytes = text.as_bytes();
    let digits = |mut at: usize| {
        while bytes.get(at).is_some_and(u8::is_ascii_digit) {
            at += 1;
        }
        at
    };
    let mut at = 0;
    while at < bytes.len() {
        let start = at;
        let mut end = digits(at);
        if bytes.get(end) == Some(&b'.') {
            end = digits(end + 1);
        }
        if end == start || &text[start..end] == "." {
            at += 1;
            continue;
        }
        if matches!(bytes.get(end), Some(b'e' | b'E')) {
            let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
            let power = digits(end + 1 + sign);
            if power > end + 1 + sign {
                end = power;
            }
        }
        found.extend(text[start..end].parse::<f64>().ok());
        at = end;
    }
    found
}

/// A length in CSS pixels; `None` for a share of something, and for what is none.
///
/// # Source
///
/// CSS Values and Units 3 (W3C), section 6.2: 96 px are an inch.
fn length(text: &str) -> Option<f64> {
    let text = text.trim();
    let (number, unit) = text.split_at(text.len() - unit_length(text));
    let pixels = match unit {
        "" | "px" => 1.0,
        "pt" => 96.0 / 72.0,
        "pc" => 16.0,
        "mm" => 96.0 / 25.4,
        "cm" => 96.0 / 2.54,
        "in" => 96.0,
        _ => return None,
    };
    number.parse::<f64>().ok().map(|number| number * pixels)
}

/// How many bytes at the end are letters or a percent sign.
fn unit_length(text: &str) -> usize {
    text.bytes().rev().take_while(|b| b.is_ascii_alphabetic() || *b == b'%').count()
}

/// Width and height of a `viewBox`.
fn view(text: &str) -> Option<(f64, f64)> {
    let numbers = text.split(|c: char| c.is_whitespace() || c == ',');
    let numbers: Vec<f64> = numbers
        .filter(|part| !part.is_empty())
        .map(|part| part.parse().ok())
        .collect::<Option<_>>()?;
    match numbers[..] {
        [_, _, width, height] => Some((width, height)),
        _ => None,
    }
}
