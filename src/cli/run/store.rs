//! What a run keeps in its folder while it runs, and how it goes on with what is there.
//!
//! In: folder, mode, identity of the run. Out: the blocks that are missing; finished results.

use super::super::{Failure, to_json};
use crate::output::folder::{self, FolderError, RESULTS, ResultsFolder, SHARDS};
use crate::summary::Results;
use crate::summary::counts::Counts;
use crate::trials::shard::{Identity, Shard, file_name};
use std::ops::Range;
use std::path::Path;

pub use crate::output::folder::Mode;

/// Which run a folder holds, and what differs from run to run.
pub const MANIFEST: &str = "manifest.json";

/// The folder of one run.
#[derive(Debug)]
pub struct Store {
    folder: ResultsFolder,
    pub identity: Identity,
    resume: bool,
}

fn machine(error: impl ToString) -> Failure {
    Failure::Machine(error.to_string())
}

impl Store {
    /// # Errors
    /// A folder with results that may not be used, or that cannot be made.
    pub fn open(dir: &Path, mode: Mode, identity: Identity) -> Result<Store, Failure> {
        let folder = ResultsFolder::create(dir, mode).map_err(|error| match error {
            FolderError::Occupied(_) => Failure::Usage(error.to_string()),
            _ => machine(error),
        })?;
        let store = Store { folder, identity, resume: mode == Mode::Resume };
        if mode == Mode::Force {
            store.clear()?;
        }
        Ok(store)
    }

    pub fn dir(&self) -> &Path {
        self.folder.dir()
    }

    pub fn trials(&self) -> u64 {
        self.identity.trials
    }

    /// Takes away what would be taken for part of this run.
    fn clear(&self) -> Result<(), Failure> {
        self.folder.remove(RESULTS).map_err(machine)?;
        self.remove_shards()
    }

    pub fn remove_shards(&self) -> Result<(), Failure> {
        match std::fs::remove_dir_all(self.folder.path(SHARDS)) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
                Err(machine(format!("cannot remove {}: {e}", self.folder.path(SHARDS).display())))
            }
            _ => Ok(()),
        }
    }

    /// The results, where the run was finished before; refuses those of another run.
    pub fn finished(&self) -> Result<Option<Results>, Failure> {
        if !self.resume || !self.folder.path(RESULTS).exists() {
            return Ok(None);
        }
        let manifest: serde_json::Value = self.read(MANIFEST)?;
        let there = serde_json::from_value(manifest["identity"].clone()).map_err(machine)?;
        self.refuse_other(&there)?;
        self.read(RESULTS).map(Some)
    }

    fn read<T: serde::de::DeserializeOwned>(&self, name: &str) -> Result<T, Failure> {
        let path = self.folder.path(name);
        let text = std::fs::read(&path);
        let text = text.map_err(|e| machine(format!("cannot read {}: {e}", path.display())))?;
        serde_json::from_slice(&text)
            .map_err(|e| machine(format!("{} is damaged ({e}); start anew with --force", path.display())))
    }

    fn refuse_other(&self, there: &Identity) -> Result<(), Failure> {
        match self.identity.difference(there) {
            None => Ok(()),
            Some(difference) => Err(Failure::Usage(format!(
                "{} holds another run: {difference}; name another folder with --out, or write over it by --force",
                self.dir().display()
            ))),
        }
    }

    /// Hands over every block that is there; the missing ones are left. A block that is damaged is
    /// run again.
    pub fn load_shards(&self, take: &dyn Fn(&Counts)) -> Result<Vec<(usize, Range<u64>)>, Failure> {
        let mut missing = Vec::new();
        for (k, block) in self.identity.blocks().into_iter().enumerate() {
            let name = format!("{SHARDS}/{}", file_name(k));
            let there = self.resume && self.folder.path(&name).exists();
            let shard: Option<Shard> = there.then(|| self.read(&name).ok()).flatten();
            match shard {
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
        let identity = self.identity.clone();
        let shard = Shard { identity, block, counts: counts.clone() };
        let name = format!("{}/{}", folder::SHARDS, file_name(block));
        self.write(&name, to_json(&shard)?.as_bytes())
    }

    pub fn write(&self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        self.folder.write(name, bytes).map(|_| ()).map_err(machine)
    }
}
