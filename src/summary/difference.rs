//! Intervals of the difference of two probabilities.
//!
//! In: nights that tell the two apart. Out: the difference with its interval, and how many nights would decide it.
//!
//! The difference of two probabilities seen in the same n nights is π·(2θ − 1): π the chance that a night tells the
//! two apart, θ the chance that such a night is overload in the first. Of m = b + c nights that differ, b overload in
//! the first alone; m is binomial (n, π), and b, given m, binomial (m, θ) (Q. McNemar, Psychometrika 12, 1947). Both
//! get the interval of Clopper and Pearson with half of the error, and the difference is within what the two allow:
//! it holds its confidence at every n, and its sign is that of θ's interval against ½.

use super::estimate::Estimate;
use super::interval::{CONFIDENCE, clopper_pearson_at};
use crate::math;

/// 98.75 % and 80 % of the standard normal distribution.
const NORMAL_9875: f64 = 2.241_402_727_604_945;
const NORMAL_80: f64 = 0.841_621_233_572_914;

/// The first probability less the second, with its interval of this confidence: `alone` are the nights of the first
/// alone and of the second alone, of `nights` that both went through.
pub fn difference([first, second]: [u64; 2], nights: u64, confidence: f64) -> Estimate {
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
        let none = difference([0, 0], 1000, CONFIDENCE);
        assert_eq!(none.estimate, 0.0);
        assert!(none.low < 0.0 && none.low == -none.high && none.high < 0.005, "{none:?}");
    }
}
