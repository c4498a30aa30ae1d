//! Quantiles and their distribution-free intervals.

use bankwright::draw::{Purpose, Source};
use bankwright::summary::interval::clopper_pearson_at;
use bankwright::summary::quantile::{Quantile, bounding_ranks, quantile};

/// By hand: of 20 tosses at most 5 are heads with 21700/2²⁰ = 2.07 %, at most 6 with 5.8 %, so the median of 20 lies
/// between the 6th and the 15th value with 95.86 % (the argument is in H. A. David, H. N. Nagaraja, Order Statistics,
/// 3rd ed., Wiley 2003, from memory).
#[test]
fn median_of_twenty() {
    let sorted: Vec<(i64, u64)> = (1..=20).map(|i| (10 * i, 1)).collect();
    let q = quantile(&sorted, 50, [0, 1000]);
    assert_eq!(q, Some(Quantile { value: 100, low: 60, high: 150 }));
}

/// S. S. Wilks, Annals of Mathematical Statistics 12 (1941): the smallest sample whose greatest
/// value bounds the 95 % quantile with 95 % confidence has 59; for 95 % with 99 % it has 90, for
/// 99 % with 95 % 299 (the last two from memory; each is the least n with pⁿ ≤ 1 − confidence).
#[test]
fn wilks_sample_sizes() {
    let size = |percent, tail| (1..).find(|&n| bounding_ranks(n, percent, tail).1.is_some());
    assert_eq!(size(95, 0.05), Some(59));
    assert_eq!(size(95, 0.01), Some(90));
    assert_eq!(size(99, 0.05), Some(299));
}

#[test]
fn a_small_sample_is_bounded_by_the_support_on_its_open_side() {
    // 0.95ⁿ ≤ 0.025 first at n = 72.
    let sorted = |n: i64| (1..=n).map(|i| (i, 1)).collect::<Vec<_>>();
    let support = [0, 1000];
    let (p5, p95) = (quantile(&sorted(71), 5, support), quantile(&sorted(71), 95, support));
    assert_eq!((p5.unwrap().low, p95.unwrap().high), (0, 1000));
    let (p5, p95) = (quantile(&sorted(72), 5, support), quantile(&sorted(72), 95, support));
    assert_eq!((p5.unwrap().low, p95.unwrap().high), (1, 72));
}

/// The interval holds the true quantile at least as often as it says, also with ties: draws from
/// 0…99 each as likely, whose p-quantile is 100·p − 1.
#[test]
fn quantile_intervals_cover() {
    const SAMPLES: u64 = 4000;
    let source = Source::new(1, Purpose::Night, "");
    let mut held = [0u64; 3];
    for sample in 0..SAMPLES {
        let mut counts = [0u64; 100];
        source.indices(sample, 100).take(200).for_each(|value| counts[value] += 1);
        let sorted: Vec<(i64, u64)> = (0..).zip(counts).collect();
        for (held, percent) in held.iter_mut().zip([5, 50, 95]) {
            let q = quantile(&sorted, percent, [0, 99]).unwrap();
            assert!(q.low <= q.value && q.value <= q.high);
            let exact = i64::from(percent) - 1;
            *held += u64::from(q.low <= exact && exact <= q.high);
        }
    }
    for held in held {
        assert!(clopper_pearson_at(held, SAMPLES, 0.9999).high >= 0.95, "{held} of {SAMPLES}");
        // Ties in steps of a percentile widen the interval, but not to everything.
        assert!(held < SAMPLES, "an interval that always holds says nothing");
    }
}

/// A billion values: the bounds lie 1.96·√(n·p·q) from the middle (normal approximation).
#[test]
fn ranks_of_a_billion_values() {
    let (low, high) = bounding_ranks(1_000_000_000, 50, 0.025);
    let half = 1.959964 * 0.5 * 1e9f64.sqrt();
    assert!((low.unwrap() as f64 - (5e8 - half)).abs() < 3.0);
    assert!((high.unwrap() as f64 - (5e8 + half)).abs() < 3.0);
}
