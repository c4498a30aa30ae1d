//! Several layouts through the same nights.
//!
//! In: a campaign a layout, of one seed. Out: the counts of each, and of every pair. Draws are named by their
//! elements, so a night has the same weather, load and chance in every layout, whichever runs first.

use super::blocks::{self, Block};
use super::{Campaign, RunError, count};
use crate::engine::batch::Lanes;
use crate::engine::result::{TrialError, TrialResult};
use crate::progress::{Interrupted, Progress};
use crate::summary::Merge;
use crate::summary::counts::Counts;
use crate::summary::margin::Margin;
use crate::summary::means::Means;
use crate::summary::paired::{Outcome, Paired};
use crate::time::Time;

/// What all layouts came to.
#[derive(Clone, Debug)]
pub struct PairedTrials {
    /// One a layout.
    pub counts: Vec<Counts>,
    /// Differences between every two layouts, night by night.
    pub paired: Paired,
    /// How near each night came to a limit; without those that could not be finished.
    pub margins: Means,
}

impl PairedTrials {
    fn new(campaigns: &[Campaign]) -> PairedTrials {
        let counts = campaigns.iter().map(|c| Counts::new(&c.model)).collect();
        PairedTrials { counts, paired: Paired::new(campaigns.len()), margins: Means::new(campaigns.len()) }
    }
}

impl Merge for PairedTrials {
    fn merge(&mut self, other: &PairedTrials) {
        self.counts.merge(&other.counts);
        self.paired.merge(&other.paired);
        self.margins.merge(&other.margins);
    }
}

/// Runs all layouts through every block on rayon's current pool; `progress` hears of finished nights, one for each
/// layout.
///
/// # Errors
/// An interruption.
pub fn run(campaigns: &[Campaign], blocks: Vec<Block>, progress: &Progress<'_>) -> Result<PairedTrials, RunError> {
    blocks::sum(
        PairedTrials::new(campaigns),
        blocks,
        (&(), progress),
        || (),
        |(), block| one_block(campaigns, block, progress),
    )
}

fn one_block(campaigns: &[Campaign], block: &Block, progress: &Progress<'_>) -> Result<PairedTrials, Interrupted> {
    let mut found = PairedTrials::new(campaigns);
    let nights = (block.trials.end - block.trials.start) as usize;
    let mut outcomes: Vec<Vec<Outcome>> = vec![Vec::with_capacity(campaigns.len()); nights];
    let mut margins: Vec<Vec<Option<f64>>> = vec![Vec::with_capacity(campaigns.len()); nights];
    for (campaign, counts) in campaigns.iter().zip(&mut found.counts) {
        let margin = Margin::new(&campaign.model);
        let mut night = outcomes.iter_mut().zip(&mut margins);
        campaign.each(
            block.trials.clone(),
            &mut Lanes::new(&campaign.model),
            progress.stop,
            &mut |realization, result| {
                if let Some((outcomes, margins)) = night.next() {
                    outcomes.push(outcome(campaign, &result));
                    margins.push(result.as_ref().ok().and_then(|result| margin.of(result)));
                }
                count(counts, realization, &result);
            },
        )?;
        progress.advance(nights as u64);
    }
    outcomes.iter().for_each(|night| found.paired.add(night));
    margins.iter().for_each(|night| found.margins.add(night));
    Ok(found)
}

/// A night that could not be finished counts as overloaded and not served, as everywhere.
fn outcome(campaign: &Campaign, result: &Result<TrialResult, TrialError>) -> Outcome {
    let horizon = campaign.model.trials.horizon;
    let Ok(result) = result else {
        return Outcome { over: true, short: true, served: Time::ZERO };
    };
    let served = result.served_until.unwrap_or(horizon);
    Outcome { over: result.any_over(), short: served < campaign.model.wanted, served }
}
