//! What is left of a file without the lines that are not TOML, so that the faults of
//! the other lines come out with theirs.

use toml::de::Error;

/// The rest of a text.
pub(super) struct Rest {
    /// With blanks for the lines that are left out: every place is where it was.
    pub text: String,
    /// The keys of those lines.
    pub lost: Vec<Lost>,
}

/// A key whose line could not be read.
pub(super) struct Lost {
    /// Where the heading of its table begins; 0 for the file's top.
    pub table: usize,
    pub key: String,
}

impl Rest {
    /// `text` without the lines of `errors`; `None` where those may change what the
    /// other lines mean: a heading, and whatever goes over several lines.
    pub fn of(text: &str, errors: &[Error]) -> Option<Self> {
        let mut bytes = text.as_bytes().to_vec();
        let mut lost = Vec::new();
        for error in errors {
            let span = error.span()?;
            let (before, after) = (text.get(..span.start)?, text.get(span.start..)?);
            let start = before.rfind('\n').map_or(0, |at| at + 1);
            let end = span.start + after.find('\n').unwrap_or(after.len());
            let line = &text[start..end];
            if span.end > end + 1 || line.trim_start().starts_with('[') {
                return None;
            }
            if let Some((key, _)) = line.split_once('=') {
                let table = heading_before(&text[..start]);
                lost.push(Lost { table, key: key.trim().trim_matches('"').to_owned() });
            }
            bytes[start..end].fill(b' ');
        }
        Some(Self { text: String::from_utf8(bytes).ok()?, lost })
    }
}

/// Where the last heading of `text` begins, or 0.
fn heading_before(text: &str) -> usize {
    let mut at = text.len();
    for line in text.split_inclusive('\n').rev() {
        at -= line.len();
        let bare = line.trim_start();
        if bare.starts_with('[') {
            return at + line.len() - bare.len();
        }
    }
    0
}
