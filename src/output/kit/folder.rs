//! The one place that writes files: a results folder, which is the user's. It knows the files that this program wrote
//! in it by a list with the digest of each (`list`), and touches nothing else.
//!
//! In: a folder, which command writes, the names of its files, then their bytes. Out: the files, old or new as a set.
//! All names are looked at before anything is run or written: one that is not a plain file, or not on the list, refuses
//! the set as a whole. New files are written beside their places under names that nobody else has (`names`) and put on
//! disk; then the list is written with both the old and the new digests, each file renamed into its place (POSIX
//! `rename` replaces in one step), and the list written again. So a disk that fills up leaves the old set, and a
//! program that is killed between two renames leaves files that are all known.

mod disk;
mod error;
mod list;
mod look;
mod names;
mod set;
mod shards;
mod under_way;

pub use error::FolderError;
pub use list::{RunDetails, Writer};
pub use names::{MANIFEST, PAGE, RESULTS, SHARDS};
pub use set::{Folder, Mode};
pub use under_way::{Finished, RunFolder};
