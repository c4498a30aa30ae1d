//! What people really write wrong: each entry with every fault that it is refused for, by kind, file, line and column.
//!
//! In: the texts in this folder. `== name` begins an entry, an edit of `base.toml` and the files beside it:
//!
//! ```text
//! - a line that goes            (lines that go together stand as they do in the file, and there once)
//! + a line that comes           (in place of those that went; at the end where none went)
//! file NAME                     (this file is, as a whole, what follows)
//! | a line of it
//! cut NAME after TEXT           (the file ends behind this text)
//! encode NAME as ENCODING       (latin-1, utf-16, cr, crlf, bom-crlf, half-gzip)
//! reads NAME                    (`readings` is asked with this file; `check` otherwise)
//! ! KIND FILE:LINE:COLUMN       (a fault, in the order in which they are told)
//! ```
//!
//! Columns count characters, from 1. `<TAB>`, `<BOM>` and their like stand for what cannot be seen. Words are not pinned:
//! they are reread by people. `arguments.txt` has command lines that are refused before any file is looked at.

use bankwright::diagnostic::{Diagnostic, Severity};
use bankwright::network::bank::Bank;
use bankwright::profile::{ProfileError, read_readings};
use bankwright::scenario::check;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const TEXTS: [&str; 4] = ["syntax.txt", "names.txt", "quantities.txt", "files.txt"];
const BESIDE: [(&str, &str); 5] = [
    ("bank.toml", "base.toml"),
    ("store.toml", "store.toml"),
    ("load.csv", "load.csv"),
    ("air.csv", "air.csv"),
    ("readings.csv", "readings.csv"),
];
const UNSEEN: [(&str, &str); 11] = [
    ("<TAB>", "\t"),
    ("<NBSP>", "\u{a0}"),
    ("<ZWSP>", "\u{200b}"),
    ("<BOM>", "\u{feff}"),
    ("<BEL>", "\u{7}"),
    ("<NUL>", "\0"),
    ("<ETX>", "\u{3}"),
    ("<EOT>", "\u{4}"),
    ("<DEL>", "\u{7f}"),
    ("<ESC>", "\u{1b}"),
    ("<RLO>", "\u{202e}"),
];

fn corpus() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus")
}

fn text(name: &str) -> String {
    std::fs::read_to_string(corpus().join(name)).unwrap_or_else(|why| panic!("{name}: {why}"))
}

/// One entry: the files that it makes, and what they are refused for.
struct Entry {
    name: String,
    files: BTreeMap<String, Vec<u8>>,
    reads: Option<String>,
    pins: Vec<String>,
}

impl Entry {
    fn of(name: &str, lines: &[&str]) -> Entry {
        let files = BESIDE.iter().map(|(name, from)| ((*name).to_owned(), text(from).into_bytes())).collect();
        let mut entry = Entry { name: name.to_owned(), files, reads: None, pins: Vec::new() };
        let mut rest = lines;
        while let [line, more @ ..] = rest {
            rest = match line.split_once(' ').unwrap_or((line, "")) {
                ("-" | "+", _) => entry.edit(rest),
                ("file", name) => entry.file(name, more),
                (mark, what) => {
                    match mark {
                        "cut" => entry.cut(what),
                        "encode" => entry.encode(what),
                        "reads" => entry.reads = Some(what.to_owned()),
                        "!" => entry.pins.push(what.to_owned()),
                        _ => panic!("{name}: what is {line:?}?"),
                    }
                    more
                }
            };
        }
        entry
    }

    /// Lines that go, then those that come in their place; the lines after them.
    fn edit<'t, 'l>(&mut self, lines: &'t [&'l str]) -> &'t [&'l str] {
        let go: Vec<&str> = lines.iter().map_while(|line| marked(line, "-")).collect();
        let come: Vec<String> = lines[go.len()..].iter().map_while(|line| marked(line, "+")).map(seen).collect();
        let bank = String::from_utf8(self.files["bank.toml"].clone()).unwrap();
        let (gone, new) = (joined(&go), joined(&come));
        let edited = if go.is_empty() {
            bank + &new
        } else {
            // From the start of a line.
            let (bank, gone) = (format!("\n{bank}"), format!("\n{gone}"));
            assert_eq!(bank.matches(&gone).count(), 1, "{}: {gone}", self.name);
            bank.replacen(&gone, &format!("\n{new}"), 1)[1..].to_owned()
        };
        self.files.insert("bank.toml".to_owned(), edited.into_bytes());
        &lines[go.len() + come.len()..]
    }

    fn file<'t, 'l>(&mut self, name: &str, lines: &'t [&'l str]) -> &'t [&'l str] {
        let own: Vec<String> = lines.iter().map_while(|line| marked(line, "|")).map(seen).collect();
        self.files.insert(name.to_owned(), joined(&own).into_bytes());
        &lines[own.len()..]
    }

    fn cut(&mut self, how: &str) {
        let (name, behind) = how.split_once(" after ").unwrap();
        let bytes = self.files.get_mut(name).unwrap();
        let at = String::from_utf8_lossy(bytes).find(behind).unwrap() + behind.len();
        bytes.truncate(at);
    }

    fn encode(&mut self, how: &str) {
        let (name, encoding) = how.split_once(" as ").unwrap();
        let text = String::from_utf8(self.files[name].clone()).unwrap();
        let bytes = match encoding {
            "latin-1" => text.chars().map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?')).collect(),
            "utf-16" => [0xfeff].into_iter().chain(text.encode_utf16()).flat_map(u16::to_le_bytes).collect(),
            "cr" => text.replace('\n', "\r").into_bytes(),
            "crlf" => text.replace('\n', "\r\n").into_bytes(),
            "bom-crlf" => format!("\u{feff}{}", text.replace('\n', "\r\n")).into_bytes(),
            "half-gzip" => half_packed(text.as_bytes()),
            _ => panic!("no encoding is called {encoding}"),
        };
        self.files.insert(name.to_owned(), bytes);
    }

    /// Writes the files and asks the library: every error, as it is pinned, with what shows it to people.
    fn judge(&self, folder: &Path) -> Vec<(String, String)> {
        for (name, bytes) in &self.files {
            std::fs::write(folder.join(name), bytes).unwrap();
        }
        match (check::load(&folder.join("bank.toml")), &self.reads) {
            (Err(faults), _) => told(&faults),
            (Ok(_), None) => Vec::new(),
            (Ok(checked), Some(name)) => {
                let bank = Bank::new(&checked.scenario).unwrap();
                let known: Vec<&str> = (0..bank.network.branches().len()).map(|k| bank.branch_id(k)).collect();
                match read_readings(&folder.join(name), &known, |_| None) {
                    Ok(_) => Vec::new(),
                    Err(ProfileError::Faults(faults)) => told(&faults),
                    Err(ProfileError::Unreadable { why, .. }) => vec![("Unreadable".to_owned(), why)],
                }
            }
        }
    }

    fn command(&self, folder: &Path) -> Output {
        match &self.reads {
            Some(name) => run(folder, &["readings", "bank.toml", name]),
            None => run(folder, &["check", "bank.toml"]),
        }
    }
}

/// What stands behind a mark and a blank; a mark alone is an empty line.
fn marked<'a>(line: &'a str, mark: &str) -> Option<&'a str> {
    let rest = line.strip_prefix(mark)?;
    if rest.is_empty() { Some("") } else { rest.strip_prefix(' ') }
}

fn joined(lines: &[impl AsRef<str>]) -> String {
    lines.iter().map(|line| format!("{}\n", line.as_ref())).collect()
}

fn seen(line: &str) -> String {
    UNSEEN.iter().fold(line.to_owned(), |line, (name, is)| line.replace(name, is))
}

fn half_packed(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    std::io::Write::write_all(&mut packer, bytes).unwrap();
    let mut packed = packer.finish().unwrap();
    packed.truncate(packed.len() / 2);
    packed
}

/// `Quantity bank.toml:7:12`, and the message with what the caret underlines.
fn told(faults: &[Diagnostic]) -> Vec<(String, String)> {
    let errors = faults.iter().filter(|d| d.severity == Severity::Error);
    let tell = |d: &Diagnostic| {
        let (line, column) = d.place();
        let file = Path::new(&d.source.name).file_name().unwrap_or_default().to_string_lossy();
        let under = d.source.text.get(d.span.clone()).unwrap_or_default();
        // A file that is no text has no line to point at.
        let place = if d.source.text.is_empty() { String::new() } else { format!(":{line}:{column}") };
        (format!("{:?} {file}{place}", d.fault), format!("{} [{}] <{under}>", d.message, d.label))
    };
    errors.map(tell).collect()
}

fn run(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_bankwright")).current_dir(folder).args(args).output().unwrap()
}

/// Refused as an input is: exit code 2, words on standard error alone, no panic.
fn refused(output: &Output) -> Result<String, String> {
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    let as_input = output.status.code() == Some(2) && output.stdout.is_empty() && !said.is_empty();
    if as_input && !said.contains("panicked") && !said.contains("defect of the program") { Ok(said) } else { Err(said) }
}

fn entries(name: &str) -> Vec<Entry> {
    let text = text(name);
    let mut parts = text.split("\n== ").skip(1);
    let entry = |part: &str| {
        let mut lines = part.lines().filter(|line| !line.is_empty());
        let name = lines.next().unwrap_or_default().to_owned();
        Entry::of(&name, &lines.collect::<Vec<_>>())
    };
    parts.by_ref().map(entry).collect()
}

/// All that is not as it is pinned, in words.
fn not_as_pinned(name: &str) -> String {
    let show = std::env::var_os("BANKWRIGHT_CORPUS").is_some();
    let mut wrong = String::new();
    for entry in entries(name) {
        let folder = tempfile::tempdir().unwrap();
        let found = entry.judge(folder.path());
        let pins: Vec<&str> = found.iter().map(|(pin, _)| pin.as_str()).collect();
        let said = refused(&entry.command(folder.path()));
        let places = pins.iter().filter_map(|pin| pin.split_once(' '));
        let shown = said.as_ref().is_ok_and(|said| places.clone().all(|(_, place)| said.contains(place)));
        if show || pins != entry.pins || pins.is_empty() || !shown {
            let _ = writeln!(wrong, "== {} ({name})", entry.name);
            found.iter().for_each(|(pin, words)| wrong += &format!("! {pin}    {words}\n"));
            if !shown {
                let _ = writeln!(wrong, "the program said: {said:?}");
            }
        }
    }
    wrong
}

#[test]
fn the_base_is_sound() {
    let folder = tempfile::tempdir().unwrap();
    let base = Entry::of("base", &[]);
    assert!(base.judge(folder.path()).is_empty(), "{:?}", base.judge(folder.path()));
    assert_eq!(run(folder.path(), &["check", "bank.toml"]).status.code(), Some(0));
}

#[test]
fn syntax() {
    let wrong = not_as_pinned(TEXTS[0]);
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn names_of_keys_and_things() {
    let wrong = not_as_pinned(TEXTS[1]);
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn quantities() {
    let wrong = not_as_pinned(TEXTS[2]);
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn profiles_parts_and_readings() {
    let wrong = not_as_pinned(TEXTS[3]);
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn arguments_are_refused_before_anything_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let base = Entry::of("base", &[]);
    assert!(base.judge(folder.path()).is_empty());
    let before = std::fs::read_dir(folder.path()).unwrap().count();
    for line in text("arguments.txt").lines().filter_map(|line| line.strip_prefix("$ ")) {
        let output = run(folder.path(), &line.split(' ').collect::<Vec<_>>());
        assert!(refused(&output).is_ok(), "{line}: {output:?}");
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), before);
}

#[test]
fn the_corpus_is_large_and_no_entry_stands_twice() {
    let mut names: Vec<String> = TEXTS.iter().flat_map(|name| entries(name)).map(|entry| entry.name).collect();
    let arguments = text("arguments.txt").lines().filter(|line| line.starts_with("$ ")).count();
    assert!(names.len() + arguments >= 300, "{} entries", names.len());
    names.sort();
    let twice = names.windows(2).find(|two| two[0] == two[1]);
    assert!(twice.is_none(), "{twice:?}");
}
