//! The inverter: what it takes, and when it stops.

use super::*;

const INVERTER: &str =
    "[inverter]\nrated = \"10 kW\"\nefficiency = [[\"10 %\", \"80 %\"], [\"30 %\", \"90 %\"]]\nstanding = \"40 W\"\n";

/// In discharge P/η + standing, in charge P·η + standing, η straight between its rows by P/rated: 85 % at 2 kW of 10 kW. What the bus
/// takes is the module's (E − R·I)·I.
#[test]
fn efficiency_and_standing_both_ways() {
    let m = module("m", "capacity = \"1000 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = \"52 V\"");
    for (load, bus) in [(2000.0, 2000.0 / 0.85 + 40.0), (-2000.0, -2000.0 * 0.85 + 40.0), (0.0, 40.0)] {
        let amps = (52.0 - f64::sqrt(52.0 * 52.0 - 4.0 * 10e-3 * bus)) / (2.0 * 10e-3);
        let more = format!("[load]\npower = \"{load} W\"\n[trials]\ncount = 1\nhorizon = \"10 min\"\nsoc = \"50 %\"\n");
        each_way_as_written(&[&m, SHORT, &single("A", "m", ""), INVERTER, &more], |r| {
            near(r.elements[0].greatest, f64::abs(amps), 1e-6);
        });
    }
}

/// E falls by 32 V over 100 Ah from 54.4 V; 100 A through 10 mΩ take 1 V of it. The bus comes to 48 V when E is 49 V, after
/// 5.4/32·3600 s, and the inverter stops 5 s later. Without load it sees E, falling no more, under the 50 V at which it would start again.
#[test]
fn it_stops_below_its_cut_out() {
    let m = module(
        "m",
        "capacity = \"100 Ah\"\nresistance = \"10 mΩ\"\nopen_circuit = [[\"0 %\", \"1.4 V\"], [\"100 %\", \"3.4 V\"]]",
    );
    let inverter = "[inverter]\nrated = \"10 kW\"\ncut_out = \"48 V\"\ncut_out_delay = \"5 s\"\nreconnect = \"50 V\"\n";
    let more = "[load]\ncurrent = \"100 A\"\n[trials]\ncount = 1\nhorizon = \"30 min\"\nsoc = \"100 %\"\n";
    let wanted = 5.4 / 32.0 * 3600.0 + 5.0;
    each_way_as_written(&[&m, SHORT, &single("A", "m", ""), inverter, more], |r| {
        at_moment(r.served_until, wanted, 1e-2);
        near(r.unserved / (1800.0 - wanted), 100.0 * 48.0, 10.0);
    });
}
