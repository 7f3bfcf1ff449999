//! The bundle: its entries, and what their references point at.
//!
//! References go at most a fixed number of steps, so a ring of them ends.

use std::collections::HashMap;

use serde_json::Value;

use super::super::columns::Columns;
use super::super::{MOST_ROWS, fault_at};
use super::element::{list, modifier, text};
use super::json::Unique;
use crate::fault::{Fault, visible};

/// Kinds of bundle that hold orders as they are now.
const TYPES: &[&str] = &["collection", "transaction", "searchset", "batch"];

/// What a reference points at.
pub enum Target<'a> {
    /// One resource: its place in the bundle, unless it is contained in another,
    /// and that place in words.
    One {
        resource: &'a Value,
        entry: Option<usize>,
        place: String,
    },
    None,
    Many,
}

/// The resources of a bundle.
pub struct Bundle<'a> {
    pub entries: Vec<&'a Value>,
    by_name: HashMap<String, Vec<usize>>,
}

/// File and entry, as messages show them; entries count from 1.
pub fn place(file: &str, index: usize) -> String {
    format!("{file}, entry {}", index + 1)
}

/// Parses a file; nesting is bounded by the parser.
///
/// # Errors
///
/// A fault with the line where it is no JSON.
pub fn parse(file: &str, bytes: &[u8]) -> Result<Value, Fault> {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    serde_json::from_slice::<Unique>(bytes).map(|Unique(value)| value).map_err(|error| {
        fault_at(
            file,
            format!("the file is not JSON: {error}"),
            "export a FHIR R4 bundle in JSON",
        )
    })
}

impl<'a> Bundle<'a> {
    /// Looks at the bundle itself.
    ///
    /// # Errors
    ///
    /// Every reason not to read it.
    pub fn new(file: &str, whole: &'a Value) -> Result<Self, Vec<Fault>> {
        let mut faults = Vec::new();
        let mut wrong =
            |what: String, help: &str| faults.push(fault_at(file, what, help));
        let kind = text(whole, "resourceType").unwrap_or("nothing FHIR knows");
        if kind != "Bundle" {
            wrong(
                format!("the file holds {}, not a FHIR bundle", visible(kind)),
                "export a Bundle with the orders and their patients",
            );
            return Err(faults);
        }
        let kind = text(whole, "type").unwrap_or("missing");
        if !TYPES.contains(&kind) {
            wrong(
                format!("the bundle's type is {}", visible(kind)),
                "export a collection, transaction, batch or searchset",
            );
        }
        // Only the bundle's own elements: those of its entries are theirs.
        let own = ["implicitRules", "modifierExtension"];
        if own.iter().any(|key| whole.get(*key).is_some()) {
            wrong(
                "the bundle has rules of its own (implicitRules)".into(),
                "export it without",
            );
        }
        let more =
            list(whole, "link").iter().any(|link| text(link, "relation") == Some("next"));
        if more {
            wrong(
                "the bundle is one page of several: it has a link to the next".into(),
                "export all pages in one bundle; a medicine may be on another page",
            );
        }
        let entries = list(whole, "entry");
        if entries.len() > MOST_ROWS {
            wrong(
                format!(
                    "the bundle has {} entries, more than {MOST_ROWS}",
                    entries.len()
                ),
                "export fewer orders at once",
            );
            return Err(faults);
        }
        let mut bundle = Self { entries: Vec::new(), by_name: HashMap::new() };
        for (index, entry) in entries.iter().enumerate() {
            if let Some(what) = unreadable(entry) {
                faults.push(fault_at(
                    &place(file, index),
                    what,
                    "each entry holds one resource as it is to be",
                ));
            }
            bundle.add(index, entry);
        }
        faults.truncate(40);
        if faults.is_empty() { Ok(bundle) } else { Err(faults) }
    }

    fn add(&mut self, index: usize, entry: &'a Value) {
        let resource = entry.get("resource").unwrap_or(&Value::Null);
        self.entries.push(resource);
        let mut names: Vec<String> = Vec::new();
        if let Some(url) = text(entry, "fullUrl") {
            names.push(url.to_owned());
        }
        if let (Some(kind), Some(id)) =
            (text(resource, "resourceType"), text(resource, "id"))
        {
            names.push(format!("{kind}/{id}"));
        }
        names.dedup();
        for name in names {
            self.by_name.entry(name).or_default().push(index);
        }
    }

    /// The entries that a reference can call `name`.
    pub fn named(&self, name: &str) -> &[usize] {
        self.by_name.get(name).map_or(&[], Vec::as_slice)
    }

    /// What `reference`, an element of entry `index`, points at.
    pub fn resolve_in(&self, index: usize, reference: Option<&'a Value>) -> Target<'a> {
        self.resolve(self.entries[index], index, reference)
    }

    /// What `reference`, an element of `inside`, points at; `index` is the entry
    /// that `inside` is or is contained in.
    pub fn resolve(
        &self,
        inside: &'a Value,
        index: usize,
        reference: Option<&'a Value>,
    ) -> Target<'a> {
        let Some(name) = reference.and_then(|value| text(value, "reference")) else {
            return Target::None;
        };
        if let Some(id) = name.strip_prefix('#') {
            let mut found =
                list(inside, "contained").iter().filter(|c| text(c, "id") == Some(id));
            let place = format!("entry {}, #{}", index + 1, visible(id));
            return match (found.next(), found.next()) {
                (Some(resource), None) => Target::One { resource, entry: None, place },
                (None, _) => Target::None,
                _ => Target::Many,
            };
        }
        let name = name.split("/_history/").next().unwrap_or(name);
        match self.named(name) {
            [only] => Target::One {
                resource: self.entries[*only],
                entry: Some(*only),
                place: format!("entry {}", only + 1),
            },
            [] => Target::None,
            _ => Target::Many,
        }
    }
}

/// Why an entry cannot be taken as a resource that is so.
fn unreadable(entry: &Value) -> Option<String> {
    let resource = entry.get("resource").filter(|resource| resource.is_object());
    let method = entry.get("request").and_then(|request| text(request, "method"));
    match (method, resource) {
        (Some(method), _) if !["POST", "PUT"].contains(&method) => {
            Some(format!("the entry asks for {}", visible(method)))
        }
        (_, None) => Some("the entry has no resource".into()),
        (_, Some(resource)) if text(resource, "resourceType").is_none() => {
            Some("the entry's resource has no resourceType".into())
        }
        _ => None,
    }
}

/// Makes the draft wrong where a resource has an element that can turn its
/// meaning round.
pub fn refuse_modifier(
    draft: &mut super::Draft,
    resource: &Value,
    field: &str,
    place: &str,
) {
    if let Some(element) = modifier(resource) {
        let kind = text(resource, "resourceType").unwrap_or("resource");
        draft.wrong(
            field,
            format!("{} at {place} has a `{element}`, which is not read", visible(kind)),
            "it can turn the meaning round; write this order by hand",
        );
    }
}

/// The elements of `part` that are neither `known` nor passed over by the laboratory, each
/// with `path`, which names the part, before it.
pub fn unread<'a>(
    part: &'a Value,
    path: &'a str,
    known: &'a [&str],
    columns: &'a Columns,
) -> impl Iterator<Item = String> + 'a {
    part.as_object()
        .into_iter()
        .flat_map(|map| map.keys())
        // `_status` and the like hold extensions, which may be passed over.
        .filter(|element| !known.contains(&element.as_str()) && !element.starts_with('_'))
        .map(move |element| format!("{path}.{element}"))
        .filter(|name| !columns.ignore_resources.contains(name))
}

/// Makes `field` wrong for the element `name` of `whose`, which is not read.
pub fn refuse_unread(draft: &mut super::Draft, field: &str, whose: &str, name: &str) {
    let name = visible(name);
    draft.wrong(
        field,
        format!("{whose} has `{name}`, which an order has no place for"),
        format!(
            "write this order by hand, or list what a person looks at anyway in \
             [columns] of lab.toml: ignore_resources = [\"{name}\"]"
        ),
    );
}
