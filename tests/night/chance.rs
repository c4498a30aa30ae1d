//! How often chance does what to joints, leads, stacks, chains and motors, against closed forms.

use super::*;
use bankwright::engine::realization::RandomEvent;
use bankwright::summary::interval::clopper_pearson_at;
use std::collections::HashMap;

const NIGHTS: u64 = 4000;

/// Two stacks of two, each on two lead pairs with joints.
fn bank(more: &str) -> Campaign {
    let m = module("m", 10.0, "\"52.8 V\"", "");
    let stacks = ["A", "B"].map(|name| {
        format!(
            "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = 2\njumper = \"lead\"\nleads = [{{ cable = \
             \"lead\", positive = 1, negative = 1 }}, {{ cable = \"lead\", positive = 2, negative = 2 }}]\n"
        )
    });
    let lead = "[cable.lead]\nresistance = \"1 mΩ\"\ncontact = \"0.1 mΩ\"\n";
    campaign(&[&m, lead, &stacks.concat(), more, "[load]\ncurrent = \"10 A\"\n", &trials("10 h", "")])
}

/// What a random event is, without its number.
fn kind(random_event: &RandomEvent) -> &'static str {
    match random_event {
        RandomEvent::Module(_) => "module",
        RandomEvent::Stack(_) => "stack",
        RandomEvent::Nuisance(_) => "nuisance",
        RandomEvent::ChainLink(_) => "chain",
        RandomEvent::Conductor(_) => "lead",
        RandomEvent::Joint(_) => "joint",
        RandomEvent::Link => "link",
        RandomEvent::Surge(_) => "surge",
    }
}

/// What is down at dusk is so with the steady-state unavailability MTTR/(MTBF + MTTR) of an alternating renewal
/// process (IEC 61703), each kind by its own times: within the 99.99 % interval of Clopper and Pearson.
#[test]
fn every_kind_starts_in_its_long_run_state() {
    // MTBF [h], MTTR [h], and how many of them there are in the bank.
    let kinds = [
        ("stack", 2000.0, 100.0, 2),
        ("nuisance", 1000.0, 10.0, 4),
        ("chain", 3000.0, 30.0, 4),
        ("joint", 4000.0, 1000.0, 12),
        ("lead", 9000.0, 1000.0, 8),
    ];
    let mut faults: String = "[faults]\n".into();
    for (kind, mtbf, mttr, _) in kinds {
        faults += &format!("{kind}_mtbf = \"{mtbf} h\"\n{kind}_mttr = \"{mttr} h\"\n");
    }
    let controller = "[controller]\nlink_mtbf = \"600 h\"\nlink_mttr = \"60 h\"\n";
    let c = bank(&format!("{faults}{controller}"));
    let mut down: HashMap<&str, u64> = HashMap::new();
    for trial in 0..NIGHTS {
        for random_event in c.realization(trial).random_events.at_start() {
            *down.entry(kind(random_event)).or_default() += 1;
        }
    }
    for (kind, mtbf, mttr, count) in kinds.into_iter().chain([("link", 600.0, 60.0, 1)]) {
        let wanted = mttr / (mtbf + mttr);
        let interval = clopper_pearson_at(down[kind], count * NIGHTS, 0.9999);
        assert!((interval.low..=interval.high).contains(&wanted), "{kind}: {} of {}", down[kind], count * NIGHTS);
        assert!(interval.high - interval.low < wanted, "{kind}: and it is narrow");
    }
}

/// Motor starts at random are a Poisson process where they are short: in 10 h at one in 30 min there are 20 on
/// average, and their variance is their mean (by hand: a Poisson count; both within four standard errors). Where they last,
/// the process renews: the share of the time under way comes to lasts/(lasts + every).
#[test]
fn motor_starts_come_at_their_rate() {
    let surge = |lasts: &str| {
        format!("[[surge]]\nname = \"pump\"\ncurrent = \"5 A\"\nlasts = \"{lasts}\"\nevery = \"30 min\"\n")
    };
    let c = bank(&surge("1 ms"));
    let starts = |trial| {
        let realization = c.realization(trial);
        (0..).map_while(|k| realization.random_events.change(k)).count().div_ceil(2) as f64
    };
    let counts: Vec<f64> = (0..NIGHTS).map(starts).collect();
    let n = NIGHTS as f64;
    let mean = counts.iter().sum::<f64>() / n;
    let variance = counts.iter().map(|k| (k - mean).powi(2)).sum::<f64>() / (n - 1.0);
    near(mean, 20.0, 4.0 * (20.0 / n).sqrt());
    // Of a Poisson count's sample variance: √((μ + 2μ²)/n).
    near(variance, 20.0, 4.0 * ((20.0 + 2.0 * 400.0) / n).sqrt());
    let c = bank(&surge("30 min"));
    let (mut on, mut whole) = (0.0, 0.0);
    for trial in 0..NIGHTS {
        let realization = c.realization(trial);
        let at: Vec<f64> =
            (0..).map_while(|k| realization.random_events.change(k)).map(|(at, _)| at.seconds()).collect();
        // From the second hour on the start from rest is forgotten: e^(−2·2·2) of it is left.
        let from = 2.0 * 3600.0;
        for start_end in at.chunks(2) {
            let end = start_end.get(1).copied().unwrap_or(36000.0);
            on += (end.max(from) - start_end[0].max(from)).max(0.0);
        }
        whole += 36000.0 - from;
    }
    near(on / whole, 0.5, 0.01);
}
