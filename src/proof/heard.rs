//! Compares the order in which a PDF is read out with the order in which it is printed.
//!
//! Who hears a sheet hears what its structure leads to (ISO 32000-1:2008, 14.7, from
//! memory): elements, and in them the numbers of what is marked on the pages. Two that
//! changed places would put another time before a card.

use std::collections::HashMap;

use super::file::{Dict, File, Value};
use super::places::is_of_foot;
use super::{Difference, Glyph, Page};

/// Kinds of elements, which are read out as they stand. Some others are passed over.
const KINDS: [&str; 18] = [
    "Div", "Document", "Figure", "H1", "H2", "L", "LBody", "LI", "Lbl", "P", "Span",
    "Strong", "TBody", "TD", "TH", "THead", "TR", "Table",
];

/// What kinds stand for that are not the standard's own.
const ROLES: [(&str, &str); 5] = [
    ("Datetime", "Span"),
    ("Em", "Span"),
    ("Strong", "Span"),
    ("Terms", "Part"),
    ("Title", "P"),
];

/// How deep elements and their lists may lie in each other; ours lie 21 deep.
const DEEPEST: usize = 64;

/// Compares the order of both. Nothing is printed that is not read out, but the feet
/// where there are some.
pub(super) fn compare(file: &File, pages: &[Page], has_feet: bool) -> Vec<Difference> {
    let mut found: Vec<Difference> = (1..)
        .zip(pages)
        .filter_map(|(number, page)| unheard(page, number, has_feet))
        .collect();
    let order = match Reader::order(file, pages) {
        Ok(order) => order,
        Err(why) => {
            found.push(Difference::new(0, why));
            return found;
        }
    };
    let marks = |(index, page): (usize, &Page)| (0..page.marked).map(move |n| (index, n));
    let printed: Vec<(usize, usize)> = pages.iter().enumerate().flat_map(marks).collect();
    if printed != order {
        let same = printed.iter().zip(&order).take_while(|(one, two)| one == two).count();
        let (page, _) = printed.get(same).or(printed.last()).copied().unwrap_or_default();
        let what = "is not read out in the order in which it is printed";
        found.push(Difference::new(page + 1, what));
    }
    found
}

/// What is printed on a page and not read out.
fn unheard(page: &Page, number: usize, has_feet: bool) -> Option<Difference> {
    let may_be = |glyph: &&Glyph| {
        glyph.is_heard || glyph.blank || has_feet && is_of_foot(page, glyph)
    };
    let from_first = page.glyphs.iter().skip_while(may_be);
    let text: String = from_first.take(30).map(|glyph| &*glyph.text).collect();
    (!text.is_empty()).then(|| {
        Difference::new(number, format!("prints \"{text}\", which is not read out"))
    })
}

/// Goes through the structure.
struct Reader<'f, 'a> {
    file: &'f File<'a>,
    /// Number of each page, by that of its object.
    pages: HashMap<usize, usize>,
    /// Of each object, whether it was read.
    seen: Vec<bool>,
    /// Page and number of what is read out.
    order: Vec<(usize, usize)>,
}

impl<'f, 'a> Reader<'f, 'a> {
    fn order(file: &'f File<'a>, pages: &[Page]) -> Result<Vec<(usize, usize)>, String> {
        let pages = pages.iter().enumerate().map(|(index, page)| (page.object, index));
        let pages = pages.collect();
        let seen = vec![false; file.objects()];
        let mut reader = Self { file, pages, seen, order: Vec::new() };
        if let Some(root) = file.dict(&file.catalog()?, "StructTreeRoot")? {
            let roles = file.dict(&root, "RoleMap")?.unwrap_or_default();
            if let Some((kind, _)) =
                roles.entries().find(|(kind, role)| !is_role(kind, role))
            {
                let kind = String::from_utf8_lossy(kind).escape_debug().to_string();
                return Err(format!("the structure has a role of its own for /{kind}"));
            }
            if let Some(elements) = root.get("K") {
                reader.read(elements, None, 0)?;
            }
        }
        Ok(reader.order)
    }

    /// Reads what an element holds that stands on `page`.
    fn read(
        &mut self,
        value: &Value<'a>,
        page: Option<usize>,
        depth: usize,
    ) -> Result<(), String> {
        if depth > DEEPEST {
            return Err(format!("its structure is more than {DEEPEST} deep"));
        }
        match value {
            Value::Ref(number) => {
                let value = self.file.resolve(value)?;
                if std::mem::replace(&mut self.seen[*number], true) {
                    let what = "an element of its structure stands there twice";
                    return Err(what.to_owned());
                }
                self.read(&value, page, depth + 1)
            }
            Value::Number(number) => {
                let page = page.ok_or("its structure has a number without a page")?;
                self.order.push((page, *number as usize));
                Ok(())
            }
            Value::Array(values) => {
                values.iter().try_for_each(|value| self.read(value, page, depth + 1))
            }
            Value::Dict(dict) => self.element(dict, page, depth),
            _ => Err("its structure has something else than elements".to_owned()),
        }
    }

    fn element(
        &mut self,
        element: &Dict<'a>,
        page: Option<usize>,
        depth: usize,
    ) -> Result<(), String> {
        let page = match element.get("Pg") {
            Some(Value::Ref(number)) => self.pages.get(number).copied(),
            _ => page,
        };
        let is_known = |kind: &[u8]| KINDS.iter().any(|known| known.as_bytes() == kind);
        let holds = match element.get("S") {
            Some(Value::Name(kind)) if is_known(kind) => "K",
            None if element.is("Type", "MCR") => "MCID",
            _ => {
                return Err(
                    "its structure has an element of a kind that ours are not".into()
                );
            }
        };
        match element.get(holds) {
            Some(kids) => self.read(kids, page, depth + 1),
            None => Ok(()),
        }
    }
}

fn is_role(kind: &[u8], role: &Value) -> bool {
    let Value::Name(role) = role else { return false };
    ROLES
        .iter()
        .any(|(own, standard)| own.as_bytes() == kind && standard.as_bytes() == &**role)
}
