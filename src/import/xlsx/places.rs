//! Places of cells in a workbook's XML, looked at before a library counts with them.
//!
//! The library adds up the letters and figures of a place in 32 bits. One that is too
//! long comes round to another cell, and nothing says so.

/// The most letters and figures of a place; the last cell of a sheet is `XFD1048576`.
const LETTERS: usize = 3;
const FIGURES: usize = 7;

/// The longest place that is kept to be shown.
const LONGEST: usize = 80;

/// Looks for a place that no sheet has in the attributes `r` and `ref` of the XML that
/// is written to it.
#[derive(Default)]
pub(super) struct Places {
    state: State,
    /// What was read of a name or of a value.
    word: Vec<u8>,
    /// The first place that is none.
    pub wrong: Option<String>,
}

#[derive(Clone, Copy, Default)]
enum State {
    #[default]
    Outside,
    /// After a space: a name may begin.
    Name,
    /// After the name of a place: an equals sign and a quotation mark come.
    Sign,
    /// In quotation marks of this kind.
    Value(u8),
}

impl Places {
    fn byte(&mut self, byte: u8) {
        self.state = match (self.state, byte) {
            (State::Value(mark), byte) if byte == mark => {
                self.end();
                State::Outside
            }
            (State::Value(mark), byte) => {
                if self.word.len() < LONGEST {
                    self.word.push(byte);
                }
                State::Value(mark)
            }
            (State::Sign, b' ' | b'\t' | b'\r' | b'\n' | b'=') => State::Sign,
            (State::Sign, b'"' | b'\'') => {
                self.word.clear();
                State::Value(byte)
            }
            (State::Name, b'=') if [&b"r"[..], b"ref"].contains(&&*self.word) => {
                State::Sign
            }
            (_, b' ' | b'\t' | b'\r' | b'\n') => {
                // A space may stand before the sign.
                let is_name = [&b"r"[..], b"ref"].contains(&&*self.word);
                if matches!(self.state, State::Name) && is_name {
                    State::Sign
                } else {
                    self.word.clear();
                    State::Name
                }
            }
            (State::Name, byte) if self.word.len() < LONGEST => {
                self.word.push(byte);
                State::Name
            }
            _ => State::Outside,
        };
    }

    fn end(&mut self) {
        if self.wrong.is_none() && !self.word.split(|byte| *byte == b':').all(is_place) {
            self.wrong = Some(String::from_utf8_lossy(&self.word).into_owned());
        }
        self.word.clear();
    }
}

/// Whether these are some letters and then some figures, as `B7`, `7` or `B`.
fn is_place(word: &[u8]) -> bool {
    let letters = word.iter().take_while(|byte| byte.is_ascii_alphabetic()).count();
    let figures = &word[letters..];
    letters <= LETTERS
        && figures.len() <= FIGURES
        && figures.iter().all(u8::is_ascii_digit)
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
            "<t>a r=b r = \"</t><c r=\"B2\"/>",
        ] {
            assert_eq!(wrong(xml), None, "{xml}");
        }
        for (xml, place) in [
            ("<c r=\"A4294967297\"/>", "A4294967297"),
            ("<c\n r = 'AAAA1'/>", "AAAA1"),
            ("<c r=\"&#65;1\"/>", "&#65;1"),
            ("<mergeCell ref=\"A1:A99999999\"/>", "A1:A99999999"),
            ("<c r=\"A1\"/><c r=\"1A\"/>", "1A"),
        ] {
            assert_eq!(wrong(xml).as_deref(), Some(place), "{xml}");
        }
    }
}
