//! A label stock: its cells lie on its page, apart from each other.

use kitwright::fault::Source;
use kitwright::imposition::{EachKit, Placing, impose};
use kitwright::stock::{Stock, read_stock};

use super::{faults, text_of};

pub const WORDS: &str = include_str!("../../words/stock.txt");

pub fn read(data: &[u8]) {
    let Some(text) = text_of(data) else { return };
    match read_stock(&Source::new("stock.toml", text)) {
        Err(found) => faults::of_file(&found),
        Ok(stock) => cells(&stock),
    }
}

fn cells(stock: &Stock) {
    let (width, height) = stock.page_size();
    let count = stock.cells_per_page();
    let corners = |index| {
        let cell = stock.cell(index);
        let right = cell.x.um() + stock.label_width.um();
        let bottom = cell.y.um() + stock.label_height.um();
        (cell.x.um(), cell.y.um(), right, bottom)
    };
    let all: Vec<_> = (0..count).map(corners).collect();
    for (index, (left, top, right, bottom)) in all.iter().enumerate() {
        let on_page =
            *left >= 0 && *top >= 0 && *right <= width.um() && *bottom <= height.um();
        assert!(on_page, "law: cell {index} is off the page");
        for other in &all[..index] {
            let apart = other.2 <= *left
                || *right <= other.0
                || other.3 <= *top
                || *bottom <= other.1;
            assert!(apart, "law: cell {index} lies on another");
        }
    }
    if let Err(found) = stock.check_size() {
        faults::fault(&found);
    }
    faults::line("description", &stock.describe());
    for each in [EachKit::Next, EachKit::Row, EachKit::Sheet] {
        for start_at in [1, 2, count, count + 1] {
            let kits = [5, 1, 5, 9];
            let imposed = impose(stock, &kits, start_at, each);
            let mut cells: Vec<usize> = imposed.cells.concat();
            assert_eq!(
                cells.len(),
                kits.iter().sum::<usize>(),
                "law: a label without cell"
            );
            cells.sort_unstable();
            assert!(cells.is_sorted_by(|a, b| a < b), "law: two labels in one cell");
            let placing = Placing { start_at, each_kit: each, ..Placing::default() };
            if let Err((what, help)) = placing.check(stock) {
                faults::line("message", &what);
                faults::line("help", &help);
            }
        }
    }
}
