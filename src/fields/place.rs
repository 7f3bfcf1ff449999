//! Where in a TOML text the value of a field stands.
//!
//! For faults that are found long after a file was read. The text is parsed
//! again, since a value can be written in ways that a search does not find, such
//! as `"\u738B"`, and can stand in a comment, too.

use std::ops::Range;

use toml::de::{DeTable, DeValue};

/// The place in `text` of the value of `field`, named as [`super::Fields`] names
/// it: `patient.family`, `dose[2].note`, `address[1]`. The start of the text if
/// the field is not in it.
pub fn span_of(text: &str, field: &str) -> Range<usize> {
    let (top, _) = DeTable::parse_recoverable(text);
    find(top.get_ref(), field).unwrap_or(0..0)
}

fn find(table: &DeTable, field: &str) -> Option<Range<usize>> {
    let (step, rest) = match field.split_once('.') {
        Some((step, rest)) => (step, Some(rest)),
        None => (field, None),
    };
    let (key, number) = match step.strip_suffix(']').and_then(|s| s.split_once('[')) {
        Some((key, number)) => (key, Some(number.parse::<usize>().ok()?)),
        None => (step, None),
    };
    let mut value = table.get(key)?;
    if let Some(number) = number {
        let DeValue::Array(items) = value.get_ref() else { return None };
        value = items.get(number.checked_sub(1)?)?;
    }
    match (rest, value.get_ref()) {
        (None, _) => Some(value.span()),
        (Some(rest), DeValue::Table(table)) => find(table, rest),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_is_found_however_its_table_is_written() {
        let text = "a = [\"x\", \"y\"]\nb.c = \"z\"\n[d]\ne = { f = \"\\u738B\" }\n\
                    [[g]]\nh = 1\n[[g]]\nh = 2 # h = 3\n";
        for (field, want) in [
            ("a[2]", "\"y\""),
            ("b.c", "\"z\""),
            ("d.e.f", "\"\\u738B\""),
            ("g[2].h", "2"),
        ] {
            assert_eq!(&text[span_of(text, field)], want, "{field}");
        }
        for field in ["", "z", "a[0]", "a[3]", "a[x]", "b.c.d", "g.h", "g[3].h"] {
            assert_eq!(span_of(text, field), 0..0, "{field}");
        }
    }
}
