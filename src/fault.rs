//! A fault: where something is wrong, what is wrong, and what would be right.
//!
//! Every stage reports its faults in this one form, so that an order, a
//! protocol, a label stock and a finished PDF are all complained about alike.
//! Nothing here decides whether a run goes on.

use std::borrow::Cow;
use std::ops::Range;
use std::sync::Arc;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};

mod origin;

pub use origin::{Cell, Origin};
pub(crate) use origin::{shell_word, visible};

/// A text that was read, with the name a reader knows it by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// The file's path as it was given, or `<standard input>`.
    pub name: String,
    pub text: String,
    /// Where the text was taken from, if it was written from an export. Its
    /// faults are then shown there and not in the text.
    pub origin: Option<Origin>,
}

impl Source {
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Arc<Self> {
        Arc::new(Self { name: name.into(), text: text.into(), origin: None })
    }

    /// A text written from one row of an export, or no text where that is wrong.
    pub fn exported(origin: Origin, text: impl Into<String>) -> Arc<Self> {
        let name = origin.place.clone();
        Arc::new(Self { name, text: text.into(), origin: Some(origin) })
    }
}

/// A stretch of a source: the bytes at fault and the field they belong to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    pub source: Arc<Source>,
    pub span: Range<usize>,
    /// Dotted name of the field, such as `patient.weight`; empty for the file.
    pub field: String,
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// What is wrong: lower case, no full stop, the value and the limit named.
    pub what: String,
    /// What would be right.
    pub help: String,
    pub place: Option<Place>,
    /// Whether it is about a file that cannot be read or written, and not about
    /// what stands in one.
    pub of_file: bool,
}

impl Fault {
    /// A fault; what a terminal would obey in the two texts is written out, wherever
    /// they come from.
    pub fn new(what: impl Into<String>, help: impl Into<String>) -> Self {
        let clean = |text: String| shortened(written_out(text));
        let (what, help) = (clean(what.into()), clean(help.into()));
        Self { what, help, place: None, of_file: false }
    }

    /// A fault about a file that cannot be read or written.
    pub fn of_file(what: impl Into<String>, help: impl Into<String>) -> Self {
        Self { of_file: true, ..Self::new(what, help) }
    }

    pub fn at(
        mut self,
        source: &Arc<Source>,
        span: Range<usize>,
        field: impl Into<String>,
    ) -> Self {
        let field = field.into();
        self.place = Some(Place { source: source.clone(), span, field });
        self
    }

    /// The fault as a terminal shows it, with the line and carets under it.
    ///
    /// Styled with ANSI codes; print it through `anstream`, which takes them
    /// out again where they do not belong.
    pub fn render(&self) -> String {
        self.report(&Renderer::styled())
    }

    /// The fault as plain text.
    pub fn plain(&self) -> String {
        self.report(&Renderer::plain())
    }

    fn report(&self, renderer: &Renderer) -> String {
        let title = Level::ERROR.primary_title(&self.what);
        let help = Level::HELP.message(&self.help);
        let Some(place) = &self.place else {
            return renderer.render(&[title.element(help)]);
        };
        if let Some(origin) = &place.source.origin {
            let (path, note) = origin.describe(&place.field);
            let group = title.element(annotate_snippets::Origin::path(path));
            return match note {
                Some(note) => {
                    let note = Level::NOTE.message(note);
                    renderer.render(&[group.element(note).element(help)])
                }
                None => renderer.render(&[group.element(help)]),
            };
        }
        let text: &str = &drawable(&place.source.text);
        let mark = AnnotationKind::Primary.span(clamp(text, place.span.clone()));
        let mark = if place.field.is_empty() { mark } else { mark.label(&place.field) };
        let snippet = Snippet::source(text).path(&place.source.name).annotation(mark);
        renderer.render(&[title.element(snippet).element(help)])
    }
}

/// `text` with what hides, reorders or gives commands written out; lines stay lines.
fn written_out(text: String) -> String {
    let hides = |c: char| crate::fields::forbidden(c) && c != '\n';
    if !text.contains(hides) {
        return text;
    }
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if hides(c) {
            out.extend(c.escape_default());
        } else {
            out.push(c);
        }
    }
    out
}

/// `text` with a mark for each character that hides or reorders others, or gives a
/// terminal commands, of as many bytes, so that places stay. The control characters of
/// ASCII are the renderer's to show.
fn drawable(text: &str) -> Cow<'_, str> {
    let hides = |c: char| crate::fields::forbidden(c) && !c.is_ascii();
    if !text.contains(hides) {
        return Cow::Borrowed(text);
    }
    let mark = |c: char| match c.len_utf8() {
        2 if hides(c) => '\u{00B7}',
        3 if hides(c) => char::REPLACEMENT_CHARACTER,
        _ => c,
    };
    Cow::Owned(text.chars().map(mark).collect())
}

/// The longest message, in bytes: the lines in which two orders differ fit, and a
/// value of a hundred thousand characters does not.
const LONGEST_MESSAGE: usize = 16 * 1024;

fn shortened(mut message: String) -> String {
    if message.len() > LONGEST_MESSAGE {
        message.truncate(message.floor_char_boundary(LONGEST_MESSAGE));
        message.push_str(" ...");
    }
    message
}

/// `span` moved on to character boundaries inside `text`, so that a report can
/// always be drawn.
fn clamp(text: &str, span: Range<usize>) -> Range<usize> {
    let mut start = span.start.min(text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    let mut end = span.end.clamp(start, text.len());
    while !text.is_char_boundary(end) {
        end += 1;
    }
    start..end
}

/// The longest word that is compared with others, in characters. Time and memory go
/// with the product of two lengths, and no name is longer.
const LONGEST_WORD: usize = 200;

/// The most names that a help lists, and the most characters of them.
const MOST_LISTED: usize = 60;
const LONGEST_LIST: usize = 600;

/// The candidate nearest to a misspelt `word`, if any is near; capitals count for
/// nothing.
pub fn nearest<'a>(
    word: &str,
    candidates: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    let length = word.chars().count();
    if length > LONGEST_WORD {
        return None;
    }
    let most = |known: &str| 1 + known.len() / 4;
    let word = word.to_lowercase();
    candidates
        .into_iter()
        // Two words are at least as far apart as their lengths.
        .filter(|known| length.abs_diff(known.chars().count()) <= most(known))
        .map(|known| (strsim::damerau_levenshtein(&word, &known.to_lowercase()), known))
        .filter(|(distance, known)| *distance <= most(known))
        .min()
        .map(|(_, known)| known)
}

/// `known` as a list in a sentence, after a "did you mean" where one is near.
pub fn suggest(word: &str, known: &[&str]) -> String {
    let mut room = LONGEST_LIST;
    let mut list: Vec<String> = known
        .iter()
        .take(MOST_LISTED)
        .map(|name| visible(name))
        .take_while(|name| {
            room = room.saturating_sub(name.chars().count());
            room > 0
        })
        .collect();
    if known.len() > list.len() {
        list.push(format!("and {} more", known.len() - list.len()));
    }
    let list = list.join(", ");
    match nearest(word, known.iter().copied()) {
        Some(near) => format!("did you mean `{}`? it can be: {list}", visible(near)),
        None => format!("it can be: {list}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_shows_file_line_caret_field_and_help() {
        let source = Source::new("ana.toml", "order = \"A-100\"\nlangauge = \"en\"\n");
        let fault = Fault::new("unknown key `langauge`", "did you mean `language`?").at(
            &source,
            16..24,
            "langauge",
        );
        assert_eq!(
            fault.plain(),
            "error: unknown key `langauge`\n \
             --> ana.toml:2:1\n  \
             |\n\
             2 | langauge = \"en\"\n  \
             | ^^^^^^^^ langauge\n  \
             |\n  \
             = help: did you mean `language`?"
        );
    }

    #[test]
    fn a_fault_holds_no_character_that_a_terminal_obeys() {
        let fault = Fault::new("a\u{1b}[2J\u{9b}b", "c\u{202e}d\ne\u{a0}f");
        assert_eq!(fault.what, "a\\u{1b}[2J\\u{9b}b");
        assert_eq!(fault.help, "c\\u{202e}d\ne\u{a0}f");
    }

    #[test]
    fn a_span_inside_a_character_does_not_panic() {
        let source = Source::new("a.toml", "é");
        Fault::new("x", "y").at(&source, 1..9, "").plain();
    }

    #[test]
    fn only_near_words_are_suggested() {
        assert_eq!(nearest("weigth", ["weight", "given"]), Some("weight"));
        assert_eq!(nearest("xyz", ["weight", "given"]), None);
    }
}
