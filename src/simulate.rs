//! The nights of a scenario, from its file to the results document.
//!
//! In: a scenario, options, who hears of the work and may stop it, and where finished blocks are kept. Out: `Results`,
//! the same bits for any number of threads, with interruptions or without.

use crate::engine::record::Record;
use crate::engine::result::TrialResult;
use crate::progress::{Progress, Work};
use crate::scenario::Scenario;
use crate::scenario::check::{self, Checked};
use crate::study::compare;
use crate::study::error::StudyError;
use crate::summary::counts::Counts;
use crate::summary::{Results, assemble};
use crate::trials::blocks::Checkpoint;
use crate::trials::shard::Identity;
use crate::trials::{Campaign, Options, RunError, half_step, replay};
use std::path::Path;

/// Reads and judges a scenario file, and the profiles that it names.
///
/// # Errors
/// `Input` with every fault of it.
pub fn load(scenario_file: impl AsRef<Path>) -> Result<Checked, StudyError> {
    check::load(scenario_file.as_ref()).map_err(|faults| RunError::Input(faults).into())
}

/// A scenario that is ready to run.
#[derive(Debug)]
pub struct Simulation {
    scenario: Scenario,
    campaign: Campaign,
    options: Options,
    identity: Identity,
    warnings: Vec<String>,
}

impl Simulation {
    /// A simulation of a scenario as it was read.
    ///
    /// # Errors
    /// A scenario without a load or trials, or an option that is out of its range.
    pub fn new(checked: &Checked, options: Options) -> Result<Simulation, StudyError> {
        let scenario = options.apply(checked)?;
        let campaign = Campaign::of(&scenario)?;
        let trials = &campaign.model.trials;
        let identity = Identity::new(&checked.digest, trials.seed, trials.count);
        let warnings = checked.warnings.iter().map(|w| w.message.clone()).collect();
        Ok(Simulation { scenario, campaign, options, identity, warnings })
    }

    /// What another run must share to give the same results.
    pub fn identity(&self) -> &Identity {
        &self.identity
    }

    /// The trials themselves.
    pub fn campaign(&self) -> &Campaign {
        &self.campaign
    }

    /// Runs all nights. Nobody hears of it, and nothing is kept on the way.
    ///
    /// # Errors
    /// As `run_with`.
    pub fn run(&self) -> Result<Results, StudyError> {
        self.run_with(&Progress::none(), &())
    }

    /// Judges the target for the limit, runs all nights that the checkpoint has not kept, and the first of them again
    /// with half the step.
    ///
    /// # Errors
    /// An interruption, a block that cannot be kept or read again, threads that the system does not give, or a target
    /// for the limit that takes too many sets.
    pub fn run_with(
        &self,
        progress: &Progress<'_>,
        checkpoint: &dyn Checkpoint<Counts>,
    ) -> Result<Results, StudyError> {
        self.options.on_threads(|| {
            let limit_target = compare::limit_target(&self.scenario, progress)?;
            let trials = self.identity.trials;
            progress.begin(Work::Nights, Some(trials));
            let counts = self.campaign.run(0..trials, checkpoint, progress)?;
            progress.begin(Work::HalfStep, None);
            let half_step = half_step::check(&self.scenario, &self.campaign, progress.stop)?;
            let model = &self.campaign.model;
            let results = assemble::results(&self.scenario, model, &counts, Some(half_step), self.warnings.clone());
            Ok(Results { limit_target, ..results })
        })?
    }

    /// Runs one night again and records every current. Any trial number may be asked for, also beyond those of a run: a trial
    /// does not depend on how many there are.
    ///
    /// # Errors
    /// An interruption, or a night that the engine cannot finish.
    pub fn replay(&self, trial: u64, progress: &Progress<'_>) -> Result<(Record, TrialResult), StudyError> {
        progress.begin(Work::Replay, None);
        self.record(trial, progress)
    }

    /// The night that is shown for a run: the worst, or the first where no night was bad.
    ///
    /// # Errors
    /// Those of `replay`.
    pub fn shown_night(&self, results: &Results, progress: &Progress<'_>) -> Result<Record, StudyError> {
        let trial = results.worst.first().map_or(0, |night| night.trial);
        Ok(self.record(trial, progress)?.0)
    }

    fn record(&self, trial: u64, progress: &Progress<'_>) -> Result<(Record, TrialResult), StudyError> {
        Ok(replay::replay(&self.campaign, trial, progress.stop).map_err(RunError::from)?)
    }
}
