//! Constant current or power and nothing else: times by division, and by integrals with an answer.

use super::{SHORT, State, at_moment, campaign, module, near, night, run, single, trials};

const STIFF: &str = "\"52 V\"";

fn current(amps: f64) -> String {
    format!("[load]\ncurrent = \"{amps} A\"\n")
}

fn power(watts: f64) -> String {
    format!("[load]\npower = \"{watts} W\"\n")
}

/// The current of an EMF behind a resistance that gives a power: the lesser root of P = (E − R·i)·i.
fn amps_for(emf: f64, ohm: f64, watts: f64) -> f64 {
    (emf - (emf * emf - 4.0 * ohm * watts).sqrt()) / (2.0 * ohm)
}

/// t = z·ΣQ/I. Hand: 4 × 100 Ah × 90 % at 200 A: 1.8 h; full: 2 h; to 10 %: 1.6 h.
#[test]
fn equal_modules_empty_together_at_charge_over_current() {
    for (soc, empty, hours) in [("90 %", "0 %", 1.8), ("100 %", "0 %", 2.0), ("90 %", "10 %", 1.6)] {
        let m = module("m", 15.0, STIFF, &format!("empty = \"{empty}\""));
        let stacks = ["A", "B", "C", "D"].map(|s| single(s, "m", "")).concat();
        let n = night(&[&m, SHORT, &stacks, &current(200.0), &trials("5 h", &format!("soc = \"{soc}\""))]);
        at_moment(n.served_until(), hours * 3600.0);
        for k in 0..4 {
            near(n.at(3600.0).currents[k], 50.0, 1e-6);
        }
    }
}

/// The built-in curve changes nothing for one module on a constant current: t = z·Q/I. Hand: 90 Ah
/// at 37 A.
#[test]
fn the_curve_has_no_part_in_a_constant_current() {
    for step in ["1 s", "60 s", "1 h"] {
        let m = module("m", 15.0, "\"lfp\"", "");
        let n =
            night(&[&m, SHORT, &single("A", "m", ""), &current(37.0), &trials("5 h", &format!("step = \"{step}\""))]);
        at_moment(n.served_until(), 90.0 / 37.0 * 3600.0);
    }
}

/// Hand, with constant EMF: 10, 15 and 30 mΩ share 120 A as 1/2, 1/3, 1/6: 60, 40, 20 A. From 90 Ah
/// each: the first is empty after 1.5 h, with 30 and 60 Ah left. Then 2/3 and 1/3, 80 and 40 A: the
/// second after 30/80 = 0.375 h, with 45 Ah left. Then 120 A: 0.375 h. In all 2.25 h = 270 Ah/120 A.
#[test]
fn the_one_that_gives_most_empties_first_and_the_rest_take_over() {
    let modules = [module("a", 10.0, STIFF, ""), module("b", 15.0, STIFF, ""), module("c", 30.0, STIFF, "")].concat();
    let stacks = [single("A", "a", ""), single("B", "b", ""), single("C", "c", "")].concat();
    let n = night(&[&modules, SHORT, &stacks, &current(120.0), &trials("5 h", "")]);
    let empty = |k| n.when(k, State::ChargeOnly).first().copied();
    at_moment(empty(0), 1.5 * 3600.0);
    at_moment(empty(1), 1.875 * 3600.0);
    at_moment(empty(2), 2.25 * 3600.0);
    at_moment(n.served_until(), 2.25 * 3600.0);
    for (hours, shares) in [(1.0, [60.0, 40.0, 20.0]), (1.7, [0.0, 80.0, 40.0]), (2.0, [0.0, 0.0, 120.0])] {
        for (got, wanted) in n.at(hours * 3600.0).currents.iter().zip(shares) {
            near(*got, wanted, 1e-4);
        }
    }
}

/// A stack of four with both leads at module 1, r 10 mΩ, jumpers 0.5 mΩ, 200 A: 65.244/51.768/43.470/39.518 A (by
/// hand: s_k = 2·sinh(γ/2)·cosh((4.5 − k)γ)/sinh(4γ), cosh γ = 1 + j/r). The first is empty at 90 Ah/65.244 A; whatever the shares
/// are after that, the last is at 360 Ah/200 A.
#[test]
fn a_stack_gives_all_its_charge() {
    let gamma = (1.0 + 0.05_f64).acosh();
    let first_share = 2.0 * (gamma / 2.0).sinh() * (3.5 * gamma).cosh() / (4.0 * gamma).sinh();
    near(200.0 * first_share, 65.244, 5e-4);
    let cables = format!("{SHORT}[cable.jumper]\nresistance = \"0.5 mΩ\"\n");
    let stack = "[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 4\njumper = \"jumper\"\n\
                 leads = [{ cable = \"short\", positive = 1, negative = 1 }]\n";
    let n = night(&[&module("m", 10.0, STIFF, ""), &cables, stack, &current(200.0), &trials("5 h", "")]);
    let empty = |k| n.when(k, State::ChargeOnly).first().copied();
    at_moment(empty(0), 90.0 * 3600.0 / (200.0 * first_share));
    at_moment(n.served_until(), 1.8 * 3600.0);
    let order: Vec<f64> = (0..4).filter_map(empty).collect();
    assert!(order.windows(2).all(|pair| pair[0] < pair[1]), "{order:?}");
}

/// By position: 90 and 60 % on equal modules at 100 A: 50 A each, the second empty after 1.2 h; the
/// first has 30 Ah left, at 100 A: 0.3 h.
#[test]
fn charge_by_position() {
    let stacks = [single("A", "m", "soc = [\"90 %\"]"), single("B", "m", "soc = [\"60 %\"]")].concat();
    let n = night(&[&module("m", 15.0, STIFF, ""), SHORT, &stacks, &current(100.0), &trials("3 h", "")]);
    at_moment(n.when(1, State::ChargeOnly).first().copied(), 1.2 * 3600.0);
    at_moment(n.served_until(), 1.5 * 3600.0);
}

/// Constant power, constant EMF: a quadratic. One module of 15 mΩ; then 10 and 20 mΩ, which are
/// 6.6667 mΩ together and share as 2:1, until the first is empty.
#[test]
fn constant_power_on_a_constant_voltage() {
    let n = night(&[&module("m", 15.0, STIFF, ""), SHORT, &single("A", "m", ""), &power(3000.0), &trials("5 h", "")]);
    at_moment(n.served_until(), 90.0 * 3600.0 / amps_for(52.0, 0.015, 3000.0));

    let modules = [module("a", 10.0, STIFF, ""), module("b", 20.0, STIFF, "")].concat();
    let stacks = [single("A", "a", ""), single("B", "b", "")].concat();
    let n = night(&[&modules, SHORT, &stacks, &power(3000.0), &trials("5 h", "")]);
    let both = amps_for(52.0, 0.02 / 3.0, 3000.0);
    let first = 90.0 / (both * 2.0 / 3.0);
    at_moment(n.when(0, State::ChargeOnly).first().copied(), first * 3600.0);
    let rest = (90.0 - both / 3.0 * first) / amps_for(52.0, 0.02, 3000.0);
    at_moment(n.served_until(), (first + rest) * 3600.0);
}

/// Constant power, E = E0 + a·z: with E = P/i + R·i, dz = (R − P/i²)·di/a, so that
/// t = ∫ Q/i·(−dz) = (Q/a)·[P/2·(1/i² at the start − 1/i² at the end) − R·ln(start/end)]: by hand. It checks
/// the order of the step too: second, so that halving it quarters the error.
#[test]
fn constant_power_on_a_straight_curve() {
    let (ohm, watts, slope) = (0.015, 3000.0, 8.0);
    let (first, last) = (amps_for(46.0 + slope * 0.9, ohm, watts), amps_for(46.0, ohm, watts));
    let by_i2 = watts / 2.0 * (1.0 / (first * first) - 1.0 / (last * last));
    let wanted = 360_000.0 / slope * (by_i2 - ohm * (last / first).ln());
    let curve = "[[\"0 %\", \"2.875 V\"], [\"100 %\", \"3.375 V\"]]";
    let error = |step: &str| {
        let trials = trials("5 h", &format!("step = \"{step}\""));
        let n = night(&[&module("m", 15.0, curve, ""), SHORT, &single("A", "m", ""), &power(watts), &trials]);
        n.served_until().unwrap() - wanted
    };
    let [coarse, fine] = [error("600 s"), error("300 s")];
    assert!(coarse.abs() < 0.5 && error("60 s").abs() < 5e-3, "{coarse} {fine} {}", error("60 s"));
    near(coarse / fine, 4.0, 0.4);
}

/// Constant power, constant EMF, R = r·(2 − z): R = E/i − P/i², so that
/// t = ∫ Q/(r·i)·dR = (Q/r)·[E/(2·i²) − 2·P/(3·i³)] from the start's current to the end's: by hand. Second
/// order, for the resistance too is that of the step's end.
#[test]
fn constant_power_on_a_resistance_that_rises_as_charge_falls() {
    let (ohm, watts) = (0.060, 4000.0);
    let primitive = |i: f64| 52.0 / (2.0 * i * i) - 2.0 * watts / (3.0 * i.powi(3));
    let (first, last) = (amps_for(52.0, ohm * 1.1, watts), amps_for(52.0, ohm * 2.0, watts));
    let wanted = 360_000.0 / ohm * (primitive(last) - primitive(first));
    let m = module("m", 60.0, STIFF, "charge_factor = [[\"0 %\", 2.0], [\"100 %\", 1.0]]");
    let error = |step: &str| {
        let trials = trials("5 h", &format!("step = \"{step}\""));
        let n = night(&[&m, SHORT, &single("A", "m", ""), &power(watts), &trials]);
        n.served_until().unwrap() - wanted
    };
    let [coarse, fine] = ["60 s", "30 s"].map(error);
    assert!(coarse.abs() < 2e-3, "{coarse} {fine}");
    near(coarse / fine, 4.0, 0.5);
}

/// 30 A into each of two modules at 95 and 90 %: the first is full after 5 Ah/30 A = 600 s and takes
/// no more; the second then takes 60 A and has 5 Ah to go: 300 s. What is on offer after that is
/// curtailed and is no shortfall.
#[test]
fn a_full_module_takes_no_more_charge() {
    let stacks = [single("A", "m", "soc = [\"95 %\"]"), single("B", "m", "soc = [\"90 %\"]")].concat();
    let n = night(&[&module("m", 15.0, STIFF, ""), SHORT, &stacks, &current(-60.0), &trials("1 h", "")]);
    let full = |k| n.when(k, State::DischargeOnly).first().copied();
    at_moment(full(0), 600.0);
    at_moment(full(1), 900.0);
    near(n.at(720.0).currents[0], 0.0, 1e-9);
    near(n.at(720.0).currents[1], -60.0, 1e-6);
    let end = n.at(3600.0);
    assert!(end.charges.iter().all(|z| (z - 1.0).abs() < 1e-8), "{:?}", end.charges);
    assert_eq!((n.result.served_until, n.result.unserved), (None, 0.0));
    assert!(n.result.curtailed > 0.0 && n.seen.iter().all(|s| s.served), "a refused charge is no shortfall");
}

/// 2 kW into one module at 95 %: i from the quadratic, full after 5 Ah/i; curtailed is 2 kW over the
/// rest of the hour. It discharges at once when it is asked to, as `clock` shows.
#[test]
fn charging_power_is_curtailed_when_full() {
    let trials = trials("1 h", "soc = \"95 %\"");
    let n = night(&[&module("m", 15.0, STIFF, ""), SHORT, &single("A", "m", ""), &power(-2000.0), &trials]);
    let full = 5.0 * 3600.0 / -amps_for(52.0, 0.015, -2000.0);
    at_moment(n.when(0, State::DischargeOnly).first().copied(), full);
    near(n.result.curtailed, 2000.0 * (3600.0 - full), 2000.0 * 1e-3);
    assert_eq!((n.result.served_until, n.result.unserved), (None, 0.0));
    assert!(n.events.len() == 1, "full, and nothing else: {:?}", n.events);
}

/// What the module's electronics draw from its own cells comes on top: 52 W at 52 V is 1 A.
#[test]
fn standing_consumption_empties_a_module_too() {
    let m = module("m", 15.0, STIFF, "standing = \"52 W\"");
    let n = night(&[&m, SHORT, &single("A", "m", ""), &current(49.0), &trials("3 h", "")]);
    at_moment(n.served_until(), 90.0 / 50.0 * 3600.0);
}

/// A bank that starts full counts nothing as an event until something happens.
#[test]
fn a_full_start_is_in_service() {
    let c = campaign(&[
        &module("m", 15.0, STIFF, ""),
        SHORT,
        &single("A", "m", ""),
        &current(50.0),
        &trials("1 h", "soc = \"100 %\""),
    ]);
    let n = run(&c);
    assert_eq!(n.events, vec![]);
    near(n.at(3600.0).charges[0], 0.5, 1e-12);
}
