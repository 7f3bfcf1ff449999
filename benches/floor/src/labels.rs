//! The card labels; the arithmetic of `templates/labels.typ`.

use crate::data::{Label, Labels};
use crate::page::{Drawing, HAIR, MM, RULE, Shape};
use crate::paper::Pages;
use crate::text::Style::{self, Bold, Mono, Regular};
use crate::text::{CAP, Fonts, wrap};

pub fn labels<'a>(data: &'a Labels, fonts: &Fonts) -> Pages<'a> {
    let mut pages = Vec::new();
    for sheet in &data.sheets {
        let mut page = Drawing { fonts, shapes: Vec::new() };
        if let Some(text) = &data.ruler {
            ruler(&mut page, text);
        }
        for one in sheet {
            label(&mut page, one, data);
        }
        pages.push(page.shapes);
    }
    ((data.page_width * MM, data.page_height * MM), pages)
}

fn ruler(page: &mut Drawing, text: &str) {
    let (x, y, end) = (12.0 * MM, 8.0 * MM, 112.0 * MM);
    page.line((x, y), (end, y), HAIR);
    page.line((x, y - MM), (x, y + MM), HAIR);
    page.line((end, y - MM), (end, y + MM), HAIR);
    page.text(end + 3.0 * MM, y + MM, 9.0, Regular, text);
}

fn label<'a>(page: &mut Drawing<'a, '_>, data: &'a Label, sheet: &Labels) {
    let inset = sheet.inset * MM;
    let (left, top) = (data.x * MM + inset, data.y * MM + inset);
    let wide = sheet.label_width * MM - 2.0 * inset;
    let high = sheet.label_height * MM - 2.0 * inset;
    let scale = (high / (21.5 * MM)).min(wide / (47.0 * MM)).clamp(1.0, 1.7);
    let side = data.qr.side * MM;
    let column = wide - side - MM;
    let gap = 0.7 * MM * scale;

    let code = page.fonts.shape(&data.code, Mono);
    let code_size = [8.0 * scale, 7.5 * scale, 7.0 * scale, 6.5]
        .into_iter()
        .find(|size| code.width(*size) <= column)
        .unwrap_or(6.0);
    let mut y = top;
    name(page, (left, &mut y), &data.name, column, scale);
    y += gap;
    let mut put = |page: &mut Drawing, size: f32, style: Style, text: &str| {
        page.text(left, y + CAP * size, size, style, text);
        y += CAP * size + gap;
        y
    };
    put(page, 7.5 * scale, Regular, &data.born);
    let end = put(page, code_size, Mono, &data.code);
    // The smallest type is for labels with no room for a larger one.
    let planned = page.fonts.shape(&data.planned, Regular);
    let plan =
        if planned.width(6.0) <= column && scale < 1.1 { 6.0 } else { 6.5 * scale };
    let beside = planned.width(plan) <= column && end + CAP * plan <= top + side;
    if beside {
        page.run(left, end + CAP * plan, plan, planned.clone());
    }
    page.shapes.push(Shape::Image {
        x: left + wide - side,
        y: top,
        side,
        modules: data.qr.modules,
        pixels: &data.qr.pixels,
    });
    let mut base = top + side + gap + CAP * 9.5 * scale;
    page.text(left, base, 9.5 * scale, Bold, &data.heading);
    if !beside {
        base += gap + CAP * plan;
        page.run(left, base, plan, planned);
    }
    foot(page, data, (left, top + high), wide, 7.0 * scale);
}

/// The name in the largest type in which it fits.
fn name(
    page: &mut Drawing,
    (x, y): (f32, &mut f32),
    text: &str,
    column: f32,
    scale: f32,
) {
    let run = page.fonts.shape(text, Bold);
    let sizes = [10.0, 9.5, 9.0, 8.5, 8.0, 7.5, 7.0].map(|size| size * scale);
    if let Some(size) = sizes.into_iter().find(|size| run.width(*size) <= column) {
        *y += CAP * size;
        page.run(x, *y, size, run);
        return;
    }
    let size = 6.5;
    for (index, line) in wrap(&[run], size, column).into_iter().enumerate() {
        *y += CAP * size + if index > 0 { 0.36 * size } else { 0.0 };
        for piece in line {
            let (x, run, glyphs) = (x + piece.x, piece.run, piece.glyphs);
            page.shapes.push(Shape::Text { x, y: *y, size, run, glyphs });
        }
    }
}

/// What the patient writes.
fn foot(
    page: &mut Drawing,
    data: &Label,
    (left, base): (f32, f32),
    wide: f32,
    size: f32,
) {
    let mut x = left + page.text(left, base, size, Bold, &data.collected) + 1.5 * MM;
    let half = data.half.as_ref().map(|half| page.fonts.shape(half, Regular));
    let tail = half.as_ref().map_or(0.0, |half| half.width(size) + MM);
    let words = page.runs(&[(&data.date, Regular), (&data.time, Regular)]);
    let taken: f32 = words.iter().map(|word| word.width(size) + MM).sum();
    let room = (left + wide - x - taken - 1.5 * MM - tail) / 2.0;
    for word in words {
        x += page.run(x, base, size, word) + MM;
        page.line((x, base), (x + room, base), RULE);
        x += room + 1.5 * MM;
    }
    if let Some(half) = half {
        page.run(x - 0.5 * MM, base, size, half);
    }
}
