//! Compares what a PDF asks of the printer, and the orders it carries.

use lopdf::{Dictionary, Document, Object};

use super::Difference;
use crate::document::Attachment;
use crate::typeset::Sides;

pub(super) fn compare(
    bytes: &[u8],
    sides: Sides,
    files: &[Attachment],
) -> Vec<Difference> {
    let document = match Document::load_mem(bytes) {
        Ok(document) => document,
        Err(error) => {
            return vec![Difference::new(0, format!("this is no sound PDF: {error}"))];
        }
    };
    let mut found = Vec::new();
    let preferences = preferences(&document);
    for (key, wanted) in [("PrintScaling", "None"), ("Duplex", sides.name())] {
        let value = preferences
            .and_then(|found| found.get(key.as_bytes()).ok())
            .and_then(|value| value.as_name().ok());
        if value != Some(wanted.as_bytes()) {
            let value = value.map_or("nothing".into(), String::from_utf8_lossy);
            found.push(Difference::new(
                0,
                format!("expected {key} {wanted}, found {value}"),
            ));
        }
    }
    let carried = attachments(&document);
    for file in files {
        let name = &file.name;
        match carried.iter().find(|(carried, _)| carried == name) {
            Some((_, text)) if text == file.text.as_bytes() => {}
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

fn preferences(document: &Document) -> Option<&Dictionary> {
    document.catalog().ok()?.get(b"ViewerPreferences").ok()?.as_dict().ok()
}

/// The attached files: names and bytes.
fn attachments(document: &Document) -> Vec<(String, Vec<u8>)> {
    document
        .objects
        .values()
        .filter_map(|object| {
            let file = object.as_dict().ok()?;
            if file.get(b"Type").and_then(Object::as_name).ok() != Some(b"Filespec") {
                return None;
            }
            let name = file.get(b"F").and_then(Object::as_str).ok()?;
            let embedded = file.get(b"EF").and_then(Object::as_dict).ok()?;
            let stream = embedded.get(b"F").and_then(Object::as_reference).ok()?;
            let stream = document.get_object(stream).and_then(Object::as_stream).ok()?;
            let bytes = stream.get_plain_content().ok()?;
            Some((String::from_utf8_lossy(name).into_owned(), bytes))
        })
        .collect()
}

/// The text of the order that a kit's PDF carries, if it carries just one.
pub fn attached_order(bytes: &[u8]) -> Option<String> {
    let mut orders = attached_orders(bytes);
    let only = orders.pop().filter(|_| orders.is_empty())?;
    Some(only.1)
}

/// The orders that a PDF carries: the names of their files, and their texts.
pub fn attached_orders(bytes: &[u8]) -> Vec<(String, String)> {
    let Ok(document) = Document::load_mem(bytes) else { return Vec::new() };
    attachments(&document)
        .into_iter()
        .filter(|(name, _)| name.ends_with(".toml"))
        .filter_map(|(name, bytes)| Some((name, String::from_utf8(bytes).ok()?)))
        .collect()
}
