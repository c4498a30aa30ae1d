//! Targets of many layouts, judged so that all verdicts hold together.
//!
//! In: how many intervals are looked at. Out: the confidence that each interval needs. Whoever judges many layouts finds
//! one that meets its targets by chance alone; the error of 5 % is spread evenly over every interval that could be looked
//! at (layouts that the limit leaves × looks × targets; C. E. Bonferroni), so that with 95 % none misleads.
//!
//! A verdict needs the interval by trials and that by calendar nights to agree. That is no second look: the one by nights
//! holds the one by trials, so that it alone can mislead, and the number of intervals stays what it is.

use super::layouts::{Candidate, Candidates};

/// Probability that any interval misleads.
pub const ERROR: f64 = 0.05;

/// Confidence that each of `intervals` needs (0…1), so that all hold together.
pub fn confidence(intervals: usize) -> f64 {
    1.0 - ERROR / intervals.max(1) as f64
}

/// Intervals of one look: for each layout that the nights can tell apart and that `left` does not leave out, one a
/// target that a night is judged by.
pub fn intervals(candidates: &Candidates, left: impl Fn(usize) -> bool) -> usize {
    let mut campaigns: Vec<usize> =
        candidates.list.iter().enumerate().filter(|(k, _)| left(*k)).map(|(_, c)| c.campaign).collect();
    campaigns.sort_unstable();
    campaigns.dedup();
    campaigns.len() * night_targets(candidates)
}

/// The greatest number of targets that are judged by nights, over all layouts.
pub fn night_targets(candidates: &Candidates) -> usize {
    let targets = &candidates.list[0].scenario.targets;
    let most = |c: &Candidate| {
        let insulated = c.scenario.cables.iter().any(|cable| cable.ampacity.is_some());
        1 + usize::from(insulated) + usize::from(!c.scenario.devices.is_empty())
    };
    let over = targets.overload_probability.map_or(0, |_| candidates.list.iter().map(most).max().unwrap_or(0));
    over + usize::from(targets.ride_through.is_some())
}
