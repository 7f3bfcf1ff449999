//! Finds kits by what somebody has in hand: an order number, a code typed or
//! scanned, a family name or a birth date.

use chrono::NaiveDate;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use super::Ledger;
use super::chain::shown;
use super::kit::StoredKit;
use crate::fault::Fault;
use crate::specimen;

/// How many slips (a character wrong, missing, too many, or two in each other's
/// place) a code may be off to be offered as the one meant. With more, the code of
/// another patient is as near as the right one.
const NEAR: usize = 1;

/// A kit that was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    pub kit: StoredKit,
    /// The slot digit, where it was found by the code of one card.
    pub slot: Option<u8>,
}

impl Ledger {
    /// The kits that `text` can mean, by order number, newest content each.
    ///
    /// # Errors
    ///
    /// A fault if nothing is found, which says why where it can: a code with a
    /// wrong check character, and the code that may be meant. A fault if the file
    /// cannot be read.
    pub fn find(&self, text: &str) -> Result<Vec<Found>, Fault> {
        let typed: String =
            text.chars().filter(|c| !c.is_whitespace()).collect::<String>();
        let typed = typed.to_uppercase();
        let code = specimen::parse(&typed);
        let mut orders = Vec::new();
        if let Some((order, slot)) = &code {
            orders.push((order.clone(), Some(*slot)));
        }
        orders.push((typed.clone(), None));
        let by_person = self.persons(text)?;
        orders.extend(by_person.into_iter().map(|order| (order, None)));
        let mut found: Vec<Found> = Vec::new();
        for (order, slot) in orders {
            if found.iter().any(|other| other.kit.order == order) {
                continue;
            }
            let Some(kit) = self.kit(&order)? else { continue };
            // A code can be right and be of no card of the kit.
            if slot.is_none() || kit.codes.contains(&typed) {
                found.push(Found { kit, slot });
            }
        }
        if found.is_empty() {
            Err(self.nothing(text, &typed, code.is_some())?)
        } else {
            Ok(found)
        }
    }

    /// The orders whose newest content is of a person whom `text` can mean.
    fn persons(&self, text: &str) -> Result<Vec<String>, Fault> {
        let (family, given) = text.split_once(',').unwrap_or((text, ""));
        let (family, given) = (fold(family), fold(given));
        let born = iso_date(text).map(|date| date.format("%Y-%m-%d").to_string());
        let all = || {
            let mut statement = self.connection.prepare(
                "SELECT e.order_number, s.family, s.given, s.born
                 FROM entry e JOIN sealed s ON s.seq = e.seq
                 WHERE e.kind IN ('made', 'revised') AND e.seq =
                   (SELECT max(n.seq) FROM entry n WHERE n.order_number = e.order_number
                    AND n.kind IN ('made', 'revised'))
                 ORDER BY e.order_number",
            )?;
            let rows = statement.query_map([], |row| {
                Ok([row.get(0)?, row.get(1)?, row.get(2)?, row.get::<_, String>(3)?])
            })?;
            let mut orders = Vec::new();
            for row in rows {
                let [order, name, first, day] = row?;
                let named = !family.is_empty()
                    && begins(&name, &family)
                    && (given.is_empty() || begins(&first, &given));
                if named || born.as_ref() == Some(&day) {
                    orders.push(order);
                }
            }
            Ok(orders)
        };
        all().map_err(self.reading())
    }

    /// Why nothing was found.
    fn nothing(&self, text: &str, typed: &str, is_code: bool) -> Result<Fault, Fault> {
        let nothing = format!("nothing in the ledger fits `{}`", shown(text.trim()));
        let help = "give an order number, a code, the beginning of a family name, or a \
                    birth date such as 1984-03-09";
        if is_code || iso_date(text).is_some() || !looks_like_a_code(typed) {
            return Ok(Fault::new(nothing, help));
        }
        let near = self.near_codes(typed)?;
        let help = match near.as_slice() {
            [] => "read it again from the label: order number, hyphen, two characters"
                .to_owned(),
            near => {
                format!("did you mean {}? compare it with the label", near.join(" or "))
            }
        };
        Ok(Fault::new(
            format!("`{}` is not a code: the check character is wrong", shown(typed)),
            help,
        ))
    }

    /// The codes of the ledger that are nearest to `typed`.
    fn near_codes(&self, typed: &str) -> Result<Vec<String>, Fault> {
        let all = || {
            let mut statement = self.connection.prepare(
                "SELECT DISTINCT codes FROM entry WHERE kind IN ('made', 'revised')",
            )?;
            statement
                .query_map([], |row| row.get(0))?
                .collect::<rusqlite::Result<Vec<String>>>()
        };
        let lines = all().map_err(self.reading())?;
        let mut near: Vec<(usize, &str)> = lines
            .iter()
            .flat_map(|line| line.split(' '))
            .map(|code| (strsim::damerau_levenshtein(typed, code), code))
            .filter(|(distance, _)| *distance <= NEAR)
            .collect();
        near.sort_unstable();
        near.dedup();
        let best = near.first().map_or(0, |(distance, _)| *distance);
        let best = near.iter().filter(|(distance, _)| *distance == best);
        Ok(best.take(3).map(|(_, code)| (*code).to_owned()).collect())
    }
}

/// Whether a text is built like a specimen code: order number, hyphen, digit,
/// check character.
fn looks_like_a_code(text: &str) -> bool {
    let Some((order, tail)) = text.rsplit_once('-') else { return false };
    let mut tail = tail.chars();
    crate::order::check_number(order, "").is_ok()
        && tail.next().is_some_and(|c| c.is_ascii_digit())
        && tail.next().is_some_and(|c| c.is_ascii_alphanumeric() || c == '*')
        && tail.next().is_none()
}

/// A date in any form of ISO 8601: calendar, ordinal or week date, with hyphens
/// or without.
fn iso_date(text: &str) -> Option<NaiveDate> {
    let text = text.trim();
    // Without the lengths, `1984-3-9` would pass, which is no ISO date.
    let forms = [
        (10, "%Y-%m-%d"),
        (8, "%Y%m%d"),
        (8, "%Y-%j"),
        (7, "%Y%j"),
        (10, "%G-W%V-%u"),
        (8, "%GW%V%u"),
    ];
    forms
        .iter()
        .filter(|(length, _)| text.len() == *length)
        .find_map(|(_, form)| NaiveDate::parse_from_str(text, form).ok())
}

/// A name without case, accents, spaces and marks, for comparing.
///
/// Letters with a stroke and ligatures are not accents in Unicode; they are
/// taken for the letters that passports write for them.
///
/// # Source
///
/// ICAO Doc 9303-3, section 6, table A (from memory) for the letters below, but
/// with `Ø` as `o`, as people type it, and not `OE`.
pub fn fold(name: &str) -> String {
    let mut folded = String::new();
    for c in name.nfkd().filter(|c| !is_combining_mark(*c)).flat_map(char::to_lowercase) {
        match c {
            'ß' => folded.push_str("ss"),
            'æ' => folded.push_str("ae"),
            'œ' => folded.push_str("oe"),
            'þ' => folded.push_str("th"),
            'ø' => folded.push('o'),
            'ł' => folded.push('l'),
            'đ' | 'ð' => folded.push('d'),
            'ħ' => folded.push('h'),
            'ı' => folded.push('i'),
            c if c.is_alphanumeric() => folded.push(c),
            _ => {}
        }
    }
    folded
}

/// Whether a name, or a word of it, begins with `start`, which is folded.
fn begins(name: &str, start: &str) -> bool {
    let words = name.char_indices().filter_map(|(at, c)| {
        let parts = c == '-' || c.is_whitespace();
        parts.then(|| &name[at + c.len_utf8()..])
    });
    std::iter::once(name).chain(words).any(|rest| fold(rest).starts_with(start))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_compared_without_case_accents_and_marks() {
        for (name, typed) in [
            ("Núñez", "nunez"),
            ("Núñez", "NUN\u{303}"),
            ("Sørbø", "sorb"),
            ("Weißgerber", "weissg"),
            ("O’Hanlon", "o'han"),
            ("de la Croix", "DELA"),
            ("Okonkwo-Reyes", "reyes"),
            ("Œlund", "oelund"),
            ("Ελένη", "ελενη"),
        ] {
            assert!(begins(name, &fold(typed)), "{name} {typed}");
        }
        assert!(!begins("Reyes", &fold("eyes")));
    }

    /// The week and ordinal dates are those Python's `date` gives for 9 March
    /// 1984: `isocalendar()` and `strftime("%j")`.
    #[test]
    fn every_form_of_an_iso_date_is_the_same_day() {
        let day = NaiveDate::from_ymd_opt(1984, 3, 9);
        let forms =
            ["1984-03-09", "19840309", "1984-069", "1984069", "1984-W10-5", "1984W105"];
        for text in forms {
            assert_eq!(iso_date(text), day, "{text}");
        }
        for text in ["1984-3-9", "09.03.1984", "03/09/1984", "1984-02-30", ""] {
            assert_eq!(iso_date(text), None, "{text}");
        }
    }
}
