//! Compares the text of pages with the texts they must hold.

use serde::Serialize;
use serde_json::Value;

use super::{Difference, Page, Part};
use crate::document::PageSetting;

/// Keys of document data that are not printed as text. The texts of `page`, a
/// whole page setting, are the feet: see [`feet`].
const NOT_PRINTED: &[&str] =
    &["alt", "attachment", "bookmark", "kind", "language", "page"];

/// Stands where a text was found and taken out.
const TAKEN: char = '\u{0}';

/// Every text in document data.
pub(super) fn leaves(data: &impl Serialize) -> Vec<String> {
    let mut out = Vec::new();
    collect(&serde_json::to_value(data).unwrap_or_default(), &mut out);
    out
}

fn collect(value: &Value, out: &mut Vec<String>) {
    match value {
        Value::String(text) => out.push(text.clone()),
        Value::Array(items) => items.iter().for_each(|item| collect(item, out)),
        Value::Object(fields) => fields
            .iter()
            .filter(|(key, _)| !NOT_PRINTED.contains(&key.as_str()))
            .for_each(|(_, value)| collect(value, out)),
        _ => {}
    }
}

/// What stands at the feet of `count` pages, whose first is the kit's page number
/// `start`, counted from 0. Nothing stands on a blank one.
pub(super) fn feet(count: usize, setting: &PageSetting, start: usize) -> Vec<String> {
    let mut texts = Vec::new();
    for number in setting.numbers.iter().skip(start).take(count) {
        if !number.is_empty() {
            texts.extend([&setting.foot, &setting.foot_more].map(String::clone));
            texts.extend(setting.unreviewed.clone());
            texts.push(number.clone());
        }
    }
    texts
}

/// `text` without any white space: a line break on paper is no difference.
pub(super) fn bare(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

pub(super) fn starts_with(page: &Page, title: &str) -> bool {
    let title = bare(title);
    let mut text = String::new();
    for glyph in &page.glyphs {
        text.push_str(&bare(&glyph.text));
        if text.len() >= title.len() {
            break;
        }
    }
    text.starts_with(&title)
}

/// Breaks between runs of text: nothing is read across one.
pub(super) const RUN: char = '\u{1}';

/// The text of some pages.
#[derive(Debug, Default)]
pub(super) struct Text {
    /// Without white space.
    pub bare: String,
    /// Where runs begin in `bare`.
    pub runs: Vec<usize>,
    /// Where each page begins in `bare`.
    pub pages: Vec<usize>,
    /// With its spaces, and a mark where each run begins.
    pub running: String,
}

impl Text {
    pub fn of(pages: &[Page]) -> Self {
        let mut text = Self::default();
        for page in pages {
            text.pages.push(text.bare.len());
            for glyph in &page.glyphs {
                if glyph.starts_run {
                    text.runs.push(text.bare.len());
                    text.running.push(RUN);
                }
                text.running.push_str(&glyph.text);
                text.bare.extend(glyph.text.chars().filter(|c| !c.is_whitespace()));
            }
        }
        text
    }

    /// The bare text of the page with number `index`, from 0.
    pub fn page(&self, index: usize) -> &str {
        let start = self.pages.get(index).copied().unwrap_or(self.bare.len());
        let end = self.pages.get(index + 1).copied().unwrap_or(self.bare.len());
        &self.bare[start..end]
    }

    /// Whether a run begins at `at` of the bare text, or the text ends there.
    pub fn is_edge(&self, at: usize) -> bool {
        at == self.bare.len() || self.runs.binary_search(&at).is_ok()
    }
}

/// Compares a part's pages with its texts: each must be there as often as it is
/// expected, and nothing else may be.
///
/// Longer texts are looked for first, so that a short one is not found in the
/// middle of a long one.
pub(super) fn compare(part: &Part, texts: &[String]) -> Vec<Difference> {
    let text = &part.text;
    let mut found = Vec::new();
    let mut left = text.bare.clone();
    let starts = Starts::of(text);
    let mut wanted: Vec<(&str, String)> = texts
        .iter()
        .map(|text| (text.as_str(), bare(text)))
        .filter(|(_, bare)| !bare.is_empty())
        .collect();
    wanted.sort_by_key(|(_, bare)| std::cmp::Reverse(bare.len()));
    for (shown, wanted) in &wanted {
        match starts.place(&left, wanted) {
            Some(at) => take(&mut left, at, wanted.len()),
            None => found.push(Difference::new(
                part.first,
                format!("expected \"{shown}\", which is not on the pages from here on"),
            )),
        }
    }
    let page_of = |at: usize| {
        part.first + text.pages.iter().rposition(|start| *start <= at).unwrap_or(0)
    };
    let mut at = 0;
    for rest in left.split(TAKEN) {
        if !rest.is_empty() {
            found.push(Difference::new(
                page_of(at),
                format!("found \"{rest}\", which nobody planned"),
            ));
        }
        at += rest.len() + 1;
    }
    found
}

/// Where runs begin, by the byte they begin with.
struct Starts(Vec<Vec<usize>>);

impl Starts {
    fn of(text: &Text) -> Self {
        let mut starts = vec![Vec::new(); 256];
        for at in &text.runs {
            if let Some(byte) = text.bare.as_bytes().get(*at) {
                starts[usize::from(*byte)].push(*at);
            }
        }
        Self(starts)
    }

    /// Where `wanted` stands in `text`: at the start of a run if it does so
    /// anywhere, so that the cells of a table are not cut in two.
    fn place(&self, text: &str, wanted: &str) -> Option<usize> {
        let bytes = text.as_bytes();
        let starts = &self.0[usize::from(*wanted.as_bytes().first()?)];
        let at_run =
            starts.iter().find(|at| bytes[**at..].starts_with(wanted.as_bytes()));
        at_run.copied().or_else(|| text.find(wanted))
    }
}

/// Overwrites the bytes of a found text, so that all other places stay put.
fn take(text: &mut String, at: usize, length: usize) {
    let gone: String = std::iter::repeat_n(TAKEN, length).collect();
    text.replace_range(at..at + length, &gone);
}

#[cfg(test)]
pub(super) mod tests {
    use super::super::{Area, Glyph, Turn};
    use super::*;

    pub fn page(runs: &[&str]) -> Page {
        let area = Area { left: 1.0, top: 1.0, right: 2.0, bottom: 2.0 };
        let mut page = Page { width: 10.0, height: 10.0, ..Page::default() };
        for run in runs {
            for (index, c) in run.chars().enumerate() {
                page.glyphs.push(Glyph {
                    text: c.into(),
                    area,
                    origin: (1.0, 2.0),
                    advance: 1.0,
                    size: 1.0,
                    turn: Turn::Upright,
                    starts_run: index == 0,
                    blank: c == ' ',
                    is_heard: true,
                });
            }
        }
        page
    }

    fn differences(runs: &[&str], texts: &[&str]) -> Vec<String> {
        let pages = [page(runs)];
        let texts: Vec<String> = texts.iter().map(|text| (*text).to_owned()).collect();
        let part = Part::new(3, &pages, Vec::new());
        compare(&part, &texts)
            .into_iter()
            .map(|d| format!("{}: {}", d.page, d.what))
            .collect()
    }

    #[test]
    fn the_same_texts_in_another_order_are_no_difference() {
        let runs = ["5:15 pm", "15:15", "Card", " 1"];
        assert!(differences(&runs, &["Card 1", "15:15", "5:15 pm"]).is_empty());
    }

    #[test]
    fn a_text_too_few_and_a_text_too_many_are_named_with_their_page() {
        assert_eq!(
            differences(&["5:15 pm"], &["6:15 pm"]),
            [
                "3: expected \"6:15 pm\", which is not on the pages from here on",
                "3: found \"5:15pm\", which nobody planned",
            ]
        );
    }

    #[test]
    fn cells_that_touch_are_not_cut_in_two() {
        let runs = ["11:15", "1:15", "5:15"];
        assert!(differences(&runs, &["1:15", "5:15", "11:15"]).is_empty());
    }
}
