//! A PDF: its pages as the proof reads them, and the orders it carries.
//!
//! An input that does not begin as a PDF is the objects of one, each after a line
//! `%% number`, or after `%% trailer` for that. The tables, and each length that is
//! written as `@length`, are filled in: a file with a wrong figure anywhere is refused
//! at once, and no further read.

use kitwright::fault::Fault;
use kitwright::proof::{
    Area, Page, attached_orders, carried_orders, read as read_pages, read_again,
};

use super::{faults, order};

pub const WORDS: &str = include_str!("../../words/pdf.txt");

/// The largest input that is looked at.
const MOST: usize = 1 << 20;

/// How far apart two readers may find the same thing, in millimetres.
const APART_MM: f64 = 0.01;

pub fn read(data: &[u8]) {
    if data.len() > MOST {
        return;
    }
    if data.starts_with(b"%PDF-") {
        file(data);
    } else {
        file(&assembled(data));
    }
}

/// Reads a file in every way that the program does.
pub fn file(data: &[u8]) {
    pages(data);
    let carried = match carried_orders(data) {
        Ok(orders) => orders,
        Err(why) => return faults::fault(&Fault::new(why, "name another PDF")),
    };
    assert_eq!(attached_orders(data), carried, "law: other orders the second time");
    for (name, text) in carried {
        assert!(
            text.len() <= 1 << 20,
            "law: {name} was unpacked to {} bytes",
            text.len()
        );
        order::read(text.as_bytes());
    }
}

/// Reads the pages and looks at each as the proof does.
fn pages(data: &[u8]) {
    let pages = match read_pages(data) {
        Ok(pages) => pages,
        Err(why) => return faults::fault(&Fault::new(why, "name another PDF")),
    };
    // What is let through is read alike by a reader of another make.
    let again = read_again(data).expect("law: only one of two readers reads it");
    assert_eq!(pages.len(), again.len(), "law: two readers find other pages");
    for (once, again) in pages.into_iter().zip(&again) {
        if once.faults.is_empty() {
            same(&once, again);
        }
        looked_at(once);
    }
}

fn looked_at(mut page: Page) {
    page.is_blank();
    page.collision();
    let whole = Area { left: 0.0, top: 0.0, right: page.width, bottom: page.height };
    page.outside(whole);
    page.put_back((0.5, -1.2), true);
    for picture in &page.pictures {
        if let Ok(grid) = &picture.grid {
            // Most inputs have no code; that none hangs is what is looked for.
            let _ = grid.decode();
        }
    }
    for what in &page.faults {
        faults::fault(&Fault::new(what, "make it again"));
    }
}

fn same(once: &Page, again: &Page) {
    let near = |a: f64, b: f64| (a - b).abs() <= APART_MM;
    let same = |one: &Area, other: &Area| one.is_near(other, APART_MM);
    let sizes = near(once.width, again.width) && near(once.height, again.height);
    assert!(sizes, "law: two readers find other sizes");
    // What lies far off the page is a fault wherever it lies.
    let is_near = |area: &Area| {
        let edges = [area.left, area.top, area.right, area.bottom];
        edges.iter().all(|edge| edge.abs() < 2_000.0)
    };
    let texts = |page: &Page| -> Vec<String> {
        let near = page.glyphs.iter().filter(|glyph| is_near(&glyph.area));
        near.map(|glyph| glyph.text.to_string()).collect()
    };
    if once.glyphs.iter().chain(&again.glyphs).all(|glyph| is_near(&glyph.area)) {
        assert_eq!(texts(once), texts(again), "law: two readers find other characters");
        for (one, other) in once.glyphs.iter().zip(&again.glyphs) {
            assert!(same(&one.area, &other.area), "law: {one:?} and {other:?}");
        }
    }
    assert_eq!(once.images.len(), again.images.len(), "law: other images");
}

/// The file that is made of these objects.
pub fn assembled(parts: &[u8]) -> Vec<u8> {
    let mut file = b"%PDF-1.7\n".to_vec();
    let mut places: Vec<(usize, usize)> = Vec::new();
    let mut trailer = None;
    for (name, body) in objects(parts) {
        match name.parse::<usize>() {
            Ok(number) if number < 100_000 => {
                places.push((number, file.len()));
                file.extend(format!("{number} 0 obj\n").into_bytes());
                file.extend(with_length(&body));
                file.extend(b"\nendobj\n");
            }
            _ => trailer = Some(body),
        }
    }
    let table = file.len();
    file.extend(b"xref\n0 1\n0000000000 65535 f \n");
    places.sort_unstable();
    for (number, place) in &places {
        file.extend(format!("{number} 1\n{place:010} 00000 n \n").into_bytes());
    }
    let size = places.last().map_or(0, |place| place.0) + 1;
    let usual = format!("<</Size {size}/Root 1 0 R>>").into_bytes();
    file.extend(b"trailer\n");
    file.extend(trailer.unwrap_or(usual));
    file.extend(format!("\nstartxref\n{table}\n%%EOF\n").into_bytes());
    file
}

/// Name and body of each object.
fn objects(parts: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut found: Vec<(String, Vec<u8>)> = Vec::new();
    for line in parts.split_inclusive(|byte| *byte == b'\n') {
        match (line.strip_prefix(b"%% "), found.last_mut()) {
            (Some(name), _) => {
                let name = String::from_utf8_lossy(name).trim().to_owned();
                found.push((name, Vec::new()));
            }
            (None, Some((_, body))) => body.extend(line),
            (None, None) => {}
        }
    }
    for (_, body) in &mut found {
        body.pop_if(|byte| *byte == b'\n');
    }
    found
}

/// `body` with the length of its stream in the place of `@length`.
fn with_length(body: &[u8]) -> Vec<u8> {
    let find = |text: &[u8]| body.windows(text.len()).position(|found| found == text);
    let (Some(at), Some(start)) = (find(b"@length"), find(b"\nstream\n")) else {
        return body.to_vec();
    };
    let end = body.strip_suffix(b"\nendstream").map_or(body.len(), <[u8]>::len);
    let length = end.saturating_sub(start + 8).to_string();
    [&body[..at], length.as_bytes(), &body[at + 7..]].concat()
}
