//! The words of one language, and times, dates and amounts as its text.
//!
//! All words that a patient reads come from a catalog in `templates/words/`,
//! and all dates from ICU data, so that a language is added without code. A
//! message or an argument that is missing is never printed as a blank: it is
//! kept and becomes a fault.

use std::cell::{OnceCell, RefCell};

use chrono::{Datelike, NaiveDate, NaiveTime, Timelike};
use fluent_bundle::{FluentArgs, FluentBundle, FluentResource, FluentValue};
use icu_calendar::{Date, Gregorian};
use icu_datetime::FixedCalendarDateTimeFormatter;
use icu_datetime::fieldsets::{E, M, MD, YMD};
use icu_locale_core::Locale;

use crate::clock::Moment;
use crate::fault::{Fault, visible};
use crate::order::ClockStyle;
use crate::units::Drink;

/// The catalogs built in: language and text.
pub const CATALOGS: &[(&str, &str)] = &[
    ("en", include_str!("../templates/words/en.ftl")),
    ("es", include_str!("../templates/words/es.ftl")),
];

/// How many braces and parentheses a message may open: the parser may go down with
/// each, and the stack ends at some thousands.
const MOST_OPEN: usize = 200;

/// A space that does not break a line.
pub const NO_BREAK: char = '\u{00A0}';

/// The languages there is a catalog for.
pub fn languages() -> Vec<&'static str> {
    CATALOGS.iter().map(|(language, _)| *language).collect()
}

type Dates<F> = FixedCalendarDateTimeFormatter<Gregorian, F>;

/// One language: its catalog and its dates.
pub struct Words {
    pub language: &'static str,
    bundle: FluentBundle<FluentResource>,
    weekday: Dates<E>,
    month_day: Dates<MD>,
    full: Dates<YMD>,
    month: Dates<M>,
    /// As [`Words::label_months`] gives them.
    label_months: OnceCell<Vec<String>>,
    gaps: RefCell<Vec<String>>,
}

/// An argument of a message: text that is ready to print, or a number that a
/// message may choose a plural by.
#[derive(Debug, Clone)]
pub enum Arg {
    Text(String),
    Number(i64),
}

impl From<&str> for Arg {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<&String> for Arg {
    fn from(text: &String) -> Self {
        Self::Text(text.clone())
    }
}

impl From<String> for Arg {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<i64> for Arg {
    fn from(number: i64) -> Self {
        Self::Number(number)
    }
}

/// Says a message: `say!(words, "page-of", page = 1, pages = 6)`.
macro_rules! say {
    ($words:expr, $id:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $words.message($id, &[$((stringify!($name), $crate::words::Arg::from($value))),*])
    };
}
pub(crate) use say;

impl Words {
    /// Loads the catalog of `language`.
    ///
    /// # Errors
    ///
    /// A fault if there is no such catalog, or if it is not valid Fluent.
    pub fn load(language: &str) -> Result<Self, Vec<Fault>> {
        match CATALOGS.iter().find(|(known, _)| *known == language) {
            Some((language, text)) => Self::read(language, text),
            None => Err(vec![Fault::new(
                format!("there is no catalog for the language `{language}`"),
                format!("the languages are: {}", languages().join(", ")),
            )]),
        }
    }

    /// Reads `text`, a catalog of `language`.
    ///
    /// # Errors
    ///
    /// A fault if it is not valid Fluent, or if ICU has no dates in the language.
    pub fn read(language: &'static str, text: &str) -> Result<Self, Vec<Fault>> {
        let broken = |why: String| {
            vec![Fault::new(
                format!("the catalog templates/words/{language}.ftl is not sound: {why}"),
                "mend the catalog and build the program again",
            )]
        };
        if let Some(line) = opens_too_many(text) {
            let why = format!("a message opens more than {MOST_OPEN} braces");
            return Err(broken(format!("line {line}: {why}")));
        }
        if let Some(at) = broken_escape(text) {
            let why = "an escape is not of four or six hexadecimal figures";
            return Err(broken(format!("byte {at}: {why}")));
        }
        let resource =
            FluentResource::try_new(text.to_owned()).map_err(|(_, errors)| {
                let first = errors.first().map(|error| {
                    format!("byte {}: {}", error.pos.start, visible(&error.to_string()))
                });
                broken(first.unwrap_or_default())
            })?;
        let not_a_tag = || broken("its name is not a language tag".to_owned());
        let id = language.parse().map_err(|_| not_a_tag())?;
        let mut bundle = FluentBundle::new(vec![id]);
        bundle.set_use_isolating(false);
        bundle.add_resource(resource).map_err(|errors| {
            let first = errors.first().map(ToString::to_string);
            broken(visible(&first.unwrap_or_default()))
        })?;
        let locale: Locale = language.parse().map_err(|_| not_a_tag())?;
        let no_dates = |error: icu_datetime::DateTimeFormatterLoadError| {
            broken(format!("no dates: {error}"))
        };
        Ok(Self {
            language,
            bundle,
            weekday: Dates::try_new(locale.clone().into(), E::short())
                .map_err(no_dates)?,
            month_day: Dates::try_new(locale.clone().into(), MD::long())
                .map_err(no_dates)?,
            full: Dates::try_new(locale.clone().into(), YMD::long()).map_err(no_dates)?,
            month: Dates::try_new(locale.into(), M::medium()).map_err(no_dates)?,
            label_months: OnceCell::new(),
            gaps: RefCell::default(),
        })
    }

    /// The text of message `id`.
    ///
    /// What is missing is kept for [`Words::faults`], and a mark that cannot be
    /// overlooked stands in its place.
    pub fn message(&self, id: &str, args: &[(&str, Arg)]) -> String {
        let Some(pattern) =
            self.bundle.get_message(id).and_then(|message| message.value())
        else {
            self.gap(format!("there is no message `{id}`"));
            return format!("[[{id}]]");
        };
        let mut given = FluentArgs::new();
        for (name, arg) in args {
            let value = match arg {
                Arg::Text(text) => FluentValue::from(text.as_str()),
                Arg::Number(number) => FluentValue::from(*number),
            };
            given.set(*name, value);
        }
        let mut errors = Vec::new();
        let text = self.bundle.format_pattern(pattern, Some(&given), &mut errors);
        for error in errors {
            self.gap(format!("message `{id}`: {}", visible(&error.to_string())));
        }
        text.into_owned()
    }

    fn gap(&self, gap: String) {
        let mut gaps = self.gaps.borrow_mut();
        if !gaps.contains(&gap) {
            gaps.push(gap);
        }
    }

    /// The message `prefix-key`, for keys that are data.
    pub fn keyed(&self, prefix: &str, key: &str) -> String {
        self.message(&format!("{prefix}-{key}"), &[])
    }

    /// What was asked of the catalog and not there.
    pub fn faults(&self) -> Vec<Fault> {
        self.gaps
            .borrow()
            .iter()
            .map(|gap| {
                Fault::new(
                    gap.clone(),
                    format!("mend templates/words/{}.ftl and build again", self.language),
                )
            })
            .collect()
    }

    /// Whether a qualified translator has reviewed this catalog, or it is the
    /// language the words were written in.
    pub fn is_reviewed(&self) -> bool {
        say!(self, "catalog-review") != "no"
    }

    /// A time of day. Noon and midnight are words, because 12:00 am and pm are
    /// mixed up. On the 24-hour clock they are 12:00 and 00:00.
    pub fn time(&self, time: NaiveTime, style: ClockStyle) -> String {
        let minute = format!("{:02}", time.minute());
        let text = match (style, time.hour(), time.minute()) {
            (ClockStyle::TwentyFour, hour, _) => {
                say!(self, "clock-24", hour = format!("{hour:02}"), minute = minute)
            }
            (ClockStyle::Twelve, 12, 0) => say!(self, "clock-noon"),
            (ClockStyle::Twelve, 0, 0) => say!(self, "clock-midnight"),
            (ClockStyle::Twelve, hour, _) => {
                let half = if hour < 12 { "am" } else { "pm" };
                let hour = (hour + 11) % 12 + 1;
                say!(
                    self,
                    "clock-12",
                    hour = hour.to_string(),
                    minute = minute,
                    half = half
                )
            }
        };
        text.replace(' ', &NO_BREAK.to_string())
    }

    /// A date for the patient: "Wed, October 14".
    pub fn day(&self, date: NaiveDate) -> String {
        let icu = to_icu(date);
        say!(
            self,
            "date-day",
            weekday = self.weekday.format(&icu).to_string(),
            date = self.month_day.format(&icu).to_string(),
        )
    }

    /// A full date for the patient: "March 9, 1984".
    pub fn full_date(&self, date: NaiveDate) -> String {
        self.full.format(&to_icu(date)).to_string()
    }

    /// A date for a label, the month never a number: "14-Oct-2026".
    ///
    /// # Source
    ///
    /// NHS Common User Interface, date display: DD-Mmm-YYYY.
    pub fn label_date(&self, date: NaiveDate) -> String {
        let months = self.label_months();
        say!(
            self,
            "date-label",
            day = format!("{:02}", date.day()),
            month = &months[date.month0() as usize],
            year = date.year().to_string(),
        )
    }

    /// The names of the twelve months as labels have them.
    pub fn label_months(&self) -> &[String] {
        self.label_months.get_or_init(|| {
            let firsts = (1..=12).filter_map(|m| NaiveDate::from_ymd_opt(2001, m, 1));
            firsts
                .map(|first| self.month.format(&to_icu(first)).to_string())
                .map(|name| name.trim_end_matches('.').to_owned())
                .collect()
        })
    }

    /// The moment's time of day.
    pub fn clock(&self, moment: Moment, style: ClockStyle) -> String {
        self.time(moment.time(), style)
    }

    /// An amount to drink, millilitres first.
    pub fn drink(&self, drink: Drink) -> String {
        if drink.quarter_cups() == 0 {
            return say!(self, "amount-none");
        }
        // One plural category for up to one cup, another beyond.
        let count = if drink.quarter_cups() <= 4 { 1 } else { 2 };
        say!(
            self,
            "amount-cups",
            ml = thousands(drink.ml()),
            cups = cups(drink.quarter_cups()),
            count = count,
        )
        .replace(' ', &NO_BREAK.to_string())
    }
}

/// The line up to which a message opens more braces and parentheses than any that
/// people write. Those that are closed count as well: what closes one cannot be told
/// from the same character in a text without parsing it.
fn opens_too_many(catalog: &str) -> Option<usize> {
    let mut open = 0;
    for (line, text) in (1..).zip(catalog.lines()) {
        if begins_a_message(text) {
            open = 0;
        }
        open += text.bytes().filter(|byte| matches!(byte, b'{' | b'(')).count();
        if open > MOST_OPEN {
            return Some(line);
        }
    }
    None
}

/// Whether a message begins with `line`. No line within one can look like this.
fn begins_a_message(line: &str) -> bool {
    let named = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_');
    line.starts_with(|c: char| c.is_ascii_alphabetic() || c == '-')
        && line.trim_start_matches(named).trim_start_matches(' ').starts_with('=')
}

/// Where an escape `\u` or `\U` is cut short by a character that is not ASCII: the
/// parser would divide that character.
fn broken_escape(catalog: &str) -> Option<usize> {
    let bytes = catalog.as_bytes();
    let mut from = 0;
    while let Some(found) = memchr::memchr(b'\\', &bytes[from..]) {
        let at = from + found;
        let length = match bytes.get(at + 1) {
            Some(b'u') => 4,
            Some(b'U') => 6,
            _ => 0,
        };
        if bytes[at..].iter().skip(2).take(length).any(|byte| !byte.is_ascii()) {
            return Some(at);
        }
        from = (at + 2).min(bytes.len());
    }
    None
}

/// Whole and quarter cups: "1½".
pub fn cups(quarters: u32) -> String {
    let part = ["", "¼", "½", "¾"][(quarters % 4) as usize];
    match quarters / 4 {
        0 => part.to_owned(),
        whole => format!("{whole}{part}"),
    }
}

/// A whole number with a comma from 1,000 on (ISMP list of error-prone
/// abbreviations, 2021: large numbers without commas).
fn thousands(number: u32) -> String {
    if number < 1000 {
        number.to_string()
    } else {
        format!("{},{:03}", number / 1000, number % 1000)
    }
}

/// `text` with no break between a figure and what belongs to it: "5 pm", "17 h".
pub fn bound(text: &str) -> String {
    let belongs = |after: &str| {
        let unit = after.trim_end_matches([',', ';', ')']);
        matches!(unit.to_lowercase().as_str(), "am" | "pm" | "a.m." | "p.m." | "h" | "h.")
    };
    let mut words = text.split(' ');
    let mut bound = words.next().unwrap_or_default().to_owned();
    for word in words {
        let is_figure = bound.ends_with(|c: char| c.is_ascii_digit());
        bound.push(if is_figure && belongs(word) { NO_BREAK } else { ' ' });
        bound.push_str(word);
    }
    bound
}

/// `date` in ICU's type; years outside its range do not pass the order's door.
fn to_icu(date: NaiveDate) -> Date<Gregorian> {
    Date::try_new_gregorian(date.year(), date.month() as u8, date.day() as u8)
        .unwrap_or_else(|_| Date::try_new_gregorian(2000, 1, 1).expect("a valid date"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn time(hour: u32, minute: u32) -> NaiveTime {
        NaiveTime::from_hms_opt(hour, minute, 0).unwrap()
    }

    fn date(year: i32, month: u32, day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(year, month, day).unwrap()
    }

    fn plain(text: String) -> String {
        text.replace(NO_BREAK, " ")
    }

    #[test]
    fn noon_and_midnight_are_words_on_the_twelve_hour_clock() {
        let en = Words::load("en").unwrap();
        for (at, want) in [
            (time(0, 0), "12 midnight"),
            (time(0, 15), "12:15 am"),
            (time(11, 59), "11:59 am"),
            (time(12, 0), "12 noon"),
            (time(12, 30), "12:30 pm"),
            (time(17, 5), "5:05 pm"),
        ] {
            assert_eq!(plain(en.time(at, ClockStyle::Twelve)), want);
        }
        assert_eq!(plain(en.time(time(0, 0), ClockStyle::TwentyFour)), "00:00");
        assert_eq!(plain(en.time(time(7, 5), ClockStyle::TwentyFour)), "07:05");
    }

    #[test]
    fn a_figure_keeps_what_belongs_to_it() {
        for (text, want) in [
            ("Monday to Friday, 8 am to 5 pm", "Monday to Friday, 8~am to 5~pm"),
            (
                "Mon-Fri 8 A.M. to 5 P.M., not on May 5",
                "Mon-Fri 8~A.M. to 5~P.M., not on May 5",
            ),
            ("Lunes a viernes, de 8 a 17 h", "Lunes a viernes, de 8 a 17~h"),
            ("7 days, 24 hours", "7 days, 24 hours"),
            ("pm", "pm"),
            ("", ""),
        ] {
            assert_eq!(bound(text).replace(NO_BREAK, "~"), want);
        }
    }

    /// Month and weekday names are CLDR's, through ICU4X.
    #[test]
    fn dates_read_as_people_write_them() {
        let en = Words::load("en").unwrap();
        let es = Words::load("es").unwrap();
        let day = date(2026, 10, 14);
        assert_eq!(plain(en.day(day)), "Wed, October 14");
        assert_eq!(plain(es.day(day)), "mié, 14 de octubre");
        assert_eq!(plain(en.full_date(date(1984, 3, 9))), "March 9, 1984");
        assert_eq!(plain(es.full_date(date(1984, 3, 9))), "9 de marzo de 1984");
        assert_eq!(en.label_date(date(2026, 2, 3)), "03-Feb-2026");
        assert_eq!(es.label_date(date(2026, 1, 31)), "31-ene-2026");
    }

    #[test]
    fn amounts_name_millilitres_first_and_cups_in_quarters() {
        let en = Words::load("en").unwrap();
        let amount = |quarters| plain(en.drink(Drink::from_quarter_cups(quarters)));
        assert_eq!(amount(6), "350 mL (1½ cups)");
        assert_eq!(amount(4), "230 mL (1 cup)");
        assert_eq!(amount(3), "170 mL (¾ cup)");
        assert_eq!(amount(20), "1,180 mL (5 cups)");
        assert_eq!(amount(0), "0 mL");
    }

    #[test]
    fn a_gap_in_a_catalog_is_a_fault_and_not_a_blank() {
        let en = Words::load("en").unwrap();
        assert_eq!(en.message("no-such-message", &[]), "[[no-such-message]]");
        en.message("page-of", &[("page", Arg::Number(1))]);
        assert_eq!(en.faults().len(), 2);
    }
}
