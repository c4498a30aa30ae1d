//! What a run keeps in its folder while it runs, and how it goes on with what is there.
//!
//! In: folder, mode, identity of the run. Out: the blocks that are missing; finished results.
//!
//! A folder with shards holds a run that is under way, whatever else is in it: earlier results stand
//! until the new ones are whole. One with results and no shards is finished.

use super::super::{Failure, to_json};
use super::write;
use crate::escape;
use crate::output::folder::{FolderError, RESULTS, ResultsFolder, SHARDS};
use crate::summary::Results;
use crate::summary::counts::Counts;
use crate::trials::shard::{Identity, Shard, file_name};
use std::fs::File;
use std::ops::Range;
use std::path::Path;

pub use crate::output::folder::Mode;

/// Which run a folder holds, and what differs from run to run.
pub const MANIFEST: &str = "manifest.json";

/// Which run the shards are of.
const UNDER_WAY: &str = "shards/run.json";

/// The folder of one run.
#[derive(Debug)]
pub struct Store {
    folder: ResultsFolder,
    pub identity: Identity,
    resume: bool,
    /// Held until the program ends.
    _lock: Option<File>,
}

fn machine(error: impl ToString) -> Failure {
    Failure::Machine(error.to_string())
}

impl Store {
    /// # Errors
    /// A folder with results or files that may not be used, or that cannot be made.
    pub fn open(dir: &Path, mode: Mode, identity: Identity) -> Result<Store, Failure> {
        let folder = ResultsFolder::create(dir, mode).map_err(|error| match error {
            FolderError::Occupied(_) => Failure::Usage(error.to_string()),
            _ => machine(error),
        })?;
        let _lock = folder.lock().map_err(machine)?;
        let store = Store { folder, identity, resume: mode == Mode::Resume, _lock };
        if mode == Mode::Force {
            store.remove_shards()?;
        } else {
            store.refuse_files_of_others()?;
        }
        store.folder.remove_unfinished().map_err(machine)?;
        Ok(store)
    }

    /// A file that is called like one of ours, in a folder that no run has written, is the user's.
    fn refuse_files_of_others(&self) -> Result<(), Failure> {
        let ours = |name: &str| self.folder.path(name).exists();
        if ours(RESULTS) || ours(SHARDS) || ours(MANIFEST) {
            return Ok(());
        }
        match write::FILES.iter().find(|name| ours(name)) {
            None => Ok(()),
            Some(name) => Err(Failure::Usage(format!(
                "{} is there already and is not of a run; name another folder with --out, or write over it by --force",
                escape::path(&self.folder.path(name))
            ))),
        }
    }

    pub fn dir(&self) -> &Path {
        self.folder.dir()
    }

    pub fn trials(&self) -> u64 {
        self.identity.trials
    }

    pub fn remove_shards(&self) -> Result<(), Failure> {
        self.folder.remove_folder(SHARDS).map_err(machine)
    }

    /// The results, where the run was finished before; refuses those of another run.
    pub fn finished(&self) -> Result<Option<Results>, Failure> {
        let there = |name: &str| self.folder.path(name).exists();
        if !self.resume || there(SHARDS) || !there(RESULTS) {
            return Ok(None);
        }
        #[derive(serde::Deserialize)]
        struct Manifest {
            identity: Identity,
        }
        let manifest: Manifest = self.read(MANIFEST)?;
        self.refuse_other(&manifest.identity)?;
        self.read(RESULTS).map(Some)
    }

    fn read<T: serde::de::DeserializeOwned>(&self, name: &str) -> Result<T, Failure> {
        let path = self.folder.path(name);
        let damaged = |e: &dyn ToString| {
            machine(format!("{} is damaged ({}); start anew with --force", escape::path(&path), e.to_string()))
        };
        let text = std::fs::read(&path).map_err(|e| damaged(&e))?;
        serde_json::from_slice(&text).map_err(|e| damaged(&e))
    }

    fn refuse_other(&self, there: &Identity) -> Result<(), Failure> {
        match self.identity.difference(there) {
            None => Ok(()),
            Some(difference) => Err(Failure::Usage(format!(
                "{} holds another run: {difference}; name another folder with --out, or write over it by --force",
                escape::path(self.dir())
            ))),
        }
    }

    /// Says whose the shards are that follow. What cannot be read is settled by the shards themselves.
    pub fn begin(&self) -> Result<(), Failure> {
        if let Ok(there) = self.read::<Identity>(UNDER_WAY) {
            self.refuse_other(&there)?;
        }
        let text = to_json(&self.identity)?;
        self.folder.write_lightly(UNDER_WAY, text.as_bytes()).map_err(machine)
    }

    /// Hands over every block that is there; the missing ones are left. A block that is damaged is
    /// run again.
    pub fn load_shards(&self, take: &dyn Fn(&Counts)) -> Result<Vec<(usize, Range<u64>)>, Failure> {
        let mut missing = Vec::new();
        for (k, block) in self.identity.blocks().into_iter().enumerate() {
            let shard: Option<Shard> = self.read(&shard_name(k)).ok();
            match shard.filter(|shard| shard.is_sound(k, &block)) {
                Some(shard) => {
                    self.refuse_other(&shard.identity)?;
                    take(&shard.counts);
                }
                None => missing.push((k, block)),
            }
        }
        Ok(missing)
    }

    pub fn save_shard(&self, block: usize, counts: &Counts) -> Result<(), Failure> {
        let shard = Shard::new(self.identity.clone(), block, counts.clone());
        self.folder.write_lightly(&shard_name(block), to_json(&shard)?.as_bytes()).map_err(machine)
    }

    /// Puts the finished files in place, in this order.
    pub fn write_all(&self, files: &[(&str, Vec<u8>)]) -> Result<(), Failure> {
        self.folder.write_all(files).map_err(machine)
    }
}

fn shard_name(block: usize) -> String {
    format!("{SHARDS}/{}", file_name(block))
}
