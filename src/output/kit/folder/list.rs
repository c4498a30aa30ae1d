//! The list by which a results folder knows its files: `manifest.json`.
//!
//! In: names and bytes that are written. Out: their digests, and back from the file whether a name is ours and its
//! content as it was written. The list is known by what it says and not by its name: it ends with a digest of
//! itself, so that one that was changed, or is of an older version, proves nothing.

use super::error::FolderError;
use super::look::{Found, digest, digest_of, look};
use super::names::{MANIFEST, SHARDS};
use crate::escape;
use crate::trials::shard::Identity;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::path::{Component, Path};

/// The first thing that a list says.
const MARK: &str = "list of a results folder";
const FORMAT: u32 = 1;

/// What wrote a file: a command or a study, in a word.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Writer(Cow<'static, str>);

impl Writer {
    /// Whose results can be gone on with.
    pub const RUN: Writer = Writer::new("run");
    /// Which adds its files to what is there.
    pub const REPLAY: Writer = Writer::new("replay");

    /// Whose files are a set that stands for itself.
    pub const fn new(name: &'static str) -> Writer {
        Writer(Cow::Borrowed(name))
    }

    /// Whether it adds its files to what is there; the others fill a folder with a set that stands for itself.
    pub fn adds(&self) -> bool {
        *self == Writer::REPLAY
    }

    /// As typed.
    pub fn command(&self) -> &str {
        // A study that is an option of a command.
        if self.0 == "inputs" { "compare --inputs" } else { &self.0 }
    }
}

/// A file as it was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    pub name: String,
    pub sha256: String,
    pub by: Writer,
}

impl Entry {
    pub fn new(name: &str, bytes: &[u8], by: &Writer) -> Entry {
        Entry { name: name.to_owned(), sha256: digest(bytes), by: by.clone() }
    }
}

/// What differs from run to run.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunDetails {
    /// Which run it is.
    pub identity: Identity,
    /// As the user named it.
    pub scenario_file: String,
    /// Every file that the scenario names, with its SHA-256.
    pub inputs: Vec<(String, String)>,
    /// Threads that the nights were run on.
    pub threads: usize,
    /// Operating system and processor.
    pub system: String,
    /// When it began [s since 1970].
    pub started_unix_s: u64,
    /// When it ended [s since 1970].
    pub finished_unix_s: u64,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct List {
    bankwright: String,
    format: u32,
    version: String,
    /// Whether the set is complete: `false` while its files take their places, and then a name may have two digests, old and new.
    pub complete: bool,
    pub files: Vec<Entry>,
    /// Present in a set that `run` wrote.
    pub run: Option<RunDetails>,
    /// SHA-256 of all the above.
    digest: String,
}

/// What has become of a file of the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Since {
    Sound,
    Missing,
    /// Its content is another, or something else stands in its place.
    Changed,
}

impl List {
    pub fn new(complete: bool, files: Vec<Entry>, run: Option<RunDetails>) -> List {
        let version = env!("CARGO_PKG_VERSION").to_owned();
        List { bankwright: MARK.to_owned(), format: FORMAT, version, complete, files, run, digest: String::new() }
    }

    /// As it is written, with its digest.
    ///
    /// # Errors
    /// What the writer of JSON says.
    pub fn bytes(&self) -> serde_json::Result<Vec<u8>> {
        let bare = List { digest: String::new(), ..self.clone() };
        let digest = digest(&serde_json::to_vec(&bare)?);
        let text = serde_json::to_vec_pretty(&List { digest, ..bare })?;
        Ok(escape::json(String::from_utf8_lossy(&text).into_owned()).into_bytes())
    }

    /// `None` for anything but a list as it was written, byte for byte.
    pub fn parse(bytes: &[u8]) -> Option<List> {
        let list: List = serde_json::from_slice(bytes).ok()?;
        let plain = list.files.iter().all(|entry| is_plain(&entry.name));
        let ours = list.bankwright == MARK && list.format == FORMAT && plain;
        (ours && list.bytes().ok()? == bytes).then_some(list)
    }

    pub fn has(&self, name: &str) -> bool {
        self.files.iter().any(|entry| entry.name == name)
    }

    /// Which command wrote the set; `None` where there are files of `replay` alone, or none.
    pub fn set(&self) -> Option<&Writer> {
        self.files.iter().map(|entry| &entry.by).find(|by| !by.adds())
    }

    /// What has become of a file that is on the list.
    ///
    /// # Errors
    /// Where it cannot be read.
    pub fn since(&self, dir: &Path, name: &str) -> Result<Since, FolderError> {
        let path = dir.join(name);
        match look(&path)? {
            Found::Nothing => Ok(Since::Missing),
            Found::File if self.is(name, &digest_of(&path)?) => Ok(Since::Sound),
            _ => Ok(Since::Changed),
        }
    }

    /// Whether a file of this name and digest was written here.
    pub fn is(&self, name: &str, sha256: &str) -> bool {
        self.files.iter().any(|entry| entry.name == name && entry.sha256 == sha256)
    }
}

/// A name in the folder itself, and none that the folder keeps for other things.
pub fn is_plain(name: &str) -> bool {
    let mut parts = Path::new(name).components();
    let one = matches!((parts.next(), parts.next()), (Some(Component::Normal(part)), None) if part == name);
    one && name != MANIFEST && name != SHARDS
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_is_known_by_what_it_says_to_the_byte() {
        let list = List::new(true, vec![Entry::new("a.csv", b"1", &Writer::new("limit"))], None);
        let bytes = list.bytes().unwrap();
        assert!(List::parse(&bytes).unwrap().is("a.csv", &digest(b"1")));
        let text = String::from_utf8(bytes).unwrap();
        let changes =
            [("a.csv", "b.csv"), ("true", "false"), ("limit", "run"), ("  \"run\"", " \"run\""), ("{", "{\"x\":1,")];
        for (piece, other) in changes {
            let changed = text.replacen(piece, other, 1);
            assert!(changed != text && List::parse(changed.as_bytes()).is_none(), "{piece}");
        }
    }

    #[test]
    fn no_name_on_a_list_leads_out_of_the_folder() {
        for name in ["../stray", "/tmp/stray", "", ".", "a/b", "a/../b", "a/", MANIFEST, SHARDS] {
            let list = List::new(true, vec![Entry::new(name, b"1", &Writer::RUN)], None);
            assert!(List::parse(&list.bytes().unwrap()).is_none(), "{name}");
        }
    }
}
