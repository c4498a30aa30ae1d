//! Interval of a proportion by resampling whole nights.
//!
//! In: trials and hits of each calendar night. Out: a 95 % interval that knows that trials of one
//! night resemble each other: a season of load offers so many nights however many trials are drawn.
//!
//! The nights (not the trials) are drawn with replacement, as many as there are, 2000 times; the
//! interval runs from the 2.5 % to the 97.5 % quantile of the resampled proportions (the percentile
//! interval: B. Efron, R. Tibshirani, An Introduction to the Bootstrap, 1993, ch. 13). With few
//! nights with hits it is somewhat too narrow, as every bootstrap is.

use super::interval::clopper_pearson;
use crate::draw::{Purpose, Source};

const RESAMPLES: u64 = 2000;
/// Resamples beyond the interval on each side: 2.5 %.
const BEYOND: usize = 50;

/// The 95 % interval from (trials, hits) of each night.
///
/// Each resample draws by the number of a night, so nights come in one order (the calendar's);
/// nights without trials are left out. `None` with fewer than two nights: one night says nothing
/// of others.
///
/// Where no trial, or every trial, was a hit, resampling would always repeat that and claim
/// certainty. There the bound is Clopper and Pearson's of the number of nights: if nights have
/// chances pᵢ of mean p, m nights of t trials all miss with probability (E(1−pᵢ)ᵗ)ᵐ ≤ (1−p)ᵐ.
pub fn by_night(nights: &[(u64, u64)], seed: u64) -> Option<[f64; 2]> {
    let nights: Vec<(u64, u64)> = nights.iter().copied().filter(|&(trials, _)| trials > 0).collect();
    if nights.len() < 2 {
        return None;
    }
    let count = nights.len() as u64;
    if nights.iter().all(|&(_, hits)| hits == 0) {
        return Some([0.0, clopper_pearson(0, count).high]);
    }
    if nights.iter().all(|&(trials, hits)| hits >= trials) {
        return Some([clopper_pearson(count, count).low, 1.0]);
    }
    Some(percentiles(&nights, seed))
}

fn percentiles(nights: &[(u64, u64)], seed: u64) -> [f64; 2] {
    let source = Source::new(seed, Purpose::Bootstrap, "nights");
    let mut proportions: Vec<f64> = (0..RESAMPLES).map(|resample| resampled(nights, &source, resample)).collect();
    proportions.sort_unstable_by(f64::total_cmp);
    [proportions[BEYOND - 1], proportions[proportions.len() - BEYOND]]
}

/// The proportion in as many nights as there are, drawn with replacement.
fn resampled(nights: &[(u64, u64)], source: &Source, resample: u64) -> f64 {
    let (mut trials, mut hits) = (0u128, 0u128);
    for index in source.indices(resample, nights.len()).take(nights.len()) {
        trials += u128::from(nights[index].0);
        hits += u128::from(nights[index].1);
    }
    hits as f64 / trials as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fewer_than_two_nights_say_nothing_of_others() {
        assert_eq!(by_night(&[], 1), None);
        assert_eq!(by_night(&[(500, 20), (0, 0)], 1), None);
    }

    #[test]
    fn no_hit_is_not_certainty() {
        // 1 − 0.025^(1/30), the upper bound of none of thirty nights.
        let bound = 1.0 - 0.025f64.powf(1.0 / 30.0);
        let [low, high] = by_night(&[(100_000, 0); 30], 1).unwrap();
        assert_eq!(low, 0.0);
        assert!((high - bound).abs() < 1e-14);
        let [low, high] = by_night(&[(100_000, 100_000); 30], 1).unwrap();
        assert!((low - (1.0 - bound)).abs() < 1e-14);
        assert_eq!(high, 1.0);
    }

    #[test]
    fn same_seed_same_interval() {
        let nights: Vec<(u64, u64)> = (0..40).map(|i| (100 + i, i % 7)).collect();
        assert_eq!(by_night(&nights, 1), by_night(&nights, 1));
        assert_ne!(by_night(&nights, 1), by_night(&nights, 2));
    }
}
