//! The one place that writes files: a results folder in which a file is either old or new, never half.
//!
//! In: a folder, a name, bytes. Out: the file, written beside its place under another name, put on
//! disk, then renamed (POSIX `rename` replaces in one step). A disk that fills up leaves the old file.

use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Component, Path, PathBuf};

/// The document that makes a folder a results folder.
pub const RESULTS: &str = "results.json";
/// Parts of a run, finished or not.
pub const SHARDS: &str = "shards";

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
    #[error("{} holds results already; go on with them by --resume, write over them by --force, or name another folder with --out", .0.display())]
    Occupied(PathBuf),
    #[error("cannot make the folder {}: {reason}", path.display())]
    Folder { path: PathBuf, reason: io::Error },
    #[error("cannot write {}: {reason}", path.display())]
    File { path: PathBuf, reason: io::Error },
    #[error("cannot remove {}: {reason}", path.display())]
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
        let path = self.path(name);
        if !stays_inside(name) {
            let reason = io::Error::new(io::ErrorKind::InvalidInput, "the name leads out of the results folder");
            return Err(FolderError::File { path, reason });
        }
        let parent = path.parent().unwrap_or(&self.dir);
        make(parent)?;
        replace(&path, parent, fill).map_err(|reason| FolderError::File { path: path.clone(), reason })?;
        Ok(path)
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

fn replace(path: &Path, parent: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<()> {
    let mut out = BufWriter::new(temporary(parent)?);
    fill(&mut out)?;
    let file = out.into_inner().map_err(io::IntoInnerError::into_error)?;
    file.as_file().sync_all()?;
    file.persist(path).map_err(|e| e.error)?;
    sync_folder(parent)
}

/// A new file beside its place, with the rights that a plain new file would have.
fn temporary(parent: &Path) -> io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".writing-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(parent)
}

/// Puts the rename itself on disk; other systems than Unix offer no such call.
fn sync_folder(parent: &Path) -> io::Result<()> {
    if cfg!(unix) { fs::File::open(parent)?.sync_all() } else { Ok(()) }
}
