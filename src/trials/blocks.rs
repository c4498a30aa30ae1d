//! Blocks of trials, run in parallel and added up.
//!
//! In: blocks, how one is run, and where finished ones are kept. Out: the sum of all. Sums merge in any order to the
//! same bits, so neither threads nor blocks nor interruptions change an answer.

use super::error::{CheckpointError, RunError};
use crate::progress::{Interrupted, Progress};
use crate::summary::Merge;
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

/// Trials that are run, kept and added up as one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Block {
    /// Its place among the blocks of a run, from 0.
    pub number: usize,
    /// Numbers of its trials.
    pub trials: Range<u64>,
}

impl Block {
    fn len(&self) -> u64 {
        self.trials.end - self.trials.start
    }
}

/// Blocks are whole multiples of so many trials, so that no lane stays empty: the same number however many lanes the
/// engine has, since a kept block is known by its number, and results tell how many nights were tried with half the step.
pub(super) const BATCH: u64 = 16;

/// The blocks of a range of trials, in order: few enough to list, small enough to lose one, and enough of them to keep
/// every thread busy.
pub fn divide(trials: Range<u64>) -> Vec<Block> {
    let size = ((trials.end - trials.start) / 256).clamp(1, 5000).next_multiple_of(BATCH);
    let starts = trials.clone().step_by(size as usize);
    let block = |(number, first): (usize, u64)| Block { number, trials: first..(first + size).min(trials.end) };
    starts.enumerate().map(block).collect()
}

/// Where finished blocks are kept, so that an interrupted run goes on from them. `()` keeps nothing.
pub trait Checkpoint<T>: Sync {
    /// Hands over each of these blocks that was kept before, with its number.
    ///
    /// # Errors
    /// Blocks of another run, or what the system says.
    fn load(&self, blocks: &[Block], take: &mut dyn FnMut(usize, &T)) -> Result<(), CheckpointError>;

    /// Keeps a block that is done; called from any thread.
    ///
    /// # Errors
    /// What the system says. The run then ends.
    fn save(&self, block: &Block, sums: &T) -> Result<(), CheckpointError>;
}

impl<T> Checkpoint<T> for () {
    fn load(&self, _: &[Block], _: &mut dyn FnMut(usize, &T)) -> Result<(), CheckpointError> {
        Ok(())
    }

    fn save(&self, _: &Block, _: &T) -> Result<(), CheckpointError> {
        Ok(())
    }
}

/// Adds up all blocks on rayon's current pool: those that were kept before, and those that are run now by `one`, which
/// gives up once the flag is raised, and works in what `space` gives, many blocks in the same. The flag is raised here too where a block cannot be kept, so that the other
/// threads end at once and not after their blocks.
///
/// # Errors
/// An interruption, or the checkpoint's.
pub fn sum<T: Merge, S>(
    mut total: T,
    blocks: Vec<Block>,
    (checkpoint, progress): (&dyn Checkpoint<T>, &Progress<'_>),
    space: impl Fn() -> S + Sync + Send,
    one: impl Fn(&mut S, &Block) -> Result<T, Interrupted> + Sync,
) -> Result<T, RunError> {
    let mut kept = BTreeSet::new();
    let loaded = checkpoint.load(&blocks, &mut |number, sums| {
        total.merge(sums);
        kept.insert(number);
    });
    loaded.map_err(RunError::Checkpoint)?;
    let (done, missing): (Vec<Block>, Vec<Block>) = blocks.into_iter().partition(|b| kept.contains(&b.number));
    progress.listener.skip(done.iter().map(Block::len).sum());
    let (total, interrupted) = (Mutex::new(total), AtomicBool::new(false));
    missing.par_iter().try_for_each_init(space, |space, block| {
        // What is interrupted is left out, so that an error of the checkpoint comes before it.
        let Ok(sums) = one(space, block) else {
            interrupted.store(true, Ordering::Relaxed);
            return Ok::<(), RunError>(());
        };
        let saved = checkpoint.save(block, &sums).inspect_err(|_| progress.stop.store(true, Ordering::Relaxed));
        saved.map_err(RunError::Checkpoint)?;
        total.lock().unwrap_or_else(PoisonError::into_inner).merge(&sums);
        Ok(())
    })?;
    match interrupted.into_inner() {
        true => Err(Interrupted.into()),
        false => Ok(total.into_inner().unwrap_or_else(PoisonError::into_inner)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_cover_every_trial_once() {
        for trials in [1, 49, 255, 256, 257, 10_000, 1_000_003] {
            let blocks = divide(0..trials);
            assert_eq!(blocks.iter().map(|b| b.trials.end - b.trials.start).sum::<u64>(), trials);
            assert!(blocks.windows(2).all(|w| w[0].trials.end == w[1].trials.start && w[0].number + 1 == w[1].number));
        }
    }
}
