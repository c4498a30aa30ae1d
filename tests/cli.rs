//! The command line from outside: what each command prints where, what it writes, how it ends.
//!
//! Every test works in a folder of its own; scenarios are small and invented.

mod by_night;
mod cautions;
mod check;
mod compare;
mod exact;
mod folder;
mod hidden;
mod input;
mod interrupt;
#[cfg(unix)]
mod kills;
mod lasting;
mod limit;
mod limits;
#[cfg(unix)]
mod others;
mod platform;
mod point;
mod propose;
mod readings;
mod replay;
mod run;
mod streams;
mod usage;
mod verify;

use assert_cmd::Command;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::time::Duration;
use tempfile::TempDir;

const PROGRAM: &str = env!("CARGO_BIN_EXE_bankwright");

/// Longer than any command here takes on a busy machine: a program that hangs fails its test.
const PATIENCE: Duration = Duration::from_secs(100);

const SMALL: &str = include_str!("cli/small.toml");
const WINTER: &str = include_str!("cli/winter.toml");
/// What `SMALL` lacks for a run: a constant load, nothing random.
const CONSTANT: &str = "[load]\ncurrent = \"30 A\"\n[trials]\ncount = 3\nhorizon = \"2 h\"\n";

/// A folder with a scenario in it, and where commands run.
struct Place {
    home: TempDir,
}

impl Place {
    fn with(text: &str) -> Place {
        let place = Place { home: tempfile::tempdir().unwrap() };
        place.write("bank.toml", text);
        place
    }

    /// The exact scenario without load and trials.
    fn small() -> Place {
        Place::with(SMALL)
    }

    /// The exact scenario with a constant load and three trials.
    fn constant() -> Place {
        Place::with(&format!("{SMALL}\n{CONSTANT}"))
    }

    /// Cold nights, faults, spreads, two targets that are missed.
    fn winter() -> Place {
        let place = Place::with(WINTER);
        place.write("load.csv", &load());
        place.write("air.csv", &air());
        place
    }

    fn dir(&self) -> &Path {
        self.home.path()
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }

    fn text(&self, name: &str) -> String {
        let path = self.path(name);
        std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
    }

    fn command(&self, args: &str) -> Command {
        let mut command = Command::new(PROGRAM);
        command.current_dir(self.dir()).timeout(PATIENCE).args(args.split_whitespace());
        command
    }

    fn run(&self, args: &str) -> Ran {
        Ran::of(&mut self.command(args))
    }

    /// Names of all that lies in a folder, sorted.
    fn list(&self, folder: &str) -> Vec<String> {
        let entries = std::fs::read_dir(self.path(folder)).unwrap();
        let mut names: Vec<String> = entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    /// Name and bytes of every file of a results folder but the manifest, which tells times.
    fn contents(&self, folder: &str) -> Vec<(String, Vec<u8>)> {
        let beside = ["manifest.json", "shards"];
        let names = self.list(folder).into_iter().filter(|name| !beside.contains(&name.as_str()));
        names.map(|name| (name.clone(), std::fs::read(self.path(folder).join(name)).unwrap())).collect()
    }
}

/// How a command ended and what it said.
struct Ran {
    code: Option<i32>,
    out: String,
    err: String,
}

impl Ran {
    fn of(command: &mut Command) -> Ran {
        Ran::from(command.output().unwrap())
    }

    fn from(output: std::process::Output) -> Ran {
        let text = |bytes| String::from_utf8(bytes).unwrap();
        Ran { code: output.status.code(), out: text(output.stdout), err: text(output.stderr) }
    }

    /// The exit code was this one.
    fn ends(self, code: i32) -> Ran {
        assert_eq!(self.code, Some(code), "\n--- out\n{}\n--- err\n{}", self.out, self.err);
        self
    }

    /// Standard error has each of these in it.
    fn says(self, pieces: &[&str]) -> Ran {
        for piece in pieces {
            assert!(self.err.contains(piece), "no {piece:?} in\n{}", self.err);
        }
        self
    }

    /// Standard output is one JSON document and nothing else.
    fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}:\n{}\n--- err\n{}", self.out, self.err))
    }
}

/// The text with one piece replaced; the piece must be there, once.
fn with(text: &str, piece: &str, other: &str) -> String {
    assert_eq!(text.matches(piece).count(), 1, "{piece}");
    text.replacen(piece, other, 1)
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// Nine days by the hour, heavier in the evening; invented.
fn load() -> String {
    hourly("power", |_, hour, h| 1400 + if (18..22).contains(&hour) { 1200 } else { 0 } + h * 37 % 200)
}

/// Nine days by the hour, each colder than the one before; invented.
fn air() -> String {
    hourly("air", |day, hour, h| -2 - day - if (8..=20).contains(&hour) { 0 } else { 6 } + h * 13 % 3)
}

fn hourly(column: &str, value: impl Fn(i64, i64, i64) -> i64) -> String {
    let row = |h: i64| format!("2021-01-{:02}T{:02}:00,{}\n", 10 + h / 24, h % 24, value(h / 24, h % 24, h));
    (0..9 * 24).fold(format!("time,{column}\n"), |text, h| text + &row(h))
}
