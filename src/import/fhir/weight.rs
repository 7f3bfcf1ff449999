//! Body weight: the newest `Observation` of it.

use chrono::{DateTime, NaiveDate};
use serde_json::Value;

use super::super::columns::Columns;
use super::super::draft::{Draft, Entry};
use super::super::value::{iso_date, weight_unit};
use super::bundle::{Bundle, refuse_modifier, refuse_unread, unread};
use super::element::{has_code, text};
use crate::fault::visible;

/// Body weight in LOINC, as in the official example `Observation/example`.
const LOINC: (&str, &str) = ("http://loinc.org", "29463-7");
/// System of UCUM units, as there.
const UCUM: &str = "http://unitsofmeasure.org";

/// Elements that are read, or that say nothing of how far the weight can be relied on.
const ELEMENTS: &[&str] = &[
    "resourceType",
    "id",
    "meta",
    "text",
    "language",
    "contained",
    "extension",
    "identifier",
    "basedOn",
    "partOf",
    "status",
    "category",
    "code",
    "subject",
    "encounter",
    "effectiveDateTime",
    "issued",
    "performer",
    "valueQuantity",
    "device",
    "referenceRange",
    "implicitRules",
    "modifierExtension",
];

/// Whether a resource is a body weight.
pub fn is_weight(resource: &Value) -> bool {
    text(resource, "resourceType") == Some("Observation")
        && has_code(resource.get("code"), LOINC.0, LOINC.1)
}

/// One weighing.
struct Weighing<'a> {
    index: usize,
    resource: &'a Value,
    day: NaiveDate,
    /// Seconds since 1970, where it has a time.
    moment: Option<i64>,
}

/// Reads the newest weight among the entries `theirs`.
pub fn read(draft: &mut Draft, bundle: &Bundle, theirs: &[usize], columns: &Columns) {
    const FIELD: &str = "patient.weight";
    let mut found = Vec::new();
    for index in theirs {
        let resource = bundle.entries[*index];
        if !is_weight(resource) {
            continue;
        }
        let entry = index + 1;
        match text(resource, "status") {
            Some("final" | "amended" | "corrected") => {}
            Some("entered-in-error" | "cancelled") => {
                draft.note("A weight was withdrawn.".into());
                continue;
            }
            other => {
                let status = visible(other.unwrap_or("missing"));
                draft.wrong(
                    FIELD,
                    format!("the status of the weight in entry {entry} is {status}"),
                    "export weights that are final",
                );
                continue;
            }
        }
        match when(resource) {
            Some((day, moment)) => {
                found.push(Weighing { index: *index, resource, day, moment })
            }
            None => draft.wrong(
                FIELD,
                format!("the weight in entry {entry} has no date of its own"),
                "give it an effectiveDateTime with the day",
            ),
        }
    }
    let Some(newest) = newest(draft, &found) else { return };
    let place = format!("entry {}", newest.index + 1);
    refuse_modifier(draft, newest.resource, FIELD, &place);
    for name in unread(newest.resource, "Observation", ELEMENTS, columns) {
        refuse_unread(draft, FIELD, &format!("the weight in {place}"), &name);
    }
    let quantity = newest.resource.get("valueQuantity").unwrap_or(&Value::Null);
    let number = quantity.get("value").filter(|value| value.is_number());
    let number = number.map(Value::to_string).unwrap_or_default();
    let (system, code) = (text(quantity, "system"), text(quantity, "code"));
    draft.cell(
        FIELD.into(),
        format!("{place}, Observation.valueQuantity").into(),
        format!("{number} {}", code.or(text(quantity, "unit")).unwrap_or_default()),
    );
    let unit = match (system, code) {
        (Some(UCUM), Some("[lb_av]")) => "lb",
        (Some(UCUM), Some("kg")) => "kg",
        _ => "",
    };
    // The code is the unit, and the other field is for people, who read that.
    if let Some(said) = text(quantity, "unit")
        && let Some(other) = unit_in_words(said).filter(|other| *other != unit)
        && !unit.is_empty()
    {
        draft.wrong(
            FIELD,
            format!("the newest weight has the code for {unit} and the unit {other}"),
            "find out which it is, and give both alike",
        );
        return;
    }
    if number.is_empty() || unit.is_empty() || quantity.get("comparator").is_some() {
        draft.wrong(
            FIELD,
            "the newest weight is not a number of kilograms or pounds",
            "give it with the UCUM unit kg or [lb_av], and without a comparator",
        );
        return;
    }
    draft.set("patient", "weight", Entry::Text(format!("{number} {unit}")));
    draft.cell(
        "patient.weighed".into(),
        format!("{place}, Observation.effectiveDateTime").into(),
        newest.day.to_string(),
    );
    draft.set("patient", "weighed", Entry::Date(newest.day));
}

/// Pounds or kilograms, where a text says one of them.
fn unit_in_words(text: &str) -> Option<&'static str> {
    let word = text.trim().trim_end_matches('.').to_lowercase();
    weight_unit(&word).or(match word.as_str() {
        "[lb_av]" | "pound" | "pounds" => Some("lb"),
        "kgs" | "kilo" | "kilos" | "kilogram" | "kilograms" => Some("kg"),
        _ => None,
    })
}

/// The day, and where there is one the moment, of a weighing.
fn when(resource: &Value) -> Option<(NaiveDate, Option<i64>)> {
    let stamp = text(resource, "effectiveDateTime")?;
    if let Some(day) = iso_date(stamp) {
        return Some((day, None));
    }
    let moment = DateTime::parse_from_rfc3339(stamp).ok()?;
    Some((moment.date_naive(), Some(moment.timestamp())))
}

/// The newest weighing; a fault where two could be it and differ.
fn newest<'a, 'b>(
    draft: &mut Draft,
    found: &'b [Weighing<'a>],
) -> Option<&'b Weighing<'a>> {
    let timed = found.iter().all(|weighing| weighing.moment.is_some());
    // Days tell the order as long as not every weighing has a time.
    let rank = |weighing: &Weighing| match weighing.moment {
        Some(second) if timed => second,
        _ => i64::from(weighing.day.to_epoch_days()),
    };
    let last = found.iter().max_by_key(|weighing| rank(weighing))?;
    let differs = |other: &&Weighing| {
        rank(other) == rank(last)
            && other.resource.get("valueQuantity") != last.resource.get("valueQuantity")
    };
    if let Some(other) = found.iter().find(differs) {
        draft.wrong(
            "patient.weight",
            format!(
                "entries {} and {} give two weights of the same day",
                other.index + 1,
                last.index + 1
            ),
            "export the newer one, or both with their times",
        );
        return None;
    }
    Some(last)
}
