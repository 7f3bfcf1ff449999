//! Where a transformation takes what is drawn, and how that stands there.

use hayro::kurbo::{Affine, Rect};

use crate::proof::page::{Area, Turn};

/// By how much a length grows at most.
pub(super) fn scale(transform: Affine) -> f64 {
    let [a, b, c, d, ..] = transform.as_coeffs();
    a.hypot(b).max(c.hypot(d))
}

/// By how much a length grows at least.
pub(super) fn least_scale(transform: Affine) -> f64 {
    let [a, b, c, d, ..] = transform.as_coeffs();
    a.hypot(b).min(c.hypot(d))
}

pub(super) fn area(rect: Rect) -> Area {
    Area { left: rect.x0, top: rect.y0, right: rect.x1, bottom: rect.y1 }
}

/// The bounds of `rect` where `transform` takes it.
pub(super) fn transformed(transform: Affine, rect: Rect) -> Rect {
    let [a, b, c, d, e, f] = transform.as_coeffs();
    if b == 0.0 && c == 0.0 {
        let (x0, x1) = (a * rect.x0 + e, a * rect.x1 + e);
        let (y0, y1) = (d * rect.y0 + f, d * rect.y1 + f);
        return Rect::new(x0.min(x1), y0.min(y1), x0.max(x1), y0.max(y1));
    }
    transform.transform_rect_bbox(rect)
}

/// Whether what is level stays level.
pub(super) fn is_level(transform: Affine) -> bool {
    let [a, b, c, d, ..] = transform.as_coeffs();
    b.abs() <= a.abs() * 1e-6 && c.abs() <= d.abs() * 1e-6
}

/// Which way up an image stands whose unit square `to_page` takes to the page,
/// where down is the greater.
pub(super) fn turn(to_page: Affine) -> Turn {
    let [a, _, _, d, ..] = to_page.as_coeffs();
    match is_level(to_page) {
        true if a > 0.0 && d < 0.0 => Turn::Upright,
        true if a < 0.0 && d > 0.0 => Turn::Half,
        _ => Turn::Other,
    }
}

/// Which way up a character stands, and whether it is as wide as its font has it.
pub(in crate::proof) fn turn_of_text([a, b, c, d]: [f64; 4]) -> Turn {
    let slack = a.abs().max(d.abs()) * 1e-3;
    let is_level = b.abs() <= slack && c.abs() <= slack;
    match is_level && (a + d).abs() <= slack {
        true if a > 0.0 => Turn::Upright,
        true if a < 0.0 => Turn::Half,
        _ => Turn::Other,
    }
}
