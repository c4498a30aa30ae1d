//! Thousands of random nights, in parallel, in blocks.
//!
//! In: a scenario, and options. Out: the sum of all trials. A trial is a pure function of (scenario, seed, its number),
//! and sums merge to the same bits in any order: neither threads nor blocks nor interruptions change an answer.

pub mod blocks;
mod error;
pub mod half_step;
pub mod paired_trials;
pub mod replay;
pub mod sampler;
pub mod shard;

pub use error::{CheckpointError, RunError};

use crate::bounds;
use crate::diagnostic::{Diagnostic, Fault};
use crate::engine::batch::Lanes;
use crate::engine::model::Model;
use crate::engine::realization::Realization;
use crate::engine::result::{TrialError, TrialResult};
use crate::engine::trial;
use crate::engine::trial::Observer;
use crate::network::NetworkError;
use crate::network::lane::LANES;
use crate::progress::{Interrupted, Progress};
use crate::scenario::check::Checked;
use crate::scenario::{Load, Scenario, Trials};
use crate::summary::counts::Counts;
use blocks::Checkpoint;
use sampler::Sampler;
use std::ops::Range;
use std::sync::atomic::AtomicBool;

/// Trials whose chance is drawn before they are run: so many that the lanes are full until near the end, so few that
/// memory does not grow with the number of trials.
const AT_ONCE: usize = 16 * LANES;
/// Nor with what happens in them: no more are drawn once there are so many changes.
const CHANGES_AT_ONCE: usize = 500_000;

/// How many nights, drawn from what, on how many threads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Trials, 1 to [`bounds::TRIALS`]; `None`: the scenario's.
    pub trials: Option<u64>,
    /// Of every random draw; `None`: the scenario's.
    pub seed: Option<u64>,
    /// 1 to [`bounds::THREADS`]; `None`: all that the machine offers. No answer depends on it.
    pub threads: Option<usize>,
}

impl Options {
    /// How many threads these are.
    pub fn thread_count(&self) -> usize {
        let all = || std::thread::available_parallelism().map_or(1, usize::from).min(bounds::THREADS as usize);
        self.threads.unwrap_or_else(all)
    }

    /// Does something on so many threads of its own.
    ///
    /// # Errors
    /// Where the system gives none.
    pub fn on_threads<T: Send>(&self, work: impl FnOnce() -> T + Send) -> Result<T, RunError> {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(self.thread_count()).build();
        Ok(pool.map_err(|e| RunError::Threads(e.to_string()))?.install(work))
    }

    /// The scenario with these numbers of trials and seed.
    ///
    /// # Errors
    /// `Input` or `OutOfRange`.
    pub fn apply(&self, checked: &Checked) -> Result<Scenario, RunError> {
        let threads = self.threads.map(|threads| threads as u64);
        for (name, given, most) in [("trials", self.trials, bounds::TRIALS), ("threads", threads, bounds::THREADS)] {
            if given.is_some_and(|given| !(1..=most).contains(&given)) {
                return Err(RunError::OutOfRange(name, most));
            }
        }
        let mut scenario = checked.scenario.clone();
        let (Some(_), Some(trials)) = (&scenario.load, &mut scenario.trials) else {
            return Err(RunError::Input(missing_sections(checked)));
        };
        trials.count = self.trials.unwrap_or(trials.count);
        trials.seed = self.seed.unwrap_or(trials.seed);
        Ok(scenario)
    }
}

/// What a scenario that is legal by itself lacks for a run; shown where it is to be added.
fn missing_sections(checked: &Checked) -> Vec<Diagnostic> {
    let missing = |section: &str, example: &str| {
        let message = format!("a run needs [{section}], and the scenario has none");
        let label = format!("the file ends here, without [{section}]");
        Diagnostic::at_end(&checked.text, Fault::Missing, message, label, format!("add [{section}], with {example}"))
    };
    let load = missing("load", "`power = \"2 kW\"`, `current = \"40 A\"` or `profile = \"load.csv\"`");
    let trials = missing("trials", "`count = 10000` and `horizon = \"16 h\"`");
    let scenario = &checked.scenario;
    let sections = [(scenario.load.is_none(), load), (scenario.trials.is_none(), trials)];
    sections.into_iter().filter(|(absent, _)| *absent).map(|(_, fault)| fault).collect()
}

/// A scenario with all that its trials need.
#[derive(Debug)]
pub struct Campaign {
    /// What is the same in all trials.
    pub model: Model,
    sampler: Sampler,
}

impl Campaign {
    /// # Errors
    /// None for a legal scenario.
    pub fn new(scenario: &Scenario, load: &Load, trials: &Trials) -> Result<Campaign, NetworkError> {
        let model = Model::new(scenario, load, trials)?;
        let sampler = Sampler::new(scenario, &model);
        Ok(Campaign { model, sampler })
    }

    /// Of a scenario with its own load and trials.
    ///
    /// # Errors
    /// A scenario without them.
    pub fn of(scenario: &Scenario) -> Result<Campaign, RunError> {
        let sections = scenario.load.as_ref().zip(scenario.trials.as_ref());
        let (load, trials) = sections.ok_or(RunError::Input(Vec::new()))?;
        Ok(Campaign::new(scenario, load, trials)?)
    }

    /// Chance of one trial.
    pub fn realization(&self, trial: u64) -> Realization {
        self.sampler.realization(&self.model, trial)
    }

    /// Runs one trial, watched.
    ///
    /// # Errors
    /// As `trial::run`.
    pub fn run_one(&self, trial: u64, observer: &mut impl Observer) -> Result<TrialResult, TrialError> {
        trial::run(&self.model, &self.realization(trial), observer)
    }

    /// Counts trials on rayon's current pool: those that the checkpoint has kept, and those that are run now.
    ///
    /// # Errors
    /// An interruption, or the checkpoint's. Whole blocks are kept then.
    pub fn run(
        &self,
        trials: Range<u64>,
        checkpoint: &dyn Checkpoint<Counts>,
        progress: &Progress<'_>,
    ) -> Result<Counts, RunError> {
        let nothing = Counts::new(&self.model);
        let lanes = || Lanes::new(&self.model);
        blocks::sum(nothing, blocks::divide(trials), (checkpoint, progress), lanes, |lanes, block| {
            let mut counts = Counts::new(&self.model);
            self.each(block.trials.clone(), lanes, progress.stop, &mut |realization, result| {
                count(&mut counts, realization, &result);
                progress.advance(1);
            })?;
            Ok(counts)
        })
    }

    /// Hands over each of some trials, in order. A raised flag ends a trial within a step, so that the wait is short
    /// however long the trial.
    fn each(
        &self,
        trials: Range<u64>,
        lanes: &mut Lanes<'_>,
        stop: &AtomicBool,
        take: &mut dyn FnMut(&Realization, Result<TrialResult, TrialError>),
    ) -> Result<(), Interrupted> {
        let mut numbers = trials.peekable();
        while numbers.peek().is_some() {
            let realizations = self.few(&mut numbers);
            let results = lanes.run(&realizations, stop).ok_or(Interrupted)?;
            results.into_iter().zip(&realizations).for_each(|(result, realization)| take(realization, result));
        }
        Ok(())
    }

    /// The chance of the next trials, as many as are run together.
    fn few(&self, numbers: &mut impl Iterator<Item = u64>) -> Vec<Realization> {
        let mut realizations = Vec::new();
        let mut changes = 0;
        while realizations.len() < AT_ONCE && changes < CHANGES_AT_ONCE {
            let Some(number) = numbers.next() else { break };
            let realization = self.realization(number);
            changes += realization.random_events.number();
            realizations.push(realization);
        }
        realizations
    }
}

fn count(counts: &mut Counts, realization: &Realization, result: &Result<TrialResult, TrialError>) {
    match result {
        Ok(result) => counts.add(result),
        Err(error) => counts.add_failed(realization.trial, realization.night, error),
    }
}
