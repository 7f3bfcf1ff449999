//! Imposition as laws: which cell a label may lie in, and that the finished PDF
//! has it there, moved and turned as the printer needs it.
//!
//! The cells are worked out here from the stock's measures; the PDFs are read
//! back with `hayro` and their codes with `rxing`, neither of which made them.

mod common;

use std::collections::HashSet;

use common::{order_text, source, workshop};
use kitwright::imposition::{EachKit, Feed, Placing, impose};
use kitwright::making::Batch;
use kitwright::proof::{Area, FileKind, Page, decode_qr, read};
use kitwright::stock::{self, Length, Stock};
use kitwright::workshop::{Planned, Workshop};
use proptest::prelude::*;
use proptest::sample::select;

const EACH: [EachKit; 3] = [EachKit::Next, EachKit::Row, EachKit::Sheet];

/// A stock of `columns` by `rows` cells; its measures do not matter.
fn grid(columns: u32, rows: u32) -> Stock {
    Stock { columns, rows, ..stock::builtin("letter-2x5").unwrap() }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn every_label_has_a_cell_of_its_own_that_nobody_used_before(
        columns in 1..8u32,
        rows in 1..20u32,
        labels in prop::collection::vec(1..12usize, 1..40),
        used in 0..160usize,
        each in select(EACH.to_vec()),
    ) {
        let stock = grid(columns, rows);
        let sheet = (columns * rows) as usize;
        let start_at = used % sheet + 1;
        let imposed = impose(&stock, &labels, start_at, each);

        let counts: Vec<usize> = imposed.cells.iter().map(Vec::len).collect();
        prop_assert_eq!(&counts, &labels, "each kit has a cell for each label");
        let all: Vec<usize> = imposed.cells.concat();
        prop_assert!(all[0] + 1 >= imposed.start_at, "a used cell is printed on");
        if imposed.start_at != start_at {
            // A fresh sheet, because the first kit did not fit on what was left.
            prop_assert_eq!(imposed.start_at, 1);
            let first = match each {
                EachKit::Row => (start_at - 1).next_multiple_of(columns as usize),
                EachKit::Next | EachKit::Sheet => start_at - 1,
            };
            prop_assert!(first + labels[0] > sheet, "the part-used sheet would do");
        }
        prop_assert!(all.is_sorted_by(|a, b| a < b), "in order, and no cell twice");
        let places: HashSet<_> = all.iter().map(|cell| stock.cell(*cell)).map(|cell| {
            (cell.page, cell.x, cell.y)
        }).collect();
        prop_assert_eq!(places.len(), all.len(), "two cells lie in one place");

        for (kit, cells) in imposed.cells.iter().enumerate() {
            let (first, last) = (cells[0], cells[cells.len() - 1]);
            prop_assert_eq!(last - first + 1, cells.len(), "a kit is not torn apart");
            if cells.len() <= sheet {
                prop_assert_eq!(first / sheet, last / sheet, "kit {} straddles", kit);
            } else {
                prop_assert_eq!(first % sheet, 0, "a kit of many sheets begins a sheet");
            }
            match each {
                EachKit::Next => {}
                EachKit::Row => {
                    prop_assert_eq!(first % columns as usize, 0, "kit {}", kit);
                }
                EachKit::Sheet if kit == 0 => {}
                EachKit::Sheet => {
                    prop_assert_eq!(first % sheet, 0, "kit {}", kit);
                    let before = &imposed.cells[kit - 1];
                    prop_assert!(before[before.len() - 1] / sheet < first / sheet);
                }
            }
        }

        let last = all[all.len() - 1];
        prop_assert_eq!(imposed.sheets, last / sheet + 1);
        let free = Some(last % sheet + 2).filter(|cell| *cell <= sheet);
        prop_assert_eq!(imposed.free_from, free);
    }

    #[test]
    fn no_cell_is_left_out_without_a_reason(
        columns in 1..8u32,
        rows in 1..20u32,
        labels in prop::collection::vec(1..12usize, 2..40),
        each in select(EACH.to_vec()),
    ) {
        let sheet = (columns * rows) as usize;
        let imposed = impose(&grid(columns, rows), &labels, 1, each);
        let step = match each {
            EachKit::Next => 1,
            EachKit::Row => columns as usize,
            EachKit::Sheet => sheet,
        };
        for pair in imposed.cells.windows(2) {
            let free = pair[0][pair[0].len() - 1] + 1;
            let skipped = pair[1][0] - free;
            let left = sheet - free % sheet;
            prop_assert!(
                skipped < step || (skipped < sheet && left - left % step < pair[1].len()),
                "{} cells are skipped before {:?}", skipped, pair[1]
            );
        }
    }

    #[test]
    fn a_first_cell_that_the_stock_does_not_have_is_refused(
        name in select(stock::builtin_names()),
        start_at in 0..60usize,
    ) {
        let stock = stock::builtin(name).unwrap();
        let checked = Placing { start_at, ..Placing::default() }.check(&stock);
        prop_assert_eq!(checked.is_ok(), (1..=stock.cells_per_page()).contains(&start_at));
    }
}

/// The free margins of the sheet's own measures: left 4.13 and right 3.81 mm, above and
/// below 12.7 mm, and the 3 mm that each label keeps free inside its edge.
#[test]
fn a_nudge_reaches_as_far_as_the_margins_and_no_further() {
    let stock = stock::builtin("letter-2x5").unwrap();
    let check = |(x, y), feed| {
        let nudge = (Length::from_um(x), Length::from_um(y));
        Placing { nudge, feed, ..Placing::default() }.check(&stock)
    };
    let (left, right, up, down) = (-7_130, 6_810, -15_700, 15_700);
    for (feed, left, right) in
        [(Feed::HeadFirst, left, right), (Feed::FootFirst, -right, -left)]
    {
        for within in [(0, 0), (left, up), (right, up), (left, down), (right, down)] {
            assert_eq!(check(within, feed), Ok(()), "{within:?} {feed:?}");
        }
        for beyond in [(left - 1, 0), (right + 1, 0), (0, up - 1), (0, down + 1)] {
            let (what, help) = check(beyond, feed).unwrap_err();
            let mm = |um: i64| um as f64 / 1000.0;
            assert_eq!(
                what,
                format!(
                    "a nudge of {}, {} mm moves labels of letter-2x5 off the page",
                    mm(beyond.0),
                    mm(beyond.1)
                )
            );
            let expected = format!(
                "to the right it can be {} to {} mm, and down -15.7 to 15.7 mm",
                mm(left),
                mm(right)
            );
            assert_eq!(help, expected, "{beyond:?} {feed:?}");
        }
    }
    // Unlike margins above and below, which turn with the sheet.
    let low = Stock { top: Length::from_um(10_000), ..stock };
    for (feed, up, down) in
        [(Feed::HeadFirst, -13_000, 18_400), (Feed::FootFirst, -18_400, 13_000)]
    {
        let check = |y| {
            let nudge = (Length::from_um(0), Length::from_um(y));
            Placing { nudge, feed, ..Placing::default() }.check(&low)
        };
        assert_eq!((check(up), check(down)), (Ok(()), Ok(())), "{feed:?}");
        assert!(check(up - 1).is_err() && check(down + 1).is_err(), "{feed:?}");
    }
}

/// Planned orders of several shapes: five labels, one label, no date.
fn orders(shop: &mut Workshop, shapes: &[usize]) -> Vec<Planned> {
    shapes
        .iter()
        .enumerate()
        .map(|(index, shape)| {
            let number = format!("HB-{}", 70_000 + index);
            let text = order_text("").replace("HB-20417", &number);
            let text = match shape {
                0 => text,
                1 => text.replace("\"four-card\"", "\"first-morning\""),
                _ => text.replace("start = 2026-10-14\n", ""),
            };
            shop.plan(&source(&text), "order.toml".as_ref())
                .unwrap_or_else(|faults| panic!("{}", faults[0].plain()))
        })
        .collect()
}

/// The cell number `index` of a stock, from the stock's own measures.
fn cell(stock: &Stock, index: usize) -> (usize, Area) {
    let (columns, rows) = (stock.columns as usize, stock.rows as usize);
    let on_page = index % (columns * rows);
    let left = stock.left.to_mm() + stock.pitch_x.to_mm() * (on_page % columns) as f64;
    let top = stock.top.to_mm() + stock.pitch_y.to_mm() * (on_page / columns) as f64;
    let right = left + stock.label_width.to_mm();
    let bottom = top + stock.label_height.to_mm();
    (index / (columns * rows), Area { left, top, right, bottom })
}

/// Where the printer puts what stands at `area` of an upright page.
fn printed(area: Area, placing: &Placing, page: &Page) -> Area {
    let Area { left, top, right, bottom } = area;
    let area = match placing.feed {
        Feed::HeadFirst => area,
        Feed::FootFirst => Area {
            left: page.width - right,
            top: page.height - bottom,
            right: page.width - left,
            bottom: page.height - top,
        },
    };
    area.moved(placing.nudge.0.to_mm(), placing.nudge.1.to_mm())
}

/// The corner in which a label's code stands, the inset off: the right upper one,
/// and on a turned page the left lower one.
fn code_corner(cell: Area, stock: &Stock, feed: Feed) -> (f64, f64) {
    let inset = stock.inset.to_mm();
    match feed {
        Feed::HeadFirst => (cell.right - inset, cell.top + inset),
        Feed::FootFirst => (cell.left + inset, cell.bottom - inset),
    }
}

fn wrong(shop: &mut Workshop, planned: &[&Planned], batch: &Batch) -> String {
    match shop.prove_batch(planned, batch, FileKind::Labels, &batch.labels, "labels.pdf")
    {
        Ok(()) => String::new(),
        Err(faults) => faults.iter().map(|fault| format!("{}\n", fault.what)).collect(),
    }
}

fn case_of(shapes: Vec<usize>, name: &str, placing: Placing) {
    let stock = stock::builtin(name).unwrap();
    let placing = Placing {
        start_at: (placing.start_at - 1) % stock.cells_per_page() + 1,
        ..placing
    };
    let lab =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-orders/lab.toml");
    let mut shop = Workshop::new(Some(lab), None, common::today())
        .and_then(|shop| shop.with_press(Some(name), None))
        .unwrap();
    let planned = orders(&mut shop, &shapes);
    let planned: Vec<&Planned> = planned.iter().collect();
    let mut batch = shop
        .make_batch(&planned, &placing)
        .unwrap_or_else(|faults| panic!("{}", faults[0].plain()));
    let found = wrong(&mut shop, &planned, &batch);
    assert!(found.is_empty(), "{name} {placing:?}: {found}");

    let pages = read(&batch.labels).unwrap();
    assert_eq!(pages.len(), batch.imposition.sheets, "{name} {placing:?}");
    let mut cells: Vec<Vec<Area>> = vec![Vec::new(); pages.len()];
    for (kit, kit_cells) in planned.iter().zip(&batch.imposition.cells) {
        for (slot, index) in kit.plan.slots.iter().zip(kit_cells) {
            let (page, upright) = cell(&stock, *index);
            let area = printed(upright, &placing, &pages[page]);
            cells[page].push(area);
            let code = decode_qr(&batch.labels, page, area, 300.0);
            assert_eq!(code.as_ref(), Ok(&slot.code), "{name} {placing:?}");
            let images: Vec<&Area> = pages[page]
                .images
                .iter()
                .filter(|image| area.holds(image.centre()))
                .collect();
            assert_eq!(images.len(), 1, "{name} {placing:?}: one code to a label");
            let corner = code_corner(area, &stock, placing.feed);
            let found = match placing.feed {
                Feed::HeadFirst => (images[0].right, images[0].top),
                Feed::FootFirst => (images[0].left, images[0].bottom),
            };
            let off = (corner.0 - found.0).abs().max((corner.1 - found.1).abs());
            assert!(off < 0.1, "{name} {placing:?}: the code is {off} mm off");
            let text: String = pages[page]
                .glyphs
                .iter()
                .filter(|glyph| area.holds(glyph.area.centre()))
                .map(|glyph| glyph.text.as_str())
                .collect();
            assert!(text.contains(&slot.code), "{name} {placing:?}: {text}");
        }
    }
    nothing_lies_elsewhere(&pages, &cells, &stock, &placing);

    // What the printer was told is part of what is proven.
    let other = Length::from_um(placing.nudge.0.um() + 300);
    batch.placing.nudge.0 = other;
    assert!(wrong(&mut shop, &planned, &batch).contains("slipped"), "another nudge");
    batch.placing = placing;
    batch.placing.feed = match placing.feed {
        Feed::HeadFirst => Feed::FootFirst,
        Feed::FootFirst => Feed::HeadFirst,
    };
    assert!(!wrong(&mut shop, &planned, &batch).is_empty(), "another edge first");
    batch.placing = placing;
    let labels: Vec<usize> = planned.iter().map(|kit| kit.plan.slots.len()).collect();
    let shifted = placing.start_at % stock.cells_per_page() + 1;
    let own = std::mem::replace(
        &mut batch.imposition,
        impose(&stock, &labels, shifted, placing.each_kit),
    );
    if own.cells != batch.imposition.cells {
        assert!(!wrong(&mut shop, &planned, &batch).is_empty(), "another first cell");
    }
}

/// Outside the labels there is the ruler of a sheet and nothing else: no used
/// cell and no spare one is printed on.
fn nothing_lies_elsewhere(
    pages: &[Page],
    labels: &[Vec<Area>],
    stock: &Stock,
    placing: &Placing,
) {
    for (page, labels) in pages.iter().zip(labels) {
        let is_label = |area: &Area| labels.iter().any(|cell| cell.holds(area.centre()));
        let others: Vec<Area> = (0..stock.cells_per_page())
            .map(|index| printed(cell(stock, index).1, placing, page))
            .filter(|cell| !is_label(cell))
            .collect();
        let images = page.images.iter().filter(|image| !is_label(image));
        assert_eq!(images.count(), 0, "a code beside the labels");
        let glyphs = page.glyphs.iter().filter(|glyph| !glyph.blank).map(|g| g.area);
        for area in glyphs.chain(page.shapes.iter().copied()) {
            let other = others.iter().find(|cell| cell.holds(area.centre()));
            assert!(
                other.is_none(),
                "{} {placing:?}: {area:?} is on {other:?}",
                stock.name
            );
        }
    }
}

proptest! {
    // Each case sets and reads real PDFs.
    #![proptest_config(ProptestConfig::with_cases(16))]

    #[test]
    fn labels_lie_where_stock_nudge_and_feed_say(
        shapes in prop::collection::vec(0..3usize, 1..5),
        name in select(stock::builtin_names()),
        start_at in 1..41usize,
        each_kit in select(EACH.to_vec()),
        // Not beyond the inset: a roll's label ends with its page.
        across in -1400..1400i64,
        down in -1400..1400i64,
        feed in select(vec![Feed::HeadFirst, Feed::FootFirst]),
    ) {
        let nudge = (Length::from_um(across), Length::from_um(down));
        case_of(shapes, name, Placing { start_at, each_kit, nudge, feed });
    }
}

#[test]
fn a_nudge_that_pushes_labels_off_the_page_is_refused_with_its_limits() {
    let mut shop = workshop();
    let planned = orders(&mut shop, &[0]);
    let planned: Vec<&Planned> = planned.iter().collect();
    for (across, feed, limit) in [
        (6_900, Feed::HeadFirst, "to the right it can be -7.13 to 6.81 mm"),
        (7_200, Feed::FootFirst, "to the right it can be -6.81 to 7.13 mm"),
    ] {
        let nudge = (Length::from_um(across), Length::from_um(0));
        let placing = Placing { nudge, feed, ..Placing::default() };
        let Err(faults) = shop.make_batch(&planned, &placing) else {
            panic!("{across} um was taken")
        };
        assert!(faults[0].help.contains(limit), "{}", faults[0].help);
    }
}
