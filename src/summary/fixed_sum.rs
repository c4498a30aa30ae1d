//! A sum that comes out the same in any order.
//!
//! In: one value a trial. Out: mean and standard error. Floating-point sums depend on the order of
//! their terms, and so on threads and shards; here values are whole multiples of 2⁻²⁰ and their
//! sums and sums of squares are exact integers, merged in any order to the same bits.

use serde::{Deserialize, Serialize};

/// Steps to the unit: a resolution of 2⁻²⁰, about 1e-6.
const SCALE: f64 = 1_048_576.0;

/// Greatest magnitude of a value: 2³⁰, about 1e9. Up to 2²⁸ values of it have an exact sum of squares.
pub const GREATEST: f64 = 1_073_741_824.0;

/// Values of trials, counted with whole-number weights.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct FixedSum {
    count: u64,
    #[serde(with = "decimal")]
    sum: i128,
    #[serde(with = "decimal")]
    squares: u128,
}

/// A value that cannot be summed.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{0} is not a number within ±1.07e9, so it cannot be summed; count its trial as failed")]
pub struct OutOfRange(pub f64);

impl FixedSum {
    /// Adds one value, rounded to the nearest 2⁻²⁰.
    ///
    /// # Errors
    /// [`OutOfRange`] where it is not a number or its magnitude is above [`GREATEST`]; the sum is
    /// then as before.
    pub fn add(&mut self, value: f64) -> Result<(), OutOfRange> {
        self.add_weighted(value, 1)
    }

    /// As [`add`](Self::add), `weight` times over.
    ///
    /// # Errors
    /// As [`add`](Self::add).
    pub fn add_weighted(&mut self, value: f64, weight: u64) -> Result<(), OutOfRange> {
        if value.is_nan() || value.abs() > GREATEST {
            return Err(OutOfRange(value));
        }
        let fixed = (value * SCALE).round() as i128;
        let square = fixed.unsigned_abs().pow(2);
        self.merge(&FixedSum {
            count: weight,
            sum: fixed * i128::from(weight),
            // Saturation keeps the order of additions without effect, as none is negative.
            squares: square.saturating_mul(u128::from(weight)),
        });
        Ok(())
    }

    /// Adds all values of another sum.
    pub fn merge(&mut self, other: &FixedSum) {
        self.count = self.count.saturating_add(other.count);
        self.sum = self.sum.saturating_add(other.sum);
        self.squares = self.squares.saturating_add(other.squares);
    }

    /// Values added, by weight.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// `None` without values.
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then(|| self.sum as f64 / self.count as f64 / SCALE)
    }

    /// Sample variance, with n − 1; `None` with fewer than two values.
    pub fn variance(&self) -> Option<f64> {
        let others = self.count.checked_sub(1).filter(|&others| others > 0)?;
        let n = i128::from(self.count);
        let centre = self.sum.div_euclid(n);
        // Σ(x − c)² = Σx² − 2cΣx + nc². The result fits though its parts may not: modulo 2¹²⁸ it
        // comes out exactly, and nothing cancels as it would in floating point.
        let about_centre = self
            .squares
            .wrapping_sub(centre.wrapping_mul(2).wrapping_mul(self.sum) as u128)
            .wrapping_add(centre.wrapping_mul(centre).wrapping_mul(n) as u128);
        let residue = (self.sum - centre * n) as f64;
        let about_mean = about_centre as f64 - residue * residue / n as f64;
        Some(about_mean.max(0.0) / others as f64 / (SCALE * SCALE))
    }

    /// Standard error of the mean; `None` with fewer than two values.
    pub fn std_error(&self) -> Option<f64> {
        self.variance().map(|variance| (variance / self.count as f64).sqrt())
    }
}

/// Integers as decimal strings: JSON readers keep no more than 64 bits of a number.
mod decimal {
    use serde::{Deserialize, Deserializer, Serializer, de::Error};
    use std::fmt::Display;
    use std::str::FromStr;

    pub fn serialize<T: Display, S: Serializer>(value: &T, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(value)
    }

    pub fn deserialize<'de, T, D>(from: D) -> Result<T, D::Error>
    where
        T: FromStr,
        T::Err: Display,
        D: Deserializer<'de>,
    {
        String::deserialize(from)?.parse().map_err(D::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sum_of(values: &[f64]) -> FixedSum {
        let mut sum = FixedSum::default();
        for &value in values {
            sum.add(value).unwrap();
        }
        sum
    }

    #[test]
    fn mean_and_standard_error_of_a_small_sample() {
        // 2, 4, 4, 4, 5, 5, 7, 9: mean 5, Σ(x − 5)² = 32.
        let sum = sum_of(&[2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0]);
        assert_eq!(sum.mean(), Some(5.0));
        assert_eq!(sum.variance(), Some(32.0 / 7.0));
        assert_eq!(sum.std_error(), Some((32.0f64 / 7.0 / 8.0).sqrt()));
    }

    #[test]
    fn a_small_variance_about_a_great_mean_survives() {
        let sum = sum_of(&[1e9, 1e9 + 1.0, 1e9 + 2.0, -0.0 + 1e9 + 1.0]);
        assert_eq!(sum.variance(), Some(2.0 / 3.0));
        let negative = sum_of(&[-1e9, -1e9 - 1.0, -1e9 - 2.0, -1e9 - 1.0]);
        assert_eq!(negative.variance(), Some(2.0 / 3.0));
        assert_eq!(sum_of(&[0.3; 1000]).variance(), Some(0.0));
    }

    #[test]
    fn weight_is_repetition() {
        let mut weighted = FixedSum::default();
        weighted.add_weighted(1.5, 3).unwrap();
        weighted.add_weighted(-2.25, 2).unwrap();
        assert_eq!(weighted, sum_of(&[1.5, -2.25, 1.5, 1.5, -2.25]));
    }

    #[test]
    fn what_is_not_a_number_in_range_is_refused_and_leaves_no_trace() {
        let mut sum = sum_of(&[1.0]);
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1.1e9, -1.1e9] {
            assert!(sum.add(value).is_err());
        }
        assert_eq!(sum, sum_of(&[1.0]));
    }

    #[test]
    fn without_enough_values_there_is_no_answer() {
        assert_eq!(FixedSum::default().mean(), None);
        assert_eq!(sum_of(&[1.0]).std_error(), None);
    }

    #[test]
    fn extremes_neither_panic_nor_depend_on_order() {
        let mut a = FixedSum::default();
        a.add_weighted(GREATEST, u64::MAX).unwrap();
        let mut b = sum_of(&[-GREATEST, 1.0]);
        let mut other = a;
        other.merge(&b);
        b.merge(&a);
        assert_eq!(b, other);
        assert!(b.std_error().is_some_and(f64::is_finite));
    }

    #[test]
    fn written_and_read_back_it_is_the_same() {
        let sum = sum_of(&[1e9, -3.25e8, 1e9]);
        let text = serde_json::to_string(&sum).unwrap();
        assert_eq!(serde_json::from_str::<FixedSum>(&text).unwrap(), sum);
    }
}
