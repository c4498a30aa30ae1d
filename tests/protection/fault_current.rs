//! Prospective fault currents: by hand, and against a dense nodal solution in which a bolted short is one
//! node in place of two.

use bankwright::network::bank::Bank;
use bankwright::network::fault_current::prospective;
use bankwright::network::{Element, Law, SelfLimit};
use bankwright::scenario::{DeviceKind, DeviceType, Fitted, Poles, Scenario, TripCurve, check};
use nalgebra::{DMatrix, DVector};
use std::path::Path;

/// Invented: two stacks of one module on an ideal bus.
const PAIR: &str = r#"
format = 1
title = "two invented modules"

[module.box]
cells = 16
capacity = "100 Ah"
resistance = "10 mΩ"
open_circuit = "52 V"

[cable.lead]
resistance = "1 mΩ"

[[stack]]
name = "A"
module = "box"
count = 1
leads = [{ cable = "lead", positive = 1, negative = 1 }]

[[stack]]
name = "B"
module = "box"
count = 1
leads = [{ cable = "lead", positive = 1, negative = 1 }]
"#;

/// Invented: three stacks on a tapped bar, unequal modules, one stack with two pairs of leads.
const THREE: &str = r#"
format = 1
title = "three invented stacks"

[module.box]
cells = 16
capacity = "100 Ah"
resistance = "13 mΩ"
open_circuit = "52 V"

[module.old]
cells = 16
capacity = "80 Ah"
resistance = "21 mΩ"
open_circuit = "51 V"

[cable.jumper]
resistance = "0.4 mΩ"

[cable.lead]
resistance = "1.3 mΩ"

[bar]
resistance = "0.2 mΩ/m"
load_at = "1 m"

[[stack]]
name = "A"
module = "box"
count = 4
jumper = "jumper"
leads = [{ cable = "lead", positive = 4, negative = 1, at = "0 m" }]

[[stack]]
name = "B"
module = "old"
count = 3
jumper = "jumper"
leads = [
  { cable = "lead", positive = 1, negative = 1, at = "0.5 m" },
  { cable = "lead", positive = 3, negative = 3, at = "1.5 m" },
]

[[stack]]
name = "C"
module = "box"
count = 1
leads = [{ cable = "lead", positive = 1, negative = 1, at = "2 m" }]
"#;

fn scenario(text: &str) -> Scenario {
    let checked = check::parse(text, "test.toml", Path::new("."));
    checked.unwrap_or_else(|faults| panic!("{:?}", faults[0].message)).scenario
}

/// With a device of so many ohms everywhere where one can stand.
fn fitted(text: &str, ohm: f64) -> (Bank, Vec<Element>) {
    let mut scenario = scenario(text);
    scenario.devices.push(DeviceType {
        name: "fuse".into(),
        kind: DeviceKind::Fuse,
        rated: 100.0,
        curve: TripCurve::FuseLink,
        instantaneous: None,
        cooling: 600.0,
        resistance: ohm,
        breaking_capacity: None,
        voltage: None,
        price: None,
    });
    let both = Some(Fitted { device: 0, poles: Poles::Both });
    scenario.main = both;
    for stack in &mut scenario.stacks {
        stack.module_device = Some(Fitted { device: 0, poles: Poles::Positive });
        stack.leads.iter_mut().for_each(|lead| lead.device = both);
    }
    let bank = Bank::new(&scenario).unwrap();
    let modules = bank.modules.iter().map(|m| {
        let position = &scenario.stacks[m.stack].positions[m.position];
        let kind = &scenario.modules[position.module];
        let emf = if kind.name == "old" { 51.0 } else { 52.0 };
        Element::source(emf, kind.resistance.fixed + kind.resistance.cell + m.device)
    });
    let conductors = bank.conductors.iter().map(|c| Element::conductor(c.resistance(20.0, [1.0; 2])));
    let elements = modules.chain(conductors).collect();
    (bank, elements)
}

fn by_id(bank: &Bank, elements: &[Element], id: &str) -> f64 {
    let found = prospective(bank, elements).unwrap();
    assert_eq!(found.len(), bank.devices.len());
    let at = bank.devices.iter().position(|d| d.id == id).unwrap_or_else(|| panic!("no {id}: {:?}", bank.devices));
    assert_eq!(found[at].device, at);
    found[at].amps
}

#[track_caller]
fn close(got: f64, wanted: f64) {
    assert!((got - wanted).abs() < 1e-9 * wanted, "{got} is not {wanted}");
}

/// E 52 V, R 10 mΩ, leads of 1 mΩ, devices of 0.1 mΩ. A module alone drives 52/10 mΩ = 5200 A into a short
/// at its terminals; less comes back from the other one.
#[test]
fn two_modules_by_hand() {
    let (bank, elements) = fitted(PAIR, 1e-4);
    // A lead's own device is not in the path, that of the module is.
    close(by_id(&bank, &elements, "A.lead1+.fuse"), 52.0 / 10.1e-3);
    close(by_id(&bank, &elements, "B.lead1-.fuse"), 52.0 / 10.1e-3);
    close(by_id(&bank, &elements, "A1.fuse"), 52.0 / 10e-3);
    // Both in parallel, each behind two leads with their fuses; one main fuse of the two in the path.
    close(by_id(&bank, &elements, "main+.fuse"), 52.0 / ((10.1e-3 + 2.2e-3) / 2.0 + 0.1e-3));
    close(by_id(&bank, &elements, "main-.fuse"), by_id(&bank, &elements, "main+.fuse"));
}

/// A worn module of 1 Ω alone drives 52 A; into a short beside its devices the sound one sends more.
#[test]
fn the_greater_of_both_sides_counts() {
    let (bank, mut elements) = fitted(PAIR, 1e-4);
    elements[0].resistance = 1.0;
    // The other module and four leads; all devices but that in question.
    close(by_id(&bank, &elements, "A.lead1+.fuse"), 52.0 / (10.1e-3 + 4e-3 + 0.3e-3));
    close(by_id(&bank, &elements, "A1.fuse"), 52.0 / (10.1e-3 + 4e-3 + 0.4e-3));
    // Without the other nothing comes back.
    elements[1].law = Law::Open;
    close(by_id(&bank, &elements, "A1.fuse"), 52.0 / (1.0 - 1e-4));
}

/// Currents of all branches with two nodes made one: Kirchhoff's equations in full, by LU.
fn nodal(bank: &Bank, elements: &[Element], joined: (usize, usize)) -> Vec<f64> {
    let one = |node: usize| if node == joined.1 { joined.0 } else { node };
    let (nodes, branches) = (bank.network.rails().len(), bank.network.branches());
    let (mut g, mut injected) = (DMatrix::<f64>::zeros(nodes, nodes), DVector::<f64>::zeros(nodes));
    let live = || branches.iter().zip(elements).filter(|(_, e)| e.law != Law::Open);
    for (b, e) in live() {
        for (i, j) in [(one(b.from), one(b.to)), (one(b.to), one(b.from))] {
            g[(i, i)] += 1.0 / e.resistance;
            g[(i, j)] -= 1.0 / e.resistance;
        }
        injected[one(b.to)] += e.emf / e.resistance;
        injected[one(b.from)] -= e.emf / e.resistance;
    }
    for grounded in [joined.0, joined.1] {
        g.row_mut(grounded).fill(0.0);
        g[(grounded, grounded)] = 1.0;
        injected[grounded] = 0.0;
    }
    let v = g.lu().solve(&injected).expect("not singular");
    let current = |(k, e): (usize, &Element)| match e.law {
        Law::Open => 0.0,
        _ => (v[one(branches[k].from)] - v[one(branches[k].to)] + e.emf) / e.resistance,
    };
    elements.iter().enumerate().map(current).collect()
}

/// What flows into a node from all branches but one [A].
fn into(bank: &Bank, currents: &[f64], node: usize, but: usize) -> f64 {
    let branches = bank.network.branches().iter().zip(currents).enumerate().filter(|(k, _)| *k != but);
    branches
        .map(|(_, (b, i))| {
            if b.to == node {
                *i
            } else if b.from == node {
                -i
            } else {
                0.0
            }
        })
        .sum()
}

#[test]
fn stacks_with_jumpers_against_a_dense_solution() {
    let (bank, elements) = fitted(THREE, 2e-4);
    let found = prospective(&bank, &elements).unwrap();
    // Eight modules, four pairs of leads, two poles of the main device.
    assert_eq!(found.len(), 8 + 8 + 2);
    for (device, found) in bank.devices.iter().zip(found) {
        let k = device.branch;
        let b = bank.network.branches()[k];
        let changed = |law: Law, less: f64| {
            let mut elements = elements.clone();
            elements[k] = Element { law, resistance: elements[k].resistance - less, ..elements[k] };
            elements
        };
        let wanted = if k < bank.modules.len() {
            let others = nodal(&bank, &changed(Law::Open, 0.0), (b.from, b.to));
            let alone = nodal(&bank, &changed(Law::Both, 2e-4), (b.from, b.to))[k];
            alone.max(into(&bank, &others, b.to, k))
        } else if device.id.starts_with("main") {
            let (short, bare) = ((bank.network.positive(), bank.network.negative()), changed(Law::Both, 2e-4 - 1e-12));
            nodal(&bank, &bare, short)[k]
        } else {
            let positive = device.id.contains("+.");
            let (stack, modules) = (if positive { b.from } else { b.to }, &bank.network.branches()[..8]);
            let module = modules.iter().find(|m| stack == if positive { m.to } else { m.from }).unwrap();
            let short = (module.from, module.to);
            let opened = nodal(&bank, &changed(Law::Open, 0.0), short);
            let back = nodal(&bank, &changed(Law::Both, 2e-4), short)[k];
            into(&bank, &opened, stack, k).abs().max(back.abs())
        };
        // The main device of the reference keeps a trace of resistance.
        assert!((found.amps - wanted).abs() < 1e-7 * wanted, "{}: {} is not {wanted}", device.id, found.amps);
    }
}

#[test]
fn a_single_stack_has_nothing_to_come_back() {
    let text = PAIR.split("[[stack]]").take(2).collect::<Vec<_>>().join("[[stack]]");
    let (bank, elements) = fitted(&text, 1e-4);
    close(by_id(&bank, &elements, "A1.fuse"), 5200.0);
    close(by_id(&bank, &elements, "A.lead1+.fuse"), 52.0 / 10.1e-3);
}

#[test]
fn electronics_do_not_lower_the_figure() {
    let (bank, mut elements) = fitted(THREE, 2e-4);
    let plain = prospective(&bank, &elements).unwrap();
    elements[0].self_limit = SelfLimit { forward: 100.0, reverse: 50.0 };
    elements[5].law = Law::ForwardOnly { drop: 0.7 };
    assert_eq!(prospective(&bank, &elements).unwrap(), plain);
}

#[test]
fn what_is_not_a_number_is_refused() {
    let (bank, elements) = fitted(PAIR, 1e-4);
    for (emf, resistance) in [(f64::NAN, 0.01), (52.0, f64::NAN), (52.0, f64::INFINITY), (52.0, 0.0)] {
        let mut elements = elements.clone();
        elements[0] = Element::source(emf, resistance);
        assert!(prospective(&bank, &elements).is_err(), "{emf} {resistance}");
    }
    assert!(prospective(&bank, &elements[1..]).is_err());
}
