//! The manifest: a line for the run and one for each of its orders, as a CSV file
//! (RFC 4180).
//!
//! It may be opened in a spreadsheet, so no cell can be taken for a formula.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::path::Path;

use super::journal::{Begun, KitRecord, PartRecord};
use super::list::LeftOut;
use crate::fault::Fault;
use crate::input;

/// The name of the file.
pub const NAME: &str = "manifest.csv";
/// The largest that is read, in bytes: a line of an order has a fraction of 1 kB, and
/// a run at most some hundred thousand.
const MAX_BYTES: usize = 512 * 1024 * 1024;

/// Its columns.
const COLUMNS: [&str; 16] = [
    "run",
    "status",
    "order",
    "family",
    "given",
    "born",
    "card 1 on",
    "paper file",
    "sides",
    "label file",
    "stock",
    "label cells",
    "packing file",
    "codes",
    "input sha256",
    "note",
];

/// The manifest of one run; `packing` are the names of its packing files, part
/// by part.
pub fn manifest(begun: &Begun, parts: &[PartRecord], packing: &[String]) -> Vec<u8> {
    let made = parts.iter().zip(packing).flat_map(|(part, packing)| {
        part.kits.iter().map(move |kit| made_row(&begun.run, part, kit, packing))
    });
    let late = parts.iter().flat_map(|part| &part.left_out);
    let left_out = begun.left_out.iter().chain(late);
    let left_out = left_out.map(|left_out| left_out_row(&begun.run, left_out));
    written(std::iter::once(run_row(begun)).chain(made).chain(left_out))
}

/// The first row: which run it is, and of which orders, so that shards can be
/// joined.
fn run_row(begun: &Begun) -> [String; 16] {
    let mut row: [String; 16] = Default::default();
    row[0].clone_from(&begun.run);
    row[1] = "run".to_owned();
    let shard = begun.shard.as_deref().unwrap_or("1/1");
    // From a record on the disk, which may have been changed.
    let whole = begun.whole.get(..16).unwrap_or(&begun.whole);
    row[15] = format!("shard {shard} of the orders {whole}");
    row
}

fn made_row(
    run: &str,
    part: &PartRecord,
    kit: &KitRecord,
    packing: &str,
) -> [String; 16] {
    let first = kit.pages.first;
    let last = first + kit.sides - 1;
    [
        run.to_owned(),
        "made".into(),
        kit.order.clone(),
        kit.family.clone(),
        kit.given.clone(),
        kit.born.to_string(),
        kit.start.map_or_else(String::new, |start| start.to_string()),
        part.paper.name.clone(),
        format!("{first} to {last}"),
        part.labels.name.clone(),
        part.stock.clone(),
        kit.places.clone(),
        packing.to_owned(),
        kit.codes.join(" "),
        kit.input.clone(),
        String::new(),
    ]
}

fn left_out_row(run: &str, left_out: &LeftOut) -> [String; 16] {
    let mut row: [String; 16] = Default::default();
    row[0] = run.to_owned();
    row[1] = left_out.status.word().to_owned();
    row[2] = left_out.order.clone();
    row[3].clone_from(&left_out.family);
    row[4].clone_from(&left_out.given);
    row[5] = left_out.born.map_or_else(String::new, |born| born.to_string());
    row[15] = left_out.why.join("; ");
    row
}

/// A cell that a spreadsheet would take for a formula, as text: with an
/// apostrophe before it.
///
/// # Source
///
/// OWASP, CSV Injection (from memory): a cell that begins with `=`, `+`, `-`,
/// `@`, a tab or a carriage return.
fn safe(cell: &str) -> String {
    if is_formula(cell) { format!("'{cell}") } else { cell.to_owned() }
}

fn is_formula(cell: &str) -> bool {
    cell.starts_with(['=', '+', '-', '@', '\t', '\r'])
}

/// The cell that [`safe`] was given. A name such as `'t Hoen` keeps its apostrophe.
fn unsafe_again(cell: &str) -> &str {
    cell.strip_prefix('\'').filter(|rest| is_formula(rest)).unwrap_or(cell)
}

/// The rows as a file, each gone before the next is made: a run may have a great many.
fn written(rows: impl IntoIterator<Item = [String; 16]>) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    // Writing to memory does not fail.
    let _ = writer.write_record(COLUMNS);
    for row in rows {
        let _ = writer.write_record(row.iter().map(|cell| safe(cell)));
    }
    writer.into_inner().unwrap_or_default()
}

/// Joins the manifests of the runs in `folders`, as the shards of one run.
///
/// # Errors
///
/// A fault for each manifest that is missing or not one, for each shard that is
/// missing, and for each order that was made twice.
pub fn join(folders: &[impl AsRef<Path>]) -> Result<Vec<u8>, Vec<Fault>> {
    let mut faults = Vec::new();
    let mut rows: Vec<[String; 16]> = Vec::new();
    let mut shards: BTreeMap<(String, u64), Vec<u64>> = BTreeMap::new();
    let mut made: HashMap<String, String> = HashMap::new();
    let mut named = HashSet::new();
    for folder in folders {
        let path = folder.as_ref().join(NAME);
        // The kits of one folder are there once, however often it is named.
        if path.canonicalize().is_ok_and(|real| !named.insert(real)) {
            faults.push(Fault::new(
                format!("the folder {} is named twice", folder.as_ref().display()),
                "name each folder once",
            ));
            continue;
        }
        let found = match read(&path) {
            Ok(found) => found,
            Err(fault) => {
                faults.push(fault);
                continue;
            }
        };
        let place = path.display().to_string();
        let Some((number, of, orders)) = found.first().and_then(shard_of) else {
            faults.push(Fault::new(
                format!("{place} does not say which shard it is"),
                "name the folders that `kitwright run` wrote to with --out",
            ));
            continue;
        };
        shards.entry((orders, of)).or_default().push(number);
        for row in found {
            if row[1] == "made"
                && let Some(first) = made.insert(row[2].clone(), place.clone())
            {
                faults.push(Fault::new(
                    format!("the order {} was made in {first} and in {place}", row[2]),
                    "use one of the two kits and destroy the other",
                ));
            }
            rows.push(row);
        }
    }
    if shards.len() > 1 {
        faults.push(Fault::new(
            format!("the folders hold shards of {} different runs", shards.len()),
            "join the shards of one run: those of the same orders, split alike",
        ));
    }
    for ((_, of), numbers) in shards {
        let missing: Vec<String> = (1..=of)
            .filter(|number| !numbers.contains(number))
            .map(|number| format!("{number}/{of}"))
            .collect();
        if !missing.is_empty() {
            faults.push(Fault::new(
                format!("there is no manifest of shard {}", missing.join(", ")),
                "name the folder of each shard; one without orders has a manifest, too",
            ));
        }
        let twice = |shard: &u64| numbers.iter().filter(|n| *n == shard).count() > 1;
        if let Some(shard) = (1..=of).find(twice) {
            faults.push(Fault::new(
                format!("shard {shard}/{of} is there twice"),
                "one of the two is a copy; if both were printed, destroy one",
            ));
        }
    }
    if faults.is_empty() { Ok(written(rows)) } else { Err(faults) }
}

/// Number and count of the shard, and of which orders, from the row of the run.
fn shard_of(row: &[String; 16]) -> Option<(u64, u64, String)> {
    let note = row[15].strip_prefix("shard ").filter(|_| row[1] == "run")?;
    let (shard, orders) = note.split_once(" of the orders ")?;
    let (number, of) = shard.split_once('/')?;
    Some((number.parse().ok()?, of.parse().ok()?, orders.to_owned()))
}

fn read(path: &Path) -> Result<Vec<[String; 16]>, Fault> {
    let wrong = |why: String| {
        Fault::new(
            format!("{} is no manifest of a run: {why}", path.display()),
            "name the folders that `kitwright run` wrote to with --out",
        )
    };
    let bytes = input::read_bytes(path, MAX_BYTES).map_err(|fault| Fault {
        help: "name folders of runs that are done".into(),
        ..fault
    })?;
    let mut reader = csv::ReaderBuilder::new().from_reader(bytes.as_slice());
    let header = reader.headers().map_err(|error| wrong(error.to_string()))?;
    if header.iter().ne(COLUMNS) {
        return Err(wrong("its columns are others".to_owned()));
    }
    reader
        .records()
        .map(|record| {
            let record = record.map_err(|error| wrong(error.to_string()))?;
            let cells: Vec<String> =
                record.iter().map(|cell| unsafe_again(cell).to_owned()).collect();
            cells.try_into().map_err(|_| wrong("a row is short".to_owned()))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_can_be_a_formula() {
        for cell in ["=1+1", "+1", "-1", "@x", "\tx", "\rx"] {
            assert!(safe(cell).starts_with('\''), "{cell:?}");
        }
        assert_eq!(safe("O'Neill"), "O'Neill");
    }

    #[test]
    fn the_shard_stands_in_the_row_of_the_run() {
        let mut row: [String; 16] = Default::default();
        assert_eq!(shard_of(&row), None);
        row[1] = "run".into();
        row[15] = "shard 3/16 of the orders 1f3a".into();
        assert_eq!(shard_of(&row), Some((3, 16, "1f3a".into())));
    }
}
