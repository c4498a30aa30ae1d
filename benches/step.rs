//! One solution of the network, beside a dense matrix solved by LU and Newton: the yardstick.
//!
//! Both solve the same elements for the same constant power, all modules in service. The ratio is
//! printed at the end, from the fastest of many rounds in one run.

use bankwright::network::bank::Bank;
use bankwright::network::solve::Solver;
use bankwright::network::{Demand, Element, Network, Outcome};
use bankwright::scenario::check::parse;
use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use nalgebra::{DMatrix, DVector};
use std::hint::black_box;
use std::path::Path;
use std::time::{Duration, Instant};

/// Stacks of four, two lead pairs each.
const SIZES: [usize; 4] = [4, 8, 16, 64];
const WATTS_PER_MODULE: f64 = 1200.0;

struct Case {
    network: Network,
    elements: Vec<Element>,
    watts: f64,
}

impl Case {
    fn new(modules: usize) -> Case {
        let stacks: String = (0..modules / 4)
            .map(|k| {
                format!(
                    "[[stack]]\nname = \"S{k}-\"\nmodule = \"m\"\ncount = 4\njumper = \"c\"\nleads = [\
                     {{ cable = \"c\", positive = 4, negative = 1 }}, {{ cable = \"c\", positive = 2, negative = 3 }}]\n"
                )
            })
            .collect();
        let text = format!(
            "format = 1\ntitle = \"invented\"\n[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"12 mΩ\"\n\
             open_circuit = \"52.8 V\"\n[cable.c]\nresistance = \"0.5 mΩ\"\n{stacks}"
        );
        let checked = parse(&text, "bench", Path::new("")).expect("a legal scenario");
        let bank = Bank::new(&checked.scenario).expect("a network");
        // No two alike, so that nothing cancels.
        let module = |k: usize| Element::source(52.8 + 0.01 * (k % 7) as f64, 0.012 + 1e-5 * (k % 11) as f64);
        let sources = (0..modules).map(module);
        let wires = bank.conductors.iter().map(|c| Element::conductor(c.resistance(25.0, [1.0; 2])));
        let elements = sources.chain(wires).collect();
        Case { network: bank.network, elements, watts: WATTS_PER_MODULE * modules as f64 }
    }

    fn ours(&self, solver: &mut Solver) -> f64 {
        match solver.solve(&self.elements, Demand::Power(self.watts)) {
            Ok(Outcome::Carried(terminals)) => terminals.voltage,
            other => panic!("{other:?}"),
        }
    }

    /// Nodal equations with the negative terminal at zero; the load's P/V by Newton in the whole
    /// system, a factorisation an iteration.
    fn dense(&self) -> f64 {
        let (positive, negative) = (self.network.positive(), self.network.negative());
        let nodes = self.network.rails().len();
        let row = |node: usize| if node < negative { node } else { node - 1 };
        let mut conductance = DMatrix::<f64>::zeros(nodes - 1, nodes - 1);
        let mut injected = DVector::<f64>::zeros(nodes - 1);
        for (branch, element) in self.network.branches().iter().zip(&self.elements) {
            let g = 1.0 / element.resistance;
            for (here, there, sign) in [(branch.from, branch.to, -1.0), (branch.to, branch.from, 1.0)] {
                if here == negative {
                    continue;
                }
                conductance[(row(here), row(here))] += g;
                injected[row(here)] += sign * g * element.emf;
                if there != negative {
                    conductance[(row(here), row(there))] -= g;
                }
            }
        }
        let bus = row(positive);
        let mut voltage = 52.8;
        for _ in 0..50 {
            // I(V) = P/V ≈ P/V₀ − P/V₀²·(V − V₀)
            let mut jacobian = conductance.clone();
            let mut right = injected.clone();
            jacobian[(bus, bus)] -= self.watts / (voltage * voltage);
            right[bus] -= 2.0 * self.watts / voltage;
            let next = jacobian.lu().solve(&right).expect("a solution")[bus];
            let change = (next - voltage).abs();
            voltage = next;
            if change < 1e-9 {
                break;
            }
        }
        voltage
    }
}

/// The fastest of the rounds in half a second [ns].
fn fastest(mut work: impl FnMut() -> f64) -> f64 {
    let (begin, mut best) = (Instant::now(), f64::INFINITY);
    while begin.elapsed() < Duration::from_millis(500) {
        const ROUND: u32 = 16;
        let start = Instant::now();
        for _ in 0..ROUND {
            black_box(work());
        }
        best = best.min(start.elapsed().as_nanos() as f64 / f64::from(ROUND));
    }
    best
}

fn step(c: &mut Criterion) {
    let mut group = c.benchmark_group("step");
    for modules in SIZES {
        let case = Case::new(modules);
        let mut solver = Solver::new(case.network.clone());
        let (ours, dense) = (case.ours(&mut solver), case.dense());
        assert!((ours - dense).abs() < 1e-6, "{ours} V and {dense} V: not the same problem");
        group.bench_function(BenchmarkId::new("elimination", modules), |b| b.iter(|| case.ours(&mut solver)));
        group.bench_function(BenchmarkId::new("dense", modules), |b| b.iter(|| case.dense()));
    }
    group.finish();
    println!("modules  elimination      dense  dense/elimination");
    for modules in SIZES {
        let case = Case::new(modules);
        let mut solver = Solver::new(case.network.clone());
        let (ours, dense) = (fastest(|| case.ours(&mut solver)), fastest(|| case.dense()));
        println!("{modules:7}  {ours:8.0} ns  {dense:8.0} ns  {:17.1}", dense / ours);
    }
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
