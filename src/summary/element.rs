//! One module or conductor over all trials.
//!
//! In: what it came to in each. Out: sums that merge in any order, and what the results document says of it.

use super::estimate::Estimate;
use super::merge::{Merge, merge_fields};
use crate::engine::result;
use crate::time::Time;
use serde::{Deserialize, Serialize};
use std::cmp::Reverse;

/// What one module or conductor came to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ElementCounts {
    /// Trials in which it was over its limit.
    pub nights: u64,
    /// Over all trials [µs].
    pub time_over: u64,
    /// [A]; of equals, that of the lowest trial.
    pub greatest: f64,
    /// Trial in which that was.
    pub greatest_trial: u64,
    /// When that was.
    pub greatest_at: Time,
    /// Trials in which it was over its temperature rating.
    pub hot_nights: u64,
    /// Time over its temperature rating in all trials [µs].
    pub time_hot: u64,
    /// Its greatest temperature in any trial [°C]; `None` without insulation data.
    pub hottest: Option<f64>,
}

impl ElementCounts {
    /// Of one trial.
    pub fn of(trial: u64, one: &result::ElementResult) -> ElementCounts {
        ElementCounts {
            nights: u64::from(one.first_over.is_some()),
            time_over: one.time_over.0.unsigned_abs(),
            greatest: one.greatest,
            greatest_trial: trial,
            greatest_at: one.greatest_at,
            hot_nights: u64::from(one.first_hot.is_some()),
            time_hot: one.time_hot.0.unsigned_abs(),
            hottest: one.hottest,
        }
    }

    /// What the document says of it: its identifier, how probable an overload is, and its limits in discharge and in
    /// charge [A] are known besides.
    pub fn result(&self, id: String, over: Estimate, ratings: (Option<f64>, Option<f64>)) -> ElementResult {
        let Estimate { estimate, low, high, by_night } = over;
        ElementResult {
            id,
            estimate,
            low,
            high,
            by_night,
            nights: self.nights,
            rating_a: ratings.0,
            charge_rating_a: ratings.1,
            mean_time_over_h: self.time_over as f64 * 1e-6 / 3600.0 / self.nights.max(1) as f64,
            greatest_a: self.greatest,
            greatest_trial: self.greatest_trial,
            greatest_at_h: self.greatest_at.hours(),
        }
    }
}

impl Merge for ElementCounts {
    fn merge(&mut self, other: &ElementCounts) {
        merge_fields!(self, other: nights, time_over, hot_nights, time_hot);
        self.hottest = self.hottest.into_iter().chain(other.hottest).reduce(f64::max);
        let rank = |e: &ElementCounts| (e.greatest, Reverse(e.greatest_trial));
        if rank(other) > rank(self) {
            self.greatest = other.greatest;
            self.greatest_trial = other.greatest_trial;
            self.greatest_at = other.greatest_at;
        }
    }
}

/// How one conductor or module fared in all trials.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct ElementResult {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Probability that it is over its limit in a night (0…1).
    pub estimate: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of its 95 % interval.
    pub high: f64,
    /// The 95 % interval by calendar nights, at least as wide as the one by trials; null where there is only one calendar night.
    #[serde(default)]
    pub by_night: Option<[f64; 2]>,
    /// Number of trials in which it was over its limit.
    pub nights: u64,
    /// Rated current [A]; null: unrated. For a module its discharge limit; for a conductor with insulation data the
    /// lesser of its rating and of what its insulation allows in the air that its figure is for.
    pub rating_a: Option<f64>,
    /// Charge limit of a module [A]; null for a conductor, and where it is unrated.
    pub charge_rating_a: Option<f64>,
    /// Mean time over its limit in the nights in which it was over [h].
    pub mean_time_over_h: f64,
    /// Greatest magnitude of its current in any trial [A].
    pub greatest_a: f64,
    /// Number of the trial with that current.
    pub greatest_trial: u64,
    /// Time of that current from the start of the trial [h].
    pub greatest_at_h: f64,
}
