//! Several layouts through the same nights.
//!
//! In: a campaign a layout, of one seed. Out: the counts of each, and of every pair. Draws are named by their
//! elements, so a night has the same weather, load and luck in every layout, whichever runs first.

use super::Campaign;
use crate::engine::result::{TrialError, TrialResult};
use crate::summary::counts::Counts;
use crate::summary::margin::Margin;
use crate::summary::means::Means;
use crate::summary::paired::{Outcome, Paired};
use crate::time::Time;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::AtomicBool;
use std::sync::{Mutex, PoisonError};

/// What all layouts came to.
#[derive(Clone, Debug)]
pub struct SideBySide {
    /// One a layout.
    pub counts: Vec<Counts>,
    pub paired: Paired,
    /// How near each night came to a limit; without those that could not be finished.
    pub margins: Means,
}

impl SideBySide {
    fn new(campaigns: &[Campaign]) -> SideBySide {
        let counts = campaigns.iter().map(|c| Counts::new(&c.model)).collect();
        SideBySide { counts, paired: Paired::new(campaigns.len()), margins: Means::new(campaigns.len()) }
    }

    fn merge(&mut self, other: &SideBySide) {
        self.counts.iter_mut().zip(&other.counts).for_each(|(mine, theirs)| mine.merge(theirs));
        self.paired.merge(&other.paired);
        self.margins.merge(&other.margins);
    }
}

/// Runs all layouts through every block on rayon's current pool; `done` hears of finished nights, one for each
/// layout. `None` if `stop` was raised before all were done.
pub fn run(
    campaigns: &[Campaign],
    blocks: &[Range<u64>],
    stop: &AtomicBool,
    done: &(dyn Fn(u64) + Sync),
) -> Option<SideBySide> {
    let total = Mutex::new(SideBySide::new(campaigns));
    blocks.par_iter().try_for_each(|block| {
        let found = one_block(campaigns, block, stop, done)?;
        total.lock().unwrap_or_else(PoisonError::into_inner).merge(&found);
        Some(())
    })?;
    Some(total.into_inner().unwrap_or_else(PoisonError::into_inner))
}

fn one_block(campaigns: &[Campaign], block: &Range<u64>, stop: &AtomicBool, done: &dyn Fn(u64)) -> Option<SideBySide> {
    let mut found = SideBySide::new(campaigns);
    let nights = (block.end - block.start) as usize;
    let mut outcomes: Vec<Vec<Outcome>> = vec![Vec::with_capacity(campaigns.len()); nights];
    let mut margins: Vec<Vec<Option<f64>>> = vec![Vec::with_capacity(campaigns.len()); nights];
    for (campaign, counts) in campaigns.iter().zip(&mut found.counts) {
        let margin = Margin::new(&campaign.model);
        let mut night = outcomes.iter_mut().zip(&mut margins);
        campaign.each(block.clone(), stop, &mut |luck, result| {
            if let Some((outcomes, margins)) = night.next() {
                outcomes.push(outcome(campaign, &result));
                margins.push(result.as_ref().ok().and_then(|result| margin.of(result)));
            }
            match result {
                Ok(result) => counts.add(&result),
                Err(error) => counts.add_failed(luck.trial, luck.night, &error),
            }
        })?;
        done(nights as u64);
    }
    outcomes.iter().for_each(|night| found.paired.add(night));
    margins.iter().for_each(|night| found.margins.add(night));
    Some(found)
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
