//! The one place that writes files: a results folder in which a file is either old or new, never half.
//!
//! In: a folder, a name, bytes. Out: the file, written beside its place under another name, put on
//! disk, then renamed (POSIX `rename` replaces in one step). A disk that fills up leaves the old file.
//! Several files of one run are all put on disk before the first is renamed: old or new as a set,
//! but for a machine that stops between two renames.

use crate::escape;
use std::fs::{self, File, TryLockError};
use std::io::{self, BufWriter, Write};
use std::path::{Component, Path, PathBuf};
use tempfile::NamedTempFile;

/// The document that makes a folder a results folder.
pub const RESULTS: &str = "results.json";
/// The page that a person opens.
pub const PAGE: &str = "overview.html";
/// Parts of a run, finished or not.
pub const SHARDS: &str = "shards";

/// How the names of files begin that are not yet in their place.
const UNFINISHED: &str = ".writing-";

/// What to do with a folder that holds results already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Refuse it.
    Fresh,
    /// Keep what is there and go on.
    Resume,
    /// Write over it.
    Force,
}

/// Why a folder or file could not be written.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    #[error("{} holds results already; go on with them by --resume, write over them by --force, or name another folder with --out", escape::path(.0))]
    Occupied(PathBuf),
    #[error("another run is writing into {}; let it end, or name another folder with --out", escape::path(.0))]
    Busy(PathBuf),
    #[error("cannot read the folder {}: {reason}", escape::path(path))]
    Listing { path: PathBuf, reason: io::Error },
    #[error("cannot make the folder {}: {reason}", escape::path(path))]
    Folder { path: PathBuf, reason: io::Error },
    #[error("cannot write {}: {reason}", escape::path(path))]
    File { path: PathBuf, reason: io::Error },
    #[error("cannot remove {}: {reason}", escape::path(path))]
    Removal { path: PathBuf, reason: io::Error },
}

/// A folder that takes the files of one run.
#[derive(Clone, Debug)]
pub struct ResultsFolder {
    dir: PathBuf,
}

impl ResultsFolder {
    /// Makes the folder, or opens it where it may be used.
    ///
    /// # Errors
    /// `Occupied` where it holds results and the mode is `Fresh`; `Folder` where it cannot be made.
    pub fn create(dir: &Path, mode: Mode) -> Result<ResultsFolder, FolderError> {
        let holds_results = dir.join(RESULTS).exists() || dir.join(SHARDS).exists();
        if mode == Mode::Fresh && holds_results {
            return Err(FolderError::Occupied(dir.to_path_buf()));
        }
        make(dir)?;
        Ok(ResultsFolder { dir: dir.to_path_buf() })
    }

    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// Where a file of this name stands or would stand.
    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.join(name)
    }

    /// # Errors
    /// `File`, with the path and what the system said; an older file of that name is then untouched.
    pub fn write(&self, name: &str, bytes: &[u8]) -> Result<PathBuf, FolderError> {
        self.write_with(name, |out| out.write_all(bytes))
    }

    /// The same for what is too large to hold as a whole: `fill` writes it piece by piece.
    ///
    /// # Errors
    /// As `write`, and whatever `fill` reports.
    pub fn write_with(
        &self,
        name: &str,
        fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<PathBuf, FolderError> {
        let (path, parent) = self.place(name)?;
        let file = |reason| FolderError::File { path: path.clone(), reason };
        let written = prepare(&parent, fill).and_then(on_disk).map_err(file)?;
        put(written, &path).and_then(|()| sync_folder(&parent)).map_err(file)?;
        Ok(path)
    }

    /// The same without waiting for the disk: a file that a power cut may damage, and that is made
    /// again if it is.
    ///
    /// # Errors
    /// As `write`.
    pub fn write_lightly(&self, name: &str, bytes: &[u8]) -> Result<(), FolderError> {
        let (path, parent) = self.place(name)?;
        let written = prepare(&parent, |out| out.write_all(bytes));
        written.and_then(|file| put(file, &path)).map_err(|reason| FolderError::File { path, reason })
    }

    /// Files of one run, in this order: every one is on disk before the first takes its place.
    ///
    /// # Errors
    /// As `write`; while there is no room for all, none of the old ones is touched.
    pub fn write_all(&self, files: &[(&str, Vec<u8>)]) -> Result<(), FolderError> {
        let mut ready = Vec::with_capacity(files.len());
        for (name, bytes) in files {
            let (path, parent) = self.place(name)?;
            match prepare(&parent, |out| out.write_all(bytes)).and_then(on_disk) {
                Ok(file) => ready.push((path, file)),
                Err(reason) => return Err(FolderError::File { path, reason }),
            }
        }
        for (path, file) in ready {
            put(file, &path).map_err(|reason| FolderError::File { path, reason })?;
        }
        let path = self.dir.clone();
        sync_folder(&self.dir).map_err(|reason| FolderError::File { path, reason })
    }

    /// Keeps other runs out of the folder for as long as the answer lives; the system lets go of it
    /// when the program ends, however it ends. `None` where the file system knows no locks.
    ///
    /// # Errors
    /// `Busy` where another run holds it.
    pub fn lock(&self) -> Result<Option<File>, FolderError> {
        let Ok(file) = File::open(&self.dir) else {
            return Ok(None);
        };
        match file.try_lock() {
            Ok(()) => Ok(Some(file)),
            Err(TryLockError::WouldBlock) => Err(FolderError::Busy(self.dir.clone())),
            Err(TryLockError::Error(_)) => Ok(None),
        }
    }

    /// Removes what a run that was killed had not finished writing; to be called under `lock`.
    ///
    /// # Errors
    /// `Listing` or `Removal`.
    pub fn remove_unfinished(&self) -> Result<(), FolderError> {
        let listing = |reason| FolderError::Listing { path: self.dir.clone(), reason };
        for entry in fs::read_dir(&self.dir).map_err(listing)? {
            let name = entry.map_err(listing)?.file_name();
            if let Some(name) = name.to_str().filter(|name| name.starts_with(UNFINISHED)) {
                self.remove(name)?;
            }
        }
        Ok(())
    }

    /// Removes a folder within, and all that is in it, where there is one.
    ///
    /// # Errors
    /// `Removal`.
    pub fn remove_folder(&self, name: &str) -> Result<(), FolderError> {
        let path = self.path(name);
        match fs::remove_dir_all(&path) {
            Err(reason) if reason.kind() != io::ErrorKind::NotFound => Err(FolderError::Removal { path, reason }),
            _ => Ok(()),
        }
    }

    /// The path of a name, and the folder it is in, which is made.
    fn place(&self, name: &str) -> Result<(PathBuf, PathBuf), FolderError> {
        let path = self.path(name);
        if !stays_inside(name) {
            let reason = io::Error::new(io::ErrorKind::InvalidInput, "the name leads out of the results folder");
            return Err(FolderError::File { path, reason });
        }
        let parent = path.parent().unwrap_or(&self.dir).to_path_buf();
        make(&parent)?;
        Ok((path, parent))
    }

    /// Removes a file, where there is one.
    ///
    /// # Errors
    /// `Removal`; a file that is not there is no error.
    pub fn remove(&self, name: &str) -> Result<(), FolderError> {
        let path = self.path(name);
        match fs::remove_file(&path) {
            Err(reason) if reason.kind() != io::ErrorKind::NotFound => Err(FolderError::Removal { path, reason }),
            _ => Ok(()),
        }
    }
}

fn make(dir: &Path) -> Result<(), FolderError> {
    fs::create_dir_all(dir).map_err(|reason| FolderError::Folder { path: dir.to_path_buf(), reason })
}

/// A name within the folder: no root, no `..`.
fn stays_inside(name: &str) -> bool {
    !name.is_empty() && Path::new(name).components().all(|c| matches!(c, Component::Normal(_)))
}

/// Writes beside the place. What is not put there later removes itself.
fn prepare(parent: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<NamedTempFile> {
    let mut out = BufWriter::new(temporary(parent)?);
    fill(&mut out)?;
    out.into_inner().map_err(io::IntoInnerError::into_error)
}

fn on_disk(file: NamedTempFile) -> io::Result<NamedTempFile> {
    file.as_file().sync_all()?;
    Ok(file)
}

fn put(file: NamedTempFile, path: &Path) -> io::Result<()> {
    file.persist(path).map(drop).map_err(|e| e.error)
}

/// A new file beside its place, with the rights that a plain new file would have.
fn temporary(parent: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(UNFINISHED);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(parent)
}

/// Puts the rename itself on disk; other systems than Unix offer no such call.
fn sync_folder(parent: &Path) -> io::Result<()> {
    if cfg!(unix) { File::open(parent)?.sync_all() } else { Ok(()) }
}
