//! Writes finished files: whole or not at all.

use std::io::Write;
use std::path::Path;

use crate::fault::Fault;

/// Writes `bytes` to `path` by way of a temporary file beside it, so that a
/// power cut leaves the old file or the new one. Patient data is for the owner
/// alone: the file is made with mode 0600.
///
/// # Errors
///
/// A fault that names the file and says what stands in the way.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder).map_err(|error| unwritable(path, &error))?;
    write_by_way_of(folder, path, bytes)
}

/// As [`write_whole`], but never in the place of a file that is there.
///
/// # Errors
///
/// As [`write_whole`], and for a file that is there.
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    if path.symlink_metadata().is_ok() {
        return Err(Fault::of_file(
            format!("cannot write {}: it is there already", path.display()),
            "move it away, or name another folder with --out",
        ));
    }
    write_whole(path, bytes)
}

/// As [`write_whole`], with the temporary file in the folder `by_way_of`, which
/// must be on the same disk.
///
/// # Errors
///
/// As [`write_whole`].
pub fn write_by_way_of(by_way_of: &Path, path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.unwrap_or(Path::new("."));
    let written = std::fs::create_dir_all(folder).and_then(|()| {
        let mut file = tempfile::NamedTempFile::new_in(by_way_of)?;
        file.write_all(bytes)?;
        file.as_file().sync_all()?;
        file.persist(path).map_err(|error| error.error)?;
        // So that the new name, too, is on the disk.
        std::fs::File::open(folder)?.sync_all()
    });
    written.map_err(|error| unwritable(path, &error))
}

/// The fault of a file that cannot be written.
pub fn unwritable(path: &Path, error: &std::io::Error) -> Fault {
    Fault::of_file(
        format!("cannot write {}: {error}", path.display()),
        "check that the folder is there, may be written to and has room",
    )
}
