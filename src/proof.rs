//! Proves a finished PDF: reads its bytes back and compares them with the plan.
//!
//! Takes PDF bytes and what was planned, gives the differences. Trusts neither
//! the typesetter nor the documents: the text of every page must be what the
//! plan's words say and nothing else, every clock time on it must be a time of
//! the plan in its place, and every QR code must decode to its own label's
//! number. A reader of its own, `hayro`, takes the PDF apart.

mod facts;
mod labels;
mod read;
mod settings;
mod text;

use crate::document::{self, Kit, PageCounts};
use crate::fault::Fault;
use crate::typeset::Sides;
use crate::words::Words;

pub use labels::decode_qr;
pub use read::{Area, Glyph, Page, read};
pub use settings::attached_order;

/// Lengths may differ by this much, in millimetres.
pub const TOLERANCE_MM: f64 = 0.1;

/// One way in which a PDF is not what was planned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// Page, counted from 1; 0 for the file as a whole.
    pub page: usize,
    /// What was expected and what was found.
    pub what: String,
}

impl Difference {
    fn new(page: usize, what: impl Into<String>) -> Self {
        Self { page, what: what.into() }
    }

    /// The difference as a fault of the file `name`.
    pub fn fault(&self, name: &str) -> Fault {
        let place = match self.page {
            0 => name.to_owned(),
            page => format!("{name}, page {page}"),
        };
        Fault::new(
            format!("{place}: {}", self.what),
            "the PDF is not what was planned, so it is not to be used; make it again, \
             and report it if this comes back",
        )
    }
}

/// The files of one kit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
    Paper,
    Labels,
    Packing,
}

impl FileKind {
    pub const ALL: [Self; 3] = [Self::Paper, Self::Labels, Self::Packing];

    pub fn name(self) -> &'static str {
        match self {
            Self::Paper => "paper.pdf",
            Self::Labels => "labels.pdf",
            Self::Packing => "packing.pdf",
        }
    }

    /// Which sides of the paper it is printed on.
    pub fn sides(self) -> Sides {
        match self {
            Self::Paper => Sides::Both,
            Self::Labels | Self::Packing => Sides::One,
        }
    }
}

/// Compares a PDF with the plan of its order. `packers` are the words of the
/// packing slip, `counts` the pages that slip is to name.
///
/// # Errors
///
/// Every difference; none means that the file may be used.
pub fn prove(
    bytes: &[u8],
    file: FileKind,
    kit: &Kit,
    packers: &Words,
    counts: PageCounts,
) -> Result<(), Vec<Difference>> {
    let pages = match read(bytes) {
        Ok(pages) => pages,
        Err(why) => return Err(vec![Difference::new(0, why)]),
    };
    let mut found = settings::compare(bytes, file.sides(), &kit.order.source.text);
    let compared = match file {
        FileKind::Paper => paper(kit, &pages),
        FileKind::Labels => labels::compare(bytes, &pages, kit),
        FileKind::Packing => packing(kit, packers, counts, &pages),
    };
    match compared {
        Ok(differences) => found.extend(differences),
        Err(faults) => {
            found.extend(faults.iter().map(|fault| Difference::new(0, &fault.what)));
        }
    }
    if found.is_empty() { Ok(()) } else { Err(found) }
}

/// A part of a PDF: what it must say and the pages it is on.
struct Part<'a> {
    /// Every text of the part's data, in no order.
    texts: Vec<String>,
    /// Pages, the first counted from 1 in the file.
    first: usize,
    pages: &'a [Page],
}

fn paper(kit: &Kit, pages: &[Page]) -> Result<Vec<Difference>, Vec<Fault>> {
    let data = document::paper_documents(kit)?;
    let titles =
        [&data.sheet.lab, &data.fluids.title, &data.checklist.title, &data.card.title];
    let texts = [
        text::leaves(&data.sheet),
        text::leaves(&data.fluids),
        text::leaves(&data.checklist),
        text::leaves(&data.card),
    ];
    let mut found = page_boxes(kit, pages);
    let mut starts = Vec::new();
    for title in titles {
        let from = starts.last().map_or(0, |last| last + 1);
        let Some(start) =
            (from..pages.len()).find(|index| text::starts_with(&pages[*index], title))
        else {
            found.push(Difference::new(0, format!("no page begins with \"{title}\"")));
            return Ok(found);
        };
        starts.push(start);
    }
    let mut parts = Vec::new();
    for (index, texts) in texts.into_iter().enumerate() {
        let (first, end) =
            (starts[index], starts.get(index + 1).copied().unwrap_or(pages.len()));
        parts.push(Part { texts, first: first + 1, pages: &pages[first..end] });
    }
    for part in &mut parts {
        text::add_feet(part, &data.page, pages.len());
        found.extend(text::compare(part));
    }
    let [sheet, fluids, checklist, card] = &parts[..] else { return Ok(found) };
    found.extend(facts::sheet(kit, sheet));
    found.extend(facts::fluids(kit, fluids));
    found.extend(facts::checklist(kit, checklist));
    found.extend(facts::card(kit, card));
    Ok(found)
}

fn packing(
    kit: &Kit,
    packers: &Words,
    counts: PageCounts,
    pages: &[Page],
) -> Result<Vec<Difference>, Vec<Fault>> {
    let data = document::packing_slip(kit, packers, counts)?;
    let mut found = page_boxes(kit, pages);
    let mut part = Part { texts: text::leaves(&data), first: 1, pages };
    text::add_feet(&mut part, &data.page, pages.len());
    found.extend(text::compare(&part));
    found.extend(facts::packing(kit, &part));
    Ok(found)
}

/// Page sizes, and that nothing lies outside its page.
fn page_boxes(kit: &Kit, pages: &[Page]) -> Vec<Difference> {
    let (width, height) = kit.order.paper.size_mm();
    let mut found = Vec::new();
    for (index, page) in pages.iter().enumerate() {
        found.extend(page_box(index + 1, page, width, height));
    }
    found
}

fn page_box(number: usize, page: &Page, width: f64, height: f64) -> Option<Difference> {
    let close = |a: f64, b: f64| (a - b).abs() <= TOLERANCE_MM;
    if !close(page.width, width) || !close(page.height, height) {
        return Some(Difference::new(
            number,
            format!(
                "expected a page of {width} x {height} mm, found {:.1} x {:.1} mm",
                page.width, page.height
            ),
        ));
    }
    let whole = Area { left: 0.0, top: 0.0, right: page.width, bottom: page.height };
    page.outside(whole)
        .map(|what| format!("{what} lies outside the page"))
        .or_else(|| page.collision())
        .map(|what| Difference::new(number, what))
}
