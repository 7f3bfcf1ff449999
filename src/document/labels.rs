//! The card labels.
//!
//! Two identifiers in the clear, the specimen code in figures and as a QR code
//! that holds nothing else. What is planned is small and says so; the largest
//! blank is for the time of the real collection.

use qrcode::EcLevel;
use serde::Serialize;

use super::qr::symbol;
use super::{Attachment, Kit};
use crate::fault::Fault;
use crate::imposition::{Feed, Placing};
use crate::order::ClockStyle;
use crate::plan::PlannedSlot;
use crate::stock::{Cell, Medium, Stock};
use crate::words::{Words, say};

/// Quiet zone around a QR code in modules (ISO/IEC 18004, from memory).
pub const QUIET_MODULES: usize = 4;

/// Sheets of labels and the stock they lie on. Lengths in millimetres.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Labels {
    pub title: String,
    /// Of what stands beside the labels.
    pub language: String,
    pub attachments: Vec<Attachment>,
    pub page_width: f64,
    pub page_height: f64,
    pub label_width: f64,
    pub label_height: f64,
    pub inset: f64,
    /// Whether the sheet is fed foot first, and so printed turned by half.
    pub foot_first: bool,
    pub nudge: Nudge,
    /// What stands beside the 100 mm line; absent where there is no margin.
    pub ruler: Option<String>,
    /// The labels of each sheet.
    pub sheets: Vec<Vec<Label>>,
}

/// How far everything is moved to the right and down.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Nudge {
    pub x: f64,
    pub y: f64,
}

/// One label and its place.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Label {
    pub language: String,
    /// Upper left corner of its cell.
    pub x: f64,
    pub y: f64,
    pub name: String,
    pub born: String,
    /// The card and when it is done: "Card 3 – Waking up".
    pub heading: String,
    pub code: String,
    pub planned: String,
    pub collected: String,
    pub date: String,
    pub time: String,
    /// To be ringed after the time, on the twelve-hour clock.
    pub half: Option<String>,
    /// Which printing it is; absent on the first.
    pub mark: Option<String>,
    pub qr: Qr,
}

/// A QR code with its quiet zone. Its modules are not among the data: they come
/// from [`modules`].
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Qr {
    /// Modules to a side, quiet zone included.
    pub modules: usize,
    /// Side in millimetres, quiet zone included.
    pub side: f64,
    pub alt: String,
}

/// Margin that a ruler and its words need, in millimetres.
const RULER_MARGIN: f64 = 10.0;

/// Makes the labels of some kits, which share one stock; `cells` are those of
/// each kit's labels. What stands beside the labels is in the packers' words.
///
/// # Errors
///
/// A fault for every message or argument that a catalog lacks.
pub fn label_sheets(
    kits: &[Kit],
    stock: &Stock,
    placing: &Placing,
    cells: &[Vec<usize>],
    packers: &Words,
) -> Result<Labels, Vec<Fault>> {
    let (width, height) = stock.page_size();
    let mut sheets: Vec<Vec<Label>> = Vec::new();
    for (kit, cells) in kits.iter().zip(cells) {
        for (slot, index) in kit.plan.slots.iter().zip(cells) {
            let cell = stock.cell(*index);
            if sheets.len() <= cell.page {
                sheets.resize(cell.page + 1, Vec::new());
            }
            sheets[cell.page].push(label(kit, slot, cell));
        }
        super::sound(kit.words, ())?;
    }
    let labels = Labels {
        title: say!(packers, "label-sheet-title"),
        language: packers.language.to_owned(),
        attachments: kits.iter().map(Kit::attachment).collect(),
        page_width: width.to_mm(),
        page_height: height.to_mm(),
        label_width: stock.label_width.to_mm(),
        label_height: stock.label_height.to_mm(),
        inset: stock.inset.to_mm(),
        foot_first: placing.feed == Feed::FootFirst,
        nudge: Nudge { x: placing.nudge.0.to_mm(), y: placing.nudge.1.to_mm() },
        ruler: has_ruler(stock).then(|| say!(packers, "label-ruler")),
        sheets,
    };
    super::sound(packers, labels)
}

fn has_ruler(stock: &Stock) -> bool {
    stock.medium != Medium::Roll && stock.top.to_mm() >= RULER_MARGIN
}

fn label(kit: &Kit, slot: &PlannedSlot, cell: Cell) -> Label {
    let words = kit.words;
    let planned = match slot.collect_at {
        Some(at) => {
            let day = if kit.plan.is_dated() {
                words.label_date(at.date_naive())
            } else {
                kit.day(at.date_naive())
            };
            say!(words, "label-planned", time = kit.time_of_day(day, at))
        }
        None => say!(words, "label-planned-spare"),
    };
    Label {
        language: words.language.to_owned(),
        x: cell.x.to_mm(),
        y: cell.y.to_mm(),
        name: kit.short_name(),
        born: say!(
            words,
            "label-born-short",
            date = words.label_date(kit.order.patient.born)
        ),
        heading: say!(
            words,
            "label-heading",
            card = kit.card_name(slot.card),
            title = kit.slot_title(&slot.title)
        ),
        code: slot.code.clone(),
        planned,
        collected: say!(words, "label-collected"),
        date: say!(words, "label-date"),
        time: say!(words, "label-time"),
        half: (kit.order.clock == ClockStyle::Twelve).then(|| say!(words, "label-half")),
        mark: kit.edition_mark(),
        qr: qr(kit, &slot.code),
    }
}

fn qr(kit: &Kit, code: &str) -> Qr {
    let modules = symbol_side(code) + 2 * QUIET_MODULES;
    Qr {
        modules,
        side: modules as f64 * module_mm(kit.stock),
        alt: say!(kit.words, "label-qr-alt", code = code),
    }
}

/// Modules to a side of the symbol of a specimen code: version 1 holds 16
/// alphanumeric characters at level Q, version 2 holds 29, and a code has at most 23
/// (ISO/IEC 18004, table 7, from memory).
fn symbol_side(code: &str) -> usize {
    if code.len() <= 16 { 21 } else { 25 }
}

/// The modules of the QR codes of `labels` and their quiet zones, one label after the
/// other: one byte a module, 0 for black. Alphanumeric mode, as every character of a
/// code allows it, at level Q.
pub fn modules(labels: &Labels) -> Vec<u8> {
    let mut all = Vec::new();
    for label in labels.sheets.iter().flatten() {
        let (width, dark) = symbol(&label.code, EcLevel::Q)
            .expect("a code of at most 23 alphanumeric characters fits version 2");
        let side = label.qr.modules;
        let start = all.len();
        all.resize(start + side * side, 255);
        for (index, _) in dark.iter().enumerate().filter(|(_, dark)| **dark) {
            let (row, column) = (index / width, index % width);
            all[start + (row + QUIET_MODULES) * side + column + QUIET_MODULES] = 0;
        }
    }
    all
}

/// Side of one QR module in millimetres: whole dots of the printer (ISO/IEC
/// 18004 asks for that), more of them where the label has room.
pub(crate) fn module_mm(stock: &Stock) -> f64 {
    let (width, height) = (stock.label_width.to_mm(), stock.label_height.to_mm());
    let (dots, dots_per_inch) = match (stock.medium, width, height) {
        // Thermal printers of labels have 203 dots to the inch.
        (Medium::Roll, w, h) if w >= 90.0 && h >= 45.0 => (6, 203.0),
        (Medium::Roll, ..) => (4, 203.0),
        // Laser printers have 300 or a multiple of it.
        (_, w, h) if w >= 90.0 && h >= 45.0 => (9, 300.0),
        (_, _, h) if h >= 30.0 => (6, 300.0),
        _ => (5, 300.0),
    };
    f64::from(dots) * 25.4 / dots_per_inch
}
