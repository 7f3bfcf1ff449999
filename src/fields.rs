//! Reads the fields of a TOML file one by one and keeps every fault on the way.
//!
//! Takes a source text, gives typed values with their places. A field that is
//! wrong gives `None` and a fault, and reading goes on, so that all faults of a
//! file come out in one run. Used for orders, laboratory files, protocols,
//! label stocks and the medicine table alike.

use std::cell::RefCell;
use std::ops::Range;
use std::sync::Arc;

use chrono::{NaiveDate, NaiveTime};
use toml::Spanned;
use toml::de::{DeTable, DeValue};
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use crate::fault::{Fault, Source, nearest, visible};

mod place;
mod rest;

pub use place::span_of;
use rest::{Lost, Rest};

/// The largest file that is read, in bytes.
pub const MAX_BYTES: usize = 256 * 1024;

/// The most faults that are shown of one file: a file with more is not an order
/// with slips but something else.
const MOST_FAULTS: usize = 40;

/// The most combining marks on one letter: more reach into the lines around. Common
/// practice, no source; Burmese can have seven. Unicode Standard Annex 15 ends a
/// stream-safe text's at thirty, which nobody can read.
const MOST_MARKS: usize = 8;

/// The longest word that is printed, in characters: with the name of its form beside
/// it, it still fits a line of large print. Longer ones in an order are slips, or lack
/// the hyphen at which they may break.
pub const LONGEST_WORD: usize = 32;

/// A value and the bytes it was read from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found<T> {
    pub value: T,
    pub span: Range<usize>,
    pub field: String,
}

impl<T> Found<T> {
    pub fn map<U>(self, f: impl FnOnce(T) -> U) -> Found<U> {
        Found { value: f(self.value), span: self.span, field: self.field }
    }

    /// A fault at this value's place.
    pub fn fault(
        &self,
        source: &Arc<Source>,
        what: impl Into<String>,
        help: impl Into<String>,
    ) -> Fault {
        Fault::new(what, help).at(source, self.span.clone(), self.field.clone())
    }
}

/// Faults found so far; shared by all the tables of one file.
pub type Faults = RefCell<Vec<Fault>>;

/// Reads `source` with `read`, which is handed the file's top table.
///
/// # Errors
///
/// All faults, in the order of their places.
pub fn read_file<T>(
    source: &Arc<Source>,
    read: impl FnOnce(&Fields) -> Option<T>,
) -> Result<T, Vec<Fault>> {
    if source.text.len() > MAX_BYTES {
        let size = source.text.len() / 1024;
        return Err(vec![
            Fault::new(
                format!("the file has {size} kB, more than {} kB", MAX_BYTES / 1024),
                "give one file for each order",
            )
            .at(source, 0..0, ""),
        ]);
    }
    let (table, errors) = DeTable::parse_recoverable(&source.text);
    if errors.is_empty() {
        return read_table(source, table.get_ref(), &[], Faults::default(), read);
    }
    let mut faults: Vec<Fault> =
        errors.iter().map(|error| syntax_fault(source, error)).collect();
    arrange(&mut faults);
    // Of a file with more, nothing else is worth telling.
    let rest =
        if errors.len() < MOST_FAULTS { Rest::of(&source.text, &errors) } else { None };
    let Some(rest) = rest else { return Err(faults) };
    match DeTable::parse_recoverable(&rest.text) {
        (table, more) if more.is_empty() => {
            read_table(source, table.get_ref(), &rest.lost, faults.into(), read)
        }
        _ => Err(faults),
    }
}

/// Reads a file's top table; `lost` are keys of lines that are not TOML, and `faults`
/// the faults of those.
fn read_table<T>(
    source: &Arc<Source>,
    table: &DeTable,
    lost: &[Lost],
    faults: Faults,
    read: impl FnOnce(&Fields) -> Option<T>,
) -> Result<T, Vec<Fault>> {
    let fields = Fields {
        source,
        table,
        path: String::new(),
        span: 0..0,
        lost,
        faults: &faults,
        asked: RefCell::default(),
    };
    let value = read(&fields);
    fields.finish();
    drop(fields);
    let mut faults = faults.into_inner();
    arrange(&mut faults);
    match value {
        Some(value) if faults.is_empty() => Ok(value),
        Some(_) => Err(faults),
        None if faults.is_empty() => {
            Err(vec![Fault::new("the file could not be read", "compare it with a demo")])
        }
        None => Err(faults),
    }
}

/// Puts faults in the order of their places, and leaves out what nobody would read.
fn arrange(faults: &mut Vec<Fault>) {
    faults.sort_by_key(|fault| fault.place.as_ref().map_or(0, |place| place.span.start));
    faults.truncate(MOST_FAULTS);
}

fn syntax_fault(source: &Arc<Source>, error: &toml::de::Error) -> Fault {
    let span = error.span().unwrap_or(0..0);
    let help = match error.message() {
        _ if is_comma_of_a_number(&source.text, span.start) => {
            "a number has a point, not a comma: nudge_x = 0.5"
        }
        "duplicate key" => "it stands further up, too: take out the line that is wrong",
        _ if begins_with_figure(&source.text, span.start) => {
            "each part of a time or date has two figures, a year four: dinner = 09:05, \
             start = 2026-10-04; anything else that is no number goes in quotes"
        }
        _ => {
            "text goes in quotes; times and dates go without: dinner = 17:15, \
             start = 2026-10-14"
        }
    };
    let what = format!("not valid TOML: {}", error.message().replace('\n', ", "));
    Fault::new(what, help).at(source, span, "")
}

/// Whether a comma stands at `at`, between figures.
fn is_comma_of_a_number(text: &str, at: usize) -> bool {
    let is_figure = |c: char| c.is_ascii_digit();
    text.get(..at).is_some_and(|before| before.ends_with(is_figure))
        && text
            .get(at..)
            .and_then(|rest| rest.strip_prefix(','))
            .is_some_and(|rest| rest.starts_with(is_figure))
}

/// Whether the value in whose line `at` is was begun as a number, a time or a date.
fn begins_with_figure(text: &str, at: usize) -> bool {
    let start =
        text.get(..at).and_then(|before| before.rfind('\n')).map_or(0, |at| at + 1);
    let line = text.get(start..).and_then(|rest| rest.lines().next()).unwrap_or_default();
    line.split_once('=').is_some_and(|(_, value)| {
        value.trim_start().starts_with(|c: char| c.is_ascii_digit())
    })
}

/// What stands under a heading.
#[derive(Clone, Copy)]
enum Shape {
    Table,
    /// Several, each under a heading of its own.
    Tables,
}

/// One table of a file, and which of its keys were asked for.
pub struct Fields<'a> {
    pub source: &'a Arc<Source>,
    table: &'a DeTable<'a>,
    path: String,
    span: Range<usize>,
    /// Keys whose lines could not be read: they are not missing.
    lost: &'a [Lost],
    faults: &'a Faults,
    asked: RefCell<Vec<String>>,
}

impl<'a> Fields<'a> {
    pub fn fault(&self, fault: Fault) {
        self.faults.borrow_mut().push(fault);
    }

    /// The place of this table: its header, or the start of the file.
    pub fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    /// The name of `key` in messages: a key can be any text in quotes.
    fn name(&self, key: &str) -> String {
        let key = visible(key);
        if self.path.is_empty() { key } else { format!("{}.{key}", self.path) }
    }

    fn get(&self, key: &str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.asked.borrow_mut().push(key.to_owned());
        self.table.get(key)
    }

    /// The value of `key` made by `convert`; a fault that `wanted` was expected
    /// if it makes none.
    fn take<T>(
        &self,
        key: &str,
        wanted: &str,
        example: &str,
        convert: impl FnOnce(&DeValue<'a>) -> Option<T>,
    ) -> Option<Found<T>> {
        let value = self.get(key)?;
        let place = Found { value: (), span: value.span(), field: self.name(key) };
        match convert(value.get_ref()) {
            Some(value) => Some(place.map(|()| value)),
            None => {
                let (key, kind) = (visible(key), kind(value.get_ref()));
                self.fault(place.fault(
                    self.source,
                    format!("`{key}` must be {wanted}, not {kind}"),
                    format!("write it like this: {key} = {example}"),
                ));
                None
            }
        }
    }

    pub fn text(&self, key: &str) -> Option<Found<String>> {
        let text =
            self.take(key, "a text in quotes", "\"...\"", |value| match value {
                DeValue::String(text) => Some(text.to_string()),
                _ => None,
            })?;
        if let Err(fault) = check_text(self.source, &text) {
            self.fault(fault);
            return None;
        }
        Some(text)
    }

    /// A text of 1 to `most` characters, without the spaces around it.
    pub fn text_up_to(&self, key: &str, most: usize) -> Option<Found<String>> {
        let text = self.text(key)?.map(|text| text.trim().to_owned());
        let count = text.value.chars().count();
        if (1..=most).contains(&count) {
            return Some(text);
        }
        self.fault(text.fault(
            self.source,
            match count {
                0 => format!("`{}` is empty", text.field),
                _ => format!("`{}` has {count} characters, more than {most}", text.field),
            },
            match count {
                0 => "fill it in".to_owned(),
                _ => format!("shorten it to {most} characters or fewer"),
            },
        ));
        None
    }

    /// A text for the paper: of 1 to `most` characters, without the spaces around it,
    /// in Unicode Normalization Form C, and of words that fit a line.
    pub fn printed(&self, key: &str, most: usize) -> Option<Found<String>> {
        let text = self.text_up_to(key, most)?.map(|text| text.nfc().collect());
        match check_words(self.source, &text) {
            Ok(()) => Some(text),
            Err(fault) => {
                self.fault(fault);
                None
            }
        }
    }

    pub fn flag(&self, key: &str) -> Option<Found<bool>> {
        self.take(key, "true or false", "true", |value| match value {
            DeValue::Boolean(flag) => Some(*flag),
            _ => None,
        })
    }

    /// A whole number within `range`.
    pub fn number(
        &self,
        key: &str,
        range: std::ops::RangeInclusive<i64>,
    ) -> Option<Found<i64>> {
        let number =
            self.take(key, "a whole number", &range.start().to_string(), |value| {
                match value {
                    DeValue::Integer(number) => {
                        i64::from_str_radix(number.as_str(), number.radix()).ok()
                    }
                    _ => None,
                }
            })?;
        if range.contains(&number.value) {
            return Some(number);
        }
        self.fault(number.fault(
            self.source,
            format!("`{key}` is {}", number.value),
            format!("give a number from {} to {}", range.start(), range.end()),
        ));
        None
    }

    /// A decimal number, in thousandths, within `range` (also in thousandths).
    pub fn thousandths(
        &self,
        key: &str,
        range: std::ops::RangeInclusive<i64>,
    ) -> Option<Found<i64>> {
        let wanted = "a number with at most nine figures and three decimals";
        let number = self.take(key, wanted, "12.5", |value| match value {
            // One in another base would be read as if it were decimal.
            DeValue::Integer(number) if number.radix() == 10 => {
                parse_thousandths(number.as_str())
            }
            DeValue::Float(number) => parse_thousandths(number.as_str()),
            _ => None,
        })?;
        if range.contains(&number.value) {
            return Some(number);
        }
        let decimal = |thousandths: i64| thousandths as f64 / 1000.0;
        self.fault(number.fault(
            self.source,
            format!("`{key}` is {}", decimal(number.value)),
            format!(
                "give a number from {} to {}",
                decimal(*range.start()),
                decimal(*range.end())
            ),
        ));
        None
    }

    pub fn time(&self, key: &str) -> Option<Found<NaiveTime>> {
        self.take(key, "a time without quotes", "17:15", local_time)
    }

    pub fn date(&self, key: &str) -> Option<Found<NaiveDate>> {
        self.take(key, "a date without quotes", "2026-10-14", local_date)
    }

    /// A date, or `word` in its place, which gives `None`.
    pub fn date_or(&self, key: &str, word: &str) -> Option<Found<Option<NaiveDate>>> {
        let wanted = format!("a date without quotes or \"{word}\"");
        self.take(key, &wanted, "2026-10-14", |value| match value {
            DeValue::String(text) => (*text == word).then_some(None),
            _ => local_date(value).map(Some),
        })
    }

    pub fn times(&self, key: &str) -> Option<Vec<Found<NaiveTime>>> {
        self.items(key, "a list of times", "[07:30, 22:00]", local_time)
    }

    pub fn dates(&self, key: &str) -> Option<Vec<Found<NaiveDate>>> {
        self.items(key, "a list of dates", "[2026-12-24]", local_date)
    }

    pub fn texts(&self, key: &str) -> Vec<Found<String>> {
        let mut texts = self
            .items(key, "a list of texts", "[\"...\"]", |value| match value {
                DeValue::String(text) => Some(text.to_string()),
                _ => None,
            })
            .unwrap_or_default();
        texts.retain(|text| match check_text(self.source, text) {
            Ok(()) => true,
            Err(fault) => {
                self.fault(fault);
                false
            }
        });
        texts
    }

    fn items<T>(
        &self,
        key: &str,
        wanted: &str,
        example: &str,
        convert: impl Fn(&DeValue<'a>) -> Option<T>,
    ) -> Option<Vec<Found<T>>> {
        let list = self.take(key, wanted, example, |value| match value {
            DeValue::Array(items) => items
                .iter()
                .map(|item| {
                    convert(item.get_ref()).map(|value| Found {
                        value,
                        span: item.span(),
                        field: self.name(key),
                    })
                })
                .collect(),
            _ => None,
        })?;
        Some(list.value)
    }

    /// One of `choices`, each a word and what it stands for.
    pub fn choice<T: Copy>(&self, key: &str, choices: &[(&str, T)]) -> Option<Found<T>> {
        let word = self.text(key)?;
        if let Some((_, value)) = choices.iter().find(|(name, _)| *name == word.value) {
            return Some(word.map(|_| *value));
        }
        let known: Vec<&str> = choices.iter().map(|(name, _)| *name).collect();
        let help = match known.as_slice() {
            [only] => format!("write {key} = \"{only}\", or leave it out"),
            _ => crate::fault::suggest(&word.value, &known),
        };
        let what = format!("`{key}` cannot be `{}`", visible(&word.value));
        self.fault(word.fault(self.source, what, help));
        None
    }

    /// Passes `found` on, and makes its absence a fault.
    pub fn require<T>(
        &self,
        key: &str,
        example: &str,
        found: Option<Found<T>>,
    ) -> Option<Found<T>> {
        if found.is_none() && !self.has(key) {
            self.missing(key, example);
        }
        found
    }

    /// A fault that there is no table `key`, with the keys that it has to have.
    pub fn missing_table(&self, key: &str, keys: &str) {
        self.absent(
            key,
            format!("start it with a line of its own: [{key}], and below it {keys}"),
        );
    }

    pub fn missing(&self, key: &str, example: &str) {
        self.absent(key, format!("add a line like this: {key} = {example}"));
    }

    fn absent(&self, key: &str, help: String) {
        let place = if self.path.is_empty() {
            "the file".to_owned()
        } else {
            format!("`[{}]`", self.path)
        };
        self.fault(Fault::new(format!("{place} has no `{key}`"), help).at(
            self.source,
            self.span(),
            self.name(key),
        ));
    }

    /// Whether there is such a key, even one whose line could not be read.
    pub fn has(&self, key: &str) -> bool {
        let is_lost = |lost: &Lost| lost.key == key && lost.table == self.span.start;
        self.table.contains_key(key) || self.lost.iter().any(is_lost)
    }

    /// The table `key`, read by `read`; unknown keys in it are faults.
    pub fn table<T>(&self, key: &str, read: impl FnOnce(&Fields) -> T) -> Option<T> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::Table(table) => {
                Some(self.read_inner(table, self.name(key), value.span(), read))
            }
            other => {
                self.wrong_shape(key, value.span(), Shape::Table, kind(other));
                None
            }
        }
    }

    /// Each table of the list `key`, read by `read`.
    pub fn tables<T>(&self, key: &str, read: impl Fn(&Fields) -> T) -> Vec<T> {
        let Some(value) = self.get(key) else { return Vec::new() };
        let DeValue::Array(items) = value.get_ref() else {
            let found = match value.get_ref() {
                DeValue::Table(_) => "one table",
                other => kind(other),
            };
            self.wrong_shape(key, value.span(), Shape::Tables, found);
            return Vec::new();
        };
        let mut out = Vec::new();
        for (index, item) in items.iter().enumerate() {
            match item.get_ref() {
                DeValue::Table(table) => {
                    let path = format!("{}[{}]", self.name(key), index + 1);
                    out.push(self.read_inner(table, path, item.span(), &read));
                }
                other => self.wrong_shape(key, item.span(), Shape::Tables, kind(other)),
            }
        }
        out
    }

    /// The keys of this table, for tables whose keys are not fixed. One that no text
    /// may be is a fault.
    pub fn keys(&self) -> Vec<Found<String>> {
        let mut keys: Vec<Found<String>> = self
            .table
            .keys()
            .map(|key| Found {
                value: key.get_ref().to_string(),
                span: key.span(),
                field: self.name(key.get_ref()),
            })
            .collect();
        keys.retain(|key| match check_key(self.source, key) {
            Ok(()) => true,
            Err(fault) => {
                self.asked.borrow_mut().push(key.value.clone());
                self.fault(fault);
                false
            }
        });
        keys
    }

    fn read_inner<T>(
        &self,
        table: &DeTable,
        path: String,
        span: Range<usize>,
        read: impl FnOnce(&Fields) -> T,
    ) -> T {
        let fields = Fields {
            source: self.source,
            table,
            path,
            span,
            lost: self.lost,
            faults: self.faults,
            asked: RefCell::default(),
        };
        let value = read(&fields);
        fields.finish();
        value
    }

    fn wrong_shape(&self, key: &str, span: Range<usize>, wanted: Shape, found: &str) {
        let shown = visible(key);
        let (wanted, heading) = match wanted {
            Shape::Table => {
                ("a table", format!("start it with a line of its own: [{shown}]"))
            }
            Shape::Tables => (
                "a list of tables",
                format!("start each with a line of its own: [[{shown}]]"),
            ),
        };
        let what = format!("`{shown}` must be {wanted}, not {found}");
        self.fault(Fault::new(what, heading).at(self.source, span, self.name(key)));
    }

    /// Makes every key that nobody asked for a fault.
    fn finish(&self) {
        let asked = self.asked.borrow();
        for key in self.table.keys() {
            let word = key.get_ref().as_ref();
            if asked.iter().any(|known| known == word) {
                continue;
            }
            let known: Vec<&str> = asked.iter().map(String::as_str).collect();
            let help = match nearest(word, known.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("the keys here are: {}", known.join(", ")),
            };
            let shown: String = word.escape_debug().take(60).collect();
            self.fault(Fault::new(format!("unknown key `{shown}`"), help).at(
                self.source,
                key.span(),
                self.name(&shown),
            ));
        }
    }
}

/// The longest key of a table whose keys are not fixed, in characters.
const LONGEST_KEY: usize = 40;

/// Refuses a key that is no name.
fn check_key(source: &Arc<Source>, key: &Found<String>) -> Result<(), Fault> {
    check_text(source, key)?;
    if (1..=LONGEST_KEY).contains(&key.value.trim().chars().count()) {
        return Ok(());
    }
    Err(key.fault(
        source,
        format!("a name here is empty or longer than {LONGEST_KEY} characters"),
        "give it a short name, in quotes if it holds more than letters and figures",
    ))
}

/// Refuses characters that could hide in, reorder or break a printed line.
fn check_text(source: &Arc<Source>, text: &Found<String>) -> Result<(), Fault> {
    let marks = most_marks(&text.value);
    if marks > MOST_MARKS {
        return Err(text.fault(
            source,
            format!(
                "`{}` has {marks} marks on one letter, more than {MOST_MARKS}",
                text.field
            ),
            "type the text again by hand, with the accents that it needs",
        ));
    }
    let Some(bad) = text.value.chars().find(|c| forbidden(*c)) else { return Ok(()) };
    let kind = if bad.is_control() {
        "a control character"
    } else {
        "an invisible character that can hide or reorder text"
    };
    Err(text.fault(
        source,
        format!("`{}` holds {kind}, U+{:04X}", text.field, u32::from(bad)),
        "type the text again by hand; it may have been pasted with hidden characters",
    ))
}

/// Refuses a word that no line can hold.
pub fn check_words(source: &Arc<Source>, text: &Found<String>) -> Result<(), Fault> {
    if text.value.len() <= LONGEST_WORD {
        return Ok(());
    }
    // Lines break at these, and between letters of scripts that set no spaces.
    let breaks = |c: char| {
        c.is_whitespace() || matches!(c, '-' | '‐' | '–' | '/') || c >= '\u{2E80}'
    };
    let words = text.value.split(breaks).map(|word| word.chars().count());
    let Some(longest) = words.max().filter(|longest| *longest > LONGEST_WORD) else {
        return Ok(());
    };
    Err(text.fault(
        source,
        format!(
            "`{}` has a word of {longest} characters, more than {LONGEST_WORD}",
            text.field
        ),
        "set a space or a hyphen where the word may go on in the next line",
    ))
}

/// The most combining marks that follow each other.
fn most_marks(text: &str) -> usize {
    let (mut most, mut marks) = (0, 0);
    for c in text.chars() {
        marks = if is_combining_mark(c) { marks + 1 } else { 0 };
        most = most.max(marks);
    }
    most
}

/// Control, bidirectional-control, zero-width, private-use and unassigned-like
/// characters. The bidirectional controls are those of Unicode Standard Annex
/// 9, section 2; the rest is common practice, no source.
pub(crate) fn forbidden(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{00AD}' | '\u{034F}' | '\u{061C}' | '\u{115F}' | '\u{1160}'
            | '\u{17B4}' | '\u{17B5}' | '\u{180B}'..='\u{180F}'
            | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}'
            | '\u{2060}'..='\u{206F}' | '\u{3164}' | '\u{FE00}'..='\u{FE0F}'
            | '\u{FDD0}'..='\u{FDEF}' | '\u{FEFF}' | '\u{FFA0}'
            | '\u{FFF0}'..='\u{FFFF}'
            | '\u{E000}'..='\u{F8FF}' | '\u{E0000}'..='\u{10FFFF}')
}

fn kind(value: &DeValue) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a decimal number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(stamp) => match (stamp.date.is_some(), stamp.time.is_some()) {
            (true, true) => "a date and time",
            (true, false) => "a date",
            _ => "a time",
        },
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// A local time in whole minutes; seconds other than zero are not a clock time
/// anybody sets an alarm for.
fn local_time(value: &DeValue) -> Option<NaiveTime> {
    let DeValue::Datetime(stamp) = value else { return None };
    if stamp.date.is_some() || stamp.offset.is_some() {
        return None;
    }
    let time = stamp.time?;
    if time.second.unwrap_or(0) != 0 || time.nanosecond.unwrap_or(0) != 0 {
        return None;
    }
    NaiveTime::from_hms_opt(time.hour.into(), time.minute.into(), 0)
}

fn local_date(value: &DeValue) -> Option<NaiveDate> {
    let DeValue::Datetime(stamp) = value else { return None };
    if stamp.time.is_some() || stamp.offset.is_some() {
        return None;
    }
    let date = stamp.date?;
    NaiveDate::from_ymd_opt(date.year.into(), date.month.into(), date.day.into())
}

/// `text`, a decimal number with at most three places, in thousandths.
pub fn parse_thousandths(text: &str) -> Option<i64> {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    let (sign, whole) = match whole.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, whole),
    };
    if !digits(whole) || whole.len() > 9 || part.len() > 3 {
        return None;
    }
    if !part.is_empty() && !digits(part) || text.ends_with('.') {
        return None;
    }
    let thousandths: i64 = format!("{part:0<3}").parse().ok()?;
    Some(sign * (whole.parse::<i64>().ok()? * 1000 + thousandths))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_read_exactly() {
        for (text, want) in [
            ("150", Some(150_000)),
            ("68.5", Some(68_500)),
            ("0.125", Some(125)),
            ("-3.97", Some(-3_970)),
            ("1.", None),
            (".5", None),
            ("1e5", None),
            ("1.2345", None),
            ("", None),
            ("999999999.999", Some(999_999_999_999)),
            ("9999999999", None),
            // Weights are read from texts, where anything may stand.
            ("+150", None),
            ("150.-5", None),
            ("150.+5", None),
            ("--5", None),
        ] {
            assert_eq!(parse_thousandths(text), want, "{text}");
        }
    }

    /// The largest file is common practice, no source.
    #[test]
    fn a_file_is_read_or_there_is_a_fault() {
        let read = |text: &str, value: Option<()>| {
            read_file(&Source::new("x.toml", text), |_| value)
        };
        assert!(read("", Some(())).is_ok());
        assert_eq!(read("", None).unwrap_err().len(), 1);
        let mut text = format!("#{}", "x".repeat(MAX_BYTES - 1));
        assert!(read(&text, Some(())).is_ok());
        text += &"x".repeat(1024);
        let faults = read(&text, Some(())).unwrap_err();
        assert_eq!(faults[0].what, "the file has 257 kB, more than 256 kB");
    }

    #[test]
    fn hidden_characters_are_refused_and_accents_are_not() {
        for c in ['\u{202E}', '\u{200B}', '\u{0007}', '\u{FEFF}', '\u{E000}', '\n'] {
            assert!(forbidden(c), "U+{:04X}", u32::from(c));
        }
        for c in "ÁñøÅłßŐ’-. '\u{0301}李م".chars() {
            assert!(!forbidden(c), "{c}");
        }
    }
}
