//! Kirchhoff's law, power, charge and energy at every step of random nights, worked out here from the
//! identifiers of the elements and not from the program's graph.

use super::{Night, Seen, campaign_in, module, near, run_with, trials};
use bankwright::time::Time;
use bankwright::trials::Campaign;
use std::collections::HashMap;
use std::fmt::Write;

const STACKS: &str = r#"
[cable.jumper]
resistance = "0.3 mΩ"
contact = "30 µΩ"
[cable.lead]
size = "35 mm2"
length = "2 m"
contact = "50 µΩ"
[[stack]]
name = "A"
module = "m"
count = 4
jumper = "jumper"
leads = [{ cable = "lead", positive = 4, negative = 1 }, { cable = "lead", positive = 1, negative = 4 }]
[[stack]]
name = "B"
module = "m"
count = 3
jumper = "jumper"
leads = [{ cable = "lead", positive = 2, negative = 2 }]
"#;
/// Modules in stacks A and B.
const COUNTS: [(&str, usize); 2] = [("A", 4), ("B", 3)];

const CHANCE: &str = r#"
[faults]
module_mtbf = "6 h"
module_mttr = "2 h"
[spread]
capacity = "3 %"
resistance = "10 %"
joint = { lognormal = "30 %" }
start_charge = "2 %"
load = "10 %"
"#;

/// Straight, so that what a step's end says of the voltage is exact.
const STRAIGHT: &str = "[[\"0 %\", \"3.1 V\"], [\"100 %\", \"3.4 V\"]]";

/// Seven modules under a load that changes every 7 min, and charges at times; two nights in one.
fn bank(folder: &tempfile::TempDir) -> Campaign {
    let mut csv = "hours,power\n".to_owned();
    for k in 0..=120_u32 {
        let watts = f64::from(k * k * 7919 % 9000) - 3500.0;
        writeln!(csv, "{},{watts}", f64::from(k * 420) / 3600.0).unwrap();
    }
    std::fs::write(folder.path().join("load.csv"), csv).unwrap();
    let m = module("m", 14.0, STRAIGHT, "standing = \"4 W\"");
    let trials = trials("14 h", "soc = \"75 %\"\nseed = 3");
    campaign_in(&[&m, STACKS, "[load]\nprofile = \"load.csv\"\n", CHANCE, &trials], folder.path())
}

fn nights() -> (Campaign, Vec<(u64, Night)>) {
    let folder = tempfile::tempdir().unwrap();
    let campaign = bank(&folder);
    let nights = (0..8).map(|trial| (trial, run_with(&campaign, &campaign.realization(trial)))).collect();
    (campaign, nights)
}

/// Currents by identifier.
fn by_id<'a>(campaign: &'a Campaign, seen: &Seen) -> HashMap<&'a str, f64> {
    let bank = &campaign.model.bank;
    let ids = bank.modules.iter().map(|m| m.id.as_str()).chain(bank.conductors.iter().map(|c| c.id.as_str()));
    ids.zip(seen.currents.iter().copied()).collect()
}

/// Sum of currents into the positive (or negative) node of position k of a stack [A].
fn into(amps: &HashMap<&str, f64>, stack: &str, k: usize, leads: &[[usize; 2]], sign: char) -> f64 {
    let jumper = |low: usize| amps.get(format!("{stack}.jumper{low}-{}{sign}", low + 1).as_str()).copied();
    let from_below = jumper(k - 1).unwrap_or(0.0);
    let to_above = jumper(k).unwrap_or(0.0);
    let rail = usize::from(sign == '-');
    let taken = leads.iter().enumerate().filter(|(_, lead)| lead[rail] == k);
    let lead: f64 = taken.map(|(n, _)| amps[format!("{stack}.lead{}{sign}", n + 1).as_str()]).sum();
    let given = amps[format!("{stack}{k}").as_str()];
    // Out of the positive node by the lead, and into the negative one.
    let outward = if sign == '+' { 1.0 } else { -1.0 };
    from_below - to_above + outward * (given - lead)
}

/// Positions of each lead pair: positive, negative.
fn leads_of(stack: &str) -> &'static [[usize; 2]] {
    if stack == "A" { &[[4, 1], [1, 4]] } else { &[[2, 2]] }
}

#[test]
fn kirchhoffs_current_law_holds_at_every_node_and_moment() {
    let (campaign, nights) = nights();
    let mut worst: f64 = 0.0;
    for (_, night) in &nights {
        for seen in &night.seen {
            let amps = by_id(&campaign, seen);
            for (stack, count) in COUNTS {
                for (k, sign) in (1..=count).flat_map(|k| [(k, '+'), (k, '-')]) {
                    worst = worst.max(into(&amps, stack, k, leads_of(stack), sign).abs());
                }
            }
            for sign in ['+', '-'] {
                let all = ["A.lead1", "A.lead2", "B.lead1"].map(|id| amps[format!("{id}{sign}").as_str()]);
                worst = worst.max((all.iter().sum::<f64>() - seen.bus.current).abs());
            }
        }
        assert!(night.result.work.kirchhoff < 1e-9 && night.result.work.power_balance < 1e-9);
    }
    assert!(worst < 1e-9, "{worst} A");
}

/// What the bus gets is what the sources give less what every resistance turns to heat.
#[test]
fn power_in_equals_power_out_at_every_moment() {
    let (campaign, nights) = nights();
    for (trial, night) in &nights {
        let realization = campaign.realization(*trial);
        for seen in &night.seen {
            let (mut left, mut turned_over) = (-seen.bus.voltage * seen.bus.current, 1.0);
            for k in 0..7 {
                let (emf, amps) = (16.0 * (3.1 + 0.3 * seen.charges[k]), seen.currents[k]);
                left += (emf - 0.014 * realization.modules[k].resistance * amps) * amps;
                turned_over += (emf * amps).abs();
            }
            for (k, conductor) in campaign.model.bank.conductors.iter().enumerate() {
                // 0.554 Ω/km at 20 °C (IEC 60228, class 5), 25 °C, two joints of 50 µΩ; the jumper 30 µΩ.
                let joints: f64 = realization.joints[k].iter().sum();
                let lead = 2.0 * 0.554e-3 * (1.0 + 0.00393 * 5.0) + 50e-6 * joints;
                let ohm = if conductor.id.contains("lead") { lead } else { 0.3e-3 + 30e-6 * joints };
                left -= ohm * seen.currents[7 + k].powi(2);
            }
            assert!(left.abs() < 1e-9 * turned_over, "{left} W of {turned_over} at {}", seen.time);
        }
    }
}

/// Consecutive states between which time passed: the last at one moment, the first at the next.
fn steps(night: &Night) -> impl Iterator<Item = (&Seen, &Seen, f64)> {
    let pairs = night.seen.windows(2).map(|w| (&w[0], &w[1], (w[1].time - w[0].time).seconds()));
    pairs.filter(|(_, _, seconds)| *seconds > 0.0)
}

/// Σ ΔzQ = ∫ I dt + standing, step by step: the straight curve is far from stiff, so that every step is
/// trapezoidal. (A full or empty module is held there while its electronics draw on; none is, here.)
#[test]
fn charge_given_is_charge_taken() {
    let (campaign, nights) = nights();
    for (trial, night) in &nights {
        let realization = campaign.realization(*trial);
        let mut whole: f64 = 0.0;
        for (before, after, seconds) in steps(night) {
            let charge =
                |k: usize| 360_000.0 * realization.modules[k].capacity * (before.charges[k] - after.charges[k]);
            let own = |k: usize| 4.0 / (16.0 * (3.1 + 0.3 * before.charges[k])) * seconds;
            let given: f64 = (0..7).map(|k| charge(k) - own(k)).sum();
            let taken = 0.5 * (before.bus.current + after.bus.current) * seconds;
            near(given, taken, 1e-6);
            whole += given;
            assert!(after.charges.iter().all(|z| (0.0..1.0).contains(z)), "{:?}", after.charges);
        }
        assert!(whole > 360_000.0, "the bank did work: {whole} C");
    }
}

/// ∫ E dq = ∫ P dt + losses: the sources' energy against the load's, by the trapezoidal rule, and the
/// load's against what was asked for.
#[test]
fn energy_is_accounted_for() {
    let (campaign, nights) = nights();
    for (trial, night) in &nights {
        let realization = campaign.realization(*trial);
        let emf = |z: f64| 16.0 * (3.1 + 0.3 * z);
        let (mut given, mut heat, mut taken) = (0.0, 0.0, 0.0);
        for (before, after, seconds) in steps(night) {
            for k in 0..7 {
                let moved = 360_000.0 * realization.modules[k].capacity * (before.charges[k] - after.charges[k]);
                given += moved * emf(0.5 * (before.charges[k] + after.charges[k])) - 4.0 * seconds;
                let lost = |s: &Seen| 0.014 * realization.modules[k].resistance * s.currents[k].powi(2);
                heat += 0.5 * (lost(before) + lost(after)) * seconds;
            }
            taken += 0.5 * (before.bus.voltage * before.bus.current + after.bus.voltage * after.bus.current) * seconds;
        }
        let conductors = given - heat - taken;
        assert!(conductors > 0.0 && conductors < 0.02 * taken.abs().max(1e6), "{given} {heat} {taken}");
        let asked: f64 = (0..120_u32).map(|k| (f64::from(k * k * 7919 % 9000) - 3500.0) * 420.0).sum::<f64>();
        let wanted = asked * realization.load - night.result.unserved + night.result.curtailed;
        near(taken, wanted, 1e-6 * taken.abs());
        assert_eq!(night.seen.last().unwrap().time, Time::from_seconds(14.0 * 3600.0));
    }
}
