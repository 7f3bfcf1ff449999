//! Opens and makes the ledger's file, and says what stands in the way.
//!
//! A new ledger is finished under another name and then given its own, so that
//! there is never half a ledger, and of two processes that make one at the same
//! time one makes it and both open it.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{
    Connection, ErrorCode, OpenFlags, Transaction, TransactionBehavior as Behavior,
};

use super::Ledger;
use crate::fault::{Fault, visible};
use crate::output::{Held, TEMPORARY, sync_folder};

/// `KITW` in ASCII: tells this program's files from those of others.
const APPLICATION_ID: i64 = 0x4B49_5457;
/// Version of the tables.
const VERSION: i64 = 1;
/// How long one process waits for another to finish writing, in seconds.
const WAIT_SECONDS: u64 = 10;

const TABLES: &str = "
CREATE TABLE entry (
  seq INTEGER PRIMARY KEY, kind TEXT NOT NULL, order_number TEXT NOT NULL,
  at TEXT NOT NULL, who TEXT NOT NULL, run TEXT NOT NULL, part INTEGER NOT NULL,
  counter INTEGER NOT NULL, slots TEXT NOT NULL, program TEXT NOT NULL,
  protocol TEXT NOT NULL, zone_data TEXT NOT NULL, stock TEXT NOT NULL,
  lab_digest TEXT NOT NULL, codes TEXT NOT NULL, detail TEXT NOT NULL,
  commitment BLOB NOT NULL, hash BLOB NOT NULL
) STRICT;
CREATE INDEX entry_order ON entry (order_number);
CREATE INDEX entry_run ON entry (run, part);
-- The order text is last, so that a search by name need not read past it.
CREATE TABLE sealed (
  seq INTEGER PRIMARY KEY REFERENCES entry (seq), family TEXT NOT NULL,
  given TEXT NOT NULL, born TEXT NOT NULL, salt BLOB NOT NULL,
  input_digest TEXT NOT NULL, revised_from TEXT NOT NULL, reason TEXT NOT NULL,
  documents TEXT NOT NULL, order_text TEXT NOT NULL
) STRICT;
CREATE TRIGGER entry_stays BEFORE UPDATE ON entry
  BEGIN SELECT RAISE(ABORT, 'an entry of the ledger is never changed'); END;
CREATE TRIGGER entry_is_kept BEFORE DELETE ON entry
  BEGIN SELECT RAISE(ABORT, 'an entry of the ledger is never deleted'); END;
CREATE TRIGGER sealed_stays BEFORE UPDATE ON sealed
  BEGIN SELECT RAISE(ABORT, 'an entry of the ledger is never changed'); END;
";

impl Ledger {
    /// Opens the ledger for recording; makes it where there is none.
    ///
    /// # Errors
    ///
    /// A fault if the folder is missing, the file is read-only, or it is not a
    /// ledger that this program can write.
    pub fn open(path: &Path) -> Result<Self, Fault> {
        let is_new = path.symlink_metadata().is_err();
        if is_new {
            create(path)?;
        }
        let mut ledger = Self::open_existing(path)?;
        ledger.begun = is_new;
        ledger.must_be_writable()?;
        Ok(ledger)
    }

    fn must_be_writable(&self) -> Result<(), Fault> {
        match self.connection.is_readonly("main") {
            Ok(false) => Ok(()),
            Ok(true) => Err(read_only(&self.path)),
            Err(error) => Err(sql_fault(&self.path, "write", &error)),
        }
    }

    /// Opens a ledger that must be there, to read it or to forget in it. Makes no
    /// file.
    ///
    /// # Errors
    ///
    /// A fault if there is none or it is not a ledger that this program can read.
    pub fn open_existing(path: &Path) -> Result<Self, Fault> {
        let size = match std::fs::metadata(path) {
            Ok(about) if about.is_dir() => {
                return Err(Fault::of_file(
                    format!("cannot read the ledger {}: it is a folder", path.display()),
                    "name the file, such as ledger.db in that folder",
                ));
            }
            Ok(about) => about.len(),
            Err(error) => {
                return Err(Fault::of_file(
                    format!("cannot read the ledger {}: {error}", path.display()),
                    "check the name; a ledger is made when the first kit is recorded in it",
                ));
            }
        };
        if size == 0 {
            return Err(Fault::of_file(
                format!("cannot read the ledger {}: the file is empty", path.display()),
                "if it was never a ledger, remove the file; if it was one, put the last \
                 backup in its place",
            ));
        }
        // Not the default flags: with those, a name that starts with `file:`
        // would be taken for a URI. The file is not opened in any other way
        // either, since closing it would drop the locks of this process.
        let identity = identity(path);
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let sql = |error: rusqlite::Error| sql_fault(path, "read", &error);
        let connection = Connection::open_with_flags(path, flags).map_err(sql)?;
        connection.busy_timeout(Duration::from_secs(WAIT_SECONDS)).map_err(sql)?;
        let number = |pragma: &str| {
            connection.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0))
        };
        let id = number("application_id").map_err(sql)?;
        let version = number("user_version").map_err(sql)?;
        if id != APPLICATION_ID {
            return Err(Fault::of_file(
                format!(
                    "cannot read the ledger {}: it is another program's SQLite file \
                     (application id {id}, a ledger has {APPLICATION_ID})",
                    path.display()
                ),
                "name the ledger's own file; this one is left as it is",
            ));
        }
        if version != VERSION {
            return Err(Fault::of_file(
                format!(
                    "cannot read the ledger {}: it is of version {version}, this program \
                     knows version {VERSION}",
                    path.display()
                ),
                "use the program that wrote it, or a newer one",
            ));
        }
        settings(&connection).map_err(sql)?;
        let page = number("page_size").map_err(sql)?;
        if is_cut(path, page.unsigned_abs()) {
            let cut = rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_CORRUPT);
            return Err(sql(rusqlite::Error::SqliteFailure(cut, None)));
        }
        Ok(Self { connection, path: path.to_path_buf(), identity, begun: false })
    }

    /// Starts a transaction that no other process can write beside.
    pub(super) fn begin(&mut self) -> Result<Transaction<'_>, Fault> {
        self.must_be_writable()?;
        // What is written to a file that has no name any more is lost.
        if identity(&self.path) != self.identity {
            return Err(Fault::of_file(
                format!(
                    "cannot write the ledger {}: it was moved, or another put in its place",
                    self.path.display()
                ),
                "put it back, then give the command again; nothing was recorded",
            ));
        }
        self.connection
            .transaction_with_behavior(Behavior::Immediate)
            .map_err(|error| sql_fault(&self.path, "write", &error))
    }

    pub(super) fn reading(&self) -> impl Fn(rusqlite::Error) -> Fault {
        |error| sql_fault(&self.path, "read", &error)
    }
}

/// Tells one file from another on the same machine.
#[cfg(unix)]
fn identity(path: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    std::fs::metadata(path).ok().map(|about| (about.dev(), about.ino()))
}

#[cfg(not(unix))]
fn identity(_: &Path) -> Option<(u64, u64)> {
    None
}

/// Settings that last as long as the connection. Deleted rows are overwritten,
/// and nothing of the ledger is put in a temporary file.
fn settings(connection: &Connection) -> rusqlite::Result<()> {
    connection.execute_batch(
        "PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA secure_delete = ON;
         PRAGMA temp_store = MEMORY; PRAGMA trusted_schema = OFF;
         PRAGMA cell_size_check = ON;",
    )
}

/// Makes an empty ledger for its owner alone (mode 0600); SQLite gives the files
/// it puts beside it the same mode.
fn create(path: &Path) -> Result<(), Fault> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder: PathBuf = folder.unwrap_or(Path::new(".")).to_path_buf();
    let unwritable = |error: &std::io::Error| {
        Fault::of_file(
            format!("cannot write the ledger {}: {error}", path.display()),
            "check that its folder is there, may be written to and has room",
        )
    };
    let _held = Held::of(&folder);
    let file = tempfile::Builder::new()
        .prefix(TEMPORARY)
        .tempfile_in(&folder)
        .map_err(|error| unwritable(&error))?;
    fill(file.path()).map_err(|error| sql_fault(path, "write", &error))?;
    file.as_file().sync_all().map_err(|error| unwritable(&error))?;
    match file.persist_noclobber(path) {
        Err(failed) if failed.error.kind() == std::io::ErrorKind::AlreadyExists => Ok(()),
        Err(failed) => Err(unwritable(&failed.error)),
        // So that the new name, too, is on the disk.
        Ok(_) => sync_folder(&folder).map_err(|error| unwritable(&error)),
    }
}

fn fill(path: &Path) -> rusqlite::Result<()> {
    let connection =
        Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    settings(&connection)?;
    connection.execute_batch(TABLES)?;
    connection.pragma_update(None, "application_id", APPLICATION_ID)?;
    connection.pragma_update(None, "user_version", VERSION)?;
    let mode: String =
        connection.query_row("PRAGMA journal_mode = WAL", [], |row| row.get(0))?;
    if mode != "wal" {
        return Err(rusqlite::Error::SqliteFailure(
            rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_CANTOPEN),
            Some(format!(
                "the journal is `{mode}` and not `wal`: is this a network share?"
            )),
        ));
    }
    connection.close().map_err(|(_, error)| error)
}

/// Whether the last page is cut, which SQLite does not mind: it reads zeros. While
/// there is something in the journal the file may be short for a good reason.
fn is_cut(path: &Path, page: u64) -> bool {
    let mut journal = path.as_os_str().to_owned();
    journal.push("-wal");
    let size = |path: &Path| std::fs::metadata(path).map_or(0, |about| about.len());
    size(Path::new(&journal)) == 0 && size(path) % page.max(1) != 0
}

fn read_only(path: &Path) -> Fault {
    Fault::of_file(
        format!("cannot write the ledger {}: it is read-only", path.display()),
        "let the user who runs the program write to the file and to its folder",
    )
}

/// What SQLite says, with what to do about it.
pub(super) fn sql_fault(path: &Path, doing: &str, error: &rusqlite::Error) -> Fault {
    // It quotes what stands in the file.
    let said = visible(&error.to_string());
    let (what, help) = match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => (
            format!("another program has held it for {WAIT_SECONDS} s"),
            "let the other program finish, then give the command again; nothing was \
             recorded",
        ),
        Some(ErrorCode::ReadOnly) if doing == "write" => return read_only(path),
        Some(ErrorCode::NotADatabase) => (
            "it is no SQLite file".to_owned(),
            "name the ledger's own file; if this was it, put the last backup in its place",
        ),
        Some(ErrorCode::DatabaseCorrupt) => (
            format!("it is damaged or cut short ({said})"),
            "keep the file as it is, put the last backup in its place, and compare that \
             with the newest printed head: kitwright ledger check --head \"...\"",
        ),
        Some(ErrorCode::CannotOpen | ErrorCode::ReadOnly) => (
            format!("the file or those beside it cannot be opened ({said})"),
            "a reader, too, puts two files beside the ledger: let the user write to its \
             folder, or copy the ledger to a folder of your own; it must be on a disk of \
             this machine",
        ),
        Some(ErrorCode::DiskFull) => (
            "the disk is full".to_owned(),
            "make room, then give the command again; nothing was recorded",
        ),
        _ => (
            said,
            "check that the file is a ledger on a disk of this machine, that the disk has \
             room, and that the file may be read and written",
        ),
    };
    Fault::of_file(format!("cannot {doing} the ledger {}: {what}", path.display()), help)
}
