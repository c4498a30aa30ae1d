//! Simulated failures and repairs against the closed forms of the two-state model.

use super::assert_near;
use bankwright::draw::faults::timeline;
use bankwright::draw::{Purpose, Source};
use bankwright::scenario::{FaultStart, Faults};
use bankwright::summary::fixed_sum::FixedSum;
use bankwright::summary::interval::{binomial_at_least, clopper_pearson_at};
use bankwright::time::Time;

const HOUR: f64 = 3600.0;
const NIGHT: Time = Time(14 * 3_600_000_000);

fn module(mtbf_h: f64, mttr_h: f64, start: FaultStart) -> Faults {
    Faults { mtbf: mtbf_h * HOUR, mttr: Some(mttr_h * HOUR), start }
}

/// Whether `exact` lies in the 99.99 % interval of `hits` in `trials`.
fn agrees(hits: u64, trials: u64, exact: f64) -> bool {
    let e = clopper_pearson_at(hits, trials, 0.9999);
    e.low <= exact && exact <= e.high
}

/// K. S. Trivedi, Probability and Statistics with Reliability…: A(t) of the two-state model, from new.
fn availability(mtbf: f64, mttr: f64, t: f64) -> f64 {
    let (failure, repair) = (1.0 / mtbf, 1.0 / mttr);
    let rate = failure + repair;
    repair / rate + failure / rate * (-rate * t).exp()
}

#[test]
fn simulated_availability_from_new() {
    const TRIALS: u64 = 1_000_000;
    let faults = module(2000.0, 24.0, FaultStart::InService);
    let source = Source::new(1, Purpose::Fault, "A1");
    let horizon = Time(NIGHT.0 + 1);
    let down = (0..TRIALS).filter(|&t| timeline(&source, t, &faults, horizon).down_at(NIGHT)).count() as u64;
    assert!(agrees(down, TRIALS, 1.0 - availability(2000.0, 24.0, 14.0)), "{down}");
    // The check is sharp enough to find a rate that is wrong by a tenth, or a forgotten repair.
    for (mtbf, mttr) in [(2200.0, 24.0), (1800.0, 24.0), (2000.0, 40.0), (2000.0, 16.0), (2000.0, 1e9)] {
        assert!(!agrees(down, TRIALS, 1.0 - availability(mtbf, mttr, 14.0)), "{mtbf} {mttr} passes too");
    }
}

#[test]
fn simulated_long_run_availability_holds_at_start_and_end() {
    const TRIALS: u64 = 1_000_000;
    let faults = module(2000.0, 24.0, FaultStart::Stationary);
    let source = Source::new(1, Purpose::Fault, "A1");
    let (mut at_start, mut at_end) = (0, 0);
    for trial in 0..TRIALS {
        let line = timeline(&source, trial, &faults, NIGHT);
        at_start += u64::from(line.down_at_start);
        at_end += u64::from(line.down_at(NIGHT));
    }
    for down in [at_start, at_end] {
        assert!(agrees(down, TRIALS, 1.0 - 0.98814229), "{down}");
        for wrong in [24.0 / 2200.0, 24.0 / 1800.0] {
            assert!(!agrees(down, TRIALS, wrong / (1.0 + wrong)), "{wrong} passes too");
        }
    }
}

/// Down a third of the time, where MTTR/MTBF and MTTR/(MTBF+MTTR) are far apart; and after a
/// stationary start as often at every later moment.
#[test]
fn simulated_frail_module_is_stationary() {
    const TRIALS: u64 = 200_000;
    let faults = module(2.0, 1.0, FaultStart::Stationary);
    let source = Source::new(4, Purpose::Fault, "A1");
    let moments = [0.0, 0.3, 1.0, 3.0, 13.9].map(|hours| Time::from_seconds(hours * HOUR));
    let mut down = [0; 5];
    for trial in 0..TRIALS {
        let line = timeline(&source, trial, &faults, NIGHT);
        for (down, &at) in down.iter_mut().zip(&moments) {
            *down += u64::from(line.down_at(at));
        }
    }
    for down in down {
        assert!(agrees(down, TRIALS, 1.0 / 3.0), "{down}");
        assert!(!agrees(down, TRIALS, 0.325) && !agrees(down, TRIALS, 0.342));
    }
}

/// Renewal function of the same model: mean failures from new within t,
/// λμt/(λ+μ) + (λ/(λ+μ))²·(1 − e^(−(λ+μ)t)).
fn mean_failures(mtbf: f64, mttr: f64, t: f64) -> f64 {
    let (failure, repair) = (1.0 / mtbf, 1.0 / mttr);
    let rate = failure + repair;
    failure * repair * t / rate + (failure / rate).powi(2) * (1.0 - (-rate * t).exp())
}

#[test]
fn simulated_outages_in_a_night_from_new() {
    const TRIALS: u64 = 1_000_000;
    let exact = mean_failures(2000.0, 24.0, 14.0);
    assert_near(exact, 0.0069796859, 1e-8);

    let faults = module(2000.0, 24.0, FaultStart::InService);
    let source = Source::new(2, Purpose::Fault, "A1");
    let outages: u64 = (0..TRIALS).map(|t| timeline(&source, t, &faults, NIGHT).failures() as u64).sum();
    // A trial seldom has two, so that the count is as good as binomial.
    assert!(agrees(outages, TRIALS, exact), "{outages}");
    assert!(!agrees(outages, TRIALS, exact / 1.1) && !agrees(outages, TRIALS, exact * 1.1));
}

/// With frequent repairs many holding times follow each other: the same formula, other regime.
#[test]
fn simulated_outages_of_a_frail_module() {
    const TRIALS: u64 = 100_000;
    let exact = mean_failures(2.0, 1.0, 14.0);
    let faults = module(2.0, 1.0, FaultStart::InService);
    let source = Source::new(3, Purpose::Fault, "A1");
    let mut sum = FixedSum::default();
    for trial in 0..TRIALS {
        sum.add(timeline(&source, trial, &faults, NIGHT).failures() as f64).unwrap();
    }
    let (mean, error) = (sum.mean().unwrap(), sum.std_error().unwrap());
    assert!((mean - exact).abs() < 3.89 * error, "{mean} for {exact}");
    assert!(error < 0.002 * exact);
}

/// At least 3 of 16 down with q = 0.01: 5.079424e-4, binomial closed form.
#[test]
fn fourteen_of_sixteen() {
    assert_near(binomial_at_least(3, 16, 0.01), 5.079424e-4, 1e-6);

    const TRIALS: u64 = 300_000;
    let faults = module(99.0, 1.0, FaultStart::Stationary);
    let sources: Vec<Source> = (1..=16).map(|i| Source::new(1, Purpose::Fault, &format!("A{i}"))).collect();
    let down = |trial| sources.iter().filter(|s| timeline(s, trial, &faults, NIGHT).down_at_start).count();
    let at_least_3 = (0..TRIALS).filter(|&trial| down(trial) >= 3).count() as u64;
    assert!(agrees(at_least_3, TRIALS, 5.079424e-4), "{at_least_3}");
    assert!(!agrees(at_least_3, TRIALS, binomial_at_least(3, 16, 0.013)));
    assert!(!agrees(at_least_3, TRIALS, binomial_at_least(3, 16, 0.007)));
}
