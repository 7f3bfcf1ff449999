//! Compares the order in which a PDF is read out with the order in which it is printed.
//!
//! Who hears a sheet hears what its structure leads to (ISO 32000-1:2008, 14.7, from
//! memory): elements, and in them the numbers of what is marked on the pages. Two that
//! changed places would put another time before a card.

use std::collections::{BTreeSet, HashMap};

use super::file::{Dict, File, Value, decoded};
use super::{Difference, Page};
use crate::fault::visible;

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

/// Compares the order of both. That nothing is printed which is not read out is looked at
/// where the texts of a page are.
///
/// `languages` are those that something of it can be in.
pub(super) fn compare(
    file: &File,
    pages: &[Page],
    languages: &BTreeSet<&str>,
) -> Vec<Difference> {
    let mut found: Vec<Difference> = Vec::new();
    for (number, page) in (1..).zip(pages) {
        let others = page.languages.iter().filter(|it| !languages.contains(&***it));
        found.extend(others.map(|other| in_language(number, other)));
    }
    let order = match Reader::order(file, pages, languages) {
        Ok(order) => order,
        Err(why) => {
            found.push(Difference::new(0, why));
            return found;
        }
    };
    let marks = |(index, page): (usize, &Page)| (0..page.marked).map(move |n| (index, n));
    let printed: Vec<(usize, usize)> = pages.iter().enumerate().flat_map(marks).collect();
    let heard: Vec<(usize, usize)> = order.iter().map(|heard| heard.place).collect();
    if printed != heard {
        let same = printed.iter().zip(&heard).take_while(|(one, two)| one == two).count();
        let (page, _) = printed.get(same).or(printed.last()).copied().unwrap_or_default();
        let what = "is not read out in the order in which it is printed";
        found.push(Difference::new(page + 1, what));
    }
    found
}

fn in_language(page: usize, language: &str) -> Difference {
    let language = visible(language);
    Difference::new(page, format!("is read out in another language: \"{language}\""))
}

/// Goes through the structure.
struct Reader<'f, 'a> {
    file: &'f File<'a>,
    /// Number of each page, by that of its object.
    pages: HashMap<usize, usize>,
    /// Of each object, whether it was read.
    seen: Vec<bool>,
    order: Vec<Piece>,
    languages: &'f BTreeSet<&'f str>,
    /// Of the table that is read, the names of the heads of its columns, and the
    /// columns of its row that were read.
    heads: Vec<Vec<u8>>,
    column: usize,
    /// Name and number of the element of each head that was read.
    named: Vec<(Vec<u8>, usize)>,
}

/// Something that is read out.
#[derive(Debug, Clone, Copy)]
struct Piece {
    /// Number of its page, from 0, and its own on it.
    place: (usize, usize),
    /// Number of the element that it is in.
    element: usize,
}

/// Where something stands in the structure.
#[derive(Debug, Clone, Copy)]
struct Within {
    page: Option<usize>,
    /// Number of the element.
    element: usize,
    depth: usize,
}

impl<'f, 'a> Reader<'f, 'a> {
    fn order(
        file: &'f File<'a>,
        pages: &[Page],
        languages: &'f BTreeSet<&'f str>,
    ) -> Result<Vec<Piece>, String> {
        let catalog = file.catalog()?;
        let Some(Value::Ref(number)) = catalog.get("StructTreeRoot") else {
            return Err("it has no structure".to_owned());
        };
        let root = file.dict(&catalog, "StructTreeRoot")?.unwrap_or_default();
        let roles = file.dict(&root, "RoleMap")?.unwrap_or_default();
        if let Some((kind, _)) = roles.entries().find(|(kind, role)| !is_role(kind, role))
        {
            let kind = String::from_utf8_lossy(kind).escape_debug().to_string();
            return Err(format!("its structure has a role of its own for /{kind}"));
        }
        let numbers = pages.iter().enumerate().map(|(index, page)| (page.object, index));
        let mut reader = Self {
            file,
            pages: numbers.collect(),
            seen: vec![false; file.objects()],
            order: Vec::new(),
            languages,
            heads: Vec::new(),
            column: 0,
            named: Vec::new(),
        };
        if let Some(elements) = root.get("K") {
            let within = Within { page: None, element: *number, depth: 0 };
            reader.read(elements, within)?;
        }
        reader.compare_names(&root)?;
        reader.compare_parents(&root, pages)?;
        Ok(reader.order)
    }

    /// Reads what an element holds.
    fn read(&mut self, value: &Value<'a>, within: Within) -> Result<(), String> {
        let within = Within { depth: within.depth + 1, ..within };
        if within.depth > DEEPEST {
            return Err(format!("its structure is more than {DEEPEST} deep"));
        }
        match value {
            Value::Ref(number) => {
                let value = self.file.resolve(value)?;
                if std::mem::replace(&mut self.seen[*number], true) {
                    let what = "an element of its structure stands there twice";
                    return Err(what.to_owned());
                }
                match &value {
                    Value::Dict(dict) => self.element(dict, *number, within),
                    other => self.read(other, within),
                }
            }
            Value::Number(number) => {
                let page =
                    within.page.ok_or("its structure has a number without a page")?;
                let (place, element) = ((page, *number as usize), within.element);
                self.order.push(Piece { place, element });
                Ok(())
            }
            Value::Array(values) => {
                values.iter().try_for_each(|value| self.read(value, within))
            }
            Value::Dict(mark) if mark.is("Type", "MCR") => match mark.get("MCID") {
                Some(number @ Value::Number(_)) => {
                    let page = self.page_of(mark, within.page);
                    self.read(number, Within { page, ..within })
                }
                _ => Err("its structure has a mark without a number".to_owned()),
            },
            _ => Err("its structure has something else than elements".to_owned()),
        }
    }

    fn element(
        &mut self,
        element: &Dict<'a>,
        number: usize,
        within: Within,
    ) -> Result<(), String> {
        if element.get("P") != Some(&Value::Ref(within.element)) {
            return Err("an element of its structure lies elsewhere than it says".into());
        }
        let is_known = |kind: &[u8]| KINDS.iter().any(|known| known.as_bytes() == kind);
        let kind = match element.get("S") {
            Some(Value::Name(kind)) if is_known(kind) => &**kind,
            _ => {
                return Err(
                    "its structure has an element of a kind that ours are not".into()
                );
            }
        };
        match kind {
            b"Table" => self.heads.clear(),
            b"TR" => self.column = 0,
            b"TH" => self.head(element, number)?,
            b"TD" => self.cell(element)?,
            _ => {}
        }
        if let Some(Value::Text(language)) = element.get("Lang")
            && let language = decoded(language)
            && !self.languages.contains(&*language)
        {
            let language = visible(&language);
            return Err(format!("is read out in another language: \"{language}\""));
        }
        let page = self.page_of(element, within.page);
        match element.get("K") {
            Some(kids) => self.read(kids, Within { page, element: number, ..within }),
            None => Ok(()),
        }
    }

    fn page_of(&self, element: &Dict<'a>, otherwise: Option<usize>) -> Option<usize> {
        match element.get("Pg") {
            Some(Value::Ref(number)) => self.pages.get(number).copied(),
            _ => otherwise,
        }
    }

    /// The head of a column: its name is what cells call it by.
    fn head(&mut self, head: &Dict<'a>, number: usize) -> Result<(), String> {
        let Some(Value::Text(name)) = head.get("ID") else {
            return Err("the head of a column has no name".to_owned());
        };
        self.heads.push(name.to_vec());
        self.named.push((name.to_vec(), number));
        Ok(())
    }

    /// That a cell is read out with the head of its column.
    fn cell(&mut self, cell: &Dict<'a>) -> Result<(), String> {
        let own = self.heads.get(self.column);
        self.column += 1;
        let attributes = match cell.get("A") {
            Some(Value::Array(attributes)) => &attributes[..],
            _ => &[],
        };
        let mut heads = attributes.iter().filter_map(|found| match found {
            Value::Dict(found) => found.get("Headers"),
            _ => None,
        });
        let is_right = match (heads.next(), heads.next(), own) {
            (Some(Value::Array(heads)), None, Some(own)) => {
                matches!(&heads[..], [Value::Text(found)] if **found == **own)
            }
            _ => false,
        };
        let what = "a cell of a table is read out with the head of another column";
        if is_right { Ok(()) } else { Err(what.to_owned()) }
    }

    /// That the names of heads lead to them.
    fn compare_names(&self, root: &Dict<'a>) -> Result<(), String> {
        let tree = self.file.dict(root, "IDTree")?.unwrap_or_default();
        let names = self.file.list(&tree, "Names")?.unwrap_or_default();
        let known: HashMap<&[u8], &Value> = names
            .chunks(2)
            .filter_map(|pair| match pair {
                [Value::Text(name), element] => Some((&**name, element)),
                _ => None,
            })
            .collect();
        let is_lost = |(name, number): &(Vec<u8>, usize)| {
            known.get(&name[..]) != Some(&&Value::Ref(*number))
        };
        let is_sound = known.len() == self.named.len() && !self.named.iter().any(is_lost);
        let what = "the names of the heads of columns lead elsewhere";
        if is_sound { Ok(()) } else { Err(what.to_owned()) }
    }

    /// That the way back leads from each mark of a page to its element: a reader may
    /// come from the page.
    fn compare_parents(&self, root: &Dict<'a>, pages: &[Page]) -> Result<(), String> {
        let tree = self.file.dict(root, "ParentTree")?.unwrap_or_default();
        let numbers = match self.file.list(&tree, "Nums")? {
            Some(numbers) if tree.get("Kids").is_none() => numbers,
            _ => return Err("its structure has no way back from the pages".to_owned()),
        };
        let lists: HashMap<usize, &Value> = numbers
            .chunks(2)
            .filter_map(|pair| match pair {
                [Value::Number(number), list] => Some((*number as usize, list)),
                _ => None,
            })
            .collect();
        let mut order = self.order.iter().peekable();
        for (index, page) in pages.iter().enumerate() {
            let own =
                std::iter::from_fn(|| order.next_if(|heard| heard.place.0 == index));
            let wanted: Vec<Value> = own.map(|heard| Value::Ref(heard.element)).collect();
            if wanted.is_empty() {
                continue;
            }
            let page = self.file.object(page.object)?;
            let list = match page.dict().and_then(|page| page.get("StructParents")) {
                Some(Value::Number(number)) => lists.get(&(*number as usize)),
                _ => None,
            };
            let list = list.map(|list| self.file.resolve(list)).transpose()?;
            if list != Some(Value::Array(wanted)) {
                let page = index + 1;
                return Err(format!("from page {page} its structure is found elsewhere"));
            }
        }
        Ok(())
    }
}

fn is_role(kind: &[u8], role: &Value) -> bool {
    let Value::Name(role) = role else { return false };
    ROLES
        .iter()
        .any(|(own, standard)| own.as_bytes() == kind && standard.as_bytes() == &**role)
}
