//! Which encoding the text of a table is in, and its text.
//!
//! Takes bytes and the encoding that the laboratory names, gives the text or a
//! fault at the first byte that is wrong. Nothing is guessed: the bytes of
//! "Gołębiak" in Windows-1250 are those of "Go³êbiak" in Windows-1252, and a
//! label with the second on it is another person's.
//!
//! # Source
//!
//! Names of encodings and their tables: WHATWG Encoding Standard.

use encoding_rs::{DecoderResult, Encoding, UTF_8, UTF_16BE, UTF_16LE, X_USER_DEFINED};

use super::fault_at;
use crate::fault::{Fault, nearest, visible};

/// Names that an unknown one may have been meant for.
const NAMES: &[&str] = &[
    "utf-8",
    "utf-16le",
    "utf-16be",
    "windows-874",
    "windows-1250",
    "windows-1251",
    "windows-1252",
    "windows-1253",
    "windows-1254",
    "windows-1255",
    "windows-1256",
    "windows-1257",
    "windows-1258",
    "iso-8859-1",
    "iso-8859-2",
    "iso-8859-3",
    "iso-8859-4",
    "iso-8859-5",
    "iso-8859-6",
    "iso-8859-7",
    "iso-8859-8",
    "iso-8859-9",
    "iso-8859-10",
    "iso-8859-13",
    "iso-8859-14",
    "iso-8859-15",
    "iso-8859-16",
    "latin1",
    "koi8-r",
    "koi8-u",
    "ibm866",
    "macintosh",
    "x-mac-cyrillic",
];

/// The most characters that a message shows of a text that is in doubt.
const SHOWN: usize = 20;

/// The encoding with this name: UTF-8, UTF-16, or one with a byte a character.
///
/// # Errors
///
/// What is wrong and what would be right.
pub(super) fn named(name: &str) -> Result<&'static Encoding, (String, String)> {
    let shown = visible(name);
    let word: String = name.trim().to_ascii_lowercase().chars().take(40).collect();
    // The standard takes ASCII for Windows-1252, which ASCII does not say.
    let is_ascii = word.contains("ascii") || word.starts_with("ansi");
    let Some(encoding) = Encoding::for_label(name.as_bytes()).filter(|_| !is_ascii)
    else {
        let near = match nearest(&word, NAMES.iter().copied()) {
            Some(near) => format!("did you mean `{near}`? "),
            None => String::new(),
        };
        return Err((
            format!("the encoding `{shown}` is not known"),
            format!(
                "{near}find out in which the other system writes its exports, such as \
                 windows-1250, windows-1252, iso-8859-2 or utf-16le"
            ),
        ));
    };
    let is_unicode = [UTF_8, UTF_16LE, UTF_16BE].contains(&encoding);
    let is_read = is_unicode || (encoding.is_single_byte() && encoding != X_USER_DEFINED);
    if is_read {
        return Ok(encoding);
    }
    Err((
        format!("exports in the encoding `{shown}` are not read"),
        "have the other system write UTF-8, or save the export again in it".into(),
    ))
}

/// The text of a file: in the encoding its byte order mark names, or else in
/// the one the laboratory names, or else in UTF-8.
///
/// Bytes without a mark that make two texts, one in UTF-8 and one in the
/// encoding named, are refused: an export system that was changed to UTF-8
/// writes such a file, and so does one whose only accented name is "GÓŁKA".
///
/// # Errors
///
/// A fault that names the first byte or character at fault, and its line.
pub(super) fn decode(
    file: &str,
    bytes: &[u8],
    said: Option<&'static Encoding>,
) -> Result<String, Fault> {
    let mark = Encoding::for_bom(bytes);
    let (encoding, body) = match mark {
        Some((encoding, length)) => (encoding, &bytes[length..]),
        None => (said.unwrap_or(UTF_8), bytes),
    };
    if mark.is_none()
        && [UTF_16LE, UTF_16BE].contains(&encoding)
        && !bytes.is_empty()
        && !bytes.contains(&0)
    {
        // Separators and line breaks have one each.
        return Err(fault_at(
            file,
            format!("the file is not in {}, as lab.toml says", encoding.name()),
            "take `encoding` out of [columns] of lab.toml if the file is UTF-8, or name \
             the encoding it is in",
        ));
    }
    let text = encoding.decode_without_bom_handling_and_without_replacement(body);
    let Some(text) = text else {
        let by_mark = mark.is_some();
        return Err(wrong_byte(file, body, encoding, by_mark, said.is_some()));
    };
    if mark.is_none()
        && let Ok(other) = std::str::from_utf8(bytes)
        && *other != *text
        && !other.contains('\0')
    {
        return Err(two_readings(file, other, encoding));
    }
    if text.contains('\0') {
        return Err(fault_at(
            file,
            "the file holds bytes of zero, as UTF-16 without a byte order mark does",
            "save it again as CSV in UTF-8; or, if it is UTF-16, write in [columns] of \
             lab.toml: encoding = \"utf-16le\"",
        ));
    }
    Ok(text.into_owned())
}

/// The fault of bytes that are not in `encoding`.
fn wrong_byte(
    file: &str,
    body: &[u8],
    encoding: &'static Encoding,
    by_mark: bool,
    said: bool,
) -> Fault {
    let mut decoder = encoding.new_decoder_without_bom_handling();
    let most = decoder.max_utf8_buffer_length_without_replacement(body.len());
    let mut before = String::with_capacity(most.unwrap_or(body.len()));
    let (end, read) =
        decoder.decode_to_string_without_replacement(body, &mut before, true);
    let at = match end {
        DecoderResult::Malformed(bad, after) => {
            read.saturating_sub(usize::from(bad) + usize::from(after))
        }
        DecoderResult::InputEmpty | DecoderResult::OutputFull => read,
    };
    let byte = body.get(at).copied().unwrap_or_default();
    let who = match (by_mark, said) {
        (true, _) => ", as its byte order mark says",
        (false, true) => ", as lab.toml says",
        (false, false) => "",
    };
    let line = before.rsplit(['\r', '\n']).next().unwrap_or_default();
    let count = line.chars().count();
    let shown: String = line.chars().skip(count.saturating_sub(SHOWN)).collect();
    let stands = if shown.is_empty() {
        "at the start of a line".into()
    } else {
        format!("after `{}`", visible(&shown))
    };
    fault_at(
        &format!("{file}, line {}", line_after(&before)),
        format!(
            "the file is not text in {}{who}: the byte 0x{byte:02X} stands {stands}",
            encoding.name()
        ),
        "save it again as CSV in UTF-8; or find out in which encoding the other system \
         writes it and name that in [columns] of lab.toml, such as encoding = \
         \"windows-1250\" in Central or \"windows-1252\" in Western Europe",
    )
}

/// The fault of a file that is text in UTF-8, `utf8`, and other text in
/// `encoding`, which has a byte a character.
fn two_readings(file: &str, utf8: &str, encoding: &'static Encoding) -> Fault {
    // They agree on ASCII, so the first character that is none is read otherwise.
    let start = utf8.find(|c: char| !c.is_ascii()).unwrap_or(0);
    let piece: String =
        utf8[start..].chars().take_while(|c| !c.is_ascii()).take(SHOWN).collect();
    let (other, _) = encoding.decode_without_bom_handling(piece.as_bytes());
    let name = encoding.name();
    fault_at(
        &format!("{file}, line {}", line_after(&utf8[..start])),
        format!(
            "the file can be read in two ways: `{}` in UTF-8 is `{}` in {name}",
            visible(&piece),
            visible(&other)
        ),
        format!(
            "if it is UTF-8, take `encoding` out of [columns] of lab.toml; if it is \
             {name}, save it again as CSV in UTF-8"
        ),
    )
}

/// The line that `before` ends in, as an editor counts them. Which row of the table it is
/// cannot be told: its separator is not known yet, and so neither are its quotes.
fn line_after(before: &str) -> usize {
    let (mut line, mut last) = (1, b' ');
    for byte in before.bytes() {
        match byte {
            b'\n' if last == b'\r' => {}
            b'\r' | b'\n' => line += 1,
            _ => {}
        }
        last = byte;
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_that_is_suggested_is_an_encoding() {
        for name in NAMES {
            assert!(named(name).is_ok(), "{name}");
        }
    }

    #[test]
    fn a_misspelt_encoding_is_told_the_one_that_is_near() {
        for (name, near) in [
            ("windows1250", "windows-1250"),
            ("Latin-1", "latin1"),
            ("UTF16LE", "utf-16le"),
        ] {
            let (what, help) = named(name).unwrap_err();
            assert_eq!(what, format!("the encoding `{name}` is not known"));
            assert!(help.starts_with(&format!("did you mean `{near}`?")), "{help}");
        }
    }

    #[test]
    fn an_encoding_that_does_not_say_which_letter_a_byte_is_is_refused() {
        for name in ["ascii", "US-ASCII", "shift_jis", "gbk", "x-user-defined", "utf-7"] {
            assert!(named(name).is_err(), "{name}");
        }
    }
}
