//! Whole nights of the refuge: each trial alone, and abreast in lanes; the network alone; on one thread and on two.
//!
//! The ratios at the end are medians of rounds taken in turn, in one run.

use bankwright::engine::batch::{self, Lanes, Spent};
use bankwright::engine::realization::Realization;
use bankwright::engine::trial::Nobody;
use bankwright::network::Demand;
use bankwright::network::lane::{LANES, Lane};
use bankwright::network::linear::{LaneDemand, LinearSolver};
use bankwright::progress::Progress;
use bankwright::scenario::check::load;
use bankwright::trials::{Campaign, Options};
use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

/// Nights that are run over and over.
const TRIALS: u64 = 40 * LANES as u64;
const ROUNDS: usize = 7;

fn campaign() -> Campaign {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/refuge.toml");
    Campaign::of(&load(&path).expect("the shipped scenario is legal").scenario).expect("load and trials")
}

fn alone(campaign: &Campaign, trials: u64) {
    for trial in 0..trials {
        campaign.run_one(trial, &mut Nobody).expect("a night");
    }
}

fn abreast(campaign: &Campaign, trials: u64) {
    let realizations: Vec<Realization> = (0..trials).map(|trial| campaign.realization(trial)).collect();
    batch::run(&campaign.model, &realizations, &AtomicBool::new(false)).expect("nobody stops it");
}

/// Ridden steps of the refuge's nights [s by step and trial]: whole, their networks solved and checked, and solved alone.
fn steps(campaign: &Campaign, realizations: &[Realization]) -> [f64; 3] {
    let mut lanes = Lanes::timed(&campaign.model);
    let ran = lanes.run(realizations, &AtomicBool::new(false)).expect("nobody stops it");
    let steps: u64 = ran.into_iter().map(|one| one.expect("a night").work.steps).sum();
    let Spent { steps: whole, networks, solutions } = lanes.spent();
    [whole, networks, solutions].map(|spent| spent.as_secs_f64() / steps as f64)
}

fn on_threads(campaign: &Campaign, threads: usize) {
    let options = Options { threads: Some(threads), ..Options::default() };
    let run = options.on_threads(|| campaign.run(0..TRIALS, &(), &Progress::none()));
    run.expect("threads").expect("nobody stops it");
}

fn night(c: &mut Criterion) {
    let campaign = campaign();
    let mut group = c.benchmark_group("night");
    group.sample_size(10);
    group.bench_function("one trial alone", |b| b.iter(|| alone(&campaign, 1)));
    group.bench_function(BenchmarkId::new("abreast, trials", LANES), |b| b.iter(|| abreast(&campaign, LANES as u64)));
    for threads in [1, 2] {
        group.bench_function(BenchmarkId::new("640 trials, threads", threads), |b| {
            b.iter(|| on_threads(&campaign, threads));
        });
    }
    group.finish();
    print_ratios(&campaign);
}

/// Solutions of the refuge's network, all modules in service, in lanes.
struct Networks<'a> {
    solver: &'a mut LinearSolver<LANES>,
    emf: &'a [Lane<LANES>],
    conductance: &'a [Lane<LANES>],
    demand: &'a LaneDemand<LANES>,
    times: usize,
}

impl pulp::NullaryFnOnce for Networks<'_> {
    type Output = f64;

    #[inline(always)]
    fn call(self) -> f64 {
        let mut sum = 0.0;
        for _ in 0..self.times {
            sum += self.solver.solve(black_box(self.emf), black_box(self.conductance), self.demand).voltage[0];
        }
        sum
    }
}

/// Seconds by solution and trial.
fn network(campaign: &Campaign) -> f64 {
    const TIMES: usize = 2000;
    let (model, bank) = (&campaign.model, &campaign.model.bank);
    let mut solver = LinearSolver::new(&bank.network, model.modules.len());
    let each = |x: f64| Lane([x; LANES]);
    let emf: Vec<Lane<LANES>> = model.modules.iter().map(|m| each(m.emf(0.8))).collect();
    let sources = model.modules.iter().map(|m| each(1.0 / m.resistance(0.8, 10.0).1));
    let wires = bank.conductors.iter().map(|c| each(1.0 / c.resistance(10.0, [1.0; 2])));
    let conductance: Vec<Lane<LANES>> = sources.chain(wires).collect();
    let demand = LaneDemand::new(&[Demand::Power(4000.0); LANES]);
    let (emf, conductance, demand) = (&emf[..], &conductance[..], &demand);
    let networks = Networks { solver: &mut solver, emf, conductance, demand, times: TIMES };
    let took = seconds(|| {
        black_box(pulp::Arch::new().dispatch(networks));
    });
    took / (TIMES * LANES) as f64
}

/// Seconds that something takes.
fn seconds<T>(what: impl FnOnce() -> T) -> f64 {
    let start = Instant::now();
    black_box(what());
    start.elapsed().as_secs_f64()
}

fn median(mut rounds: Vec<f64>) -> f64 {
    rounds.sort_by(f64::total_cmp);
    rounds[rounds.len() / 2]
}

fn print_ratios(campaign: &Campaign) {
    let few = LANES as u64;
    let nights: Vec<Realization> = (0..TRIALS).map(|trial| campaign.realization(trial)).collect();
    let [mut one, mut many, mut single, mut pair, mut net] = [const { Vec::new() }; 5];
    let [mut step, mut networks, mut solutions] = [const { Vec::new() }; 3];
    for _ in 0..ROUNDS {
        one.push(seconds(|| alone(campaign, few)) / few as f64);
        many.push(seconds(|| abreast(campaign, TRIALS)) / TRIALS as f64);
        net.push(network(campaign));
        let [whole, network, solution] = steps(campaign, &nights);
        step.push(whole);
        networks.push(network);
        solutions.push(solution);
        single.push(seconds(|| on_threads(campaign, 1)));
        pair.push(seconds(|| on_threads(campaign, 2)));
    }
    let (one, many) = (median(one), median(many));
    println!(
        "\none night of the refuge: alone {:.0} µs, abreast {:.0} µs, {:.1} times",
        one * 1e6,
        many * 1e6,
        one / many
    );
    let (step, networks, solutions) = (median(step), median(networks), median(solutions));
    println!(
        "a ridden step {:.0} ns; its network solved and checked {:.0} ns: {:.2} times; solved {:.0} ns: {:.2} times; \
         solved in a loop of its own {:.0} ns",
        step * 1e9,
        networks * 1e9,
        step / networks,
        solutions * 1e9,
        step / solutions,
        median(net) * 1e9
    );
    println!("two threads against one: {:.2} times", median(single) / median(pair));
}

criterion_group! {
    name = benches;
    config = Criterion::default()
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(5));
    targets = night
}
criterion_main!(benches);
