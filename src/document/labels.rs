//! The card labels.
//!
//! Two identifiers in the clear, the specimen code in figures and as a QR code
//! that holds nothing else. What is planned is small and says so; the largest
//! blank is for the time of the real collection.

use qrcode::{EcLevel, QrCode};
use serde::Serialize;

use super::Kit;
use crate::order::ClockStyle;
use crate::plan::PlannedSlot;
use crate::stock::{Medium, Stock};
use crate::words::say;

/// Quiet zone around a QR code in modules (ISO/IEC 18004, from memory).
pub const QUIET_MODULES: usize = 4;

/// The labels of one kit and the stock they lie on. Lengths in millimetres.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Labels {
    pub title: String,
    pub language: String,
    pub attachment: &'static str,
    pub page_width: f64,
    pub page_height: f64,
    pub label_width: f64,
    pub label_height: f64,
    pub inset: f64,
    pub labels: Vec<Label>,
    pub collected: String,
    pub date: String,
    pub time: String,
    /// To be ringed after the time, on the twelve-hour clock.
    pub half: Option<String>,
    /// What stands beside the 100 mm line; absent where there is no margin.
    pub ruler: Option<String>,
}

/// One label and its place.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Label {
    pub page: usize,
    pub x: f64,
    pub y: f64,
    pub name: String,
    pub born: String,
    /// The card and when it is done: "Card 3 – Waking up".
    pub heading: String,
    pub code: String,
    pub planned: String,
    pub qr: Qr,
}

/// A QR code with its quiet zone: one byte a module, 0 for black.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Qr {
    /// Modules to a side, quiet zone included.
    pub modules: usize,
    /// Side in millimetres, quiet zone included.
    pub side: f64,
    pub pixels: Vec<u8>,
    pub alt: String,
}

/// Margin that a ruler and its words need, in millimetres.
const RULER_MARGIN: f64 = 10.0;

pub(super) fn labels(kit: &Kit) -> Labels {
    let stock = kit.stock;
    let (width, height) = stock.page_size();
    let labels = kit
        .plan
        .slots
        .iter()
        .enumerate()
        .map(|(index, slot)| label(kit, slot, index))
        .collect();
    Labels {
        title: say!(kit.words, "label-sheet-title"),
        language: kit.words.language.to_owned(),
        attachment: super::ATTACHMENT,
        page_width: width.to_mm(),
        page_height: height.to_mm(),
        label_width: stock.label_width.to_mm(),
        label_height: stock.label_height.to_mm(),
        inset: stock.inset.to_mm(),
        labels,
        collected: say!(kit.words, "label-collected"),
        date: say!(kit.words, "label-date"),
        time: say!(kit.words, "label-time"),
        half: (kit.order.clock == ClockStyle::Twelve)
            .then(|| say!(kit.words, "label-half")),
        ruler: has_ruler(stock).then(|| say!(kit.words, "label-ruler")),
    }
}

fn has_ruler(stock: &Stock) -> bool {
    stock.medium != Medium::Roll && stock.top.to_mm() >= RULER_MARGIN
}

fn label(kit: &Kit, slot: &PlannedSlot, index: usize) -> Label {
    let words = kit.words;
    let cell = kit.stock.cell(index);
    let planned = match slot.collect_at {
        Some(at) => {
            let day = if kit.plan.is_dated() {
                words.label_date(at.date_naive())
            } else {
                kit.day(at.date_naive())
            };
            let time = say!(words, "card-day-and-time", day = day, time = kit.time(at));
            say!(words, "label-planned", time = time)
        }
        None => say!(words, "label-planned-spare"),
    };
    Label {
        page: cell.page,
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
        qr: qr(kit, &slot.code),
    }
}

/// The QR code of a specimen code: alphanumeric mode, as every character of a
/// code allows it, at level Q.
fn qr(kit: &Kit, code: &str) -> Qr {
    let made = QrCode::with_error_correction_level(code, EcLevel::Q)
        .expect("a code of at most 23 alphanumeric characters fits version 2");
    let side = made.width();
    let modules = side + 2 * QUIET_MODULES;
    let colors = made.to_colors();
    let mut pixels = vec![255; modules * modules];
    for (index, color) in colors.iter().enumerate() {
        if *color == qrcode::Color::Dark {
            let (row, column) = (index / side, index % side);
            pixels[(row + QUIET_MODULES) * modules + column + QUIET_MODULES] = 0;
        }
    }
    Qr {
        modules,
        side: modules as f64 * module_mm(kit.stock),
        pixels,
        alt: say!(kit.words, "label-qr-alt", code = code),
    }
}

/// Side of one QR module in millimetres: whole dots of the printer (ISO/IEC
/// 18004 asks for that), more of them where the label has room.
fn module_mm(stock: &Stock) -> f64 {
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
