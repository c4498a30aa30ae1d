//! The seconds after a dropout: over-current stages, announced limits, cascades, rejoining.

use super::*;
use bankwright::draw::faults::Timeline;
use bankwright::engine::cascade::{Blackout, Lost};
use bankwright::engine::module::Reason;
use bankwright::engine::realization::RandomEvent;

/// Eight modules of 15 mΩ on unrated jumpers of 0.3 mΩ, both leads at the top, 100 A each.
fn eight(load: &str, module_keys: &str, more: &str) -> Campaign {
    let module = module("m", 15.0, "\"52.8 V\"", &format!("discharge_limit = \"100 A\"\n{module_keys}"));
    let stack = "[cable.jumper]\nresistance = \"0.3 mΩ\"\n[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 8\n\
                 jumper = \"jumper\"\nleads = [{ cable = \"short\", positive = 8, negative = 8 }]\n";
    let load = format!("[load]\n{load}\n");
    campaign(&[&module, SHORT, stack, &load, more, &trials("10 min", "soc = \"90 %\"")])
}

/// At 100 s the four lower modules fail at once.
fn four_lower_out(campaign: &Campaign) -> Realization {
    let mut realization = campaign.realization(0);
    for module in 0..4 {
        let course = Timeline { down_at_start: false, changes: vec![Time::from_seconds(100.0)] };
        realization.random_events.add(RandomEvent::Module(module), &course);
    }
    realization
}

const STAGE: &str = "over_current = [{ discharge = \"150 A\", delay = \"0.5 s\" }]";

/// With the four lower out, 400 A puts 113.2117, 101.7402, 94.3383, 90.7099 A on the rest (by hand:
/// 400 A·2·sinh(γ/2)·cosh((4.5 − k)γ)/sinh(4γ), cosh γ = 1 + j/r).
#[test]
fn four_of_eight_share_400_amperes() {
    let c = eight("current = \"400 A\"", "", "");
    let n = run_with(&c, &four_lower_out(&c));
    let currents = &n.at(100.0).currents;
    for (k, wanted) in [(7, 113.2117), (6, 101.7402), (5, 94.3383), (4, 90.7099)] {
        near(currents[k], wanted, 5e-5);
    }
}

/// 600 A puts 169.8 and 152.6 A on the nearest two: they trip half a second after the dropout, the last
/// two half a second after that, and the bank is dark at 1.0 s: an inverter that acts after 1.5 s is
/// too late (by hand: the same shares of 600 A).
#[test]
fn a_slow_inverter_lets_the_bank_go_dark_in_a_second() {
    let slow = "[controller]\nperiod = \"1 ms\"\ndelay = \"1 s\"\nreaction = \"0.5 s\"\n";
    let c = eight("current = \"600 A\"", STAGE, slow);
    let n = run_with(&c, &four_lower_out(&c));
    for (k, wanted) in [(7, 100.5), (6, 100.5), (5, 101.0), (4, 101.0)] {
        at_moment(n.when(k, State::ChargeOnly).first().copied(), wanted);
    }
    at_moment(n.served_until(), 101.0);
    assert_eq!(n.result.blackout, Some(Blackout::After(Time::from_seconds(1.0))));
    let cascade = n.result.cascade.expect("a cascade");
    assert_eq!(cascade.size, 4);
    let over = |k| (Lost::Module(k), Reason::OverCurrent);
    assert_eq!(cascade.sequence[4..], [over(6), over(7), over(4), over(5)]);
    assert_eq!(cascade.sequence[0], (Lost::Module(0), Reason::Fault));
}

/// One that comes down to the announced 400 A after 0.3 s keeps all four: nothing is over 150 A.
#[test]
fn a_quick_inverter_saves_the_bank() {
    let quick = "[controller]\nperiod = \"1 ms\"\nreaction = \"0.3 s\"\n";
    let c = eight("current = \"600 A\"", STAGE, quick);
    let n = run_with(&c, &four_lower_out(&c));
    assert!((4..8).all(|k| n.when(k, State::ChargeOnly).is_empty()));
    assert_eq!(n.result.cascade, None);
    near(n.at(100.3).bus.current, 400.0, 1e-9);
    // What is not delivered is counted: 200 A of 600 A from 0.3 s after the dropout.
    at_moment(n.served_until(), 100.3);
    let volts = n.seen.iter().rfind(|s| s.served).unwrap().bus.voltage;
    near(n.result.unserved, 200.0 * volts * (600.0 - 100.3), 1e-6 * n.result.unserved);
    let c = eight("current = \"500 A\"", STAGE, "");
    assert_eq!(run_with(&c, &four_lower_out(&c)).result.cascade, None, "at 500 A nothing trips either way");
}

/// The sequence and its moments are those of the timers, whatever the step.
#[test]
fn the_same_race_with_any_step() {
    let slow = "[controller]\nperiod = \"1 ms\"\nreaction = \"1.5 s\"\n";
    let events = |step: &str| {
        let mut c = eight("current = \"600 A\"", STAGE, slow);
        c.model.trials.step = Time::from_seconds(step.parse().unwrap());
        run_with(&c, &four_lower_out(&c)).events
    };
    let wanted = events("60");
    assert!(wanted.len() > 8);
    for step in ["10", "1"] {
        let got = events(step);
        assert_eq!(got.len(), wanted.len());
        for ((at, event), (t, e)) in got.iter().zip(&wanted) {
            assert_eq!(event, e);
            assert!((at.0 - t.0).abs() <= 2, "{event:?} at {at} and {t}");
        }
    }
}

/// A module that trips on current tries again after its time, so often, and then stays out.
#[test]
fn retries_and_then_lock_out() {
    let keys = format!("{STAGE}\nretry_after = \"30 s\"\nretries = 2");
    let c = eight("current = \"600 A\"", &keys, "");
    let n = run_with(&c, &four_lower_out(&c));
    // Trips at 100.5 s, back after 30 s with what the others do meanwhile, and out for good on the third.
    assert_eq!(n.when(7, State::ChargeOnly).len(), 3);
    at_moment(n.when(7, State::ChargeOnly).first().copied(), 100.5);
    at_moment(n.when(7, State::InService).first().copied(), 130.5);
    assert!(n.seen.last().unwrap().states[4..].iter().all(|s| !s.delivers()));
}

/// Two modules at rest, one that has discharged alone: it waits, and rejoins when the voltage across its
/// switch is small enough. The current with which it comes back is ΔE/(2r) (by hand).
#[test]
fn rejoining_waits_for_the_voltages() {
    let linear = "[[\"0 %\", \"3.2 V\"], [\"100 %\", \"3.3 V\"]]";
    let run = |keys: &str| {
        let m = module("m", 15.0, linear, keys);
        let (a, b) = (single("A", "m", ""), single("B", "m", ""));
        let c = campaign(&[&m, SHORT, &a, &b, "[load]\ncurrent = \"20 A\"\n", &trials("4 h", "soc = \"90 %\"")]);
        let mut realization = c.realization(0);
        let changes = [10.0, 3610.0].map(Time::from_seconds).to_vec();
        realization.random_events.add(RandomEvent::Module(1), &Timeline { down_at_start: false, changes });
        run_with(&c, &realization)
    };
    let n = run("");
    at_moment(n.when(1, State::InService).first().copied(), 3610.0);
    // A has given 20 A for an hour: 20 % of 1.6 V. B comes back with half of 20 A and ΔE/(2r).
    let rejoined = n.result.rejoined.expect("it rejoined");
    near(rejoined.current, 10.0 + 0.2 * 1.6 / 0.030, 1e-3);
    let n = run("rejoin_wait = \"60 s\"\npre_charge = \"5 s\"");
    at_moment(n.when(1, State::InService).first().copied(), 3675.0);
    // Across the switch: 0.32 V and the drop of 20 A in the other, 0.3 V; it only grows.
    let n = run("rejoin_difference = \"0.5 V\"");
    assert!(n.when(1, State::InService).is_empty());
    let n = run("rejoin_difference = \"0.7 V\"");
    at_moment(n.when(1, State::InService).first().copied(), 3610.0);
}

/// A limit on charge that falls with the coldest module, and a charge that obeys it: what is not taken is
/// curtailed and no shortfall.
#[test]
fn charging_obeys_its_own_limit() {
    let m = module("m", 15.0, "\"52.8 V\"", "charge_limit = \"40 A\"");
    let (a, b) = (single("A", "m", ""), single("B", "m", ""));
    let controller = "[controller]\ncharge_by_temperature = [[\"0 °C\", \"0 %\"], [\"10 °C\", \"100 %\"]]\n";
    let climate = "[climate]\nair = \"5 °C\"\n";
    let n = night(&[
        &m,
        SHORT,
        &a,
        &b,
        controller,
        climate,
        "[load]\ncurrent = \"-60 A\"\n",
        &trials("1 h", "soc = \"50 %\""),
    ]);
    near(n.at(60.0).bus.current, -40.0, 1e-9);
    assert_eq!(n.result.served_until, None);
    assert!(n.result.curtailed > 0.0 && n.result.unserved == 0.0);
}

/// A lost link stops the inverter after its time, and service comes back with the next message.
#[test]
fn a_lost_link_stops_the_inverter() {
    let controller = "[controller]\nlost_after = \"10 s\"\ndelay = \"1 s\"\n";
    let c = eight("current = \"80 A\"", "", controller);
    let mut realization = c.realization(0);
    let changes = [500.25, 550.0].map(Time::from_seconds).to_vec();
    realization.random_events.add(RandomEvent::Link, &Timeline { down_at_start: false, changes });
    let n = run_with(&c, &realization);
    at_moment(n.served_until(), 510.25);
    at_moment(n.when_event(Event::Served).first().copied(), 551.0);
}

/// Five modules that hold themselves at 70 A, with unequal leads, under 340 A: all stay at or under 70 A,
/// where passive ones do not. What they do not pass on becomes heat (hypothetical modules).
#[test]
fn modules_that_hold_their_own_current() {
    let bank = |keys: &str| {
        let m = module("m", 14.0, "\"52.8 V\"", keys);
        let leads: String = [0.1, 1.0, 3.0, 6.0, 10.0]
            .iter()
            .enumerate()
            .map(|(k, milliohm)| {
                format!(
                    "[cable.l{k}]\nresistance = \"{milliohm} mΩ\"\n[[stack]]\nname = \"S{k}\"\nmodule = \"m\"\ncount = 1\n\
                     leads = [{{ cable = \"l{k}\", positive = 1, negative = 1 }}]\n"
                )
            })
            .collect();
        night(&[&m, &leads, "[load]\ncurrent = \"340 A\"\n", &trials("10 min", "soc = \"90 %\"")])
    };
    let passive = bank("");
    assert!(passive.at(0.0).currents[0] > 80.0);
    let held = bank("self_limit = { discharge = \"70 A\" }\nheat_capacity = \"45 kJ/K\"\nheat_to_air = \"1e-9 W/K\"");
    let currents = &held.at(0.0).currents[..5];
    assert!(currents.iter().all(|i| *i <= 70.0 + 1e-9), "{currents:?}");
    near(currents[0], 70.0, 1e-9);
    near(currents.iter().sum(), 340.0, 1e-9);
    assert!(held.result.work.power_balance < 1e-9 && held.result.work.kirchhoff < 1e-9);
    // The heat of the first: 70 A across what lies between its EMF and its terminals.
    let terminals = held.at(0.0).bus.voltage + 2.0 * 0.1e-3 * 70.0;
    let wanted = 70.0 * (52.8 - terminals) * 600.0 / 45e3;
    near(held.at(600.0).temperatures[0] - held.at(0.0).temperatures[0], wanted, 1e-3 * wanted);
}

/// A heater warms its module from its own charge.
#[test]
fn a_heater_costs_charge() {
    let keys = "heat_capacity = \"45 kJ/K\"\nheat_to_air = \"2 W/K\"\nheater = { power = \"60 W\", on = \"2 °C\", off = \"6 °C\" }";
    let m = module("m", 15.0, "\"52.8 V\"", keys);
    let a = single("A", "m", "");
    let load = "[load]\ncurrent = \"0 A\"\n";
    let n = night(&[&m, SHORT, &a, load, "[climate]\nair = \"0 °C\"\n", &trials("1 h", "soc = \"50 %\"")]);
    let last = n.seen.last().unwrap();
    // C·dT/dt = 60 − 2·T: T(1 h) = 30·(1 − e^(−0.16)) (by hand).
    near(last.temperatures[0], 30.0 * (1.0 - (-0.16_f64).exp()), 1e-3);
    near(0.5 - last.charges[0], 60.0 / 52.8 / 100.0, 1e-6);
}
