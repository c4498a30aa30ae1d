//! Differences of two layouts that went through the same nights.

use super::binomial_between;
use bankwright::summary::Estimate;
use bankwright::summary::difference::{self, confidence_against_first, nights_to_decide};
use bankwright::summary::interval::{CONFIDENCE, clopper_pearson_at};
use rand::{RngExt, SeedableRng};

fn difference(alone: [u64; 2], nights: u64) -> Estimate {
    difference::difference(alone, nights, CONFIDENCE)
}

/// The same difference of two layouts that went through nights of their own, `first` and `second` of them overloaded:
/// each probability with half of the error.
pub fn independent_difference([first, second]: [u64; 2], nights: u64) -> Estimate {
    let each = 0.5 * (1.0 + CONFIDENCE);
    let (a, b) = (clopper_pearson_at(first, nights, each), clopper_pearson_at(second, nights, each));
    Estimate::new(a.estimate - b.estimate, a.low - b.high, a.high - b.low)
}

/// P(B = k), B binomial.
fn exactly(k: u64, n: u64, p: f64) -> f64 {
    match p {
        _ if p <= 0.0 => f64::from(u8::from(k == 0)),
        _ if p >= 1.0 => f64::from(u8::from(k == n)),
        _ => binomial_between(k, k, n, p),
    }
}

/// Sum over every outcome (b, c) of n nights of its probability, where `counts`.
fn over_all(n: u64, apart: f64, of_first: f64, counts: impl Fn([u64; 2]) -> bool) -> f64 {
    let mut sum = 0.0;
    for m in 0..=n {
        let chance = exactly(m, n, apart);
        for b in 0..=m {
            if counts([b, m - b]) {
                sum += chance * exactly(b, m, of_first);
            }
        }
    }
    sum
}

/// By definition: the interval holds the true difference with 95 % whatever the truth is.
#[test]
fn it_holds_its_confidence_at_every_truth() {
    for n in [5, 20, 60] {
        for apart in [0.0, 0.01, 0.05, 0.2, 0.5, 1.0] {
            for of_first in [0.0, 0.1, 0.3, 0.5, 0.8, 1.0] {
                let truth = apart * (2.0 * of_first - 1.0);
                let covered = over_all(n, apart, of_first, |alone| {
                    let e = difference(alone, n);
                    e.low <= truth + 1e-12 && truth <= e.high + 1e-12
                });
                assert!(covered >= 0.95 - 1e-9, "n {n}, {apart}, {of_first}: {covered}");
            }
        }
    }
}

/// The sign is decided by the exact sign test: 8 of 8 one way have 2/2⁸ = 0.0078, 6 of 6 have 0.031; with half of the
/// error the border is 0.025.
#[test]
fn a_sign_is_decided_by_the_nights_that_differ_alone() {
    for nights in [10, 1000, 1_000_000] {
        assert!(difference([8, 0], nights).low > 0.0 && difference([0, 7], nights).high < 0.0);
        assert!(difference([6, 0], nights).low < 0.0);
    }
}

/// Against the exact chance of a decision, summed over all outcomes. The formula is of the normal distribution, and
/// the exact test decides a little later.
#[test]
fn so_many_nights_decide_in_four_runs_of_five() {
    for [b, c] in [[30, 10], [12, 2], [60, 40]] {
        let (n, apart, of_first) = (400, (b + c) as f64 / 400.0, b as f64 / (b + c) as f64);
        let needed = nights_to_decide([b, c], n).unwrap();
        let power = over_all(needed, apart, of_first, |alone| difference(alone, needed).low > 0.0);
        println!("{b} against {c} of {n}: {needed} nights decide with {power:.3}");
        assert!((0.72..0.86).contains(&power), "{b}, {c}: {power}");
    }
    assert_eq!(nights_to_decide([5, 5], 100), None);
}

/// What the pairing is for: two layouts of 10 % and 8 % of which 3 % and 1 % of nights are overloaded in one alone.
#[test]
fn paired_nights_tell_more_than_nights_of_their_own() {
    let n = 10_000;
    let (paired, apart) = (difference([300, 100], n), independent_difference([1000, 800], n));
    let factor = (apart.high - apart.low) / (paired.high - paired.low);
    println!("paired {paired:?}\nindependent {apart:?}\nnarrower by {factor:.2}");
    // By variances: √(0.1·0.9 + 0.08·0.92)/√(0.04 − 0.02²) = 2.03.
    assert!((1.7..2.4).contains(&factor), "{factor}");
    assert!((paired.estimate - apart.estimate).abs() < 1e-12);
}

/// Sixty layouts that are all alike, and the one that looked best against every other: any that is told apart from it
/// is an error. Spread over the 59 differences of the best alone, the error comes to a quarter.
#[test]
fn the_best_of_many_that_are_alike_is_told_from_none() {
    let (layouts, nights, runs) = (60, 1000, 200);
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(5);
    let mut wrong = [0, 0];
    let each = [confidence_against_first(layouts), 1.0 - 0.05 / (layouts - 1) as f64];
    for _ in 0..runs {
        let over: Vec<Vec<bool>> =
            (0..layouts).map(|_| (0..nights).map(|_| random.random_bool(0.2)).collect()).collect();
        let best = over.iter().min_by_key(|o| o.iter().filter(|x| **x).count()).unwrap();
        let alone = |a: &[bool], b: &[bool]| a.iter().zip(b).filter(|(a, b)| **a && !**b).count() as u64;
        for (wrong, confidence) in wrong.iter_mut().zip(each) {
            let decided = |other: &Vec<bool>| {
                let e = difference::difference([alone(best, other), alone(other, best)], nights, confidence);
                e.low > 0.0 || e.high < 0.0
            };
            *wrong += usize::from(over.iter().any(decided));
        }
    }
    println!("wrong in {wrong:?} of {runs} runs");
    assert!(wrong[0] * 20 <= runs && wrong[1] * 20 > 2 * runs, "{wrong:?}");
}
