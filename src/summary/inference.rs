//! From what the trials showed to what is said of the chance behind it: the one place where a count becomes an
//! estimate.
//!
//! In: whether anything in the model is random, and counts. Out: estimates with their intervals. Where nothing is
//! random every trial is the same night: one of them is the answer, and no interval is put around it.

use super::by_night::by_night;
use super::difference::difference;
use super::estimate::Estimate;
use super::fixed_sum::FixedSum;
use super::interval::{CONFIDENCE, clopper_pearson_at};
use super::normal::mean_of;
use super::quantile::Quantile;

/// How counts become estimates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inference {
    random: bool,
    confidence: f64,
}

impl Inference {
    /// At 95 %.
    pub fn new(random: bool) -> Inference {
        Inference { random, confidence: CONFIDENCE }
    }

    /// The same at another confidence.
    pub fn at(self, confidence: f64) -> Inference {
        Inference { confidence, ..self }
    }

    /// Probability of what happened in `hits` of `trials`. Without trials nothing is known: the interval is 0…1.
    pub fn probability(self, hits: u64, trials: u64) -> Estimate {
        if self.random || trials == 0 {
            return clopper_pearson_at(hits, trials, self.confidence);
        }
        Estimate::exact(hits as f64 / trials as f64)
    }

    /// Probability with its intervals by trials and by calendar nights, from the trials and hits of each night.
    pub fn of_nights(self, nights: impl Iterator<Item = (u64, u64)> + Clone) -> Estimate {
        let (trials, hits) = nights.clone().fold((0, 0), |sum, night| (sum.0 + night.0, sum.1 + night.1));
        let by_trials = self.probability(hits, trials);
        if self.random { by_trials.and_by_night(by_night(nights, self.confidence)) } else { by_trials }
    }

    /// The first probability less the second, in the same nights: those of the first alone and of the second alone.
    pub fn difference(self, alone: [u64; 2], nights: u64) -> Estimate {
        if self.random || nights == 0 {
            return difference(alone, nights, self.confidence);
        }
        Estimate::exact((alone[0] as f64 - alone[1] as f64) / nights as f64)
    }

    /// The mean of a sum, or of its opposite.
    pub fn mean(self, sum: &FixedSum, opposite: bool) -> Estimate {
        let mean = mean_of(sum, opposite, self.confidence);
        if self.random || sum.count() == 0 { mean } else { Estimate::exact(mean.estimate) }
    }

    /// The same of values that lie within ±`most`. Where all trials gave one value the normal distribution sees no spread;
    /// the chance that a trial gives another still has its bound, and such a one may lie anywhere within.
    pub fn mean_within(self, sum: &FixedSum, opposite: bool, most: f64) -> Estimate {
        let mean = self.mean(sum, opposite);
        if mean.is_exact() && self.random {
            let another = self.probability(0, sum.count()).high;
            let (seen, unseen) = (mean.estimate * (1.0 - another), most * another);
            return Estimate { low: seen - unseen, high: seen + unseen, ..mean };
        }
        Estimate { low: mean.low.max(-most), high: mean.high.min(most), ..mean }
    }

    /// A percentile, with its interval or without.
    pub fn quantile(self, found: Quantile) -> Quantile {
        if self.random { found } else { Quantile { low: found.value, high: found.value, ..found } }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::summary::Verdict;

    #[test]
    fn what_is_not_random_is_known_from_one_trial() {
        let exact = Inference::new(false);
        assert_eq!(exact.probability(1, 1), Estimate::exact(1.0));
        assert_eq!(exact.at(0.9999).probability(0, 400), Estimate::exact(0.0));
        assert_eq!(exact.difference([400, 0], 400), Estimate::exact(1.0));
        assert_eq!(exact.probability(0, 1).stays_within(0.0), Verdict::Met);
        assert_eq!(exact.probability(1, 1).stays_within(0.999), Verdict::Missed);
        let mut sum = FixedSum::default();
        sum.add(2.5).unwrap();
        assert_eq!(exact.mean(&sum, true), Estimate::exact(-2.5));
        assert_eq!(exact.quantile(Quantile { value: 7, low: 0, high: 99 }), Quantile { value: 7, low: 7, high: 7 });
    }

    /// Of 100 nights all alike, another one has a chance of at most 1 − 0.025^(1/100) = 3.62 %, and may be 16 h either way.
    #[test]
    fn a_mean_without_spread_is_bounded_by_what_the_trials_may_have_missed() {
        let of = |value: f64, n: usize| {
            let mut sum = FixedSum::default();
            (0..n).for_each(|_| sum.add(value).unwrap());
            sum
        };
        let another: f64 = 1.0 - 0.025_f64.powf(0.01);
        let none = Inference::new(true).mean_within(&of(0.0, 100), false, 16.0);
        assert!(
            none.estimate == 0.0 && (none.high - 16.0 * another).abs() < 1e-9 && none.low == -none.high,
            "{none:?}"
        );
        let two = Inference::new(true).mean_within(&of(2.0, 100), true, 16.0);
        assert!((two.low - (-2.0 * (1.0 - another) - 16.0 * another)).abs() < 1e-9, "{two:?}");
        let once = Inference::new(true).mean_within(&of(2.0, 1), false, 16.0);
        assert_eq!((once.low, once.high), (-16.0, 16.0), "a single night bounds nothing but what may be");
        assert_eq!(Inference::new(false).mean_within(&of(0.0, 100), false, 16.0), Estimate::exact(0.0));
    }

    #[test]
    fn chance_and_no_trials_leave_an_interval() {
        assert!(!Inference::new(true).probability(1, 1).is_exact());
        assert!(!Inference::new(true).probability(0, 1_000_000_000).is_exact());
        assert_eq!(Inference::new(false).probability(0, 0).stays_within(0.5), Verdict::NotDecided);
        assert!(!Inference::new(false).difference([0, 0], 0).is_exact());
    }
}
