//! Means of a value that several candidates have in the same nights, and of the differences between any two.
//!
//! In: for each night the value of every candidate, where it has one. Out: each mean, and each difference with its
//! interval by the normal distribution.

use super::estimate::Estimate;
use super::fixed_sum::FixedSum;
use super::inference::Inference;
use super::merge::{Merge, merge_fields};

/// Sums over a set of nights; they merge in any order.
#[derive(Clone, Debug, PartialEq)]
pub struct Means {
    candidates: usize,
    /// Sums over nights of the first candidate's value less the second's, for first < second; on the diagonal, sums of the
    /// candidate's own value.
    sums: Vec<FixedSum>,
}

impl Means {
    /// The sums of a number of candidates, before any night.
    pub fn new(candidates: usize) -> Means {
        Means { candidates, sums: vec![FixedSum::default(); candidates * candidates] }
    }

    /// Adds one night. Where a candidate has no value, its differences go without that night.
    pub fn add(&mut self, values: &[Option<f64>]) {
        for (i, first) in values.iter().enumerate() {
            let Some(first) = first else { continue };
            let row = i * self.candidates;
            // A value that cannot be summed is as none.
            let _ = self.sums[row + i].add(*first);
            for (j, second) in values.iter().enumerate().skip(i + 1) {
                let _ = second.map(|second| self.sums[row + j].add(first - second));
            }
        }
    }

    /// `None` where no night has a value.
    pub fn mean(&self, candidate: usize) -> Option<f64> {
        self.sums[candidate * self.candidates + candidate].mean()
    }

    /// The first less the second; `None` where no night has both.
    pub fn difference(&self, first: usize, second: usize, inference: Inference) -> Option<Estimate> {
        let (a, b) = (first.min(second), first.max(second));
        let sum = &self.sums[a * self.candidates + b];
        (a != b && sum.count() > 0).then(|| inference.mean(sum, first > second))
    }
}

impl Merge for Means {
    fn merge(&mut self, other: &Means) {
        merge_fields!(self, other: sums);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_are_those_night_by_night_in_any_order_and_without_gaps() {
        let nights = [[Some(1.0), Some(0.5), None], [Some(3.0), Some(1.5), Some(1.0)], [None, Some(4.0), Some(2.0)]];
        let (mut all, mut other) = (Means::new(3), Means::new(3));
        nights.iter().rev().for_each(|night| all.add(night));
        let mut parts = Means::new(3);
        parts.add(&nights[0]);
        nights[1..].iter().for_each(|night| other.add(night));
        parts.merge(&other);
        assert_eq!(parts, all);
        assert_eq!([0, 1, 2].map(|k| all.mean(k)), [Some(2.0), Some(2.0), Some(1.5)]);
        let of = |a, b| all.difference(a, b, Inference::new(true)).map(|e| e.estimate);
        assert_eq!((of(0, 1), of(1, 0), of(0, 2), of(2, 1)), (Some(1.0), Some(-1.0), Some(2.0), Some(-1.25)));
        assert_eq!(all.difference(0, 2, Inference::new(true)).map(|e| e.high), Some(f64::INFINITY));
        assert_eq!((of(1, 1), Means::new(2).difference(0, 1, Inference::new(true))), (None, None));
    }
}
