//! Files that are no ledger, or that stand in the way of one.

use std::path::Path;

use kitwright::ledger::{Again, Ledger};
use rusqlite::Connection;

use super::desk::{Desk, kit, stamp};

#[cfg(unix)]
fn mode(path: &Path) -> u32 {
    use std::os::unix::fs::PermissionsExt;
    std::fs::metadata(path).unwrap().permissions().mode() & 0o777
}

#[cfg(unix)]
#[test]
fn the_ledger_and_what_lies_beside_it_is_for_the_owner_alone() {
    let mut desk = Desk::new();
    desk.make(0, &["HB-20417"]);
    let mut seen = Vec::new();
    for entry in std::fs::read_dir(desk.folder.path()).unwrap() {
        let path = entry.unwrap().path();
        assert_eq!(mode(&path), 0o600, "{}", path.display());
        seen.push(path.file_name().unwrap().to_string_lossy().into_owned());
    }
    seen.sort();
    assert_eq!(seen, ["ledger.db", "ledger.db-shm", "ledger.db-wal"]);
    assert_eq!(desk.ledger.check(None).unwrap().notes, [""; 0]);
    let wider = std::os::unix::fs::PermissionsExt::from_mode(0o640);
    std::fs::set_permissions(&desk.path, wider).unwrap();
    let notes = desk.ledger.check(None).unwrap().notes;
    assert!(notes[0].contains("(mode 0640, made with 0600)"), "{notes:?}");
}

/// The names and settings are those of SQLite's own documentation of pragmas.
#[test]
fn the_file_is_of_the_documented_kind() {
    let desk = Desk::new();
    let connection = Connection::open(&desk.path).unwrap();
    let number = |name| connection.pragma_query_value(None, name, |row| row.get(0));
    assert_eq!(number("application_id"), Ok(0x4B49_5457));
    assert_eq!(number("user_version"), Ok(1));
    let mode: String =
        connection.pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
    assert_eq!(mode, "wal");
}

#[track_caller]
fn refused(why: &str, path: &Path, says: &str) {
    let before = std::fs::read(path).ok();
    for opened in [Ledger::open(path), Ledger::open_existing(path)] {
        let fault = opened.err().unwrap_or_else(|| panic!("{why}: it was opened"));
        let start = fault.what.split(&path.display().to_string()).next().unwrap();
        assert!(
            ["cannot read the ledger ", "cannot write the ledger "].contains(&start),
            "{why}: {}",
            fault.what
        );
        assert!(fault.what.contains(says), "{why}: {}", fault.what);
        assert!(!fault.help.is_empty());
    }
    assert_eq!(std::fs::read(path).ok(), before, "{why}: it was changed");
}

#[test]
fn what_is_no_ledger_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);

    refused("a folder that is missing", &at("none/ledger.db"), "No such file");
    refused("a folder", folder.path(), "it is a folder");
    std::fs::write(at("empty"), "").unwrap();
    refused("an empty file", &at("empty"), "the file is empty");
    std::fs::write(at("text"), "order = \"HB-20417\"\n".repeat(100)).unwrap();
    refused("a text", &at("text"), "it is no SQLite file");
    std::fs::write(at("short"), "SQLite").unwrap();
    refused("six bytes", &at("short"), "it is no SQLite file");

    let other = Connection::open(at("other")).unwrap();
    other.execute_batch("PRAGMA application_id = 7; CREATE TABLE t (a)").unwrap();
    drop(other);
    refused("another program's", &at("other"), "another program's SQLite file");

    let newer = Ledger::open(&at("newer")).unwrap();
    drop(newer);
    let raw = Connection::open(at("newer")).unwrap();
    raw.execute_batch("PRAGMA user_version = 2; PRAGMA wal_checkpoint(TRUNCATE)")
        .unwrap();
    drop(raw);
    refused("one of a newer version", &at("newer"), "it is of version 2, this program");
}

#[test]
fn a_ledger_that_was_cut_short_is_said_to_be_damaged() {
    let mut desk = Desk::new();
    for number in 0..60 {
        desk.make(0, &[&format!("HB-{number:04}")]);
    }
    let Desk { ledger, path, folder: _folder } = desk;
    drop(ledger);
    let whole = std::fs::read(&path).unwrap();
    let mut seen = 0;
    for cut in [100, 4096, 5000, whole.len() / 2, whole.len() - 4096, whole.len() - 1] {
        std::fs::write(&path, &whole[..cut]).unwrap();
        let fault = match Ledger::open_existing(&path) {
            Err(fault) => fault,
            Ok(mut ledger) => match ledger.check(None) {
                Err(faults) => faults[0].clone(),
                Ok(_) => panic!("cut at {cut}: nothing was found"),
            },
        };
        seen += usize::from(fault.what.contains("is damaged or cut short"));
        let recorded = Ledger::open(&path).map(|mut ledger| {
            ledger.record_kits(&stamp(1), &[kit("HB-9999", "Sørbø")], Again::Refuse)
        });
        assert!(!matches!(recorded, Ok(Ok(_))), "cut at {cut}: it was recorded in");
    }
    assert!(seen >= 4, "{seen}");
}

#[test]
fn a_damaged_page_is_found() {
    let mut desk = Desk::busy();
    let path = desk.path.clone();
    desk.check_is_clean();
    let Desk { ledger, folder: _folder, .. } = desk;
    drop(ledger);
    let whole = std::fs::read(&path).unwrap();
    let mut missed = Vec::new();
    for page in 0..whole.len() / 4096 {
        let mut bytes = whole.clone();
        // Rows are put at the end of a page.
        bytes[page * 4096 + 3996..page * 4096 + 4096].fill(0xA5);
        std::fs::write(&path, &bytes).unwrap();
        let sound = Ledger::open_existing(&path).map(|mut ledger| ledger.check(None));
        if matches!(sound, Ok(Ok(_))) {
            missed.push(page);
        }
    }
    assert_eq!(missed, [0; 0], "of {} pages", whole.len() / 4096);
}

/// On Unix a file that is open can be moved away, and what is written is lost.
#[cfg(unix)]
#[test]
fn nothing_is_recorded_in_a_ledger_that_was_moved_away() {
    let mut desk = Desk::new();
    desk.make(0, &["HB-1000"]);
    let away = desk.folder.path().join("away.db");
    let moved = "it was moved, or another put in its place";
    let kits = [kit("HB-1001", "Okonkwo-Reyes")];
    std::fs::rename(&desk.path, &away).unwrap();
    let faults = desk.ledger.record_kits(&stamp(1), &kits, Again::Refuse).unwrap_err();
    assert!(faults[0].what.ends_with(moved), "{faults:?}");
    std::fs::write(&desk.path, "another").unwrap();
    let faults = desk.ledger.record_kits(&stamp(1), &kits, Again::Refuse).unwrap_err();
    assert!(faults[0].what.ends_with(moved), "{faults:?}");
    std::fs::rename(&away, &desk.path).unwrap();
    desk.ledger.record_kits(&stamp(1), &kits, Again::Refuse).unwrap();
    desk.check_is_clean();
}

#[test]
fn opening_to_read_makes_no_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ledger.db");
    let fault = Ledger::open_existing(&path).unwrap_err();
    assert!(fault.what.starts_with("cannot read the ledger"), "{}", fault.what);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    drop(Ledger::open(&path).unwrap());
    let mut ledger = Ledger::open_existing(&path).unwrap();
    assert_eq!(ledger.check(None).unwrap().entries, 0);
    assert_eq!(ledger.head().unwrap(), None);
    drop(ledger);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left");
}

#[test]
fn a_name_that_looks_like_a_uri_is_a_name() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("file:ledger.db?mode=memory");
    drop(Ledger::open(&path).unwrap());
    assert!(path.exists());
    Ledger::open(&path).unwrap();
}
