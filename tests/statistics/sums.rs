//! Sums that do not depend on order.

use bankwright::draw::{Purpose, Source};
use bankwright::summary::fixed_sum::FixedSum;
use proptest::prelude::*;

proptest! {
    #[test]
    fn sums_are_the_same_in_any_order_and_any_parts(
        values in prop::collection::vec(-1e6..1e6f64, 1..60),
        seed in any::<u64>(),
        parts in 1usize..6,
    ) {
        let mut whole = FixedSum::default();
        for &value in &values {
            whole.add(value).unwrap();
        }
        let mut shuffled = values.clone();
        let mut order = Source::new(seed, Purpose::Bootstrap, "order").indices(0, values.len());
        for i in 0..shuffled.len() {
            shuffled.swap(i, order.next().unwrap());
        }
        let mut shards = vec![FixedSum::default(); parts];
        for (i, &value) in shuffled.iter().enumerate() {
            shards[i % parts].add(value).unwrap();
        }
        let mut merged = FixedSum::default();
        shards.iter().rev().for_each(|shard| merged.merge(shard));
        prop_assert_eq!(merged, whole);
    }

    #[test]
    fn mean_and_variance_are_those_of_the_values(values in prop::collection::vec(-1e6..1e6f64, 2..60)) {
        let mut sum = FixedSum::default();
        for &value in &values {
            sum.add(value).unwrap();
        }
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let variance = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
        // Rounding to 2⁻²⁰ moves each value by at most 4.8e-7.
        prop_assert!((sum.mean().unwrap() - mean).abs() < 1e-6);
        prop_assert!((sum.variance().unwrap() - variance).abs() < 1e-6 * (1.0 + variance.sqrt() * 4.0 + variance * 1e-6));
    }
}
