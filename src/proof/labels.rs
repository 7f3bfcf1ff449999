//! Compares label pages with the plan and the stock, cell by cell.

use hayro::RenderCache;

use super::beside::{Expected, Heard};
use super::drawn::Drawings;
use super::flow::{Reader, Setting};
use super::page::{Picture, Turn};
use super::{
    Area, Difference, Page, Part, TOLERANCE_MM, cells, code, identity, layout, text,
};
use crate::document::{self, Kit, Label};
use crate::fault::Fault;
use crate::imposition::{Feed, Imposition, Placing};
use crate::plan::PlannedSlot;
use crate::stock::Stock;
use crate::words::Words;

/// Dots to the inch at which labels are looked at: a common thermal printer.
const DOTS_PER_INCH: f64 = 203.0;

/// The smallest type on a label, in points: common practice, no source.
const LEAST_TYPE: f64 = 6.0;

/// What is drawn around a code, in millimetres.
const AROUND_CODE_MM: f64 = 1.0;

/// The smallest side of a module, in millimetres: common practice, no source.
const LEAST_MODULE_MM: f64 = 0.4;

/// Compares the pages of labels; `bytes` are those of the file, if its codes are to be
/// read from drawn pages, too.
pub(super) fn compare(
    bytes: Option<&[u8]>,
    mut pages: Vec<Page>,
    kits: &[Kit],
    packers: &Words,
    placing: &Placing,
    imposition: &Imposition,
    expected: &mut Expected,
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
    let nudge = (placing.nudge.0.to_mm(), placing.nudge.1.to_mm());
    let turned = placing.feed == Feed::FootFirst;
    pages.iter_mut().for_each(|page| page.put_back(nudge, turned));
    let mut used: Vec<Vec<Area>> = vec![Vec::new(); pages.len()];
    let mut labels = Vec::new();
    for (kit, cells) in kits.iter().zip(&imposition.cells) {
        for (slot, index) in kit.plan.slots.iter().zip(cells) {
            let place = cell(stock, *index);
            let number = used[place.page].len();
            used[place.page].push(place.cell);
            labels.push((kit, slot, place, number));
        }
    }
    let mut sheets: Vec<Sheet> =
        pages.into_iter().zip(&used).map(|(page, used)| Sheet::cut(page, used)).collect();
    let mut drawn = Vec::new();
    for (kit, slot, place, number) in &labels {
        let label = &data.sheets[place.page][*number];
        let page = std::mem::take(&mut sheets[place.page].cells[*number]);
        let code = page.images.first().map_or(place.cell, |i| i.grown(AROUND_CODE_MM));
        let printed = if turned { code.turned(width, height) } else { code };
        expected.spoken.push(Heard {
            words: label.qr.alt.clone(),
            pages: place.page + 1..place.page + 2,
            mark: page.pictures.first().and_then(|picture| picture.mark),
        });
        drawn.push((place.page, printed.moved(nudge.0, nudge.1), &slot.code));
        found.extend(compare_label(kit, label, slot, page, place));
    }
    if let Some(bytes) = bytes {
        found.extend(compare_drawn(bytes, &drawn));
    }
    for (number, (sheet, used)) in sheets.iter().zip(&used).enumerate() {
        let ruler = data.ruler.as_deref();
        found.extend(cells::outside(used, number + 1, &sheet.rest, stock, ruler));
    }
    Ok(found)
}

/// What is on a page, cut along the edges of its cells.
struct Sheet {
    cells: Vec<Page>,
    /// What lies in none of them.
    rest: Page,
}

impl Sheet {
    /// Each thing goes where its middle is.
    fn cut(page: Page, cells: &[Area]) -> Self {
        let (width, height) = (page.width, page.height);
        let empty = Page { width, height, ..Page::default() };
        let mut sheet = Self { cells: vec![empty.clone(); cells.len()], rest: empty };
        // Most things lie in the same cell as the one before.
        let mut last = 0;
        let mut cell_of = |area: &Area| {
            let at = area.centre();
            let is_same = cells.get(last).is_some_and(|cell| cell.holds(at));
            let found =
                if is_same { Some(last) } else { cells.iter().position(|c| c.holds(at)) };
            last = found.unwrap_or(last);
            found
        };
        for glyph in page.glyphs {
            sheet.part(cell_of(&glyph.area)).glyphs.push(glyph);
        }
        for (image, picture) in page.images.into_iter().zip(page.pictures) {
            let part = sheet.part(cell_of(&image));
            part.images.push(image);
            part.pictures.push(picture);
        }
        for (shape, drawing) in page.shapes.into_iter().zip(page.drawings) {
            let part = sheet.part(cell_of(&shape));
            part.shapes.push(shape);
            part.drawings.push(drawing);
        }
        for fill in page.fills {
            sheet.part(cell_of(&fill)).fills.push(fill);
        }
        sheet
    }

    fn part(&mut self, cell: Option<usize>) -> &mut Page {
        match cell {
            Some(cell) => &mut self.cells[cell],
            None => &mut self.rest,
        }
    }
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

/// One label, which is all that is on `page`: its texts, its times, its place and
/// its one image.
fn compare_label(
    kit: &Kit,
    data: &Label,
    slot: &PlannedSlot,
    page: Page,
    place: &Place,
) -> Vec<Difference> {
    let number = place.page + 1;
    let mut found = Vec::new();
    if let Some(what) = page.outside(place.cell) {
        found.push(Difference::new(
            number,
            format!("{what} lies outside the label {}", slot.code),
        ));
    }
    found.extend(image_place(kit, &page.images, slot, place));
    if let (Some(area), Some(picture)) = (page.images.first(), page.pictures.first()) {
        found.extend(compare_code(*area, picture, &slot.code, kit.stock, number));
    }
    let pages = [page];
    let part = Part::new(number, &pages, Vec::new());
    found.extend(compare_texts(&part, data, &slot.code));
    found.extend(identity::compare(kit, slot, &part, number));
    found
}

/// The texts of a label in their places, and its lines to write on.
fn compare_texts(part: &Part, label: &Label, code: &str) -> Vec<Difference> {
    let setting = Setting { first: part.first, least: LEAST_TYPE, is_heard: true };
    let drawings = Drawings::of(part.pages);
    let mut reader = Reader::new(setting, part.pages, drawings, |_, _| true);
    let found = match reader.compare(&layout::label(label)) {
        Ok(_) => {
            let (mut found, drawings) = reader.finish();
            found.extend(drawings.rest(part.first));
            found
        }
        Err(lost) => {
            let found = text::compare(part, &text::leaves(label));
            return if found.is_empty() { vec![lost] } else { found };
        }
    };
    let named = |difference: Difference| {
        let what = format!("the label {code}: {}", difference.what);
        Difference::new(difference.page, what)
    };
    found.into_iter().map(named).collect()
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

/// The QR code of a label, module by module: what it says, that it is the one that
/// was planned, and that nothing keeps a scanner from it.
fn compare_code(
    area: Area,
    picture: &Picture,
    code: &str,
    stock: &Stock,
    number: usize,
) -> Vec<Difference> {
    let mut found = Vec::new();
    let mut differ = |what: String| found.push(Difference::new(number, what));
    if picture.turn != Turn::Upright {
        differ(format!("the QR code of {code} does not stand upright"));
    }
    if let Some(what) = &picture.touched_by {
        differ(format!("{what} touches the QR code of {code}"));
    }
    let (width, height) = (area.right - area.left, area.bottom - area.top);
    let grid = match &picture.grid {
        Ok(grid) => grid,
        Err(why) => {
            differ(format!("the image of the QR code of {code} {why}"));
            return found;
        }
    };
    let side = grid.side as f64 * document::module_mm(stock);
    if (width - side).abs() > TOLERANCE_MM || (height - side).abs() > TOLERANCE_MM {
        differ(format!(
            "expected a QR code of {side:.1} mm to a side for {code}, found {width:.1} x \
             {height:.1} mm"
        ));
    }
    let module = width.min(height) / grid.side as f64;
    if module < LEAST_MODULE_MM {
        differ(format!("the modules of the QR code of {code} are only {module:.2} mm"));
    }
    match grid.decode() {
        Ok(read) if read == code => {}
        Ok(read) => {
            differ(format!("expected a QR code of {code}, found one of \"{read}\""));
        }
        Err(why) => differ(format!("the image of the QR code of {code} {why}")),
    }
    found
}

/// Reads each code again from its page as a printer draws it: its page, counted
/// from 0, its place on it and what it must say.
fn compare_drawn(bytes: &[u8], codes: &[(usize, Area, &String)]) -> Vec<Difference> {
    let pdf = match code::open(bytes) {
        Ok(pdf) => pdf,
        Err(why) => return vec![Difference::new(0, why)],
    };
    let cache = RenderCache::new();
    let mut found = Vec::new();
    for (page, area, wanted) in codes {
        let what = match code::decode_drawn(&pdf, &cache, *page, *area, DOTS_PER_INCH) {
            Ok(read) if read == **wanted => continue,
            Ok(read) => {
                format!("expected a QR code of {wanted}, found one of \"{read}\" drawn")
            }
            Err(why) => why,
        };
        found.push(Difference::new(page + 1, what));
    }
    found
}
