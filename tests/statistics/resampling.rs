//! The bootstrap by whole nights.

use crate::assert_near;
use bankwright::draw::{Purpose, Source};
use bankwright::summary::bootstrap::by_night;

/// Where nights are alike the interval is that of the trials; where each is all or nothing, that of
/// the nights, √(trials a night) wider. Both by p ± 1.96·√(p·q/n).
#[test]
fn bootstrap_knows_what_nights_share() {
    let width = |nights: &[(u64, u64)]| {
        let [low, high] = by_night(nights, 1).unwrap();
        assert!(low < 0.3 && 0.3 < high);
        high - low
    };
    let apart: Vec<(u64, u64)> = (0..400).map(|i| (100, if i % 10 < 3 { 100 } else { 0 })).collect();
    let of_nights = 2.0 * 1.96 * (0.3f64 * 0.7 / 400.0).sqrt();
    assert_near(width(&apart), of_nights, 0.06);

    // Independent trials of one chance, so that a night's hits are binomial.
    let source = Source::new(1, Purpose::Night, "");
    let alike: Vec<(u64, u64)> =
        (0..400).map(|i| (100, source.indices(i, 10).take(100).filter(|&x| x < 3).count() as u64)).collect();
    let of_trials = 2.0 * 1.96 * (0.3f64 * 0.7 / 40_000.0).sqrt();
    assert_near(width(&alike), of_trials, 0.12);
}

/// Nights of unequal length count by their trials: the middle is the overall proportion.
#[test]
fn bootstrap_weighs_nights_by_their_trials() {
    let nights: Vec<(u64, u64)> = (0..300).map(|i| if i % 2 == 0 { (1000, 100) } else { (10, 9) }).collect();
    let [low, high] = by_night(&nights, 1).unwrap();
    let overall = 109.0 / 1010.0;
    assert!(low < overall && overall < high && high < 0.12, "{low} {high}");
}

#[test]
fn bootstrap_is_that_of_layout_1() {
    let nights: Vec<(u64, u64)> = (0..97).map(|i| (50 + i, i * i % 11)).collect();
    assert_eq!(by_night(&nights, 1), Some([0.03514956188941484, 0.04742662696724798]));
}
