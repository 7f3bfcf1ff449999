//! What the PDF asks of the printer: no scaling, and both sides or one.
//!
//! The typesetter cannot say this, so it is added to its finished bytes as an
//! incremental update, which leaves every byte before it as it was.
//!
//! # Source
//!
//! ISO 32000-1:2008, 12.2, table 150 (from memory for the values).

use lopdf::{Dictionary, Document, IncrementalDocument, Object};

use crate::fault::Fault;

/// Which sides of the paper are printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    One,
    Both,
}

impl Sides {
    /// The PDF's own word for it.
    pub fn name(self) -> &'static str {
        match self {
            Self::One => "Simplex",
            Self::Both => "DuplexFlipLongEdge",
        }
    }
}

pub(super) fn with_preferences(
    bytes: Vec<u8>,
    sides: Sides,
) -> Result<Vec<u8>, Vec<Fault>> {
    add(bytes, sides).map_err(|error| {
        vec![Fault::new(
            format!("the finished PDF could not be given its print settings: {error}"),
            "this is a mistake in the program; please report it",
        )]
    })
}

fn add(bytes: Vec<u8>, sides: Sides) -> Result<Vec<u8>, lopdf::Error> {
    let document = Document::load_mem(&bytes)?;
    let root = document.trailer.get(b"Root")?.as_reference()?;
    let mut catalog = document.get_object(root)?.as_dict()?.clone();
    let mut preferences = match catalog.get(b"ViewerPreferences") {
        Ok(Object::Dictionary(found)) => found.clone(),
        Ok(Object::Reference(id)) => document.get_object(*id)?.as_dict()?.clone(),
        _ => Dictionary::new(),
    };
    preferences.set("PrintScaling", Object::Name(b"None".to_vec()));
    preferences.set("Duplex", Object::Name(sides.name().into()));
    catalog.set("ViewerPreferences", Object::Dictionary(preferences));
    let mut update = IncrementalDocument::create_from(bytes, document);
    update.new_document.objects.insert(root, Object::Dictionary(catalog));
    let mut out = Vec::new();
    update.save_to(&mut out)?;
    Ok(out)
}
