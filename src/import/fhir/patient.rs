//! A `Patient`: name, birth date, language.

use serde_json::Value;

use super::super::draft::{Draft, Entry};
use super::super::value::iso_date;
use super::bundle::refuse_modifier;
use super::element::{joined, list, name_of, text};
use crate::fault::visible;

/// Reads the patient that stands at `place`.
pub fn read(draft: &mut Draft, patient: &Value, place: &str) {
    let kind = text(patient, "resourceType").unwrap_or("nothing");
    if kind != "Patient" {
        draft.wrong(
            "patient",
            format!("the order's `subject` is {}, not a Patient", visible(kind)),
            "a kit is for one person",
        );
        return;
    }
    refuse_modifier(draft, patient, "", place);
    refuse_out_of_use(draft, patient);
    let cell = |element: &str| format!("{place}, Patient.{element}").into();
    match name_of(patient) {
        Ok(name) => {
            let family = text(name, "family").unwrap_or_default().to_owned();
            let given = joined(name, "given");
            for (field, found) in [("family", family), ("given", given)] {
                let path = format!("patient.{field}");
                draft.cell(
                    path.as_str().into(),
                    cell(&format!("name.{field}")),
                    found.clone(),
                );
                if found.is_empty() {
                    draft.wrong(
                        &path,
                        format!("the patient's name has no `{field}`"),
                        "export family and given names apart",
                    );
                } else {
                    draft.set("patient", field, Entry::Text(found));
                }
            }
        }
        Err(what) => {
            for field in ["patient.family", "patient.given"] {
                draft.cell(field.into(), cell("name"), String::new());
                draft.wrong(
                    field,
                    format!("the patient {what}"),
                    "mark the name to print with use = official",
                );
            }
        }
    }
    let born = text(patient, "birthDate").unwrap_or_default();
    draft.cell("patient.born".into(), cell("birthDate"), born.to_owned());
    match iso_date(born) {
        Some(date) => draft.set("patient", "born", Entry::Date(date)),
        None => draft.wrong(
            "patient.born",
            "the birth date is not a whole date",
            "give it with year, month and day, such as 1984-03-09",
        ),
    }
    language(draft, patient, place);
}

/// Elements that say that the record, or the person, is no more.
fn refuse_out_of_use(draft: &mut Draft, patient: &Value) {
    let mut wrong =
        |what: &str| draft.wrong("patient", what, "check for whom the order is");
    if patient.get("active").is_some_and(|active| *active != Value::Bool(true)) {
        wrong("the patient's record is not active");
    }
    let died = patient.get("deceasedBoolean").is_some_and(|d| *d != Value::Bool(false));
    if died || patient.get("deceasedDateTime").is_some() {
        wrong("the patient's record says that they have died");
    }
    if list(patient, "link").iter().any(|link| text(link, "type") == Some("replaced-by"))
    {
        wrong("the patient's record was replaced by another");
    }
}

/// The language that is preferred, or the only one.
fn language(draft: &mut Draft, patient: &Value, place: &str) {
    let all = list(patient, "communication");
    let preferred: Vec<&Value> = all
        .iter()
        .filter(|one| one.get("preferred") == Some(&Value::Bool(true)))
        .collect();
    let chosen = match (preferred.as_slice(), all) {
        ([one], _) => *one,
        ([], [one]) => one,
        ([], []) => return,
        _ => {
            draft.wrong(
                "language",
                "the patient speaks several languages, and one is not preferred",
                "mark the one to print in with preferred = true",
            );
            return;
        }
    };
    let codings =
        chosen.get("language").map_or(&[][..], |concept| list(concept, "coding"));
    let code = codings.iter().find_map(|coding| text(coding, "code"));
    // Of a tag such as `en-US` the first part is the language (BCP 47).
    let language = code.and_then(|code| code.split('-').next()).unwrap_or_default();
    draft.cell(
        "language".into(),
        format!("{place}, Patient.communication").into(),
        code.unwrap_or_default().to_owned(),
    );
    if language.is_empty() {
        draft.wrong(
            "language",
            "the patient's language has no code",
            "give it as a tag such as en or es",
        );
    } else {
        draft.set("", "language", Entry::Text(language.to_lowercase()));
    }
}
