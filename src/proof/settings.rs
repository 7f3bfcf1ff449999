//! Compares what a PDF asks of the printer, and the orders it carries.

use lopdf::{Dictionary, Document, LoadOptions, Object};

use super::Difference;
use crate::document::Attachment;
use crate::typeset::Sides;

/// The most bytes that one attached file may come to; an order has far fewer.
const MOST_OF_ONE: usize = 1024 * 1024;

/// The most that all attached files of a PDF may come to, and the most that any
/// part of it may be unpacked to when it is opened.
const MOST_OF_ALL: usize = 64 * 1024 * 1024;

/// An attached file: its name, and its bytes or why they cannot be had.
type Attached = (String, Result<Vec<u8>, String>);

pub(super) fn compare(
    bytes: &[u8],
    sides: Sides,
    files: &[Attachment],
) -> Vec<Difference> {
    let document = match open(bytes) {
        Ok(document) => document,
        Err(why) => return vec![Difference::new(0, why)],
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

fn preferences(document: &Document) -> Option<&Dictionary> {
    document.catalog().ok()?.get(b"ViewerPreferences").ok()?.as_dict().ok()
}

fn open(bytes: &[u8]) -> Result<Document, String> {
    let options = LoadOptions::with_max_decompressed_size(MOST_OF_ALL);
    Document::load_mem_with_options(bytes, options)
        .map_err(|error| format!("this is no sound PDF: {error}"))
}

/// The attached files. A few bytes can unpack to any number, so no more of them
/// is unpacked than an order may have.
fn attachments(document: &Document) -> Vec<Attached> {
    let mut left = MOST_OF_ALL;
    document
        .objects
        .values()
        .filter_map(|object| object.as_dict().ok())
        .filter(|file| {
            file.get(b"Type").and_then(Object::as_name).ok() == Some(b"Filespec")
        })
        .map(|file| {
            let name = file.get(b"F").and_then(Object::as_str).unwrap_or_default();
            let bytes = unpacked(document, file, left.min(MOST_OF_ONE));
            left -= bytes.as_ref().map_or(0, Vec::len);
            (String::from_utf8_lossy(name).into_owned(), bytes)
        })
        .collect()
}

/// The bytes of an attached file, `most` at the most.
fn unpacked(
    document: &Document,
    file: &Dictionary,
    most: usize,
) -> Result<Vec<u8>, String> {
    let stream = || {
        let embedded = file.get(b"EF").and_then(Object::as_dict)?;
        let stream = embedded.get(b"F").and_then(Object::as_reference)?;
        document.get_object(stream).and_then(Object::as_stream)
    };
    let stream = stream().map_err(|error| format!("has no content: {error}"))?;
    if stream.content.len() > most {
        let size = stream.content.len();
        return Err(format!("has {size} bytes, more than {most}"));
    }
    stream
        .get_plain_content_with_limit(most)
        .map_err(|error| format!("cannot be unpacked to {most} bytes or fewer: {error}"))
}

/// The text of the order that a kit's PDF carries, if it carries just one.
pub fn attached_order(bytes: &[u8]) -> Option<String> {
    let mut orders = attached_orders(bytes);
    let only = orders.pop().filter(|_| orders.is_empty())?;
    Some(only.1)
}

/// The orders that a PDF carries: the names of their files, and their texts.
pub fn attached_orders(bytes: &[u8]) -> Vec<(String, String)> {
    let Ok(document) = open(bytes) else { return Vec::new() };
    attachments(&document)
        .into_iter()
        .filter(|(name, _)| name.ends_with(".toml"))
        .filter_map(|(name, bytes)| Some((name, String::from_utf8(bytes.ok()?).ok()?)))
        .collect()
}
