//! What a page of a PDF draws: the input is the page's own program, in a sheet of
//! labels as the program makes it, with its fonts, its codes and its order.

use super::pdf;

pub const WORDS: &str = include_str!("../../words/page.txt");

/// The objects of the sheet; `@content` stands for what the page draws.
const SHEET: &[u8] = include_bytes!("../../sheet.parts");

pub fn read(data: &[u8]) {
    let mark = b"@content";
    let at = SHEET.windows(mark.len()).position(|found| found == mark);
    let at = at.expect("a place for what the page draws");
    if data.len() <= super::MOST {
        let parts = [&SHEET[..at], data, &SHEET[at + mark.len()..]].concat();
        pdf::file(&pdf::assembled(&parts));
    }
}
