//! All that changes something on disk: folders made and removed, files written beside their places and put there.

use super::error::FolderError;
use super::look::{Found, look};
use super::names;
use std::fs::{self, File, TryLockError};
use std::io::{self, BufWriter, Write};
use std::path::Path;

/// A file that is not yet in its place; what is not put there removes itself.
pub type Unplaced = tempfile::NamedTempFile;

/// Whether the folder is there; a link to a folder is one.
pub fn is_there(dir: &Path) -> Result<bool, FolderError> {
    let failed = |reason| FolderError::Folder { path: dir.to_path_buf(), reason };
    match fs::metadata(dir) {
        Ok(found) if found.is_dir() => Ok(true),
        Ok(_) => Err(failed(io::Error::new(io::ErrorKind::NotADirectory, "there is a file of that name"))),
        Err(reason) if reason.kind() != io::ErrorKind::NotFound => Err(failed(reason)),
        Err(_) if dir.as_os_str().is_empty() => {
            Err(failed(io::Error::new(io::ErrorKind::InvalidInput, "its name is empty")))
        }
        Err(_) if look(dir)? != Found::Nothing => {
            Err(failed(io::Error::new(io::ErrorKind::NotFound, "it is a symbolic link that leads nowhere")))
        }
        Err(_) => Ok(false),
    }
}

/// Whether files can be written there, before work begins that ends with writing them: one without a name is made
/// in the folder, or in the nearest above that is there, and is gone at once.
pub fn probe(dir: &Path) -> Result<(), FolderError> {
    let there = |above: &&Path| above.as_os_str().is_empty() || above.exists();
    let nearest = dir.ancestors().find(there).unwrap_or(dir);
    let nearest = if nearest.as_os_str().is_empty() { Path::new(".") } else { nearest };
    tempfile::tempfile_in(nearest).map(drop).map_err(|reason| FolderError::File { path: dir.to_path_buf(), reason })
}

/// Keeps other runs out of a folder; `None` where the file system knows no locks.
///
/// # Errors
/// `Busy` where another run holds the folder.
pub fn lock(dir: &Path) -> Result<Option<File>, FolderError> {
    let Ok(file) = File::open(dir) else {
        return Ok(None);
    };
    match file.try_lock() {
        Ok(()) => Ok(Some(file)),
        Err(TryLockError::WouldBlock) => Err(FolderError::Busy(dir.to_path_buf())),
        Err(TryLockError::Error(_)) => Ok(None),
    }
}

/// Makes a folder, and those above it.
pub fn make(dir: &Path) -> Result<(), FolderError> {
    fs::create_dir_all(dir).map_err(|reason| FolderError::Folder { path: dir.to_path_buf(), reason })
}

/// A folder with one file in it, both there at once or neither; `sweep` removes what was made of it.
pub fn make_with(dir: &Path, (name, bytes): (&str, &[u8]), sweep: fn(&Path)) -> io::Result<()> {
    let beside = dir.with_file_name(names::temporary());
    fs::create_dir(&beside)?;
    let made = prepare(&beside, bytes).and_then(on_disk).and_then(|file| put_new(file, &beside.join(name)));
    made.and_then(|()| fs::rename(&beside, dir)).inspect_err(|_| sweep(&beside))
}

/// The reverse: a folder in which only files of these names are left. It stays where there is another.
pub fn unmake(dir: &Path, sweep: fn(&Path)) -> io::Result<()> {
    let beside = dir.with_file_name(names::temporary());
    fs::rename(dir, &beside)?;
    sweep(&beside);
    // Somebody has put a file there a moment ago.
    if look(&beside).is_ok_and(|found| found == Found::Folder) { fs::rename(&beside, dir) } else { Ok(()) }
}

/// Removes a file; one that is not there is gone.
pub fn remove(path: &Path) -> Result<(), FolderError> {
    match fs::remove_file(path) {
        Err(reason) if reason.kind() != io::ErrorKind::NotFound => {
            Err(FolderError::Removal { path: path.to_path_buf(), reason })
        }
        _ => Ok(()),
    }
}

/// Removes an empty folder; one that is not empty stays.
pub fn remove_empty(dir: &Path) {
    drop(fs::remove_dir(dir));
}

/// Writes beside the place. What is not put there later removes itself.
pub fn prepare(parent: &Path, bytes: &[u8]) -> io::Result<Unplaced> {
    let mut out = BufWriter::new(temporary(parent)?);
    out.write_all(bytes)?;
    out.into_inner().map_err(io::IntoInnerError::into_error)
}

/// Waits until a file is on disk.
pub fn on_disk(file: Unplaced) -> io::Result<Unplaced> {
    file.as_file().sync_all()?;
    Ok(file)
}

/// Into its place, over what is there.
pub fn put_over(file: Unplaced, path: &Path) -> io::Result<()> {
    file.persist(path).map(drop).map_err(|e| e.error)
}

/// Where nothing is. A file system that cannot tell in the same step is asked before.
pub fn put_new(file: Unplaced, path: &Path) -> io::Result<()> {
    let refused = match file.persist_noclobber(path) {
        Ok(_) => return Ok(()),
        Err(refused) => refused,
    };
    match look(path) {
        Ok(Found::Nothing) => put_over(refused.file, path),
        _ => Err(refused.error),
    }
}

/// A new file beside its place, with the rights that a plain new file would have.
fn temporary(parent: &Path) -> io::Result<Unplaced> {
    let name = names::temporary();
    let mut builder = tempfile::Builder::new();
    builder.prefix(&name).rand_bytes(0);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(parent)
}

/// Puts the rename itself on disk; other systems than Unix offer no such call.
pub fn sync_folder(parent: &Path) -> io::Result<()> {
    if cfg!(unix) { File::open(parent)?.sync_all() } else { Ok(()) }
}
