//! What the PDF asks of the printer: no scaling, and both sides or one.
//!
//! The typesetter cannot say this, so it is added to its finished bytes. The catalog
//! is the last object of the file, so nothing but the table of objects, which
//! follows it, moves.
//!
//! # Source
//!
//! ISO 32000-1:2008, 7.5.4 and 7.5.5 (the table of objects, the trailer), and 12.2,
//! table 150 (from memory for the values).

use crate::fault::Fault;

/// Which sides of the paper are printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    One,
    Both,
}

impl Sides {
    /// The PDF's own word for it.
    pub fn name(self) -> &'static str {
        match self {
            Self::One => "Simplex",
            Self::Both => "DuplexFlipLongEdge",
        }
    }
}

pub(super) fn with_preferences(
    bytes: Vec<u8>,
    sides: Sides,
) -> Result<Vec<u8>, Vec<Fault>> {
    add(bytes, sides).ok_or_else(|| {
        vec![Fault::new(
            "the finished PDF could not be given its print settings",
            "this is a mistake in the program; please report it",
        )]
    })
}

/// Adds the settings; nothing if the file is not laid out as the typesetter does it.
fn add(mut bytes: Vec<u8>, sides: Sides) -> Option<Vec<u8>> {
    let end = rfind(&bytes, b"startxref\n")?;
    let tail = std::str::from_utf8(&bytes[end..]).ok()?;
    let table: usize = tail.lines().nth(1)?.parse().ok()?;
    let catalog = rfind(bytes.get(..table)?, b"<</Type/Catalog")?;
    let last = &bytes[catalog..table];
    let ends = last.windows(6).filter(|word| word == b"endobj").count();
    if ends != 1 || !bytes[table..].starts_with(b"xref\n") {
        return None;
    }
    let key = b"/ViewerPreferences<<";
    let preferences = last.windows(key.len()).position(|word| word == key)?;
    let at = catalog + preferences + key.len();
    let settings = format!("/PrintScaling/None/Duplex/{}", sides.name());
    bytes.truncate(end);
    bytes.splice(at..at, settings.bytes());
    let table = table + settings.len();
    bytes.extend_from_slice(format!("startxref\n{table}\n%%EOF").as_bytes());
    Some(bytes)
}

fn rfind(bytes: &[u8], word: &[u8]) -> Option<usize> {
    bytes.windows(word.len()).rposition(|found| found == word)
}
