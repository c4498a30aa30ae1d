//! Parts of a run that is not finished: whose `shards/` is, what in it is ours, and how it is cleared away.

use super::disk::{remove, remove_empty, unmake};
use super::error::FolderError;
use super::look::{Found, digest, look, start_of};
use super::names::{self, SHARDS};
use crate::escape;
use crate::trials::shard::{HEAD, Identity, Shard, file_name};
use serde::{Deserialize, Serialize};
use std::fs;
use std::io;
use std::path::Path;

/// A file on the list with another content: its name and its digest.
pub type Change = (String, String);

/// Which run the shards are of.
pub const RUN: &str = "run.json";
pub const MARK: &str = "unfinished run";
/// No block is longer, nor is what stands about the run [bytes].
const LONGEST: u64 = 1 << 26;

/// What `run.json` says.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UnderWay {
    pub bankwright: String,
    pub identity: Identity,
    /// Changed files of an earlier set that `--force` was told to write over.
    pub written_over: Vec<Change>,
    /// SHA-256 of all the above.
    pub digest: String,
}

impl UnderWay {
    pub fn bytes(&self) -> serde_json::Result<Vec<u8>> {
        let bare = UnderWay { digest: String::new(), ..self.clone() };
        let digest = digest(&serde_json::to_vec(&bare)?);
        serde_json::to_vec_pretty(&UnderWay { digest, ..bare })
    }

    pub fn read(path: &Path) -> Option<UnderWay> {
        let bytes = start_of(path, LONGEST)?;
        let read: UnderWay = serde_json::from_slice(&bytes).ok()?;
        (read.bankwright == MARK && read.bytes().ok()? == bytes).then_some(read)
    }
}

/// What `shards/` is.
#[derive(Debug)]
pub enum Shards {
    Nothing,
    /// Blocks of this run, with the changes that it was told to write over.
    Ours(Box<(Identity, Vec<Change>)>),
    /// No run of this program made it: what it is instead.
    Foreign(&'static str),
}

impl Shards {
    pub fn look(dir: &Path) -> Result<Shards, FolderError> {
        let path = dir.join(SHARDS);
        match look(&path)? {
            Found::Nothing => return Ok(Shards::Nothing),
            Found::Folder => {}
            other => return Ok(Shards::Foreign(other.words())),
        }
        if let Some(run) = UnderWay::read(&path.join(RUN)) {
            return Ok(Shards::Ours(Box::new((run.identity, run.written_over))));
        }
        let shards = listed(&path)?.into_iter().filter(|name| block_of(name).is_some());
        let sound = shards.filter_map(|name| read_shard(&path.join(name))).find(Shard::is_as_written);
        Ok(match sound {
            Some(shard) => Shards::Ours(Box::new((shard.identity, Vec::new()))),
            None => Shards::Foreign(Found::Folder.words()),
        })
    }
}

/// Removes the blocks of a run from `shards/`, and the folder itself where nothing else is in it; says what is.
pub fn clear(dir: &Path) -> Result<Vec<String>, FolderError> {
    let shards = dir.join(SHARDS);
    let mut others = Vec::new();
    for name in listed(&shards)? {
        let path = shards.join(&name);
        let unfinished = names::is_temporary(&name) && look(&path)? == Found::File;
        if unfinished || (block_of(&name).is_some() && is_shard(&path)) {
            remove(&path)?;
        } else if name != RUN || !(UnderWay::read(&path).is_some() || is_blank(&path)) {
            others.push(name);
        }
    }
    if others.is_empty() {
        unmake(&shards, sweep).map_err(|reason| FolderError::Removal { path: shards, reason })?;
        return Ok(Vec::new());
    }
    let what = escape::line(&others.join(", "));
    Ok(vec![format!("{} is kept, for what is in it and not of the run: {what}", escape::path(&shards))])
}

/// Removes what was being made or unmade when a program was killed, and nothing else.
pub fn sweep(unmade: &Path) {
    for name in listed(unmade).into_iter().flatten() {
        let path = unmade.join(&name);
        let ours = name == RUN && (UnderWay::read(&path).is_some() || is_blank(&path)) || names::is_temporary(&name);
        if ours && look(&path).is_ok_and(|found| found == Found::File) {
            let _ = remove(&path);
        }
    }
    remove_empty(unmade);
}

/// Names in a folder, sorted; those that are no text are shown as far as they are, and match nothing of ours.
pub fn listed(dir: &Path) -> Result<Vec<String>, FolderError> {
    let listing = |reason| FolderError::Listing { path: dir.to_path_buf(), reason };
    let name = |entry: io::Result<fs::DirEntry>| Ok(entry?.file_name().to_string_lossy().into_owned());
    let names: io::Result<Vec<String>> = fs::read_dir(dir).and_then(|all| all.map(name).collect());
    let mut names = names.map_err(listing)?;
    names.sort();
    Ok(names)
}

/// The block that a file is of by its name.
pub fn block_of(name: &str) -> Option<usize> {
    let digits = name.find(|c: char| !c.is_ascii_digit())?;
    let block = name[..digits].parse().ok()?;
    let rest = &name[digits..];
    (name == file_name(block) || digits >= 6 && names::is_temporary(rest)).then_some(block)
}

pub fn read_shard(path: &Path) -> Option<Shard> {
    serde_json::from_slice(&start_of(path, LONGEST)?).ok()
}

/// Whether a file with the name of a block was a block once: it begins as one, or a power cut left nothing of it.
pub fn is_shard(path: &Path) -> bool {
    start_of(path, HEAD.len() as u64).is_some_and(|start| start == HEAD.as_bytes()) || is_blank(path)
}

/// A plain file in which there is nothing, or zeros alone.
pub fn is_blank(path: &Path) -> bool {
    start_of(path, LONGEST).is_some_and(|bytes| bytes.iter().all(|byte| *byte == 0))
}
