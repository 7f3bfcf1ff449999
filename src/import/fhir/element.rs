//! Elements of FHIR resources that are read in more than one place.

use serde_json::Value;

/// The text of `key`, trimmed; `None` if it is empty or no text.
pub fn text<'a>(resource: &'a Value, key: &str) -> Option<&'a str> {
    resource.get(key)?.as_str().map(str::trim).filter(|text| !text.is_empty())
}

/// The items of the list `key`; none if it is not there.
pub fn list<'a>(resource: &'a Value, key: &str) -> &'a [Value] {
    resource.get(key).and_then(Value::as_array).map_or(&[], Vec::as_slice)
}

/// What a `CodeableConcept` is called: its text, then its codings' displays.
pub fn concept_names(concept: Option<&Value>) -> Vec<&str> {
    let Some(concept) = concept else { return Vec::new() };
    let displays = list(concept, "coding").iter().filter_map(|c| text(c, "display"));
    let mut names: Vec<&str> = text(concept, "text").into_iter().collect();
    names.extend(displays);
    names
}

/// Whether a `CodeableConcept` has the code of a system.
pub fn has_code(concept: Option<&Value>, system: &str, code: &str) -> bool {
    let codings = concept.map_or(&[][..], |concept| list(concept, "coding"));
    codings
        .iter()
        .any(|c| text(c, "system") == Some(system) && text(c, "code") == Some(code))
}

/// The element that can change what the whole resource means, if it has one:
/// `modifierExtension` anywhere, or `implicitRules`. FHIR forbids going on
/// without understanding it.
///
/// Resources inside are looked at where they are used. The parser has bounded
/// the depth.
pub fn modifier(resource: &Value) -> Option<&'static str> {
    if resource.get("implicitRules").is_some() {
        return Some("implicitRules");
    }
    has_modifier(resource).then_some("modifierExtension")
}

fn has_modifier(value: &Value) -> bool {
    match value {
        Value::Object(map) => map.iter().any(|(key, inner)| {
            key == "modifierExtension" || key != "contained" && has_modifier(inner)
        }),
        Value::Array(items) => items.iter().any(has_modifier),
        _ => false,
    }
}

/// The one name to print of a list of `HumanName`: the official one, or the only
/// one that is not old, temporary or a by-name.
pub fn name_of(resource: &Value) -> Result<&Value, &'static str> {
    let out_of_use = ["old", "maiden", "temp", "nickname", "anonymous"];
    let current: Vec<&Value> = list(resource, "name")
        .iter()
        .filter(|name| !text(name, "use").is_some_and(|word| out_of_use.contains(&word)))
        .filter(|name| {
            name.get("period").is_none_or(|period| period.get("end").is_none())
        })
        .collect();
    let official: Vec<&&Value> =
        current.iter().filter(|name| text(name, "use") == Some("official")).collect();
    match (official.as_slice(), current.as_slice()) {
        ([name], _) => Ok(name),
        ([], [name]) => Ok(name),
        ([], []) => Err("has no name in use"),
        _ => Err("has several names, and which is the official one is not clear"),
    }
}

/// The texts of a list, joined by spaces.
pub fn joined(resource: &Value, key: &str) -> String {
    let words: Vec<&str> = list(resource, key).iter().filter_map(Value::as_str).collect();
    words.join(" ").trim().to_owned()
}
