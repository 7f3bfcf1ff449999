//! Compares label pages with the plan and the stock, cell by cell.

use hayro::kurbo::Affine;
use hayro::vello_cpu::{
    Pixmap, RasterizerSettings, RenderContext, Resources, TargetInit,
    color::palette::css::WHITE,
};
use hayro::{RenderCache, RenderSettings, render_into};
use hayro_interpret::hayro_syntax::Pdf;
use hayro_interpret::{InterpreterSettings, TransformExt};
use rxing::BarcodeFormat;
use rxing::helpers::detect_in_luma;
use std::sync::Arc;

use super::{Area, Difference, Glyph, Page, Part, TOLERANCE_MM, cells, identity, text};
use crate::document::{self, Kit, Label};
use crate::fault::Fault;
use crate::imposition::{Feed, Imposition, Placing};
use crate::plan::PlannedSlot;
use crate::stock::Stock;
use crate::words::Words;

/// Dots to the inch at which labels are looked at: a common thermal printer.
const DOTS_PER_INCH: f64 = 203.0;

/// What is drawn around a code, in millimetres.
const AROUND_CODE_MM: f64 = 1.0;

pub(super) fn compare(
    bytes: &[u8],
    mut pages: Vec<Page>,
    kits: &[Kit],
    packers: &Words,
    placing: &Placing,
    imposition: &Imposition,
) -> Result<Vec<Difference>, Vec<Fault>> {
    let stock = kits[0].stock;
    let (width, height) = stock.page_size();
    let (width, height) = (width.to_mm(), height.to_mm());
    let mut found = cells::imposed(kits, stock, placing, imposition);
    if !found.is_empty() {
        return Ok(found);
    }
    let data = document::label_sheets(kits, stock, placing, &imposition.cells, packers)?;
    for (index, page) in pages.iter().enumerate() {
        found.extend(super::page_box(index + 1, page, width, height));
    }
    if pages.len() != imposition.sheets {
        let (wanted, pages) = (imposition.sheets, pages.len());
        let what = format!("expected {wanted} pages of labels, found {pages}");
        found.push(Difference::new(0, what));
        return Ok(found);
    }
    let pdf = match open(bytes) {
        Ok(pdf) => pdf,
        Err(why) => return Ok(vec![Difference::new(0, why)]),
    };
    let nudge = (placing.nudge.0.to_mm(), placing.nudge.1.to_mm());
    let turned = placing.feed == Feed::FootFirst;
    pages.iter_mut().for_each(|page| page.put_back(nudge, turned));
    let cache = RenderCache::new();
    let mut used: Vec<Vec<Area>> = vec![Vec::new(); pages.len()];
    for (kit, cells) in kits.iter().zip(&imposition.cells) {
        for (slot, index) in kit.plan.slots.iter().zip(cells) {
            let place = cell(stock, *index);
            let number = used[place.page].len();
            used[place.page].push(place.cell);
            let label = &data.sheets[place.page][number];
            found.extend(compare_label(kit, label, slot, &pages[place.page], &place));
            // Only the code is drawn, with the little around it that a scanner sees.
            let images = &pages[place.page].images;
            let image = images.iter().find(|image| place.cell.holds(image.centre()));
            let area = image.map_or(place.cell, |image| image.grown(AROUND_CODE_MM));
            let printed = if turned { area.turned(width, height) } else { area };
            let printed = printed.moved(nudge.0, nudge.1);
            let what = match decode(&pdf, &cache, place.page, printed, DOTS_PER_INCH) {
                Ok(read) if read == slot.code => continue,
                Ok(read) => {
                    format!(
                        "expected a QR code of {}, found one of \"{read}\"",
                        slot.code
                    )
                }
                Err(why) => why,
            };
            found.push(Difference::new(place.page + 1, what));
        }
    }
    for (number, page) in pages.iter().enumerate() {
        let ruler = data.ruler.as_deref();
        found.extend(cells::outside(&used[number], number + 1, page, stock, ruler));
    }
    Ok(found)
}

/// A cell and the page it is on, counted from 0.
struct Place {
    page: usize,
    cell: Area,
}

fn cell(stock: &Stock, index: usize) -> Place {
    let cell = stock.cell(index);
    let (left, top) = (cell.x.to_mm(), cell.y.to_mm());
    Place {
        page: cell.page,
        cell: Area {
            left,
            top,
            right: left + stock.label_width.to_mm(),
            bottom: top + stock.label_height.to_mm(),
        },
    }
}

/// One label: its texts, its times, its place and its one image.
fn compare_label(
    kit: &Kit,
    data: &Label,
    slot: &PlannedSlot,
    page: &Page,
    place: &Place,
) -> Vec<Difference> {
    let number = place.page + 1;
    let glyphs: Vec<Glyph> = page
        .glyphs
        .iter()
        .filter(|glyph| place.cell.holds(glyph.area.centre()))
        .cloned()
        .collect();
    let images: Vec<Area> =
        page.images.iter().filter(|i| place.cell.holds(i.centre())).copied().collect();
    let shapes: Vec<Area> =
        page.shapes.iter().filter(|s| place.cell.holds(s.centre())).copied().collect();
    let texts = text::leaves(data);
    let in_cell = Page {
        width: page.width,
        height: page.height,
        glyphs,
        images: images.clone(),
        shapes,
        fills: Vec::new(),
    };
    let mut found = Vec::new();
    if let Some(what) = in_cell.outside(place.cell) {
        found.push(Difference::new(
            number,
            format!("{what} lies outside the label {}", slot.code),
        ));
    }
    found.extend(image_place(kit, &images, slot, place));
    let pages = [in_cell];
    let part = Part::new(texts, number, &pages);
    found.extend(text::compare(&part));
    found.extend(identity::compare(kit, slot, &pages[0], number));
    found
}

/// The QR code stands in the upper right corner of the label, where the inset
/// begins: a label that has slipped shows here.
fn image_place(
    kit: &Kit,
    images: &[Area],
    slot: &PlannedSlot,
    place: &Place,
) -> Option<Difference> {
    let inset = kit.stock.inset.to_mm();
    let number = place.page + 1;
    let [image] = images else {
        let count = images.len();
        return Some(Difference::new(
            number,
            format!("expected one image on the label {}, found {count}", slot.code),
        ));
    };
    let right = place.cell.right - inset - image.right;
    let top = image.top - place.cell.top - inset;
    (right.abs() > TOLERANCE_MM || top.abs() > TOLERANCE_MM).then(|| {
        Difference::new(
            number,
            format!(
                "the label {} has slipped by {right:.1} mm across and {top:.1} mm down",
                slot.code
            ),
        )
    })
}

/// The text of the QR code in `area` of a page (counted from 0), drawn at
/// `dots_per_inch` as a printer would.
///
/// # Errors
///
/// What stands in the way: no PDF, no such page, no QR code.
pub fn decode_qr(
    bytes: &[u8],
    page: usize,
    area: Area,
    dots_per_inch: f64,
) -> Result<String, String> {
    let pdf = open(bytes)?;
    decode(&pdf, &RenderCache::new(), page, area, dots_per_inch)
}

fn open(bytes: &[u8]) -> Result<Pdf, String> {
    Pdf::new(Arc::new(bytes.to_vec()))
        .map_err(|error| format!("this is no sound PDF: {error:?}"))
}

fn decode<'a>(
    pdf: &'a Pdf,
    cache: &RenderCache<'a>,
    page: usize,
    area: Area,
    dots_per_inch: f64,
) -> Result<String, String> {
    let page = pdf.pages().get(page).ok_or("there is no such page")?;
    let dots = |mm: f64| mm / 25.4 * dots_per_inch;
    let width = dots(area.right - area.left).round() as u16;
    let height = dots(area.bottom - area.top).round() as u16;
    let transform = Affine::translate((-dots(area.left), -dots(area.top)))
        * Affine::scale(dots_per_inch / 72.0)
        * page.initial_transform(true).to_kurbo();
    let mut context = RenderContext::new(width, height);
    render_into(
        page,
        cache,
        &InterpreterSettings::default(),
        &RenderSettings::default(),
        &mut context,
        transform,
    );
    context.flush();
    let mut pixels = Pixmap::new(width, height);
    context.render_with(
        &mut pixels,
        &mut Resources::default(),
        RasterizerSettings {
            target_init: TargetInit::Clear(WHITE),
            ..Default::default()
        },
    );
    let luma: Vec<u8> = pixels.data().iter().map(|pixel| pixel.g).collect();
    detect_in_luma(luma, width.into(), height.into(), Some(BarcodeFormat::QR_CODE))
        .map(|result| result.getText().to_owned())
        .map_err(|error| format!("no QR code can be read on the label: {error}"))
}
