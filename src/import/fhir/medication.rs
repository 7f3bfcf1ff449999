//! `MedicationRequest`: what the patient takes, and when.
//!
//! A dose is read only if its times of day are written out. `HS`, `BID` and the
//! like are no times, and none is made of them. FHIR cannot say that a provider
//! agreed to move a dose, so each is to be asked about.

use std::collections::BTreeSet;

use chrono::{NaiveDate, NaiveTime, TimeDelta};
use serde_json::Value;

use super::super::columns::Columns;
use super::super::draft::{Draft, Entry};
use super::super::value::{iso_date, text_time};
use super::bundle::{Bundle, Target, refuse_modifier, refuse_unread, unread};
use super::element::{concept_names, list, text};
use crate::fault::visible;
use crate::medicine::Medicines;
use crate::order::Form;

/// Elements of a prescription that are read, or that say nothing of whether and when the
/// patient takes it.
const ELEMENTS: &[&str] = &[
    "resourceType",
    "id",
    "meta",
    "text",
    "language",
    "contained",
    "extension",
    "identifier",
    "instantiatesCanonical",
    "instantiatesUri",
    "basedOn",
    "groupIdentifier",
    "status",
    "intent",
    "category",
    "priority",
    "doNotPerform",
    "reportedBoolean",
    "reportedReference",
    "medicationCodeableConcept",
    "medicationReference",
    "subject",
    "encounter",
    "authoredOn",
    "requester",
    "recorder",
    "performer",
    "performerType",
    "insurance",
    "dosageInstruction",
    "dispenseRequest",
    "substitution",
    "eventHistory",
    "implicitRules",
    "modifierExtension",
];

/// The same of one of its dosages. How much is taken is not on the sheet.
const DOSAGE: &[&str] = &[
    "id",
    "extension",
    "sequence",
    "timing",
    "asNeededBoolean",
    "asNeededCodeableConcept",
    "site",
    "route",
    "method",
    "doseAndRate",
    "modifierExtension",
];

/// The same of a dosage's timing. Those of its `repeat` are in [`times_of`].
const TIMING: &[&str] = &["id", "extension", "event", "repeat", "modifierExtension"];

/// Intents of a prescription that is in force.
const INTENTS: &[&str] =
    &["order", "original-order", "instance-order", "filler-order", "reflex-order"];

/// The most names of one medicine, and the longest that is looked up.
const MOST_NAMES: usize = 10;
const LONGEST_NAME: usize = 200;

/// The most doses that are read; an order with more is refused anyhow.
const MOST_DOSES: usize = 12;

/// Days from the start until the last make-up card, with room.
const DAYS_OF_A_KIT: i64 = 3;

/// Reads the medicines among the entries `theirs`.
pub fn read(
    draft: &mut Draft,
    bundle: &Bundle,
    theirs: &[usize],
    start: Option<&str>,
    columns: &Columns,
) {
    let start = start.and_then(iso_date);
    for index in theirs {
        let request = bundle.entries[*index];
        if draft.next_dose() > MOST_DOSES + 1 {
            return;
        }
        if text(request, "resourceType") == Some("MedicationRequest") {
            medicine(draft, bundle, *index, start, columns);
        }
    }
}

fn medicine(
    draft: &mut Draft,
    bundle: &Bundle,
    index: usize,
    start: Option<NaiveDate>,
    columns: &Columns,
) {
    let request = bundle.entries[index];
    let entry = index + 1;
    let (names, form) = named(bundle, index);
    let long = |name: &&str| name.chars().count() > LONGEST_NAME;
    if names.len() > MOST_NAMES || names.iter().any(long) {
        draft.wrong(
            "",
            format!(
                "the medicine in entry {entry} has more than {MOST_NAMES} names, or one \
                 of more than {LONGEST_NAME} characters"
            ),
            "give it its generic name as text",
        );
        return;
    }
    let name = most_careful(&names);
    let shown = visible(name.unwrap_or("a medicine without a name"));
    match text(request, "status") {
        Some("active") => {}
        Some(status @ ("completed" | "stopped" | "cancelled" | "entered-in-error")) => {
            draft.note(format!("A request for {shown} is {status} and left out."));
            return;
        }
        other => {
            let status = visible(other.unwrap_or("missing"));
            draft.wrong(
                "",
                format!("{shown} in entry {entry} has the status {status}"),
                "find out whether the patient takes it, and export it as active or \
                 stopped",
            );
            return;
        }
    }
    let number = draft.next_dose();
    let field = |name: &str| format!("dose[{number}].{name}");
    let place = format!("entry {entry}");
    refuse_modifier(draft, request, "", &place);
    let intent = text(request, "intent").unwrap_or("missing");
    if !INTENTS.contains(&intent) {
        draft.wrong(
            "",
            format!("{shown} in entry {entry} has the intent {}", visible(intent)),
            "find out whether the patient takes it, and export what they take",
        );
    }
    if request.get("doNotPerform").is_some_and(|flag| *flag != Value::Bool(false)) {
        draft.wrong(
            "",
            format!("{shown} in entry {entry} is not to be taken (doNotPerform)"),
            "an order lists what is taken; write this one by hand",
        );
    }
    let cell = |element: &str| format!("{place}, MedicationRequest.{element}").into();
    draft.cell(
        field("medicine").as_str().into(),
        cell("medication"),
        name.unwrap_or_default().to_owned(),
    );
    let said: Vec<&str> = list(request, "dosageInstruction")
        .iter()
        .filter_map(|dosage| text(dosage, "text"))
        .collect();
    draft.cell(
        field("times").as_str().into(),
        cell("dosageInstruction"),
        said.join("; "),
    );
    let whose = format!("{shown} in entry {entry}");
    for name in unread(request, "MedicationRequest", ELEMENTS, columns) {
        refuse_unread(draft, "", &whose, &name);
    }
    for name in unread_of_dosages(request, columns) {
        refuse_unread(draft, &field("times"), &whose, &name);
    }
    let mut entries = Vec::new();
    match name {
        Some(name) => entries.push(("medicine", Entry::Text(name.to_owned()))),
        None => draft.wrong(
            &field("medicine"),
            "the medicine has no name in the bundle",
            "give it a text or a coding with a display",
        ),
    }
    entries.push(("form", Entry::Text(form.word().to_owned())));
    match times(request, start) {
        Ok(times) => entries.push(("times", Entry::Times(times))),
        Err(what) => draft.wrong(
            &field("times"),
            format!("the times of {shown} cannot be read: {what}"),
            "give the times of day (timeOfDay) at which it is taken every day, or \
             write this order by hand",
        ),
    }
    entries.push(("timing", Entry::Text("ask".into())));
    draft.dose(entries);
}

/// Every name of the medicine, and its form.
fn named<'a>(bundle: &Bundle<'a>, index: usize) -> (Vec<&'a str>, Form) {
    let request = bundle.entries[index];
    let concept = request.get("medicationCodeableConcept");
    if concept.is_some() {
        return (concept_names(concept), Form::Other);
    }
    let reference = request.get("medicationReference");
    let display = reference.and_then(|reference| text(reference, "display"));
    match bundle.resolve_in(index, reference) {
        Target::One { resource, .. }
            if text(resource, "resourceType") == Some("Medication") =>
        {
            let mut names = concept_names(resource.get("code"));
            names.extend(display);
            (names, form(&concept_names(resource.get("form"))))
        }
        _ => (display.into_iter().collect(), Form::Other),
    }
}

/// Of a medicine's names the one that the medicine table is most careful with:
/// a brand name must not hide a steroid.
fn most_careful<'a>(names: &[&'a str]) -> Option<&'a str> {
    let known = names
        .iter()
        .filter_map(|name| Medicines::builtin().class(name).map(|class| (class, *name)));
    known.min_by_key(|(class, _)| *class).map(|known| known.1).or(names.first().copied())
}

/// The form, where exactly one of an order's words for forms is among the words.
fn form(names: &[&str]) -> Form {
    let words: Vec<String> = names
        .iter()
        .flat_map(|name| name.split(|c: char| !c.is_alphanumeric()))
        .map(str::to_lowercase)
        .collect();
    let mut found =
        Form::CHOICES.iter().filter(|(word, _)| words.iter().any(|w| w == word));
    match (found.next(), found.next()) {
        (Some((_, form)), None) => *form,
        _ => Form::Other,
    }
}

/// The elements of every dosage that are not read, each once.
fn unread_of_dosages(request: &Value, columns: &Columns) -> BTreeSet<String> {
    const PATH: &str = "MedicationRequest.dosageInstruction";
    let timing_path = format!("{PATH}.timing");
    let mut names = BTreeSet::new();
    for dosage in list(request, "dosageInstruction") {
        names.extend(unread(dosage, PATH, DOSAGE, columns));
        if let Some(timing) = dosage.get("timing") {
            names.extend(unread(timing, &timing_path, TIMING, columns));
        }
    }
    names
}

/// The times of day of every dosage.
///
/// # Errors
///
/// Why they are not the times of every day of the kit.
fn times(request: &Value, start: Option<NaiveDate>) -> Result<Vec<NaiveTime>, String> {
    let dosages = list(request, "dosageInstruction");
    let sequence = |dosage: &Value| dosage.get("sequence").cloned();
    if dosages.windows(2).any(|pair| sequence(&pair[0]) != sequence(&pair[1])) {
        return Err("its dosages follow one another (sequence)".into());
    }
    let mut all = Vec::new();
    for dosage in dosages {
        if dosage.get("asNeededBoolean").is_some_and(|flag| *flag != Value::Bool(false))
            || dosage.get("asNeededCodeableConcept").is_some()
        {
            return Err("it is taken as needed".into());
        }
        all.extend(times_of(dosage.get("timing"), start)?);
    }
    if all.is_empty() {
        return Err("none is given".into());
    }
    all.sort_unstable();
    all.dedup();
    Ok(all)
}

fn times_of(
    timing: Option<&Value>,
    start: Option<NaiveDate>,
) -> Result<Vec<NaiveTime>, String> {
    let Some(timing) = timing else { return Err("none is given".into()) };
    if timing.get("event").is_some() {
        return Err("it is taken at single moments (event)".into());
    }
    let repeat = timing.get("repeat").and_then(Value::as_object);
    let Some(repeat) = repeat else { return Err("none is given".into()) };
    let mut times = Vec::new();
    for (key, value) in repeat {
        match key.as_str() {
            "timeOfDay" => {
                for time in value.as_array().into_iter().flatten() {
                    let text = time.as_str().unwrap_or_default();
                    let time = text_time(text)
                        .map_err(|_| format!("`{}` is no time", visible(text)))?;
                    times.push(time);
                }
            }
            "period" if value.as_f64() == Some(1.0) => {}
            "periodUnit" if value == "d" => {}
            "frequency" if value.as_u64().is_some() => {}
            "boundsPeriod" => covers(value, start)?,
            "when" => {
                let code = value.get(0).and_then(Value::as_str).unwrap_or_default();
                return Err(format!("`{}` is no time of day", visible(code)));
            }
            key if key.starts_with('_') => {}
            key => return Err(format!("`{}` is not read", visible(key))),
        }
    }
    if times.is_empty() {
        return Err("none is given".into());
    }
    if let Some(frequency) = repeat.get("frequency").and_then(Value::as_u64)
        && frequency != times.len() as u64
    {
        return Err(format!(
            "it is taken {frequency} times a day and {} are given",
            times.len()
        ));
    }
    if repeat.contains_key("period") != repeat.contains_key("periodUnit") {
        return Err("`period` and `periodUnit` are not both there".into());
    }
    Ok(times)
}

/// Whether a period has all the days of a kit that starts on `start`.
fn covers(period: &Value, start: Option<NaiveDate>) -> Result<(), String> {
    let outside =
        || Err("it may not be taken on all days of the kit (boundsPeriod)".into());
    let Some(first) = start else { return outside() };
    let Some(last) = first.checked_add_signed(TimeDelta::days(DAYS_OF_A_KIT)) else {
        return outside();
    };
    let day = |key| match text(period, key) {
        Some(stamp) => iso_date(stamp).ok_or(()).map(Some),
        None => Ok(None),
    };
    match (day("start"), day("end")) {
        // The day before counts, too: a dose is planned around the evening.
        (Ok(Some(from)), Ok(until))
            if from < first && until.is_none_or(|until| until >= last) =>
        {
            Ok(())
        }
        _ => outside(),
    }
}
