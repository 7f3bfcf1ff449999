//! Pages that are laid out and not yet a PDF, and how several become one document.

use typst::foundations::Value;
use typst::introspection::{Introspector, Location, MetadataElem, Tag};
use typst::layout::{Abs, Frame, FrameItem, Point};
use typst::model::{Document, DocumentInfo};
use typst_layout::{Page, PagedDocument};

/// Pages that are laid out and not yet a PDF.
pub struct Laid {
    pub(super) pages: Vec<Page>,
    pub(super) info: DocumentInfo,
    parts: Vec<Part>,
}

/// A named part of a document and its first page, counted from 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    pub name: String,
    pub page: usize,
}

/// What the elements of feet are set apart by from those of the pages they stand on.
const FEET: usize = usize::MAX;

impl Laid {
    pub(super) fn new(document: &PagedDocument) -> Self {
        Self {
            pages: document.pages().to_vec(),
            info: document.info().clone(),
            parts: parts(document),
        }
    }

    /// The named parts, in order.
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// For each page, whether nothing is on it.
    pub fn blank_pages(&self) -> Vec<bool> {
        self.pages.iter().map(|page| is_blank(&page.frame)).collect()
    }

    /// Puts the pages of `feet` at the foot of these pages, each on its own; a blank
    /// page gets none.
    pub fn put_feet(&mut self, feet: Self) {
        for (page, foot) in self.pages.iter_mut().zip(feet.pages) {
            if is_blank(&page.frame) {
                continue;
            }
            let mut foot = foot.frame;
            set_apart(&mut foot, FEET);
            let y = page.frame.height() - foot.height();
            page.frame.push_frame(Point::new(Abs::zero(), y), foot);
        }
    }

    /// Fills the last leaf with a blank side if one is left over.
    pub fn fill_leaf(&mut self) {
        if self.pages.len() % 2 == 1
            && let Some(mut back) = self.pages.last().cloned()
        {
            back.frame = Frame::hard(back.frame.size());
            self.pages.push(back);
        }
    }

    /// Adds the pages of `next`.
    pub fn append(&mut self, mut next: Self) {
        let before = self.pages.len();
        for page in &mut next.pages {
            set_apart(&mut page.frame, before);
        }
        self.pages.append(&mut next.pages);
        self.parts.extend(
            next.parts.into_iter().map(|part| Part { page: part.page + before, ..part }),
        );
    }
}

/// Gives every element on a page a place in the document of its own.
///
/// The typesetter knows an element by a number made from what and where it is, and
/// so elements of two kits have the same. (That is what lets it lay out once what
/// is alike in both.)
fn set_apart(frame: &mut Frame, by: usize) {
    let moved = |location: Location| location.variant(by);
    frame.retain(|item| {
        match item {
            FrameItem::Group(group) => {
                if let Some(parent) = &mut group.parent {
                    parent.location = moved(parent.location);
                }
                set_apart(&mut group.frame, by);
            }
            FrameItem::Tag(Tag::Start(element, _)) => {
                if let Some(location) = element.location() {
                    element.set_location(moved(location));
                }
            }
            FrameItem::Tag(Tag::End(location, ..)) => *location = moved(*location),
            FrameItem::Text(_)
            | FrameItem::Shape(..)
            | FrameItem::Image(..)
            | FrameItem::Link(..) => {}
        }
        true
    });
}

/// The named parts of a document with their first pages: metadata that the
/// templates put at the start of each part.
fn parts(document: &PagedDocument) -> Vec<Part> {
    use typst::foundations::{Label, Selector};
    use typst::utils::PicoStr;
    let introspector = document.introspector();
    let Some(label) = Label::new(PicoStr::intern("part")) else { return Vec::new() };
    introspector
        .query(&Selector::Label(label))
        .iter()
        .filter_map(|element| {
            let location = element.location()?;
            let page = introspector.position(location)?.page.get();
            let name = match element.to_packed::<MetadataElem>().map(|m| &m.value) {
                Some(Value::Str(name)) => name.as_str().to_owned(),
                _ => return None,
            };
            Some(Part { name, page })
        })
        .collect()
}

/// Whether nothing is drawn on a page.
fn is_blank(frame: &Frame) -> bool {
    frame.items().all(|(_, item)| match item {
        FrameItem::Group(group) => is_blank(&group.frame),
        FrameItem::Tag(_) | FrameItem::Link(..) => true,
        _ => false,
    })
}
