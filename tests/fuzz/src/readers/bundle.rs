//! An HL7 FHIR bundle: every request becomes an order or a fault, and no medicine of
//! the patient is lost.

use std::path::Path;

use kitwright::import;
use kitwright::order::Order;
use serde_json::Value;

use super::{faults, lab, orders_of, text_of};

pub const WORDS: &str = include_str!("../../words/bundle.txt");

pub fn read(data: &[u8]) {
    let Some(text) = text_of(data) else { return };
    let rows =
        match import::read(Path::new("bundle.json"), text.as_bytes(), &lab().columns) {
            Ok(rows) => rows,
            Err(found) => return faults::of_export(&found),
        };
    let orders = orders_of(&rows);
    // Read a second time, by the library alone.
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let whole: Value = serde_json::from_str(text).expect("law: read, and no JSON");
    let entries = whole["entry"].as_array().cloned().unwrap_or_default();
    let of_kind = |kind: &str| -> Vec<&Value> {
        let resources = entries.iter().map(|entry| &entry["resource"]);
        resources.filter(|one| word(one, "resourceType") == kind).collect()
    };
    let requests = of_kind("ServiceRequest");
    assert!(rows.len() >= requests.len(), "law: a request is lost");
    if let ([order], [_], [patient]) =
        (orders.as_slice(), requests.as_slice(), of_kind("Patient").as_slice())
        && let Some(order) = order
    {
        of_one(order, patient, &of_kind("MedicationRequest"));
    }
}

fn word<'a>(value: &'a Value, key: &str) -> &'a str {
    value[key].as_str().unwrap_or_default().trim()
}

/// A bundle of one order, read without a fault, has all of the patient's medicines.
fn of_one(order: &Order, patient: &Value, medicines: &[&Value]) {
    assert_eq!(order.patient.born.to_string(), word(patient, "birthDate"), "law: born");
    let gone = ["completed", "stopped", "cancelled", "entered-in-error"];
    let taken = medicines.iter().filter(|one| !gone.contains(&word(one, "status")));
    assert_eq!(order.doses.len(), taken.count(), "law: a medicine is lost, or made up");
    for dose in &order.doses {
        let asked = matches!(dose.timing, kitwright::order::Timing::Ask);
        assert!(asked, "law: a dose from FHIR may be moved");
    }
}
