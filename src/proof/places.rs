//! Compares what stands on the pages of a part with what its document has there: the
//! texts in their order and places, what is drawn beside them, and the feet.

use super::drawn::{Drawings, is_across};
use super::flow::{Flow, Reader, Setting};
use super::page::{Area, Drawing, Glyph};
use super::{Difference, Page, Part, layout};
use crate::document::PageSetting;

/// Height of the foot of a page, and the margin at its sides, in millimetres.
const FOOT_MM: f64 = 17.0;
const SIDE_MM: f64 = 15.0;

/// The smallest type, in points: of feet, and of text in standard and in large print,
/// where codes are a tenth smaller.
const LEAST_OF_FEET: f64 = 12.0;
const LEAST: (f64, f64) = (10.8, 16.2);

/// How far below the laboratory's name its logo may reach, in millimetres.
const LOGO_MM: f64 = 10.0;

/// # Errors
///
/// The place where another text stands than is expected there.
pub(super) fn compare(
    part: &Part,
    flow: &Flow,
    setting: &PageSetting,
    start: usize,
) -> Result<Vec<Difference>, Difference> {
    let mut found = Vec::new();
    let mut drawings = Drawings::of(part.pages);
    for (index, page) in part.pages.iter().enumerate() {
        let Some(number) = setting.numbers.get(start + index) else { continue };
        found.extend(foot(part.first + index, page, setting, number)?);
        let y = page.height - FOOT_MM;
        let line =
            drawings.take(index, |drawing| is_foot_line(drawing, page, y).then_some(0.0));
        if line.is_none() && !number.is_empty() {
            let what = "the line above the foot is not there";
            found.push(Difference::new(part.first + index, what));
        }
    }
    if setting.logo && start == 0 {
        take_logo(part.pages, &mut drawings);
    }
    let least = if setting.large { LEAST.1 } else { LEAST.0 };
    let reading = Setting { first: part.first, least, is_heard: true };
    let is_read = |page: &Page, glyph: &Glyph| !is_of_foot(page, glyph);
    let mut reader = Reader::new(reading, part.pages, drawings, is_read);
    reader.compare(flow)?;
    let (of_texts, drawings) = reader.finish();
    // Beside a text that is elsewhere what is drawn is not looked for.
    if of_texts.is_empty() {
        found.extend(drawings.rest(part.first));
    }
    found.extend(of_texts);
    found.extend(images(part, setting.logo && start == 0));
    Ok(found)
}

fn is_of_foot(page: &Page, glyph: &Glyph) -> bool {
    glyph.origin.1 > page.height - FOOT_MM
}

/// The foot of a page.
fn foot(
    number: usize,
    page: &Page,
    setting: &PageSetting,
    words: &str,
) -> Result<Vec<Difference>, Difference> {
    if words.is_empty() {
        return Ok(Vec::new());
    }
    let reading = Setting { first: number, least: LEAST_OF_FEET, is_heard: false };
    let pages = std::slice::from_ref(page);
    let mut reader = Reader::new(reading, pages, Drawings::of(&[]), is_of_foot);
    reader.compare(&layout::foot(setting, words))?;
    Ok(reader.finish().0)
}

/// Images; only a logo, at the head of the first page, may have some.
fn images(part: &Part, has_logo: bool) -> Vec<Difference> {
    let mut found = Vec::new();
    for (index, page) in part.pages.iter().enumerate() {
        let is_logo = |image: &Area| has_logo && index == 0 && is_of_logo(page, image);
        if page.images.iter().any(|image| !is_logo(image)) {
            let what = "found an image, which nobody planned";
            found.push(Difference::new(part.first + index, what));
        }
    }
    found
}

/// The line above a foot.
fn is_foot_line(drawing: &Drawing, page: &Page, y: f64) -> bool {
    let area = drawing.area;
    let near = |a: f64, b: f64| (a - b).abs() < 0.2;
    is_across(drawing)
        && near(area.top, y)
        && near(area.left, SIDE_MM)
        && near(area.right, page.width - SIDE_MM)
}

/// A logo is no text: it stands left of the laboratory's name, and what it shows is
/// the laboratory's.
fn take_logo(pages: &[Page], drawings: &mut Drawings) {
    let Some(page) = pages.first() else { return };
    drawings.take_all(0, |drawing| is_of_logo(page, &drawing.area));
}

/// Whether something on a part's first page stands where its logo may.
pub(super) fn is_of_logo(page: &Page, area: &Area) -> bool {
    logo_corner(page).is_some_and(|(x, y)| area.right < x && area.bottom < y)
}

/// To where a logo may reach, to the right and down.
fn logo_corner(page: &Page) -> Option<(f64, f64)> {
    let (left, bottom) = page.glyphs.first()?.origin;
    Some((left, bottom + LOGO_MM))
}
