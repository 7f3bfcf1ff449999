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
    if let Some(named) = named {
        return Ok(named.to_path_buf());
    }
    let path = lab.unwrap_or(Path::new(LAB_FILE));
    let help = "name it with --ledger FILE, or write ledger = \"ledger.db\" in lab.toml";
    if lab.is_none() && !path.exists() {
        return Err(vec![Fault::new(
            "no ledger is named, and there is no lab.toml in this folder",
            help,
        )]);
    }
    let source = read_text(path).map_err(|fault| vec![fault])?;
    let lab = read_lab(&source, &languages())?;
    ledger_beside(path, &lab).ok_or_else(|| {
        let what = format!("{} names no ledger", path.display());
        vec![Fault::new(what, help).at(&source, 0..0, "ledger")]
    })
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
