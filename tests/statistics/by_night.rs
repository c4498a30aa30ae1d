//! The interval by calendar nights.
//!
//! Coverage is tried over climates of which some are unkind: kinds of night that come so seldom that most records hold
//! none or one of them. Each simulation draws a record of nights and trials of each, under a fixed seed.

use super::{assert_near, binomial_between};
use bankwright::draw::{Purpose, Source};
use bankwright::summary::by_night::by_night;
use bankwright::summary::inference::Inference;
use bankwright::summary::interval::{CONFIDENCE, clopper_pearson_at};
use proptest::prelude::*;
use rand::RngExt;
use rayon::prelude::*;

fn bounds(nights: &[(u64, u64)]) -> [f64; 2] {
    by_night(nights.iter().copied(), CONFIDENCE).unwrap()
}

/// Two dates among 300 on which it is sure, whatever the number of trials on each: the interval of Clopper and Pearson
/// of 2 in 300 (0.081 to 2.39 %), whose ends leave 2.5 % of the binomial beyond them.
#[test]
fn two_sure_dates_of_three_hundred_are_two_of_three_hundred() {
    let nights: Vec<(u64, u64)> = (0..300).map(|i| (20 + i % 27, if i % 150 == 7 { 20 + i % 27 } else { 0 })).collect();
    let [low, high] = bounds(&nights);
    assert_near(low, 0.00081, 0.01);
    assert_near(high, 0.0239, 0.002);
    assert_near(binomial_between(2, 300, 300, low), 0.025, 1e-9);
    assert_near(binomial_between(0, 2, 300, high), 0.025, 1e-9);
}

/// A kind of night: how often it comes, and how often a trial of it is a hit.
type Climate = [(f64, f64)];

/// How many of so many records, each of `nights` nights with `trials` trials, have an interval that holds the mean.
fn covered(climate: &Climate, (nights, trials): (usize, u64), records: u64) -> u64 {
    let mean: f64 = climate.iter().map(|(often, p)| often * p).sum();
    let source = Source::new(1, Purpose::Night, "coverage");
    let holds = |record: u64| {
        let mut rng = source.rng(record, 0);
        let night = |_| {
            let mut left: f64 = rng.random();
            let kind = climate.iter().find(|(often, _)| {
                left -= often;
                left < 0.0
            });
            let p = kind.map_or(0.0, |k| k.1);
            (trials, (0..trials).filter(|_| rng.random::<f64>() < p).count() as u64)
        };
        let record: Vec<(u64, u64)> = (0..nights).map(night).collect();
        let [low, high] = bounds(&record);
        low <= mean && mean <= high
    };
    (0..records).into_par_iter().filter(|&record| holds(record)).count() as u64
}

/// At least 95 % of records, as far as their number can tell.
#[test]
fn it_holds_its_confidence_in_unkind_climates() {
    const RECORDS: u64 = 1500;
    let beta: Vec<(f64, f64)> = (0..50).map(|k| (0.02, ((f64::from(k) + 0.5) / 50.0).powi(12))).collect();
    let climates: [(&str, &Climate); 8] = [
        ("all alike", &[(1.0, 0.02)]),
        ("sure or never, one night in fifty", &[(0.02, 1.0)]),
        ("sure, one night in two hundred", &[(0.005, 1.0)]),
        ("a low risk each night, and one in a hundred sure", &[(0.99, 0.01), (0.01, 1.0)]),
        ("one night in thirty, half of its trials", &[(1.0 / 30.0, 0.5)]),
        ("one night in a hundred, a twentieth of its trials", &[(0.01, 0.05)]),
        ("every kind, most of them harmless", &beta),
        ("nearly sure, but one night in fifty never", &[(0.98, 0.99)]),
    ];
    for (what, climate) in climates {
        let held = covered(climate, (100, 30), RECORDS);
        println!("{what}: {held} of {RECORDS}");
        assert!(clopper_pearson_at(held, RECORDS, 0.9999).high >= 0.95, "{what}: {held} of {RECORDS}");
        assert!(held as f64 >= 0.935 * RECORDS as f64, "{what}: {held} of {RECORDS}");
    }
}

/// Where nights are alike it comes to the interval by trials as nights grow many; both by p ± 1.96·√(p·q/n).
#[test]
fn of_nights_alike_it_comes_to_the_interval_by_trials() {
    let source = Source::new(1, Purpose::Night, "");
    let alike = |nights: u64, trials: usize| -> Vec<(u64, u64)> {
        let hits = |i| source.indices(i, 10).take(trials).filter(|&x| x < 3).count() as u64;
        (0..nights).map(|i| (trials as u64, hits(i))).collect()
    };
    let wider = |nights: &[(u64, u64)]| {
        let trials: u64 = nights.iter().map(|n| n.0).sum();
        let [low, high] = bounds(nights);
        (high - low) / (2.0 * 1.96 * (0.3f64 * 0.7 / trials as f64).sqrt())
    };
    let factors = [(400, 100), (4000, 100), (4000, 5)].map(|(n, t)| wider(&alike(n, t)));
    println!("{factors:?}");
    assert!(factors[0] < 1.6 && factors[1] < 1.2 && factors[2] < 1.06, "{factors:?}");
    assert!(factors.iter().all(|f| *f > 0.95), "{factors:?}");
}

/// Where each night is all or nothing it is √(trials a night) wider than that by trials.
#[test]
fn of_nights_that_are_all_or_nothing_it_is_that_of_the_nights() {
    let apart: Vec<(u64, u64)> = (0..400).map(|i| (100, if i % 10 < 3 { 100 } else { 0 })).collect();
    let [low, high] = bounds(&apart);
    assert!(low < 0.3 && 0.3 < high);
    assert_near(high - low, 2.0 * 1.96 * (0.3f64 * 0.7 / 400.0).sqrt(), 0.06);
}

/// What is said of a run holds the interval by trials, which unlucky nights could undercut.
#[test]
fn it_is_never_narrower_than_by_trials() {
    // Every night the same share to the trial: less between them than chance would leave.
    let nights = [(10u64, 3u64); 2000];
    let e = Inference::new(true).of_nights(nights.iter().copied());
    let [low, high] = e.by_night.unwrap();
    assert!(bounds(&nights)[0] > e.low, "alone it would be narrower");
    assert!(low <= e.low && e.high <= high && e.estimate == 0.3);
}

proptest! {
    /// One more hit never lowers either end.
    #[test]
    fn more_hits_never_lower_it(hits in prop::collection::vec(0u64..=4, 2..30), at in 0usize..30) {
        let nights: Vec<(u64, u64)> = hits.iter().map(|&h| (5, h)).collect();
        let mut more = nights.clone();
        let at = at % more.len();
        more[at].1 += 1;
        let (few, many) = (bounds(&nights), bounds(&more));
        prop_assert!(many[0] >= few[0] - 1e-12 && many[1] >= few[1] - 1e-12, "{:?} {:?}", few, many);
        prop_assert!(0.0 <= few[0] && few[0] <= few[1] && few[1] <= 1.0);
    }
}
