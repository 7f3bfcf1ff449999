//! Every entry of every kind of object is changed in a few ways, which must be found or
//! be known to change nothing of what is printed, heard, or sent to the printer.

use std::collections::{BTreeMap, BTreeSet};

use kitwright::proof::FileKind;
use lopdf::{Dictionary, Object, ObjectId};

use crate::kits::{Of, made, shop};
use crate::pdf::{Pdf, name};

/// The kind of an object, in words.
fn kind_of(object: &Dictionary) -> String {
    let named = |key: &[u8]| {
        let name = object.get(key).ok()?.as_name().ok()?;
        Some(String::from_utf8_lossy(name).into_owned())
    };
    match (named(b"Type"), named(b"Subtype").or(named(b"S"))) {
        (Some(kind), _) if kind == "StructElem" => kind,
        (Some(kind), Some(more)) => format!("{kind} {more}"),
        (Some(kind), None) => kind,
        (None, Some(more)) => more,
        (None, None) => "?".to_owned(),
    }
}

/// A way to an entry: the object, the keys and indices down to it, and its own key.
#[derive(Debug, Clone)]
struct Entry {
    id: ObjectId,
    path: Vec<Step>,
    key: Vec<u8>,
}

#[derive(Debug, Clone)]
enum Step {
    Key(Vec<u8>),
    Index(usize),
}

/// Objects by their kind, and one entry of each name.
type Entries = (BTreeMap<String, Vec<ObjectId>>, BTreeMap<String, Entry>);

fn entries(pdf: &Pdf) -> Entries {
    let (mut kinds, mut all) = Entries::default();
    for (id, object) in &pdf.document.objects {
        let (dict, kind) = match object {
            Object::Dictionary(dict) => (dict, kind_of(dict)),
            Object::Stream(stream) => {
                (&stream.dict, format!("stream {}", kind_of(&stream.dict)))
            }
            _ => continue,
        };
        below(dict, &kind, (*id, &[]), &mut all);
        kinds.entry(kind).or_default().push(*id);
    }
    (kinds, all)
}

fn below(
    dict: &Dictionary,
    kind: &str,
    (id, path): (ObjectId, &[Step]),
    all: &mut BTreeMap<String, Entry>,
) {
    for (key, value) in dict {
        let name = format!("{kind}/{}", String::from_utf8_lossy(key));
        within(value, &name, (id, &[path, &[Step::Key(key.clone())]].concat()), all);
        let entry = Entry { id, path: path.to_vec(), key: key.clone() };
        all.entry(name).or_insert(entry);
    }
}

fn within(
    value: &Object,
    name: &str,
    (id, path): (ObjectId, &[Step]),
    all: &mut BTreeMap<String, Entry>,
) {
    match value {
        Object::Dictionary(dict) => below(dict, name, (id, path), all),
        Object::Array(values) => {
            for (index, value) in values.iter().enumerate() {
                let path = [path, &[Step::Index(index)]].concat();
                within(value, &format!("{name}[]"), (id, &path), all);
            }
        }
        _ => {}
    }
}

impl Entry {
    /// The dictionary that it is in.
    fn dictionary<'p>(&self, pdf: &'p mut Pdf) -> &'p mut Dictionary {
        let mut object = pdf.document.get_object_mut(self.id).unwrap();
        for step in &self.path {
            object = match (object, step) {
                (Object::Stream(stream), Step::Key(key)) => {
                    stream.dict.get_mut(key).unwrap()
                }
                (Object::Dictionary(dict), Step::Key(key)) => dict.get_mut(key).unwrap(),
                (Object::Array(values), Step::Index(index)) => &mut values[*index],
                (object, step) => panic!("{object:?} has no {step:?}"),
            };
        }
        match object {
            Object::Stream(stream) => &mut stream.dict,
            Object::Dictionary(dict) => dict,
            object => panic!("{object:?} is no dictionary"),
        }
    }

    fn value<'p>(&self, pdf: &'p mut Pdf) -> &'p Object {
        self.dictionary(pdf).get(&self.key).unwrap()
    }

    /// Sets it, or takes it away.
    fn set(&self, pdf: &mut Pdf, value: Option<Object>) {
        let dictionary = self.dictionary(pdf);
        match value {
            Some(value) => dictionary.set(self.key.clone(), value),
            None => drop(dictionary.remove(&self.key)),
        }
    }
}

/// Values other than this one, in words. Of a reference another object of those that are
/// of its kind.
fn others(value: &Object, same_kind: &[ObjectId]) -> Vec<(&'static str, Option<Object>)> {
    let mut found = vec![("left out", None)];
    match value {
        Object::Integer(number) => found.push(("one more", Some((number + 1).into()))),
        Object::Real(number) => found.push(("one more", Some((number + 1.0).into()))),
        Object::Boolean(value) => found.push(("the other", Some((!value).into()))),
        Object::Name(_) => found.push(("another name", Some(name("Odd")))),
        Object::String(text, format) => {
            let text = [&b"x"[..], text].concat();
            found.push(("another text", Some(Object::String(text, *format))));
        }
        Object::Array(values) => {
            let turned: Vec<Object> = values.iter().rev().cloned().collect();
            if turned != *values {
                found.push(("turned round", Some(turned.into())));
            }
            if let Some((_, rest)) = values.split_last() {
                found.push(("shorter", Some(rest.to_vec().into())));
            }
        }
        Object::Reference(id) => {
            if let Some(other) = same_kind.iter().find(|other| *other != id) {
                found.push(("another object", Some((*other).into())));
            }
        }
        _ => {}
    }
    found
}

/// Entries that may be anything, and why.
const HARMLESS: &[(&str, &[&str])] = &[
    (
        "the fonts are in the file: these say what another in their place would look like, or what there is where nothing is said",
        &[
            "Font CIDFontType2/BaseFont",
            "Font CIDFontType2/CIDSystemInfo",
            "Font CIDFontType2/CIDSystemInfo/Ordering",
            "Font CIDFontType2/CIDSystemInfo/Registry",
            "Font CIDFontType2/CIDSystemInfo/Supplement",
            "Font CIDFontType2/CIDToGIDMap",
            "Font CIDFontType2/DW",
            "Font Type0/BaseFont",
            "FontDescriptor/Ascent",
            "FontDescriptor/CIDSet",
            "FontDescriptor/CapHeight",
            "FontDescriptor/Descent",
            "FontDescriptor/Flags",
            "FontDescriptor/FontBBox",
            "FontDescriptor/FontName",
            "FontDescriptor/ItalicAngle",
            "FontDescriptor/StemV",
            "stream CMap/WMode",
        ],
    ),
    (
        "who keeps the file asks for them; no printer and no reader of pages does",
        &[
            "?/CreationDate",
            "?/Creator",
            "?/ModDate",
            "?/ProcSet",
            "Catalog/AF",
            "Catalog/OutputIntents",
            "Filespec/AFRelationship",
            "Filespec/Desc",
            "Filespec/EF/UF",
            "Filespec/F",
            "Filespec/UF",
            "OutputIntent GTS_PDFA1/DestOutputProfile",
            "OutputIntent GTS_PDFA1/Info",
            "OutputIntent GTS_PDFA1/OutputCondition",
            "OutputIntent GTS_PDFA1/OutputConditionIdentifier",
            "OutputIntent GTS_PDFA1/RegistryName",
            "OutputIntent GTS_PDFA1/S",
            "stream EmbeddedFile application/toml/Params",
            "stream EmbeddedFile application/toml/Params/ModDate",
            "stream EmbeddedFile application/toml/Params/Size",
            "stream EmbeddedFile application/toml/Subtype",
            "stream Metadata XML/Subtype",
        ],
    ),
    (
        "how a viewer draws its list of bookmarks and goes back in it; where each leads is looked at",
        &[
            "?/Count",
            "?/First",
            "?/Last",
            "?/Next",
            "?/Parent",
            "?/Prev",
            "Outlines/Count",
            "Outlines/Last",
        ],
    ),
    (
        "how an element looks where it is shown without its page, or that it is empty; a heading may be heard by its text",
        &[
            "StructElem/A",
            "StructElem/A[]/BBox",
            "StructElem/A[]/BorderColor",
            "StructElem/A[]/BorderStyle",
            "StructElem/A[]/BorderThickness",
            "StructElem/A[]/Headers",
            "StructElem/A[]/ListNumbering",
            "StructElem/A[]/O",
            "StructElem/A[]/Placement",
            "StructElem/A[]/Scope",
            "StructElem/K",
            "StructElem/Lang",
            "StructElem/T",
        ],
    ),
    (
        "kinds that a reader does not know are passed through",
        &[
            "StructTreeRoot/RoleMap",
            "StructTreeRoot/RoleMap/Datetime",
            "StructTreeRoot/RoleMap/Em",
            "StructTreeRoot/RoleMap/Strong",
            "StructTreeRoot/RoleMap/Terms",
            "StructTreeRoot/RoleMap/Title",
        ],
    ),
    (
        "nothing is asked of them where the structure is only read",
        &["Catalog/MarkInfo/Suspects", "Page/Tabs", "StructTreeRoot/ParentTreeNextKey"],
    ),
    (
        "of a profile that no page uses, or of a list of the glyphs of a font",
        &["stream ?/Filter", "stream ?/Range"],
    ),
];

/// Whether an entry is filled in anew when a file is written, or says only what kind of
/// object its place makes it.
fn is_idle(name: &str) -> bool {
    name.ends_with("/Length") || name.ends_with("/Type")
}

#[test]
fn every_kind_of_entry_is_looked_at_or_known_to_be_harmless() {
    let mut shop = shop();
    let harmless: BTreeSet<&str> =
        HARMLESS.iter().flat_map(|(_, names)| *names).copied().collect();
    let (mut met, mut wrong) = (BTreeSet::new(), BTreeSet::new());
    for (of, file) in [
        (Of::Evening, FileKind::Paper),
        (Of::Spanish, FileKind::Labels),
        (Of::Run, FileKind::Paper),
    ] {
        let bytes = made(of).file(file);
        let (by_kind, entries) = entries(&Pdf::open(bytes));
        for (name, entry) in entries {
            if is_idle(&name) || !met.insert(name.clone()) || harmless.contains(&*name) {
                continue;
            }
            let value = entry.value(&mut Pdf::open(bytes)).clone();
            let same_kind = by_kind
                .values()
                .find(|ids| value.as_reference().is_ok_and(|id| ids.contains(&id)));
            for (what, other) in others(&value, same_kind.map_or(&[], Vec::as_slice)) {
                let mut pdf = Pdf::open(bytes);
                entry.set(&mut pdf, other);
                if made(of).prove(&mut shop, file, &pdf.bytes()).is_empty() {
                    wrong.insert(format!("{name}: {what} ({of:?} {})", file.name()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "not found: {wrong:#?}");
    let gone: Vec<_> = harmless.iter().filter(|name| !met.contains(**name)).collect();
    assert!(gone.is_empty(), "nothing has these: {gone:#?}");
}
