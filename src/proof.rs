//! Proves a finished PDF: reads its bytes back and compares them with the plan.
//!
//! Takes PDF bytes and what was planned, gives the differences. Trusts neither
//! the typesetter nor the documents: the text of every page must be what the
//! plan's words say and nothing else, every clock time on it must be a time of
//! the plan in its place, and every QR code must decode to its own label's
//! number. A reader of its own takes the PDF apart and lets nothing through that is
//! not built as ours are; a second one, `hayro`, must come to the same if asked for.

mod again;
mod beside;
mod cells;
mod code;
mod draw;
mod drawn;
mod faces;
mod facts;
mod file;
mod flow;
mod font;
mod heard;
mod identity;
mod labels;
mod layout;
mod page;
mod pages;
mod places;
mod rows;
mod settings;
mod tables;
mod text;
mod timeline;

use std::collections::BTreeSet;
use std::sync::Arc;

use beside::{Beside, Expected, Heard};
use file::File;
use flow::Flow;
use serde::Serialize;

use crate::document::{self, Attachment, Kit, Packing, PageSetting};
use crate::fault::Fault;
use crate::imposition::{Imposition, Placing};
use crate::making::KitPages;
use crate::typeset::Sides;
use crate::words::{Words, say};

pub use again::read as read_again;
pub use code::{Grid, decode_qr};
pub use faces::{Faces, FontBytes};
pub use page::{Area, Drawing, Glyph, Page, Picture, Turn};
pub use settings::{attached_order, attached_orders, carried_orders};

/// Lengths may differ by this much, in millimetres.
pub const TOLERANCE_MM: f64 = 0.1;

/// The margins of paper at its sides, at its head and at its foot, in millimetres: a
/// little less than the templates have, which tall letters and lines reach into.
const MARGINS_MM: (f64, f64, f64) = (12.0, 8.5, 4.0);

/// How thoroughly a PDF is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum Mode {
    /// Once; QR codes from the modules of their images.
    #[default]
    Modules,
    /// A second time with another reader; QR codes also from the labels drawn at 203
    /// dots to the inch.
    Raster,
}

/// How PDFs are proven.
#[derive(Clone, Default)]
pub struct Proving {
    pub mode: Mode,
    /// The fonts that all text must be set in.
    pub faces: Arc<Faces>,
}

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

    /// The title of the file with these kits. That of one kit's paper is for the
    /// patient, others are for `packers`.
    pub fn title(self, kits: &[Kit], packers: &Words) -> String {
        let title = match (self, kits) {
            (Self::Paper, [kit]) => say!(kit.words, "sheet-title"),
            (Self::Paper, _) => say!(packers, "paper-title"),
            (Self::Labels, _) => say!(packers, "label-sheet-title"),
            (Self::Packing, _) => say!(packers, "pack-title"),
        };
        let span = match kits {
            [first, .., last] => {
                format!("{} … {}", first.order.number, last.order.number)
            }
            _ => kits.iter().map(|kit| kit.order.number.as_str()).collect(),
        };
        format!("{title} – {span}")
    }
}

/// Compares the paper of some kits with their plans; `places` are where each
/// kit's pages are said to be. Nothing rests on that: a kit's every text must be
/// on its pages, and every text on them must be the kit's.
///
/// # Errors
///
/// Every difference; none means that the file may be used.
pub fn prove_paper(
    bytes: &[u8],
    kits: &[Kit],
    packers: &Words,
    places: &[KitPages],
    by: &Proving,
) -> Result<(), Vec<Difference>> {
    let Opened { pages, beside, mut expected, mut found } =
        open(bytes, FileKind::Paper, kits, packers, by)?;
    if places.len() != kits.len() || places.first().is_none_or(|place| place.first != 1) {
        let what = "the pages of the kits are not known";
        return Err(vec![Difference::new(0, what)]);
    }
    for (index, (kit, place)) in kits.iter().zip(places).enumerate() {
        let next = places.get(index + 1).map_or(pages.len() + 1, |next| next.first);
        let Some(own) = pages.get(place.first - 1..next - 1) else {
            let what = format!("expected {next} pages or more, found {}", pages.len());
            found.push(Difference::new(0, what));
            break;
        };
        if place.first % 2 == 0 {
            let what = format!(
                "the kit {} begins on the back of another's leaf",
                kit.order.number
            );
            found.push(Difference::new(place.first, what));
        }
        match paper(kit, place, own, &mut expected) {
            Ok(differences) => found.extend(differences),
            Err(faults) => found.extend(of_faults(&faults)),
        }
    }
    found.extend(beside.compare(&expected, &pages));
    verdict(found)
}

/// Compares sheets of labels with the plans and cells of their kits.
///
/// # Errors
///
/// As [`prove_paper`].
pub fn prove_labels(
    bytes: &[u8],
    kits: &[Kit],
    packers: &Words,
    placing: &Placing,
    imposition: &Imposition,
    by: &Proving,
) -> Result<(), Vec<Difference>> {
    let Opened { pages, beside, mut expected, mut found } =
        open(bytes, FileKind::Labels, kits, packers, by)?;
    let drawn = (by.mode == Mode::Raster).then_some(bytes);
    match labels::compare(drawn, pages, kits, packers, placing, imposition, &mut expected)
    {
        Ok(differences) => found.extend(differences),
        Err(faults) => found.extend(of_faults(&faults)),
    }
    // Labels have neither headings nor bookmarks that their pages could say.
    found.extend(beside.compare(&expected, &[]));
    verdict(found)
}

/// Compares packing slips, and the run sheet before them, with what `data_of`
/// makes of their kits; it is handed an entry for each page of the run sheet.
///
/// # Errors
///
/// As [`prove_paper`].
pub fn prove_packing(
    bytes: &[u8],
    kits: &[Kit],
    packers: &Words,
    by: &Proving,
    data_of: impl Fn(&[bool]) -> Result<Packing, Vec<Fault>>,
) -> Result<(), Vec<Difference>> {
    let Opened { pages, beside, mut expected, mut found } =
        open(bytes, FileKind::Packing, kits, packers, by)?;
    match packing(kits, packers, &pages, data_of, &mut expected) {
        Ok(differences) => found.extend(differences),
        Err(faults) => found.extend(of_faults(&faults)),
    }
    found.extend(beside.compare(&expected, &pages));
    verdict(found)
}

fn verdict(found: Vec<Difference>) -> Result<(), Vec<Difference>> {
    if found.is_empty() { Ok(()) } else { Err(found) }
}

fn of_faults(faults: &[Fault]) -> impl Iterator<Item = Difference> {
    faults.iter().map(|fault| Difference::new(0, &fault.what))
}

/// Reads all pages of a PDF.
///
/// # Errors
///
/// What is wrong, if it is not built as the PDFs of kits are.
pub fn read(bytes: &[u8]) -> Result<Vec<Page>, String> {
    let differences = match pages::read(&File::open(bytes)?, bytes, true, None) {
        Ok(pages) => return Ok(pages),
        Err(differences) => differences,
    };
    let first = differences.first().map(|difference| match difference.page {
        0 => difference.what.clone(),
        page => format!("page {page}: {}", difference.what),
    });
    Err(first.unwrap_or_default())
}

/// A PDF taken apart.
struct Opened {
    pages: Vec<Page>,
    beside: Beside,
    /// What it must say beside its pages, as far as that is known without them.
    expected: Expected,
    /// What is wrong with its settings.
    found: Vec<Difference>,
}

/// Takes a PDF apart, and compares its settings.
fn open(
    bytes: &[u8],
    kind: FileKind,
    kits: &[Kit],
    packers: &Words,
    by: &Proving,
) -> Result<Opened, Vec<Difference>> {
    let whole = |why| vec![Difference::new(0, why)];
    let file = File::open(bytes).map_err(whole)?;
    let has_logo = |kit: &Kit| kit.lab.logo.is_some();
    let may_have_logo = kind == FileKind::Paper && kits.iter().any(has_logo);
    let pages = pages::read(&file, bytes, may_have_logo, Some(&by.faces))?;
    let beside = Beside::read(&file, &pages).map_err(whole)?;
    let files: Vec<Attachment> = kits.iter().map(Kit::attachment).collect();
    let mut found = settings::compare(&file, kind.sides(), &files);
    let mut languages: BTreeSet<&str> =
        kits.iter().map(|kit| kit.words.language).collect();
    if kind != FileKind::Paper {
        languages.insert(packers.language);
    }
    found.extend(settings::language(&file, &languages));
    found.extend(heard::compare(&file, &pages, &languages));
    if by.mode == Mode::Raster {
        found.extend(again::compare(bytes, &pages));
    }
    let expected = Expected { title: kind.title(kits, packers), ..Expected::default() };
    Ok(Opened { pages, beside, expected, found })
}

/// A part of a kit's paper: what it must say and the pages it is on.
struct Part<'a> {
    /// Number of its first page in the file, counted from 1.
    first: usize,
    pages: &'a [Page],
    /// What stands on them.
    text: text::Text,
    /// What the feet of its pages begin with, without spaces.
    feet: Vec<String>,
}

/// What the feet of pages begin with: their text, or a page's number before it.
fn feet(setting: &PageSetting) -> Vec<String> {
    let numbers = setting.numbers.iter().filter(|number| !number.is_empty());
    let joined = numbers.map(|number| format!("{number}·{}", setting.foot));
    let all = std::iter::once(setting.foot.clone()).chain(joined);
    all.map(|foot| text::bare(&foot)).filter(|foot| !foot.is_empty()).collect()
}

impl<'a> Part<'a> {
    fn new(first: usize, pages: &'a [Page], feet: Vec<String>) -> Self {
        Self { first, pages, text: text::Text::of(pages), feet }
    }

    /// Compares what stands on the pages with `flow`, and their feet with `setting`;
    /// the first is the kit's page number `start`, counted from 0. `data` is what
    /// the flow is of: where the order of the texts is not as it should be, they are
    /// counted, so that each that is missing or too many can be named.
    fn compare(
        &self,
        flow: &Flow,
        setting: &PageSetting,
        start: usize,
        data: &impl Serialize,
    ) -> Vec<Difference> {
        let lost = match places::compare(self, flow, setting, start) {
            Ok(found) => return found,
            Err(lost) => lost,
        };
        let mut texts = text::leaves(data);
        texts.extend(text::feet(self.pages.len(), setting, start));
        let found = text::compare(self, &texts);
        if found.is_empty() { vec![lost] } else { found }
    }
}

/// The paper of one kit on its own pages.
fn paper(
    kit: &Kit,
    place: &KitPages,
    pages: &[Page],
    expected: &mut Expected,
) -> Result<Vec<Difference>, Vec<Fault>> {
    let data = document::paper_documents(kit, &place.blank)?;
    expected.bookmarks.push((data.bookmark.clone(), place.first));
    expected.spoken.push(Heard {
        words: data.sheet.timeline.alt.clone(),
        pages: place.first..place.first + pages.len(),
        mark: None,
    });
    let titles =
        [&data.sheet.lab, &data.fluids.title, &data.checklist.title, &data.card.title];
    let offset = place.first - 1;
    let mut found = page_boxes(kit, offset, pages);
    for (index, page) in pages.iter().enumerate() {
        let blank = place.blank.get(index).copied().unwrap_or(true);
        if blank && !page.is_blank() {
            let what = "expected a blank page, found something on it";
            found.push(Difference::new(offset + index + 1, what));
        }
    }
    let mut starts = Vec::new();
    for title in titles {
        let from = starts.last().map_or(0, |last| last + 1);
        let Some(start) =
            (from..pages.len()).find(|index| text::starts_with(&pages[*index], title))
        else {
            let what = format!("no page from here on begins with \"{title}\"");
            found.push(Difference::new(place.first, what));
            return Ok(found);
        };
        starts.push(start);
    }
    for (index, page) in pages.iter().enumerate().take(starts[0]) {
        if !page.is_blank() {
            let what = format!("found a page that belongs to no part: {}", head(page));
            found.push(Difference::new(offset + index + 1, what));
        }
    }
    let mut parts = Vec::new();
    for (index, start) in starts.iter().enumerate() {
        let end = starts.get(index + 1).copied().unwrap_or(pages.len());
        parts.push(Part::new(offset + start + 1, &pages[*start..end], feet(&data.page)));
    }
    let [sheet, fluids, checklist, card] = &parts[..] else { return Ok(found) };
    let page = &data.page;
    found.extend(sheet.compare(&layout::sheet(&data), page, starts[0], &data.sheet));
    found.extend(fluids.compare(&layout::fluids(&data), page, starts[1], &data.fluids));
    let list = layout::checklist(&data);
    found.extend(checklist.compare(&list, page, starts[2], &data.checklist));
    found.extend(card.compare(&layout::card(&data), page, starts[3], &data.card));
    found.extend(facts::sheet(kit, sheet));
    found.extend(tables::sheet(kit, sheet));
    found.extend(facts::fluids(kit, fluids));
    found.extend(tables::fluids(kit, fluids));
    found.extend(facts::checklist(kit, checklist));
    found.extend(tables::cards(kit, checklist));
    found.extend(facts::card(kit, card));
    found.extend(tables::information_card(kit, card));
    Ok(found)
}

/// What a page begins with, for a message.
fn head(page: &Page) -> String {
    page.glyphs.iter().take(40).map(|glyph| glyph.text.as_str()).collect()
}

fn packing(
    kits: &[Kit],
    packers: &Words,
    pages: &[Page],
    data_of: impl Fn(&[bool]) -> Result<Packing, Vec<Fault>>,
    expected: &mut Expected,
) -> Result<Vec<Difference>, Vec<Fault>> {
    let mut found = page_boxes(&kits[0], 0, pages);
    // A slip begins where its title stands; the run sheet is before the first.
    let title = say!(packers, "pack-title");
    let begins = |page: &usize| text::starts_with(&pages[*page], &title);
    let starts: Vec<usize> = (0..pages.len()).filter(begins).collect();
    let cover_pages = starts.first().copied().unwrap_or(pages.len());
    let data = data_of(&vec![false; cover_pages.max(1)])?;
    if starts.len() != kits.len() {
        let what =
            format!("expected {} packing slips, found {}", kits.len(), starts.len());
        found.push(Difference::new(0, what));
        return Ok(found);
    }
    match &data.cover {
        Some(cover) => {
            let part = Part::new(1, &pages[..cover_pages], feet(&cover.page));
            found.extend(part.compare(&layout::cover(cover), &cover.page, 0, cover));
            found.extend(tables::cover(kits, packers, cover, &part));
        }
        None if cover_pages > 0 => {
            let what = "expected a packing slip, found another page before it";
            found.push(Difference::new(1, what));
        }
        None => {}
    }
    let ends = starts.iter().skip(1).copied().chain([pages.len()]);
    for (((kit, mut slip), start), end) in
        kits.iter().zip(data.slips).zip(starts.iter().copied()).zip(ends)
    {
        slip.page.numbers = document::page_numbers(packers, &vec![false; end - start]);
        expected.bookmarks.push((slip.bookmark.clone(), start + 1));
        let part = Part::new(start + 1, &pages[start..end], feet(&slip.page));
        found.extend(part.compare(&layout::slip(&slip), &slip.page, 0, &slip));
        found.extend(tables::packing(kit, packers, &part));
        let kit = Kit { words: packers, ..*kit };
        found.extend(facts::packing(&kit, &part));
    }
    Ok(found)
}

/// Page sizes, and that nothing lies outside its page.
/// `offset` pages of the file come before these.
fn page_boxes(kit: &Kit, offset: usize, pages: &[Page]) -> Vec<Difference> {
    let (width, height) = kit.order.paper.size_mm();
    let mut found = Vec::new();
    for (index, page) in pages.iter().enumerate() {
        let number = offset + index + 1;
        let of_page = page_box(number, page, width, height);
        let has_logo = index == 0 && kit.lab.logo.is_some();
        found.extend(of_page.or_else(|| margins(number, page, has_logo)));
    }
    found
}

/// That nothing reaches where a printer may not print. What a logo draws beyond its
/// frame is cut off there.
fn margins(number: usize, page: &Page, has_logo: bool) -> Option<Difference> {
    let (side, top, foot) = MARGINS_MM;
    let area =
        Area { left: side, top, right: page.width - side, bottom: page.height - foot };
    let is_cut_off = |shape: &Area| has_logo && places::is_of_logo(page, shape);
    let what = page.outside_but(area, is_cut_off)?;
    Some(Difference::new(number, format!("{what} reaches into the margin")))
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
    let fault = page.faults.first().cloned();
    fault
        .or_else(|| {
            page.outside(whole).map(|what| format!("{what} lies outside the page"))
        })
        .or_else(|| page.collision())
        .map(|what| Difference::new(number, what))
}
