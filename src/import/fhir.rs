//! HL7 FHIR R4 bundles: each `ServiceRequest` becomes an order.
//!
//! Takes JSON, gives rows. What a bundle says of a patient and an order has no
//! place for makes the order wrong, unless the laboratory has listed it to be
//! passed over. FHIR has no place for the zone and for meal, bed and wake
//! times, so those stay the laboratory's and the protocol's.
//!
//! # Source
//!
//! HL7 FHIR R4 (4.0.1); element names and codes as in the official examples.

mod bundle;
mod element;
mod json;
mod medication;
mod patient;
mod replaced;
mod request;
mod weight;

use std::collections::HashMap;

use serde_json::Value;

use self::bundle::{Bundle, Target};
use self::element::text;
use self::replaced::Replaced;
use super::Row;
use super::columns::Columns;
use super::draft::Draft;
use crate::fault::Fault;

/// Resources that say nothing of a patient that a kit depends on, or that are
/// about nobody.
const HARMLESS: &[&str] = &[
    "Account",
    "Appointment",
    "AuditEvent",
    "Coverage",
    "Encounter",
    "EpisodeOfCare",
    "HealthcareService",
    "Location",
    "Medication",
    "OperationOutcome",
    "Organization",
    "Patient",
    "Practitioner",
    "PractitionerRole",
    "Provenance",
    "ServiceRequest",
    "Specimen",
    "Task",
];

/// The most requests for one patient; each is read with all that the bundle says
/// of the patient.
const MOST_REQUESTS: usize = 20;

/// The most kinds of resource that an order is told it has no place for.
const MOST_KINDS: usize = 10;

/// Elements that say whom a resource is about.
const SUBJECTS: &[&str] = &["subject", "patient", "for", "beneficiary"];

/// Reads a bundle.
///
/// # Errors
///
/// Faults of the bundle as a whole; those of an order are in its row.
pub(super) fn read(
    file: &str,
    bytes: &[u8],
    columns: &Columns,
) -> Result<Vec<Row>, Vec<Fault>> {
    let whole = bundle::parse(file, bytes).map_err(|fault| vec![fault])?;
    let bundle = Bundle::new(file, &whole)?;
    let mut rows = Vec::new();
    let (about, orphans) = sort_by_patient(file, &bundle, columns, &mut rows);
    let replaced = Replaced::of(&bundle);
    let mut requests: HashMap<usize, usize> = HashMap::new();
    for (index, entry) in bundle.entries.iter().enumerate() {
        if text(entry, "resourceType") != Some("ServiceRequest") {
            continue;
        }
        let mut draft = Draft::new(bundle::place(file, index));
        request::read(&mut draft, &bundle, index, columns);
        replaced.refuse(&mut draft, &bundle, index, columns);
        match bundle.resolve_in(index, entry.get("subject")) {
            Target::One { entry: Some(owner), .. } if is_many(&mut requests, owner) => {
                draft.wrong(
                    "patient",
                    format!("the patient has more than {MOST_REQUESTS} requests"),
                    "export the ones that kits are to be made for",
                );
            }
            Target::One { resource, entry: owner, place } => {
                patient::read(&mut draft, resource, &place);
                let theirs = owner.and_then(|owner| about.get(&owner));
                let theirs = theirs.map_or(&[][..], Vec::as_slice);
                weight::read(&mut draft, &bundle, theirs, columns);
                let start = text(entry, "occurrenceDateTime");
                medication::read(&mut draft, &bundle, theirs, start, columns);
                refuse_the_rest(&mut draft, &bundle, theirs, columns);
            }
            Target::None => draft.wrong(
                "patient",
                "the order's `subject` is not in the bundle",
                "export the Patient with the order",
            ),
            Target::Many => draft.wrong(
                "patient",
                "the order's `subject` stands in the bundle more than once",
                "export each Patient once",
            ),
        }
        if let Some(index) = orphans.first() {
            draft.wrong(
                "",
                format!(
                    "entry {} is about nobody in the bundle, and may be about this patient: {}",
                    index + 1,
                    crate::fault::visible(&told(bundle.entries[*index]))
                ),
                "export each Patient with what is about them",
            );
        }
        rows.push(draft.finish());
    }
    if rows.is_empty() {
        return Err(vec![super::fault_at(
            file,
            "the bundle has no ServiceRequest",
            "export the orders with their patients",
        )]);
    }
    Ok(rows)
}

/// Counts one more request of a patient; whether they are too many now.
fn is_many(requests: &mut HashMap<usize, usize>, owner: usize) -> bool {
    let count = requests.entry(owner).or_default();
    *count += 1;
    *count > MOST_REQUESTS
}

/// Entries by the patient they are about, and those that matter and are about nobody in
/// the bundle. Each of these becomes a wrong row, and may belong to any of the orders.
fn sort_by_patient(
    file: &str,
    bundle: &Bundle,
    columns: &Columns,
    rows: &mut Vec<Row>,
) -> (HashMap<usize, Vec<usize>>, Vec<usize>) {
    let mut about: HashMap<usize, Vec<usize>> = HashMap::new();
    let mut orphans = Vec::new();
    for (index, entry) in bundle.entries.iter().enumerate() {
        let kind = text(entry, "resourceType").unwrap_or_default();
        let subject = SUBJECTS.iter().find_map(|key| entry.get(*key));
        // A weight is read whatever else is passed over.
        let is_passed_over = is_ignored(columns, kind) && !weight::is_weight(entry);
        if HARMLESS.contains(&kind) || is_passed_over {
            continue;
        }
        match bundle.resolve_in(index, subject) {
            Target::One { entry: Some(owner), resource, .. }
                if text(resource, "resourceType") == Some("Patient") =>
            {
                about.entry(owner).or_default().push(index);
            }
            _ => {
                orphans.push(index);
                rows.push(Row::unread(
                    &bundle::place(file, index),
                    format!(
                        "nobody in the bundle is the patient of this {}",
                        crate::fault::visible(&told(entry))
                    ),
                    "export the Patient with it, each once",
                ));
            }
        }
    }
    (about, orphans)
}

/// What an entry is, with its medicine or its code where it has one.
fn told(entry: &Value) -> String {
    let kind = text(entry, "resourceType").unwrap_or_default();
    match element::concept_names(entry.get("medicationCodeableConcept")).first() {
        Some(name) => format!("{kind}, {name}"),
        None => describe(kind, entry),
    }
}

fn is_ignored(columns: &Columns, name: &str) -> bool {
    columns.ignore_resources.iter().any(|ignored| ignored == name)
}

/// Makes the order wrong for each kind of resource about the patient that is
/// not read.
fn refuse_the_rest(
    draft: &mut Draft,
    bundle: &Bundle,
    theirs: &[usize],
    columns: &Columns,
) {
    let mut seen = Vec::new();
    for index in theirs {
        let entry = bundle.entries[*index];
        let kind = text(entry, "resourceType").unwrap_or_default();
        let read = kind == "MedicationRequest" || weight::is_weight(entry);
        if read || seen.contains(&kind) || is_ignored(columns, kind) {
            continue;
        }
        if seen.len() == MOST_KINDS {
            break;
        }
        seen.push(kind);
        draft.wrong(
            "",
            format!(
                "entry {} tells of the patient what an order has no place for: {}",
                index + 1,
                crate::fault::visible(&describe(kind, entry))
            ),
            format!(
                "write this order by hand, or list what a person looks at anyway in \
                 [columns] of lab.toml: ignore_resources = [\"{}\"]",
                crate::fault::visible(kind)
            ),
        );
    }
}

fn describe(kind: &str, resource: &Value) -> String {
    match element::concept_names(resource.get("code")).first() {
        Some(name) => format!("{kind}, {name}"),
        None => kind.to_owned(),
    }
}
