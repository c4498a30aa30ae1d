//! The first trials again with half the step: whether the step has a part in the results.
//!
//! In: a campaign. Out: `HalfStep`, the same for the same scenario, seed and number of trials.

use super::Campaign;
use crate::engine::luck::Luck;
use crate::engine::result::{TrialError, TrialResult};
use crate::engine::trial::lanes;
use crate::network::NetworkError;
use crate::network::lanes::LANES;
use crate::scenario::{Scenario, Trials};
use crate::summary::HalfStep;
use crate::summary::interval::clopper_pearson;
use crate::time::Time;
use std::sync::atomic::AtomicBool;

/// One in so many trials is run again, at least a convoy and at most this many.
const ONE_IN: u64 = 50;
const MOST: u64 = 1024;

type Outcome = Result<TrialResult, TrialError>;

/// Runs the first trials with both steps; `None` if `stop` was raised before they were done.
///
/// # Errors
/// None for a legal scenario.
pub fn check(scenario: &Scenario, campaign: &Campaign, stop: &AtomicBool) -> Result<Option<HalfStep>, NetworkError> {
    let model = &campaign.model;
    let trials = &model.trials;
    let halved = Trials { step: Time((trials.step.0 / 2).max(1)), ..trials.clone() };
    let finer = Campaign::new(scenario, &model.load, &halved)?;
    let count = (trials.count / ONE_IN).next_multiple_of(LANES as u64).clamp(LANES as u64, MOST).min(trials.count);
    let mut tally = Tally::default();
    for first in (0..count).step_by(LANES) {
        let lucks: Vec<Luck> = (first..count.min(first + LANES as u64)).map(|trial| campaign.luck(trial)).collect();
        let run = |campaign: &Campaign| lanes::run(&campaign.model, &lucks, stop);
        let (Some(whole), Some(half)) = (run(campaign), run(&finer)) else {
            return Ok(None);
        };
        whole.iter().zip(&half).for_each(|(whole, half)| tally.add(whole, half, trials.horizon));
    }
    Ok(Some(tally.finish(trials.hold)))
}

#[derive(Default)]
struct Tally {
    sums: HalfStep,
    /// Of the ride-through, and of its square [s, s²].
    ride: f64,
    ride_square: f64,
}

impl Tally {
    fn add(&mut self, whole: &Outcome, half: &Outcome, horizon: Time) {
        let over = [whole, half].map(|one| one.as_ref().map_or(true, TrialResult::any_over));
        let dropout = [whole, half].map(|one| one.as_ref().map_or(true, |r| r.dropout.most > 0));
        let ride = [whole, half].map(|one| {
            let until = |r: &TrialResult| r.served_until.unwrap_or(horizon);
            one.as_ref().map_or(Time::ZERO, until).seconds()
        });
        let sums = &mut self.sums;
        sums.trials += 1;
        sums.over += u64::from(over[0]);
        sums.over_with_half += u64::from(over[1]);
        sums.over_changed += u64::from(over[0] != over[1]);
        sums.dropout_changed += u64::from(dropout[0] != dropout[1]);
        sums.ride_through_mean_change_s += ride[1] - ride[0];
        sums.ride_through_greatest_change_s = sums.ride_through_greatest_change_s.max((ride[1] - ride[0]).abs());
        self.ride += ride[0];
        self.ride_square += ride[0] * ride[0];
        if let (Ok(whole), Ok(half)) = (whole, half) {
            let changes = whole.elements.iter().zip(&half.elements).map(|(a, b)| (a.greatest - b.greatest).abs());
            sums.current_greatest_change_a = changes.fold(sums.current_greatest_change_a, f64::max);
        }
    }

    fn finish(self, hold: Time) -> HalfStep {
        let n = self.sums.trials as f64;
        let mean_change = self.sums.ride_through_mean_change_s / n;
        let variance = (self.ride_square / n - (self.ride / n).powi(2)).max(0.0);
        let over = clopper_pearson(self.sums.over, self.sums.trials);
        let share = self.sums.over_with_half as f64 / n;
        // Two-sided 95 % of the normal distribution.
        let moved = mean_change.abs() > (1.96 * (variance / n).sqrt()).max(hold.seconds());
        HalfStep {
            ride_through_mean_change_s: mean_change,
            within_intervals: over.low <= share && share <= over.high && !moved,
            ..self.sums
        }
    }
}
