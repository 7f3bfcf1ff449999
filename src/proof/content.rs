//! Goes over the drawing operators of a page before a reader runs them: which
//! there are, how many, and how deep their operands nest.

use super::file::{Lexer, Token};

/// What one stream of operators does, in numbers.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Count {
    pub operators: usize,
    /// How often another object is drawn.
    pub draws: usize,
    /// Bytes of text that is shown.
    pub text: usize,
}

/// How deep arrays and dictionaries may lie in each other.
const DEEPEST: usize = 8;

/// The most bytes of an image that stands among the operators.
const MOST_OF_INLINE: usize = 256;

/// The operators that are drawn with (ISO 32000-1:2008, table 51, from memory),
/// without those that no page of ours can have: glyphs that are drawings of their
/// own, and compatibility sections, in which anything may stand.
const OPERATORS: &[&[u8]] = &[
    b"\"", b"'", b"B", b"B*", b"BDC", b"BI", b"BMC", b"BT", b"CS", b"DP", b"Do", b"EMC",
    b"ET", b"F", b"G", b"J", b"K", b"M", b"MP", b"Q", b"RG", b"S", b"SC", b"SCN", b"T*",
    b"TD", b"TJ", b"TL", b"Tc", b"Td", b"Tf", b"Tj", b"Tm", b"Tr", b"Ts", b"Tw", b"Tz",
    b"W", b"W*", b"b", b"b*", b"c", b"cm", b"cs", b"d", b"f", b"f*", b"g", b"gs", b"h",
    b"i", b"j", b"k", b"l", b"m", b"n", b"q", b"re", b"rg", b"ri", b"s", b"sc", b"scn",
    b"sh", b"v", b"w", b"y",
];

/// Counts what `bytes` do.
///
/// # Errors
///
/// What of it is not to be run, in words that follow "its drawing".
pub(super) fn count(bytes: &[u8]) -> Result<Count, String> {
    let mut lexer = Lexer::new(bytes);
    let mut count = Count::default();
    let mut open: Vec<u8> = Vec::new();
    // What stood before the operator, for the few that are looked at.
    let mut last: &[u8] = b"";
    let mut before = 0;
    while let Some(token) = lexer.token()? {
        match token {
            Token::Text => count.text += lexer.at - before,
            Token::Open(end) => open.push(end),
            Token::Close(end) if open.pop() != Some(end) => {
                return Err(format!(
                    "closes with `{}` what is not open",
                    char::from(end)
                ));
            }
            Token::Word(b"true" | b"false" | b"null") if !open.is_empty() => {}
            Token::Word(_) if !open.is_empty() => {
                return Err("has an operator within an operand".to_owned());
            }
            Token::Word(word) => {
                operator(word, last, &mut count)?;
                if word == b"BI" {
                    inline_image(&mut lexer)?;
                }
            }
            _ => {}
        }
        if open.len() > DEEPEST {
            return Err(format!("has operands more than {DEEPEST} deep in each other"));
        }
        last = bytes[before..lexer.at].trim_ascii_start();
        before = lexer.at;
    }
    if open.is_empty() { Ok(count) } else { Err("ends within an operand".to_owned()) }
}

fn operator(word: &[u8], last: &[u8], count: &mut Count) -> Result<(), String> {
    if OPERATORS.binary_search(&word).is_err() {
        let word: String = String::from_utf8_lossy(word).chars().take(20).collect();
        return Err(format!("has the operator `{}`", word.escape_debug()));
    }
    count.operators += 1;
    match word {
        b"Do" => count.draws += 1,
        // Outlined, invisible, or a hole for what follows.
        b"Tr" if last != b"0" => {
            let mode = String::from_utf8_lossy(last);
            return Err(format!("shows text in mode {}", mode.escape_debug()));
        }
        _ => {}
    }
    Ok(())
}

/// Goes over a small image without a filter: its keys, `ID`, its bytes, `EI`.
fn inline_image(lexer: &mut Lexer) -> Result<(), String> {
    let rest = lexer.rest();
    let find = |what: &[u8], from: usize| {
        let found =
            rest.get(from..)?.windows(what.len()).position(|part| part == what)?;
        Some(from + found)
    };
    let image = find(b" ID ", 0).filter(|at| *at <= MOST_OF_INLINE);
    let begin = image.ok_or("has an image without `ID`")?;
    let keys = &rest[..begin];
    let has_more = keys.windows(2).any(|key| key == b"/F") || keys.contains(&b'[');
    if has_more {
        return Err("has an image that is packed".to_owned());
    }
    let end = find(b" EI", begin + 4).filter(|at| at - begin <= MOST_OF_INLINE);
    lexer.at += end.ok_or("has a large image among its operators")? + 3;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn operators_are_in_the_order_of_their_bytes() {
        assert!(OPERATORS.is_sorted());
    }

    #[test]
    fn operators_draws_and_text_are_counted() {
        let counted = count(b"q 1 0 0 1 0 0 cm /X1 Do Q BT [(ab\\)c) -3 <0041>] TJ ET");
        assert_eq!(counted, Ok(Count { operators: 7, draws: 1, text: 14 }));
        let marked = count(b"/P <</MCID 0 /Lang (en)>> BDC % (comment\nEMC");
        assert_eq!(marked, Ok(Count { operators: 2, draws: 0, text: 5 }));
        let image = count(b"BI /W 1 /H 1 /CS /G /BPC 8 ID \0 EI Q");
        assert_eq!(image, Ok(Count { operators: 2, draws: 0, text: 0 }));
    }

    #[test]
    fn what_is_not_to_be_run_is_named() {
        for (bytes, wanted) in [
            (
                &b"[[[[[[[[[1]]]]]]]]] TJ"[..],
                "has operands more than 8 deep in each other",
            ),
            (b"[1 2", "ends within an operand"),
            (b"[1 >> TJ", "closes with `>` what is not open"),
            (b"(abc", "has a text without an end"),
            (b"3 Tr", "shows text in mode 3"),
            (b"1 0 d0", "has the operator `d0`"),
            (b"BI /W 1 /H 1 /F /Fl ID x EI", "has an image that is packed"),
            (b"[1 q] TJ", "has an operator within an operand"),
            (b"1 } f", "has a stray `}`"),
        ] {
            assert_eq!(count(bytes).unwrap_err(), wanted);
        }
    }
}
