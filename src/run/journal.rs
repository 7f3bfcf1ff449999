//! The journal of a run: what of it is whole, in a folder `.run` beside its files.
//!
//! Every record is a file of its own, written whole, after the files it speaks
//! of. A run that was stopped at any moment therefore finds of each part either
//! a record, and whole files with it, or no record, and makes the part again.

use std::fs::File;
use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::list::LeftOut;
use crate::fault::Fault;
use crate::ledger::digest;
use crate::making::KitPages;
use crate::output::{unwritable, write_by_way_of};

/// Name of the journal's folder.
const FOLDER: &str = ".run";

/// Form of the records; another is of another version of the program.
const FORM: u32 = 1;

/// What the run was begun with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Begun {
    pub form: u32,
    pub program: String,
    /// The run's name: when it began, its shard, and a mark that sets it apart.
    pub run: String,
    /// RFC 3339, in UTC.
    pub began: String,
    /// Of the orders and of all that decides what is printed.
    pub digest: String,
    pub parts: usize,
    pub kits: usize,
    pub left_out: Vec<LeftOut>,
}

/// One part that is whole.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartRecord {
    pub part: usize,
    pub stock: String,
    pub paper: FileRecord,
    pub labels: FileRecord,
    /// Leaves of paper, and sheets or labels of stock.
    pub leaves: usize,
    pub sheets: usize,
    /// First cell of the first sheet of labels, counted from 1.
    pub start_at: usize,
    /// First free cell of the last sheet, if it has one.
    pub free_from: Option<usize>,
    pub kits: Vec<KitRecord>,
    /// Orders that turned out not to fit their paper or labels.
    pub left_out: Vec<LeftOut>,
}

/// A file and its SHA-256.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileRecord {
    pub name: String,
    pub sha256: String,
}

/// One kit of a part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KitRecord {
    pub order: String,
    /// SHA-256 of the order's text.
    pub input: String,
    pub family: String,
    pub given: String,
    pub born: NaiveDate,
    /// The day of card 1; absent on an undated sheet.
    pub start: Option<NaiveDate>,
    pub protocol: String,
    pub codes: Vec<String>,
    pub pages: KitPages,
    /// Cells of its labels, as the stock counts them.
    pub cells: Vec<usize>,
    /// Sides of its paper, up to the last printed one.
    pub sides: usize,
}

/// The end of a run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Ended {
    pub packing: Vec<FileRecord>,
    pub manifest: FileRecord,
}

/// The folder of a run, locked for as long as this lives.
pub struct Journal {
    out: PathBuf,
    folder: PathBuf,
    _lock: File,
}

impl Journal {
    /// Takes the folder `out` for a run.
    ///
    /// # Errors
    ///
    /// A fault if it cannot be written to or another run has it.
    pub fn open(out: &Path) -> Result<Self, Fault> {
        let folder = out.join(FOLDER);
        make_private(out).and_then(|()| make_private(&folder)).map_err(|error| {
            Fault::new(
                format!("cannot write to the folder {}: {error}", out.display()),
                "name another folder with --out, or mend its permissions",
            )
        })?;
        let path = folder.join("lock");
        let lock = lock_file(&path).map_err(|error| unwritable(&path, &error))?;
        if let Err(error) = lock.try_lock() {
            return Err(match error {
                std::fs::TryLockError::WouldBlock => Fault::new(
                    format!("another run is writing to {}", out.display()),
                    "wait until it is done, or name another folder with --out",
                ),
                std::fs::TryLockError::Error(error) => unwritable(&path, &error),
            });
        }
        let journal = Self { out: out.to_path_buf(), folder, _lock: lock };
        journal.sweep();
        Ok(journal)
    }

    /// Takes away what a run that was stopped left half-written.
    fn sweep(&self) {
        let Ok(entries) = std::fs::read_dir(&self.folder) else { return };
        for path in entries.flatten().map(|entry| entry.path()) {
            let temporary = path
                .file_name()
                .is_some_and(|name| name.to_string_lossy().starts_with(".tmp"));
            if temporary {
                // If it stays it does no harm.
                let _ = std::fs::remove_file(path);
            }
        }
    }

    /// Writes one of the run's own files and gives its record.
    ///
    /// # Errors
    ///
    /// A fault if it cannot be written; nothing half-written is left.
    pub fn write(&self, name: &str, bytes: &[u8]) -> Result<FileRecord, Fault> {
        let path = self.out.join(name);
        let folder = path.parent().unwrap_or(&self.out);
        make_private(folder).map_err(|error| unwritable(&path, &error))?;
        write_by_way_of(&self.folder, &path, bytes)?;
        Ok(FileRecord { name: name.to_owned(), sha256: digest(bytes) })
    }

    /// What the folder's run was begun with, if it holds one.
    ///
    /// # Errors
    ///
    /// A fault if its record cannot be read.
    pub fn begun(&self) -> Result<Option<Begun>, Fault> {
        self.read("run.json")
    }

    /// # Errors
    ///
    /// A fault if it cannot be written.
    pub fn begin(&self, begun: &Begun) -> Result<(), Fault> {
        self.put("run.json", begun)
    }

    /// The record of a part, if it is whole: with both its files as they were.
    ///
    /// # Errors
    ///
    /// A fault if the record cannot be read.
    pub fn part(&self, part: usize) -> Result<Option<PartRecord>, Fault> {
        let record: Option<PartRecord> = self.read(&part_name(part))?;
        Ok(record.filter(|record| self.has(&record.paper) && self.has(&record.labels)))
    }

    /// # Errors
    ///
    /// A fault if it cannot be written.
    pub fn end_part(&self, record: &PartRecord) -> Result<(), Fault> {
        self.put(&part_name(record.part), record)
    }

    /// The ledger's head as the packing slips of this run print it, once that is
    /// settled.
    ///
    /// # Errors
    ///
    /// A fault if the record cannot be read.
    pub fn head(&self) -> Result<Option<String>, Fault> {
        self.read("head.json")
    }

    /// # Errors
    ///
    /// A fault if it cannot be written.
    pub fn keep_head(&self, head: &str) -> Result<(), Fault> {
        self.put("head.json", &head)
    }

    /// The end of the run, if it has ended and its files are as they were.
    ///
    /// # Errors
    ///
    /// A fault if the record cannot be read.
    pub fn ended(&self) -> Result<Option<Ended>, Fault> {
        let ended: Option<Ended> = self.read("end.json")?;
        Ok(ended.filter(|ended| {
            self.has(&ended.manifest) && ended.packing.iter().all(|file| self.has(file))
        }))
    }

    /// # Errors
    ///
    /// A fault if it cannot be written.
    pub fn end(&self, ended: &Ended) -> Result<(), Fault> {
        self.put("end.json", ended)
    }

    /// Whether a file was sent to a printer, or may have been.
    pub fn was_sent(&self, file: &str) -> bool {
        self.folder.join(format!("sent-{file}")).exists()
    }

    /// Remembers that a file is about to be sent to a printer: before it is, so
    /// that no file is ever printed twice.
    ///
    /// # Errors
    ///
    /// A fault if that cannot be written.
    pub fn sending(&self, file: &str) -> Result<(), Fault> {
        self.put(&format!("sent-{file}"), &file)
    }

    pub fn path(&self, file: &str) -> PathBuf {
        self.out.join(file)
    }

    fn has(&self, file: &FileRecord) -> bool {
        file.name.is_empty()
            || std::fs::read(self.out.join(&file.name))
                .is_ok_and(|bytes| digest(&bytes) == file.sha256)
    }

    fn put(&self, name: &str, record: &impl Serialize) -> Result<(), Fault> {
        let json = serde_json::to_vec_pretty(record).unwrap_or_default();
        write_by_way_of(&self.folder, &self.folder.join(name), &json)
    }

    fn read<T: DeserializeOwned>(&self, name: &str) -> Result<Option<T>, Fault> {
        let path = self.folder.join(name);
        let bytes = match std::fs::read(&path) {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                return Ok(None);
            }
            Err(error) => {
                return Err(Fault::new(
                    format!("cannot read {}: {error}", path.display()),
                    "check that you may read it",
                ));
            }
        };
        serde_json::from_slice(&bytes).map(Some).map_err(|error| {
            Fault::new(
                format!("{} is no record of a run: {error}", path.display()),
                "another version of the program may have written it; use another folder",
            )
        })
    }
}

impl Begun {
    /// What a run of these orders begins with. `mark` ends its name.
    pub fn new(
        began: String,
        shard: Option<super::Shard>,
        digest: String,
        mark: &str,
        list: &super::list::List,
    ) -> Self {
        let when: String = began.chars().filter(char::is_ascii_digit).take(14).collect();
        let (day, time) = when.split_at(when.len().min(8));
        let shard = shard
            .map_or_else(String::new, |shard| format!("-{}of{}", shard.number, shard.of));
        Self {
            form: FORM,
            program: env!("CARGO_PKG_VERSION").to_owned(),
            run: format!("{day}-{time}{shard}-{mark}"),
            began,
            digest,
            parts: list.parts.len(),
            kits: list.kits(),
            left_out: list.left_out.clone(),
        }
    }

    /// The day on which it began, in UTC.
    pub fn day(&self) -> Option<NaiveDate> {
        self.began.get(..10)?.parse().ok()
    }

    /// Whether a run of the same orders, by the same program, goes on from this.
    pub fn is_of(&self, digest: &str) -> bool {
        self.form == FORM
            && self.program == env!("CARGO_PKG_VERSION")
            && self.digest == digest
    }
}

fn part_name(part: usize) -> String {
    format!("part-{part:03}.json")
}

/// Opens the file that is locked, and makes it if it is not there.
fn lock_file(path: &Path) -> std::io::Result<File> {
    let mut options = File::options();
    options.create(true).truncate(false).write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}

/// Makes a folder that only its owner may enter, unless it is there.
fn make_private(folder: &Path) -> std::io::Result<()> {
    if folder.is_dir() {
        return Ok(());
    }
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}
