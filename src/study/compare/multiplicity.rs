//! Targets of many layouts, judged so that all verdicts hold together.
//!
//! In: the number of intervals that may be looked at. Out: the confidence that each interval needs. Of many layouts, one may
//! seem to meet its targets by chance alone. Therefore the error probability of 5 % is divided evenly by the number of
//! intervals that could be looked at: layouts not ruled out by the limit × looks × targets (C. E. Bonferroni). With a
//! probability of 95 % none of them misleads.
//!
//! A verdict needs the interval by trials and the interval by calendar nights to agree. This does not add to the number of
//! intervals: the one by nights contains the one by trials, so only the one by nights can mislead.

use super::layouts::{Candidate, Candidates};

/// Probability that any interval misleads.
pub const ERROR: f64 = 0.05;

/// Confidence that each of `intervals` needs (0…1), so that all are right together with 95 %.
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
