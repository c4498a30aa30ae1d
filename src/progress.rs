//! How long work is followed and stopped.
//!
//! In: a flag that whoever waits may raise, and who hears of finished work. Out: what is worked on, how much of it is
//! done, and [`Interrupted`] once the flag is up.

use std::sync::atomic::{AtomicBool, Ordering};

/// What work consists of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Work {
    /// Sets of modules out, each solved at rest.
    Sets,
    /// Trials, a night each; of several layouts each its own.
    Nights,
    /// The first nights again with half the step. Not counted.
    HalfStep,
    /// One night again with every current. Not counted.
    Replay,
    /// Explanations of readings.
    Explanations,
}

/// Hears how far long work has come, from any thread. A closure of a number hears of finished pieces alone.
pub trait Listener: Sync {
    /// Other work begins, `total` pieces where that is known.
    fn begin(&self, _work: Work, _total: Option<u64>) {}

    /// So many of its pieces were finished before, and are not done again.
    fn skip(&self, _pieces: u64) {}

    /// So many more pieces are finished.
    fn advance(&self, pieces: u64);
}

impl<F: Fn(u64) + Sync> Listener for F {
    fn advance(&self, pieces: u64) {
        self(pieces);
    }
}

/// Whoever waits for an answer.
#[derive(Clone, Copy)]
pub struct Progress<'a> {
    /// Raised, it ends the work within a piece of it.
    pub stop: &'a AtomicBool,
    /// Hears of it.
    pub listener: &'a dyn Listener,
}

/// The flag was raised before the work was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("interrupted")]
pub struct Interrupted;

impl Progress<'_> {
    /// Nobody hears of the work, and nobody stops it.
    pub fn none() -> Progress<'static> {
        static NEVER: AtomicBool = AtomicBool::new(false);
        Progress { stop: &NEVER, listener: &|_| () }
    }

    /// Other work begins, `total` pieces where that is known.
    pub fn begin(&self, work: Work, total: Option<u64>) {
        self.listener.begin(work, total);
    }

    /// So many more pieces are finished.
    pub fn advance(&self, pieces: u64) {
        self.listener.advance(pieces);
    }

    /// Whether to go on.
    ///
    /// # Errors
    /// Where the flag is up.
    pub fn check(&self) -> Result<(), Interrupted> {
        if self.stop.load(Ordering::Relaxed) { Err(Interrupted) } else { Ok(()) }
    }
}
