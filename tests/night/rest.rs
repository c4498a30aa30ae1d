//! Where a night begins: modules in parallel have come to one voltage.

use super::*;

const NIGHTS: u64 = 2000;

/// Three modules, two of them stacked, full but for a little, and hardly any load.
fn bank(spread: &str) -> Campaign {
    let m = module("m", 10.0, "\"lfp\"", "");
    let lead = "[cable.lead]\nresistance = \"1 mΩ\"\n";
    let stacks = "[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 2\njumper = \"lead\"\n\
                  leads = [{ cable = \"lead\", positive = 1, negative = 2 }]\n\
                  [[stack]]\nname = \"B\"\nmodule = \"m\"\ncount = 1\n\
                  leads = [{ cable = \"lead\", positive = 1, negative = 1 }]\n";
    let spread = format!("[spread]\nstart_charge = {spread}\n");
    campaign(&[&m, lead, stacks, "[load]\ncurrent = \"1 mA\"\n", &spread, &trials("10 min", "soc = \"99 %\"")])
}

/// One draw a night: its mean and deviation are those of the spread, within four standard errors of each.
#[test]
fn one_start_charge_a_night_for_all_modules() {
    let c = bank("\"1 %\"");
    let drawn: Vec<f64> = (0..NIGHTS).map(|trial| c.realization(trial).start_charge).collect();
    let n = NIGHTS as f64;
    let mean = drawn.iter().sum::<f64>() / n;
    let deviation = (drawn.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
    assert!(mean.abs() < 4.0 * 0.01 / n.sqrt(), "{mean}");
    assert!((deviation / 0.01 - 1.0).abs() < 4.0 / (2.0 * n).sqrt(), "{deviation}");
}

/// At the steep end of the curve nothing flows between them, whatever is drawn: each carries a part of the milliampere.
#[test]
fn nothing_flows_before_there_is_a_load() {
    let c = bank("{ uniform = \"5 %\" }");
    let mut charges = Vec::new();
    for trial in 0..40 {
        let night = run_with(&c, &c.realization(trial));
        let first = &night.seen[0];
        assert!(first.currents[..3].iter().all(|amps| (0.0..=1e-3).contains(amps)), "{:?}", first.currents);
        assert!(first.charges.iter().all(|charge| *charge == first.charges[0]), "{:?}", first.charges);
        charges.push(first.charges[0]);
    }
    // Kept within full, and of many nights.
    assert!(charges.contains(&1.0) && charges.iter().any(|charge| *charge < 0.97), "{charges:?}");
}
