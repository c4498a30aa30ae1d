//! Thousands of random nights, in parallel, in blocks.
//!
//! In: a scenario and how many trials. Out: one `Counts` a block, handed to a sink as it is done.
//! A trial is a pure function of (scenario, seed, its number), and counts merge to the same bits in
//! any order: neither threads nor blocks nor interruptions change an answer.

pub mod half_step;
pub mod lottery;
pub mod replay;
pub mod shard;
pub mod side_by_side;

use crate::engine::batch::Lanes;
use crate::engine::luck::Luck;
use crate::engine::model::Model;
use crate::engine::observe::Observer;
use crate::engine::result::{TrialError, TrialResult};
use crate::engine::trial;
use crate::network::NetworkError;
use crate::network::lane::LANES;
use crate::scenario::{Load, Scenario, Trials};
use crate::summary::counts::Counts;
use lottery::Lottery;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::AtomicBool;

/// Trials whose luck is drawn before they are run: so many that the lanes are full until near the end, so few that
/// memory does not grow with the number of trials.
const AT_ONCE: usize = 16 * LANES;
/// Nor with what happens in them: no more are drawn once there are so many changes.
const CHANGES_AT_ONCE: usize = 500_000;

/// A scenario with all that its trials need.
#[derive(Debug)]
pub struct Campaign {
    pub model: Model,
    lottery: Lottery,
}

impl Campaign {
    /// # Errors
    /// None for a legal scenario.
    pub fn new(scenario: &Scenario, load: &Load, trials: &Trials) -> Result<Campaign, NetworkError> {
        let model = Model::new(scenario, load, trials)?;
        let lottery = Lottery::new(scenario, &model);
        Ok(Campaign { model, lottery })
    }

    /// Chance of one trial.
    pub fn luck(&self, trial: u64) -> Luck {
        self.lottery.luck(&self.model, trial)
    }

    /// Runs one trial, watched.
    ///
    /// # Errors
    /// As `trial::run`.
    pub fn run_one(&self, trial: u64, observer: &mut impl Observer) -> Result<TrialResult, TrialError> {
        trial::run(&self.model, &self.luck(trial), observer)
    }

    /// Counts the trials of a block; `None` if `stop` was raised before it was done. A raised flag
    /// ends a trial within a step, so that the wait is short however long the trial.
    fn run_block(&self, block: Range<u64>, stop: &AtomicBool, done: &dyn Fn(u64)) -> Option<Counts> {
        let mut counts = Counts::new(&self.model);
        self.each(block, stop, &mut |luck, result| {
            match result {
                Ok(result) => counts.add(&result),
                Err(error) => counts.add_failed(luck.trial, luck.night, &error),
            }
            done(1);
        })?;
        Some(counts)
    }

    /// Hands over each trial of a block, in order; `None` if `stop` was raised before it was done.
    fn each(
        &self,
        block: Range<u64>,
        stop: &AtomicBool,
        take: &mut dyn FnMut(&Luck, Result<TrialResult, TrialError>),
    ) -> Option<()> {
        let mut numbers = block.peekable();
        let mut lanes = Lanes::new(&self.model);
        while numbers.peek().is_some() {
            let lucks = self.few(&mut numbers);
            for (result, luck) in lanes.run(&lucks, stop)?.into_iter().zip(&lucks) {
                take(luck, result);
            }
        }
        Some(())
    }

    /// The luck of the next trials, as many as are run together.
    fn few(&self, numbers: &mut impl Iterator<Item = u64>) -> Vec<Luck> {
        let mut lucks = Vec::new();
        let mut changes = 0;
        while lucks.len() < AT_ONCE && changes < CHANGES_AT_ONCE {
            let Some(number) = numbers.next() else { break };
            let luck = self.luck(number);
            changes += luck.mishaps.number();
            lucks.push(luck);
        }
        lucks
    }

    /// Runs the blocks in parallel on rayon's current pool. `sink` takes each block as it is done,
    /// on the thread that did it; `done` hears of finished trials. Blocks that `stop` interrupts
    /// are left out.
    ///
    /// # Errors
    /// The first error of the sink; the blocks that have not begun are then not run.
    pub fn run<E: Send>(
        &self,
        blocks: &[(usize, Range<u64>)],
        stop: &AtomicBool,
        done: &(dyn Fn(u64) + Sync),
        sink: &(dyn Fn(usize, Counts) -> Result<(), E> + Sync),
    ) -> Result<(), E> {
        blocks.par_iter().try_for_each(|(number, block)| match self.run_block(block.clone(), stop, done) {
            Some(counts) => sink(*number, counts),
            None => Ok(()),
        })
    }
}
