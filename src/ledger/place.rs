//! Which file is the ledger, and who gives a command.

use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};

use crate::fault::Fault;
use crate::input::{LAB_FILE, read_text};
use crate::lab::{Lab, read_lab};
use crate::words::languages;

/// The ledger that a command line means: `named`, or else the one that the
/// laboratory's file names. That file is `lab`, or else the one in the current
/// folder; a file that is not there names none.
///
/// # Errors
///
/// A fault if neither names one, and every fault of the laboratory's file.
pub fn ledger_file(
    named: Option<&Path>,
    lab: Option<&Path>,
) -> Result<PathBuf, Vec<Fault>> {
    if let Some(path) = ledger_named(named, lab, None)? {
        return Ok(path);
    }
    let path = lab.unwrap_or(Path::new(LAB_FILE));
    let help = "name it with --ledger FILE, or write ledger = \"ledger.db\" in lab.toml";
    if lab.is_none() && !is_there(path) {
        return Err(vec![Fault::new(
            "no ledger is named, and there is no lab.toml in this folder",
            help,
        )]);
    }
    let source = read_text(path).map_err(|fault| vec![fault])?;
    let what = format!("{} names no ledger", path.display());
    Err(vec![Fault::new(what, help).at(&source, 0..0, "ledger")])
}

/// As [`ledger_file`], but where no `lab` is given the laboratory's file beside
/// the file `beside` is asked before the one in the current folder; `None` if
/// nothing names a ledger.
///
/// # Errors
///
/// Every fault of a laboratory's file that is asked: one that cannot be read may
/// name a ledger.
pub fn ledger_named(
    named: Option<&Path>,
    lab: Option<&Path>,
    beside: Option<&Path>,
) -> Result<Option<PathBuf>, Vec<Fault>> {
    if let Some(named) = named {
        return Ok(Some(named.to_path_buf()));
    }
    let here = PathBuf::from(LAB_FILE);
    let files = match (lab, beside) {
        (Some(lab), _) => vec![lab.to_path_buf()],
        (None, Some(beside)) => vec![beside.with_file_name(LAB_FILE), here],
        (None, None) => vec![here],
    };
    for path in files {
        if lab.is_none() && !is_there(&path) {
            continue;
        }
        let source = read_text(&path).map_err(|fault| vec![fault])?;
        let lab = read_lab(&source, &languages())?;
        if let Some(ledger) = ledger_beside(&path, &lab) {
            return Ok(Some(ledger));
        }
    }
    Ok(None)
}

/// A link that leads nowhere is there, and cannot be read.
fn is_there(path: &Path) -> bool {
    path.symlink_metadata().is_ok()
}

/// The ledger that a laboratory's file names, relative to that file's folder.
pub fn ledger_beside(lab_file: &Path, lab: &Lab) -> Option<PathBuf> {
    lab.ledger.as_ref().map(|name| lab_file.with_file_name(name))
}

/// Who gives the command: the name given, or else the user the system knows.
/// Not proof of anything: anyone can give a name.
pub fn by_whom(named: Option<&str>) -> String {
    let user = |variable: &str| {
        std::env::var(variable).ok().filter(|name| !name.trim().is_empty())
    };
    named
        .map(str::to_owned)
        .or_else(|| user("USER"))
        .or_else(|| user("LOGNAME"))
        .unwrap_or_else(|| "unknown".to_owned())
}

/// A moment as RFC 3339 writes it, such as `2026-11-25T14:42:25Z`.
///
/// # Errors
///
/// What is wrong with it, for a command line.
pub fn parse_moment(text: &str) -> Result<DateTime<Utc>, String> {
    DateTime::parse_from_rfc3339(text)
        .map(|moment| moment.with_timezone(&Utc))
        .map_err(|error| format!("{error}; write it like 2026-11-25T14:42:25Z"))
}
