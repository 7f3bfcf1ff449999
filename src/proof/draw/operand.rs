//! The operands of an operator: numbers, names and texts, as they stand there.

use super::Refused;
use crate::proof::file::{decoded, text_of};

/// An operand, as it stands there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Operand<'b> {
    Number(f64),
    Name(&'b [u8]),
    /// With its delimiters.
    Text(&'b [u8]),
    Open,
    Close,
    Word,
}

/// An operator and what stands before it.
pub(super) struct Needs<'o, 'b> {
    pub word: &'o [u8],
    pub operands: &'o [Operand<'b>],
}

impl Needs<'_, '_> {
    pub fn wrong(&self) -> Refused {
        let word = String::from_utf8_lossy(self.word);
        format!("has `{word}` with other operands than it takes")
    }

    pub fn numbers<const N: usize>(&self) -> Result<[f64; N], Refused> {
        let mut numbers = [0.0; N];
        if self.operands.len() != N {
            return Err(self.wrong());
        }
        for (number, operand) in numbers.iter_mut().zip(self.operands) {
            let Operand::Number(value) = operand else { return Err(self.wrong()) };
            *number = *value;
        }
        Ok(numbers)
    }

    /// The lengths of dashes and gaps, and where in them a line begins.
    pub fn dashes(&self) -> Result<(Vec<f64>, f64), Refused> {
        let [Operand::Open, lengths @ .., Operand::Close, Operand::Number(begin)] =
            self.operands
        else {
            return Err(self.wrong());
        };
        let length = |operand: &Operand| match operand {
            Operand::Number(length) => Ok(*length),
            _ => Err(self.wrong()),
        };
        Ok((lengths.iter().map(length).collect::<Result<_, _>>()?, *begin))
    }

    pub fn named<'r, T>(&self, entries: &'r [(Vec<u8>, T)]) -> Result<&'r T, Refused> {
        match self.operands {
            [Operand::Name(name)] => named(entries, name),
            _ => Err(self.wrong()),
        }
    }
}

pub(super) fn named<'r, T>(
    entries: &'r [(Vec<u8>, T)],
    name: &[u8],
) -> Result<&'r T, Refused> {
    let found = entries.iter().find(|(known, _)| known == name);
    found.map(|(_, value)| value).ok_or_else(|| {
        let name: String = String::from_utf8_lossy(name).chars().take(40).collect();
        format!("uses /{}, which its resources do not have", name.escape_debug())
    })
}

/// What a mark says of what is drawn after it.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Mark {
    /// Its number among the marks of its page, by which the structure knows it.
    pub number: Option<usize>,
    /// Words that are heard in place of it.
    pub heard: Option<String>,
    /// The language in which it is read out, if that is said.
    pub language: Option<String>,
}

impl Mark {
    /// The mark with these operands: a kind, and a dictionary that says more.
    pub fn of(operands: &[Operand]) -> Result<Self, Refused> {
        let wrong = || Err("has a mark with other operands than it takes".to_owned());
        let mut mark = Self::default();
        let mut entries = match operands {
            [Operand::Name(_)] => return Ok(mark),
            [Operand::Name(_), Operand::Open, entries @ .., Operand::Close] => {
                entries.iter()
            }
            _ => return wrong(),
        };
        while let Some(key) = entries.next() {
            let (Operand::Name(key), Some(value)) = (key, entries.next()) else {
                return wrong();
            };
            match (*key, value) {
                (b"MCID", Operand::Number(number)) => {
                    mark.number = Some(*number as usize)
                }
                (b"Alt" | b"Lang", Operand::Text(text)) => {
                    let mut bytes = Vec::new();
                    text_of(text, &mut bytes)?;
                    let text = Some(decoded(&bytes));
                    if *key == b"Alt" { mark.heard = text } else { mark.language = text }
                }
                (b"Type" | b"Subtype", Operand::Name(_)) => {}
                (b"Attached", Operand::Open) => {
                    let is_last = |operand: &Operand| *operand == Operand::Close;
                    entries.find(|operand| is_last(operand));
                }
                (b"ActualText" | b"E", _) => {
                    let what = "has a text that is read out otherwise than it is printed";
                    return Err(what.to_owned());
                }
                (key, _) => {
                    let key = String::from_utf8_lossy(key).escape_debug().to_string();
                    return Err(format!("has a mark with /{key}, as none of ours has"));
                }
            }
        }
        Ok(mark)
    }
}

/// A number: a sign, figures, and a point among them.
pub(super) fn number(text: &[u8]) -> Result<f64, Refused> {
    let (sign, figures) = match text {
        [b'-', figures @ ..] => (-1.0, figures),
        [b'+', figures @ ..] => (1.0, figures),
        figures => (1.0, figures),
    };
    let unreadable = || Err("has a number that cannot be read".to_owned());
    let is_sound = figures.iter().all(|byte| byte.is_ascii_digit() || *byte == b'.');
    if !is_sound || figures.len() > 40 {
        return unreadable();
    }
    // Few figures make a whole number and a power of ten that are both exact.
    if figures.len() > 16 {
        let text = std::str::from_utf8(figures).unwrap_or_default();
        return text.parse().map_or_else(|_| unreadable(), |value: f64| Ok(sign * value));
    }
    let mut value: u64 = 0;
    let mut after_point = None;
    for byte in figures {
        match byte {
            b'.' if after_point.is_some() => return unreadable(),
            b'.' => after_point = Some(0),
            figure => {
                value = value * 10 + u64::from(figure - b'0');
                after_point = after_point.map(|places| places + 1);
            }
        }
    }
    if figures.is_empty() || figures == b"." {
        return unreadable();
    }
    const POWERS: [f64; 17] = [
        1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14,
        1e15, 1e16,
    ];
    Ok(sign * value as f64 / POWERS[after_point.unwrap_or(0)])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_has_a_number_and_words_and_nothing_that_is_not_known() {
        use Operand::{Close, Name, Number, Open, Text};
        let alt = [Name(b"Alt"), Text(b"(QR code: \\(1\\))")];
        let number = [Name(b"MCID"), Number(7.0)];
        let foot =
            [Name(b"Attached"), Open, Name(b"Bottom"), Close, Name(b"Type"), Name(b"P")];
        let of = |entries: &[Operand]| {
            let kind = [Name(b"Span"), Open];
            Mark::of(&[&kind, entries, &[Close]].concat())
        };
        let heard = Some("QR code: (1)".to_owned());
        assert_eq!(
            of(&[number, alt].concat()),
            Ok(Mark { number: Some(7), heard, language: None })
        );
        assert_eq!(of(&foot), Ok(Mark::default()));
        assert_eq!(Mark::of(&[Name(b"Artifact")]), Ok(Mark::default()));
        for (entries, wanted) in [
            (
                &[Name(b"E"), Text(b"(7:00 pm)")][..],
                "is read out otherwise than it is printed",
            ),
            (&[Name(b"OC"), Name(b"x")], "has a mark with /OC, as none of ours has"),
            (&[Name(b"MCID"), Name(b"x")], "has a mark with /MCID, as none of ours has"),
            (&[Name(b"MCID")], "has a mark with other operands than it takes"),
            (&[Number(1.0), Number(2.0)], "has a mark with other operands than it takes"),
        ] {
            let why = of(entries).unwrap_err();
            assert!(why.contains(wanted), "{entries:?}: {why}");
        }
        assert!(Mark::of(&[Name(b"Span"), Name(b"P0")]).is_err());
    }

    #[test]
    fn numbers_are_read_as_the_library_reads_them() {
        let small = "0.00000000000000012246468";
        for text in ["0", "-1", "+2.5", ".25", "12.", "0.000001", "742.00039", small] {
            let wanted: f64 = text.parse().unwrap();
            assert_eq!(number(text.as_bytes()), Ok(wanted), "{text}");
        }
        let long = "1".repeat(41);
        for text in ["", ".", "-", "1-2", "1.2.3", "0.00000000000000001.2", &long] {
            assert!(number(text.as_bytes()).is_err(), "{text}");
        }
    }
}
