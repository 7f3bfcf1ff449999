//! Compares what a PDF says beside what is printed: its title, its bookmarks, and the
//! words for those who hear it.

use std::collections::HashSet;
use std::ops::Range;

use super::file::{Dict, File, Value, decoded};
use super::text::{Text, bare};
use super::{Difference, Page};
use crate::fault::visible;

/// The key of a structure element for its title.
const TITLE: &str = "T";

/// Keys of a structure element whose words are heard: in place of what is drawn, of
/// what is written, of what is short, and as its title.
const HEARD: [&str; 4] = ["Alt", "ActualText", "E", TITLE];

/// The namespace of titles in metadata (ISO 16684-1; Dublin Core).
const DUBLIN_CORE: &str = "http://purl.org/dc/elements/1.1/";

/// What a bookmark of ours has: anything else could make it do more than lead to a page.
const BOOKMARK: [&str; 8] =
    ["Count", "Dest", "First", "Last", "Next", "Parent", "Prev", "Title"];

/// The most bytes of metadata; ours have 3,000.
const MOST_OF_METADATA: usize = 64 * 1024;

/// The most texts beside the pages, for each page: a sheet has at most 1,600 labels.
const MOST_A_PAGE: usize = 2000;

/// The most bytes of all of them.
const MOST_OF_TEXTS: usize = 4 * 1024 * 1024;

/// How deep bookmarks may lie in each other, and the elements of a heading.
const DEEPEST: usize = 4;

/// What a PDF says beside what is printed.
pub(super) struct Beside {
    /// Its title, as it stands in two places, each with its name.
    titles: [(&'static str, String); 2],
    bookmarks: Vec<Words>,
    /// Titles of headings.
    headings: Vec<Words>,
    /// What is heard in place of something drawn.
    spoken: Vec<Spoken>,
    /// Where a page itself has other words for what it draws.
    unlike: Vec<Difference>,
}

/// Words, and the page they belong to, counted from 1, if it is known.
struct Words {
    page: Option<usize>,
    words: String,
}

struct Spoken {
    words: Words,
    /// Numbers of what it stands for, among what is marked on the page.
    marks: Vec<usize>,
}

/// What a PDF must say beside what is printed.
#[derive(Default)]
pub(super) struct Expected {
    pub title: String,
    /// Of each kit, with its first page.
    pub bookmarks: Vec<(String, usize)>,
    pub spoken: Vec<Heard>,
}

/// Words that must be heard.
pub(super) struct Heard {
    pub words: String,
    /// The pages that can have them, counted from 1.
    pub pages: Range<usize>,
    /// Number of the one thing that it stands for, where it is known.
    pub mark: Option<usize>,
}

impl Beside {
    /// # Errors
    ///
    /// What is not built as in a file of ours.
    pub fn read(file: &File, pages: &[Page]) -> Result<Self, String> {
        let mut found = Self {
            titles: [
                ("title", info_title(file)?),
                ("title in the metadata", metadata_title(file)?),
            ],
            bookmarks: Vec::new(),
            headings: Vec::new(),
            spoken: Vec::new(),
            unlike: Vec::new(),
        };
        let (left, left_of_texts) = (pages.len() * MOST_A_PAGE, MOST_OF_TEXTS);
        let mut reader = Reader { file, pages, left, left_of_texts };
        let catalog = file.catalog()?;
        if let Some(outline) = file.dict(&catalog, "Outlines")? {
            reader.bookmarks(&outline, 0, &mut found.bookmarks)?;
        }
        for element in file.dicts_with(&HEARD)? {
            reader.element(&element, &mut found)?;
        }
        found.unlike = found.unlike(pages);
        Ok(found)
    }

    pub fn compare(self, wanted: &Expected, pages: &[Page]) -> Vec<Difference> {
        let text = Text::of(pages);
        let mut found = self.compare_titles(&wanted.title);
        found.extend(self.compare_bookmarks(&wanted.bookmarks, &text));
        found.extend(self.compare_spoken(&wanted.spoken));
        found.extend(self.unlike);
        found
    }

    /// Words that a page itself has for what it draws and the structure has not: a reader
    /// may take either.
    fn unlike(&self, pages: &[Page]) -> Vec<Difference> {
        let known = self.spoken.iter().filter_map(|spoken| match spoken.marks[..] {
            [mark] => Some((spoken.words.page?, mark, &*spoken.words.words)),
            _ => None,
        });
        let known: HashSet<(usize, usize, &str)> = known.collect();
        let mut found = Vec::new();
        for (number, page) in (1..).zip(pages) {
            let wrong = page.heard.iter().filter(|(mark, words)| {
                mark.is_none_or(|mark| !known.contains(&(number, mark, words)))
            });
            found.extend(wrong.map(|(_, words)| {
                let words = visible(words);
                let what = format!("the page itself has \"{words}\" read out");
                Difference::new(number, what)
            }));
        }
        found
    }

    fn compare_titles(&self, wanted: &str) -> Vec<Difference> {
        let wrong = self.titles.iter().filter(|(_, found)| found != wanted);
        wrong
            .map(|(name, found)| {
                let found = visible(found);
                let what = format!("expected the {name} \"{wanted}\", found \"{found}\"");
                Difference::new(0, what)
            })
            .collect()
    }

    /// Each kit has its bookmark, in their order; what else there is must be what its
    /// page says.
    fn compare_bookmarks(
        &self,
        kits: &[(String, usize)],
        text: &Text,
    ) -> Vec<Difference> {
        let mut found = Vec::new();
        let mut left = kits.iter().peekable();
        for mark in &self.bookmarks {
            if left.next_if(|kit| mark.is(kit)).is_none() && !mark.stand_on(text) {
                found.push(mark.differs("bookmark"));
            }
        }
        found.extend(left.map(|(words, page)| {
            Difference::new(*page, format!("expected a bookmark \"{words}\""))
        }));
        let wrong = self.headings.iter().filter(|heading| {
            !kits.iter().any(|kit| heading.is(kit)) && !heading.stand_on(text)
        });
        found.extend(wrong.map(|heading| heading.differs("heading")));
        found
    }

    fn compare_spoken(&self, wanted: &[Heard]) -> Vec<Difference> {
        let mut found = Vec::new();
        let mut left: Vec<&Spoken> = self.spoken.iter().collect();
        for wanted in wanted {
            match left.iter().position(|spoken| spoken.is(wanted)) {
                Some(index) => drop(left.remove(index)),
                None => {
                    let what = format!("expected to be read out: \"{}\"", wanted.words);
                    found.push(Difference::new(wanted.pages.start, what));
                }
            }
        }
        found.extend(left.iter().map(|spoken| {
            let words = visible(&spoken.words.words);
            Difference::new(
                spoken.words.page.unwrap_or(0),
                format!("read out without need: \"{words}\""),
            )
        }));
        found
    }
}

impl Words {
    /// Whether they are a kit's bookmark, on its first page.
    fn is(&self, (words, page): &(String, usize)) -> bool {
        self.words == *words && self.page == Some(*page)
    }

    /// Whether their page says them.
    fn stand_on(&self, text: &Text) -> bool {
        let sought = bare(&self.words);
        !sought.is_empty()
            && self.page.is_some_and(|page| text.page(page - 1).contains(&sought))
    }

    fn differs(&self, kind: &str) -> Difference {
        let words = visible(&self.words);
        Difference::new(
            self.page.unwrap_or(0),
            format!("the {kind} \"{words}\" is not on its page"),
        )
    }
}

impl Spoken {
    fn is(&self, wanted: &Heard) -> bool {
        self.words.page.is_some_and(|page| wanted.pages.contains(&page))
            && self.words.words == wanted.words
            && wanted.mark.is_none_or(|mark| self.marks == [mark])
    }
}

fn info_title(file: &File) -> Result<String, String> {
    Ok(match file.info()?.get("Title") {
        Some(Value::Text(title)) => decoded(title),
        _ => String::new(),
    })
}

fn metadata_title(file: &File) -> Result<String, String> {
    let Some(Value::Ref(number)) = file.catalog()?.get("Metadata").cloned() else {
        return Ok(String::new());
    };
    let why = |why| format!("the metadata {why}");
    let bytes = file.object(number)?.unpacked(MOST_OF_METADATA).map_err(why)?;
    let xml = std::str::from_utf8(&bytes).map_err(|_| "the metadata is no text")?;
    let tree = roxmltree::Document::parse(xml)
        .map_err(|error| format!("the metadata cannot be read: {error}"))?;
    let titles: Vec<String> = tree
        .descendants()
        .filter(|node| node.has_tag_name((DUBLIN_CORE, "title")))
        .map(|title| {
            let words = title.descendants().filter(|node| node.is_text());
            words.filter_map(|node| node.text()).map(str::trim).collect()
        })
        .collect();
    Ok(titles.join(" | "))
}

struct Reader<'f, 'a> {
    file: &'f File<'a>,
    pages: &'f [Page],
    /// Texts that may still be read.
    left: usize,
    /// Bytes that they may still have.
    left_of_texts: usize,
}

impl<'a> Reader<'_, 'a> {
    /// The page that `value` refers to, counted from 1.
    fn page(&self, value: Option<&Value>) -> Option<usize> {
        let Some(Value::Ref(number)) = value else { return None };
        let at = self.pages.iter().position(|page| page.object == *number);
        at.map(|at| at + 1)
    }

    /// The page of an element, or of what it begins with.
    fn page_of(&self, element: &Dict<'a>, depth: usize) -> Option<usize> {
        if element.get("Pg").is_some() || depth == DEEPEST {
            return self.page(element.get("Pg"));
        }
        let Some(Value::Array(kids)) = element.get("K") else { return None };
        match self.file.resolve(kids.first()?) {
            Ok(Value::Dict(first)) => self.page_of(&first, depth + 1),
            _ => None,
        }
    }

    /// The bookmarks below `parent`, each before those below it.
    fn bookmarks(
        &mut self,
        parent: &Dict<'a>,
        depth: usize,
        found: &mut Vec<Words>,
    ) -> Result<(), String> {
        if depth == DEEPEST {
            return Err(format!("bookmarks lie more than {DEEPEST} deep in each other"));
        }
        let mut next = self.file.dict(parent, "First")?;
        while let Some(mark) = next {
            let page = match mark.get("Dest").map(|to| self.file.resolve(to)) {
                Some(Ok(Value::Array(to))) => self.page(to.first()),
                _ => None,
            };
            let words = self.words(&mark, "Title")?.unwrap_or_default();
            let is_known = |key: &[u8]| BOOKMARK.iter().any(|own| own.as_bytes() == key);
            if let Some(key) = mark.keys_but(is_known).next() {
                let words = visible(&words);
                return Err(format!(
                    "the bookmark \"{words}\" has /{key}, as none of ours has"
                ));
            }
            found.push(Words { page, words });
            self.bookmarks(&mark, depth + 1, found)?;
            next = self.file.dict(&mark, "Next")?;
        }
        Ok(())
    }

    /// What is heard of one element of the structure.
    fn element(&mut self, element: &Dict<'a>, found: &mut Beside) -> Result<(), String> {
        let page = self.page_of(element, 0);
        for key in HEARD {
            let Some(words) = self.words(element, key)? else { continue };
            let words = Words { page, words };
            if key == TITLE {
                found.headings.push(words);
            } else {
                found.spoken.push(Spoken { words, marks: marks(element) });
            }
        }
        Ok(())
    }

    fn words(&mut self, dict: &Dict<'a>, key: &str) -> Result<Option<String>, String> {
        let Some(value) = dict.get(key) else { return Ok(None) };
        let Value::Text(words) = self.file.resolve(value)? else {
            return Err(format!("a /{key} is no text"));
        };
        if self.left == 0 || words.len() > self.left_of_texts {
            return Err("it says too much beside its pages".to_owned());
        }
        self.left -= 1;
        self.left_of_texts -= words.len();
        Ok(Some(decoded(&words)))
    }
}

/// The numbers of what an element stands for on its page.
fn marks(element: &Dict) -> Vec<usize> {
    let kids = match element.get("K") {
        Some(Value::Array(kids)) => kids,
        _ => return Vec::new(),
    };
    let number = |kid: &Value| match kid {
        Value::Number(number) => Some(*number as usize),
        _ => None,
    };
    kids.iter().filter_map(number).collect()
}
