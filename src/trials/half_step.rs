//! Runs the first trials again with half the step, to see whether the step influences the results.
//!
//! In: a campaign. Out: `HalfStep`, the same for the same scenario, seed and number of trials.

use super::blocks::BATCH;
use super::{Campaign, RunError};
use crate::engine::batch;
use crate::engine::realization::Realization;
use crate::engine::result::{TrialError, TrialResult};
use crate::math;
use crate::progress::Interrupted;
use crate::scenario::{Scenario, Trials};
use crate::summary::HalfStep;
use crate::summary::inference::Inference;
use crate::time::Time;
use rayon::prelude::*;
use std::sync::atomic::AtomicBool;

/// One in so many trials is run again; at least a batch, or of very long trials as many as make up these hours; at
/// most this many.
const ONE_IN: u64 = 50;
const HOURS: f64 = 800.0;
const MOST_TRIALS: u64 = 1024;

type Outcome = Result<TrialResult, TrialError>;

/// Runs the first trials with both steps, on rayon's current pool.
///
/// # Errors
/// An interruption.
pub fn check(scenario: &Scenario, campaign: &Campaign, stop: &AtomicBool) -> Result<HalfStep, RunError> {
    let model = &campaign.model;
    let trials = &model.trials;
    let halved = Trials { step: Time((trials.step.0 / 2).max(1)), ..trials.clone() };
    let finer = Campaign::new(scenario, &model.load, &halved)?;
    let count = how_many(trials);
    let batches = (0..count.div_ceil(BATCH)).into_par_iter().map(|batch| {
        let first = batch * BATCH;
        let realizations: Vec<Realization> =
            (first..count.min(first + BATCH)).map(|trial| campaign.realization(trial)).collect();
        let run = |campaign: &Campaign| batch::run(&campaign.model, &realizations, stop).ok_or(Interrupted);
        Ok((run(campaign)?, run(&finer)?))
    });
    let outcomes: Vec<(Vec<Outcome>, Vec<Outcome>)> = batches.collect::<Result<_, Interrupted>>()?;
    // In their order: sums of floats are then the same for any number of threads.
    let mut tally = Tally::default();
    let pairs = outcomes.iter().flat_map(|(whole, half)| whole.iter().zip(half));
    pairs.for_each(|(whole, half)| tally.add(whole, half, trials.horizon));
    Ok(tally.finish(trials.hold_time, Inference::new(model.random)))
}

fn how_many(trials: &Trials) -> u64 {
    let least = ((HOURS / trials.horizon.hours()) as u64).clamp(1, BATCH);
    let share = (trials.count / ONE_IN).next_multiple_of(BATCH);
    let wanted = if trials.count < BATCH * ONE_IN { least } else { share };
    wanted.min(MOST_TRIALS).min(trials.count)
}

#[derive(Default)]
struct Tally {
    sums: HalfStep,
    /// Sums of the ride-through with the run's own step [s], and of its square [s²].
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

    fn finish(self, hold_time: Time, inference: Inference) -> HalfStep {
        let n = self.sums.trials as f64;
        let mean_change = self.sums.ride_through_mean_change_s / n;
        let variance = (self.ride_square / n - math::powi(self.ride / n, 2)).max(0.0);
        let over = inference.probability(self.sums.over, self.sums.trials);
        let share = self.sums.over_with_half as f64 / n;
        // Two-sided 95 % of the normal distribution.
        let moved = mean_change.abs() > (1.96 * (variance / n).sqrt()).max(hold_time.seconds());
        HalfStep {
            ride_through_mean_change_s: mean_change,
            within_intervals: over.low <= share && share <= over.high && !moved,
            ..self.sums
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::trial::Nobody;
    use crate::scenario::check::load;
    use std::path::Path;

    fn campaign() -> (Scenario, Campaign) {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/reference/cold_night.toml");
        let scenario = load(&path).unwrap().scenario;
        let (load, trials) = (scenario.load.clone().unwrap(), scenario.trials.clone().unwrap());
        let campaign = Campaign::new(&scenario, &load, &trials).unwrap();
        (scenario, campaign)
    }

    #[test]
    fn a_share_of_many_trials_and_some_hours_of_few() {
        let trials = |count, hours: f64| Trials {
            count,
            horizon: Time::from_seconds(3600.0 * hours),
            ..campaign().1.model.trials.clone()
        };
        assert_eq!(how_many(&trials(10_000, 16.0)), 208);
        assert_eq!(how_many(&trials(1_000_000, 16.0)), 1024);
        assert_eq!(how_many(&trials(100, 16.0)), 16);
        assert_eq!(how_many(&trials(3, 16.0)), 3);
        assert_eq!(how_many(&trials(100, 8760.0)), 1);
    }

    #[test]
    fn a_step_that_moves_the_results_is_told() {
        let (_, campaign) = campaign();
        let whole = campaign.run_one(0, &mut Nobody).unwrap();
        let (horizon, hold_time) = (campaign.model.trials.horizon, campaign.model.trials.hold_time);
        let tally = |half: &TrialResult| {
            let mut tally = Tally::default();
            (0..40).for_each(|_| tally.add(&Ok(whole.clone()), &Ok(half.clone()), horizon));
            tally.finish(hold_time, Inference::new(true))
        };
        let same = tally(&whole);
        assert!(same.within_intervals && same.trials == 40 && same.over_changed == 0);

        let mut over = whole.clone();
        let begins = (!whole.any_over()).then_some(Time::ZERO);
        over.elements.iter_mut().for_each(|element| element.first_over = begins);
        over.elements[0].greatest += 7.0;
        let told = tally(&over);
        assert!(!told.within_intervals && told.over_changed == 40, "{told:?}");
        assert!((told.current_greatest_change_a - 7.0).abs() < 1e-9);

        let earlier = whole.served_until.unwrap_or(horizon) - Time::from_seconds(60.0);
        let told = tally(&TrialResult { served_until: Some(earlier), ..whole.clone() });
        assert!(!told.within_intervals && (told.ride_through_mean_change_s + 60.0).abs() < 1e-6);
        assert!((told.ride_through_greatest_change_s - 60.0).abs() < 1e-6);
    }

    #[test]
    fn half_the_step_is_half_the_grid_and_the_same_chance() {
        let (scenario, campaign) = campaign();
        let halved = check(&scenario, &campaign, &AtomicBool::new(false)).unwrap();
        assert!(halved.within_intervals && halved.trials > 0, "{halved:?}");
        assert!(check(&scenario, &campaign, &AtomicBool::new(true)).is_err(), "it stops when told");
    }
}
