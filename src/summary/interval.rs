//! Exact intervals for a probability, from a count.
//!
//! In: k nights of n. Out: k/n with the interval of Clopper and Pearson (Biometrika 26, 1934):
//! the lower bound is the p at which P(B ≥ k) = α/2, the upper bound the p at which P(B ≤ k) = α/2,
//! B binomial. It holds its confidence at every p and n; the normal approximation does not
//! (Brown, Cai, DasGupta, Statistical Science 16, 2001).
//!
//! The tail is P(B ≥ k) = b(k)·(1 + t₁ + t₂ + …), tᵢ₊₁/tᵢ = (n−k−i)/(k+1+i) · p/(1−p): positive
//! terms, so nothing cancels. b(k) is the binomial probability in the saddle-point form of
//! C. Loader (2000), which keeps its digits at n = 10⁹ where a difference of log-gammas has lost
//! them. (The inverse incomplete beta function of `statrs` 0.19 does not return at k = 3, n = 10⁹;
//! the tests compare the two where it does.)

use super::estimate::Estimate;
use crate::math::{exp, exp_m1, ln, ln_1p};
use std::f64::consts::PI;

/// Confidence of every interval in the results.
pub const CONFIDENCE: f64 = 0.95;

/// Below the resolution of 1 − confidence: a confidence of 1 counts as this far from it.
const LEAST_TAIL: f64 = 1e-17;

/// k/n with its 95 % interval.
///
/// Without trials nothing is known: estimate 0, interval 0…1. `k` above `n` counts as `n`.
/// Exact to about 1e-14 relative; the time grows with √n and is a few milliseconds at n = 10⁹.
pub fn clopper_pearson(k: u64, n: u64) -> Estimate {
    clopper_pearson_at(k, n, CONFIDENCE)
}

/// The two-sided interval of [`clopper_pearson`] at another confidence (0…1, exclusive).
pub fn clopper_pearson_at(k: u64, n: u64, confidence: f64) -> Estimate {
    if n == 0 {
        return Estimate::new(0.0, 0.0, 1.0);
    }
    let k = k.min(n);
    let tail = tail_of(confidence);
    Estimate::new(k as f64 / n as f64, low(k, n, tail), high(k, n, tail))
}

/// What a two-sided interval of this confidence leaves beyond each end.
pub(super) fn tail_of(confidence: f64) -> f64 {
    (0.5 * (1.0 - confidence)).clamp(LEAST_TAIL, 0.5)
}

/// The p at which P(B ≥ k) = `tail`.
fn low(k: u64, n: u64, tail: f64) -> f64 {
    match k {
        0 => 0.0,
        k if k == n => exp(ln(tail) / n as f64),
        k => Odds::with_tail(k, n, tail).p(),
    }
}

/// The p at which P(B ≤ k) = `tail`: that of the n − k misses, at 1 − p.
fn high(k: u64, n: u64, tail: f64) -> f64 {
    match k {
        0 => -exp_m1(ln(tail) / n as f64),
        k if k == n => 1.0,
        k => Odds::with_tail(n - k, n, tail).q(),
    }
}

/// P(B ≥ k) for B binomial with `n` trials of probability `p`. Outside 0…1, `p` counts as the end.
pub fn binomial_at_least(k: u64, n: u64, p: f64) -> f64 {
    if k == 0 || p >= 1.0 && k <= n {
        1.0
    } else if k > n || p <= 0.0 || p.is_nan() {
        0.0
    } else if k as f64 >= n as f64 * p {
        upper_tail(k, n, p)
    } else {
        1.0 - upper_tail(n - k + 1, n, 1.0 - p)
    }
}

/// P(B ≥ k) for 1 ≤ k ≤ n and 0 < p < 1; meant for k at or above the mean.
fn upper_tail(k: u64, n: u64, p: f64) -> f64 {
    if k == n {
        return exp(n as f64 * ln(p));
    }
    let odds = Odds(ln(p) - ln_1p(-p));
    exp(ln_binomial(k, n, odds) + ln(tail_factor(k, n, odds)))
}

/// A probability as ln(p/(1−p)): both p and 1 − p keep their digits when small.
#[derive(Clone, Copy)]
struct Odds(f64);

impl Odds {
    fn p(self) -> f64 {
        1.0 / (1.0 + exp(-self.0))
    }

    fn q(self) -> f64 {
        1.0 / (1.0 + exp(self.0))
    }

    /// The p at which P(B ≥ k) = `tail`, for 1 ≤ k < n, by Newton's method.
    ///
    /// In these coordinates ln P(B ≥ k) is concave (it is the distribution of a log-concave
    /// density), so that after the first step the method climbs to the root and cannot overshoot.
    /// The derivative is k·(1−p)/(1 + t₁ + …).
    fn with_tail(k: u64, n: u64, tail: f64) -> Odds {
        let (hits, misses) = (k as f64, (n - k + 1) as f64);
        let mut odds = Odds(ln(hits / misses) - 2.0 * (1.0 / hits + 1.0 / misses).sqrt());
        for _ in 0..100 {
            let factor = tail_factor(k, n, odds);
            let excess = ln_binomial(k, n, odds) + ln(factor) - ln(tail);
            let step = excess * factor / (hits * odds.q());
            odds.0 -= step;
            if step.abs() <= 1e-13 {
                break;
            }
        }
        odds
    }
}

/// P(B ≥ k) / P(B = k) = 1 + t₁ + t₂ + …
fn tail_factor(k: u64, n: u64, odds: Odds) -> f64 {
    let ratio = exp(odds.0);
    let (mut above, mut left) = ((k + 1) as f64, (n - k) as f64);
    let (mut term, mut sum) = (1.0, 1.0);
    while left > 0.0 && term > 1e-17 * sum {
        term *= left / above * ratio;
        sum += term;
        left -= 1.0;
        above += 1.0;
    }
    sum
}

/// ln P(B = k) for 0 < k < n.
fn ln_binomial(k: u64, n: u64, odds: Odds) -> f64 {
    let (hits, misses, all) = (k as f64, (n - k) as f64, n as f64);
    stirling_error(n)
        - stirling_error(k)
        - stirling_error(n - k)
        - deviance(hits, all * odds.p())
        - deviance(misses, all * odds.q())
        + 0.5 * ln(all / (2.0 * PI * hits * misses))
}

/// x·ln(x/mean) + mean − x, where the two are near by their relative difference, else as written.
fn deviance(x: f64, mean: f64) -> f64 {
    if mean < 0.5 * x {
        return x * ln(x / mean) + mean - x;
    }
    let d = (mean - x) / x;
    x * (d - ln_1p(d))
}

/// ln n! less Stirling's formula for it, n ≥ 1: the asymptotic series, exact factorials below it.
fn stirling_error(n: u64) -> f64 {
    let x = n as f64;
    if n < 16 {
        let factorial: u64 = (1..=n).product();
        return ln(factorial as f64) - (0.5 * ln(2.0 * PI * x) + x * ln(x) - x);
    }
    let s = 1.0 / (x * x);
    (1.0 / 12.0 - s * (1.0 / 360.0 - s * (1.0 / 1260.0 - s * (1.0 / 1680.0 - s / 1188.0)))) / x
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_trials_nothing_is_known() {
        assert_eq!(clopper_pearson(0, 0), Estimate::new(0.0, 0.0, 1.0));
    }

    #[test]
    fn more_hits_than_trials_count_as_all() {
        assert_eq!(clopper_pearson(9, 5), clopper_pearson(5, 5));
    }

    #[test]
    fn stirling_series_joins_the_factorials() {
        let by_factorial = {
            let factorial: f64 = (1..=20u64).product::<u64>() as f64;
            factorial.ln() - (0.5 * (40.0 * PI).ln() + 20.0 * 20f64.ln() - 20.0)
        };
        assert!((stirling_error(20) - by_factorial).abs() < 2e-14);
        // ln 16! = ln 15! + ln 16 ties the first of the series to the last of the factorials.
        let from_15 = stirling_error(15) + 1.0 - 15.5 * (16f64 / 15.0).ln();
        assert!((stirling_error(16) - from_15).abs() < 2e-14);
    }

    #[test]
    fn tails_at_the_ends_are_certain_or_impossible() {
        assert_eq!(binomial_at_least(0, 5, 0.0), 1.0);
        assert_eq!(binomial_at_least(6, 5, 1.0), 0.0);
        assert_eq!(binomial_at_least(5, 5, 1.0), 1.0);
        assert_eq!(binomial_at_least(1, 5, 0.0), 0.0);
        assert_eq!(binomial_at_least(1, 5, f64::NAN), 0.0);
        assert_eq!(binomial_at_least(1, 0, 0.5), 0.0);
    }

    #[test]
    fn a_tail_far_out_keeps_its_digits() {
        // 1 of 2 at tail t: 1 − (1 − p)² = t, so p = t/2 for a tiny t.
        let e = clopper_pearson_at(1, 2, 1.0);
        assert!((e.low / 0.5e-17 - 1.0).abs() < 1e-12, "{e:?}");
        let tail = binomial_at_least(2, 10, 1e-30);
        assert!((tail / 45e-60 - 1.0).abs() < 1e-12, "{tail:e}");
    }

    #[test]
    fn any_confidence_gives_an_ordered_interval() {
        for confidence in [-1.0, 0.0, 0.5, 0.9999, 1.0, 2.0] {
            for (k, n) in [(0, 1), (1, 1), (1, 2), (3, 1000), (999, 1000)] {
                let e = clopper_pearson_at(k, n, confidence);
                assert!(0.0 <= e.low && e.low <= e.high && e.high <= 1.0, "{k}/{n} at {confidence}: {e:?}");
            }
        }
    }
}
