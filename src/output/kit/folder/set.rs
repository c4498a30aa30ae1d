//! The files of one command as a set, put in their places together.

use super::disk::{Unplaced, is_there, lock, make, on_disk, prepare, probe, put_new, put_over, remove, sync_folder};
use super::error::FolderError;
use super::list::{Entry, List, RunDetails, Since, Writer, is_plain};
use super::look::{Found, digest, digest_of, look, start_of};
use super::names::{self, MANIFEST};
use super::shards::{self, Change, Shards};
use crate::escape;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

/// No list is longer [bytes].
const LONGEST_LIST: u64 = 1 << 24;

/// What to do with results that are there already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Refuse them.
    Fresh,
    /// Keep what is there and go on.
    Resume,
    /// Write over them.
    Force,
}

/// A folder that takes the files of one command.
#[derive(Debug)]
pub struct Folder {
    dir: PathBuf,
    writer: Writer,
    pub(super) mode: Mode,
    /// The names of all files that are to be written, without the list.
    names: Vec<String>,
    /// What was found changed, and may be written over all the same.
    pub(super) told: Vec<Change>,
    /// Keeps other runs out; the system lets go of it when the program ends, however it ends. `None` where there is
    /// no folder yet, or the file system knows no locks.
    pub(super) lock: Option<File>,
}

impl Folder {
    /// Looks at the folder and at every name that is to be written, and writes nothing.
    ///
    /// # Errors
    /// What stands in the way: results, where the mode is `Fresh`; whatever is not known as written here; or a
    /// folder that cannot be made or written.
    pub fn open(dir: &Path, writer: Writer, mode: Mode, names: &[&str]) -> Result<Folder, FolderError> {
        let there = is_there(dir)?;
        probe(dir)?;
        let mut folder = Folder::enter(dir, writer, mode, names)?;
        if there {
            let list = folder.list()?;
            folder.refuse_occupied(list.as_ref(), &Shards::look(dir)?)?;
            folder.told = folder.judge(list.as_ref())?.changed;
        }
        Ok(folder)
    }

    pub(super) fn enter(dir: &Path, writer: Writer, mode: Mode, names: &[&str]) -> Result<Folder, FolderError> {
        let names = names.iter().map(|&name| name.to_owned()).collect();
        Ok(Folder { dir: dir.to_path_buf(), writer, mode, names, told: Vec::new(), lock: lock(dir)? })
    }

    /// Where it is.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    pub(super) fn path(&self, name: &str) -> PathBuf {
        self.dir.join(name)
    }

    /// What was changed since it was written and is to be written over, in words.
    pub fn notes(&self) -> Vec<String> {
        self.told.iter().map(|(name, _)| self.writes_over(name)).collect()
    }

    fn writes_over(&self, name: &str) -> String {
        format!("{} was changed since it was written; --force writes over it", escape::path(&self.path(name)))
    }

    /// The list, where there is one; refuses a file of that name that is none.
    pub(super) fn list(&self) -> Result<Option<List>, FolderError> {
        let path = self.path(MANIFEST);
        match look(&path)? {
            Found::Nothing => Ok(None),
            Found::File => match start_of(&path, LONGEST_LIST).and_then(|bytes| List::parse(&bytes)) {
                None => Err(FolderError::NotAList(path)),
                list => Ok(list),
            },
            other => Err(FolderError::Obstacle { path, kind: other.words() }),
        }
    }

    /// Refuses a set that is there, or a run under way, where a whole set is to be written unasked.
    pub(super) fn refuse_occupied(&self, list: Option<&List>, shards: &Shards) -> Result<(), FolderError> {
        let taken = list.is_some_and(|list| list.set().is_some()) || matches!(shards, Shards::Ours(_));
        if self.mode == Mode::Fresh && !self.writer.adds() && taken {
            let resumable = self.writer == Writer::RUN;
            return Err(FolderError::Occupied { dir: self.dir.clone(), resumable });
        }
        Ok(())
    }

    /// Looks at every name that is to be written, and refuses all if one may not be.
    pub(super) fn judge(&self, list: Option<&List>) -> Result<Judged, FolderError> {
        let mut judged = Judged { present: Vec::new(), changed: Vec::new() };
        for name in &self.names {
            let path = self.path(name);
            match look(&path)? {
                Found::Nothing => continue,
                Found::File => judged.present.push(name.clone()),
                other => return Err(FolderError::Obstacle { path, kind: other.words() }),
            }
            let Some(list) = list.filter(|list| list.has(name)) else { return Err(FolderError::Unlisted(path)) };
            if self.mode == Mode::Fresh {
                return Err(FolderError::There(path));
            }
            let sha256 = digest_of(&path)?;
            if !list.is(name, &sha256) {
                judged.changed.push((name.clone(), sha256));
            }
        }
        let news: Vec<String> = judged.changed.iter().filter(|c| !self.told.contains(c)).map(|c| c.0.clone()).collect();
        match self.mode {
            Mode::Resume if !news.is_empty() => Err(FolderError::Changed { dir: self.dir.clone(), names: news }),
            _ => Ok(judged),
        }
    }

    /// Puts the files in their places in this order, and the list that knows them; says what else there is to say.
    ///
    /// # Errors
    /// As `open`, where something has come into the way since; `Busy`; or what the system says. Until all files are
    /// on disk none of the old ones is touched.
    pub fn put(&self, files: &[(&str, Vec<u8>)], run: Option<RunDetails>) -> Result<Vec<String>, FolderError> {
        make(&self.dir)?;
        let late = if self.lock.is_none() { lock(&self.dir)? } else { None };
        if self.lock.is_some() || late.is_some() {
            self.sweep();
        }
        let old = self.list()?;
        if self.lock.is_none() {
            // The folder was not there when it was looked at: what another command has put there since is its own.
            self.refuse_occupied(old.as_ref(), &Shards::look(&self.dir)?)?;
        }
        let lists = Lists::new(old.as_ref(), &self.writer, files, run);
        let [before, after] = [&lists.before, &lists.after].map(|list| self.written_list(list));
        let (before, after) = (before?, after?);
        let mut ready = Vec::with_capacity(files.len());
        for (name, bytes) in files {
            ready.push((*name, self.prepared(name, bytes)?));
        }
        // Looked at again at the last moment: the work may have taken hours.
        let judged = self.judge(old.as_ref())?;
        self.place(MANIFEST, before, old.is_some())?;
        sync_folder(&self.dir).map_err(self.failed(MANIFEST))?;
        for (name, file) in ready {
            self.place(name, file, judged.present.iter().any(|present| present == name))?;
        }
        let mut notes: Vec<String> = Vec::new();
        notes.extend(judged.changed.iter().filter(|c| !self.told.contains(c)).map(|c| self.writes_over(&c.0)));
        self.remove_stale(&lists, &mut notes)?;
        self.place(MANIFEST, after, true)?;
        sync_folder(&self.dir).map_err(self.failed(MANIFEST))?;
        if !self.writer.adds() && matches!(Shards::look(&self.dir)?, Shards::Ours(_)) {
            notes.extend(shards::clear(&self.dir)?);
        }
        Ok(notes)
    }

    /// A file beside its place, on disk.
    fn prepared(&self, name: &str, bytes: &[u8]) -> Result<Unplaced, FolderError> {
        let failed = self.failed(name);
        if name != MANIFEST && !(is_plain(name) && self.names.iter().any(|known| known == name)) {
            return Err(failed(io::Error::new(io::ErrorKind::InvalidInput, "no such name was announced")));
        }
        prepare(&self.dir, bytes).and_then(on_disk).map_err(failed)
    }

    fn written_list(&self, list: &List) -> Result<Unplaced, FolderError> {
        let bytes = list.bytes().map_err(|e| self.failed(MANIFEST)(e.into()))?;
        self.prepared(MANIFEST, &bytes)
    }

    fn place(&self, name: &str, file: Unplaced, over: bool) -> Result<(), FolderError> {
        let path = self.path(name);
        let put = if over { put_over(file, &path) } else { put_new(file, &path) };
        put.map_err(self.failed(name))
    }

    /// What an earlier set left would belie the new one. It goes as it was written; what somebody changed stays, and is
    /// the user's from then on.
    fn remove_stale(&self, lists: &Lists, notes: &mut Vec<String>) -> Result<(), FolderError> {
        for name in &lists.stale {
            let path = self.path(name);
            match lists.before.since(&self.dir, name)? {
                Since::Sound => remove(&path)?,
                Since::Missing => {}
                Since::Changed => notes.push(format!(
                    "{} is of earlier results and was changed since it was written, so it is kept, and is yours now: \
                     results with a file of that name are refused here until it is moved away",
                    escape::path(&path)
                )),
            }
        }
        Ok(())
    }

    /// Files of the list that are missing and are as they were written, to the byte, put in their places.
    pub(super) fn put_missing(&self, list: &List, files: &[(&str, Vec<u8>)]) -> Result<(), FolderError> {
        for (name, bytes) in files {
            let exact = list.is(name, &digest(bytes));
            if exact && list.since(&self.dir, name)? == Since::Missing {
                self.place(name, self.prepared(name, bytes)?, false)?;
            }
        }
        sync_folder(&self.dir).map_err(self.failed(MANIFEST))
    }

    /// Removes what a program that was killed had not put in its place; to be called under the lock. What cannot be
    /// removed is in nobody's way.
    pub(super) fn sweep(&self) {
        for entry in fs::read_dir(&self.dir).into_iter().flatten().flatten() {
            if !entry.file_name().to_str().is_some_and(names::is_temporary) {
                continue;
            }
            let path = entry.path();
            match look(&path) {
                Ok(Found::File) => drop(remove(&path)),
                Ok(Found::Folder) => shards::sweep(&path),
                _ => {}
            }
        }
    }

    fn failed(&self, name: &str) -> impl Fn(io::Error) -> FolderError + use<> {
        let path = self.path(name);
        move |reason| FolderError::File { path: path.clone(), reason }
    }
}

/// What is at the names that are to be written.
pub(super) struct Judged {
    present: Vec<String>,
    pub(super) changed: Vec<Change>,
}

/// The lists of a set that takes its places.
struct Lists {
    /// While it does: the old and the new.
    before: List,
    /// When it has.
    after: List,
    /// Files of the old set that are not in the new one.
    stale: Vec<String>,
}

impl Lists {
    fn new(old: Option<&List>, writer: &Writer, files: &[(&str, Vec<u8>)], run: Option<RunDetails>) -> Lists {
        let new: Vec<Entry> = files.iter().map(|(name, bytes)| Entry::new(name, bytes, writer)).collect();
        let written = |entry: &Entry| new.iter().any(|new| new.name == entry.name);
        let old_files = old.map_or(&[][..], |old| &old.files);
        let (kept, replaced): (Vec<_>, Vec<_>) =
            old_files.iter().cloned().partition(|e| !written(e) && (writer.adds() || e.by.adds()));
        let mut stale: Vec<String> = replaced.iter().filter(|e| !written(e)).map(|e| e.name.clone()).collect();
        stale.dedup();
        let run = if writer.adds() { old.and_then(|old| old.run.clone()) } else { run };
        let whole = old.is_none_or(|old| old.complete);
        let mut both = [&new[..], &kept[..]].concat();
        let after = List::new(!writer.adds() || whole, both.clone(), run.clone());
        both.extend(replaced.into_iter().filter(|old| !new.contains(old)));
        Lists { before: List::new(writer.adds() && whole, both, run), after, stale }
    }
}
