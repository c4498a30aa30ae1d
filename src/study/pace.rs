//! What lets a long question be followed and stopped.
//!
//! In: a flag that whoever waits may raise, and who hears of finished work. Out: an error once the flag is up.

use crate::network::solve::Unsolvable;
use std::sync::atomic::{AtomicBool, Ordering};

/// Whoever waits for an answer.
#[derive(Clone, Copy)]
pub struct Pace<'a> {
    /// Raised, it ends the question within a piece of the work.
    pub stop: &'a AtomicBool,
    /// Hears of so many more pieces of the work that are done: sets of modules solved, explanations tried.
    pub done: &'a (dyn Fn(u64) + Sync),
}

/// Why a long question has no answer.
#[derive(Debug, thiserror::Error)]
pub enum Halt {
    #[error("interrupted")]
    Interrupted,
    #[error(transparent)]
    Unsolvable(#[from] Unsolvable),
}

impl Pace<'_> {
    /// Nobody hears of it, and nobody stops it.
    pub fn alone() -> Pace<'static> {
        static NEVER: AtomicBool = AtomicBool::new(false);
        Pace { stop: &NEVER, done: &|_| () }
    }

    /// # Errors
    /// Where the flag is up.
    pub fn go_on(&self) -> Result<(), Halt> {
        if self.stop.load(Ordering::Relaxed) { Err(Halt::Interrupted) } else { Ok(()) }
    }

    pub fn done(&self, pieces: u64) {
        (self.done)(pieces);
    }
}
