//! Steps that are longer than what happens in them.

use super::*;

const OHM: f64 = 12e-3;
const COULOMBS: f64 = 360e3;
const WATTS: f64 = 4500.0;
/// Volts of 16 cells at empty, at the corner of the curve, and at full.
const CURVE: [(f64, f64); 3] = [(0.0, 48.0), (0.65, 53.28), (1.0, 53.76)];

fn emf(soc: f64) -> f64 {
    let [a, b, c] = CURVE;
    let (from, to) = if soc < b.0 { (a, b) } else { (b, c) };
    from.1 + (to.1 - from.1) * (soc - from.0) / (to.0 - from.0)
}

/// Currents of two alike in parallel under constant power: P = V·I, V the mean of both voltages less R·I/2.
fn currents(socs: [f64; 2]) -> [f64; 2] {
    let [a, b] = socs.map(emf);
    let mean = 0.5 * (a + b);
    let bank = (mean - (mean * mean - 2.0 * OHM * WATTS).sqrt()) / OHM;
    let apart = (a - b) / (2.0 * OHM);
    [0.5 * bank + apart, 0.5 * bank - apart]
}

/// The greatest current of the first within an hour, by the midpoint rule in steps of 0.1 s.
fn peak(mut socs: [f64; 2]) -> f64 {
    let less = |socs: [f64; 2], amps: [f64; 2], dt: f64| [0, 1].map(|k| socs[k] - dt * amps[k] / COULOMBS);
    let mut most: f64 = 0.0;
    for _ in 0..36_000 {
        let here = currents(socs);
        most = most.max(here[0]);
        socs = less(socs, currents(less(socs, here, 0.05)), 0.1);
    }
    most
}

/// The second of two modules passes the corner of its curve first, and the other takes over, until it passes it too: a peak within a
/// long step, of which the ends do not show it. It is over a rating 0.4 % under the peak, and not over one 0.4 % above (long steps may be off
/// by 0.1 % of the charge).
#[test]
fn a_peak_within_a_long_step_is_seen() {
    let folder = tempfile::tempdir().unwrap();
    let profile: String = (0..=24).map(|k| format!("{},{WATTS}\n", f64::from(k) / 24.0)).collect();
    std::fs::write(folder.path().join("load.csv"), format!("hours,power\n{profile}")).unwrap();
    for apart in (0..12).map(|k| 1.5 + 0.4 * f64::from(k)) {
        let peak = peak([0.73, 0.73 - 0.01 * apart]);
        for (rating, over) in [(0.996 * peak, true), (1.004 * peak, false)] {
            let m = module(
                "m",
                &format!(
                    "capacity = \"100 Ah\"\nresistance = \"12 mΩ\"\ndischarge_limit = \"{rating} A\"\n\
                     open_circuit = [[\"0 %\", \"3.0 V\"], [\"65 %\", \"3.33 V\"], [\"100 %\", \"3.36 V\"]]"
                ),
            );
            let stack = |name: &str, soc: f64| single(name, "m", &format!("soc = [\"{soc} %\"]"));
            let more = "[load]\nprofile = \"load.csv\"\n[trials]\ncount = 1\nhorizon = \"1 h\"\nstep = \"30 s\"\nhold = \"1 ms\"\n";
            let parts = [&m, SHORT, &stack("A", 73.0), &stack("B", 73.0 - apart), more];
            let c = campaign_in(folder.path(), &parts);
            assert_eq!(c.model.grid.seconds(), 150.0);
            each_way(&c, &c.realization(0), |r| {
                assert_eq!(r.elements[0].first_over.is_some(), over, "{apart} % apart, {peak} A");
            });
        }
    }
}
