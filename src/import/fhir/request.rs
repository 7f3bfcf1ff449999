//! A `ServiceRequest`: order number, start, requester.

use serde_json::Value;

use super::super::columns::{Columns, clean};
use super::super::draft::{Draft, Entry};
use super::super::quoted;
use super::super::value::iso_date;
use super::bundle::{Bundle, Target, refuse_modifier, refuse_unread, unread};
use super::element::{concept_names, has_code, joined, list, name_of, text};
use crate::fault::visible;

/// Elements that are read, or that say nothing of what the patient is to do.
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
    "replaces",
    "requisition",
    "status",
    "intent",
    "category",
    "priority",
    "doNotPerform",
    "code",
    "subject",
    "encounter",
    "occurrenceDateTime",
    "asNeededBoolean",
    "authoredOn",
    "requester",
    "performerType",
    "performer",
    "locationCode",
    "locationReference",
    "insurance",
    "specimen",
    "relevantHistory",
    "implicitRules",
    "modifierExtension",
];

/// System of identifier types (HL7 table 0203), as in the official examples.
const IDENTIFIER_TYPES: &str = "http://terminology.hl7.org/CodeSystem/v2-0203";

/// The longest code or name of what is ordered that a help repeats.
const LONGEST_CODE: usize = 200;

/// Reads the request that is entry `index`.
pub fn read(draft: &mut Draft, bundle: &Bundle, index: usize, columns: &Columns) {
    let request = bundle.entries[index];
    refuse_modifier(draft, request, "", "this entry");
    for (element, wanted) in [("status", "active"), ("intent", "order")] {
        let found = text(request, element).unwrap_or("missing");
        if found != wanted {
            draft.wrong(
                "",
                format!("the request's {element} is {}, not {wanted}", visible(found)),
                "kits are made for orders in force alone",
            );
        }
    }
    for element in ["doNotPerform", "asNeededBoolean"] {
        if request.get(element).is_some_and(|flag| *flag != Value::Bool(false)) {
            draft.wrong(
                "",
                format!("the request has `{element}`"),
                "it is no order to make a kit now",
            );
        }
    }
    for name in unread(request, "ServiceRequest", ELEMENTS, columns) {
        refuse_unread(draft, "", "the request", &name);
    }
    refuse_other_kinds(draft, request, columns);
    number(draft, request);
    match &columns.default_protocol {
        Some(protocol) => draft.set("", "protocol", Entry::Text(protocol.clone())),
        None => draft.wrong(
            "protocol",
            "a bundle does not say which protocol its orders are for",
            "write in [columns] of lab.toml: default_protocol = \"four-card\"",
        ),
    }
    start(draft, request);
    requester(draft, bundle, index);
}

/// Makes the order wrong unless the laboratory said that a kit is what is ordered.
fn refuse_other_kinds(draft: &mut Draft, request: &Value, columns: &Columns) {
    let code = request.get("code");
    let codings = code.map_or(&[][..], |code| list(code, "coding"));
    let mut said: Vec<String> = codings
        .iter()
        .filter_map(|coding| text(coding, "code"))
        .chain(concept_names(code))
        .map(clean)
        .collect();
    if said.iter().any(|said| columns.requests.contains(said)) {
        return;
    }
    // The shortest is a code, where there is one.
    said.sort_by_key(String::len);
    let Some(shown) = said.into_iter().next() else {
        draft.wrong(
            "",
            "the request does not say what is ordered (code)",
            "export it with its code, and list that in [columns] of lab.toml under \
             `requests`",
        );
        return;
    };
    // Written as it can be pasted.
    let written = match shown.chars().count() {
        ..=LONGEST_CODE => quoted(&shown),
        _ => "\"its code\"".to_owned(),
    };
    let shown = visible(&shown);
    draft.wrong(
        "",
        format!("the request orders `{shown}`, and nothing says that this is a kit"),
        format!(
            "take it out of the export; or, if it is what kits are made for, list it in \
             [columns] of lab.toml: requests = [{written}]"
        ),
    );
}

/// The only identifier, or of several the placer's.
fn number(draft: &mut Draft, request: &Value) {
    let all: Vec<&Value> = list(request, "identifier")
        .iter()
        .filter(|identifier| text(identifier, "use") != Some("old"))
        .filter(|identifier| text(identifier, "value").is_some())
        .collect();
    let placer =
        |identifier: &&&Value| has_code(identifier.get("type"), IDENTIFIER_TYPES, "PLAC");
    let placers: Vec<&&Value> = all.iter().filter(placer).collect();
    let chosen = match (all.as_slice(), placers.as_slice()) {
        ([only], _) => Some(*only),
        (_, [only]) => Some(**only),
        _ => None,
    };
    let number = chosen.and_then(|identifier| text(identifier, "value"));
    let shown = number.unwrap_or_default().to_owned();
    draft.cell("order".into(), "ServiceRequest.identifier".into(), shown);
    match number {
        Some(number) => draft.set("", "order", Entry::Text(number.to_owned())),
        None => draft.wrong(
            "order",
            format!("the request has {} order numbers", all.len()),
            "give it one identifier, or one with the type PLAC among several",
        ),
    }
}

fn start(draft: &mut Draft, request: &Value) {
    // Other forms of `occurrence` are refused with the elements that are not read.
    let Some(occurrence) = request.get("occurrenceDateTime") else { return };
    let shown = occurrence.as_str().unwrap_or_default();
    draft.cell("start".into(), "ServiceRequest.occurrenceDateTime".into(), shown.into());
    match iso_date(shown) {
        Some(date) => draft.set("", "start", Entry::Date(date)),
        None => draft.wrong(
            "start",
            "the occurrence is not a day alone",
            "give the day of card 1 without a time, such as 2026-10-14: a moment \
             with an offset can be another day where the patient lives",
        ),
    }
}

/// The provider, where name and phone are in the bundle.
fn requester(draft: &mut Draft, bundle: &Bundle, index: usize) {
    let request = bundle.entries[index];
    let Some(reference) = request.get("requester") else { return };
    let mut phone = None;
    let mut target = bundle.resolve_in(index, Some(reference));
    if let Target::One { resource, entry, .. } = &target
        && text(resource, "resourceType") == Some("PractitionerRole")
    {
        phone = phone_of(resource);
        let at = entry.unwrap_or(index);
        // A role that is contained refers to what its container has, too.
        let inside = entry.map_or(request, |_| *resource);
        target = bundle.resolve(inside, at, resource.get("practitioner"));
    }
    let found = match &target {
        Target::One { resource, place, .. }
            if text(resource, "resourceType") == Some("Practitioner") =>
        {
            let name = name_of(resource).ok().and_then(full_name);
            phone = phone.or_else(|| phone_of(resource));
            name.zip(phone).map(|found| (found, place.clone()))
        }
        _ => None,
    };
    let Some(((name, phone), place)) = found else {
        draft.note(
            "The requester's name and phone are not both in the bundle, so this order \
             names no provider."
                .into(),
        );
        return;
    };
    let cell = |element: &str| format!("{place}, Practitioner.{element}").into();
    draft.cell("provider.name".into(), cell("name"), name.clone());
    draft.cell("provider.phone".into(), cell("telecom"), phone.to_owned());
    draft.set("provider", "name", Entry::Text(name));
    draft.set("provider", "phone", Entry::Text(phone.to_owned()));
}

fn full_name(name: &Value) -> Option<String> {
    if let Some(text) = text(name, "text") {
        return Some(text.to_owned());
    }
    let family = text(name, "family")?;
    let (prefix, given) = (joined(name, "prefix"), joined(name, "given"));
    let parts = [prefix.as_str(), given.as_str(), family];
    let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    Some(parts.join(" "))
}

/// A phone number of their work that is in use.
fn phone_of(resource: &Value) -> Option<&str> {
    list(resource, "telecom")
        .iter()
        .filter(|point| text(point, "system") == Some("phone"))
        .filter(|point| !matches!(text(point, "use"), Some("old" | "temp" | "home")))
        .filter(|point| point.get("period").is_none_or(|p| p.get("end").is_none()))
        .find_map(|point| text(point, "value"))
}
