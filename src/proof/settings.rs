//! Compares what a PDF asks of the printer, and the orders it carries.

use std::collections::BTreeSet;

use super::Difference;
use super::file::{Dict, File, Value};
use crate::document::Attachment;
use crate::fault::visible;
use crate::typeset::Sides;

/// The most bytes that one attached file may come to; an order has far fewer.
const MOST_OF_ONE: usize = 1024 * 1024;

/// The most that all attached files of a PDF may come to.
const MOST_OF_ALL: usize = 64 * 1024 * 1024;

/// Preferences that a file of ours has.
const PREFERENCES: &[&str] = &["Direction", "DisplayDocTitle", "Duplex", "PrintScaling"];

/// An attached file: its name, and its bytes or why they cannot be had.
type Attached = (String, Result<Vec<u8>, String>);

pub(super) fn compare(
    document: &File,
    sides: Sides,
    files: &[Attachment],
) -> Vec<Difference> {
    let mut found = Vec::new();
    let preferences = document
        .catalog()
        .and_then(|catalog| document.dict(&catalog, "ViewerPreferences"))
        .unwrap_or_default();
    for (key, wanted) in [("PrintScaling", "None"), ("Duplex", sides.name())] {
        let value = match preferences.as_ref().and_then(|found| found.get(key)) {
            Some(Value::Name(name)) => Some(&**name),
            _ => None,
        };
        if value != Some(wanted.as_bytes()) {
            let value = value.map_or("nothing".into(), String::from_utf8_lossy);
            found.push(Difference::new(
                0,
                format!("expected {key} {wanted}, found {value}"),
            ));
        }
    }
    let is_shown = |key: &str, wanted: &Value| {
        preferences.as_ref().is_some_and(|found| found.get(key) == Some(wanted))
    };
    if !is_shown("Direction", &Value::Name(b"L2R".into())) {
        found.push(Difference::new(0, "its pages do not go from left to right"));
    }
    if !is_shown("DisplayDocTitle", &Value::Bool(true)) {
        found.push(Difference::new(0, "its title is not shown"));
    }
    found.extend(other_preferences(preferences.as_ref()));
    found.extend(untagged(document));
    let carried = match attachments(document) {
        Ok(carried) => carried,
        Err(why) => {
            found.push(Difference::new(0, why));
            return found;
        }
    };
    for file in files {
        let name = &file.name;
        match carried.iter().find(|(carried, _)| carried == name) {
            Some((_, Ok(text))) if text == file.text.as_bytes() => {}
            Some((_, Err(why))) => {
                found.push(Difference::new(0, format!("the attached {name} {why}")));
            }
            Some(_) => found.push(Difference::new(
                0,
                format!("the attached {name} is not the order this is compared with"),
            )),
            None => {
                found.push(Difference::new(0, format!("there is no attached {name}")));
            }
        }
    }
    if carried.len() > files.len() {
        found.push(Difference::new(
            0,
            format!("expected {} attached orders, found {}", files.len(), carried.len()),
        ));
    }
    found
}

/// Preferences that none of ours has, such as a number of copies.
fn other_preferences(preferences: Option<&Dict>) -> Vec<Difference> {
    let is_known = |key: &[u8]| PREFERENCES.iter().any(|known| known.as_bytes() == key);
    preferences
        .into_iter()
        .flat_map(|preferences| preferences.keys_but(is_known))
        .map(|key| Difference::new(0, format!("asks for /{key}, as none of ours does")))
        .collect()
}

/// That the file says what is a heading, a list or a table, for those who hear it.
fn untagged(document: &File) -> Option<Difference> {
    let catalog = document.catalog().ok()?;
    let marks = document.dict(&catalog, "MarkInfo").ok().flatten().unwrap_or_default();
    let is_tagged = matches!(marks.get("Marked"), Some(Value::Bool(true)))
        && !matches!(marks.get("Suspects"), Some(Value::Bool(true)))
        && catalog.get("StructTreeRoot").is_some();
    (!is_tagged).then(|| Difference::new(0, "the file is not tagged"))
}

/// That the file as a whole is in one of these languages.
pub(super) fn language(
    document: &File,
    languages: &BTreeSet<&str>,
) -> Option<Difference> {
    let catalog = document.catalog().ok()?;
    let found = match catalog.get("Lang") {
        Some(Value::Text(language)) => String::from_utf8_lossy(language).into_owned(),
        _ => "none".to_owned(),
    };
    (!languages.contains(&*found)).then(|| {
        let wanted: Vec<&str> = languages.iter().copied().collect();
        let (wanted, found) = (wanted.join(" or "), visible(&found));
        Difference::new(0, format!("expected the language {wanted}, found {found}"))
    })
}

/// The attached files. A few bytes can unpack to any number, so no more of them
/// is unpacked than an order may have.
///
/// # Errors
///
/// Why the list of them cannot be read.
fn attachments(document: &File) -> Result<Vec<Attached>, String> {
    let catalog = document.catalog()?;
    let names = document.dict(&catalog, "Names")?.unwrap_or_default();
    let Some(files) = document.dict(&names, "EmbeddedFiles")? else {
        return Ok(Vec::new());
    };
    let list = match document.list(&files, "Names")? {
        Some(list) if files.get("Kids").is_none() => list,
        _ => return Err("the attached files are not in one list".to_owned()),
    };
    let mut left = MOST_OF_ALL;
    let mut attached = Vec::new();
    for pair in list.chunks(2) {
        let [Value::Text(name), file] = pair else {
            return Err("the list of attached files is not sound".to_owned());
        };
        named_alike(document, file, name)?;
        let bytes = unpacked(document, file, left.min(MOST_OF_ONE));
        left -= bytes.as_ref().map_or(0, Vec::len);
        attached.push((String::from_utf8_lossy(name).into_owned(), bytes));
    }
    Ok(attached)
}

/// Refuses a file that names itself otherwise than the list does.
fn named_alike(document: &File, file: &Value, name: &[u8]) -> Result<(), String> {
    let Value::Dict(file) = document.resolve(file)? else { return Ok(()) };
    for key in ["F", "UF"] {
        match file.get(key) {
            Some(Value::Text(own)) if own.as_ref() != name => {
                return Err(format!(
                    "the attached {} is named {}",
                    visible(&String::from_utf8_lossy(name)),
                    visible(&String::from_utf8_lossy(own))
                ));
            }
            _ => {}
        }
    }
    Ok(())
}

/// The bytes of an attached file, `most` at the most.
fn unpacked(document: &File, file: &Value, most: usize) -> Result<Vec<u8>, String> {
    let no_content = || "has no content".to_owned();
    let Value::Dict(file) = document.resolve(file)? else { return Err(no_content()) };
    let embedded = document.dict(&file, "EF")?.ok_or_else(no_content)?;
    let Some(Value::Ref(number)) = embedded.get("F") else { return Err(no_content()) };
    Ok(document.object(*number)?.unpacked(most)?.into_owned())
}

/// The text of the order that a kit's PDF carries, if it carries just one.
pub fn attached_order(bytes: &[u8]) -> Option<String> {
    let mut orders = attached_orders(bytes);
    let only = orders.pop().filter(|_| orders.is_empty())?;
    Some(only.1)
}

/// The orders that a PDF carries: the names of their files, and their texts. None,
/// if the bytes are no PDF as kitwright writes it.
pub fn attached_orders(bytes: &[u8]) -> Vec<(String, String)> {
    carried_orders(bytes).unwrap_or_default()
}

/// As [`attached_orders`].
///
/// # Errors
///
/// Why the bytes are no PDF as kitwright writes it.
pub fn carried_orders(bytes: &[u8]) -> Result<Vec<(String, String)>, String> {
    let carried = attachments(&File::open(bytes)?)?;
    let orders = carried.into_iter().filter(|(name, _)| name.ends_with(".toml"));
    let texts = orders
        .filter_map(|(name, bytes)| Some((name, String::from_utf8(bytes.ok()?).ok()?)));
    Ok(texts.collect())
}
