//! Finds and reads the files of a run: orders, laboratory files, fonts.

use std::collections::HashSet;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::fault::{Fault, Source};
use crate::fields::MAX_BYTES;
use crate::import::is_export;

/// Name of the laboratory's file, beside the orders.
pub const LAB_FILE: &str = "lab.toml";

/// The largest PDF that is read, in bytes.
pub const PDF_MAX_BYTES: usize = 64 * 1024 * 1024;

/// The most font files that are read from one folder.
const MOST_FONTS: usize = 200;

/// Endings of workbooks that are not read.
const OTHER_WORKBOOKS: &[&str] = &["xls", "xlsm", "xlsb", "ods"];

/// The files of orders that `paths` name, each once: a folder stands for every
/// order file and every export in it, in the order of their names, but not for the
/// laboratory's file and hidden ones. Beside them a fault for each folder that holds
/// none or cannot be read, and for what has the name of an order and is none that is read.
pub fn order_files(paths: &[PathBuf]) -> (Vec<PathBuf>, Vec<(PathBuf, Fault)>) {
    let mut files = Vec::new();
    let mut faults = Vec::new();
    for path in paths {
        if path.as_os_str() == "-" || !path.is_dir() {
            files.push(path.clone());
            continue;
        }
        match entries(path) {
            Ok(found) if found.is_empty() => faults.push((
                path.clone(),
                Fault::new(
                    format!("the folder {} holds no order", path.display()),
                    "an order is a file that ends in .toml, and an export one in .csv, \
                     .tsv, .xlsx or .json; `kitwright new` writes an order",
                ),
            )),
            Ok(found) => {
                for path in found {
                    match unread(&path) {
                        Some(fault) => faults.push((path, fault)),
                        None => files.push(path),
                    }
                }
            }
            Err(error) => faults.push((path.clone(), unreadable(path, &error))),
        }
    }
    let mut seen = HashSet::new();
    files.retain(|path| seen.insert(path.canonicalize().unwrap_or(path.clone())));
    (files, faults)
}

/// What has the name of an order, of an export or of another workbook in a folder and is no
/// folder itself.
fn entries(folder: &Path) -> std::io::Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let is_order = has_ending(&path, &["toml"]) || has_ending(&path, OTHER_WORKBOOKS);
        let name = path.file_name().unwrap_or_default();
        let is_hidden = name.to_string_lossy().starts_with('.');
        let is_lab = name.eq_ignore_ascii_case(LAB_FILE);
        if (is_order || is_export(&path)) && !is_lab && !is_hidden && !path.is_dir() {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

/// Whether a file's name ends so. Other systems, and other people, write names in capital
/// letters.
fn has_ending(path: &Path, endings: &[&str]) -> bool {
    path.extension().is_some_and(|kind| {
        endings.iter().any(|ending| kind.eq_ignore_ascii_case(ending))
    })
}

/// Why an entry of a folder is no file that can be read as an order, if so: passed
/// over, it would be an order that nobody misses.
fn unread(path: &Path) -> Option<Fault> {
    let (what, help) = match std::fs::metadata(path) {
        Ok(about) if about.is_file() && !has_ending(path, OTHER_WORKBOOKS) => {
            return None;
        }
        Ok(about) if about.is_file() => (
            "workbooks of this kind are not read".to_owned(),
            "save it as an Excel workbook (.xlsx) or as CSV, and take this one out of the \
             folder of orders",
        ),
        Ok(_) => (
            "it is no file".to_owned(),
            "move it out of the folder of orders; an order can come by a pipe to standard \
             input, as `-`",
        ),
        Err(error) if path.is_symlink() => (
            format!("it is a link to a file that cannot be had: {error}"),
            "mend the link, or take it out of the folder of orders",
        ),
        Err(error) => (error.to_string(), "check that you may read it"),
    };
    Some(Fault::of_file(format!("cannot read {}: {what}", path.display()), help))
}

/// Reads a text file, or standard input for `-`.
///
/// # Errors
///
/// A fault if it cannot be read, is not UTF-8, or is far too large.
pub fn read_text(path: &Path) -> Result<Arc<Source>, Fault> {
    let stdin = path.as_os_str() == "-";
    let name = if stdin { "<standard input>".into() } else { path.display().to_string() };
    // One byte more than is allowed: a longer file is refused and never cut.
    let limit = MAX_BYTES as u64 + 1;
    let mut bytes = Vec::new();
    if stdin {
        let read = std::io::stdin().lock().take(limit).read_to_end(&mut bytes);
        read.map_err(|error| unreadable(path, &error))?;
    } else {
        let read = open(path)?.take(limit).read_to_end(&mut bytes);
        read.map_err(|error| unreadable(path, &error))?;
    }
    if bytes.len() as u64 == limit {
        return Err(Fault::new(
            format!("{name} is larger than {} kB", MAX_BYTES / 1024),
            "give one file for each order",
        ));
    }
    let mut text = match String::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) => {
            if let Some(fault) = other_kind(&name, error.as_bytes()) {
                return Err(fault);
            }
            let at = error.utf8_error().valid_up_to();
            return Err(Fault::new(
                format!("{name} is not UTF-8 text: byte {at} is wrong"),
                "save it again as UTF-8",
            ));
        }
    };
    if text.starts_with('\u{FEFF}') {
        text.remove(0);
    }
    Ok(Source::new(name, text))
}

/// A fault for a file that is of another kind than text, by how it begins.
///
/// # Source
///
/// ISO 32000-1, 7.5.2; SQLite's file format, 1.3; PKWARE's APPNOTE, 4.3.7; [MS-CFB] 2.2;
/// all from memory.
fn other_kind(name: &str, bytes: &[u8]) -> Option<Fault> {
    const KINDS: [(&[u8], &str, &str); 4] = [
        (
            b"%PDF-",
            "a PDF",
            "name the text file itself; a kit's PDF has its order attached",
        ),
        (
            b"SQLite format 3\0",
            "a ledger or another database",
            "name the text file itself",
        ),
        (b"PK\x03\x04", "a workbook or another packed file", "an export ends in .xlsx"),
        (b"\xD0\xCF\x11\xE0", "an old workbook", "save it as .xlsx or .csv"),
    ];
    let (_, kind, help) = KINDS.iter().find(|(start, ..)| bytes.starts_with(start))?;
    Some(Fault::new(format!("{name} is {kind}, and no text"), *help))
}

/// Opens a file to read it; not a folder, and not a named pipe, whose other end may
/// never be written to. A pipe without a name, such as a shell's `<(...)`, has an
/// end that somebody holds.
fn open(path: &Path) -> Result<std::fs::File, Fault> {
    let about = std::fs::metadata(path).map_err(|error| unreadable(path, &error))?;
    let kind = about.file_type();
    // Only what has a place in a folder has a true name.
    let has_name = || path.canonicalize().is_ok();
    let what = if kind.is_dir() {
        "it is a folder"
    } else if !kind.is_file() && !is_device(kind) && has_name() {
        "it is a pipe or a socket and no file"
    } else {
        return std::fs::File::open(path).map_err(|error| unreadable(path, &error));
    };
    Err(Fault::of_file(
        format!("cannot read {}: {what}", path.display()),
        "name a file; an order can come by a pipe to standard input, as `-`",
    ))
}

#[cfg(unix)]
fn is_device(kind: std::fs::FileType) -> bool {
    use std::os::unix::fs::FileTypeExt;
    kind.is_char_device() || kind.is_block_device()
}

#[cfg(not(unix))]
fn is_device(_: std::fs::FileType) -> bool {
    true
}

/// Reads at most `limit` bytes of a file.
///
/// # Errors
///
/// A fault if it cannot be read or is larger.
pub fn read_bytes(path: &Path, limit: usize) -> Result<Vec<u8>, Fault> {
    let mut bytes = Vec::new();
    open(path)?
        .take(limit as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| unreadable(path, &error))?;
    if bytes.len() > limit {
        return Err(Fault::new(
            format!("{} is larger than {} kB", path.display(), limit / 1024),
            "give a smaller file",
        ));
    }
    Ok(bytes)
}

/// The font files of a folder with their names.
///
/// # Errors
///
/// A fault if the folder or a file in it cannot be read, or it holds no font.
pub fn read_fonts(folder: &Path) -> Result<Vec<(String, Vec<u8>)>, Vec<Fault>> {
    let entries = std::fs::read_dir(folder).map_err(|e| vec![unreadable(folder, &e)])?;
    let mut paths: Vec<PathBuf> = entries
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| {
            path.extension().is_some_and(|kind| {
                ["ttf", "otf", "ttc", "otc"].iter().any(|k| kind == *k)
            })
        })
        .collect();
    paths.sort();
    if paths.is_empty() || paths.len() > MOST_FONTS {
        return Err(vec![Fault::new(
            format!("{} holds {} fonts", folder.display(), paths.len()),
            format!("give a folder with 1 to {MOST_FONTS} files .ttf, .otf or .ttc"),
        )]);
    }
    paths
        .iter()
        .map(|path| {
            let bytes =
                read_bytes(path, 64 * 1024 * 1024).map_err(|fault| vec![fault])?;
            Ok((path.display().to_string(), bytes))
        })
        .collect()
}

/// The fault of a file that cannot be read.
pub fn unreadable(path: &Path, error: &std::io::Error) -> Fault {
    Fault::of_file(
        format!("cannot read {}: {error}", path.display()),
        "check the name and that you may read it",
    )
}
