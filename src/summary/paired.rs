//! What layouts came to in the same nights, pair by pair: counts, and intervals for the differences.
//!
//! In: for each night the outcome of every layout. Out: for a pair the nights in which one was overloaded and the
//! other was not, and the sum of the differences of their hours; from these an interval for each difference.

use super::estimate::Estimate;
use super::fixed_sum::FixedSum;
use super::inference::Inference;
use super::merge::{Merge, merge_fields};
use crate::time::Time;

/// What one layout came to in one night.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Outcome {
    /// Something was over its limit.
    pub over: bool,
    /// The load was not served for the wanted time.
    pub short: bool,
    /// When service ended, or the horizon.
    pub served: Time,
}

/// Counts of all pairs over a set of nights; they merge in any order.
#[derive(Clone, Debug, PartialEq)]
pub struct Paired {
    layouts: usize,
    nights: u64,
    /// Nights with overload in the first and not in the second, by first·layouts + second.
    over: Vec<u64>,
    /// The same of nights that are not served for as long as is wanted.
    short: Vec<u64>,
    /// Hours served by the first less those by the second [h], for first ≤ second.
    longer: Vec<FixedSum>,
}

/// Two layouts side by side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// Nights that both went through.
    pub nights: u64,
    /// Overload in the first alone, and in the second alone.
    pub over: [u64; 2],
    /// Short of what is wanted in the first alone, and in the second alone.
    pub short: [u64; 2],
    /// Hours served by the first less those by the second [h].
    pub longer: FixedSum,
    /// `longer` is of the second less the first.
    turned: bool,
}

impl Paired {
    /// The counts of a number of layouts, before any night.
    pub fn new(layouts: usize) -> Paired {
        Paired {
            layouts,
            nights: 0,
            over: vec![0; layouts * layouts],
            short: vec![0; layouts * layouts],
            longer: vec![FixedSum::default(); layouts * layouts],
        }
    }

    /// Adds one night: an outcome a layout.
    pub fn add(&mut self, outcomes: &[Outcome]) {
        self.nights += 1;
        for (i, first) in outcomes.iter().enumerate() {
            let row = i * self.layouts;
            for (j, second) in outcomes.iter().enumerate() {
                self.over[row + j] += u64::from(first.over && !second.over);
                self.short[row + j] += u64::from(first.short && !second.short);
                if i <= j {
                    // Times within a horizon of 400 d can always be summed.
                    let _ = self.longer[row + j].add(first.served.hours() - second.served.hours());
                }
            }
        }
    }

    /// Two of the layouts, by their numbers.
    pub fn pair(&self, first: usize, second: usize) -> Pair {
        let at = |a: usize, b: usize| a * self.layouts + b;
        let (there, back) = (at(first, second), at(second, first));
        let turned = first > second;
        Pair {
            nights: self.nights,
            over: [self.over[there], self.over[back]],
            short: [self.short[there], self.short[back]],
            longer: self.longer[if turned { back } else { there }],
            turned,
        }
    }
}

impl Merge for Paired {
    fn merge(&mut self, other: &Paired) {
        merge_fields!(self, other: nights, over, short, longer);
    }
}

impl Pair {
    /// Hours served by the first less those by the second, mean a night with its interval by the normal
    /// distribution [h]; of no night are they more than the horizon.
    pub fn hours(&self, inference: Inference, horizon_h: f64) -> Estimate {
        inference.mean_within(&self.longer, self.turned, horizon_h)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turning_a_pair_round_turns_its_signs() {
        let mut paired = Paired::new(2);
        let outcome = |over, hours: f64| Outcome { over, short: over, served: Time::from_seconds(3600.0 * hours) };
        paired.add(&[outcome(true, 3.0), outcome(false, 5.0)]);
        paired.add(&[outcome(true, 4.0), outcome(true, 4.5)]);
        let (there, back) = (paired.pair(0, 1), paired.pair(1, 0));
        assert_eq!((there.over, back.over), ([1, 0], [0, 1]));
        let hours = |pair: Pair| pair.hours(Inference::new(true), 16.0);
        assert_eq!((hours(there).estimate, hours(back).estimate), (-1.25, 1.25));
        assert_eq!(hours(there).low, -hours(back).high);
    }

    #[test]
    fn merged_counts_are_those_of_all_nights() {
        let night = |k: u64| {
            let of = |j: u64| Outcome {
                over: (k * j).is_multiple_of(3),
                short: k.is_multiple_of(2),
                served: Time((k * j) as i64),
            };
            [of(1), of(2), of(5)]
        };
        let (mut all, mut parts) = (Paired::new(3), [Paired::new(3), Paired::new(3)]);
        for k in 0..20 {
            all.add(&night(k));
            parts[(k % 2) as usize].add(&night(k));
        }
        let [mut merged, other] = parts;
        merged.merge(&other);
        assert_eq!(merged, all);
    }
}
