//! Orders from FHIR bundles: what is read, and what makes an order wrong.
//!
//! Elements and codes are those of HL7 FHIR R4 (4.0.1); the body weight is the
//! official example `Observation/example`, and `tests/outside/fhir_examples.py`
//! reads the official examples themselves.

mod common;

use std::path::Path;

use common::{LAB, lab, today};
use kitwright::fault::{Fault, Source};
use kitwright::import::{self, Row};
use kitwright::lab::read_lab;
use kitwright::medicine::Medicines;
use kitwright::order::{Form, Names, Order, Timing, read_order};
use kitwright::words::languages;
use proptest::prelude::*;
use serde_json::{Value, json};

const COLUMNS: &str = "[columns]\ndefault_protocol = \"four-card\"\n\
                       requests = [\"Four cards at home\"]\n";

/// A bundle of one order: practitioner, patient, request, weight, medicine.
fn bundle() -> Value {
    json!({"resourceType": "Bundle", "type": "collection", "entry": [
        {"fullUrl": "urn:uuid:1", "resource": {
            "resourceType": "Practitioner", "id": "dr",
            "name": [{"family": "Halloran", "given": ["Ines"], "prefix": ["Dr."]}],
            "telecom": [{"system": "email", "value": "x@example.org"},
                        {"system": "phone", "use": "work", "value": "555-0117"}]}},
        {"fullUrl": "urn:uuid:2", "resource": {
            "resourceType": "Patient", "id": "p1", "active": true,
            "name": [{"use": "maiden", "family": "Other", "given": ["Rosalind"]},
                     {"use": "official", "family": "Pemberton", "given": ["Rosalind", "Ada"]}],
            "birthDate": "1988-02-29",
            "communication": [{"language": {"coding": [{"code": "es-MX"}]},
                               "preferred": true}]}},
        {"fullUrl": "urn:uuid:3", "resource": {
            "resourceType": "ServiceRequest", "id": "s1",
            "identifier": [{"value": "HB-30121"}],
            "status": "active", "intent": "order",
            "code": {"text": "Four cards at home"},
            "subject": {"reference": "Patient/p1"},
            "occurrenceDateTime": "2026-12-02",
            "requester": {"reference": "urn:uuid:1"}}},
        {"resource": {
            "resourceType": "Observation", "id": "w1", "status": "final",
            "code": {"coding": [{"system": "http://loinc.org", "code": "29463-7"}]},
            "subject": {"reference": "urn:uuid:2"},
            "effectiveDateTime": "2016-03-28",
            "valueQuantity": {"value": 185, "unit": "lbs",
                "system": "http://unitsofmeasure.org", "code": "[lb_av]"}}},
        {"resource": {
            "resourceType": "MedicationRequest", "id": "m1",
            "status": "active", "intent": "order",
            "contained": [{"resourceType": "Medication", "id": "med",
                "code": {"coding": [{"display": "estradiol"}]},
                "form": {"coding": [{"display": "Tablet dose form (qualifier value)"}]}}],
            "medicationReference": {"reference": "#med"},
            "subject": {"reference": "Patient/p1"},
            "dosageInstruction": [{"timing": {"repeat":
                {"frequency": 1, "period": 1, "periodUnit": "d",
                 "timeOfDay": ["07:30:00"]}}}]}}
    ]})
}

fn columns(text: &str) -> import::columns::Columns {
    let source = Source::new("lab.toml", format!("{LAB}{text}"));
    read_lab(&source, &languages()).unwrap().columns
}

fn read(bundle: &Value, more: &str) -> Result<Vec<Row>, Vec<Fault>> {
    let columns = columns(&format!("{COLUMNS}{more}"));
    import::read(Path::new("bundle.json"), bundle.to_string().as_bytes(), &columns)
}

fn order(row: &Row) -> Result<Order, Vec<Fault>> {
    row.and_then(|source| {
        read_order(source, &lab(), Medicines::builtin(), &Names::builtin(), today())
    })
}

#[track_caller]
fn one(bundle: &Value) -> Order {
    let rows = read(bundle, "").unwrap();
    assert_eq!(rows.len(), 1);
    order(&rows[0]).unwrap_or_else(|faults| panic!("{}", plain(&faults)))
}

fn plain(faults: &[Fault]) -> String {
    faults.iter().map(|fault| fault.plain() + "\n").collect()
}

/// The bundle with `value` at the JSON pointer `at`; the last step may be new.
fn with(at: &str, value: Value) -> Value {
    let mut bundle = bundle();
    set(&mut bundle, at, value);
    bundle
}

fn set(bundle: &mut Value, at: &str, value: Value) {
    let (parent, key) = at.rsplit_once('/').unwrap();
    match bundle.pointer_mut(parent).unwrap_or_else(|| panic!("no {parent}")) {
        Value::Array(items) => items.push(value),
        other => other[key] = value,
    }
}

/// A piece that all faults of the bundle together must have.
#[track_caller]
fn wrong(why: &str, bundle: &Value, what: &str) {
    let found: String = match read(bundle, "") {
        Err(faults) => plain(&faults),
        Ok(rows) => rows
            .iter()
            .map(|row| order(row).map_or_else(|faults| plain(&faults), |_| "fine".into()))
            .collect(),
    };
    assert!(found.contains(what), "{why}: {found}");
}

#[test]
fn a_request_with_its_patient_becomes_the_text_of_an_order_file() {
    let rows = read(&bundle(), "").unwrap();
    assert_eq!(
        rows[0].source.text,
        r#"order = "HB-30121"
protocol = "four-card"
start = 2026-12-02
language = "es"

[provider]
name = "Dr. Ines Halloran"
phone = "555-0117"

[patient]
family = "Pemberton"
given = "Rosalind Ada"
born = 1988-02-29
weight = "185 lb"
weighed = 2016-03-28

[[dose]]
medicine = "estradiol"
form = "tablet"
times = [07:30]
timing = "ask"
"#
    );
    let order = one(&bundle());
    assert_eq!(order.doses[0].form, Form::Tablet);
    assert_eq!(order.doses[0].timing, Timing::Ask);
}

#[test]
fn the_same_order_has_the_same_text_wherever_it_stands() {
    // With notes on a stopped medicine and on a weight that was withdrawn.
    let mut first = bundle();
    let entries = first["entry"].as_array_mut().unwrap();
    let (mut weight, mut stopped) = (entries[3].clone(), entries[4].clone());
    weight["resource"]["status"] = json!("entered-in-error");
    stopped["resource"]["status"] = json!("stopped");
    entries.extend([weight, stopped]);
    let mut second = first.clone();
    let entries = second["entry"].as_array_mut().unwrap();
    let other = json!({"resource": {"resourceType": "Organization", "id": "o1"}});
    entries.insert(0, other);
    let text = |bundle: &Value, file: &str| {
        let bytes = bundle.to_string();
        let columns = columns(COLUMNS);
        let rows = import::read(Path::new(file), bytes.as_bytes(), &columns).unwrap();
        rows[0].source.text.clone()
    };
    let text_of_first = text(&first, "monday.json");
    assert!(text_of_first.contains("is stopped"), "{text_of_first}");
    assert!(text_of_first.contains("was withdrawn"), "{text_of_first}");
    assert_eq!(text_of_first, text(&second, "tuesday.json"));
}

#[test]
fn faults_are_shown_by_entry_and_element() {
    let mut bundle = bundle();
    set(&mut bundle, "/entry/1/resource/birthDate", json!("1988-02"));
    let rows = read(&bundle, "").unwrap();
    assert_eq!(
        plain(&order(&rows[0]).unwrap_err()),
        "\
error: the birth date is not a whole date
--> bundle.json, entry 3, entry 2, Patient.birthDate
 = note: it reads `1988-02`
 = help: give it with year, month and day, such as 1984-03-09
"
    );
}

#[test]
fn a_request_that_is_not_an_order_in_force_makes_no_kit() {
    let at = |key: &str| format!("/entry/2/resource/{key}");
    for (key, value, what) in [
        ("status", json!("completed"), "status is completed, not active"),
        ("status", json!("revoked"), "status is revoked, not active"),
        ("status", json!(null), "status is missing, not active"),
        ("intent", json!("plan"), "intent is plan, not order"),
        ("doNotPerform", json!(true), "has `doNotPerform`"),
        ("asNeededBoolean", json!(true), "has `asNeededBoolean`"),
        ("asNeededCodeableConcept", json!({"text": "x"}), "asNeededCodeableConcept"),
        ("modifierExtension", json!([]), "`modifierExtension`, which is not read"),
        ("implicitRules", json!("x"), "`implicitRules`, which is not read"),
        ("note", json!([{"text": "at most a litre a day"}]), "`ServiceRequest.note`"),
        ("patientInstruction", json!("x"), "`ServiceRequest.patientInstruction`"),
        ("occurrencePeriod", json!({"start": "2026-12-02"}), "occurrencePeriod"),
        ("occurrenceDateTime", json!("2026-12"), "not a day alone"),
        ("occurrenceDateTime", json!("2026-12-02T23:30:00-07:00"), "not a day alone"),
        ("identifier", json!([]), "has 0 order numbers"),
        ("identifier", json!([{"value": "HB-1"}, {"value": "HB-2"}]), "2 order numbers"),
        ("identifier", json!([{"value": "hb 1"}]), "`hb 1` is not an order number"),
        ("subject", json!({"reference": "Patient/p2"}), "is not in the bundle"),
        ("subject", json!({"display": "Rosalind"}), "is not in the bundle"),
        ("subject", json!({"reference": "urn:uuid:1"}), "is Practitioner, not a Patient"),
    ] {
        wrong(key, &with(&at(key), value), what);
    }
    let code = json!({"coding": [
        {"system": "http://terminology.hl7.org/CodeSystem/v2-0203", "code": "PLAC"}]});
    let several = json!([{"value": "17"}, {"type": code, "value": "HB-2"}]);
    assert_eq!(one(&with(&at("identifier"), several)).number, "HB-2", "the placer's");
    let mut undated = bundle();
    undated["entry"][2]["resource"].as_object_mut().unwrap().remove("occurrenceDateTime");
    assert!(one(&undated).start.is_none());
}

#[test]
fn a_request_that_another_replaces_makes_no_kit() {
    let newer = |replaces: Value| {
        let mut entry = bundle()["entry"][2].clone();
        entry["fullUrl"] = json!("urn:uuid:9");
        entry["resource"]["id"] = json!("s2");
        entry["resource"]["identifier"][0]["value"] = json!("HB-30122");
        entry["resource"]["replaces"] = replaces;
        with("/entry/-", entry)
    };
    let whats = |bundle: &Value, more: &str| -> Vec<String> {
        let rows = read(bundle, more).unwrap();
        let what = |row: &Row| row.faults.iter().map(|f| f.what.as_str()).collect();
        rows.iter().map(what).collect()
    };
    let replaced = "the request was replaced by that in entry 6";
    for reference in [
        json!({"reference": "ServiceRequest/s1"}),
        json!({"reference": "urn:uuid:3"}),
        json!({"reference": "ServiceRequest/s1/_history/2"}),
        json!({"reference": "https://example.org/fhir/ServiceRequest/s1"}),
        json!({"identifier": {"value": "HB-30121"}}),
    ] {
        let why = reference.to_string();
        assert_eq!(whats(&newer(json!([reference])), ""), [replaced, ""], "{why}");
        assert_eq!(whats(&newer(reference), ""), [replaced, ""], "{why}, no list");
    }
    let missing = "the request has `ServiceRequest.replaces`, and the one it replaces is \
                   not in the bundle";
    let other = json!({"reference": "ServiceRequest/s0"});
    for replaces in [json!([other]), json!(other), json!([{}]), json!("x")] {
        assert_eq!(whats(&newer(replaces), ""), ["", missing]);
    }
    let both = newer(json!([{"reference": "ServiceRequest/s1"}, other]));
    assert_eq!(whats(&both, ""), [replaced, missing]);
    let listed = "ignore_resources = [\"ServiceRequest.replaces\"]";
    assert_eq!(whats(&both, listed), [replaced, ""]);
    let help = read(&both, "").unwrap()[1].faults[0].help.clone();
    assert!(help.contains("kitwright reprint \u{2026} --reason"), "{help}");
}

#[test]
fn a_patient_is_read_whole_or_refused() {
    let at = |key: &str| format!("/entry/1/resource/{key}");
    let name = |use_: &str| json!({"use": use_, "family": "F", "given": ["G"]});
    for (key, value, what) in [
        ("active", json!(false), "record is not active"),
        ("deceasedBoolean", json!(true), "they have died"),
        ("deceasedDateTime", json!("2026-01-01"), "they have died"),
        ("link", json!([{"type": "replaced-by"}]), "was replaced by another"),
        ("name", json!([]), "has no name in use"),
        ("name", json!([name("maiden")]), "has no name in use"),
        ("name", json!([name("official"), name("official")]), "has several names"),
        ("name", json!([{"text": "Rosalind Pemberton"}]), "has no `family`"),
        ("birthDate", json!("1988"), "not a whole date"),
        ("birthDate", json!(1988), "not a whole date"),
        ("modifierExtension", json!([{"url": "x"}]), "`modifierExtension`"),
        (
            "communication",
            json!([{"language": {"coding": [{"code": "nl"}]}}]),
            "no catalog for the language `nl`",
        ),
        (
            "communication",
            json!([{"language": {}}, {"language": {}}]),
            "several languages",
        ),
    ] {
        wrong(key, &with(&at(key), value), what);
    }
    let mut twice = bundle();
    let again = twice["entry"][1].clone();
    set(&mut twice, "/entry/-", again);
    wrong("the patient twice", &twice, "stands in the bundle more than once");
}

#[test]
fn the_newest_final_weight_in_pounds_or_kilograms_is_taken() {
    let weight = |day: &str, value: f64, unit: &str| {
        let mut entry = bundle()["entry"][3].clone();
        entry["resource"]["effectiveDateTime"] = json!(day);
        entry["resource"]["valueQuantity"]["value"] = json!(value);
        for key in ["code", "unit"] {
            entry["resource"]["valueQuantity"][key] = json!(unit);
        }
        entry
    };
    let and = |entry: Value| with("/entry/-", entry);
    let weighs = |bundle: &Value| one(bundle).patient.weight.unwrap().to_string();
    assert_eq!(weighs(&bundle()), "185 lb");
    assert_eq!(weighs(&and(weight("2016-03-29", 80.5, "kg"))), "80.5 kg");
    assert_eq!(weighs(&and(weight("2015-03-29", 80.5, "kg"))), "185 lb");
    let mut withdrawn = weight("2016-03-29", 80.5, "kg");
    withdrawn["resource"]["status"] = json!("entered-in-error");
    assert_eq!(weighs(&and(withdrawn)), "185 lb");
    let early = weight("2016-03-28T08:00:00Z", 80.5, "kg");
    wrong("one day, one time", &and(early), "two weights of the same day");
    wrong("stone", &and(weight("2017-01-01", 12.0, "[stone_av]")), "kilograms or pounds");
    wrong(
        "the day after tomorrow",
        &and(weight("2026-09-03", 80.0, "kg")),
        "is in the future",
    );
    wrong("a month", &and(weight("2017-01", 80.0, "kg")), "no date of its own");
    let at = |key: &str| format!("/entry/3/resource/{key}");
    for (key, value, what) in [
        ("status", json!("preliminary"), "is preliminary"),
        ("valueQuantity/comparator", json!("<"), "without a comparator"),
        ("valueQuantity/value", json!("185"), "kilograms or pounds"),
        ("valueQuantity/system", json!("x"), "kilograms or pounds"),
        ("valueQuantity/unit", json!("kg"), "the code for lb and the unit kg"),
        ("modifierExtension", json!([]), "`modifierExtension`"),
        ("dataAbsentReason", json!({"text": "x"}), "`Observation.dataAbsentReason`"),
        ("note", json!([{"text": "in plaster"}]), "`Observation.note`"),
        ("focus", json!([{"display": "newborn"}]), "`Observation.focus`"),
        ("component", json!([]), "`Observation.component`"),
        ("valueString", json!("67 kg"), "`Observation.valueString`"),
        ("weather", json!("x"), "`Observation.weather`"),
    ] {
        wrong(key, &with(&at(key), value), what);
    }
    let noted = with(&at("note"), json!([{"text": "in plaster"}]));
    let rows = read(&noted, "ignore_resources = [\"Observation.note\"]").unwrap();
    assert_eq!(order(&rows[0]).unwrap().patient.weight.unwrap().to_string(), "185 lb");
}

#[test]
fn a_medicine_is_carried_with_its_times_or_makes_the_order_wrong() {
    let at = |key: &str| format!("/entry/4/resource/{key}");
    let repeat = |key: &str| at(&format!("dosageInstruction/0/timing/repeat/{key}"));
    for (pointer, value, what) in [
        (at("status"), json!("on-hold"), "has the status on-hold"),
        (at("intent"), json!("proposal"), "has the intent proposal"),
        (at("doNotPerform"), json!(true), "(doNotPerform)"),
        (at("dosageInstruction"), json!([]), "estradiol cannot be read: none is given"),
        (at("dosageInstruction/0/asNeededBoolean"), json!(true), "taken as needed"),
        (at("dosageInstruction/0/asNeededCodeableConcept"), json!({}), "as needed"),
        (at("dosageInstruction/0/modifierExtension"), json!([]), "`modifierExtension`"),
        (at("dosageInstruction/0/timing/event"), json!([]), "single moments"),
        (at("medicationReference"), json!({"reference": "#no"}), "has no name"),
        (repeat("when"), json!(["HS"]), "`HS` is no time of day"),
        (repeat("when"), json!(["ACV"]), "`ACV` is no time of day"),
        (repeat("timeOfDay"), json!([]), "none is given"),
        (repeat("timeOfDay"), json!(["7:30"]), "`7:30` is no time"),
        (repeat("timeOfDay"), json!(["07:30:10"]), "`07:30:10` is no time"),
        (repeat("timeOfDay"), json!(["07:30:00", "19:30:00"]), "1 times a day and 2"),
        (repeat("period"), json!(2), "`period` is not read"),
        (repeat("periodUnit"), json!("wk"), "`periodUnit` is not read"),
        (repeat("dayOfWeek"), json!(["mon"]), "`dayOfWeek` is not read"),
        (repeat("count"), json!(3), "`count` is not read"),
        (repeat("boundsPeriod"), json!({"start": "2026-12-02"}), "boundsPeriod"),
        (
            repeat("boundsPeriod"),
            json!({"start": "2026-01-01", "end": "2026-12-03"}),
            "boundsPeriod",
        ),
        (repeat("boundsPeriod"), json!({"end": "2027-01-01"}), "boundsPeriod"),
        (at("subject"), json!({"reference": "Patient/p9"}), "nobody in the bundle"),
        (at("subject"), json!({"reference": "urn:uuid:1"}), "nobody in the bundle"),
        (at("subject"), json!(null), "nobody in the bundle"),
    ] {
        wrong(&pointer, &with(&pointer, value), what);
    }
    let covered = json!({"start": "2026-01-01", "end": "2027-01-01"});
    assert_eq!(one(&with(&repeat("boundsPeriod"), covered)).doses.len(), 1);
    let stopped = with(&at("status"), json!("stopped"));
    assert_eq!(one(&stopped).doses.len(), 0);
    let text = read(&stopped, "").unwrap()[0].source.text.clone();
    assert!(
        text.contains("# A request for estradiol is stopped and left out."),
        "{text}"
    );
}

/// What may say that it is not taken each day at these times, or not at all.
#[test]
fn what_else_is_said_of_a_medicine_is_refused_unless_it_is_listed() {
    let dosage = |element: &str| format!("dosageInstruction.{element}");
    let text = json!([{"text": "x"}]);
    for (element, value) in [
        ("note".into(), text.clone()),
        ("reasonCode".into(), text.clone()),
        ("statusReason".into(), json!({"text": "x"})),
        ("supportingInformation".into(), json!([])),
        ("priorPrescription".into(), json!({"reference": "MedicationRequest/m0"})),
        ("courseOfTherapyType".into(), json!({"text": "seasonal"})),
        ("weather".into(), json!("x")),
        (dosage("text"), json!("Mondays and Thursdays only")),
        (dosage("patientInstruction"), json!("x")),
        (dosage("additionalInstruction"), text),
        (dosage("maxDosePerPeriod"), json!({})),
        (dosage("weather"), json!("x")),
        (dosage("timing.code"), json!({"text": "every other day"})),
        (dosage("timing.weather"), json!("x")),
    ] {
        let pointer = element.replace("dosageInstruction.", "dosageInstruction/0/");
        let pointer = format!("/entry/4/resource/{}", pointer.replace('.', "/"));
        let bundle = with(&pointer, value);
        let name = format!("MedicationRequest.{element}");
        let what =
            format!("estradiol in entry 5 has `{name}`, which an order has no place for");
        wrong(&element, &bundle, &what);
        let listed = format!("ignore_resources = [\"{name}\"]");
        let taken = order(&read(&bundle, &listed).unwrap()[0]);
        let taken = taken.unwrap_or_else(|faults| panic!("{name}: {}", plain(&faults)));
        assert_eq!(taken.doses.len(), 1, "{name}");
    }
    let text = "/entry/4/resource/dosageInstruction/0/text";
    let rows = read(&with(text, json!("Mondays and Thursdays only")), "").unwrap();
    assert_eq!(
        plain(&order(&rows[0]).unwrap_err()),
        "\
error: estradiol in entry 5 has `MedicationRequest.dosageInstruction.text`, which an order \
has no place for
--> bundle.json, entry 3, entry 5, MedicationRequest.dosageInstruction
 = note: it reads `Mondays and Thursdays only`
 = help: write this order by hand, or list what a person looks at anyway in [columns] of \
lab.toml: ignore_resources = [\"MedicationRequest.dosageInstruction.text\"]
"
    );
    // What is told to others, and of a prescription that is over.
    one(&with("/entry/4/resource/dispenseRequest", json!({"numberOfRepeatsAllowed": 2})));
    one(&with("/entry/4/resource/dosageInstruction/0/route", json!({"text": "oral"})));
    let mut stopped = with(text, json!("x"));
    set(&mut stopped, "/entry/4/resource/status", json!("stopped"));
    assert_eq!(one(&stopped).doses.len(), 0);
}

#[test]
fn a_brand_name_does_not_hide_a_steroid() {
    let code =
        json!({"text": "Rosalin Forte", "coding": [{"display": "prednisone 5 mg"}]});
    let order = one(&with("/entry/4/resource/contained/0/code", code));
    assert_eq!(order.doses[0].medicine, "prednisone 5 mg");
    assert!(order.doses[0].class.is_some());
}

#[test]
fn what_an_order_has_no_place_for_is_refused_unless_it_is_listed() {
    let more = |kind: &str, subject: &str| {
        let mut resource =
            json!({"resourceType": kind, "code": {"text": "Heart failure"}});
        resource[subject] = json!({"reference": "Patient/p1"});
        with("/entry/-", json!({"resource": resource}))
    };
    for (kind, subject) in [
        ("Condition", "subject"),
        ("AllergyIntolerance", "patient"),
        ("Observation", "subject"),
        ("MedicationStatement", "subject"),
        ("NutritionOrder", "patient"),
        ("Flag", "subject"),
    ] {
        let bundle = more(kind, subject);
        wrong(kind, &bundle, &format!("has no place for: {kind}, Heart failure"));
        let rows = read(&bundle, &format!("ignore_resources = [\"{kind}\"]")).unwrap();
        order(&rows[0]).unwrap_or_else(|faults| panic!("{kind}: {}", plain(&faults)));
    }
    one(&more("Encounter", "subject"));
    // A weight is read whatever else is passed over.
    let rows =
        read(&more("Observation", "subject"), "ignore_resources = [\"Observation\"]");
    assert!(order(&rows.unwrap()[0]).unwrap().patient.weight.is_some());
}

/// A request for a chest picture is no order for a kit.
#[test]
fn only_requests_for_what_the_laboratory_listed_become_kits() {
    let ordered = |code: Value| with("/entry/2/resource/code", code);
    let coded = json!({"coding": [{"system": "urn:example", "code": "4CARD-H"}]});
    for (why, code, more) in [
        ("its text", json!({"text": " Four cards at home "}), ""),
        ("its code", coded.clone(), "4CARD-H"),
    ] {
        let columns = columns(&COLUMNS.replace("[\"", &format!("[\"{more}\", \"")));
        let text = ordered(code).to_string();
        let rows = import::read(Path::new("b.json"), text.as_bytes(), &columns).unwrap();
        order(&rows[0]).unwrap_or_else(|faults| panic!("{why}: {}", plain(&faults)));
    }
    let other = json!({"text": "Chest radiograph"});
    wrong("another test", &ordered(other), "the request orders `Chest radiograph`");
    wrong("a code", &ordered(coded), "requests = [\"4CARD-H\"]");
    wrong("an empty code", &ordered(json!({})), "does not say what is ordered");
    let mut silent = bundle();
    silent["entry"][2]["resource"].as_object_mut().unwrap().remove("code");
    wrong("no code", &silent, "does not say what is ordered");
}

/// What is about nobody in the bundle may be about anybody in it.
#[test]
fn a_medicine_of_nobody_makes_every_order_wrong() {
    let steroid = json!({"resource": {
        "resourceType": "MedicationRequest", "status": "active", "intent": "order",
        "medicationCodeableConcept": {"text": "prednisone"},
        "subject": {"reference": "Patient/none"}}});
    let rows = read(&with("/entry/-", steroid), "").unwrap();
    let whats: Vec<String> =
        rows.iter().flat_map(|row| &row.faults).map(|fault| fault.what.clone()).collect();
    assert_eq!(
        whats,
        [
            "nobody in the bundle is the patient of this MedicationRequest, prednisone",
            "entry 6 is about nobody in the bundle, and may be about this patient: \
             MedicationRequest, prednisone",
        ]
    );
}

#[test]
fn a_bundle_that_is_not_whole_is_refused() {
    for (pointer, value, what) in [
        ("/resourceType", json!("Patient"), "holds Patient, not a FHIR bundle"),
        ("/type", json!("history"), "type is history"),
        ("/link", json!([{"relation": "next", "url": "x"}]), "one page of several"),
        ("/implicitRules", json!("x"), "rules of its own"),
        ("/entry/1/request", json!({"method": "DELETE"}), "asks for DELETE"),
        ("/entry/1/resource", json!(null), "has no resource"),
        ("/entry", json!([]), "has no ServiceRequest"),
        ("/entry", json!(7), "has no ServiceRequest"),
    ] {
        wrong(pointer, &with(pointer, value), what);
    }
    let many = json!({"resourceType": "Bundle", "type": "collection",
        "entry": vec![json!({}); 100_001]});
    wrong("too many entries", &many, "100001 entries, more than 100000");
    let columns = columns(COLUMNS);
    for (why, bytes) in [
        ("no JSON", b"{]".to_vec()),
        ("nested deeply", [b"[".repeat(100_000), b"]".repeat(100_000)].concat()),
        ("a key twice", b"{\"type\": 1, \"type\": 2}".to_vec()),
        ("no UTF-8", vec![b'"', 0xFF, b'"']),
    ] {
        let faults = import::read(Path::new("b.json"), &bytes, &columns).unwrap_err();
        assert!(faults[0].what.starts_with("the file is not JSON"), "{why}: {faults:?}");
    }
    let large = vec![b' '; 16 * 1024 * 1024 + 1];
    let faults = import::read(Path::new("b.json"), &large, &columns).unwrap_err();
    assert_eq!(faults[0].what, "the file has 16384 kB, more than 16384");
}

/// One patient with very many requests, weights and medicines, and with very
/// long texts: the work must not grow with the square of the bundle.
#[test]
fn a_bundle_made_to_be_slow_is_read_in_time() {
    let began = std::time::Instant::now();
    let mut large = bundle();
    let entries = large["entry"].as_array_mut().unwrap();
    let (request, weight, dose) =
        (entries[2].clone(), entries[3].clone(), entries[4].clone());
    for number in 0..6000 {
        let mut request = request.clone();
        request["fullUrl"] = json!(format!("urn:uuid:r{number}"));
        request["resource"]["id"] = json!(format!("r{number}"));
        entries.extend([request, weight.clone(), dose.clone()]);
        let kind = json!({"resourceType": format!("K{number}"),
            "subject": {"reference": "Patient/p1"}});
        entries.push(json!({"resource": kind}));
    }
    let rows = read(&large, "").unwrap();
    assert_eq!(rows.len(), 6001);
    assert!(rows.iter().all(|row| !row.faults.is_empty()));
    let long = "estradio ".repeat(300_000);
    for at in [
        "/entry/4/resource/contained/0/code/coding/0/display",
        "/entry/1/resource/name/1/family",
        "/entry/1/resource/communication/0/language/coding/0/code",
        "/entry/2/resource/identifier/0/value",
    ] {
        let rows = read(&with(at, json!(long)), "").unwrap();
        order(&rows[0]).expect_err(at);
    }
    // A minute is a hundred times what it takes, and far less than the square.
    assert!(began.elapsed().as_secs() < 60, "{:?}", began.elapsed());
}

#[test]
fn a_ring_of_references_ends() {
    let role = json!({"resource": {"resourceType": "PractitionerRole", "id": "r",
        "practitioner": {"reference": "PractitionerRole/r"}}});
    let mut ring = with("/entry/-", role);
    let to = json!({"reference": "PractitionerRole/r"});
    set(&mut ring, "/entry/2/resource/requester", to);
    set(
        &mut ring,
        "/entry/1/resource/link",
        json!([{"other": {"reference": "Patient/p1"}}]),
    );
    assert!(one(&ring).provider.is_none());
    set(
        &mut ring,
        "/entry/2/resource/subject",
        json!({"reference": "ServiceRequest/s1"}),
    );
    wrong("itself", &ring, "is ServiceRequest, not a Patient");
}

/// Some JSON in the place of any element.
fn anything() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        "[ -~\u{0}\u{202E}é/#:]{0,12}".prop_map(Value::from),
    ];
    leaf.prop_recursive(3, 12, 3, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..3).prop_map(Value::from),
            prop::collection::vec(("reference|coding|code|repeat|value|id", inner), 0..3)
                .prop_map(|pairs| Value::Object(pairs.into_iter().collect())),
        ]
    })
}

fn pointers(value: &Value, at: &str, out: &mut Vec<String>) {
    out.push(at.to_owned());
    match value {
        Value::Object(map) => {
            map.iter()
                .for_each(|(key, inner)| pointers(inner, &format!("{at}/{key}"), out));
        }
        Value::Array(items) => items
            .iter()
            .enumerate()
            .for_each(|(key, inner)| pointers(inner, &format!("{at}/{key}"), out)),
        _ => {}
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn no_element_of_a_bundle_makes_the_reader_panic(
        at in any::<prop::sample::Index>(),
        value in anything(),
    ) {
        let mut bundle = bundle();
        let mut all = Vec::new();
        pointers(&bundle, "", &mut all);
        *bundle.pointer_mut(&all[at.index(all.len())]).unwrap() = value;
        for row in read(&bundle, "").unwrap_or_default() {
            if let Err(faults) = order(&row) {
                plain(&faults);
            }
        }
    }
}
