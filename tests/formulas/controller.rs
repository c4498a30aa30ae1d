//! The limits that a bank announces, by the modules in service.

use super::*;

/// A module whose whole resistance is outside its cells, so that the voltage of a cell is E/16 at any current.
fn stiff_cells(keys: &str) -> String {
    module(
        "m",
        &format!(
            "capacity = \"1000 Ah\"\nresistance = \"100 mΩ\"\nfixed_resistance = \"100 mΩ\"\nopen_circuit = \"lfp\"\n{keys}"
        ),
    )
}

/// Two modules in parallel, of so many volts a cell, and the bank's current when so much is asked of it (positive
/// discharges): by superposition each carries half of it and ±ΔE/(2R) besides.
fn currents(cells: [f64; 2], controller: &str, asked: f64, wanted: f64) {
    let m = stiff_cells("discharge_limit = \"100 A\"\ncharge_limit = \"100 A\"");
    let stack = |name: &str, volts: f64| single(name, "m", &format!("open_circuit = [\"{} V\"]", 16.0 * volts));
    let more = format!(
        "[controller]\n{controller}\n[load]\ncurrent = \"{asked} A\"\n[trials]\ncount = 1\nhorizon = \"10 min\"\n\
         soc = \"50 %\"\n"
    );
    let apart = 16.0 * (cells[0] - cells[1]) / 0.2;
    each_way_as_written(&[&m, SHORT, &stack("A", cells[0]), &stack("B", cells[1]), &more], |r| {
        near(r.elements[0].greatest, (0.5 * wanted + apart).abs(), 1e-6);
        near(r.elements[1].greatest, (0.5 * wanted - apart).abs(), 1e-6);
        assert_eq!(r.served_until.is_some(), asked > wanted);
        assert_eq!(r.curtailed > 0.0, asked < wanted);
    });
}

/// Discharge follows the lowest cell: of 3.20 and 3.25 V that of 3.20 V, which the table gives 50 %; in the file's order
/// and against it. Two modules of 100 A then give 100 A.
#[test]
fn discharge_is_derated_by_the_lowest_cell() {
    let table = "discharge_by_cell_voltage = [[\"3.1 V\", \"0 %\"], [\"3.3 V\", \"100 %\"]]";
    currents([3.20, 3.25], table, 120.0, 100.0);
    currents([3.25, 3.20], table, 120.0, 100.0);
    currents([3.25, 3.20], table, 90.0, 90.0);
}

/// Charge follows the highest: of 3.35 and 3.40 V that of 3.40 V, which the table gives 50 %.
#[test]
fn charge_is_derated_by_the_highest_cell() {
    let table = "charge_by_cell_voltage = [[\"3.3 V\", \"100 %\"], [\"3.5 V\", \"0 %\"]]";
    currents([3.35, 3.40], table, -120.0, -100.0);
    currents([3.40, 3.35], table, -120.0, -100.0);
    currents([3.40, 3.35], table, -90.0, -90.0);
}

/// Both follow the coldest module, as its sensor reads it: at 5 °C and one sensor 5 K low it is 0 °C, which the table gives
/// 25 %; 5 K high it is the other of 5 °C, 50 %. Of 200 A.
#[test]
fn both_limits_follow_the_coldest_sensor() {
    for (direction, sign) in [("discharge", 1.0), ("charge", -1.0)] {
        let m = stiff_cells("discharge_limit = \"100 A\"\ncharge_limit = \"100 A\"");
        let more = format!(
            "[controller]\n{direction}_by_temperature = [[\"-5 °C\", \"0 %\"], [\"15 °C\", \"100 %\"]]\n\
             [climate]\nair = \"5 °C\"\n[load]\ncurrent = \"{} A\"\n\
             [trials]\ncount = 1\nhorizon = \"10 min\"\nsoc = \"50 %\"\n",
            150.0 * sign
        );
        let c = campaign(&[&m, SHORT, &single("A", "m", ""), &single("B", "m", ""), &more]);
        for (k, off, wanted) in [(0, -5.0, 50.0), (1, -5.0, 50.0), (0, 5.0, 100.0), (1, 5.0, 100.0)] {
            let mut realization = c.realization(0);
            realization.modules[k].sensor = off;
            each_way(&c, &realization, |r| near(r.elements[0].greatest, 0.5 * wanted, 1e-6));
        }
    }
}

/// `sum` adds the limits of those in service, `least` takes the least times their number (50 and 100 A: 150 and 100 A);
/// one that is out counts in neither. Parallel modules of one voltage and resistance share equally.
#[test]
fn limits_are_added_or_the_least_is_multiplied() {
    let kind = |name: &str, amps: f64| {
        module(
            name,
            &format!(
                "capacity = \"1000 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"\ndischarge_limit = \"{amps} A\""
            ),
        )
    };
    for (rule, all, without_small, without_large) in [("sum", 150.0, 100.0, 50.0), ("least", 100.0, 100.0, 50.0)] {
        for small_first in [true, false] {
            let names = if small_first { ["s", "t"] } else { ["t", "s"] };
            let stacks = names.map(|name| single(name, name, "")).concat();
            let more = format!(
                "[controller]\nrule = \"{rule}\"\n[load]\ncurrent = \"500 A\"\n[trials]\ncount = 1\nhorizon = \"10 min\"\n"
            );
            let c = campaign(&[&kind("s", 50.0), &kind("t", 100.0), SHORT, &stacks, &more]);
            let mut realization = c.realization(0);
            each_way(&c, &realization, |r| near(r.elements[0].greatest, 0.5 * all, 1e-6));
            for (out, wanted) in [("s", without_small), ("t", without_large)] {
                let k = names.iter().position(|n| *n == out).unwrap();
                realization = c.realization(0);
                realization
                    .random_events
                    .add(RandomEvent::Module(k), &Timeline { down_at_start: true, changes: vec![] });
                each_way(&c, &realization, |r| near(r.elements[1 - k].greatest, wanted, 1e-6));
            }
        }
    }
}

/// A module fails at 100.25 s. What is left may give 100 A: sent at the next whole 10 s, 110 s, arriving 2 s later, obeyed 3 s
/// after that: 115 s. Until then the other carries the whole 180 A. It comes back at 200 s, a multiple: obeyed at 205 s.
#[test]
fn a_limit_is_sent_at_the_next_whole_period_and_obeyed_after_delay_and_reaction() {
    let m = module(
        "m",
        "capacity = \"1000 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"\ndischarge_limit = \"100 A\"",
    );
    let more = "[controller]\nperiod = \"10 s\"\ndelay = \"2 s\"\nreaction = \"3 s\"\n[load]\ncurrent = \"180 A\"\n\
                [trials]\ncount = 1\nhorizon = \"10 min\"\n";
    let c = campaign(&[&m, SHORT, &single("A", "m", ""), &single("B", "m", ""), more]);
    let mut realization = c.realization(0);
    at(&mut realization, RandomEvent::Module(0), &[100.25, 200.0]);
    each_way(&c, &realization, |r| {
        at_moment(r.served_until, 115.0, 1e-3);
        // B alone is over its 100 A from the failure until the inverter comes down.
        near(r.elements[1].greatest, 180.0, 1e-6);
        at_moment(r.elements[1].first_over, 100.25, 1e-3);
        near(r.elements[1].time_over.seconds(), 115.0 - 100.25, 1e-3);
        // 80 A at the voltage that was last served, 52 V − 180 A·10 mΩ, until the limit has gone up again.
        near(r.unserved, 80.0 * (52.0 - 1.8) * (205.0 - 115.0), 1.0);
    });
}

/// 60 A of a module, less where its cell is under 3.3 V (100 %) towards 3.0 V (0 %), against a load of 50 A: the limit is 50 A at 3.25 V.
/// A cell that falls by 1 V over 100 Ah is there from 3.4 V after 0.15·100 Ah/50 A = 1080 s.
#[test]
fn a_limit_that_falls_with_the_cells_begins_to_hold() {
    let m = module(
        "m",
        "capacity = \"100 Ah\"\nresistance = \"1 mΩ\"\nfixed_resistance = \"1 mΩ\"\n\
         open_circuit = [[\"0 %\", \"2.4 V\"], [\"100 %\", \"3.4 V\"]]\ndischarge_limit = \"60 A\"",
    );
    let more = "[controller]\ndischarge_by_cell_voltage = [[\"3.0 V\", \"0 %\"], [\"3.3 V\", \"100 %\"]]\n\
                [load]\ncurrent = \"50 A\"\n[trials]\ncount = 1\nhorizon = \"30 min\"\nstep = \"1 s\"\nsoc = \"100 %\"\n";
    each_way_as_written(&[&m, SHORT, &single("A", "m", ""), more], |r| at_moment(r.served_until, 1080.0, 3.0));
}

/// 100 A of a module up to 30 °C, and less towards 50 °C (0 %). It warms by P/G·(1 − e^(−G·t/C)) with 60 W and 2 W/K from 25 °C, and
/// may give less than the 77.46 A that are asked of it from 34.51 °C on.
#[test]
fn a_limit_that_falls_with_the_temperature_begins_to_hold() {
    let m = module(
        "m",
        "capacity = \"1000 Ah\"\nresistance = \"10 mΩ\"\nfixed_resistance = \"10 mΩ\"\nopen_circuit = \"52 V\"\n\
         discharge_limit = \"100 A\"\nheat_capacity = \"20 kJ/K\"\nheat_to_air = \"2 W/K\"",
    );
    let amps = 6000_f64.sqrt();
    let falls = 30.0 + 20.0 * (1.0 - amps / 100.0);
    let wanted = 1e4 * f64::ln(30.0 / (30.0 - (falls - 25.0)));
    let more = format!(
        "[controller]\ndischarge_by_temperature = [[\"30 °C\", \"100 %\"], [\"50 °C\", \"0 %\"]]\n\
         [load]\ncurrent = \"{amps} A\"\n[trials]\ncount = 1\nhorizon = \"3 h\"\nstep = \"1 s\"\n"
    );
    each_way_as_written(&[&m, SHORT, &single("A", "m", ""), &more], |r| at_moment(r.served_until, wanted, 5.0));
}

/// Constant power P on a straight curve of slope a comes from I₀ to I₁ in Q/a·(P/2·(1/I₀² − 1/I₁²) − R·ln(I₁/I₀)) (by hand: P =
/// (E − R·I)·I, dE/dt = −a·I/Q). From then on a limit of so much holds it back: half of what the module may give, as the table says of
/// any temperature.
#[test]
fn a_current_that_rises_comes_to_its_limit() {
    let (q, a, r, p, limit) = (36e3_f64, 16.0_f64, 0.01_f64, 4000.0_f64, 85.0_f64);
    let e0 = 16.0 * (2.4 + 0.9);
    let i0 = (e0 - (e0 * e0 - 4.0 * r * p).sqrt()) / (2.0 * r);
    let wanted = q / a * (p / 2.0 * (1.0 / (i0 * i0) - 1.0 / (limit * limit)) - r * (limit / i0).ln());
    let m = module(
        "m",
        "capacity = \"10 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = [[\"0 %\", \"2.4 V\"], [\"100 %\", \"3.4 V\"]]\n\
         discharge_limit = \"170 A\"",
    );
    let more = "[controller]\ndischarge_by_temperature = [[\"0 °C\", \"50 %\"], [\"50 °C\", \"50 %\"]]\n[load]\npower = \"4 kW\"\n[trials]\ncount = 1\nhorizon = \"6 min\"\nsoc = \"90 %\"\n";
    each_way_as_written(&[&m, SHORT, &single("A", "m", ""), more], |result| {
        at_moment(result.served_until, wanted, 1e-3 * wanted);
        near(result.elements[0].greatest, limit, 1e-6);
        assert_eq!(result.elements[0].first_over, None);
    });
}

/// What a current not delivered was worth is the voltage at which the load was last served: 50 A from 52 V behind 10 mΩ, 51.5 V, however
/// long the bank has been charged since. Of 150 A a limit of 120 A leaves 30 A short for 4 s.
#[test]
fn a_shortfall_is_worth_the_voltage_that_was_last_served() {
    let m = module(
        "m",
        "capacity = \"1000 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"\ndischarge_limit = \"120 A\"",
    );
    let more = "[controller]\n[load]\ncurrent = \"-10 A\"\n\
                [[surge]]\nname = \"s\"\ncurrent = \"60 A\"\nlasts = \"60 s\"\nat = [\"60 s\"]\n\
                [[surge]]\nname = \"t\"\ncurrent = \"160 A\"\nlasts = \"4 s\"\nat = [\"200 s\"]\n\
                [trials]\ncount = 1\nhorizon = \"5 min\"\nsoc = \"50 %\"\n";
    each_way_as_written(&[&m, SHORT, &single("A", "m", ""), more], |r| near(r.brief, 30.0 * 51.5 * 4.0, 1e-3));
}
