//! Checks where labels lie without trusting whoever laid them: the cells of an
//! imposition, and what is drawn on a sheet outside the labels.

use std::collections::BTreeSet;

use super::drawn::is_frame;
use super::page::Shade;
use super::{Area, Difference, Drawing, Page, TOLERANCE_MM, text};
use crate::document::Kit;
use crate::imposition::{EachKit, Imposition, Placing};
use crate::specimen;
use crate::stock::Stock;

/// Length of the ruler's line, and height of the strokes at its ends.
const RULER_MM: (f64, f64) = (100.0, 2.0);

/// That each label of each kit has a cell of its own that is free, a kit's
/// labels lie on one sheet wherever a sheet can hold them, and each number is
/// its order's and its slot's.
///
/// Nothing else may be looked at unless this finds no difference: there may be
/// no page for a cell, and no cell for a label.
pub(super) fn imposed(
    kits: &[Kit],
    stock: &Stock,
    placing: &Placing,
    imposition: &Imposition,
) -> Vec<Difference> {
    let mut found = Vec::new();
    let mut differ = |what: String| found.push(Difference::new(0, what));
    if imposition.cells.len() != kits.len() {
        let (wanted, cells) = (kits.len(), imposition.cells.len());
        differ(format!("expected cells for {wanted} kits, found them for {cells}"));
    }
    let (a_sheet, a_row) = (stock.cells_per_page(), stock.columns as usize);
    let mut taken = BTreeSet::new();
    let mut used_sheets = BTreeSet::new();
    let mut codes = BTreeSet::new();
    for (kit, cells) in kits.iter().zip(&imposition.cells) {
        let (order, slots) = (&kit.order.number, &kit.plan.slots);
        if cells.len() != slots.len() {
            let (wanted, cells) = (slots.len(), cells.len());
            differ(format!("expected {wanted} cells for {order}, found {cells}"));
        }
        for cell in cells {
            let from_one = cell.saturating_add(1);
            if from_one < placing.start_at {
                let (cell, first) = (from_one, placing.start_at);
                differ(format!(
                    "a label of {order} lies in cell {cell}, and cell {first} is the \
                     first that is free"
                ));
            }
            if !taken.insert(*cell) {
                differ(format!("two labels lie in cell {from_one}, one of {order}"));
            }
        }
        let sheets: BTreeSet<usize> = cells.iter().map(|cell| cell / a_sheet).collect();
        if sheets.len() > cells.len().div_ceil(a_sheet) {
            let sheets = sheets.len();
            differ(format!("the labels of {order} lie on {sheets} sheets"));
        }
        let first = cells.iter().min().copied().unwrap_or_default();
        if placing.each_kit == EachKit::Row && first % a_row != 0 {
            differ(format!("the labels of {order} do not begin on a row"));
        }
        if placing.each_kit == EachKit::Sheet && !used_sheets.is_disjoint(&sheets) {
            differ(format!("the labels of {order} are not on a sheet of their own"));
        }
        used_sheets.extend(sheets);
        for slot in slots {
            let digit = kit.protocol.slot(&slot.id).map(|rule| rule.digit);
            let wanted = digit.map(|digit| (order.clone(), digit));
            if wanted.is_none() || specimen::parse(&slot.code) != wanted {
                let (code, id) = (&slot.code, &slot.id);
                differ(format!("{code} is not the number of {order}'s slot {id}"));
            }
            if !codes.insert(&slot.code) {
                differ(format!("two labels have the number {}", slot.code));
            }
        }
    }
    let after = taken.last().map_or(0, |last| last.saturating_add(1));
    let sheets = after.div_ceil(a_sheet);
    let free_from = Some(after % a_sheet + 1).filter(|cell| *cell > 1);
    if (imposition.sheets, imposition.free_from) != (sheets, free_from) {
        let named = |cell: Option<usize>| {
            cell.map_or("none".to_owned(), |cell| format!("cell {cell}"))
        };
        differ(format!(
            "expected {sheets} sheets of which the last is free from {}, found {} and {}",
            named(free_from),
            imposition.sheets,
            named(imposition.free_from)
        ));
    }
    found
}

/// Whatever lies in no used cell must be the ruler and its words, in the margin
/// above the first row: anything else spoils a label that is still to be used.
///
/// `used` are the cells of the labels on the page; `number` counts from 1.
pub(super) fn outside(
    used: &[Area],
    number: usize,
    page: &Page,
    stock: &Stock,
    ruler: Option<&str>,
) -> Vec<Difference> {
    let is_outside = |area: &Area| !used.iter().any(|cell| cell.holds(area.centre()));
    let mut found = Vec::new();
    let mut differ = |what: String| found.push(Difference::new(number, what));
    let glyphs: Vec<_> =
        page.glyphs.iter().filter(|glyph| is_outside(&glyph.area)).collect();
    let said: String = glyphs.iter().map(|glyph| glyph.text.as_str()).collect();
    let (said, wanted) = (text::bare(&said), text::bare(ruler.unwrap_or_default()));
    if said != wanted {
        differ(format!("expected \"{wanted}\" beside the labels, found \"{said}\""));
    }
    let strays = page.images.iter().filter(|image| is_outside(image)).count();
    if strays > 0 {
        differ(format!("found {strays} images beside the labels, which nobody planned"));
    }
    let filled = page.fills.iter().filter(|fill| is_outside(fill)).count();
    if filled > 0 {
        differ(format!("found {filled} filled shapes beside the labels"));
    }
    let drawn = page.shapes.iter().zip(&page.drawings);
    let (lines, drawings): (Vec<Area>, Vec<&Drawing>) =
        drawn.filter(|(shape, _)| is_outside(shape)).unzip();
    let is_inked = drawings.iter().all(|drawing| {
        is_frame(drawing) && drawing.shade == Shade::Dark && drawing.is_sound
    });
    match ruler {
        Some(_) if !is_ruler(&lines) || !is_inked => {
            let (long, high) = RULER_MM;
            differ(format!(
                "expected a ruler of one dark line of {long} mm and two of {high} mm at \
                 its ends, found {} other lines",
                lines.len()
            ));
        }
        None if !lines.is_empty() => {
            differ(format!("found {} lines beside the labels", lines.len()));
        }
        _ => {}
    }
    let margin = stock.top.to_mm() + TOLERANCE_MM;
    let ink = glyphs.iter().filter(|glyph| !glyph.blank).map(|glyph| &glyph.area);
    if ink.chain(&lines).any(|area| area.bottom > margin) {
        differ("the ruler reaches into the labels".to_owned());
    }
    found
}

/// Whether `lines` are the ruler's three and no others.
fn is_ruler(lines: &[Area]) -> bool {
    let close = |a: f64, b: f64| (a - b).abs() <= TOLERANCE_MM;
    let (long, high) = RULER_MM;
    let is_long = |area: &&Area| close(area.right - area.left, long);
    let [Some(line), None] = [0, 1].map(|n| lines.iter().filter(is_long).nth(n)) else {
        return false;
    };
    let is_end = |area: &&Area, x: f64| {
        close(area.left, x)
            && close(area.right, x)
            && close(area.bottom - area.top, high)
            && close((area.top + area.bottom) / 2.0, line.top)
    };
    close(line.top, line.bottom)
        && lines.len() == 3
        && [line.left, line.right]
            .into_iter()
            .all(|x| lines.iter().any(|area| is_end(&area, x)))
}
