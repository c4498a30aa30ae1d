//! Modules: resistance, voltage, charge, guards.

use super::*;
use bankwright::engine::result::Ending;
use bankwright::network::Demand;
use bankwright::study::point::{Question, solve};

/// R = s·(fixed + cell·f(z)·exp(Ea/Rg·(1/T − 1/298.15 K))), s by position, Rg = 8.314462618 J/(mol·K) (CODATA 2018). Two of
/// one voltage share a current as their conductances (Ohm's law): one as its type says, 6 mΩ of 10 mΩ fixed, one of 25 mΩ by
/// position, at −10 °C, 20 kJ/mol and a factor by charge of 1.3.
#[test]
fn resistance_by_position_cold_and_charge() {
    let m = module(
        "m",
        "capacity = \"1000 Ah\"\nresistance = \"10 mΩ\"\nfixed_resistance = \"6 mΩ\"\nopen_circuit = \"52 V\"\n\
         activation_energy = \"20 kJ/mol\"\ncharge_factor = [[\"0 %\", 1.6], [\"100 %\", 1.0]]",
    );
    let n = module("n", "capacity = \"1000 Ah\"\nresistance = \"12 mΩ\"\nopen_circuit = \"52 V\"");
    let more = "[climate]\nair = \"-10 °C\"\n[load]\ncurrent = \"100 A\"\n\
                [trials]\ncount = 1\nhorizon = \"1 s\"\nsoc = \"50 %\"\n";
    let by_position = single("B", "m", "resistance = [\"25 mΩ\"]");
    let cold = f64::exp(20e3 / 8.314462618 * (1.0 / 263.15 - 1.0 / 298.15));
    let of = |scale: f64| scale * (6e-3 + 4e-3 * 1.3 * cold);
    let shares = [1.0 / of(1.0), 1.0 / of(2.5), 1.0 / 12e-3];
    let sum: f64 = shares.iter().sum();
    each_way_as_written(&[&m, &n, SHORT, &single("A", "m", ""), &by_position, &single("C", "n", ""), more], |r| {
        for (k, share) in shares.iter().enumerate() {
            near(r.elements[k].greatest, 100.0 * share / sum, 1e-3);
        }
    });
}

/// What stays out while the other is charged comes to lie below the rails: 20 A for an hour are 20 % of 100 Ah, 0.32 V on a
/// curve of 1.6 V, and 20 A through 15 mΩ 0.3 V more. It rejoins where 0.62 V are within its difference, and with
/// −(I/2 + ΔE/(2R)).
#[test]
fn a_module_below_the_rails_waits_too() {
    let run = |difference: &str| {
        let m = module(
            "m",
            &format!(
                "capacity = \"100 Ah\"\nresistance = \"15 mΩ\"\nopen_circuit = [[\"0 %\", \"3.2 V\"], [\"100 %\", \"3.3 V\"]]\n\
                 rejoin_difference = \"{difference}\""
            ),
        );
        let more = "[load]\ncurrent = \"-20 A\"\n[trials]\ncount = 1\nhorizon = \"2 h\"\nsoc = \"10 %\"\n";
        let c = campaign(&[&m, SHORT, &single("A", "m", ""), &single("B", "m", ""), more]);
        let mut realization = c.realization(0);
        at(&mut realization, RandomEvent::Module(1), &[10.0, 3610.0]);
        (c, realization)
    };
    let (c, realization) = run("0.5 V");
    each_way(&c, &realization, |r| assert_eq!(r.rejoined, None));
    let (c, realization) = run("0.7 V");
    each_way(&c, &realization, |r| {
        let rejoined = r.rejoined.expect("it came back");
        near(rejoined.at.seconds(), 3610.0, 1e-6);
        near(rejoined.current, -(10.0 + 0.32 / 0.030), 0.02);
    });
}

/// An empty module charges, and delivers again once it has been charged by 2 % of its capacity: of 10 Ah by 10 A after 72 s. A
/// load of 10 A that comes before is not served, 520 W for 4 s, one that comes after is.
#[test]
fn an_empty_module_delivers_again_at_two_per_cent() {
    let m = module("m", "capacity = \"10 Ah\"\nresistance = \"1 mΩ\"\nopen_circuit = \"52 V\"\nempty = \"5 %\"");
    for (comes, served) in [(20.0, false), (67.0, false), (73.0, true)] {
        let more = format!(
            "[load]\ncurrent = \"-10 A\"\n[[surge]]\nname = \"s\"\ncurrent = \"20 A\"\nlasts = \"4 s\"\nat = [\"{comes} s\"]\n\
             [trials]\ncount = 1\nhorizon = \"90 s\"\nsoc = \"5 %\"\n"
        );
        // What the first moment draws makes it empty.
        let at_once = "[[surge]]\nname = \"t\"\ncurrent = \"20 A\"\nlasts = \"1 ms\"\nat = [\"0 s\"]\n";
        each_way_as_written(&[&m, SHORT, &single("A", "m", ""), at_once, &more], |r| {
            near(r.brief, if served { 0.0 } else { 520.0 * 4.0 }, 2.0);
        });
    }
}

/// A full module takes charge again once it has fallen to 99.5 %: of 10 Ah by 10 A after 18 s. What is offered before is not
/// taken: 520 W from the end of a load of 17 s to the horizon; after one of 19 s all is.
#[test]
fn a_full_module_takes_charge_again_at_99_5_per_cent() {
    let m = module("m", "capacity = \"10 Ah\"\nresistance = \"1 mΩ\"\nopen_circuit = \"52 V\"");
    for (lasts, refused) in [(17.0, 12.0), (19.0, 0.0)] {
        let more = format!(
            "[load]\ncurrent = \"-10 A\"\n[[surge]]\nname = \"s\"\ncurrent = \"20 A\"\nlasts = \"{lasts} s\"\nat = [\"1 s\"]\n\
             [trials]\ncount = 1\nhorizon = \"30 s\"\nsoc = \"100 %\"\n"
        );
        // And 1 s at the start.
        each_way_as_written(&[&m, SHORT, &single("A", "m", ""), &more], |r| {
            near(r.curtailed, 520.0 * (1.0 + refused), 2.0);
        });
    }
}

/// Two modules of 10 and 21.25 mΩ that differ by 2.125 V circulate 68 A at rest (Ohm's law around the loop). The first holds itself
/// at 70 A: under 100 A for a minute it is above its rating of 69 A for that minute, and back at 68 A after it.
#[test]
fn a_module_that_holds_itself_comes_back_below_its_limit() {
    let m = module(
        "m",
        "capacity = \"10000 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"54.125 V\"\ndischarge_limit = \"69 A\"\n\
         self_limit = { discharge = \"70 A\" }",
    );
    let n = module("n", "capacity = \"10000 Ah\"\nresistance = \"21.25 mΩ\"\nopen_circuit = \"52 V\"");
    let more = "[load]\ncurrent = \"0 A\"\n[[surge]]\nname = \"s\"\ncurrent = \"100 A\"\nlasts = \"1 min\"\nat = [\"2 min\"]\n\
                [trials]\ncount = 1\nhorizon = \"10 min\"\n";
    each_way_as_written(&[&m, &n, SHORT, &single("A", "m", ""), &single("B", "n", ""), more], |r| {
        near(r.elements[0].greatest, 70.0, 1e-6);
        near(r.elements[1].greatest, 68.0, 1e-3);
        at_moment(r.elements[0].first_over, 120.0, 1e-3);
        near(r.elements[0].time_over.seconds(), 60.0, 1e-3);
    });
}

/// Two modules of 52 V behind 50 mΩ each carry 8 kW; one alone has at most E²/(4R) = 6.76 kW for a resistance of 100 mΩ, so
/// that service ends with the failure of one: half of the bank had dropped out. Where all of three empty together nothing
/// had.
#[test]
fn why_service_ended() {
    let m = module("m", "capacity = \"100 Ah\"\nresistance = \"100 mΩ\"\nopen_circuit = \"52 V\"");
    let more = "[load]\npower = \"8 kW\"\n[trials]\ncount = 1\nhorizon = \"30 min\"\n";
    let c = campaign(&[&m, SHORT, &single("A", "m", ""), &single("B", "m", ""), more]);
    let mut realization = c.realization(0);
    at(&mut realization, RandomEvent::Module(1), &[100.0]);
    each_way(&c, &realization, |r| {
        at_moment(r.served_until, 100.0, 1e-3);
        assert_eq!(r.ending, Some(Ending::Dropped));
    });
    let stacks = ["A", "B", "C"].map(|name| single(name, "m", "")).concat();
    let more = "[load]\ncurrent = \"30 A\"\n[trials]\ncount = 1\nhorizon = \"30 min\"\nsoc = \"1 %\"\n";
    // 3 Ah by 30 A: 6 min.
    each_way_as_written(&[&m, SHORT, &stacks, more], |r| {
        at_moment(r.served_until, 360.0, 1e-3);
        assert_eq!((r.ending, r.dropout.most), (Some(Ending::Charge), 0));
    });
}

/// At rest, modules that can only discharge leave the bus at the highest of their voltages, the first that would feed; those
/// that can only be charged at the lowest, the first that would take (diodes in parallel).
#[test]
fn a_bus_at_rest_floats_at_what_would_act_first() {
    for (window, wanted) in [("charge", 53.0), ("discharge", 51.0)] {
        let m = module(
            "m",
            &format!(
                "capacity = \"100 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"\n\
                 {window}_temperature = {{ low = \"0 °C\" }}"
            ),
        );
        let stacks: String = [("A", 52), ("B", 53), ("C", 51)]
            .map(|(name, volts)| single(name, "m", &format!("open_circuit = [\"{volts} V\"]")))
            .concat();
        let s = scenario(&[&m, SHORT, &stacks]);
        let question = Question { demand: Demand::Current(0.0), soc: Some(0.5), air: -5.0, without: vec![] };
        let found = solve(&s, &question).unwrap();
        near(found.bus.voltage_v.unwrap(), wanted, 1e-9);
        found.modules.iter().for_each(|m| near(m.current_a, 0.0, 1e-9));
    }
}

/// A module of 1.5 times the resistance carries two fifths where it shares with one as written (current division), and one of half the
/// capacity is empty in half the time: 2.5 Ah by 40 A, 225 s. The other carries all from then on.
#[test]
fn the_spread_of_a_module_is_its_own() {
    let m = module("m", "capacity = \"10 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"");
    let more = "[load]\ncurrent = \"100 A\"\n[trials]\ncount = 1\nhorizon = \"250 s\"\nsoc = \"50 %\"\n";
    let c = campaign(&[&m, SHORT, &single("A", "m", ""), &single("B", "m", ""), more]);
    let mut realization = c.realization(0);
    (realization.modules[0].resistance, realization.modules[0].capacity) = (1.5, 0.5);
    each_way(&c, &realization, |r| {
        near(r.elements[0].greatest, 40.0, 1e-5);
        near(r.elements[1].greatest, 100.0, 1e-6);
        near(r.elements[1].greatest_at.seconds(), 225.0, 1e-3);
    });
}
