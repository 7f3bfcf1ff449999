//! The folder of a run, held by one run, and never taken for another of its name.
//!
//! A folder can be moved away while a run works, and another made under its name.
//! So whoever reads or writes here asks first whether the folder is still the one
//! that was taken, and a file gets its name in that very folder, wherever it is now.

use std::fs::{File, Metadata};
use std::io::Write;
use std::path::{Path, PathBuf};

use super::FOLDER;
use crate::fault::Fault;
use crate::output::{Folder, make_folder, sync_folder, unwritable};

/// A folder that is locked for as long as this lives.
pub(super) struct Home {
    out: PathBuf,
    /// Of the journal.
    folder: PathBuf,
    lock: File,
    /// The folder itself, open: its number on the disk is not given out again.
    #[cfg(unix)]
    dir: File,
}

impl Home {
    /// Takes the folder `out`, and makes it where there is none.
    ///
    /// # Errors
    ///
    /// A fault if it cannot be written to or another run has it.
    pub(super) fn take(out: &Path) -> Result<Self, Fault> {
        let folder = out.join(FOLDER);
        let cannot = |error: &dyn std::fmt::Display| {
            Fault::of_file(
                format!("cannot write to the folder {}: {error}", out.display()),
                "name another folder with --out, or mend its permissions",
            )
        };
        // It would lead out of the folder, and what lies there would be swept.
        if folder.symlink_metadata().is_ok_and(|about| about.is_symlink()) {
            return Err(cannot(&format!("{} is a link", folder.display())));
        }
        make_private(out)
            .and_then(|()| make_private(&folder))
            .map_err(|error| cannot(&error))?;
        #[cfg(unix)]
        let dir = File::open(out).map_err(|error| cannot(&error))?;
        let path = folder.join("lock");
        let lock = open_lock(&path)?;
        if let Err(error) = lock.try_lock() {
            return Err(match error {
                std::fs::TryLockError::WouldBlock => Fault::of_file(
                    format!("another run is writing to {}", out.display()),
                    "wait until it is done, or name another folder with --out",
                ),
                std::fs::TryLockError::Error(error) => unwritable(&path, &error),
            });
        }
        let home = Self {
            out: out.to_path_buf(),
            folder,
            lock,
            #[cfg(unix)]
            dir,
        };
        // It can have been moved between the two.
        home.still()?;
        Ok(home)
    }

    /// Where the run's files are.
    pub(super) fn out(&self) -> &Path {
        &self.out
    }

    /// Where the journal is.
    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    /// That the folder and its lock are those that were taken.
    ///
    /// # Errors
    ///
    /// A fault if the folder was moved away or another is in its place: what is
    /// there is another run's.
    pub(super) fn still(&self) -> Result<(), Fault> {
        let lock = is_same(&self.lock, self.folder.join("lock").symlink_metadata());
        #[cfg(unix)]
        let dir = is_same(&self.dir, self.out.metadata());
        #[cfg(not(unix))]
        let dir = true;
        if lock && dir {
            return Ok(());
        }
        Err(Fault::of_file(
            format!(
                "{} is no longer the folder that this run was writing to: it, or {FOLDER}/lock \
                 in it, was moved away or another put in its place",
                self.out.display()
            ),
            "nothing more of this run is written; go on with it where its folder is now: \
             give the command again with --resume and that folder as --out",
        ))
    }

    /// Writes `bytes` to the file `name` of the folder, also in the place of a file
    /// that is there: whole or not at all.
    ///
    /// # Errors
    ///
    /// A fault if it cannot be written, or the folder is no longer that of the run;
    /// nothing half-written is left.
    pub(super) fn write(&self, name: &Path, bytes: &[u8]) -> Result<(), Fault> {
        self.still()?;
        let path = self.out.join(name);
        let written = self.make_room(&path).and_then(|()| {
            let mut file = tempfile::NamedTempFile::new_in(&self.folder)?;
            file.write_all(bytes)?;
            file.as_file().sync_all()?;
            Ok(file)
        });
        let file = written.map_err(|error| self.fault(&path, &error))?;
        // Writing takes its time.
        self.still()?;
        let temporary = file.into_temp_path();
        let short = temporary.file_name().unwrap_or_default();
        self.name(&Path::new(FOLDER).join(short), name)?;
        // It has its own name now, and is not to be taken away.
        let _ = temporary.keep();
        Ok(())
    }

    /// Gives the file `from` of the folder the name `to`, in the place of a file that
    /// has it.
    ///
    /// # Errors
    ///
    /// A fault if that cannot be done, or the folder is no longer that of the run.
    pub(super) fn rename(&self, from: &Path, to: &Path) -> Result<(), Fault> {
        self.still()?;
        let path = self.out.join(to);
        self.make_room(&path).map_err(|error| self.fault(&path, &error))?;
        self.name(from, to)
    }

    fn name(&self, from: &Path, to: &Path) -> Result<(), Fault> {
        let path = self.out.join(to);
        let folder = path.parent().unwrap_or(&self.out);
        // In the folder that was taken, and not in whichever has its name by now.
        #[cfg(unix)]
        let named = rustix::fs::renameat(&self.dir, from, &self.dir, to)
            .map_err(std::io::Error::from);
        #[cfg(not(unix))]
        let named = std::fs::rename(self.out.join(from), &path);
        named
            // So that the new name, too, is on the disk.
            .and_then(|()| sync_folder(folder))
            .map_err(|error| self.fault(&path, &error))
    }

    /// Why `path` cannot be written: the folder can have been moved away just now.
    fn fault(&self, path: &Path, error: &std::io::Error) -> Fault {
        self.still().err().unwrap_or_else(|| unwritable(path, error))
    }

    /// Makes the folder that `path` is to be in.
    fn make_room(&self, path: &Path) -> std::io::Result<()> {
        make_private(path.parent().unwrap_or(&self.out))
    }
}

/// Makes a folder that only its owner may enter, unless it is there.
fn make_private(folder: &Path) -> std::io::Result<()> {
    make_folder(folder, Folder::Private)
}

/// Whether the open `file` is what was found under its name.
#[cfg(unix)]
fn is_same(file: &File, found: std::io::Result<Metadata>) -> bool {
    use std::os::unix::fs::MetadataExt;
    let identity = |about: Metadata| (about.dev(), about.ino());
    match (file.metadata(), found) {
        (Ok(held), Ok(found)) => identity(held) == identity(found),
        _ => false,
    }
}

/// A folder with open files is not moved there.
#[cfg(not(unix))]
fn is_same(_: &File, found: std::io::Result<Metadata>) -> bool {
    found.is_ok()
}

/// Opens the file that is locked, and makes it if it is not there. A pipe, whose other
/// end nobody may ever open, is not waited for.
fn open_lock(path: &Path) -> Result<File, Fault> {
    let no_file = || {
        Fault::of_file(
            format!("{} is no file: it cannot be locked", path.display()),
            "take it away, the program makes its own; or name another folder with --out",
        )
    };
    if path.symlink_metadata().is_ok_and(|about| !about.is_file()) {
        return Err(no_file());
    }
    let mut options = File::options();
    options.create(true).truncate(false).write(true);
    #[cfg(unix)]
    {
        use rustix::fs::OFlags;
        use std::os::unix::fs::OpenOptionsExt;
        // It can have become a pipe or a link since it was looked at.
        let flags = (OFlags::NONBLOCK | OFlags::NOFOLLOW).bits();
        options.mode(0o600).custom_flags(flags.cast_signed());
    }
    let file = options.open(path).map_err(|error| unwritable(path, &error))?;
    match file.metadata() {
        Ok(about) if about.is_file() => Ok(file),
        Ok(_) => Err(no_file()),
        Err(error) => Err(unwritable(path, &error)),
    }
}
