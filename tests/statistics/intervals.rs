//! Clopper-Pearson intervals and the binomial tail; published intervals in `study/verify/statistics.rs`.

use super::{assert_near, binomial_between};
use bankwright::summary::interval::{binomial_at_least, clopper_pearson, clopper_pearson_at};
use proptest::prelude::*;
use statrs::function::beta::inv_beta_reg;

/// Roots of numerical integrals of the beta density with 40 digits (mpmath 1.3).
#[test]
fn clopper_pearson_against_forty_digit_integration() {
    for (k, n, low, high) in [
        (7, 50, 0.058191700340372085, 0.26739600249700844),
        (3, 1000, 6.190999316495713e-4, 8.742023238478304e-3),
        (3, 1_000_000_000, 6.186721233228958e-10, 8.767273044460697e-9),
        (1_000_000, 1_000_000_000, 9.980419606758459e-4, 0.0010019609288197938),
        (500_000_000, 1_000_000_000, 0.4999690097484223, 0.5000309902515777),
    ] {
        let e = clopper_pearson(k, n);
        assert_near(e.low, low, 2e-14);
        assert_near(e.high, high, 2e-14);
    }
}

#[test]
fn clopper_pearson_of_none_and_of_all() {
    for n in [1, 2, 20, 1_000_000, 1_000_000_000u64] {
        let (none, all) = (clopper_pearson(0, n), clopper_pearson(n, n));
        assert_eq!((none.estimate, none.low), (0.0, 0.0));
        assert_eq!((all.estimate, all.high), (1.0, 1.0));
        // (1 − high)ⁿ = 0.025 = lowⁿ
        assert_near((n as f64 * (-none.high).ln_1p()).exp(), 0.025, 1e-12);
        assert_near((n as f64 * all.low.ln()).exp(), 0.025, 1e-6);
    }
}

/// An independent implementation, where it is in its depth.
#[test]
fn clopper_pearson_against_the_inverse_beta_of_statrs() {
    for n in [2u64, 10, 100, 1000] {
        for k in (1..n).step_by((n as usize / 10).max(1)) {
            let e = clopper_pearson_at(k, n, 0.99);
            let (hits, misses) = (k as f64, (n - k) as f64);
            assert_near(e.low, inv_beta_reg(hits, misses + 1.0, 0.005), 1e-10);
            assert_near(e.high, inv_beta_reg(hits + 1.0, misses, 0.995), 1e-10);
        }
    }
}

proptest! {
    #[test]
    fn tails_at_the_bounds_are_two_and_a_half_per_cent(n in 2u64..3000, share in 0.0..1.0f64) {
        let k = ((n as f64 * share) as u64).clamp(1, n - 1);
        let e = clopper_pearson(k, n);
        prop_assert!((binomial_between(k, n, n, e.low) - 0.025).abs() < 1e-10);
        prop_assert!((binomial_between(0, k, n, e.high) - 0.025).abs() < 1e-10);
    }

    #[test]
    fn binomial_tail_is_the_sum_of_its_terms(n in 1u64..300, share in 0.0..1.0f64, p in 0.001..0.999f64) {
        let k = (n as f64 * share) as u64;
        let sum = binomial_between(k, n, n, p);
        prop_assert!((binomial_at_least(k, n, p) - sum).abs() < 1e-11);
    }
}

/// Coverage by exact enumeration of all outcomes, n = 30.
#[test]
fn clopper_pearson_covers_at_every_p() {
    let intervals: Vec<_> = (0..=30).map(|k| clopper_pearson(k, 30)).collect();
    let mut least = 1.0f64;
    for p in (1..1000).map(|i| f64::from(i) / 1000.0) {
        let holds = |k: &u64| {
            let e = &intervals[*k as usize];
            e.low <= p && p <= e.high
        };
        let coverage: f64 = (0..=30).filter(holds).map(|k| binomial_between(k, k, 30, p)).sum();
        assert!(coverage >= 0.95, "{coverage} at {p}");
        least = least.min(coverage);
    }
    // Neither is it idle: the interval could not be made much shorter.
    assert!(least < 0.96, "{least}");
}
