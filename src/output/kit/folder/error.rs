//! Why a folder or a file was not written, in words.

use crate::escape;
use std::io;
use std::path::PathBuf;

#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    #[error("{} holds results already; {}write over them by --force, or name another folder with --out",
        escape::path(dir), if *resumable { "go on with them by --resume, " } else { "" })]
    Occupied { dir: PathBuf, resumable: bool },
    #[error("{} is there already; write it again by --force, or name another folder with --out", escape::path(.0))]
    There(PathBuf),
    #[error("{} is there already, and no list (manifest.json) beside it says that this program wrote it. So it is not \
             written over, not even by --force: move it away, or name another folder with --out", escape::path(.0))]
    Unlisted(PathBuf),
    #[error(
        "{} is {kind}, and a file of the results is to be there. It is not touched, not even by --force: move it \
             away, or name another folder with --out",
        escape::path(path)
    )]
    Obstacle { path: PathBuf, kind: &'static str },
    #[error("{} is not a list that this version of the program wrote: it is of an older version, of something else, \
             or was changed since. So nothing tells which files beside it are results, and none is written over, not \
             even by --force: name another folder with --out", escape::path(.0))]
    NotAList(PathBuf),
    #[error(
        "{} is {kind}, not the folder of an unfinished run, which is to be there. It is not touched, not even by \
             --force: move it away, or name another folder with --out",
        escape::path(path)
    )]
    ForeignShards { path: PathBuf, kind: &'static str },
    #[error("in {}, changed since written: {}. --resume writes over no change: move what is changed away and resume, \
             or make all anew with --force, which writes over it", escape::path(dir), names.join(", "))]
    Changed { dir: PathBuf, names: Vec<String> },
    #[error(
        "{} holds another run: {difference}; name another folder with --out, or write over it by --force",
        escape::path(dir)
    )]
    OtherRun { dir: PathBuf, difference: String },
    #[error(
        "{} holds the results of `{command}`, not of a run; name another folder with --out, or write over them \
             by --force",
        escape::path(dir)
    )]
    OtherCommand { dir: PathBuf, command: &'static str },
    #[error("another run is writing into {}; let it end, or name another folder with --out", escape::path(.0))]
    Busy(PathBuf),
    #[error("cannot read {}: {reason}", escape::path(path))]
    Listing { path: PathBuf, reason: io::Error },
    #[error("cannot make the folder {}: {reason}", escape::path(path))]
    Folder { path: PathBuf, reason: io::Error },
    #[error("cannot write {}: {reason}", escape::path(path))]
    File { path: PathBuf, reason: io::Error },
    #[error("cannot remove {}: {reason}", escape::path(path))]
    Removal { path: PathBuf, reason: io::Error },
}

impl FolderError {
    /// Whether what was asked is at fault, and not the machine.
    pub fn is_refusal(&self) -> bool {
        use FolderError::{Busy, File, Folder, Listing, Removal};
        !matches!(self, Busy(_) | Listing { .. } | Folder { .. } | File { .. } | Removal { .. })
    }
}
