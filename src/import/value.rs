//! Cells and what they can be read as: dates, times, weights, yes and no.
//!
//! Takes one cell and the kind its column has, gives a value or what is wrong.
//! Nothing is guessed: what two people could read in two ways is wrong here.

use calamine::ExcelDateTime;
use chrono::{NaiveDate, NaiveTime, Timelike};

use super::columns::{Columns, DateFormat, Kind};
use super::draft::{Complaint, Entry};
use super::format::{self, Shown};
use crate::fault::visible;
use crate::units::WeightUnit;

/// Spreadsheets hold fifteen figures of a number; a longer one has lost some.
const MOST_EXACT: f64 = 1e15;

/// The first serial day after the false leap day of the 1900 date system
/// (1 March 1900): before it, programs disagree by a day.
const FIRST_SURE_DAY: f64 = 61.0;

/// A cell as a file has it.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Value {
    Empty,
    Text(String),
    /// A number and the format it is shown in.
    Number(f64, String),
    /// A date, a time or both, and the format it is shown in.
    Moment(ExcelDateTime, String),
    Flag(bool),
    /// A cell without a value to read: an error, or a formula never worked out.
    Broken(String),
}

impl Value {
    pub fn is_empty(&self) -> bool {
        match self {
            Self::Empty => true,
            Self::Text(text) => text.trim().is_empty(),
            _ => false,
        }
    }

    /// The cell as a message shows it.
    pub fn shown(&self) -> String {
        match self {
            Self::Empty => String::new(),
            Self::Text(text) | Self::Broken(text) => text.clone(),
            Self::Number(number, _) => number.to_string(),
            Self::Moment(moment, _) => shown_moment(*moment),
            Self::Flag(true) => "TRUE".into(),
            Self::Flag(false) => "FALSE".into(),
        }
    }
}

fn shown_moment(moment: ExcelDateTime) -> String {
    let (year, month, day, hour, minute, second, _) = moment.to_ymd_hms_milli();
    let time = match second {
        0 => format!("{hour:02}:{minute:02}"),
        _ => format!("{hour:02}:{minute:02}:{second:02}"),
    };
    let serial = moment.as_f64();
    if (0.0..1.0).contains(&serial) {
        return time;
    }
    let date = format!("{year:04}-{month:02}-{day:02}");
    if serial.fract() == 0.0 { date } else { format!("{date} {time}") }
}

/// Reads a cell that is not empty.
///
/// # Errors
///
/// What is wrong and what would be right.
pub(super) fn read(
    value: &Value,
    kind: Kind,
    columns: &Columns,
) -> Result<Entry, Complaint> {
    if let Value::Broken(what) = value {
        let help = "open the file in a spreadsheet program, mend the cell and save it";
        return Err((format!("the cell holds no value but {what}"), help.into()));
    }
    match kind {
        Kind::Code => code(value).map(Entry::Text),
        Kind::Text => text(value).map(Entry::Text),
        Kind::Word => text(value).map(|word| Entry::Text(word.to_lowercase())),
        Kind::Date => date(value, columns.date_format).map(Entry::Date),
        Kind::Time => time(value).map(Entry::Time),
        Kind::Times => times(value).map(Entry::Times),
        Kind::Weight => weight(value, columns.weight_unit).map(Entry::Text),
        Kind::YesNo => yes_or_no(value).map(Entry::Flag),
    }
}

/// A number or name whose every character counts.
fn code(value: &Value) -> Result<String, Complaint> {
    let help = "format the column as text and enter the number as it was issued";
    match value {
        Value::Text(text) if is_scientific(text.trim()) => Err((
            format!("`{}` is a number that a spreadsheet has shortened", text.trim()),
            help.into(),
        )),
        Value::Text(text) => Ok(text.trim().to_owned()),
        Value::Number(number, format) => {
            if number.fract() != 0.0 || *number < 0.0 || *number >= MOST_EXACT {
                return Err((
                    format!("the number {number} cannot have been issued as it stands"),
                    help.into(),
                ));
            }
            plainly(*number, format, "issued", help)?;
            Ok(format!("{number:.0}"))
        }
        other => Err((format!("the cell holds {}", kind_of(other)), help.into())),
    }
}

/// Refuses a number that is seen with other figures than it has, or with more.
fn plainly(number: f64, format: &str, was: &str, help: &str) -> Result<(), Complaint> {
    if format::is_plain(format, number) {
        return Ok(());
    }
    Err((
        format!(
            "the number {number} is shown in the format `{}`, which can differ from what \
             was {was}",
            visible(format)
        ),
        help.into(),
    ))
}

/// Whether a text is `1E+05` or the like: figures, an E, a sign, figures.
fn is_scientific(text: &str) -> bool {
    let Some((mantissa, exponent)) = text.split_once(['E', 'e']) else { return false };
    let figures = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    let mantissa = mantissa.replace(['.', ','], "");
    let unsigned = exponent.strip_prefix(['+', '-']);
    figures(&mantissa) && unsigned.is_some_and(figures)
}

/// Whether it is what a spreadsheet writes in the place of a value (ECMA-376, part 1,
/// 18.17.3).
fn is_error(text: &str) -> bool {
    const ERRORS: [&str; 9] = [
        "#N/A",
        "#REF!",
        "#VALUE!",
        "#NAME?",
        "#DIV/0!",
        "#NULL!",
        "#NUM!",
        "#GETTING_DATA",
        "#SPILL!",
    ];
    ERRORS.contains(&text)
}

fn text(value: &Value) -> Result<String, Complaint> {
    let help = "format the column as text and enter it again";
    match value {
        Value::Text(text) if is_error(text.trim()) => Err((
            format!("`{}` is the mistake of a formula, and no text", text.trim()),
            "enter what the cell was to hold".into(),
        )),
        Value::Text(text) => Ok(text.trim().to_owned()),
        Value::Number(number, format)
            if number.is_finite() && number.abs() < MOST_EXACT =>
        {
            plainly(*number, format, "written", help)?;
            Ok(number.to_string())
        }
        other => Err((
            format!("the cell holds {}, where a text is wanted", kind_of(other)),
            help.into(),
        )),
    }
}

const DATE_HELP: &str = "write it as year-month-day, such as 1984-03-09";

fn date(value: &Value, format: Option<DateFormat>) -> Result<NaiveDate, Complaint> {
    match value {
        Value::Text(text) => text_date(text.trim(), format),
        Value::Moment(moment, shown) => serial_date(*moment, shown),
        other => Err((
            format!("the cell holds {}, where a date is wanted", kind_of(other)),
            "format the cell as a date with its year, or as text in the form \
             1984-03-09"
                .into(),
        )),
    }
}

fn serial_date(moment: ExcelDateTime, shown: &str) -> Result<NaiveDate, Complaint> {
    let serial = moment.as_f64();
    let wrong = |what: String| Err((what, DATE_HELP.to_owned()));
    if serial.fract() != 0.0 {
        return wrong(format!(
            "the cell holds a time of day, {}, where a date is wanted",
            shown_moment(moment)
        ));
    }
    // What is not shown, such as the year, nobody has seen: the program put it in.
    if let Some(hides) = format::hides_date(shown).filter(|_| !shown.is_empty()) {
        return wrong(format!("the date is shown as `{}`, {hides}", visible(shown)));
    }
    let (year, month, day, ..) = moment.to_ymd_hms_milli();
    let date = NaiveDate::from_ymd_opt(year.into(), month.into(), day.into());
    match date {
        Some(date) if (FIRST_SURE_DAY..2_958_466.0).contains(&serial) => Ok(date),
        _ => wrong(format!("the day {serial} is before 1 March 1900 or after 9999")),
    }
}

/// Whether a date's day and month are where the laboratory says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum DayAndMonth {
    Sure,
    /// It would be another day with both the other way round.
    EitherWay,
    /// It is a day only with both the other way round.
    OtherWay,
}

pub(super) fn day_and_month(value: &Value, format: Option<DateFormat>) -> DayAndMonth {
    let figures = match value {
        Value::Text(text) => {
            let day = midnight_cut(text.trim());
            let parts = figures_of(day).filter(|_| iso_date(day).is_none());
            parts.zip(format).map(|(parts, format)| {
                let (_, month, day) = in_order(parts, format);
                (month.parse().unwrap_or(0), day.parse().unwrap_or(0))
            })
        }
        // A spreadsheet program may have made it from a text, in an order of its own.
        Value::Moment(moment, _) => {
            let (_, month, day, ..) = moment.to_ymd_hms_milli();
            Some((month, day))
        }
        _ => None,
    };
    match figures {
        Some((13..=31, 1..=12)) => DayAndMonth::OtherWay,
        Some((month @ 1..=12, day @ 1..=12)) if month != day => DayAndMonth::EitherWay,
        _ => DayAndMonth::Sure,
    }
}

/// The three figures of a date that has no words.
fn figures_of(day: &str) -> Option<[&str; 3]> {
    let parts: [&str; 3] =
        day.split(['/', '.', '-']).collect::<Vec<_>>().try_into().ok()?;
    let mut marks = day.chars().filter(|c| "/.-".contains(*c));
    let figures = |s: &&str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    (parts.iter().all(figures) && marks.next() == marks.next()).then_some(parts)
}

/// Year, month and day of three figures.
fn in_order([first, second, third]: [&str; 3], format: DateFormat) -> (&str, &str, &str) {
    match format {
        DateFormat::DayFirst => (third, second, first),
        DateFormat::MonthFirst => (third, first, second),
        DateFormat::YearFirst => (first, second, third),
    }
}

fn text_date(text: &str, format: Option<DateFormat>) -> Result<NaiveDate, Complaint> {
    let day = midnight_cut(text);
    if let Some(date) = iso_date(day) {
        return Ok(date);
    }
    let shown = visible(text);
    let Some(parts) = figures_of(day) else {
        return Err((format!("`{shown}` is not a date"), DATE_HELP.into()));
    };
    // With four figures and a hyphen in front, a date has one reading.
    let is_iso = parts[0].len() == 4 && day.contains('-');
    if is_iso && format != Some(DateFormat::YearFirst) {
        return Err((no_iso_date(&shown, parts[1], parts[2]), DATE_HELP.into()));
    }
    let Some(format) = format else {
        return Err((
            format!("`{shown}` can be read as more than one date"),
            format!(
                "{DATE_HELP}; or say in [columns] of lab.toml what the export does: \
                 date_format = \"day first\", \"month first\" or \"year first\""
            ),
        ));
    };
    let (year, month, day) = in_order(parts, format);
    if year.len() != 4 && parts[0].len() == 4 {
        return Err((
            format!("`{shown}` begins with its year, and date_format has another order"),
            DATE_HELP.into(),
        ));
    }
    if year.len() != 4 {
        return Err((
            format!("the year of `{shown}` does not have four figures"),
            "write the whole year, such as 1984".into(),
        ));
    }
    calendar_date(year, month, day).ok_or_else(|| {
        (format!("`{shown}` is no date with the {}", format.words()), DATE_HELP.into())
    })
}

/// What is wrong with a date that begins with its year and is none.
fn no_iso_date(shown: &str, month: &str, day: &str) -> String {
    let short = match (month.len() == 2, day.len() == 2) {
        (true, true) => return format!("there is no day `{shown}`"),
        (true, false) => "the day",
        (false, true) => "the month",
        (false, false) => "month and day",
    };
    format!("`{shown}` does not have two figures for {short}")
}

/// `text` without a time of midnight after it, as programs add to dates.
fn midnight_cut(text: &str) -> &str {
    ["T00:00:00", " 00:00:00", " 00:00"]
        .iter()
        .find_map(|midnight| text.strip_suffix(midnight))
        .unwrap_or(text)
}

/// `2026-10-14` and nothing like it.
pub(super) fn iso_date(text: &str) -> Option<NaiveDate> {
    let [year, month, day] = text.split('-').collect::<Vec<_>>().try_into().ok()?;
    if (year.len(), month.len(), day.len()) != (4, 2, 2) {
        return None;
    }
    calendar_date(year, month, day)
}

fn calendar_date(year: &str, month: &str, day: &str) -> Option<NaiveDate> {
    let number = |text: &str| {
        let plain = text.bytes().all(|b| b.is_ascii_digit()) && text.len() <= 4;
        plain.then(|| text.parse::<u32>().ok()).flatten()
    };
    let year = i32::try_from(number(year)?).ok()?;
    NaiveDate::from_ymd_opt(year, number(month)?, number(day)?)
}

const TIME_HELP: &str = "write it on the 24-hour clock with two figures for the hour, \
                         such as 07:15, or with am or pm, such as 5:15 pm";

fn time(value: &Value) -> Result<NaiveTime, Complaint> {
    match value {
        Value::Text(text) => text_time(text.trim()),
        Value::Moment(moment, shown) => serial_time(*moment, shown),
        other => Err((
            format!("the cell holds {}, where a time of day is wanted", kind_of(other)),
            format!("format the cell as a time, or {TIME_HELP}"),
        )),
    }
}

fn serial_time(moment: ExcelDateTime, format: &str) -> Result<NaiveTime, Complaint> {
    let serial = moment.as_f64();
    let wrong = || {
        let shown = shown_moment(moment);
        Err((
            format!("`{shown}` is not a time of day in whole minutes"),
            TIME_HELP.into(),
        ))
    };
    if !(0.0..1.0).contains(&serial) {
        return wrong();
    }
    // A fraction of a day is off by rounding, and by far less than a second.
    let seconds = serial * 86_400.0;
    let whole = seconds.round();
    if (seconds - whole).abs() > 0.01 {
        return wrong();
    }
    let time = NaiveTime::from_num_seconds_from_midnight_opt(whole as u32, 0);
    match time {
        Some(time) if time.second() == 0 => match format::hides_time(format) {
            None => Ok(time),
            Some(hides) => Err((
                format!("the time {time} is shown as `{}`, {hides}", visible(format)),
                TIME_HELP.into(),
            )),
        },
        _ => wrong(),
    }
}

/// `text` in small letters, with am and pm as these.
fn with_halves(text: &str) -> String {
    text.to_ascii_lowercase().replace("a.m.", "am").replace("p.m.", "pm")
}

/// Whether a time says itself if it is in the morning or the evening.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Half {
    Said,
    /// It reads the same in the morning and in the evening.
    Either,
    /// By its hour it can be no other.
    Clear,
}

/// Each time that a cell shows, with its half.
pub(super) fn halves(value: &Value) -> Vec<(String, Half)> {
    let half = |is_said: bool, time: Result<NaiveTime, Complaint>| match time {
        Ok(_) if is_said => Half::Said,
        Ok(time) if (1..=12).contains(&time.hour()) => Half::Either,
        _ => Half::Clear,
    };
    match value {
        Value::Text(text) => text
            .split([',', ';'])
            .map(|part| {
                let lower = with_halves(part.trim());
                let is_said = lower.ends_with("am") || lower.ends_with("pm");
                (part.trim().to_owned(), half(is_said, text_time(part.trim())))
            })
            .collect(),
        Value::Moment(moment, format) => {
            let time = serial_time(*moment, format);
            let half = half(format::says_which_half(format), time);
            vec![(shown_moment(*moment), half)]
        }
        _ => Vec::new(),
    }
}

/// `17:15`, `17:15:00`, `5:15 pm` or `5:15:00 PM`. A figure alone before the
/// colon needs am or pm: of a dinner at `5:15` nobody can tell which.
pub(super) fn text_time(text: &str) -> Result<NaiveTime, Complaint> {
    let shown = || visible(text);
    let wrong = |what: String| Err((what, TIME_HELP.to_owned()));
    let lower = with_halves(text);
    let (clock, half) = if let Some(clock) = lower.strip_suffix("am") {
        (clock.trim_end(), Some(0))
    } else if let Some(clock) = lower.strip_suffix("pm") {
        (clock.trim_end(), Some(12))
    } else {
        (lower.as_str(), None)
    };
    let parts: Vec<&str> = clock.split(':').collect();
    let figures =
        |s: &str| (1..=2).contains(&s.len()) && s.bytes().all(|b| b.is_ascii_digit());
    let (hour, minute) = match parts.as_slice() {
        [hour, minute] | [hour, minute, "00"]
            if figures(hour) && figures(minute) && minute.len() == 2 =>
        {
            (*hour, *minute)
        }
        _ => {
            return wrong(format!("`{}` is not a time of day in whole minutes", shown()));
        }
    };
    if half.is_none() && hour.len() != 2 {
        return wrong(format!("`{}` can be in the morning or the evening", shown()));
    }
    let number = |text: &str| text.parse::<u32>().unwrap_or(99);
    let hour = match (number(hour), half) {
        (hour, None) => hour,
        (hour @ 1..=12, Some(half)) => hour % 12 + half,
        _ => return wrong(format!("`{}` is not a time of day", shown())),
    };
    match NaiveTime::from_hms_opt(hour, number(minute), 0) {
        Some(time) => Ok(time),
        None => wrong(format!("`{}` is not a time of day", shown())),
    }
}

fn times(value: &Value) -> Result<Vec<NaiveTime>, Complaint> {
    let Value::Text(text) = value else { return time(value).map(|time| vec![time]) };
    text.split([',', ';'])
        .map(|part| {
            text_time(part.trim()).map_err(|(what, help)| {
                (what, format!("{help}; put commas between times"))
            })
        })
        .collect()
}

fn weight(value: &Value, unit: Option<WeightUnit>) -> Result<String, Complaint> {
    let unit = unit.map(|unit| match unit {
        WeightUnit::Pound => "lb",
        WeightUnit::Kilogram => "kg",
    });
    let bare = match value {
        Value::Text(text) => text.trim().to_owned(),
        Value::Number(number, format) if number.is_finite() => {
            seen_weight(*number, format, unit)?;
            number.to_string()
        }
        other => {
            return Err((
                format!("the cell holds {}, where a weight is wanted", kind_of(other)),
                "write the number, a space and lb or kg, such as 150 lb".into(),
            ));
        }
    };
    let split = bare.find(|c: char| !c.is_ascii_digit() && c != '.');
    let Some(split) = split else {
        let Some(unit) = unit else {
            return Err((
                format!("the weight `{}` has no unit", visible(&bare)),
                "write the number, a space and lb or kg, such as 150 lb; or say in \
                 [columns] of lab.toml which it is: weight_unit = \"lb\" or \"kg\""
                    .into(),
            ));
        };
        return Ok(format!("{bare} {unit}"));
    };
    let (number, word) = bare.split_at(split);
    let Some(word) = weight_unit(word) else {
        return Err((
            format!("`{}` is not a weight", visible(&bare)),
            "write the number with a point, a space and lb or kg, such as 68.5 kg".into(),
        ));
    };
    Ok(format!("{number} {word}"))
}

/// The unit of weight that a short word stands for.
pub(super) fn weight_unit(word: &str) -> Option<&'static str> {
    match word.trim().to_ascii_lowercase().as_str() {
        "lb" | "lbs" => Some("lb"),
        "kg" => Some("kg"),
        _ => None,
    }
}

/// Refuses a weight that a person sees in another unit than the column's `unit`, or
/// as another number: a cell of 148 that shows "148 kg" is not 148 lb.
fn seen_weight(number: f64, format: &str, unit: Option<&str>) -> Result<(), Complaint> {
    let seen = match format::number(format, number) {
        Shown::Bare => return Ok(()),
        Shown::With(text) if unit.is_some() && weight_unit(&text) == unit => {
            return Ok(());
        }
        Shown::With(text) => format!("with `{}`", visible(&text)),
        Shown::Otherwise => "otherwise".to_owned(),
    };
    let column = match unit {
        Some(unit) => format!("the column's unit is {unit}"),
        None => "the column has no unit".to_owned(),
    };
    Err((
        format!(
            "the weight {number} is shown {seen}, by the format `{}`, and {column}",
            visible(format)
        ),
        "enter it as a text with its unit, such as 68.5 kg, or as a number in the \
         column's unit, in a format that shows the number alone; the unit of a column \
         is weight_unit in [columns] of lab.toml"
            .into(),
    ))
}

fn yes_or_no(value: &Value) -> Result<bool, Complaint> {
    let word = match value {
        Value::Flag(flag) => return Ok(*flag),
        Value::Number(number, format) => {
            plainly(*number, format, "written", "write yes or no as a text")?;
            number.to_string()
        }
        other => other.shown().trim().to_lowercase(),
    };
    match word.as_str() {
        "yes" | "y" | "true" | "1" => Ok(true),
        "no" | "n" | "false" | "0" => Ok(false),
        _ => Err((
            format!("`{}` is neither yes nor no", visible(&word)),
            "write yes or no; find out which where it is not known".into(),
        )),
    }
}

fn kind_of(value: &Value) -> String {
    match value {
        Value::Empty => "nothing".into(),
        Value::Text(_) => "a text".into(),
        Value::Number(number, _) => format!("the number {number}"),
        Value::Moment(moment, _) => {
            format!("the date or time {}", shown_moment(*moment))
        }
        Value::Flag(_) => "true or false".into(),
        Value::Broken(what) => what.clone(),
    }
}
