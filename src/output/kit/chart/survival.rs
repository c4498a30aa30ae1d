//! The share of nights still served, by hours: a line in steps, with its interval.
//!
//! In: how many nights ended by when. Out: points of lines.

use crate::output::kit::number;
use crate::summary::Estimate;
use crate::summary::inference::Inference;

/// After so many hours so many are still served.
pub type Step = (f64, Estimate);

/// Steps from 0 h to the horizon, of hours with the nights that ended then.
pub fn steps(ended: impl Iterator<Item = (f64, u64)>, horizon: f64, (all, by): (u64, Inference)) -> Vec<Step> {
    let step = |hours: f64, ended: u64| {
        let share = number::share_left(all, ended);
        let Estimate { low, high, .. } = by.probability(all.saturating_sub(ended), all);
        (hours, Estimate::new(if share.is_finite() { share } else { 1.0 }, low, high))
    };
    let mut sum = 0u64;
    let mut steps = vec![step(0.0, 0)];
    for (hours, nights) in ended {
        sum = sum.saturating_add(nights);
        steps.push(step(hours, sum));
    }
    steps.push(step(horizon, sum));
    steps
}

/// A night that ended within a quarter is counted as ended at its end: held before, then down.
pub fn stairs(steps: &[Step], value: fn(&Estimate) -> f64) -> Vec<(f64, f64)> {
    let pairs = steps.windows(2).map(|two| (two[0], two[1]));
    let held = pairs.flat_map(|(a, b)| [(a.0, value(&a.1)), (b.0, value(&a.1))]);
    held.chain(steps.last().map(|s| (s.0, value(&s.1)))).collect()
}

/// Low end of the axis: zero, unless everything happens near the top.
pub fn floor(least: f64) -> f64 {
    if least < 0.6 { 0.0 } else { (1.0 - (1.0 - least) * 1.25).clamp(0.0, 0.95) }
}
