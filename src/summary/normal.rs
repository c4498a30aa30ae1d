//! Intervals by the normal distribution.
//!
//! In: an exact sum, a confidence. Out: the mean with its interval.

use super::estimate::Estimate;
use super::fixed_sum::FixedSum;
use crate::math;

/// The mean of a sum of differences, or of its opposite, with its interval by the normal distribution. A single night
/// bounds nothing.
pub fn mean_of(sum: &FixedSum, opposite: bool, confidence: f64) -> Estimate {
    let sign = if opposite { -1.0 } else { 1.0 };
    // No minus before nothing.
    let mean = 0.0 + sign * sum.mean().unwrap_or(0.0);
    let half = sum.std_error().map_or(f64::INFINITY, |error| normal(confidence) * error);
    Estimate::new(mean, mean - half, mean + half)
}

/// The number of standard deviations from its mean within which a normal variable lies with at least this confidence (0…1,
/// exclusive): the rational approximation 26.2.23 of Abramowitz and Stegun, Handbook of Mathematical Functions
/// (1964), which errs by less than 4.5e-4, and that added.
pub fn normal(confidence: f64) -> f64 {
    let t = (-2.0 * math::ln((0.5 * (1.0 - confidence)).clamp(1e-300, 0.5))).sqrt();
    let above = 2.515_517 + t * (0.802_853 + t * 0.010_328);
    let below = 1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308));
    t - above / below + 4.5e-4
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two-sided points of the standard normal distribution, as tables have them.
    #[test]
    fn deviations_are_those_of_tables() {
        for (confidence, z) in [(0.9, 1.644_854), (0.95, 1.959_964), (0.99, 2.575_829), (0.999, 3.290_527)] {
            let got = normal(confidence);
            assert!(got >= z && got < z + 9e-4, "{confidence}: {got}");
        }
    }
}
