//! Changes single values in the text of an order.
//!
//! The text is cut at the places of the values and is otherwise kept byte for
//! byte, comments and line ends included, as it travels in the PDF.

use std::sync::Arc;

use chrono::{NaiveDate, NaiveTime};
use toml::de::{DeTable, DeValue};

use crate::fault::Source;

/// What of an order is to be changed: `None` leaves it as it is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Change {
    pub family: Option<String>,
    pub given: Option<String>,
    pub born: Option<NaiveDate>,
    /// As an order writes it: `150 lb`.
    pub weight: Option<String>,
    pub start: Option<NaiveDate>,
    pub lunch: Option<NaiveTime>,
    pub dinner: Option<NaiveTime>,
    pub bedtime: Option<NaiveTime>,
    pub wake: Option<NaiveTime>,
}

impl Change {
    pub fn is_none(&self) -> bool {
        *self == Self::default()
    }
}

/// The order's text with `change` in it. The text must be an order that can be
/// read.
pub fn changed(source: &Source, change: &Change) -> Arc<Source> {
    let mut text = source.text.clone();
    if let Some(start) = change.start {
        // The program did not choose the new day.
        text = without(&text, None, "first_suitable_from");
        text = with_value(&text, None, "start", &start.to_string());
    }
    if change.weight.is_some() {
        // That day was of the weight before.
        text = without(&text, Some("patient"), "weighed");
    }
    let quoted = |text: &Option<String>| {
        text.as_ref().map(|text| toml_edit::value(text).to_string())
    };
    let wall =
        |time: Option<NaiveTime>| time.map(|time| time.format("%H:%M").to_string());
    for (table, key, value) in [
        ("patient", "family", quoted(&change.family)),
        ("patient", "given", quoted(&change.given)),
        ("patient", "born", change.born.map(|date| date.to_string())),
        ("patient", "weight", quoted(&change.weight)),
        ("routine", "lunch", wall(change.lunch)),
        ("routine", "dinner", wall(change.dinner)),
        ("routine", "bedtime", wall(change.bedtime)),
        ("routine", "wake", wall(change.wake)),
    ] {
        if let Some(value) = value {
            text = with_value(&text, Some(table), key, &value);
        }
    }
    Arc::new(Source { text, ..source.clone() })
}

/// `text` with `value` for `key` of `table`, or of the head of the file.
fn with_value(text: &str, table: Option<&str>, key: &str, value: &str) -> String {
    let end = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let (top, _) = DeTable::parse_recoverable(text);
    let top = top.get_ref();
    let insert = |at: usize, new: &str| format!("{}{new}{}", &text[..at], &text[at..]);
    let Some(name) = table else {
        return match top.get(key) {
            Some(old) => replaced(text, old.span(), value),
            None => insert(0, &format!("{key} = {value}{end}")),
        };
    };
    let Some(found) = top.get(name) else {
        let gap = if text.ends_with('\n') { "" } else { end };
        return format!("{text}{gap}{end}[{name}]{end}{key} = {value}{end}");
    };
    let DeValue::Table(fields) = found.get_ref() else { return text.to_owned() };
    if let Some(old) = fields.get(key) {
        return replaced(text, old.span(), value);
    }
    let span = found.span();
    match text.as_bytes().get(span.start) {
        // An inline table.
        Some(b'{') if fields.is_empty() => {
            insert(span.start + 1, &format!(" {key} = {value} "))
        }
        Some(b'{') => insert(span.start + 1, &format!(" {key} = {value},")),
        // A header: the new line is the first under it.
        Some(b'[') => {
            let rest = &text[span.start..];
            match rest.find('\n') {
                Some(line) => {
                    insert(span.start + line + 1, &format!("{key} = {value}{end}"))
                }
                None => format!("{text}{end}{key} = {value}{end}"),
            }
        }
        // Dotted keys in the head of the file.
        _ => insert(0, &format!("{name}.{key} = {value}{end}")),
    }
}

/// `text` without `key` of `table`, or of the head of the file; with its line, but in
/// an inline table.
fn without(text: &str, table: Option<&str>, key: &str) -> String {
    let (top, _) = DeTable::parse_recoverable(text);
    let mut fields = top.get_ref();
    let mut is_inline = false;
    if let Some(name) = table {
        let Some(found) = fields.get(name) else { return text.to_owned() };
        let DeValue::Table(inner) = found.get_ref() else { return text.to_owned() };
        is_inline = text[found.span().start..].starts_with('{');
        fields = inner;
    }
    let Some((name, value)) = fields.get_key_value(key) else { return text.to_owned() };
    let (before, after) = (&text[..name.span().start], &text[value.span().end..]);
    let (start, end) = if is_inline {
        // With the comma after it, or as the last with the one before it.
        match after.trim_start().strip_prefix(',') {
            Some(rest) => (before.trim_end().len(), text.len() - rest.len()),
            None => {
                let before = before.trim_end();
                (before.strip_suffix(',').unwrap_or(before).len(), value.span().end)
            }
        }
    } else {
        let start = before.rfind('\n').map_or(0, |end| end + 1);
        let line = after.find('\n').map_or(text.len(), |at| value.span().end + at + 1);
        (start, line)
    };
    format!("{}{}", &text[..start], &text[end..])
}

fn replaced(text: &str, span: std::ops::Range<usize>, value: &str) -> String {
    format!("{}{value}{}", &text[..span.start], &text[span.end..])
}

#[cfg(test)]
mod tests {
    use super::*;

    const CHANGE: Change = Change {
        family: None,
        given: None,
        born: None,
        weight: None,
        start: NaiveDate::from_ymd_opt(2026, 10, 21),
        lunch: None,
        dinner: None,
        bedtime: NaiveTime::from_hms_opt(23, 15, 0),
        wake: NaiveTime::from_hms_opt(6, 0, 0),
    };

    #[track_caller]
    fn case(why: &str, text: &str, wanted: &str) {
        let source = Source::new("order.toml", text);
        assert_eq!(changed(&source, &CHANGE).text, wanted, "{why}");
    }

    #[test]
    fn names_are_quoted_as_they_must_be() {
        let change = Change {
            family: Some("O'Hara \"Bo\" \\ #1".into()),
            born: NaiveDate::from_ymd_opt(1984, 3, 9),
            weight: Some("68 kg".into()),
            ..Change::default()
        };
        let source = Source::new("order.toml", "[patient] # who\nfamily = \"Ohara\"\n");
        let text = &changed(&source, &change).text;
        let read: toml_edit::DocumentMut = text.parse().unwrap();
        let patient = &read["patient"];
        assert_eq!(patient["family"].as_str(), change.family.as_deref(), "{text}");
        assert_eq!(patient["weight"].as_str(), Some("68 kg"), "{text}");
        assert!(text.contains("\nborn = 1984-03-09\n"), "{text}");
        assert!(text.starts_with("[patient] # who\n"), "{text}");
    }

    #[test]
    fn a_new_weight_takes_the_day_of_the_old_one_away() {
        let change = Change { weight: Some("68 kg".into()), ..Change::default() };
        for (text, wanted) in [
            (
                "[patient]\nweighed = 2026-09-30 # at the practice\nweight = \"80 kg\"\n",
                "[patient]\nweight = \"68 kg\"\n",
            ),
            (
                "patient.weight = \"80 kg\"\r\npatient.weighed = 2026-09-30\r\n",
                "patient.weight = \"68 kg\"\r\n",
            ),
            (
                "patient = { weighed = 2026-09-30, weight = \"80 kg\" }\n",
                "patient = { weight = \"68 kg\" }\n",
            ),
            (
                "patient = { weight = \"80 kg\", weighed = 2026-09-30 }\n",
                "patient = { weight = \"68 kg\" }\n",
            ),
            (
                "patient = { weight = \"80 kg\", # then, home\n weighed = 2026-09-30\n }\n",
                "patient = { weight = \"68 kg\", # then, home\n }\n",
            ),
            (
                "weighed = 1\n[patient]\nweight = \"80 kg\"\n",
                "weighed = 1\n[patient]\nweight = \"68 kg\"\n",
            ),
        ] {
            assert_eq!(changed(&Source::new("order.toml", text), &change).text, wanted);
        }
    }

    #[test]
    fn values_are_changed_and_all_else_is_kept() {
        case(
            "values that are there",
            "start = 2026-10-14 # day\n[routine]\nbedtime=22:30  # late\nwake = 06:30\n",
            "start = 2026-10-21 # day\n[routine]\nbedtime=23:15  # late\nwake = 06:00\n",
        );
        case(
            "values that are missing, line ends of Windows",
            "order = \"A-100\"\r\n[routine]\r\ndinner = 18:00\r\n",
            "start = 2026-10-21\r\norder = \"A-100\"\r\n[routine]\r\nwake = 06:00\r\n\
             bedtime = 23:15\r\ndinner = 18:00\r\n",
        );
        case(
            "no routine at all",
            "start = 2026-10-14",
            "start = 2026-10-21\n\n[routine]\nwake = 06:00\nbedtime = 23:15\n",
        );
        case(
            "a day that the program chose",
            "first_suitable_from = 2026-10-01\nstart = 2026-10-14\nroutine.wake = 06:30\n",
            "routine.bedtime = 23:15\nstart = 2026-10-21\nroutine.wake = 06:00\n",
        );
        case(
            "an inline table",
            "start = 2026-10-14\nroutine = { wake = 06:30 }\n",
            "start = 2026-10-21\nroutine = { bedtime = 23:15, wake = 06:00 }\n",
        );
        case(
            "an empty inline table",
            "start = 2026-10-14\nroutine = {}\n",
            "start = 2026-10-21\nroutine = { wake = 06:00, bedtime = 23:15 }\n",
        );
        case(
            "a day that the program chose, in the midst of others, with a comment",
            "order = \"A-100\"\nfirst_suitable_from = 2026-10-01 # so\nstart = 2026-10-14\n\
             routine.wake = 06:30\n",
            "routine.bedtime = 23:15\norder = \"A-100\"\nstart = 2026-10-21\n\
             routine.wake = 06:00\n",
        );
        case(
            "dotted keys",
            "start = 2026-10-14\nroutine.wake = 06:30\n",
            "routine.bedtime = 23:15\nstart = 2026-10-21\nroutine.wake = 06:00\n",
        );
    }
}
