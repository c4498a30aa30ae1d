//! Faults and repairs as they were drawn, what they are counted as, and spread against closed forms.

use super::{Campaign, Night, SHORT, State, campaign, module, near, run_with, single, trials};
use bankwright::draw::faults::Timeline;
use bankwright::engine::module::Reason;
use bankwright::engine::realization::{RandomEvent, Realization};
use bankwright::engine::result::ChainResult;
use bankwright::engine::trial::Observer;
use bankwright::engine::trial::Trial;
use bankwright::summary::interval::clopper_pearson_at;
use bankwright::time::Time;

fn three(load: &str) -> Campaign {
    let stacks = ["A", "B", "C"].map(|s| single(s, "m", "")).concat();
    let m = module("m", 15.0, "\"52 V\"", "discharge_limit = \"40 A\"");
    campaign(&[&m, SHORT, &stacks, &format!("[load]\n{load}\n"), &trials("2 h", "")])
}

/// A night in which modules change their service at these moments [s].
fn with_faults(campaign: &Campaign, changes: [&[f64]; 3]) -> Night {
    let mut realization = Realization::nominal(3, campaign.model.bank.conductors.len());
    for (module, changes) in changes.into_iter().enumerate() {
        let changes = changes.iter().map(|&t| Time::from_seconds(t)).collect();
        realization.random_events.add(RandomEvent::Module(module), &Timeline { down_at_start: false, changes });
    }
    run_with(campaign, &realization)
}

/// 90 A on three: 30 A each; on two 45 A, over 40 A. Times fall within steps and are exact.
#[test]
fn a_fault_drops_a_module_at_its_time() {
    let c = three("current = \"90 A\"");
    let n = with_faults(&c, [&[], &[1800.123456, 3600.654321], &[]]);
    for (state, wanted) in [(State::Open, 1800.123456), (State::InService, 3600.654321)] {
        let when = n.when(1, state);
        assert_eq!(when.len(), 1);
        near(when[0], wanted, 1e-7);
    }
    let after = n.at(1800.123456);
    for (k, amps) in [45.0, 0.0, 45.0].into_iter().enumerate() {
        near(after.currents[k], amps, 1e-6);
    }
    near(n.at(3600.654321).currents[1], 30.0, 1e-5);
    for k in [0, 2] {
        let over = n.result.elements[k];
        assert_eq!(over.first_over, Some(Time::from_seconds(1800.123456)));
        assert_eq!(over.time_over, Time::from_seconds(3600.654321 - 1800.123456));
        near(over.greatest, 45.0, 1e-5);
        assert_eq!(over.greatest_at, Time::from_seconds(1800.123456));
    }
    let chain = |over| ChainResult { out: vec![(1, Reason::Fault)], amiss: vec![], over };
    assert_eq!(n.result.chains, vec![chain(0), chain(2)]);
    let dropout = n.result.dropout;
    assert!(dropout.most == 1 && dropout.fault && !dropout.cold && !dropout.other);
    // Charge: the middle one has rested for half an hour and a second.
    near(n.at(7200.0).charges[1], 0.9 - 30.0 * (7200.0 - 1800.530865) / 360_000.0, 1e-7);
}

/// Two out at once for a minute, and one after the other apart: "at the same moment" is two and one.
/// With all out the load is not served, from then on.
#[test]
fn so_many_out_at_the_same_moment() {
    let c = three("current = \"30 A\"");
    let most = |changes: [&[f64]; 3]| with_faults(&c, changes).result.dropout.most;
    assert_eq!(most([&[], &[], &[]]), 0);
    assert_eq!(most([&[600.0, 1260.0], &[1200.0, 2000.0], &[]]), 2);
    assert_eq!(most([&[600.0, 1200.0], &[1200.5, 2000.0], &[3000.0]]), 1);
    let all = with_faults(&c, [&[600.0], &[1200.0], &[1800.0, 1809.0, 3600.0]]);
    assert_eq!(all.result.dropout.most, 3);
    assert_eq!(all.result.served_until, Some(Time::from_seconds(3600.0)), "9 s are less than the hold");
}

/// Down from the start, and back: as drawn.
#[test]
fn down_at_the_start() {
    let c = three("current = \"30 A\"");
    let mut realization = Realization::nominal(3, c.model.bank.conductors.len());
    let course = Timeline { down_at_start: true, changes: vec![Time::from_seconds(99.5)] };
    realization.random_events.add(RandomEvent::Module(2), &course);
    let n = run_with(&c, &realization);
    assert_eq!(n.seen[0].states[2], State::Open);
    near(n.at(0.0).currents[0], 15.0, 1e-6);
    near(n.at(99.5).currents[2], 10.0, 1e-3);
    assert_eq!(n.result.dropout.most, 1);
}

/// Counts modules that are open at a moment.
struct Census {
    at: [Time; 3],
    open: [u64; 3],
}

impl Observer for Census {
    fn moment(&mut self, trial: &Trial<'_>) {
        let Some(k) = self.at.iter().position(|&t| t == trial.now) else { return };
        // The last moment of a time stands: events at it have happened.
        self.open[k] = trial.states.iter().filter(|s| **s == State::Open).count() as u64;
    }
}

fn census(start: &str) -> [u64; 3] {
    let faults = format!("[faults]\nmodule_mtbf = \"100 h\"\nmodule_mttr = \"25 h\"\nstart = \"{start}\"\n");
    let stacks = ["A", "B", "C", "D"].map(|s| single(s, "m", "")).concat();
    let m = module("m", 15.0, "\"52 V\"", "");
    let trials = trials("14 h", "step = \"1 h\"");
    let c = campaign(&[&m, SHORT, &stacks, "[load]\ncurrent = \"1 A\"\n", &faults, &trials]);
    let mut sum = [0; 3];
    for trial in 0..TRIALS {
        let at = [0.0, 7.0, 14.0].map(|h| Time::from_seconds(h * 3600.0));
        let mut census = Census { at, open: [0; 3] };
        c.run_one(trial, &mut census).unwrap();
        for (sum, open) in sum.iter_mut().zip(census.open) {
            *sum += open;
        }
    }
    sum
}

const TRIALS: u64 = 3000;

/// P(down at t) = MTTR/(MTBF + MTTR) = 1/5 throughout a stationary night; from new
/// 1 − A(t) = λ/(λ+μ)·(1 − e^(−(λ+μ)·t)) (by hand: the two-state Markov model, dA/dt = μ − (λ+μ)·A). Counted in the states that the
/// engine was in, against the 99.99 % interval of Clopper and Pearson for 3000 × 4 modules.
#[test]
fn availability_through_the_night() {
    let from_new = |h: f64| 0.2 * (1.0 - (-(0.01 + 0.04) * h).exp());
    let wanted = [("stationary", [0.2; 3]), ("in service", [0.0, from_new(7.0), from_new(14.0)])];
    for (start, wanted) in wanted {
        for (down, p) in census(start).into_iter().zip(wanted) {
            let interval = clopper_pearson_at(down, 4 * TRIALS, 0.9999);
            assert!((interval.low..=interval.high).contains(&p), "{start}: {down}, not {p}");
            assert!(interval.high - interval.low < 0.03, "and it is narrow");
        }
    }
}

/// Sees the currents of the first moment.
struct First(Option<Vec<f64>>);

impl Observer for First {
    fn moment(&mut self, trial: &Trial<'_>) {
        self.0.get_or_insert_with(|| trial.currents());
    }
}

/// Resistances with a relative standard deviation σ on an ideal bus give currents with σ·√((N−1)/N): 8
/// modules, 5 % → 4.68 % (by hand, first order: i_k/i − 1 = −(δ_k − mean of δ), whose variance is σ²·(N−1)/N). The sample's own error is
/// 1/√(2·7·3000) = 0.5 % of it, and the second order about σ² = 0.25 %, twice over.
#[test]
fn spread_of_resistance_becomes_spread_of_current() {
    let stacks = ["A", "B", "C", "D", "E", "F", "G", "H"].map(|s| single(s, "m", "")).concat();
    let m = module("m", 15.0, "\"52 V\"", "");
    let trials = trials("60 s", "");
    let spread = "[spread]\nresistance = \"5 %\"\n";
    let c = campaign(&[&m, SHORT, &stacks, "[load]\ncurrent = \"800 A\"\n", spread, &trials]);
    let mut squares = 0.0;
    for trial in 0..TRIALS {
        let mut first = First(None);
        c.run_one(trial, &mut first).unwrap();
        let amps = first.0.unwrap();
        near(amps[..8].iter().sum(), 800.0, 1e-9);
        squares += amps[..8].iter().map(|i| (i / 100.0 - 1.0).powi(2)).sum::<f64>();
    }
    let deviation = (squares / (8.0 * TRIALS as f64)).sqrt();
    let wanted = 0.05 * (7.0_f64 / 8.0).sqrt();
    println!("{deviation:.5} for {wanted:.5}");
    near(wanted, 0.0468, 5e-5);
    near(deviation / wanted, 1.0, 4.0 * 0.005 + 0.005);
}

/// No two quantities, modules, joints or trials share a draw: the correlation of 3000 pairs is within four
/// of its own standard errors, 1/√3000, of none.
#[test]
fn draws_are_each_their_own() {
    let spread = "[spread]\ncapacity = \"1 %\"\nresistance = \"1 %\"\nstart_charge = \"1 %\"\njoint = \"1 %\"\n\
                  load = \"1 %\"\ntemperature = \"1 K\"\nsensor = \"1 K\"\n";
    let stacks = ["A", "B"].map(|s| single(s, "m", "")).concat();
    let trials = trials("60 s", "");
    let m = module("m", 15.0, "\"52 V\"", "");
    let c = campaign(&[&m, SHORT, &stacks, "[load]\ncurrent = \"1 A\"\n", spread, &trials]);
    let drawn: Vec<Vec<f64>> = (0..TRIALS).map(|trial| factors(&c.realization(trial))).collect();
    let deviation = |k: usize| drawn.iter().map(|d| d[k] * d[k]).sum::<f64>().sqrt();
    for a in 0..drawn[0].len() {
        for b in 0..a {
            let product: f64 = drawn.iter().map(|d| d[a] * d[b]).sum();
            let correlation = product / deviation(a) / deviation(b);
            assert!(correlation.abs() < 4.0 / (TRIALS as f64).sqrt(), "{a} and {b}: {correlation}");
        }
    }
}

/// All that chance gave a trial, each less its mean.
fn factors(realization: &Realization) -> Vec<f64> {
    let modules = realization.modules.iter();
    let modules = modules.flat_map(|m| [m.capacity - 1.0, m.resistance - 1.0, m.sensor]);
    let joints = realization.joints.iter().flatten().map(|j| j - 1.0);
    modules.chain(joints).chain([realization.load - 1.0, realization.temperature, realization.start_charge]).collect()
}
