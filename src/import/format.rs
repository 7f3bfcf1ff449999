//! Number formats of spreadsheets: what a cell shows beside its value, or instead.
//!
//! Takes a format code (ECMA-376, part 1, 18.8.31), says what a person sees of a
//! number, a moment or a text under it. Works no value out. A format that cannot be
//! followed shows the value otherwise: a reader has then to refuse the cell.

use crate::fault::visible;

/// What a person sees of a number or a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Shown {
    /// Itself alone.
    Bare,
    /// Itself, and this text around it.
    With(String),
    /// Something else, or nothing.
    Otherwise,
}

/// A part of a format, for some of the values.
#[derive(Debug, Default)]
struct Section {
    /// What stands there in words, or is shown as it stands.
    text: String,
    /// Letters of a date or time, each with how often it is repeated.
    letters: Vec<(char, usize)>,
    has_number: bool,
    has_text: bool,
    /// For values that a condition in the format chooses.
    has_condition: bool,
    /// Thousands are left out.
    is_scaled: bool,
}

/// Names in brackets that colour a cell.
const COLOURS: &[&str] =
    &["black", "blue", "cyan", "green", "magenta", "red", "white", "yellow"];

impl Section {
    fn bracket(&mut self, inner: &str) {
        let lower = inner.to_ascii_lowercase();
        let first = lower.chars().next().unwrap_or(' ');
        if let Some(currency) = inner.strip_prefix('$') {
            // A text and the code of a language: `[$kg-409]`.
            self.text.push_str(currency.split('-').next().unwrap_or_default());
        } else if "<>=".contains(first) {
            self.has_condition = true;
        } else if "hms".contains(first) && lower.chars().all(|c| c == first) {
            self.letters.push((first, lower.len()));
        } else if !COLOURS.contains(&lower.as_str())
            && !["color", "dbnum", "natnum"].iter().any(|word| lower.starts_with(word))
        {
            self.text.push_str(inner);
        }
    }

    /// `goes_on` says that the character before was a letter, too: in `ddd, d` the
    /// last one is another.
    fn letter(&mut self, letter: char, goes_on: bool) {
        match self.letters.last_mut() {
            Some((last, count)) if goes_on && *last == letter => *count += 1,
            _ => self.letters.push((letter, 1)),
        }
    }

    /// Whether the letters at a place are minutes: after hours or before seconds.
    fn is_minute(&self, at: usize) -> bool {
        let letter = |at: usize| self.letters.get(at).map(|(letter, _)| *letter);
        letter(at) == Some('m')
            && (at.checked_sub(1).and_then(letter) == Some('h')
                || letter(at + 1) == Some('s'))
    }

    fn shown(&self, has_value: bool) -> Shown {
        let text = self.text.trim();
        if !has_value || self.is_scaled || !self.letters.is_empty() {
            Shown::Otherwise
        } else if text.is_empty() {
            Shown::Bare
        } else {
            Shown::With(text.to_owned())
        }
    }
}

fn sections(format: &str) -> Vec<Section> {
    let mut all = Vec::new();
    let mut section = Section::default();
    let mut rest = format;
    // A comma after the figures and before no other leaves three of them out.
    let (mut after_figure, mut after_comma) = (false, false);
    let mut after_letter = false;
    while let Some(c) = rest.chars().next() {
        let after = &rest[c.len_utf8()..];
        let one = |text: &str| text.chars().next().map_or(0, char::len_utf8);
        let is_figure = matches!(c, '0' | '#' | '?');
        section.is_scaled |= after_comma && !is_figure && c != ',';
        after_comma = c == ',' && after_figure;
        after_figure = is_figure || after_comma;
        rest = after;
        let goes_on = std::mem::take(&mut after_letter);
        match c {
            ';' => all.push(std::mem::take(&mut section)),
            '"' => {
                let (text, next) = after.split_once('"').unwrap_or((after, ""));
                section.text.push_str(text);
                rest = next;
            }
            '\\' | '*' => {
                let (text, next) = after.split_at(one(after));
                section.text.push_str(text);
                rest = next;
            }
            // Room as wide as a character.
            '_' => rest = &after[one(after)..],
            '[' => {
                let (inner, next) = after.split_once(']').unwrap_or((after, ""));
                section.bracket(inner);
                rest = next;
            }
            '0' | '#' | '?' => section.has_number = true,
            '@' => section.has_text = true,
            ' ' | ',' | '.' => {}
            // A fraction, and what it is a fraction of; or between parts of a date.
            '/' => rest = after.trim_start_matches(|c: char| c.is_ascii_digit()),
            'E' | 'e' if after.starts_with(['+', '-']) => rest = &after[1..],
            _ => {
                let starts = |word: &str| {
                    rest_starts(c, after, word).then(|| &after[word.len() - 1..])
                };
                if let Some(next) = starts("General") {
                    section.has_number = true;
                    rest = next;
                } else if let Some(next) = starts("AM/PM").or_else(|| starts("A/P")) {
                    section.letter('a', false);
                    rest = next;
                } else if "ymdhs".contains(c.to_ascii_lowercase()) {
                    section.letter(c.to_ascii_lowercase(), goes_on);
                    after_letter = true;
                } else {
                    section.text.push(c);
                }
            }
        }
    }
    section.is_scaled |= after_comma;
    all.push(section);
    all
}

/// Whether `first` and what stands after it begin with `word`, in any case.
fn rest_starts(first: char, after: &str, word: &str) -> bool {
    let (start, end) = word.split_at(1);
    start.eq_ignore_ascii_case(first.encode_utf8(&mut [0; 4]))
        && after.get(..end.len()).is_some_and(|text| text.eq_ignore_ascii_case(end))
}

/// What is seen of a number.
pub(super) fn number(format: &str, number: f64) -> Shown {
    let mut sections = sections(format);
    if sections.iter().any(|section| section.has_condition) {
        return Shown::Otherwise;
    }
    // The last one can be for texts.
    if sections.len() > 3 || sections.len() > 1 && sections[sections.len() - 1].has_text {
        sections.pop();
    }
    let wanted = if number > 0.0 {
        0
    } else if number < 0.0 {
        1
    } else {
        2
    };
    let section = sections.get(wanted).unwrap_or(&sections[0]);
    section.shown(section.has_number || section.has_text)
}

/// What is seen of a text.
pub(super) fn text(format: &str) -> Shown {
    let sections = sections(format);
    match sections.last() {
        Some(last) if sections.len() > 3 || last.has_text => last.shown(last.has_text),
        _ => Shown::Bare,
    }
}

/// Whether a number is seen with just the figures that it has when it is written out.
pub(super) fn is_plain(format: &str, number: f64) -> bool {
    match format {
        "" | "@" => true,
        "0" => number.fract() == 0.0,
        _ => format.eq_ignore_ascii_case("general"),
    }
}

/// What keeps a person from seeing which day a date is, if anything.
pub(super) fn hides_date(format: &str) -> Option<String> {
    let (section, otherwise) = of_moment(format);
    if otherwise {
        return Some("which shows some dates otherwise".to_owned());
    }
    let letters = section.letters.iter().enumerate();
    let has = |wanted: char, most: usize| {
        letters.clone().any(|(at, (letter, count))| {
            *letter == wanted && *count <= most && !section.is_minute(at)
        })
    };
    // More letters are the day of the week, or the first letter of the month.
    for (part, is_there) in
        [("year", has('y', 9)), ("month", has('m', 4)), ("day", has('d', 2))]
    {
        if !is_there {
            return Some(format!("without its {part}"));
        }
    }
    let figures = section.text.contains(|c: char| c.is_ascii_digit());
    figures.then(|| format!("with `{}` in it", visible(section.text.trim())))
}

/// What keeps a person from seeing which time of day a time is, if anything.
pub(super) fn hides_time(format: &str) -> Option<String> {
    let (section, otherwise) = of_moment(format);
    if otherwise {
        return Some("which shows some times otherwise".to_owned());
    }
    if !section.letters.iter().any(|(letter, _)| *letter == 'h') {
        return Some("without its hour".to_owned());
    }
    if !(0..section.letters.len()).any(|at| section.is_minute(at)) {
        return Some("without its minutes".to_owned());
    }
    // A word such as "pm" would make another time of it. These only name what is
    // before them.
    let words = section.text.split(|c: char| !c.is_alphabetic() && !c.is_ascii_digit());
    let mut strange = words.filter(|word| {
        !["", "h", "min", "m", "uhr"].contains(&word.to_lowercase().as_str())
    });
    strange.next().map(|word| format!("with `{}` in it", visible(word)))
}

/// Whether a time is seen with am or pm.
pub(super) fn says_which_half(format: &str) -> bool {
    of_moment(format).0.letters.iter().any(|(letter, _)| *letter == 'a')
}

/// The part of a format that is for moments, which are never negative, and whether
/// others are for some of them.
fn of_moment(format: &str) -> (Section, bool) {
    let sections = sections(format);
    let otherwise = sections.iter().any(|section| section.has_condition);
    (sections.into_iter().next().unwrap_or_default(), otherwise)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(text: &str) -> Shown {
        Shown::With(text.to_owned())
    }

    #[test]
    fn what_a_format_adds_to_a_number_is_seen() {
        for (format, value, want) in [
            ("General", 148.0, Shown::Bare),
            ("0.0", 148.0, Shown::Bare),
            ("#,##0.00", 148.0, Shown::Bare),
            ("#,##0_);[Red](#,##0)", 148.0, Shown::Bare),
            ("_(* #,##0_);_(* (#,##0);_(* \"-\"_);_(@_)", 148.0, Shown::Bare),
            ("[Color 3]0", 148.0, Shown::Bare),
            ("0.00E+00", 148.0, Shown::Bare),
            ("# ?/16", 148.5, Shown::Bare),
            ("0;-0;\"none\"", 148.0, Shown::Bare),
            ("0;-0;\"none\"", 0.0, Shown::Otherwise),
            ("0 \"kg\"", 148.0, with("kg")),
            ("0\\ \\k\\g", 148.0, with("kg")),
            ("0 [$kg-409]", 148.0, with("kg")),
            ("General\" kg\"", 148.0, with("kg")),
            ("@\" kg\"", 148.0, with("kg")),
            ("0*k", 148.0, with("k")),
            ("\"1\"0", 48.0, with("1")),
            ("0%", 1.5, with("%")),
            ("$0", 1.5, with("$")),
            ("-0", 1.5, with("-")),
            ("0,", 148_000.0, Shown::Otherwise),
            ("0,.0", 148_000.0, Shown::Otherwise),
            ("[>100]0;0\" kg\"", 148.0, Shown::Otherwise),
            (";;;", 148.0, Shown::Otherwise),
            ("\"x", 148.0, Shown::Otherwise),
            ("yyyy", 148.0, Shown::Otherwise),
        ] {
            assert_eq!(number(format, value), want, "{format}");
        }
        assert_eq!(text("@"), Shown::Bare);
        assert_eq!(text("0 \"kg\""), Shown::Bare);
        assert_eq!(text("0;0;0;@\" kg\""), with("kg"));
        assert_eq!(text("@\" kg\""), with("kg"));
        assert_eq!(text(";;;"), Shown::Otherwise);
    }

    #[test]
    fn a_date_is_seen_whole_or_what_is_missing_is_named() {
        for (format, want) in [
            ("yyyy-mm-dd", None),
            ("mm-dd-yy", None),
            ("[$-C0A]d \"de\" mmmm \"de\" yyyy", None),
            ("dddd, d. mmmm yyyy", None),
            ("[$-409]ddd d-mmm-yy;@", None),
            ("yyyy-mm-dd hh:mm", None),
            ("d-mmm", Some("without its year")),
            ("d mmm \"day\"", Some("without its year")),
            ("[Yellow]d-mmm", Some("without its year")),
            ("mmm-yy", Some("without its day")),
            ("dddd mmmm yyyy", Some("without its day")),
            ("d yyyy hh:mm", Some("without its month")),
            ("d/m/\"20\"yy", Some("with `20` in it")),
            ("[>9]yyyy-mm-dd;0", Some("which shows some dates otherwise")),
        ] {
            assert_eq!(hides_date(format).as_deref(), want, "{format}");
        }
    }

    #[test]
    fn a_time_is_seen_whole_or_what_is_missing_is_named() {
        for (format, want) in [
            ("h:mm", None),
            ("hh:mm:ss", None),
            ("h:mm AM/PM", None),
            ("h:mm a/p", None),
            ("[h]:mm", None),
            ("m/d/yy h:mm", None),
            ("hh\"h\"mm", None),
            ("hh:mm\" Uhr\"", None),
            ("mm:ss", Some("without its hour")),
            ("yyyy-mm-dd", Some("without its hour")),
            ("h AM/PM", Some("without its minutes")),
            ("m/d/yy h", Some("without its minutes")),
            ("h:mm\" pm\"", Some("with `pm` in it")),
            ("\"1\"h:mm", Some("with `1` in it")),
        ] {
            assert_eq!(hides_time(format).as_deref(), want, "{format}");
        }
    }
}
