//! The library's front door: the same results whatever threads, interruptions and checkpoints; errors that say what to do.

use bankwright::progress::{Listener, Work};
use bankwright::scenario::check::{Checked, parse};
use bankwright::summary::counts::Counts;
use bankwright::trials::blocks::Block;
use bankwright::trials::{CheckpointError, RunError};
use bankwright::{Checkpoint, Options, Progress, Simulation, StudyError};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// Faults and spreads, a few minutes long; invented.
const TINY: &str = include_str!("layouts/tiny.toml");
/// In blocks of 16.
const TRIALS: u64 = 150;

fn checked(text: &str) -> Checked {
    parse(text, "tiny.toml", Path::new("")).unwrap()
}

fn simulation(threads: usize) -> Simulation {
    let options = Options { trials: Some(TRIALS), seed: Some(3), threads: Some(threads) };
    Simulation::new(&checked(TINY), options).unwrap()
}

/// Keeps blocks as they are written and read by `serde`, and raises a flag after so many.
struct Kept<'a> {
    blocks: Mutex<BTreeMap<usize, String>>,
    stop: &'a AtomicBool,
    stops_after: usize,
}

impl Checkpoint<Counts> for Kept<'_> {
    fn load(&self, blocks: &[Block], take: &mut dyn FnMut(usize, &Counts)) -> Result<(), CheckpointError> {
        for (number, text) in &*self.blocks.lock().unwrap() {
            assert_eq!(blocks[*number].number, *number);
            take(*number, &serde_json::from_str(text)?);
        }
        Ok(())
    }

    fn save(&self, block: &Block, counts: &Counts) -> Result<(), CheckpointError> {
        let mut blocks = self.blocks.lock().unwrap();
        blocks.insert(block.number, serde_json::to_string(counts)?);
        if blocks.len() >= self.stops_after {
            self.stop.store(true, Ordering::Relaxed);
        }
        Ok(())
    }
}

/// What is told of the nights.
#[derive(Default)]
struct Heard {
    nights: AtomicBool,
    done: AtomicU64,
    skipped: AtomicU64,
}

impl Listener for Heard {
    fn begin(&self, work: Work, total: Option<u64>) {
        self.nights.store(work == Work::Nights, Ordering::Relaxed);
        assert!(work != Work::Nights || total == Some(TRIALS));
    }

    fn skip(&self, pieces: u64) {
        self.skipped.fetch_add(pieces, Ordering::Relaxed);
    }

    fn advance(&self, pieces: u64) {
        if self.nights.load(Ordering::Relaxed) {
            self.done.fetch_add(pieces, Ordering::Relaxed);
        }
    }
}

#[test]
fn an_interrupted_run_goes_on_to_the_same_bytes_on_any_threads() {
    let whole = serde_json::to_string(&simulation(1).run().unwrap()).unwrap();
    let stop = AtomicBool::new(false);
    let mut kept = Kept { blocks: Mutex::default(), stop: &stop, stops_after: 3 };
    let stopped = simulation(1).run_with(&Progress { stop: &stop, listener: &Heard::default() }, &kept);
    assert!(stopped.unwrap_err().is_interruption());
    assert_eq!(kept.blocks.lock().unwrap().len(), 3);

    stop.store(false, Ordering::Relaxed);
    kept.stops_after = usize::MAX;
    let heard = Heard::default();
    let results = simulation(3).run_with(&Progress { stop: &stop, listener: &heard }, &kept).unwrap();
    assert_eq!(serde_json::to_string(&results).unwrap(), whole);
    let [skipped, done] = [&heard.skipped, &heard.done].map(|n| n.load(Ordering::Relaxed));
    assert_eq!((skipped, done), (3 * 16, TRIALS - 3 * 16));
    assert_eq!(kept.blocks.lock().unwrap().len() as u64, TRIALS.div_ceil(16));
}

struct Full;

impl Checkpoint<Counts> for Full {
    fn load(&self, _: &[Block], _: &mut dyn FnMut(usize, &Counts)) -> Result<(), CheckpointError> {
        Ok(())
    }

    fn save(&self, _: &Block, _: &Counts) -> Result<(), CheckpointError> {
        Err("the disk is full".into())
    }
}

#[test]
fn a_block_that_cannot_be_kept_ends_the_run_with_its_reason() {
    let stop = AtomicBool::new(false);
    let failed = simulation(2).run_with(&Progress { stop: &stop, ..Progress::none() }, &Full).unwrap_err();
    assert_eq!(failed.to_string(), "the disk is full");
    assert!(stop.load(Ordering::Relaxed), "the other threads end at once");
}

#[test]
fn what_cannot_be_run_says_why() {
    let new = |text: &str, options| Simulation::new(&checked(text), options).unwrap_err();
    let none = Options { trials: Some(0), ..Options::default() };
    assert_eq!(new(TINY, none).to_string(), "trials must be from 1 to 10000000");
    let threads = Options { threads: Some(1000), ..Options::default() };
    assert_eq!(new(TINY, threads).to_string(), "threads must be from 1 to 64");
    let start = TINY.find("[load]").unwrap();
    let end = start + TINY[start + 1..].find("\n[").unwrap() + 1;
    let without = format!("{}{}", &TINY[..start], &TINY[end..]);
    let StudyError::Run(RunError::Input(faults)) = new(&without, Options::default()) else { panic!("another error") };
    assert_eq!(faults.len(), 1);
    assert_eq!(faults[0].message, "a run needs [load], and the scenario has none");
    assert!(matches!(bankwright::load("no such file.toml"), Err(StudyError::Run(RunError::Input(_)))));
}
