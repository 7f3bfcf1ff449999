//! Reads an order: what was asked for one patient.
//!
//! Takes TOML text, gives an [`Order`] or every fault in it at once. Knows
//! nothing of moments: times are still wall times here, and no rule of a
//! protocol is applied.

mod day;
mod dose;
mod health;
pub mod rewrite;
mod values;

use std::sync::Arc;

use chrono::{Datelike, Days, NaiveDate, NaiveTime};

use crate::clock::Clock;
use crate::fault::{Fault, Source, suggest, visible};
use crate::fields::{Fields, Found, read_file, span_of};
use crate::lab::Lab;
use crate::medicine::Medicines;
use crate::units::Weight;
use crate::{protocol, specimen, stock, words};

use day::When;
use health::health;

pub use day::{Cycle, DayLimits, FIRST_SUITABLE, LONGEST_COUNT_DAYS, START_YEARS, Zone};
pub use dose::{Dose, Form, Timing};
pub use health::{Clearance, HealthFlag, HoldKind};
pub use values::{Values, values_in};

/// The longest name that is printed, in characters.
const LONGEST_NAME: usize = 60;
/// The most dose lines of one order; more do not fit a sheet a person can use.
const MOST_DOSES: usize = 12;
/// Weights outside this are refused as slips of the pen, in pounds.
const WEIGHT_POUNDS: (i64, i64) = (20, 700);

/// What was asked for one patient.
#[derive(Debug, Clone)]
pub struct Order {
    /// Order number: 4 to 20 of `A-Z 0-9 -`.
    pub number: String,
    /// Name of the protocol.
    pub protocol: Found<String>,
    /// The day of card 1 and the clock it is on; absent on an undated sheet.
    pub start: Option<Start>,
    /// The order's zone or the laboratory's; a dated order has one.
    pub zone: Option<Zone>,
    /// Where the order asks for the first suitable day; it is undated then.
    pub first_suitable: Option<Found<()>>,
    /// The day after which the program looked when it chose the start.
    pub first_suitable_from: Option<NaiveDate>,
    pub day: DayLimits,
    pub cycle: Option<Cycle>,
    pub language: String,
    pub paper: Paper,
    pub clock: ClockStyle,
    pub text: TextSize,
    /// Name of the label stock, if the order asks for one.
    pub stock: Option<Found<String>>,
    pub patient: Patient,
    pub routine: Routine,
    pub provider: Option<Provider>,
    pub doses: Vec<Dose>,
    pub health: Vec<HealthFlag>,
    pub cleared: Vec<Clearance>,
    /// The day on which age counts: the start, or the day of reading.
    pub age_on: NaiveDate,
    /// The text it was read from; it travels in the finished PDF.
    pub source: Arc<Source>,
}

/// The day of card 1 with its zone.
#[derive(Debug, Clone)]
pub struct Start {
    pub date: NaiveDate,
    /// IANA name of the zone.
    pub zone: String,
    pub clock: Clock,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Paper {
    Letter,
    A4,
}

impl Paper {
    pub const CHOICES: &'static [(&'static str, Self)] =
        &[("letter", Self::Letter), ("a4", Self::A4)];

    /// Width and height in millimetres.
    pub fn size_mm(self) -> (f64, f64) {
        match self {
            Self::Letter => (215.9, 279.4),
            Self::A4 => (210.0, 297.0),
        }
    }
}

/// Whether times are written 5:15 pm or 17:15.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ClockStyle {
    Twelve,
    TwentyFour,
}

impl ClockStyle {
    pub const CHOICES: &'static [(&'static str, Self)] =
        &[("12h", Self::Twelve), ("24h", Self::TwentyFour)];
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TextSize {
    /// 12 pt.
    Standard,
    /// 18 pt.
    Large,
}

impl TextSize {
    pub const CHOICES: &'static [(&'static str, Self)] =
        &[("standard", Self::Standard), ("large", Self::Large)];
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Patient {
    pub family: String,
    pub given: String,
    pub born: NaiveDate,
    pub weight: Option<Weight>,
    /// The day of the weighing, where it is known.
    pub weighed: Option<NaiveDate>,
}

impl Patient {
    /// The name as packers read it: "OKONKWO-REYES, Marisol".
    pub fn name(&self) -> String {
        format!("{}, {}", self.family.to_uppercase(), self.given)
    }
}

/// The wall times of an ordinary day; an absent one is the protocol's.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Routine {
    pub lunch: Option<NaiveTime>,
    pub dinner: Option<NaiveTime>,
    pub bedtime: Option<NaiveTime>,
    pub wake: Option<NaiveTime>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Provider {
    pub name: String,
    pub phone: String,
    /// The provider agreed to the protocol's dose rules for this patient.
    pub dose_rules_agreed: bool,
}

/// The names that an order can choose from, beside those of stocks.
#[derive(Debug, Clone)]
pub struct Names<'a> {
    pub languages: Vec<&'a str>,
    pub protocols: Vec<&'a str>,
}

impl Names<'static> {
    /// What is built in.
    pub fn builtin() -> Self {
        Self { languages: words::languages(), protocols: protocol::builtin_names() }
    }
}

/// Reads one order.
///
/// `lab` gives what the order leaves out, `today` is the last day a person can
/// have been born on.
///
/// # Errors
///
/// Every fault of the order, each with its place.
pub fn read_order(
    source: &Arc<Source>,
    lab: &Lab,
    medicines: &Medicines,
    names: &Names,
    today: NaiveDate,
) -> Result<Order, Vec<Fault>> {
    read_file(source, |top| {
        let reader = Reader { top, lab, medicines, names, today };
        reader.order()
    })
}

/// That `found` is none of `names`, each the name of a `what`.
pub fn unknown(
    found: &Found<String>,
    source: &Arc<Source>,
    what: &str,
    names: &[&str],
) -> Fault {
    let name = visible(&found.value);
    let help = suggest(&found.value, names);
    found.fault(source, format!("there is no {what} `{name}`"), help)
}

struct Reader<'a> {
    top: &'a Fields<'a>,
    lab: &'a Lab,
    medicines: &'a Medicines,
    names: &'a Names<'a>,
    today: NaiveDate,
}

impl Reader<'_> {
    /// Every part is read before any is missed, so no fault hides another.
    fn order(&self) -> Option<Order> {
        let top = self.top;
        let number = self.number();
        let protocol = self.known("protocol", "protocol", &self.names.protocols);
        let protocol = top.require("protocol", "\"four-card\"", protocol);
        let when = self.when();
        let day = top.table("day", day::limits).unwrap_or_default();
        let start = when.as_ref().and_then(|when| when.start.as_ref());
        let start = start.map(|start| start.date);
        let cycle = top.table("cycle", |fields| self.cycle(fields, start));
        let language = self.language();
        let paper = top.choice("paper", Paper::CHOICES);
        let clock = top.choice("clock", ClockStyle::CHOICES);
        let text = top.choice("text", TextSize::CHOICES);
        let stock = self.known("stock", "label stock", &stock::builtin_names());
        let patient = top.table("patient", |fields| self.patient(fields)).flatten();
        if !top.has("patient") {
            top.missing_table("patient", "family, given and born");
        }
        let routine = top.table("routine", routine).unwrap_or_default();
        let provider = top.table("provider", |fields| self.provider(fields)).flatten();
        let doses = top.tables("dose", |fields| self.dose(fields));
        let health = top.table("health", health).unwrap_or_default();
        let cleared = top.tables("cleared", |fields| self.clearance(fields));

        if doses.len() > MOST_DOSES {
            top.fault(
                Fault::new(
                    format!(
                        "the order has {} dose tables, more than {MOST_DOSES}",
                        doses.len()
                    ),
                    "list only what is taken on the days of the collection",
                )
                .at(top.source, 0..0, "dose"),
            );
        }
        self.refuse_repeated(&doses);
        let language = language?;
        let When { zone, start, first_suitable, first_suitable_from } = when?;
        Some(Order {
            number: number?,
            protocol: protocol?,
            age_on: start.as_ref().map_or(self.today, |start| start.date),
            start,
            zone,
            first_suitable,
            first_suitable_from,
            day,
            cycle: match cycle {
                Some(cycle) => Some(cycle?),
                None => None,
            },
            paper: paper.map_or(self.lab.paper, |paper| paper.value),
            clock: clock.map_or_else(
                || self.lab.clock.unwrap_or(default_clock(&language)),
                |clock| clock.value,
            ),
            language,
            text: text.map_or(TextSize::Standard, |text| text.value),
            stock,
            patient: patient?,
            routine,
            provider,
            doses: doses.into_iter().collect::<Option<_>>()?,
            health,
            cleared: cleared.into_iter().collect::<Option<_>>()?,
            source: top.source.clone(),
        })
    }

    fn number(&self) -> Option<String> {
        let top = self.top;
        let number = top.require("order", "\"HB-20417\"", top.text("order"))?;
        let (what, help) = match check_number(&number.value, &self.lab.id_prefix) {
            Err(wrong) => wrong,
            // Whoever types it could mean the one or the other.
            Ok(()) => match specimen::parse(&number.value) {
                None => return Some(number.value),
                Some((order, _)) => (
                    format!("`{}` is the code of a card of {order}", number.value),
                    "give the order a number that cannot be taken for a card's: one \
                     that does not end in a hyphen, a figure and one more character"
                        .into(),
                ),
            },
        };
        top.fault(number.fault(top.source, what, help));
        None
    }

    fn language(&self) -> Option<String> {
        let what = "catalog for the language";
        let found = self.known("language", what, &self.names.languages);
        if self.top.has("language") {
            found.map(|found| found.value)
        } else {
            Some(self.lab.language.clone())
        }
    }

    /// The name in the field `key`, if it is one of `names`.
    fn known(&self, key: &str, what: &str, names: &[&str]) -> Option<Found<String>> {
        let found = self.top.text(key)?;
        if names.contains(&found.value.as_str()) {
            return Some(found);
        }
        self.top.fault(unknown(&found, self.top.source, what, names));
        None
    }

    /// A dose that is listed twice would be printed, and taken, twice.
    fn refuse_repeated(&self, doses: &[Option<Dose>]) {
        // More are refused anyhow.
        let known: Vec<(usize, &Dose)> = (1..)
            .zip(doses)
            .take(MOST_DOSES)
            .filter_map(|(n, dose)| Some((n, dose.as_ref()?)))
            .collect();
        for (place, (number, dose)) in known.iter().enumerate() {
            let twin = known[..place].iter().find(|(_, other)| {
                (&other.substance, other.form) == (&dose.substance, dose.form)
                    && other.times.iter().any(|time| dose.times.contains(time))
            });
            if let Some((first, _)) = twin {
                let field = format!("dose[{number}]");
                self.top.fault(
                    Fault::new(
                        format!(
                            "{} ({}) stands there twice at the same time, as dose {first} and \
                             as dose {number}",
                            dose.medicine,
                            dose.form.word()
                        ),
                        "list each dose once, with all its times in one place",
                    )
                    .at(self.top.source, span_of(&self.top.source.text, &field), field),
                );
            }
        }
    }

    fn patient(&self, fields: &Fields) -> Option<Patient> {
        let family = name(fields, "family", "\"Okonkwo-Reyes\"");
        let given = name(fields, "given", "\"Marisol\"");
        let born = fields
            .require("born", "1984-03-09", fields.date("born"))
            .and_then(|born| self.born(fields, born));
        let weight = weight(fields);
        let weighed = fields.date("weighed");
        if let Some(weighed) = &weighed {
            self.check_weighed(fields, weighed, born);
        }
        Some(Patient {
            family: family?,
            given: given?,
            born: born?,
            weight: weight?,
            weighed: weighed.map(|weighed| weighed.value),
        })
    }

    fn check_weighed(
        &self,
        fields: &Fields,
        weighed: &Found<NaiveDate>,
        born: Option<NaiveDate>,
    ) {
        // Where the clocks are ahead it is tomorrow already.
        let day = weighed.value;
        let (what, help) = if !fields.has("weight") {
            (
                format!("the day of a weighing, {day}, has no weight"),
                "write the weight beside it, such as weight = \"150 lb\", or leave both out",
            )
        } else if day > self.today + Days::new(1) {
            (
                format!("the day of the weighing, {day}, is in the future"),
                "write the day on which the patient was weighed, such as 2026-09-30",
            )
        } else if born.is_some_and(|born| day < born) {
            (
                format!("the day of the weighing, {day}, is before the patient was born"),
                "write the day on which the patient was weighed, such as 2026-09-30",
            )
        } else {
            return;
        };
        fields.fault(weighed.fault(fields.source, what, help));
    }

    fn born(&self, fields: &Fields, born: Found<NaiveDate>) -> Option<NaiveDate> {
        let what = if born.value > self.today {
            format!("the birth date {} is in the future", born.value)
        } else if born.value.year() < self.today.year() - 130 {
            format!("the birth date {} is more than 130 years ago", born.value)
        } else {
            return Some(born.value);
        };
        fields.fault(born.fault(
            fields.source,
            what,
            "write it as year-month-day, such as 1984-03-09",
        ));
        None
    }

    fn provider(&self, fields: &Fields) -> Option<Provider> {
        let provider = name(fields, "name", "\"Dr. Ines Halloran\"");
        let phone = name(fields, "phone", "\"555-0117\"");
        let rules = fields.choice("dose_rules", &[("agreed", true)]);
        Some(Provider {
            name: provider?,
            phone: phone?,
            dose_rules_agreed: rules.is_some_and(|rules| rules.value),
        })
    }
}

fn routine(fields: &Fields) -> Routine {
    let time = |key| fields.time(key).map(|time| time.value);
    Routine {
        lunch: time("lunch"),
        dinner: time("dinner"),
        bedtime: time("bedtime"),
        wake: time("wake"),
    }
}

/// The outer `None` is a fault, the inner one a weight that was not given.
fn weight(fields: &Fields) -> Option<Option<Weight>> {
    let Some(text) = fields.text("weight") else {
        return (!fields.has("weight")).then_some(None);
    };
    let (low, high) = WEIGHT_POUNDS;
    let (what, help) = match Weight::parse(&text.value) {
        Some(weight) if weight.within_pounds(low, high) => return Some(Some(weight)),
        Some(weight) => (
            format!("the weight {weight} is outside {low} to {high} lb"),
            "check the number and its unit, lb or kg".to_owned(),
        ),
        None => (
            format!("`{}` is not a weight", visible(&text.value)),
            "write the number, a space and lb or kg: weight = \"150 lb\"".to_owned(),
        ),
    };
    fields.fault(text.fault(fields.source, what, help));
    None
}

fn name(fields: &Fields, key: &str, example: &str) -> Option<String> {
    let name = fields.require(key, example, fields.printed(key, LONGEST_NAME))?;
    Some(name.value)
}

/// The order number that the text of an order gives, whatever else is wrong
/// with it.
pub fn number_in(text: &str) -> Option<String> {
    text_in(text, "order")
}

/// Whether the head of an order, wrong ones too, has `key`.
pub(crate) fn has(text: &str, key: &str) -> bool {
    let (table, _) = toml::de::DeTable::parse_recoverable(text);
    table.get_ref().contains_key(key)
}

/// The text of `key` in the head of an order, wrong ones too.
pub(crate) fn text_in(text: &str, key: &str) -> Option<String> {
    let (table, _) = toml::de::DeTable::parse_recoverable(text);
    match table.get_ref().get(key)?.get_ref() {
        toml::de::DeValue::String(found) if !found.trim().is_empty() => {
            Some(found.to_string())
        }
        _ => None,
    }
}

/// Checks an order number against the set it may be made of.
///
/// # Errors
///
/// What is wrong and what would be right.
pub fn check_number(number: &str, prefix: &str) -> Result<(), (String, String)> {
    let shown: String = number.escape_debug().take(40).collect();
    let what = format!("`{shown}` is not an order number");
    if !(4..=20).contains(&number.chars().count()) {
        return Err((what, "an order number has 4 to 20 characters".into()));
    }
    let allowed = |c: char| c.is_ascii_uppercase() || c.is_ascii_digit() || c == '-';
    if let Some(bad) = number.chars().find(|c| !allowed(*c)) {
        let help = format!(
            "use capital letters A to Z, figures and hyphens; not `{}`",
            visible(&bad.to_string())
        );
        return Err((what, help));
    }
    if number.starts_with('-') || number.ends_with('-') || number.contains("--") {
        return Err((what, "hyphens stand singly, between other characters".into()));
    }
    if is_device(number) {
        return Err((
            format!("`{shown}` is the name of a device on Windows"),
            "no folder can have that name there; give the order another number".into(),
        ));
    }
    if !number.starts_with(prefix) {
        return Err((
            format!("`{shown}` does not start with the laboratory's `{prefix}`"),
            format!(
                "write the number as issued, such as {prefix}20417, or mend id_prefix"
            ),
        ));
    }
    Ok(())
}

/// Whether Windows keeps a name for a device, in any folder. Of those only these have
/// the four characters that an order number has at least.
///
/// # Source
///
/// Microsoft, "Naming Files, Paths, and Namespaces" (from memory).
fn is_device(name: &str) -> bool {
    let port = name.strip_prefix("COM").or_else(|| name.strip_prefix("LPT"));
    port.is_some_and(|port| port.len() == 1 && port.as_bytes()[0].is_ascii_digit())
}

/// The clock people of a language read, where neither order nor laboratory says.
fn default_clock(language: &str) -> ClockStyle {
    match language {
        "en" => ClockStyle::Twelve,
        _ => ClockStyle::TwentyFour,
    }
}
