//! Requests that another request of the bundle takes the place of.

use std::collections::{BTreeMap, HashMap};

use serde_json::Value;

use super::super::columns::Columns;
use super::super::draft::Draft;
use super::bundle::Bundle;
use super::element::{list, text};

/// Which requests replace which.
pub struct Replaced<'a> {
    /// The requests with each identifier.
    numbers: HashMap<&'a str, Vec<usize>>,
    /// Each request that is replaced, with the entry that does it.
    entries: HashMap<usize, usize>,
}

impl<'a> Replaced<'a> {
    pub fn of(bundle: &Bundle<'a>) -> Self {
        // Each name of what is replaced, with the entry that does it.
        let mut by: BTreeMap<String, usize> = BTreeMap::new();
        let mut numbers: HashMap<&str, Vec<usize>> = HashMap::new();
        for (index, entry) in bundle.entries.iter().enumerate() {
            if text(entry, "resourceType") != Some("ServiceRequest") {
                continue;
            }
            let own = list(entry, "identifier").iter();
            for number in own.filter_map(|identifier| text(identifier, "value")) {
                numbers.entry(number).or_default().push(index);
            }
            for name in references(entry).iter().flat_map(names) {
                by.entry(name).or_insert(index);
            }
        }
        let mut entries = HashMap::new();
        for (name, index) in by {
            let numbered = numbers.get(name.as_str()).into_iter().flatten();
            for replaced in bundle.named(&name).iter().chain(numbered) {
                entries.entry(*replaced).or_insert(index);
            }
        }
        Self { numbers, entries }
    }

    /// Makes the request that is entry `index` wrong if another replaces it, or if it
    /// replaces one that the bundle does not have.
    pub fn refuse(
        &self,
        draft: &mut Draft,
        bundle: &Bundle,
        index: usize,
        columns: &Columns,
    ) {
        if let Some(newer) = self.entries.get(&index) {
            draft.wrong(
                "",
                format!("the request was replaced by that in entry {}", newer + 1),
                "take it out of the export; if its kit was made already, see to it that \
                 the patient does not use both",
            );
        }
        const ELEMENT: &str = "ServiceRequest.replaces";
        let has = |name: String| {
            !bundle.named(&name).is_empty() || self.numbers.contains_key(name.as_str())
        };
        let is_here = |reference: &Value| names(reference).any(has);
        let all_here = references(bundle.entries[index]).iter().all(is_here);
        if all_here || columns.ignore_resources.iter().any(|name| name == ELEMENT) {
            return;
        }
        draft.wrong(
            "",
            format!("the request has `{ELEMENT}`, and the one it replaces is not in the bundle"),
            format!(
                "if a kit of that one was made, correct its order and print it anew: \
                 kitwright reprint \u{2026} --reason \u{2026} --revise; if not, write this \
                 order by hand, or list what a person looks at anyway in [columns] of \
                 lab.toml: ignore_resources = [\"{ELEMENT}\"]"
            ),
        );
    }
}

/// What a request replaces: a list in FHIR, and one alone is not passed over.
fn references(request: &Value) -> &[Value] {
    match request.get("replaces") {
        Some(Value::Array(all)) => all,
        Some(one) => std::slice::from_ref(one),
        None => &[],
    }
}

/// What a reference may call its request: its address, whole and without the server and
/// the version, or its identifier.
fn names(reference: &Value) -> impl Iterator<Item = String> {
    let address = text(reference, "reference")
        .map(|address| address.split("/_history/").next().unwrap_or(address));
    let short = address.and_then(|address| {
        let (rest, id) = address.rsplit_once('/')?;
        let (_, kind) = rest.rsplit_once('/')?;
        Some(format!("{kind}/{id}"))
    });
    let identifier = reference.get("identifier").and_then(|one| text(one, "value"));
    [address.map(str::to_owned), short, identifier.map(str::to_owned)]
        .into_iter()
        .flatten()
}
