//! Places of cells in a workbook's XML, looked at before a library counts with them.
//!
//! The library adds up the letters and figures of a place in 32 bits. One that is too
//! long comes round to another cell, and nothing says so. The XML is taken apart by the
//! reader that the library uses, set as it sets it, so that nothing can be text to one
//! and a tag to the other.

use std::io::BufRead;

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

/// The most letters and figures of a place; the last cell of a sheet is `XFD1048576`.
const LETTERS: usize = 3;
const FIGURES: usize = 7;

/// Tags whose attributes `r` and `ref` are places. Others have an `r`, too: it is a
/// margin in drawings.
const TAGS: &[&str] = &["row", "c", "f", "dimension", "mergeCell", "table"];

/// The first place in some XML that no sheet has. What is no XML is not looked at: the
/// library reads no further, either.
pub(super) fn wrong_place(xml: impl BufRead) -> Option<String> {
    let mut reader = reader(xml);
    let mut buffer = Vec::new();
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer) {
            Ok(Event::Start(tag)) => {
                if let Some(place) = wrong_place_of(&tag) {
                    return Some(place);
                }
            }
            Ok(Event::Eof) | Err(_) => return None,
            Ok(_) => {}
        }
    }
}

/// A reader of XML that is set as the library sets its own.
pub(super) fn reader<R: BufRead>(xml: R) -> Reader<R> {
    let mut reader = Reader::from_reader(xml);
    let config = reader.config_mut();
    config.check_end_names = false;
    config.check_comments = false;
    config.expand_empty_elements = true;
    reader
}

fn wrong_place_of(tag: &BytesStart) -> Option<String> {
    if !TAGS.contains(&tag.local_name().as_ref()) {
        return None;
    }
    let mut places =
        attributes(tag.attributes_raw()).filter(|(name, _)| matches!(*name, "r" | "ref"));
    places.find(|(_, place)| !is_area(place)).map(|(_, place)| place.to_owned())
}

/// Names and values of a tag, divided as the library divides them and not as the
/// standard has it: a name goes on to the next equals sign, whatever it holds.
pub(super) fn attributes(mut rest: &str) -> impl Iterator<Item = (&str, &str)> {
    std::iter::from_fn(move || {
        let (name, after) = rest.split_once('=')?;
        let after = after.trim_ascii_start();
        let mark = after.chars().next().filter(|c| matches!(c, '"' | '\''))?;
        let (value, next) = after[1..].split_once(mark).unwrap_or((&after[1..], ""));
        rest = next;
        Some((name.trim_ascii(), value))
    })
}

/// Whether this is a place, or two with a colon between them of which the first is
/// neither below nor to the right of the other. From another character on nothing is
/// counted with, so that it is the library's to refuse.
fn is_area(value: &str) -> bool {
    let is_counted = |c: char| c.is_ascii_alphanumeric() || c == ':';
    let counted = value.split(|c| !is_counted(c)).next().unwrap_or_default();
    let places: Option<Vec<(u64, u64)>> = counted.split(':').map(place).collect();
    match places.as_deref() {
        Some([_]) => true,
        Some([first, last]) => {
            counted.len() < value.len() || (first.0 <= last.0 && first.1 <= last.1)
        }
        _ => false,
    }
}

/// Column and row of some letters and then some figures, as `B7`, `7` or `B`; 0 where
/// there are none.
pub(super) fn place(word: &str) -> Option<(u64, u64)> {
    let letters = word.bytes().take_while(u8::is_ascii_alphabetic).count();
    let (letters, figures) = word.split_at(letters);
    let all_figures = figures.bytes().all(|byte| byte.is_ascii_digit());
    if letters.len() > LETTERS || figures.len() > FIGURES || !all_figures {
        return None;
    }
    let column = letters.bytes().fold(0, |column, letter| {
        column * 26 + u64::from(letter.to_ascii_uppercase() - b'A') + 1
    });
    let row = figures.bytes().fold(0, |row, figure| row * 10 + u64::from(figure - b'0'));
    Some((column, row))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wrong(xml: &str) -> Option<String> {
        wrong_place(xml.as_bytes())
    }

    #[test]
    fn a_place_that_no_sheet_has_is_found() {
        for xml in [
            "<c r=\"A1\"/><c t=\"s\" r='XFD1048576'/><row r=\"1\" spans=\"1:99999999999\"/>",
            "<dimension ref=\"A1:XFD1048576\"/><mergeCell ref=\"A:B\"/><a r:id=\"rId99999999\"/>",
            "<t>say r=\"x\" or r = \"</t><c a=\"r='\" r=\"B2\"/><!-- <c r=\"1A\"/> -->",
            "<a:fillToRect r=\"12345678\"/><item ref=\"a-1\"/><c r=\"$A1\"/>",
            "no XML <",
        ] {
            assert_eq!(wrong(xml), None, "{xml}");
        }
        for (xml, place) in [
            ("<c r=\"A4294967297\"/>", "A4294967297"),
            ("<c\n r = 'AAAA1'/>", "AAAA1"),
            ("<x:mergeCell ref=\"A1:A99999999\"/>", "A1:A99999999"),
            ("<c r=\"A1\"/><c r=\"1A\"/>", "1A"),
            ("<mergeCell ref=\"A4:B2\"/>", "A4:B2"),
            ("<mergeCell ref=\"AA1:Z2\"/>", "AA1:Z2"),
            ("<dimension ref=\"A1:B2:C3\"/>", "A1:B2:C3"),
            ("<dimension ref=\"AAAAAAAA -\"/>", "AAAAAAAA -"),
        ] {
            assert_eq!(wrong(xml).as_deref(), Some(place), "{xml}");
        }
    }

    #[test]
    fn a_place_cannot_hide_behind_a_quotation_mark() {
        for before in [
            "<!-- ><a \" -->",
            "<![CDATA[ ><a \" ]]>",
            "<?x ><a \" ?>",
            "<a>'</a><b c='\"'/>",
        ] {
            let xml = format!("{before}<c s=\"1\" x y=\"2\" r=\"A4294967297\"/>");
            assert_eq!(wrong(&xml).as_deref(), Some("A4294967297"), "{xml}");
        }
    }
}
