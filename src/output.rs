//! Writes finished files: whole or not at all.
//!
//! A file is written under a temporary name, put on the disk, and then given its
//! own, so that a power cut leaves all of it or nothing. What a program that was
//! killed left under temporary names is swept away by the next that writes there.

use std::fs::{File, TryLockError};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use tempfile::NamedTempFile;

use crate::fault::Fault;

/// How temporary files are called, beside what is to be their place.
pub(crate) const TEMPORARY: &str = ".kitwright-";

/// Writes `bytes` to `path`, but never in the place of a file that is there, not
/// even of one that another program makes meanwhile. Patient data is for the owner
/// alone: the file is made with mode 0600.
///
/// # Errors
///
/// A fault that names the file and says what stands in the way.
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    let mut staged = Staged::default();
    staged.add(path.to_path_buf(), bytes)?;
    staged.publish().map_err(|mut faults| faults.remove(0))
}

/// Finished files that are on the disk under temporary names and wait for their
/// own. Dropped, they are gone.
///
/// What is remembered before it may be seen is staged, then recorded, then
/// published: the disk is full, or a name is taken, before anything is recorded.
#[derive(Debug, Default)]
pub struct Staged {
    files: Vec<(PathBuf, NamedTempFile, bool)>,
    /// Folders that are written to.
    held: Vec<Held>,
}

impl Staged {
    /// Writes `bytes` beside `path`, for the owner alone.
    ///
    /// # Errors
    ///
    /// A fault for a file that is there, and for what stands in the way.
    pub fn add(&mut self, path: PathBuf, bytes: &[u8]) -> Result<(), Fault> {
        if path.symlink_metadata().is_ok() {
            return Err(taken(&path));
        }
        self.stage(path, bytes, false)
    }

    /// As [`Staged::add`], in the place of a file of ours that is there.
    ///
    /// # Errors
    ///
    /// A fault for what stands in the way.
    pub fn replace(&mut self, path: PathBuf, bytes: &[u8]) -> Result<(), Fault> {
        self.stage(path, bytes, true)
    }

    fn stage(
        &mut self,
        path: PathBuf,
        bytes: &[u8],
        replaces: bool,
    ) -> Result<(), Fault> {
        let folder = folder_of(&path);
        let written = make_folder(folder, Folder::Usual).and_then(|()| {
            self.held.push(Held::of(folder));
            let mut file =
                tempfile::Builder::new().prefix(TEMPORARY).tempfile_in(folder)?;
            file.write_all(bytes)?;
            file.as_file().sync_all()?;
            Ok(file)
        });
        let file = written.map_err(|error| unwritable(&path, &error))?;
        self.files.push((path, file, replaces));
        Ok(())
    }

    /// Where the files will be.
    pub fn paths(&self) -> Vec<PathBuf> {
        self.files.iter().map(|(path, ..)| path.clone()).collect()
    }

    /// Gives all files their names.
    ///
    /// # Errors
    ///
    /// A fault for each file whose name was taken meanwhile or that cannot be
    /// named; the others are there.
    pub fn publish(self) -> Result<(), Vec<Fault>> {
        let mut faults = Vec::new();
        for (path, file, replaces) in self.files {
            let named = if replaces {
                file.persist(&path)
            } else {
                file.persist_noclobber(&path)
            };
            let named = match named {
                // So that the new name, too, is on the disk.
                Ok(_) => sync_folder(folder_of(&path)),
                Err(error) => Err(error.error),
            };
            match named {
                Ok(()) => {}
                Err(error) if error.kind() == ErrorKind::AlreadyExists => {
                    faults.push(taken(&path));
                }
                Err(error) => faults.push(unwritable(&path, &error)),
            }
        }
        if faults.is_empty() { Ok(()) } else { Err(faults) }
    }
}

/// How long another may sweep a folder, in milliseconds. Who holds it for longer does not
/// sweep, and is not waited for.
const SWEEPING_MS: u32 = 2_000;

/// A folder in which temporary files are written, for as long as this lives: nobody
/// sweeps there meanwhile.
///
/// The lock is on the folder itself. Where that cannot be had, as on a network
/// share, nothing is swept.
#[derive(Debug)]
pub(crate) struct Held {
    _lock: Option<File>,
}

impl Held {
    /// Sweeps the folder, if nobody else is writing in it, and holds it.
    pub(crate) fn of(folder: &Path) -> Self {
        let Ok(lock) = File::open(folder) else { return Self { _lock: None } };
        if lock.try_lock().is_ok() {
            sweep(folder, TEMPORARY);
            let _ = lock.unlock();
        }
        // While another sweeps, what is written here now would be swept with the rest.
        let mut held = lock.try_lock_shared();
        for _ in 0..SWEEPING_MS {
            if !matches!(held, Err(TryLockError::WouldBlock)) {
                break;
            }
            std::thread::sleep(Duration::from_millis(1));
            held = lock.try_lock_shared();
        }
        Self { _lock: held.is_ok().then_some(lock) }
    }
}

/// Takes away the files of a folder whose names begin with `prefix`: what a program
/// that was killed left half-written.
pub(crate) fn sweep(folder: &Path, prefix: &str) {
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let is_file = entry.file_type().is_ok_and(|kind| kind.is_file());
        if is_file && entry.file_name().to_string_lossy().starts_with(prefix) {
            // If it stays it does no harm.
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

/// Who may enter a folder that is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Folder {
    /// Whoever the system lets.
    Usual,
    /// Its owner alone.
    Private,
}

/// Makes a folder and those it is in, unless they are there, and puts their names on
/// the disk.
pub(crate) fn make_folder(folder: &Path, kind: Folder) -> std::io::Result<()> {
    if folder.is_dir() {
        return Ok(());
    }
    let around = folder_of(folder);
    if around != folder {
        make_folder(around, kind)?;
    }
    let mut builder = std::fs::DirBuilder::new();
    #[cfg(unix)]
    if kind == Folder::Private {
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    }
    match builder.create(folder) {
        // Another program made it meanwhile.
        Err(error) if error.kind() == ErrorKind::AlreadyExists && folder.is_dir() => {
            Ok(())
        }
        Err(error) => Err(error),
        Ok(()) => sync_folder(around),
    }
}

/// Puts the names in a folder on the disk.
pub(crate) fn sync_folder(folder: &Path) -> std::io::Result<()> {
    File::open(folder)?.sync_all()
}

fn folder_of(path: &Path) -> &Path {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    folder.unwrap_or(Path::new("."))
}

fn taken(path: &Path) -> Fault {
    Fault::of_file(
        format!("cannot write {}: it is there already", path.display()),
        "move it away, or name another place",
    )
}

/// The fault of a file that cannot be written.
pub fn unwritable(path: &Path, error: &std::io::Error) -> Fault {
    Fault::of_file(
        format!("cannot write {}: {error}", path.display()),
        "check that the folder is there, may be written to and has room",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_is_taken_meanwhile_is_not_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let (one, two) = (folder.path().join("one"), folder.path().join("two"));
        let mut staged = Staged::default();
        staged.add(one.clone(), b"mine").unwrap();
        staged.add(two.clone(), b"mine").unwrap();
        std::fs::write(&one, "theirs").unwrap();
        let faults = staged.publish().unwrap_err();
        assert_eq!(faults.len(), 1);
        assert!(faults[0].what.contains("it is there already"), "{}", faults[0].what);
        assert_eq!(std::fs::read(&one).unwrap(), b"theirs");
        assert_eq!(std::fs::read(&two).unwrap(), b"mine");
        let left = std::fs::read_dir(folder.path()).unwrap().count();
        assert_eq!(left, 2, "no temporary file is left");
    }

    #[test]
    fn what_is_staged_and_dropped_is_gone() {
        let folder = tempfile::tempdir().unwrap();
        let mut staged = Staged::default();
        staged.add(folder.path().join("one"), b"mine").unwrap();
        drop(staged);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
