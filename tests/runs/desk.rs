//! A desk to print at: orders in a folder, runs of them, and what they left.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Child, Output, Stdio};

use kitwright::proof::{Page, read};
use kitwright::stock;
use tempfile::TempDir;

use crate::common::{LAB, order_text};

/// The moment at which the runs of the tests begin.
pub const NOW: &str = "2026-11-25T08:00:00Z";

pub struct Desk {
    folder: TempDir,
}

/// A row of a manifest by the names of its columns.
pub type Row = BTreeMap<String, String>;

impl Desk {
    pub fn new() -> Self {
        let desk = Self { folder: tempfile::tempdir().unwrap() };
        std::fs::create_dir(desk.path("orders")).unwrap();
        desk.write("lab.toml", LAB);
        desk
    }

    /// A desk with `count` ordinary orders, HB-50000 and on.
    pub fn with(count: usize) -> Self {
        let desk = Self::new();
        for index in 0..count {
            desk.order(index, &order_text(""));
        }
        desk
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Writes a file among the orders.
    pub fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path("orders").join(name), text).unwrap();
    }

    /// Writes `text` as the order number `index`.
    pub fn order(&self, index: usize, text: &str) {
        let number = number(index);
        self.write(&format!("{number}.toml"), &text.replace("HB-20417", &number));
    }

    pub fn command(&self, out: &str, more: &[&str]) -> std::process::Command {
        command(&self.path("orders"), &self.path(out), more)
    }

    /// Runs the orders into the folder `out`.
    pub fn run(&self, out: &str, more: &[&str]) -> Output {
        self.command(out, more).output().unwrap()
    }

    /// The same without waiting for its end.
    pub fn start(&self, out: &str, more: &[&str]) -> Child {
        let mut command = self.command(out, more);
        command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
    }

    /// Every file that a run left, by name; not its journal.
    pub fn files(&self, out: &str) -> BTreeMap<String, Vec<u8>> {
        files(&self.path(out))
    }

    pub fn rows(&self, out: &str) -> Vec<Row> {
        rows(&std::fs::read(self.path(out).join("manifest.csv")).unwrap())
    }
}

pub fn number(index: usize) -> String {
    format!("HB-{}", 50_000 + index)
}

/// A run as a user gives it, at a fixed moment.
pub fn command(orders: &Path, out: &Path, more: &[&str]) -> std::process::Command {
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_kitwright"));
    command.arg("run").arg(orders).arg("--out").arg(out);
    command.args(["--today", "2026-09-01", "--now", NOW]).args(more);
    command.stdin(Stdio::null());
    command
}

pub fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() && name != ".run" {
            for (inner, bytes) in files(&path) {
                found.insert(format!("{name}/{inner}"), bytes);
            }
        } else if path.is_file() {
            found.insert(name, std::fs::read(&path).unwrap());
        }
    }
    found
}

/// The cells of a kit's labels from a row of the manifest, counted from 1 over all
/// sheets: 17 for the seventh on the second sheet of ten.
pub fn cells(row: &Row) -> Vec<usize> {
    let a_sheet = stock::builtin(&row["stock"]).unwrap().cells_per_page();
    let mut found = Vec::new();
    for part in row["label cells"].split("; ") {
        let (sheet, cells) = part.split_once(": ").unwrap();
        let sheet: usize = sheet.strip_prefix("sheet ").unwrap().parse().unwrap();
        let cell = |cell: &str| (sheet - 1) * a_sheet + cell.parse::<usize>().unwrap();
        found.extend(cells.split(' ').map(cell));
    }
    found
}

/// The rows of the orders, read as RFC 4180 says, by the crate `csv`.
pub fn rows(manifest: &[u8]) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(manifest);
    let names: Vec<String> =
        reader.headers().unwrap().iter().map(str::to_owned).collect();
    reader
        .records()
        .map(|record| {
            let cells = record.unwrap();
            names.iter().cloned().zip(cells.iter().map(str::to_owned)).collect()
        })
        .filter(|row: &Row| row["status"] != "run")
        .collect()
}

pub fn made(rows: &[Row]) -> Vec<Row> {
    rows.iter().filter(|row| row["status"] == "made").cloned().collect()
}

/// What a run said, on both streams.
pub fn said(output: &Output) -> String {
    format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    )
}

#[track_caller]
pub fn ends(output: &Output, code: i32, text: &str) {
    assert_eq!(output.status.code(), Some(code), "{}", said(output));
    assert!(said(output).contains(text), "expected \"{text}\" in {}", said(output));
}

/// The pages of a PDF, and of each the text without its spaces.
pub fn pages(pdf: &[u8]) -> Vec<(Page, String)> {
    let text = |page: &Page| {
        let all: String = page.glyphs.iter().map(|glyph| glyph.text.as_str()).collect();
        all.chars().filter(|c| !c.is_whitespace() && *c != '\u{A0}').collect()
    };
    let pages = read(pdf).unwrap();
    pages.into_iter().map(|page| (page.clone(), text(&page))).collect()
}

/// Waits until `path` is there.
#[track_caller]
pub fn wait_for(path: &Path) {
    let start = std::time::Instant::now();
    while !path.exists() {
        assert!(start.elapsed().as_secs() < 120, "{} never came", path.display());
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
}
