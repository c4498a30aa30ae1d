//! What layouts came to in the same nights, pair by pair: counts, and intervals for the differences.
//!
//! In: for each night the outcome of every layout. Out: for a pair the nights in which one was overloaded and the
//! other was not, and the sum of the differences of their hours; from these an interval for each difference.
//!
//! The difference of two probabilities seen in the same n nights is π·(2θ − 1): π the chance that a night tells the
//! two apart, θ the chance that such a night is overload in the first. Of m = b + c nights that differ, b overload in
//! the first alone; m is binomial (n, π), and b, given m, binomial (m, θ) (Q. McNemar, Psychometrika 12, 1947). Both
//! get the interval of Clopper and Pearson with half of the error, and the difference is within what the two allow:
//! it holds its confidence at every n, and its sign is that of θ's interval against ½.

use super::Estimate;
use super::fixed_sum::FixedSum;
use super::inference::Inference;
use super::interval::{CONFIDENCE, clopper_pearson_at};
use crate::math;
use crate::time::Time;

/// What one layout came to in one night.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Outcome {
    pub over: bool,
    /// Not served for as long as is wanted.
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

    pub fn merge(&mut self, other: &Paired) {
        self.nights += other.nights;
        self.over.iter_mut().zip(&other.over).for_each(|(mine, theirs)| *mine += theirs);
        self.short.iter_mut().zip(&other.short).for_each(|(mine, theirs)| *mine += theirs);
        self.longer.iter_mut().zip(&other.longer).for_each(|(mine, theirs)| mine.merge(theirs));
    }

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

impl Pair {
    /// Hours served by the first less those by the second, mean a night with its interval by the normal
    /// distribution [h]; of no night are they more than the horizon.
    pub fn hours(&self, inference: Inference, horizon_h: f64) -> Estimate {
        inference.mean_within(&self.longer, self.turned, horizon_h)
    }
}

/// 98.75 % and 80 % of the standard normal distribution.
const NORMAL_9875: f64 = 2.241_402_727_604_945;
const NORMAL_80: f64 = 0.841_621_233_572_914;

/// The first probability less the second, with its 95 % interval: `alone` are the nights of the first alone and of
/// the second alone, of `nights` that both went through.
pub fn difference(alone: [u64; 2], nights: u64) -> Estimate {
    difference_at(alone, nights, CONFIDENCE)
}

/// The same at another confidence.
pub fn difference_at([first, second]: [u64; 2], nights: u64, confidence: f64) -> Estimate {
    let apart = first + second;
    let each = 0.5 * (1.0 + confidence);
    let share = clopper_pearson_at(apart, nights, each);
    let of_first = clopper_pearson_at(first, apart, each);
    let end = |side: f64, outer: f64, inner: f64| side * if side < 0.0 { outer } else { inner };
    Estimate::new(
        (first as f64 - second as f64) / nights.max(1) as f64,
        end(2.0 * of_first.low - 1.0, share.high, share.low),
        end(2.0 * of_first.high - 1.0, share.low, share.high),
    )
}

/// Confidence of each difference between the first of so many layouts and every other, so that all together hold 95 %.
/// Which one is first is read off the same nights, so the error is spread over every pair that it could have been
/// (C. E. Bonferroni); spread over the pairs of the first alone it would be exceeded several times.
pub fn confidence_against_first(layouts: usize) -> f64 {
    let pairs = layouts * layouts.saturating_sub(1) / 2;
    1.0 - (1.0 - CONFIDENCE) / pairs.max(1) as f64
}

/// The same difference of two layouts that went through nights of their own, `first` and `second` of them overloaded:
/// each probability with half of the error.
pub fn independent_difference([first, second]: [u64; 2], nights: u64) -> Estimate {
    let each = 0.5 * (1.0 + CONFIDENCE);
    let (a, b) = (clopper_pearson_at(first, nights, each), clopper_pearson_at(second, nights, each));
    Estimate::new(a.estimate - b.estimate, a.low - b.high, a.high - b.low)
}

/// Nights after which four runs of five decide a difference such as was seen, at 95 % for the pair alone; `None`
/// where none was seen.
///
/// n = (z·√ψ + z₀.₈·√(ψ − δ²))²/δ², δ the difference and ψ the share of nights that differ (R. J. Connor,
/// Biometrics 43:207, 1987), with z of half the error, as the sign has in [`difference`].
pub fn nights_to_decide([first, second]: [u64; 2], nights: u64) -> Option<u64> {
    let (n, first, second) = (nights as f64, first as f64, second as f64);
    let (delta, apart) = ((first - second) / n, (first + second) / n);
    if delta == 0.0 || nights == 0 {
        return None;
    }
    let root = NORMAL_9875 * apart.sqrt() + NORMAL_80 * (apart - delta * delta).max(0.0).sqrt();
    Some(math::powi(root / delta, 2).ceil() as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_of_nothing_is_bounded_by_the_nights() {
        let none = difference([0, 0], 1000);
        assert_eq!(none.estimate, 0.0);
        assert!(none.low < 0.0 && none.low == -none.high && none.high < 0.005, "{none:?}");
    }

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
