//! Whether chance has any part in a scenario: what is told by the model is what the sampler draws.

use super::*;

/// Two modules on a lead pair with joints, in the air, with a controller and a section or two more.
fn bank(more: &str) -> Campaign {
    let m = module("m", 10.0, "\"52.8 V\"", "");
    let lead = "[cable.lead]\nresistance = \"1 mΩ\"\ncontact = \"0.1 mΩ\"\n";
    let stack = "[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 2\njumper = \"lead\"\n\
                 leads = [{ cable = \"lead\", positive = 1, negative = 1 }]\n";
    let rest = "[climate]\nair = \"5 °C\"\n[load]\ncurrent = \"10 A\"\n";
    campaign(&[&m, lead, stack, rest, more, &trials("10 h", "")])
}

/// Whether any of many trials differs from the first in what chance gives it.
fn differs(c: &Campaign) -> bool {
    let realization =
        |trial| format!("{:?}", bankwright::engine::realization::Realization { trial: 0, ..c.realization(trial) });
    let first = realization(0);
    (1..400).any(|trial| realization(trial) != first)
}

#[test]
fn what_can_be_drawn_is_random_and_nothing_else() {
    let spreads = ["capacity", "resistance", "joint", "start_charge", "load", "temperature", "sensor"];
    let unit = |key: &str| if ["temperature", "sensor"].contains(&key) { "K" } else { "%" };
    let mut all: Vec<(String, bool)> = vec![("[controller]\n[spread]\ncapacity = \"0 %\"\n".to_owned(), false)];
    all.extend(spreads.map(|key| (format!("[spread]\n{key} = \"1 {}\"\n", unit(key)), true)));
    for kind in ["module", "stack", "nuisance", "chain", "joint", "lead"] {
        all.push((format!("[faults]\n{kind}_mtbf = \"100 h\"\n{kind}_mttr = \"10 h\"\n"), true));
    }
    all.push(("[controller]\nlink_mtbf = \"100 h\"\n".to_owned(), true));
    let surge = |when: &str| format!("[[surge]]\nname = \"pump\"\ncurrent = \"20 A\"\nlasts = \"5 s\"\n{when}\n");
    all.push((surge("at = [\"1 h\"]"), false));
    all.push((surge("every = \"1 h\""), true));
    for (more, random) in all {
        let c = bank(&more);
        assert_eq!((c.model.random, differs(&c)), (random, random), "{more}");
    }
}

/// Joints that no cable has cannot go bad.
#[test]
fn joints_without_a_resistance_are_no_chance() {
    let m = module("m", 10.0, "\"52.8 V\"", "");
    let bank = "[cable.lead]\nresistance = \"1 mΩ\"\n[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 1\n\
                leads = [{ cable = \"lead\", positive = 1, negative = 1 }]\n[load]\ncurrent = \"10 A\"\n";
    let chance = "[spread]\njoint = \"5 %\"\n[faults]\njoint_mtbf = \"100 h\"\n";
    assert!(!campaign(&[&m, bank, chance, &trials("10 h", "")]).model.random);
}
