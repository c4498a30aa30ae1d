//! One solution of the network: over lanes of trials, one trial at a time, and by a dense matrix with LU
//! and Newton; and beside a general circuit simulator where one is installed.
//!
//! All solve the same elements for the same constant power, all modules in service, a trial after
//! another. The table at the end gives medians of rounds that take turns, so that what else the machine
//! does meets all alike.

#[path = "step/cases.rs"]
mod cases;
#[path = "step/dense.rs"]
mod dense;
#[path = "step/spice.rs"]
mod spice;

use bankwright::network::lane::LANES;
use bankwright::network::linear::LinearSolver;
use bankwright::network::solve::Solver;
use cases::Case;
use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::{Duration, Instant};

/// The same problem: voltages within 1 µV of the dense solution, and all lanes with the bits of one trial.
fn check(case: &Case) {
    let (mut solver, mut lanes) = (Solver::new(case.network.clone()), LinearSolver::new(&case.network, case.modules));
    let terminals = case.lanes(&mut lanes);
    for l in 0..LANES {
        let one = case.one(&mut solver, l);
        let dense = dense::solve(&case.network, &case.elements[l], case.watts);
        assert!((one - dense).abs() < 1e-6, "{}: {one} V and {dense} V", case.name);
        assert!(terminals.sound[l] && terminals.voltage[l].to_bits() == one.to_bits(), "{}, lane {l}", case.name);
        for (lane, current) in lanes.currents().iter().zip(solver.currents()) {
            assert!(lane[l].to_bits() == current.to_bits(), "{}, lane {l}", case.name);
        }
    }
}

/// Time of one call over some calls in a row [ns].
fn round(calls: u32, work: &mut dyn FnMut()) -> f64 {
    let start = Instant::now();
    (0..calls).for_each(|_| work());
    start.elapsed().as_nanos() as f64 / f64::from(calls)
}

fn median(mut all: Vec<f64>) -> f64 {
    all.sort_by(f64::total_cmp);
    all[all.len() / 2]
}

/// Medians of some jobs that take turns for a second [ns].
fn medians<const N: usize>(jobs: &mut [(u32, &mut dyn FnMut()); N]) -> [f64; N] {
    let mut times = [const { Vec::new() }; N];
    let begin = Instant::now();
    while begin.elapsed() < Duration::from_secs(1) || times[0].len() < 5 {
        for (times, (calls, work)) in times.iter_mut().zip(jobs.iter_mut()) {
            times.push(round(*calls, work));
        }
    }
    times.map(median)
}

fn row(case: &Case) {
    let (mut solver, mut lanes) = (Solver::new(case.network.clone()), LinearSolver::new(&case.network, case.modules));
    let (mut a, mut b) = ((0..LANES).cycle(), (0..LANES).cycle());
    let mut by_matrix = || {
        let trial = a.next().unwrap_or(0);
        black_box(dense::solve(black_box(&case.network), &case.elements[trial], case.watts));
    };
    let mut by_list = || {
        let trial = b.next().unwrap_or(0);
        black_box(black_box(case).one(&mut solver, trial));
    };
    let mut by_lanes = || {
        black_box(black_box(case).lanes(&mut lanes));
    };
    let calls = LANES as u32;
    let [dense, one, all] = medians(&mut [(calls, &mut by_matrix), (calls, &mut by_list), (calls, &mut by_lanes)]);
    let lane = all / LANES as f64;
    println!(
        "{:16} {:7} {:8} {dense:9.0} ns {one:9.0} ns {lane:9.1} ns {:12.0} {:10.1} {:10.1}",
        case.name,
        case.modules,
        case.network.branches().len(),
        dense / lane,
        dense / one,
        one / lane
    );
}

fn step(c: &mut Criterion) {
    let cases = Case::all();
    let mut group = c.benchmark_group("step");
    for case in &cases {
        check(case);
        let mut solver = Solver::new(case.network.clone());
        let mut lanes = LinearSolver::new(&case.network, case.modules);
        let dense = || dense::solve(&case.network, &case.elements[0], case.watts);
        group.bench_function(BenchmarkId::new("dense", &case.name), |b| b.iter(dense));
        group.bench_function(BenchmarkId::new("one trial", &case.name), |b| b.iter(|| case.one(&mut solver, 0)));
        let all = format!("{LANES} trials");
        group.bench_function(BenchmarkId::new(all, &case.name), |b| b.iter(|| case.lanes(&mut lanes)));
    }
    group.finish();
    println!("A solution and trial, medians; vectors: {}", vectors());
    println!(
        "network          modules branches        dense    one trial     of lanes  dense/lanes  dense/one  one/lanes"
    );
    cases.iter().for_each(row);
    spice::compare(&Case::stacks(2, 3));
}

/// What the lanes are compiled for on this machine.
fn vectors() -> String {
    let arch = format!("{:?}", pulp::Arch::new());
    arch.split('(').next().unwrap_or_default().to_owned()
}

criterion_group! {
    name = benches;
    config = Criterion::default()
        .sample_size(20)
        .warm_up_time(Duration::from_millis(300))
        .measurement_time(Duration::from_millis(1000));
    targets = step
}
criterion_main!(benches);
