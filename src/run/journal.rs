//! The journal of a run: what of it is whole, in a folder `.run` beside its files.
//!
//! Every record is a file of its own, written whole, after the files it speaks
//! of. A run that was stopped at any moment therefore finds of each part either
//! a record, and whole files with it, or no record, and makes the part again.
//!
//! A record names its run and its orders, and a file is what its digest says. What
//! is of another run, or has other bytes, is made again and never used.

mod home;

use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

use chrono::{DateTime, NaiveDate, Utc};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use self::home::Home;
use super::given::Given;
use super::list::{LeftOut, PartList, Status};
use crate::fault::{Fault, visible};
use crate::input;
use crate::ledger::digest;
use crate::making::KitPages;
use crate::output::{sweep, unwritable};

/// Name of the journal's folder.
const FOLDER: &str = ".run";

/// Form of the records; another is of another version of the program.
const FORM: u32 = 1;

/// More than any part has pages.
const MOST_PAGES: usize = 1_000_000;

/// The largest record that is read, in bytes: it names every order that was left out,
/// with its reasons.
const MAX_BYTES: usize = 256 * 1024 * 1024;

/// What the run was begun with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Begun {
    pub form: u32,
    pub program: String,
    /// The run's name: when it began, its shard, and a mark that sets it apart.
    pub run: String,
    /// Tells it from another run that began in the same second, in the ledger.
    pub nonce: String,
    /// RFC 3339, in UTC.
    pub began: String,
    /// The day on which the orders were read, and after which first suitable days
    /// were looked for.
    pub today: NaiveDate,
    /// Which shard it is, such as 3/16, and the digest of all orders that were
    /// given, whatever shard they belong to.
    pub shard: Option<String>,
    pub whole: String,
    /// Of the orders and of all that decides what is printed.
    pub digest: String,
    pub parts: usize,
    pub left_out: Vec<LeftOut>,
}

/// One part that is whole.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartRecord {
    /// The run it is of, as [`Begun::ledger_name`] has it; empty in records of
    /// programs that did not write it, which are of no run.
    #[serde(default)]
    pub run: String,
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
    /// The paper of each kit in a file of its own, if that was asked for.
    pub archive: Vec<FileRecord>,
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
    /// Where its labels lie: "sheet 2: 6 7 8 9 10".
    pub places: String,
    /// Sides of its paper, up to the last printed one.
    pub sides: usize,
}

/// The end of a run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Ended {
    /// As that of [`PartRecord`].
    #[serde(default)]
    pub run: String,
    pub packing: Vec<FileRecord>,
    pub manifest: FileRecord,
}

/// The folder of a run, locked for as long as this lives.
pub struct Journal {
    home: Home,
    /// Files that were not as the run had left them, and were written over.
    replaced: Mutex<Vec<PathBuf>>,
    /// Files of the run that were not there any more.
    gone: Mutex<Vec<PathBuf>>,
}

impl Journal {
    /// Takes the folder `out` if it holds a run.
    ///
    /// # Errors
    ///
    /// As [`Journal::open`].
    pub fn of(out: &Path) -> Result<Option<Self>, Fault> {
        match out.join(FOLDER).symlink_metadata() {
            Ok(_) => Self::open(out).map(Some),
            // What is in its way is told when it is taken.
            Err(_) => Ok(None),
        }
    }

    /// Takes the folder `out` for a run.
    ///
    /// # Errors
    ///
    /// A fault if it cannot be written to or another run has it.
    pub fn open(out: &Path) -> Result<Self, Fault> {
        let home = Home::take(out)?;
        sweep(home.folder(), ".tmp");
        Ok(Self { home, replaced: Mutex::default(), gone: Mutex::default() })
    }

    /// That the folder is still the one that was taken. Everything here asks first;
    /// others do before they remember what is in it.
    ///
    /// # Errors
    ///
    /// A fault if it was moved away, or another put in its place.
    pub fn still(&self) -> Result<(), Fault> {
        self.home.still()
    }

    /// Writes a file that is not to be printed yet: into the journal's folder.
    ///
    /// # Errors
    ///
    /// As [`Journal::write`].
    pub fn stage(&self, name: &str, bytes: &[u8]) -> Result<FileRecord, Fault> {
        self.home.write(&Path::new(FOLDER).join(name), bytes)?;
        Ok(FileRecord { name: name.to_owned(), sha256: digest(bytes) })
    }

    /// Puts the staged files of a part in their place. Done again, it does nothing.
    /// What was staged and has other bytes by now is taken away.
    ///
    /// # Errors
    ///
    /// A fault if that cannot be done, or a file is not the one that was proven.
    pub fn publish(&self, record: &PartRecord) -> Result<(), Fault> {
        for file in record.files() {
            self.home.still()?;
            let (staged, path) =
                (self.home.folder().join(&file.name), self.path(&file.name));
            if is_file_with(&staged, &file.sha256) {
                self.note_replaced(&path, &file.sha256);
                let from = Path::new(FOLDER).join(&file.name);
                self.home.rename(&from, Path::new(&file.name))?;
            } else if is_file_with(&path, &file.sha256) {
                // If it stays it does no harm.
                let _ = std::fs::remove_file(&staged);
            } else {
                return Err(Fault::of_file(
                    format!(
                        "{} was changed or taken away while the run was made",
                        path.display()
                    ),
                    "give the command again with --resume: it is made again",
                ));
            }
        }
        Ok(())
    }

    /// That a file which is to be printed has the bytes that were proven.
    ///
    /// # Errors
    ///
    /// A fault if it has not, or the folder is no longer that of the run.
    pub fn must_be(&self, file: &FileRecord) -> Result<(), Fault> {
        self.home.still()?;
        let path = self.path(&file.name);
        if is_file_with(&path, &file.sha256) {
            return Ok(());
        }
        Err(Fault::of_file(
            format!("{} is not the file that the run made and proved", path.display()),
            "do not print it; give the command again with --resume: it is made again",
        ))
    }

    /// Remembers that another file is in the place of one of the run's.
    fn note_replaced(&self, path: &Path, sha256: &str) {
        let is_other = path.symlink_metadata().is_ok() && !is_file_with(path, sha256);
        if let (true, Ok(mut replaced)) = (is_other, self.replaced.lock()) {
            replaced.push(path.to_path_buf());
        }
    }

    /// The files that were not as the run had left them and were made again, since
    /// this was asked last.
    pub fn replaced(&self) -> Vec<PathBuf> {
        taken(&self.replaced)
    }

    /// The files that the run had made and that were there no more when it was looked
    /// for them, since this was asked last.
    pub fn gone(&self) -> Vec<PathBuf> {
        taken(&self.gone)
    }

    /// Writes one of the run's own files and gives its record.
    ///
    /// # Errors
    ///
    /// A fault if it cannot be written; nothing half-written is left.
    pub fn write(&self, name: &str, bytes: &[u8]) -> Result<FileRecord, Fault> {
        self.home.still()?;
        let sha256 = digest(bytes);
        self.note_replaced(&self.path(name), &sha256);
        self.home.write(Path::new(name), bytes)?;
        Ok(FileRecord { name: name.to_owned(), sha256 })
    }

    /// What the folder's run was begun with, if it holds one.
    ///
    /// # Errors
    ///
    /// A fault if its record cannot be read, or is of another version.
    pub fn begun(&self) -> Result<Option<Begun>, Fault> {
        /// What records of every form have.
        #[derive(Deserialize)]
        struct Written {
            form: u32,
            program: String,
        }
        let name = "run.json";
        // Before the rest, which another form may not have.
        let written: Option<Written> = self.read(name)?;
        if let Some(Written { form, program }) = written
            && form != FORM
        {
            return Err(Fault::new(
                format!(
                    "{} was begun by version {} of the program, in the form {form}; this \
                     is version {} and knows the form {FORM}",
                    self.home.out().display(),
                    visible(&program),
                    env!("CARGO_PKG_VERSION")
                ),
                "go on with the version that began it, or name another folder with --out",
            ));
        }
        self.read(name)
    }

    /// # Errors
    ///
    /// A fault if it cannot be written.
    pub fn begin(&self, begun: &Begun, given: &Given) -> Result<(), Fault> {
        self.put("given.json", given)?;
        self.put("run.json", begun)
    }

    /// What the folder's run was given, if that can be read: it only explains.
    pub fn given(&self) -> Option<Given> {
        self.read("given.json").ok().flatten()
    }

    /// The record of a part of the run, if it is of this run and these orders, and
    /// whole: with all its files as they were.
    ///
    /// # Errors
    ///
    /// A fault if the record cannot be read.
    pub fn part(
        &self,
        begun: &Begun,
        list: &PartList,
    ) -> Result<Option<PartRecord>, Fault> {
        let record: Option<PartRecord> = self.read(&part_name(list.number))?;
        Ok(record.filter(|record| {
            record.run == begun.ledger_name()
                && record.is_of(list)
                && record.is_sound()
                && self.has_all(record.files())
        }))
    }

    /// # Errors
    ///
    /// A fault if it cannot be written.
    pub fn end_part(&self, record: &PartRecord) -> Result<(), Fault> {
        self.put(&part_name(record.part), record)
    }

    /// The end of the run, if this run has ended and its files are as they were.
    ///
    /// # Errors
    ///
    /// A fault if the record cannot be read.
    pub fn ended(&self, begun: &Begun) -> Result<Option<Ended>, Fault> {
        let ended: Option<Ended> = self.read("end.json")?;
        Ok(ended.filter(|ended| {
            ended.run == begun.ledger_name()
                && self.has_all(std::iter::once(&ended.manifest).chain(&ended.packing))
        }))
    }

    /// # Errors
    ///
    /// A fault if it cannot be written.
    pub fn end(&self, ended: &Ended) -> Result<(), Fault> {
        self.put("end.json", ended)
    }

    /// Whether a file was sent to a printer: see [`Sent`].
    ///
    /// # Errors
    ///
    /// A fault if that cannot be known: it is not sent then.
    pub fn sent(&self, file: &str) -> Result<Sent, Fault> {
        self.home.still()?;
        let has = |mark: &str| {
            let path = self.home.folder().join(format!("{mark}-{file}"));
            is_there(&path).map_err(|error| input::unreadable(&path, &error))
        };
        Ok(match (has("sent")?, has("sending")?) {
            (true, _) => Sent::Yes,
            (false, true) => Sent::Perhaps,
            (false, false) => Sent::No,
        })
    }

    /// Remembers what is done with a file: that it is being sent, before it is, so
    /// that none is ever printed twice; that it was sent; or that it was not.
    ///
    /// # Errors
    ///
    /// A fault if that cannot be written.
    pub fn set_sent(&self, file: &str, sent: Sent) -> Result<(), Fault> {
        let sending = format!("sending-{file}");
        match sent {
            Sent::Perhaps => self.put(&sending, &file),
            Sent::Yes => self.put(&format!("sent-{file}"), &file),
            Sent::No => {
                self.home.still()?;
                let path = self.home.folder().join(sending);
                std::fs::remove_file(&path).map_err(|error| unwritable(&path, &error))
            }
        }
    }

    /// The ledger's newest entry for the run sheets: settled once, since sheets
    /// that are made again must say the same.
    ///
    /// # Errors
    ///
    /// A fault if it cannot be kept, and that of `newest`.
    pub fn head(
        &self,
        newest: impl FnOnce() -> Result<Option<String>, Fault>,
    ) -> Result<Option<String>, Fault> {
        if let Some(kept) = self.read("head.json")? {
            return Ok(kept);
        }
        let head = newest()?;
        self.put("head.json", &head)?;
        Ok(head)
    }

    pub fn path(&self, file: &str) -> PathBuf {
        self.home.out().join(file)
    }

    /// Whether all the files are as they were; remembers those that are gone.
    fn has_all<'a>(&self, files: impl Iterator<Item = &'a FileRecord>) -> bool {
        let mut all = true;
        for file in files.filter(|file| !self.has(file)) {
            all = false;
            let path = self.path(&file.name);
            if matches!(is_there(&path), Ok(false))
                && let Ok(mut gone) = self.gone.lock()
                && !gone.contains(&path)
            {
                gone.push(path);
            }
        }
        all
    }

    fn has(&self, file: &FileRecord) -> bool {
        let same = |folder: &Path| is_file_with(&folder.join(&file.name), &file.sha256);
        file.name.is_empty() || same(self.home.out()) || same(self.home.folder())
    }

    fn put(&self, name: &str, record: &impl Serialize) -> Result<(), Fault> {
        let json = serde_json::to_vec_pretty(record).map_err(|error| {
            Fault::new(
                format!("the record {name} cannot be made: {error}"),
                "this is a mistake in the program; please report it",
            )
        })?;
        self.home.write(&Path::new(FOLDER).join(name), &json)
    }

    fn read<T: DeserializeOwned>(&self, name: &str) -> Result<Option<T>, Fault> {
        self.home.still()?;
        let path = self.home.folder().join(name);
        if !is_there(&path).map_err(|error| input::unreadable(&path, &error))? {
            return Ok(None);
        }
        let bytes = input::read_bytes(&path, MAX_BYTES)?;
        serde_json::from_slice(&bytes).map(Some).map_err(|error| {
            Fault::new(
                format!("{} is no record of a run: {error}", path.display()),
                "another version of the program may have written it; use another folder",
            )
        })
    }
}

impl PartRecord {
    fn files(&self) -> impl Iterator<Item = &FileRecord> {
        let files = [&self.paper, &self.labels].into_iter().chain(&self.archive);
        files.filter(|file| !file.name.is_empty())
    }

    /// Whether it is of these orders, each of which has a kit or was left out.
    fn is_of(&self, list: &PartList) -> bool {
        let mut kits = self.kits.iter().peekable();
        let each = list.orders.iter().zip(&list.inputs).all(|(order, input)| match kits
            .next_if(|kit| kit.order == *order)
        {
            Some(kit) => kit.input == *input,
            None => self.left_out.iter().any(|out| out.order == *order),
        });
        each && kits.peek().is_none()
            && self.part == list.number
            && self.stock == list.stock.name
            && self.start_at == list.start_at
    }

    /// Whether the numbers in it can be those of a part.
    fn is_sound(&self) -> bool {
        let pages = 1..=MOST_PAGES;
        let is_inside = |file: &FileRecord| {
            let mut parts = Path::new(&file.name).components();
            parts.all(|part| matches!(part, std::path::Component::Normal(_)))
        };
        self.files().all(is_inside)
            && self.kits.iter().all(|kit| {
                pages.contains(&kit.sides)
                    && pages.contains(&kit.pages.first)
                    && kit.sides == kit.pages.blank.len()
            })
    }
}

/// Whether a file was sent to a printer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sent {
    No,
    /// The program ended while it was being sent.
    Perhaps,
    Yes,
}

impl Begun {
    /// What a run of these orders begins with; `whole` is the digest of all that
    /// were given, `digest` of what decides what is printed.
    pub fn new(
        began: DateTime<Utc>,
        today: NaiveDate,
        shard: Option<super::Shard>,
        whole: String,
        digest: String,
        list: &super::list::List,
    ) -> Self {
        let of = shard
            .map_or_else(String::new, |shard| format!("-{}of{}", shard.number, shard.of));
        let mut nonce = [0; 4];
        // Without the system's randomness the name alone must do.
        let _ = getrandom::fill(&mut nonce);
        Self {
            form: FORM,
            program: env!("CARGO_PKG_VERSION").to_owned(),
            run: format!("{}{of}-{}", began.format("%Y%m%d-%H%M%S"), &digest[..4]),
            nonce: nonce.iter().map(|byte| format!("{byte:02x}")).collect(),
            began: began.to_rfc3339_opts(chrono::SecondsFormat::Secs, true),
            today,
            shard: shard.map(|shard| shard.to_string()),
            whole,
            digest,
            parts: list.parts.len(),
            left_out: list.left_out.clone(),
        }
    }

    /// The run's name in the ledger.
    pub fn ledger_name(&self) -> String {
        format!("{}-{}", self.run, self.nonce)
    }

    /// How an order was left out as made before, if it was.
    pub fn before(&self, order: &str) -> Option<LeftOut> {
        let before = |out: &&LeftOut| out.status == Status::Before && out.order == order;
        self.left_out.iter().find(before).cloned()
    }

    /// Whether a run of the same orders, by the same program, goes on from this.
    pub fn is_of(&self, digest: &str) -> bool {
        self.is_of_this_program() && self.digest == digest
    }

    pub fn is_of_this_program(&self) -> bool {
        self.program == env!("CARGO_PKG_VERSION")
    }
}

fn taken(files: &Mutex<Vec<PathBuf>>) -> Vec<PathBuf> {
    files.lock().map(|mut files| std::mem::take(&mut *files)).unwrap_or_default()
}

fn part_name(part: usize) -> String {
    format!("part-{part:03}.json")
}

/// Whether something has the name `path`, a link that leads nowhere, too.
fn is_there(path: &Path) -> std::io::Result<bool> {
    match path.symlink_metadata() {
        Ok(_) => Ok(true),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(false),
        Err(error) => Err(error),
    }
}

/// Whether `path` is a file whose bytes have that SHA-256.
fn is_file_with(path: &Path, sha256: &str) -> bool {
    // Not a pipe, which may never end; nor a link, which can lead elsewhere later.
    std::fs::symlink_metadata(path).is_ok_and(|about| about.is_file())
        && std::fs::read(path).is_ok_and(|bytes| digest(&bytes) == sha256)
}
