//! A PDF: its pages as the proof reads them, and the orders it carries.

use kitwright::fault::Source;
use kitwright::proof::{Area, attached_orders, read as read_pages};

use super::order;

pub const WORDS: &str = include_str!("../../words/pdf.txt");

/// The largest input that is looked at.
const MOST: usize = 1 << 20;

pub fn read(data: &[u8]) {
    if data.len() > MOST {
        return;
    }
    pages(data);
    for (name, text) in attached_orders(data) {
        assert!(
            text.len() <= 1 << 20,
            "law: {name} was unpacked to {} bytes",
            text.len()
        );
        order::read(text.as_bytes());
        drop(Source::new(name, text));
    }
}

/// Reads the pages and looks at each in every way that the proof does.
pub fn pages(data: &[u8]) {
    let mut pages = match read_pages(data) {
        Ok(pages) => pages,
        Err(why) => return super::faults::line("message", &why),
    };
    for page in &mut pages {
        page.is_blank();
        // Every glyph is held against those near it.
        if page.glyphs.len() < 5_000 && page.fills.len() < 500 {
            page.collision();
        }
        let whole = Area { left: 0.0, top: 0.0, right: page.width, bottom: page.height };
        page.outside(whole);
        page.put_back((0.5, -1.2), true);
    }
}
