//! The same network as a netlist, in a general circuit simulator (ngspice) where one is on the path.
//!
//! A sweep of a direct current source: the simulator's cheapest way to solve one network for many loads,
//! with its default tolerances and nothing kept but one voltage. Its start is left out: a run with one
//! point is taken from a run with 1,001.

use super::cases::Case;
use super::median;
use bankwright::network::lane::{LANES, Lane};
use bankwright::network::linear::{LaneDemand, LinearSolver};
use bankwright::network::response::{Affine, Response};
use bankwright::network::solve::Solver;
use std::fmt::Write;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

/// Loads beyond the first, an ampere apart [A].
const LOADS: usize = 1000;
const RUNS: usize = 15;

/// Currents of all branches for each load, as the simulator prints them.
type Answers = Vec<Vec<f64>>;

fn netlist(case: &Case, commands: &str) -> String {
    let node = |n: usize| if n == case.network.negative() { "0".to_owned() } else { format!("n{n}") };
    let mut text = String::from("* an invented bank\n");
    for (k, (branch, element)) in case.network.branches().iter().zip(&case.elements[0]).enumerate() {
        let (from, to, ohm) = (node(branch.from), node(branch.to), element.resistance);
        let line = match k < case.modules {
            true => writeln!(text, "v{k} s{k} {from} dc {}\nr{k} s{k} {to} {ohm}", element.emf),
            false => writeln!(text, "r{k} {from} {to} {ohm}"),
        };
        line.expect("room for a line");
    }
    format!("{text}iload {} 0 dc 0\n.control\n{commands}quit\n.endc\n.end\n", node(case.network.positive()))
}

fn run(folder: &Path, text: &str) -> Option<f64> {
    let path = folder.join("bank.cir");
    std::fs::write(&path, text).expect("a netlist");
    let start = Instant::now();
    let output = Command::new("ngspice").current_dir(folder).arg("-b").arg(&path).output().ok()?;
    let seconds = start.elapsed().as_secs_f64();
    output.status.success().then_some(seconds)
}

fn answers(case: &Case, folder: &Path) -> Option<Answers> {
    let branches = case.network.branches().len();
    let names: String = (0..branches).map(|k| format!(" @r{k}[i]")).collect();
    let commands =
        format!("set numdgt=15\nset wr_singlescale\nsave{names}\ndc iload 0 {LOADS} 1\nwrdata currents.data{names}\n");
    run(folder, &netlist(case, &commands))?;
    let table = std::fs::read_to_string(folder.join("currents.data")).ok()?;
    let rows = table.lines().map(|line| line.split_whitespace().skip(1).map(|x| x.parse().ok()).collect());
    rows.collect()
}

/// By lanes, 16 loads at once.
fn ours(case: &Case, solver: &mut LinearSolver<LANES>, mut keep: impl FnMut(usize, &[Lane<LANES>])) {
    for first in (0..=LOADS).step_by(LANES) {
        let amount = Lane(std::array::from_fn(|l| (first + l) as f64));
        let terminals = case.lanes_for(solver, &LaneDemand { amount, is_power: [false; LANES] });
        assert!(terminals.sound.iter().all(|sound| *sound));
        keep(first, solver.currents());
    }
}

/// By one elimination for all loads.
fn by_response(case: &Case, solver: &mut Solver, mut keep: impl FnMut(usize, &[f64])) {
    let affine: Affine = match Response::of(solver, &case.elements[0]) {
        Ok(Response::Affine(affine)) => affine,
        other => panic!("{other:?}"),
    };
    let mut currents = vec![0.0; case.elements[0].len()];
    for load in 0..=LOADS {
        affine.currents(load as f64, &mut currents);
        keep(load, &currents);
    }
}

/// Prints agreement and times; says so where there is no simulator.
pub fn compare(case: &Case) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    if Command::new("ngspice").arg("--version").output().is_err() {
        println!("no ngspice on the path: nothing to compare with");
        return;
    }
    let wanted = answers(case, folder.path()).expect("a table of currents");
    assert_eq!(wanted.len(), LOADS + 1);
    // All lanes the elements of the first trial, so that each may be another load.
    let case = &case.alike();
    let mut solver = LinearSolver::new(&case.network, case.modules);
    let mut worst: f64 = 0.0;
    ours(case, &mut solver, |first, currents| {
        for (l, wanted) in wanted.iter().skip(first).take(LANES).enumerate() {
            for (got, wanted) in currents.iter().zip(wanted) {
                worst = worst.max((got[l] - wanted).abs());
            }
        }
    });
    let mut solver_of_one = Solver::new(case.network.clone());
    by_response(case, &mut solver_of_one, |load, currents| {
        for (got, wanted) in currents.iter().zip(&wanted[load]) {
            worst = worst.max((got - wanted).abs());
        }
    });
    assert!(worst < 1e-6, "off by {worst} A");
    let sweep = |last: usize| netlist(case, &format!("save n{}\ndc iload 0 {last} 1\n", case.network.positive()));
    let (short, long) = (sweep(0), sweep(LOADS));
    let (mut theirs, mut mine, mut at_once) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..RUNS {
        let (Some(one), Some(all)) = (run(folder.path(), &short), run(folder.path(), &long)) else { return };
        theirs.push((all - one) / LOADS as f64 * 1e9);
        let start = Instant::now();
        ours(case, &mut solver, |_, currents| {
            std::hint::black_box(currents);
        });
        mine.push(start.elapsed().as_nanos() as f64 / (LOADS + 1) as f64);
        let start = Instant::now();
        by_response(case, &mut solver_of_one, |_, currents| {
            std::hint::black_box(currents);
        });
        at_once.push(start.elapsed().as_nanos() as f64 / (LOADS + 1) as f64);
    }
    let (theirs, mine, at_once) = (median(theirs), median(mine), median(at_once));
    println!(
        "{}, {} loads by a circuit simulator: {theirs:.0} ns a load; by lanes, each from its own elements, \
         {mine:.1} ns, {:.0} times; by one elimination for all {at_once:.1} ns, {:.0} times; \
         greatest difference of any of {} currents {worst:.1e} A",
        case.name,
        LOADS + 1,
        theirs / mine,
        theirs / at_once,
        case.network.branches().len()
    );
}
