//! Writes the chosen date into the text of an order.
//!
//! The text is cut at the places the reader gave and is otherwise kept byte for
//! byte, as it travels in the PDF. The editing library was tried: it joins
//! dotted keys that stand apart and turns the line ends of Windows into others.

use std::sync::Arc;

use chrono::NaiveDate;

use crate::fault::Source;
use crate::fields::Found;

/// The order's text with `date` in the place of `asked`, the wish for the first
/// suitable day, and `from`, the day after which the program looked, in a line
/// of its own above it.
pub fn with_start(
    source: &Source,
    asked: &Found<()>,
    date: NaiveDate,
    from: NaiveDate,
) -> Arc<Source> {
    let text = &source.text;
    // TOML lets nothing but its key stand before a value on its line.
    let (before, after) = (&text[..asked.span.start], &text[asked.span.end..]);
    let line = before.rfind('\n').map_or(0, |end| end + 1);
    let (above, key) = before.split_at(line);
    let end = if after.contains("\r\n") { "\r\n" } else { "\n" };
    let from = format!("first_suitable_from = {from}{end}");
    Arc::new(Source {
        text: format!("{above}{from}{key}{date}{after}"),
        ..Source::clone(source)
    })
}
