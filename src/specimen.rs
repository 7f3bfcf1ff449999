//! Specimen codes: our printed number for one card.
//!
//! A code is the order number, a hyphen, the slot's digit and a check
//! character: `HB-20417-15`. Every character of it is in the alphanumeric set
//! of a QR code. It is an identifier and says nothing else about the patient.

use iso_7064::MOD37_2;

/// The code of one slot of an order.
///
/// # Source
///
/// ISO/IEC 7064, MOD 37-2, over the order number without its hyphens and the
/// digit. Of the systems for letters and figures it misses the fewest slips:
/// none of the single substitutions and transpositions.
pub fn code(order: &str, digit: u8) -> String {
    let body: String = order.chars().filter(|c| *c != '-').collect();
    let check = check_character(&format!("{body}{digit}"));
    format!("{order}-{digit}{check}")
}

/// The MOD 37-2 check character of `body`, which is of `0-9 A-Z`; characters
/// outside that set count for nothing.
fn check_character(body: &str) -> char {
    MOD37_2.compute_lax(body)[0]
}

/// The order number and slot digit of a printed code.
///
/// # Errors
///
/// `None` if the text is not of a code's form or its check character is wrong.
pub fn parse(text: &str) -> Option<(String, u8)> {
    let (order, tail) = text.rsplit_once('-')?;
    crate::order::check_number(order, "").ok()?;
    let mut tail = tail.chars();
    let (digit, _, None) = (tail.next()?, tail.next()?, tail.next()) else {
        return None;
    };
    let digit = u8::try_from(digit.to_digit(10)?).ok().filter(|digit| *digit > 0)?;
    (code(order, digit) == text).then(|| (order.to_owned(), digit))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `G123489654321` is an example of the ISBT 128 standard for donation
    /// numbers and `ISO79` one of ISO/IEC 7064; all agree with PyPI
    /// `python-stdnum` 2.2.
    #[test]
    fn check_characters_are_those_of_iso_7064_mod_37_2() {
        for (body, check) in [
            ("G123489654321", 'Y'),
            ("ISO79", 'Y'),
            ("KIT0001BED", 'S'),
            ("AB12CD34", 'T'),
            ("00000001", '*'),
            ("000000000", '1'),
        ] {
            assert_eq!(check_character(body), check, "{body}");
        }
    }

    #[test]
    fn a_code_keeps_the_hyphens_of_its_order() {
        assert_eq!(code("HB-20417", 1), "HB-20417-15");
        assert_eq!(parse("HB-20417-15"), Some(("HB-20417".into(), 1)));
    }

    #[test]
    fn a_code_with_one_character_changed_is_refused() {
        let good = code("HB-20417", 3);
        let set = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";
        for (at, old) in good.char_indices().filter(|(_, c)| *c != '-') {
            for new in set.chars().filter(|c| *c != old) {
                let mut wrong = good.clone();
                wrong.replace_range(at..at + 1, &new.to_string());
                assert_eq!(parse(&wrong), None, "{wrong}");
            }
        }
    }
}
