//! The folder of a run: what it keeps while it runs, and how it goes on with what is there.
//!
//! In: folder, mode, identity of the run. Out: the blocks that are missing, or finished results.
//!
//! `shards/` is ours where its `run.json` says so, or the content of a block in it, each with a digest of its own. Of
//! what is in it only these are ever touched; with anything else in it, it stays. It holds the run that is under way,
//! whatever else is in the folder: earlier results stand until the new ones are whole.

use super::disk::{is_there, make, make_with, on_disk, prepare, put_new, put_over};
use super::error::FolderError;
use super::list::{List, RunDetails, Since, Writer};
use super::look::{Found, look};
use super::names::{self, RESULTS, SHARDS};
use super::set::{Folder, Mode};
use super::shards::{MARK, RUN, Shards, UnderWay, block_of, clear, is_blank, is_shard, listed, read_shard, sweep};
use crate::summary::Results;
use crate::summary::counts::Counts;
use crate::trials::CheckpointError;
use crate::trials::blocks::{Block, Checkpoint};
use crate::trials::shard::{Identity, Shard, file_name};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Results that were finished before.
#[derive(Debug)]
pub struct Finished {
    /// The document of the run.
    pub results: Results,
    /// What differs from run to run.
    pub details: RunDetails,
    /// Files of the set that are not there any more.
    pub missing: Vec<String>,
    /// Files that are not as they were written, and are left alone.
    pub changed: Vec<String>,
    list: List,
}

/// The folder of one run.
#[derive(Debug)]
pub struct RunFolder {
    folder: Folder,
    /// Which run it is.
    pub identity: Identity,
    finished: Option<Finished>,
}

impl RunFolder {
    /// Makes the folder where it is absent, and looks at every name that is to be written; nothing else is touched.
    ///
    /// # Errors
    /// A folder with results or files that may not be used, of another run, or that cannot be made.
    pub fn open(dir: &Path, mode: Mode, identity: Identity, names: &[&str]) -> Result<RunFolder, FolderError> {
        if !is_there(dir)? {
            make(dir)?;
        }
        let folder = Folder::enter(dir, Writer::RUN, mode, names)?;
        let mut run = RunFolder { folder, identity, finished: None };
        let list = run.folder.list()?;
        let shards = Shards::look(dir)?;
        if mode == Mode::Resume {
            run.finished = run.resumed(list.as_ref(), &shards)?;
            if run.finished.is_some() {
                return Ok(run);
            }
        }
        if let Shards::Foreign(kind) = shards {
            return Err(FolderError::ForeignShards { path: dir.join(SHARDS), kind });
        }
        run.folder.refuse_occupied(list.as_ref(), &shards)?;
        if let (Mode::Resume, Shards::Ours(ours)) = (mode, shards) {
            run.folder.told = ours.1;
        }
        let changed = run.folder.judge(list.as_ref())?.changed;
        if mode == Mode::Force {
            run.folder.told = changed;
        }
        Ok(run)
    }

    /// What `--resume` finds finished; refuses what it cannot go on with.
    fn resumed(&self, list: Option<&List>, shards: &Shards) -> Result<Option<Finished>, FolderError> {
        if let Shards::Ours(ours) = shards {
            self.refuse_other(&ours.0)?;
        }
        let set = list.and_then(|list| Some((list, list.set()?)));
        let Some((list, writer)) = set else { return Ok(None) };
        let Some(details) = &list.run else {
            return match shards {
                Shards::Ours(_) => Ok(None),
                _ => Err(FolderError::OtherCommand {
                    dir: self.dir().to_path_buf(),
                    command: writer.command().to_owned(),
                }),
            };
        };
        if self.identity != details.identity {
            return match shards {
                Shards::Ours(_) => Ok(None),
                _ => self.refuse_other(&details.identity).map(|()| None),
            };
        }
        if !list.complete || list.since(self.dir(), RESULTS)? != Since::Sound {
            return Ok(None);
        }
        self.finished_with(list, details).map(Some)
    }

    fn finished_with(&self, list: &List, details: &RunDetails) -> Result<Finished, FolderError> {
        let path = self.folder.path(RESULTS);
        let read = fs::read(&path).and_then(|bytes| Ok(serde_json::from_slice(&bytes)?));
        let results = read.map_err(|reason| FolderError::Listing { path, reason })?;
        let (mut missing, mut changed) = (Vec::new(), Vec::new());
        for entry in list.files.iter().filter(|entry| entry.by == Writer::RUN) {
            match list.since(self.dir(), &entry.name)? {
                Since::Sound => {}
                Since::Missing => missing.push(entry.name.clone()),
                Since::Changed => changed.push(entry.name.clone()),
            }
        }
        Ok(Finished { results, details: details.clone(), missing, changed, list: list.clone() })
    }

    fn refuse_other(&self, there: &Identity) -> Result<(), FolderError> {
        match self.identity.difference(there) {
            None => Ok(()),
            Some(difference) => Err(FolderError::OtherRun { dir: self.dir().to_path_buf(), difference }),
        }
    }

    /// Where it is.
    pub fn dir(&self) -> &Path {
        self.folder.dir()
    }

    /// What is to be told before the run.
    pub fn notes(&self) -> Vec<String> {
        if self.folder.mode == Mode::Force { self.folder.notes() } else { Vec::new() }
    }

    /// The results, where the run was finished before.
    pub fn finished(&self) -> Option<&Finished> {
        self.finished.as_ref()
    }

    /// Puts those of the files in their places that are missing, where they are what was written; says which of the
    /// missing ones are still missing. Clears away what the run had needed on its way.
    ///
    /// # Errors
    /// What the system says.
    pub fn mend(&self, finished: &Finished, files: &[(&str, Vec<u8>)]) -> Result<Vec<String>, FolderError> {
        self.folder.put_missing(&finished.list, files)?;
        let mut left = Vec::new();
        for name in &finished.missing {
            if finished.list.since(self.dir(), name)? != Since::Sound {
                left.push(name.clone());
            }
        }
        Ok(left)
    }

    /// Clears away what a finished run had needed on its way.
    ///
    /// # Errors
    /// What the system says.
    pub fn tidy(&self) -> Result<Vec<String>, FolderError> {
        if self.folder.lock.is_none() {
            return Ok(Vec::new());
        }
        self.folder.sweep();
        match Shards::look(self.dir())? {
            Shards::Ours(_) => clear(self.dir()),
            _ => Ok(Vec::new()),
        }
    }

    /// Says whose the shards are that follow.
    ///
    /// # Errors
    /// What the system says.
    pub fn begin(&self) -> Result<(), FolderError> {
        if self.folder.lock.is_some() {
            self.folder.sweep();
        }
        let dir = self.shards();
        let ours = matches!(Shards::look(self.dir())?, Shards::Ours(_));
        if ours && self.folder.mode == Mode::Force {
            clear(self.dir())?;
        }
        let path = dir.join(RUN);
        let failed = |reason| FolderError::File { path: path.clone(), reason };
        let bare = UnderWay {
            bankwright: MARK.to_owned(),
            identity: self.identity.clone(),
            written_over: self.folder.told.clone(),
            digest: String::new(),
        };
        let bytes = bare.bytes().map_err(|e| failed(e.into()))?;
        if look(&dir)? == Found::Nothing {
            return make_with(&dir, (RUN, &bytes), sweep).map_err(failed);
        }
        // What somebody else has put in its place stays: the blocks themselves say whose they are.
        let ready = || prepare(&dir, &bytes).and_then(on_disk);
        match look(&path)? {
            Found::Nothing => ready().and_then(|file| put_new(file, &path)).map_err(failed),
            _ if UnderWay::read(&path).is_some() || is_blank(&path) => {
                ready().and_then(|file| put_over(file, &path)).map_err(failed)
            }
            _ => Ok(()),
        }
    }

    fn read_block(&self, name: &str, block: &Block) -> Result<Option<Counts>, FolderError> {
        let shard = read_shard(&self.shards().join(name)).filter(|shard| shard.is_sound(block));
        let Some(shard) = shard else { return Ok(None) };
        self.refuse_other(&shard.identity)?;
        Ok(Some(shard.counts))
    }

    fn write_block(&self, block: usize, counts: &Counts) -> Result<(), FolderError> {
        let dir = self.shards();
        let path = dir.join(file_name(block));
        let failed = |reason| FolderError::File { path: path.clone(), reason };
        let shard = Shard::new(self.identity.clone(), block, counts.clone());
        let bytes = serde_json::to_vec_pretty(&shard).map_err(|e| failed(e.into()))?;
        let file = prepare(&dir, &bytes).map_err(failed)?;
        match look(&path)? {
            Found::Nothing => put_new(file, &path),
            _ if is_shard(&path) => put_over(file, &path),
            // Somebody's file of that name stays where it is.
            _ => put_new(file, &dir.join(format!("{block:06}{}", names::temporary()))),
        }
        .map_err(failed)
    }

    /// Puts the finished files in place, in this order, and clears away what was needed on the way; says what else
    /// there is to say.
    ///
    /// # Errors
    /// As `Folder::put`.
    pub fn finish(&self, files: &[(&str, Vec<u8>)], details: RunDetails) -> Result<Vec<String>, FolderError> {
        self.folder.put(files, Some(details))
    }

    fn shards(&self) -> PathBuf {
        self.folder.path(SHARDS)
    }
}

impl Checkpoint<Counts> for RunFolder {
    /// The missing blocks are left, and one that is damaged is run again. `OtherRun` for a block of another run.
    fn load(&self, blocks: &[Block], take: &mut dyn FnMut(usize, &Counts)) -> Result<(), CheckpointError> {
        let mut done = BTreeSet::new();
        for name in listed(&self.shards())? {
            let Some(block) = block_of(&name).and_then(|k| blocks.get(k)) else { continue };
            if done.contains(&block.number) {
                continue;
            }
            if let Some(counts) = self.read_block(&name, block)? {
                take(block.number, &counts);
                done.insert(block.number);
            }
        }
        Ok(())
    }

    /// Without waiting for the disk: a block that a power cut damages is run again.
    fn save(&self, block: &Block, counts: &Counts) -> Result<(), CheckpointError> {
        Ok(self.write_block(block.number, counts)?)
    }
}
