//! Rules of thumb of the trade about stackable modules (`common practice, no source`) beside what the network says, whose
//! answer is worked out by hand: that modules in a stack share equally, and where they do not.

use super::{HEAD, SHORT, State, at_moment, module, near, night, single, trials};
use bankwright::network::Demand;
use bankwright::scenario::check;
use bankwright::study::point::{Point, Question, solve};
use std::path::Path;

/// 14 mΩ modules, 0.2 mΩ jumpers and 2 m of 35 mm² class 5 in each lead, all rated as is common.
const CABLES: &str = "[cable.jumper]\nresistance = \"0.2 mΩ\"\nrating = \"120 A\"\n\
                      [cable.lead]\nsize = \"35 mm2\"\nlength = \"2 m\"\nrating = \"120 A\"\n";

/// Pairs by the positions of their positive and negative lead.
fn stacked(name: &str, count: usize, pairs: &[[usize; 2]]) -> String {
    let pair = |p: &[usize; 2]| format!("{{ cable = \"lead\", positive = {}, negative = {} }}", p[0], p[1]);
    let pairs: Vec<String> = pairs.iter().map(pair).collect();
    format!(
        "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = {count}\njumper = \"jumper\"\nleads = [{}]\n",
        pairs.join(", ")
    )
}

fn point(stacks: &[String], amps: f64, without: &[&str]) -> Point {
    let m = module("m", 14.0, "\"52 V\"", "discharge_limit = \"100 A\"");
    let text = [HEAD, &m, CABLES, &stacks.concat()].concat();
    let scenario = check::parse(&text, "test.toml", Path::new(".")).unwrap().scenario;
    let without = without.iter().map(|id| (*id).to_owned()).collect();
    solve(&scenario, &Question { demand: Demand::Current(amps), soc: None, air: 20.0, without }).unwrap()
}

#[track_caller]
fn conductor(point: &Point, id: &str) -> f64 {
    point.conductors.iter().find(|c| c.id == id).unwrap().current_a
}

fn module_amps(point: &Point) -> Vec<f64> {
    point.modules.iter().map(|m| m.current_a).collect()
}

/// Two on one pair at 120 A: when the one on the floor goes out the other carries all 120 A, and a full
/// module near 120 Ah does so for an hour. Common practice, no source.
#[test]
fn two_on_one_pair() {
    let pair = [stacked("A", 2, &[[2, 1]])];
    let both = point(&pair, 120.0, &[]);
    near(both.modules[0].current_a, 60.0, 1e-9);
    let alone = point(&pair, 120.0, &["A1"]);
    near(alone.modules[1].current_a, 120.0, 1e-9);
    assert!(alone.modules[1].over && !alone.conductors.iter().any(|c| c.over));

    let cold = "discharge_temperature = { low = \"-10 °C\" }\nheat_capacity = \"45 kJ/K\"\nheat_to_air = \"1 W/K\"\n\
                heat_to_floor = \"40 W/K\"";
    let m = module("m", 14.0, "\"52 V\"", cold).replace("100 Ah", "120 Ah");
    let around = "[climate]\nair = \"5 °C\"\n[floor]\nlag = \"1 h\"\noffset = \"-20 K\"\n";
    let load = "[load]\ncurrent = \"120 A\"\n";
    let trials = trials("2 h", "soc = \"100 %\"");
    let n = night(&[&m, CABLES, &pair[0], around, load, &trials]);
    assert_eq!(n.seen[0].states, [State::ChargeOnly, State::InService]);
    near(n.at(0.0).currents[1], 120.0, 1e-9);
    at_moment(n.served_until(), 3600.0);
}

/// Three on two pairs and two on one at 300 A. By equal shares the single pair carries 120 A, just its
/// rating; by the network about 115 A, for the two have one pair where the three have two. With r, j and
/// l for module, jumper and lead (by hand): the three, with pairs at both ends, are
/// r·(1 + j/r)/(3 + 2·j/r) + l; the two, with leads at opposite ends, r/2 + j/2 + 2·l.
/// Common practice, no source.
#[test]
fn the_single_pair_of_a_five_module_bank() {
    let five = [stacked("A", 3, &[[1, 1], [3, 3]]), stacked("B", 2, &[[2, 1]])];
    let p = point(&five, 300.0, &[]);
    let single = conductor(&p, "B.lead1+");
    let (r, j, lead) = (0.014, 0.0002, 2.0 * 0.554e-3);
    let three = r * (1.0 + j / r) / (3.0 + 2.0 * j / r) + lead;
    let two = r / 2.0 + j / 2.0 + 2.0 * lead;
    let wanted = 300.0 * three / (two + three);
    near(single, wanted, 1e-9);
    near(single, 115.0, 0.25);
    near(single, conductor(&p, "B.lead1-"), 1e-9);
    near(conductor(&p, "A.lead1+") + conductor(&p, "A.lead2+"), 300.0 - single, 1e-9);
    assert!(!p.conductors.iter().any(|c| c.over));

    let p = point(&five, 360.0, &[]);
    let single = conductor(&p, "B.lead1+");
    near(single, 1.2 * wanted, 1e-9);
    assert!(p.conductors.iter().any(|c| c.id == "B.lead1+" && c.over));
}

/// Three on two pairs, twice, at 480 A: 240 A a stack and 120 A a pair, every stack alike. Equal shares
/// say 80 A a module; within a stack the network gives the outer two, where the pairs are, more than the
/// middle one. Common practice, no source.
#[test]
fn six_modules_on_four_pairs() {
    let six = ["A", "B"].map(|name| stacked(name, 3, &[[1, 1], [3, 3]]));
    let p = point(&six, 480.0, &[]);
    for k in 1..=2 {
        for stack in ["A", "B"] {
            near(conductor(&p, &format!("{stack}.lead{k}+")), 120.0, 1e-9);
        }
    }
    let amps = module_amps(&p);
    for k in 0..3 {
        near(amps[k], amps[k + 3], 1e-9);
        near(amps[k], 80.0, 1.0);
    }
    // Middle: i·r + 2·j·i/2 = outer·r, with i + 2·outer = 240 (by hand).
    let middle = 240.0 / (1.0 + 2.0 * (0.014 + 0.0002) / 0.014);
    near(amps[1], middle, 1e-9);
}

/// Five on one pair at 120 A: 24 A each, and 60 A each with three out, far below 100 A; 5 × 100 Ah last
/// 8.3 h of a load that averages half of it, 60 A. Common practice, no source.
#[test]
fn five_on_one_pair() {
    let bank = [stacked("A", 5, &[[5, 1]])];
    for (without, share) in [(&[][..], 24.0), (&["A1", "A2", "A3"][..], 60.0)] {
        let p = point(&bank, 120.0, without);
        let amps = module_amps(&p);
        near(amps.iter().sum(), 120.0, 1e-9);
        assert!(!p.modules.iter().any(|m| m.over) && !p.conductors.iter().any(|c| c.over));
        assert!(amps.iter().filter(|i| **i > 0.0).all(|i| (i / share - 1.0).abs() < 0.03), "{amps:?}");
    }
    let m = module("m", 14.0, "\"52 V\"", "");
    let n = night(&[&m, CABLES, &bank[0], "[load]\ncurrent = \"60 A\"\n", &trials("12 h", "soc = \"100 %\"")]);
    at_moment(n.served_until(), 500.0 / 60.0 * 3600.0);
}

/// Positive from one end and negative from the other evens the sharing: every path crosses as many
/// jumpers. Common practice, no source; the shares by hand: cosh γ = 1 + j/r, at one end s₁ =
/// 2·sinh(γ/2)·cosh((N − ½)γ)/sinh(Nγ), at opposite ends sinh(γ/2)·cosh((N − 1)γ/2)/sinh(Nγ/2).
#[test]
fn opposite_ends_share_more_evenly() {
    let spread = |pair: [usize; 2]| {
        let amps = module_amps(&point(&[stacked("A", 5, &[pair])], 120.0, &[]));
        amps.iter().fold(0.0, |a: f64, b| a.max(*b)) / 24.0
    };
    let (one_end, opposite) = (spread([1, 1]), spread([5, 1]));
    let gamma = (1.0_f64 + 0.2 / 14.0).acosh();
    let both_at_1 = 2.0 * (gamma / 2.0).sinh() * (4.5 * gamma).cosh() / (5.0 * gamma).sinh();
    let at_ends = (gamma / 2.0).sinh() * (2.0 * gamma).cosh() / (2.5 * gamma).sinh();
    near(one_end, 5.0 * both_at_1, 1e-9);
    near(opposite, 5.0 * at_ends, 1e-9);
    assert!(opposite - 1.0 < 0.5 * (one_end - 1.0), "{one_end} {opposite}");
}

/// The network's shares are the equal shares where nothing but the modules resists.
#[test]
fn the_rule_and_the_network_agree_without_cables() {
    let stacks = ["A", "B", "C", "D", "E"].map(|name| single(name, "m", "")).concat();
    let n = night(&[
        &module("m", 14.0, "\"52 V\"", ""),
        SHORT,
        &stacks,
        "[load]\ncurrent = \"300 A\"\n",
        &trials("1 min", ""),
    ]);
    for k in 0..5 {
        near(n.at(0.0).currents[k], 60.0, 1e-9);
    }
}
