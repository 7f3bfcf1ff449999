//! What lies in the trays: whole kits in one sequence, leaf by leaf.

use std::collections::BTreeMap;
use std::path::Path;

use kitwright::proof::{Area, attached_orders, decode_qr};
use kitwright::stock;
use lopdf::Document;

use crate::common::order_text;
use crate::desk::{Desk, Row, cells, command, ends, files, made, pages, rows};

/// A finished run: its files and its manifest.
struct Piles {
    files: BTreeMap<String, Vec<u8>>,
    rows: Vec<Row>,
}

fn piles(orders: &str, more: &[&str]) -> Piles {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let orders = Path::new(env!("CARGO_MANIFEST_DIR")).join(orders);
    let output = command(&orders, &out, more).output().unwrap();
    // One of the demo orders and one row of the table are on hold.
    let held = usize::from(!orders.ends_with("bundle.json"));
    ends(&output, held as i32, &format!("{held} on hold, 0 wrong"));
    let files = files(&out);
    let rows = rows(&files["manifest.csv"]);
    Piles { files, rows }
}

/// First and last side of a kit, counted from 1.
fn sides(row: &Row) -> (usize, usize) {
    let (first, last) = row["sides"].split_once(" to ").unwrap();
    (first.parse().unwrap(), last.parse().unwrap())
}

/// Rows of the kits in each file of the column, in the order of the manifest.
fn by_file<'a>(rows: &'a [Row], column: &str) -> BTreeMap<String, Vec<&'a Row>> {
    let mut found: BTreeMap<String, Vec<&Row>> = BTreeMap::new();
    for row in rows {
        found.entry(row[column].clone()).or_default().push(row);
    }
    found
}

#[test]
fn the_demo_orders_are_run_and_the_one_on_hold_is_named() {
    let piles = piles("demo-orders", &["--kits-per-file", "3"]);
    let made = made(&piles.rows);
    assert_eq!((piles.rows.len(), made.len()), (14, 13));
    let held = piles.rows.iter().find(|row| row["status"] == "hold").unwrap();
    assert_eq!(held["order"], "HB-20428");
    assert!(held["note"].contains("prednisone is a glucocorticoid"), "{held:?}");
    let papers: Vec<usize> =
        by_file(&made, "paper file").values().map(Vec::len).collect();
    assert_eq!(papers, [3, 3, 3, 2, 1, 1], "three to a file, and each stock its own");
    whole(&piles);
}

#[test]
fn exports_are_run_like_order_files() {
    for export in ["demo-orders/export/orders.csv", "demo-orders/export/bundle.json"] {
        let piles = piles(export, &["--kits-per-file", "3"]);
        let made = made(&piles.rows);
        assert!(made.len() >= 3, "{export}: {:?}", piles.rows);
        whole(&piles);
    }
}

#[test]
fn a_part_used_sheet_is_begun_where_it_is_free() {
    let orders = ["--stock", "letter-3x10", "--start-at", "8", "--each-kit", "row"];
    let piles = piles("demo-orders/export/orders.csv", &orders);
    let first = cells(&made(&piles.rows)[0])[0];
    assert_eq!(first, 10, "the first row that is free");
    whole(&piles);
}

#[test]
fn a_run_sheet_of_many_kits_and_long_names_goes_on_over_its_pages() {
    let desk = Desk::with(60);
    let long = "Fitzwilliam-Ängström-Vasconcelos y Hernández-Quiñones Ávil";
    for index in [1, 34, 35, 36, 37] {
        let text = crate::common::order_set("language = \"es\"\ntext = \"large\"")
            .replace("Okonkwo-Reyes", long)
            .replace("22:30", "19:30");
        desk.order(index, &text);
    }
    let settings = ["--kits-per-file", "60", "--stock", "letter-2x7"];
    ends(&desk.run("out", &settings), 0, "60 kits proven and written");
    whole(&Piles { files: desk.files("out"), rows: desk.rows("out") });
}

/// Everything that must hold of the piles of a run.
#[track_caller]
fn whole(piles: &Piles) {
    let kits = made(&piles.rows);
    for (file, kits) in by_file(&kits, "paper file") {
        paper(&file, &piles.files[&file], &kits);
    }
    for (file, kits) in by_file(&kits, "label file") {
        labels(&file, &piles.files[&file], &kits);
    }
    for (file, kits) in by_file(&kits, "packing file") {
        packing(&file, &piles.files[&file], &kits);
    }
    let named: Vec<&String> = kits
        .iter()
        .flat_map(|row| [&row["paper file"], &row["label file"], &row["packing file"]])
        .collect();
    for file in piles.files.keys().filter(|file| *file != "manifest.csv") {
        assert!(named.contains(&file), "{file} is in no row of the manifest");
    }
}

#[track_caller]
fn paper(file: &str, pdf: &[u8], kits: &[&Row]) {
    let pages = pages(pdf);
    let mut owned = vec![None; pages.len()];
    let mut next = 1;
    for kit in kits {
        let (first, last) = sides(kit);
        assert_eq!(first, next, "{file}: {} follows the kit before", kit["order"]);
        assert_eq!(first % 2, 1, "{file}: {} begins a leaf", kit["order"]);
        next = last + 1 + last % 2;
        let printed: Vec<&String> = pages[first - 1..last]
            .iter()
            .filter(|(page, _)| !page.is_blank())
            .map(|(_, text)| text)
            .collect();
        let count = printed.len();
        for (index, text) in printed.into_iter().enumerate() {
            let english = format!("Page{}of{count}", index + 1);
            let spanish = format!("Página{}de{count}", index + 1);
            assert!(
                text.contains(&english) || text.contains(&spanish),
                "{file}: no \"{english}\" on a side of {}: {text}",
                kit["order"]
            );
        }
        for owner in &mut owned[first - 1..last] {
            *owner = Some(kit["order"].clone());
        }
    }
    // The last side may be the front of a leaf whose back is not there.
    assert!(pages.len() + 1 >= next - 1 && pages.len() < next, "{file}: {next}");
    for (side, ((page, text), owner)) in pages.iter().zip(&owned).enumerate() {
        match owner {
            None => assert!(page.is_blank(), "{file}: side {} is nobody's", side + 1),
            Some(order) if !page.is_blank() => {
                assert!(text.contains(order), "{file}: side {} names none", side + 1);
            }
            Some(_) => {}
        }
    }
    for (leaf, sides) in pages.chunks(2).enumerate() {
        let on_it: Vec<&str> = kits
            .iter()
            .map(|kit| kit["order"].as_str())
            .filter(|order| sides.iter().any(|(_, text)| text.contains(order)))
            .collect();
        assert_eq!(on_it.len(), 1, "{file}: leaf {} is of {on_it:?}", leaf + 1);
    }
    let starts: Vec<(String, usize)> =
        kits.iter().map(|kit| (kit["order"].clone(), sides(kit).0)).collect();
    let mut marks = bookmarks(pdf);
    if kits.len() == 1 {
        // A file of one kit has bookmarks to its documents, too.
        marks.truncate(1);
    }
    assert_eq!(marks, starts, "{file}: a bookmark to each order");
    carries(file, pdf, kits);
}

/// The order and the page of each bookmark, as `lopdf` reads them.
fn bookmarks(pdf: &[u8]) -> Vec<(String, usize)> {
    let toc = Document::load_mem(pdf).unwrap().get_toc().unwrap();
    assert!(toc.errors.is_empty(), "{:?}", toc.errors);
    toc.toc
        .iter()
        .filter(|entry| entry.level == 1)
        .map(|entry| {
            let order = entry.title.split_whitespace().next().unwrap();
            (order.to_owned(), entry.page)
        })
        .collect()
}

#[track_caller]
fn carries(file: &str, pdf: &[u8], kits: &[&Row]) {
    let mut attached: Vec<(String, String)> = attached_orders(pdf)
        .into_iter()
        .map(|(name, text)| (name, kitwright::ledger::digest(text.as_bytes())))
        .collect();
    attached.sort();
    let mut wanted: Vec<(String, String)> = kits
        .iter()
        .map(|kit| (format!("{}.toml", kit["order"]), kit["input sha256"].clone()))
        .collect();
    wanted.sort();
    assert_eq!(attached, wanted, "{file}: the orders it was made from");
}

#[track_caller]
fn labels(file: &str, pdf: &[u8], kits: &[&Row]) {
    let pages = pages(pdf);
    let stock = stock::builtin(&kits[0]["stock"]).unwrap();
    let mut before = 0;
    let mut count = 0;
    for kit in kits {
        let cells = cells(kit);
        let codes: Vec<&str> = kit["codes"].split(' ').collect();
        assert_eq!(cells.len(), codes.len(), "{file}: {}", kit["order"]);
        for (number, code) in cells.into_iter().zip(codes) {
            assert!(number > before, "{file}: {code} is out of order");
            before = number;
            count += 1;
            let cell = stock.cell(number - 1);
            let (left, top) = (cell.x.to_mm(), cell.y.to_mm());
            let area = Area {
                left,
                top,
                right: left + stock.label_width.to_mm(),
                bottom: top + stock.label_height.to_mm(),
            };
            let read = decode_qr(pdf, cell.page, area, 300.0);
            assert_eq!(read.as_deref(), Ok(code), "{file}: cell {number}");
        }
    }
    let images: usize = pages.iter().map(|(page, _)| page.images.len()).sum();
    assert_eq!(images, count, "{file}: a code to each label and no other");
    assert_eq!(pages.len(), before.div_ceil(stock.cells_per_page()), "{file}");
    carries(file, pdf, kits);
}

#[track_caller]
fn packing(file: &str, pdf: &[u8], kits: &[&Row]) {
    let pages = pages(pdf);
    let cover = pages.len() - kits.len();
    assert!(cover >= 1, "{file}: there is no run sheet");
    let run: String = kits[0]["run"].clone();
    assert!(pages[0].1.contains(&run), "{file}: the run sheet names its run");
    let mut last = 0;
    for (index, kit) in kits.iter().enumerate() {
        let on_cover: String =
            pages[..cover].iter().map(|(_, text)| text.as_str()).collect();
        let row = format!("{}{}", index + 1, kit["order"]);
        let at = on_cover.rfind(&row);
        assert!(at.is_some_and(|at| at > last), "{file}: {row} in {on_cover}");
        last = at.unwrap_or_default();
        let (_, slip) = &pages[cover + index];
        for code in kit["codes"].split(' ') {
            assert!(slip.contains(code), "{file}: {code} is not on slip {}", index + 1);
        }
    }
    let marks: Vec<String> = bookmarks(pdf).into_iter().map(|(order, _)| order).collect();
    let wanted: Vec<&str> = kits.iter().map(|kit| kit["order"].as_str()).collect();
    assert_eq!(marks[1..], wanted, "{file}: a bookmark to each order");
    carries(file, pdf, kits);
}

/// OWASP, CSV Injection (from memory): a cell that begins with one of these can
/// run as a formula in a spreadsheet.
#[test]
fn no_cell_of_the_manifest_can_run_as_a_formula() {
    let desk = Desk::new();
    let names = ["=HYPERLINK(1)", "+41", "-Smith", "@SUM(1)", "'t Hoen", "O'Neill"];
    for (index, name) in names.iter().enumerate() {
        let text = crate::common::order_text("").replace("Okonkwo-Reyes", name);
        desk.order(index, &text);
    }
    ends(&desk.run("out", &[]), 0, "6 kits proven and written");
    let rows = desk.rows("out");
    for row in &rows {
        for (column, cell) in row {
            assert!(
                !cell.starts_with(['=', '+', '-', '@', '\t', '\r']),
                "{column}: {cell}"
            );
        }
    }
    let families: Vec<&str> = rows.iter().map(|row| row["family"].as_str()).collect();
    assert_eq!(
        families,
        ["'=HYPERLINK(1)", "'+41", "'-Smith", "'@SUM(1)", "'t Hoen", "O'Neill"]
    );
    let joined = std::process::Command::new(env!("CARGO_BIN_EXE_kitwright"))
        .arg("manifest")
        .arg(desk.path("out"))
        .output()
        .unwrap();
    ends(&joined, 0, "");
    assert_eq!(
        joined.stdout,
        desk.files("out")["manifest.csv"],
        "joining changes no cell"
    );
}

/// The slips say it, too, but a column of an export that is another one's is seen in all
/// kits at once.
#[test]
fn what_kits_have_in_common_to_be_looked_at_is_told_before_anything_is_made() {
    let desk = Desk::new();
    let late = order_text("").replace("bedtime = 22:30", "bedtime = 04:30");
    desk.order(0, &late);
    desk.order(1, &late.replace("2026-10-14", "2026-08-31"));
    desk.order(2, &order_text("").replace("2026-10-14", "2026-09-01"));
    // What is forbidden before dinner is so from today on.
    let night = order_text("").replace("17:15", "00:15").replace("22:30", "04:00");
    desk.order(3, &night.replace("2026-10-14", "2026-09-02"));
    desk.order(4, &night.replace("2026-10-14", "2026-09-03"));
    let run = desk.run("out", &[]);
    ends(&run, 0, "5 kits proven and written");
    ends(
        &run,
        0,
        "look at: long-interval, 2 kits, such as HB-50000: bedtime is 11 h 15 min after \
         dinner, more than 10 h",
    );
    ends(
        &run,
        0,
        "look at: day-past, 3 kits, such as HB-50001: the day of card 1, 2026-08-31, is past",
    );
}
