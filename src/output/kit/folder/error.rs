//! Why a folder or a file was not written, in words.

use crate::escape;
use std::io;
use std::path::PathBuf;

/// Why a folder or a file was not written.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// A set of results, or a run under way, is there.
    #[error("{} holds results already; {}write over them by --force, or name another folder with --out",
        escape::path(dir), if *resumable { "go on with them by --resume, " } else { "" })]
    Occupied {
        /// The folder.
        dir: PathBuf,
        /// Whether `--resume` may go on with it.
        resumable: bool,
    },
    /// A file of that name is there.
    #[error("{} is there already; write it again by --force, or name another folder with --out", escape::path(.0))]
    There(PathBuf),
    /// A file is there that no list knows.
    #[error("{} is there already, and no list (manifest.json) beside it says that this program wrote it. So it is not \
             written over, not even by --force: move it away, or name another folder with --out", escape::path(.0))]
    Unlisted(PathBuf),
    /// Something other than a file is in the place of one.
    #[error(
        "{} is {kind}, and a file of the results is to be there. It is not touched, not even by --force: move it \
             away, or name another folder with --out",
        escape::path(path)
    )]
    Obstacle {
        /// The place.
        path: PathBuf,
        /// What it is.
        kind: &'static str,
    },
    /// A file named as the list is none.
    #[error("{} is not a list that this version of the program wrote: it is of an older version, of something else, \
             or was changed since. So nothing tells which files beside it are results, and none is written over, not \
             even by --force: name another folder with --out", escape::path(.0))]
    NotAList(PathBuf),
    /// `shards` is not of a run of this program.
    #[error(
        "{} is {kind}, not the folder of an unfinished run, which is to be there. It is not touched, not even by \
             --force: move it away, or name another folder with --out",
        escape::path(path)
    )]
    ForeignShards {
        /// The place.
        path: PathBuf,
        /// What it is.
        kind: &'static str,
    },
    /// Files were changed since they were written.
    #[error("in {}, changed since written: {}. --resume writes over no change: move what is changed away and resume, \
             or make all anew with --force, which writes over it", escape::path(dir), names.join(", "))]
    Changed {
        /// The folder.
        dir: PathBuf,
        /// The files.
        names: Vec<String>,
    },
    /// The folder holds another run.
    #[error(
        "{} holds another run: {difference}; name another folder with --out, or write over it by --force",
        escape::path(dir)
    )]
    OtherRun {
        /// The folder.
        dir: PathBuf,
        /// What differs.
        difference: String,
    },
    /// The folder holds results of another command.
    #[error(
        "{} holds the results of `{command}`, not of a run; name another folder with --out, or write over them \
             by --force",
        escape::path(dir)
    )]
    OtherCommand {
        /// The folder.
        dir: PathBuf,
        /// As typed.
        command: String,
    },
    /// Another run holds the folder.
    #[error("another run is writing into {}; let it end, or name another folder with --out", escape::path(.0))]
    Busy(PathBuf),
    /// What the system says on reading.
    #[error("cannot read {}: {reason}", escape::path(path))]
    Listing {
        /// The place.
        path: PathBuf,
        /// Why.
        reason: io::Error,
    },
    /// What the system says on making a folder.
    #[error("cannot make the folder {}: {reason}", escape::path(path))]
    Folder {
        /// The place.
        path: PathBuf,
        /// Why.
        reason: io::Error,
    },
    /// What the system says on writing a file.
    #[error("cannot write {}: {reason}", escape::path(path))]
    File {
        /// The place.
        path: PathBuf,
        /// Why.
        reason: io::Error,
    },
    /// What the system says on removing.
    #[error("cannot remove {}: {reason}", escape::path(path))]
    Removal {
        /// The place.
        path: PathBuf,
        /// Why.
        reason: io::Error,
    },
}

impl FolderError {
    /// Whether what was asked is at fault, and not the machine.
    pub fn is_refusal(&self) -> bool {
        use FolderError::{Busy, File, Folder, Listing, Removal};
        !matches!(self, Busy(_) | Listing { .. } | Folder { .. } | File { .. } | Removal { .. })
    }
}
