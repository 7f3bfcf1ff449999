//! Places of cells in a workbook's XML, looked at before a library counts with them.
//!
//! The library adds up the letters and figures of a place in 32 bits. One that is too
//! long comes round to another cell, and nothing says so.

/// The most letters and figures of a place; the last cell of a sheet is `XFD1048576`.
const LETTERS: usize = 3;
const FIGURES: usize = 7;

/// The longest place that is kept to be shown.
const LONGEST: usize = 80;

/// Tags whose attributes `r` and `ref` are places. Others have an `r`, too: it is a
/// margin in drawings.
const TAGS: &[&[u8]] = &[b"row", b"c", b"f", b"dimension", b"mergeCell", b"table"];

/// Looks for a place that no sheet has in the XML that is written to it.
#[derive(Default)]
pub(super) struct Places {
    state: State,
    /// What was read of a name or of a value.
    word: Vec<u8>,
    /// A space stands after the name.
    ended: bool,
    /// The name is the tag's own.
    is_tag: bool,
    /// The tag is one of [`TAGS`].
    has_places: bool,
    /// The first place that is none.
    pub wrong: Option<String>,
}

#[derive(Clone, Copy, Default)]
enum State {
    #[default]
    Text,
    /// After `<`.
    Opened,
    /// In a comment or an instruction.
    Aside,
    /// In a tag, outside quotation marks.
    Tag,
    /// In quotation marks of this kind.
    Value(u8),
    /// The same, where a place stands.
    Place(u8),
}

impl Places {
    fn byte(&mut self, byte: u8) {
        self.state = match (self.state, byte) {
            (State::Text, b'<') => {
                self.word.clear();
                (self.ended, self.is_tag, self.has_places) = (false, true, false);
                State::Opened
            }
            (State::Text, _) => State::Text,
            (State::Opened, b'!' | b'?') => State::Aside,
            (State::Opened | State::Tag | State::Aside, b'>') => State::Text,
            (State::Aside, _) => State::Aside,
            (State::Tag, b'"' | b'\'')
                if self.has_places && matches!(&*self.word, b"r" | b"ref") =>
            {
                self.word.clear();
                State::Place(byte)
            }
            (State::Tag, b'"' | b'\'') => State::Value(byte),
            (State::Tag | State::Opened, byte) => {
                self.name(byte);
                State::Tag
            }
            (State::Value(mark), byte) if byte == mark => State::Tag,
            (State::Place(mark), byte) if byte == mark => {
                self.end();
                State::Tag
            }
            (State::Place(_), byte) if self.word.len() < LONGEST => {
                self.word.push(byte);
                self.state
            }
            (State::Value(_) | State::Place(_), _) => self.state,
        };
    }

    fn name(&mut self, byte: u8) {
        match byte {
            b' ' | b'\t' | b'\r' | b'\n' => {
                if std::mem::take(&mut self.is_tag) {
                    // Without the name of its space.
                    let name = self.word.rsplit(|byte| *byte == b':').next();
                    self.has_places = name.is_some_and(|name| TAGS.contains(&name));
                }
                self.ended = true;
            }
            b'=' => {}
            byte => {
                if std::mem::take(&mut self.ended) {
                    self.word.clear();
                }
                if self.word.len() < LONGEST {
                    self.word.push(byte);
                }
            }
        }
    }

    fn end(&mut self) {
        if self.wrong.is_none() && !is_area(&self.word) {
            self.wrong = Some(String::from_utf8_lossy(&self.word).into_owned());
        }
        self.word.clear();
    }
}

/// Whether this is a place, or two with a colon between them of which the first is
/// neither below nor to the right of the other. What has other characters is not
/// counted with, so it is the library's to refuse.
fn is_area(word: &[u8]) -> bool {
    if !word.iter().all(|byte| byte.is_ascii_alphanumeric() || *byte == b':') {
        return true;
    }
    let places: Option<Vec<(u64, u64)>> =
        word.split(|byte| *byte == b':').map(place).collect();
    match places.as_deref() {
        Some([_]) => true,
        Some([first, last]) => first.0 <= last.0 && first.1 <= last.1,
        _ => false,
    }
}

/// Column and row of some letters and then some figures, as `B7`, `7` or `B`; 0 where
/// there are none.
fn place(word: &[u8]) -> Option<(u64, u64)> {
    let letters = word.iter().take_while(|byte| byte.is_ascii_alphabetic()).count();
    let (letters, figures) = word.split_at(letters);
    let all_figures = figures.iter().all(u8::is_ascii_digit);
    if letters.len() > LETTERS || figures.len() > FIGURES || !all_figures {
        return None;
    }
    let column = letters.iter().fold(0, |column, letter| {
        column * 26 + u64::from(letter.to_ascii_uppercase() - b'A') + 1
    });
    let row = figures.iter().fold(0, |row, figure| row * 10 + u64::from(figure - b'0'));
    Some((column, row))
}

impl std::io::Write for Places {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        bytes.iter().for_each(|byte| self.byte(*byte));
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use super::*;

    fn wrong(xml: &str) -> Option<String> {
        let mut places = Places::default();
        places.write_all(xml.as_bytes()).unwrap();
        places.wrong
    }

    #[test]
    fn a_place_that_no_sheet_has_is_found() {
        for xml in [
            "<c r=\"A1\"/><c t=\"s\" r='XFD1048576'/><row r=\"1\" spans=\"1:99999999999\"/>",
            "<dimension ref=\"A1:XFD1048576\"/><mergeCell ref=\"A:B\"/><a r:id=\"rId99999999\"/>",
            "<t>say r=\"x\" or r = \"</t><c a=\"r='\" r=\"B2\"/><!-- <c r=\"1A\"/> -->",
            "<a:fillToRect r=\"12345678\"/><item ref=\"a-1\"/><c r=\"$A1\"/>",
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
        ] {
            assert_eq!(wrong(xml).as_deref(), Some(place), "{xml}");
        }
    }
}
