//! Compares what a PDF asks of the printer, and the order it carries.

use lopdf::{Dictionary, Document, Object};

use super::Difference;
use crate::document::ATTACHMENT;
use crate::typeset::Sides;

pub(super) fn compare(bytes: &[u8], sides: Sides, order: &str) -> Vec<Difference> {
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
    match attachment(&document) {
        Some(text) if text == order.as_bytes() => {}
        Some(_) => found.push(Difference::new(
            0,
            format!("the attached {ATTACHMENT} is not the order this is compared with"),
        )),
        None => {
            found.push(Difference::new(0, format!("there is no attached {ATTACHMENT}")));
        }
    }
    found
}

fn preferences(document: &Document) -> Option<&Dictionary> {
    document.catalog().ok()?.get(b"ViewerPreferences").ok()?.as_dict().ok()
}

/// The text of the order that a kit's PDF carries, if it carries one.
pub fn attached_order(bytes: &[u8]) -> Option<String> {
    let document = Document::load_mem(bytes).ok()?;
    String::from_utf8(attachment(&document)?).ok()
}

/// The bytes of the attached order.
fn attachment(document: &Document) -> Option<Vec<u8>> {
    document.objects.values().find_map(|object| {
        let file = object.as_dict().ok()?;
        let is_file =
            file.get(b"Type").and_then(Object::as_name).ok() == Some(b"Filespec");
        if !is_file
            || file.get(b"F").and_then(Object::as_str).ok()? != ATTACHMENT.as_bytes()
        {
            return None;
        }
        let embedded = file.get(b"EF").and_then(Object::as_dict).ok()?;
        let stream = embedded.get(b"F").and_then(Object::as_reference).ok()?;
        let stream = document.get_object(stream).and_then(Object::as_stream).ok()?;
        stream.get_plain_content().ok()
    })
}
