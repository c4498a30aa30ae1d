//! The one place that writes files: a results folder, which is the user's. It knows the files that this program wrote
//! in it by a list with the digest of each (`list`), and touches nothing else.
//!
//! In: a folder, which command writes, the names of its files, then their bytes. Out: the files, old or new as a set.
//! All names are looked at before anything is run or written: one that is not a plain file, or not on the list, refuses
//! the set as a whole. New files are written beside their places under names that nobody else has (`names`) and put on
//! disk; then the list is written with both the old and the new digests, each file renamed into its place (POSIX
//! `rename` replaces in one step), and the list written again. So a disk that fills up leaves the old set, and a
//! program that is killed between two renames leaves files that are all known.

mod error;
mod list;
mod look;
mod names;
mod under_way;

pub use error::FolderError;
pub use list::{RunDetails, Writer};
pub use under_way::{Finished, RunFolder};

use crate::escape;
use list::{Entry, List, Since, is_plain};
use look::{Found, digest_of, look, start_of};
use std::fs::{self, File, TryLockError};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;
use under_way::Shards;

/// The document of a set, the last to take its place.
pub const RESULTS: &str = "results.json";
/// The page that a person opens.
pub const PAGE: &str = "overview.html";
/// The list of what was written, and what differs from run to run.
pub const MANIFEST: &str = "manifest.json";
/// Parts of a run that is not finished.
pub const SHARDS: &str = "shards";

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

/// A file on the list with another content: its name and its digest.
type Change = (String, String);

/// A folder that takes the files of one command.
#[derive(Debug)]
pub struct Folder {
    dir: PathBuf,
    writer: Writer,
    mode: Mode,
    /// Of every file that is to be written, the list apart.
    names: Vec<String>,
    /// What was found changed, and may be written over all the same.
    told: Vec<Change>,
    /// Keeps other runs out; the system lets go of it when the program ends, however it ends. `None` where there is
    /// no folder yet, or the file system knows no locks.
    lock: Option<File>,
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

    fn enter(dir: &Path, writer: Writer, mode: Mode, names: &[&str]) -> Result<Folder, FolderError> {
        let names = names.iter().map(|&name| name.to_owned()).collect();
        Ok(Folder { dir: dir.to_path_buf(), writer, mode, names, told: Vec::new(), lock: lock(dir)? })
    }

    pub fn dir(&self) -> &Path {
        &self.dir
    }

    fn path(&self, name: &str) -> PathBuf {
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
    fn list(&self) -> Result<Option<List>, FolderError> {
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
    fn refuse_occupied(&self, list: Option<&List>, shards: &Shards) -> Result<(), FolderError> {
        let taken = list.is_some_and(|list| list.set().is_some()) || matches!(shards, Shards::Ours(_));
        if self.mode == Mode::Fresh && !self.writer.adds() && taken {
            let resumable = self.writer == Writer::Run;
            return Err(FolderError::Occupied { dir: self.dir.clone(), resumable });
        }
        Ok(())
    }

    /// Looks at every name that is to be written, and refuses all if one may not be.
    fn judge(&self, list: Option<&List>) -> Result<Judged, FolderError> {
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
        let lists = Lists::new(old.as_ref(), self.writer, files, run);
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
            notes.extend(under_way::clear(&self.dir)?);
        }
        Ok(notes)
    }

    /// A file beside its place, on disk.
    fn prepared(&self, name: &str, bytes: &[u8]) -> Result<NamedTempFile, FolderError> {
        let failed = self.failed(name);
        if name != MANIFEST && !(is_plain(name) && self.names.iter().any(|known| known == name)) {
            return Err(failed(io::Error::new(io::ErrorKind::InvalidInput, "no such name was announced")));
        }
        prepare(&self.dir, bytes).and_then(on_disk).map_err(failed)
    }

    fn written_list(&self, list: &List) -> Result<NamedTempFile, FolderError> {
        let bytes = list.bytes().map_err(|e| self.failed(MANIFEST)(e.into()))?;
        self.prepared(MANIFEST, &bytes)
    }

    fn place(&self, name: &str, file: NamedTempFile, over: bool) -> Result<(), FolderError> {
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
    fn put_missing(&self, list: &List, files: &[(&str, Vec<u8>)]) -> Result<(), FolderError> {
        for (name, bytes) in files {
            let exact = list.is(name, &look::digest(bytes));
            if exact && list.since(&self.dir, name)? == Since::Missing {
                self.place(name, self.prepared(name, bytes)?, false)?;
            }
        }
        sync_folder(&self.dir).map_err(self.failed(MANIFEST))
    }

    /// Removes what a program that was killed had not put in its place; to be called under the lock. What cannot be
    /// removed is in nobody's way.
    fn sweep(&self) {
        for entry in fs::read_dir(&self.dir).into_iter().flatten().flatten() {
            if !entry.file_name().to_str().is_some_and(names::is_temporary) {
                continue;
            }
            let path = entry.path();
            match look(&path) {
                Ok(Found::File) => drop(fs::remove_file(&path)),
                Ok(Found::Folder) => under_way::sweep(&path),
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
struct Judged {
    present: Vec<String>,
    changed: Vec<Change>,
}

/// The lists of a set that takes its places.
struct Lists {
    /// While it does: the old and the new.
    before: List,
    /// When it has.
    after: List,
    /// Of the old, and not of the new.
    stale: Vec<String>,
}

impl Lists {
    fn new(old: Option<&List>, writer: Writer, files: &[(&str, Vec<u8>)], run: Option<RunDetails>) -> Lists {
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

/// Whether the folder is there; a link to a folder is one.
fn is_there(dir: &Path) -> Result<bool, FolderError> {
    let failed = |reason| FolderError::Folder { path: dir.to_path_buf(), reason };
    match fs::metadata(dir) {
        Ok(found) if found.is_dir() => Ok(true),
        Ok(_) => Err(failed(io::Error::new(io::ErrorKind::NotADirectory, "there is a file of that name"))),
        Err(reason) if reason.kind() != io::ErrorKind::NotFound => Err(failed(reason)),
        Err(_) if dir.as_os_str().is_empty() => {
            Err(failed(io::Error::new(io::ErrorKind::InvalidInput, "its name is empty")))
        }
        Err(_) if look(dir)? != Found::Nothing => {
            Err(failed(io::Error::new(io::ErrorKind::NotFound, "it is a symbolic link that leads nowhere")))
        }
        Err(_) => Ok(false),
    }
}

/// Whether files can be written there, before work begins that ends with writing them: one without a name is made
/// in the folder, or in the nearest above that is there, and is gone at once.
fn probe(dir: &Path) -> Result<(), FolderError> {
    let there = |above: &&Path| above.as_os_str().is_empty() || above.exists();
    let nearest = dir.ancestors().find(there).unwrap_or(dir);
    let nearest = if nearest.as_os_str().is_empty() { Path::new(".") } else { nearest };
    tempfile::tempfile_in(nearest).map(drop).map_err(|reason| FolderError::File { path: dir.to_path_buf(), reason })
}

/// # Errors
/// `Busy` where another run holds the folder.
fn lock(dir: &Path) -> Result<Option<File>, FolderError> {
    let Ok(file) = File::open(dir) else {
        return Ok(None);
    };
    match file.try_lock() {
        Ok(()) => Ok(Some(file)),
        Err(TryLockError::WouldBlock) => Err(FolderError::Busy(dir.to_path_buf())),
        Err(TryLockError::Error(_)) => Ok(None),
    }
}

fn make(dir: &Path) -> Result<(), FolderError> {
    fs::create_dir_all(dir).map_err(|reason| FolderError::Folder { path: dir.to_path_buf(), reason })
}

/// A folder with one file in it, both there at once or neither.
fn make_with(dir: &Path, name: &str, bytes: &[u8]) -> io::Result<()> {
    let beside = dir.with_file_name(names::temporary());
    fs::create_dir(&beside)?;
    let made = prepare(&beside, bytes).and_then(on_disk).and_then(|file| put_new(file, &beside.join(name)));
    made.and_then(|()| fs::rename(&beside, dir)).inspect_err(|_| under_way::sweep(&beside))
}

/// The reverse: a folder in which only files of these names are left. It stays where there is another.
fn unmake(dir: &Path) -> io::Result<()> {
    let beside = dir.with_file_name(names::temporary());
    fs::rename(dir, &beside)?;
    under_way::sweep(&beside);
    // Somebody has put a file there a moment ago.
    if look(&beside).is_ok_and(|found| found == Found::Folder) { fs::rename(&beside, dir) } else { Ok(()) }
}

fn remove(path: &Path) -> Result<(), FolderError> {
    match fs::remove_file(path) {
        Err(reason) if reason.kind() != io::ErrorKind::NotFound => {
            Err(FolderError::Removal { path: path.to_path_buf(), reason })
        }
        _ => Ok(()),
    }
}

/// Removes an empty folder; one that is not empty stays.
fn remove_empty(dir: &Path) {
    drop(fs::remove_dir(dir));
}

/// Writes beside the place. What is not put there later removes itself.
fn prepare(parent: &Path, bytes: &[u8]) -> io::Result<NamedTempFile> {
    let mut out = BufWriter::new(temporary(parent)?);
    out.write_all(bytes)?;
    out.into_inner().map_err(io::IntoInnerError::into_error)
}

fn on_disk(file: NamedTempFile) -> io::Result<NamedTempFile> {
    file.as_file().sync_all()?;
    Ok(file)
}

fn put_over(file: NamedTempFile, path: &Path) -> io::Result<()> {
    file.persist(path).map(drop).map_err(|e| e.error)
}

/// Where nothing is. A file system that cannot tell in the same step is asked before.
fn put_new(file: NamedTempFile, path: &Path) -> io::Result<()> {
    let refused = match file.persist_noclobber(path) {
        Ok(_) => return Ok(()),
        Err(refused) => refused,
    };
    match look(path) {
        Ok(Found::Nothing) => put_over(refused.file, path),
        _ => Err(refused.error),
    }
}

/// A new file beside its place, with the rights that a plain new file would have.
fn temporary(parent: &Path) -> io::Result<NamedTempFile> {
    let name = names::temporary();
    let mut builder = tempfile::Builder::new();
    builder.prefix(&name).rand_bytes(0);
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
