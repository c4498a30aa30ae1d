//! What one loss triggers, and what would have come without it.

use super::heat::{COLD, STIFF, cold_snap};
use super::*;
use bankwright::draw::faults::Timeline;
use bankwright::engine::cascade::{Blackout, Cascade, Lost};
use bankwright::engine::module::Reason;
use bankwright::engine::realization::RandomEvent;

const INVERTER: (Lost, Reason) = (Lost::Inverter, Reason::LowVoltage);

fn inverter(cut_out: &str) -> String {
    format!("[inverter]\nrated = \"20 kW\"\ncut_out = \"{cut_out}\"\ncut_out_delay = \"3 s\"\nreconnect = \"60 V\"\n")
}

fn load(amps: f64) -> String {
    format!("[load]\ncurrent = \"{amps} A\"\n")
}

/// A surge of so many amperes from a moment on, for 20 s.
fn surge(amps: f64, minutes: f64) -> String {
    format!("[[surge]]\nname = \"pump\"\ncurrent = \"{amps} A\"\nlasts = \"20 s\"\nat = [\"{minutes} min\"]\n")
}

fn fails(campaign: &Campaign, seconds: f64) -> Realization {
    let mut realization = campaign.realization(0);
    let course = Timeline { down_at_start: false, changes: vec![Time::from_seconds(seconds)] };
    realization.random_events.add(RandomEvent::Module(0), &course);
    realization
}

/// Every module is below −10 °C at dusk: the inverter stops 3 s later, with a bank that never delivered.
#[test]
fn a_bank_that_begins_cold_is_no_cascade_and_not_dead_after_a_dropout() {
    let m = module("m", 15.0, STIFF, "discharge_temperature = { low = \"-10 °C\" }");
    let stacks = [single("A", "m", ""), single("B", "m", "")].concat();
    let air = "[climate]\nair = \"-15 °C\"\n";
    let n = night(&[&m, SHORT, &stacks, &inverter("48 V"), &load(10.0), air, &trials("1 h", "")]);
    at_moment(n.when_event(Event::InverterOff).first().copied(), 3.0);
    assert_eq!((n.result.cascade, n.result.blackout), (None, Some(Blackout::FromStart)));
}

/// Three modules become too cold 12 s after one another, since their sensors read 0.02 K apart at −6 K/h.
fn cold_in_turn(amps: f64, last: f64) -> Night {
    let m = module("m", 15.0, STIFF, COLD).replace("100 Ah", "2000 Ah");
    let stacks = ["A", "B", "C"].map(|name| single(name, "m", "")).concat();
    let (campaign, _) = cold_snap(&[&m, SHORT, &stacks, &inverter("48 V"), &load(amps)], "");
    let mut realization = campaign.realization(0);
    realization.modules[1].sensor = 0.02;
    realization.modules[2].sensor = last;
    run_with(&campaign, &realization)
}

/// 100 A on one module are 52 V − 1.5 V: the inverter stops with the last module, and nothing triggered that.
#[test]
fn losses_that_each_follow_from_the_cold_are_no_cascade() {
    let n = cold_in_turn(100.0, 0.04);
    let cold = 3600.0 + 6000.0 + 7.0;
    at_moment(n.when_event(Event::InverterOff).first().copied(), cold + 24.0 + 3.0);
    assert_eq!(n.result.cascade, None);
    let Some(Blackout::After(time)) = n.result.blackout else { panic!("{:?}", n.result.blackout) };
    near(time.seconds(), 24.0, 1e-3);
}

/// One of two modules fails at 100 s; the other carries on until it is empty: 100 A empty 90 Ah within an hour.
#[test]
fn a_bank_that_runs_empty_after_a_failure_did_not_go_dead() {
    let m = module("m", 10.0, "\"52.8 V\"", "");
    let stacks = [single("A", "m", ""), single("B", "m", "")].concat();
    let c = campaign(&[&m, SHORT, &stacks, &load(100.0), &trials("2 h", "soc = \"90 %\"")]);
    let n = run_with(&c, &fails(&c, 100.0));
    assert!(n.served_until().unwrap() > 3000.0 && n.seen.last().unwrap().states.iter().all(|s| !s.delivers()));
    assert_eq!(n.result.blackout, None);
}

/// 300 A on the last one are 52 V − 4.5 V, below 48 V: the inverter stops 3 s after the second loss, while one module
/// is still in service. Where that one is cold 9 s later, the bank was about to end; where it holds for 5 min, the
/// second loss stopped the inverter.
#[test]
fn a_low_voltage_stop_counts_where_the_bank_goes_on() {
    let n = cold_in_turn(300.0, 0.04);
    at_moment(n.when_event(Event::InverterOff).first().copied(), 9607.0 + 12.0 + 3.0);
    assert_eq!(n.result.cascade, None);
    let cold = |k| (Lost::Module(k), Reason::Cold);
    let sequence = vec![cold(0), cold(1), INVERTER];
    assert_eq!(cold_in_turn(300.0, 0.5).result.cascade, Some(Cascade { sequence, size: 1 }));
}

/// Three modules of 10 mΩ at 52.8 V, of which one fails at 100 s, and a surge at 2 min.
fn after_a_failure(module_keys: &str, more: &str, amps: f64, surge_amps: f64) -> Night {
    let m = module("m", 10.0, "\"52.8 V\"", module_keys);
    let stacks = ["A", "B", "C"].map(|name| single(name, "m", "")).concat();
    let c = campaign(&[&m, SHORT, &stacks, more, &load(amps), &surge(surge_amps, 2.0), &trials("10 min", "")]);
    run_with(&c, &fails(&c, 100.0))
}

/// 330 A on two modules are 165 A each, on three 110 A: with a stage at 150 A the failure triggers the trips. 480 A are
/// 160 A on each of three: they would have come without it.
#[test]
fn a_trip_that_would_have_come_anyway_was_triggered_by_nothing() {
    let stage = "over_current = [{ discharge = \"150 A\", delay = \"0.5 s\" }]";
    let n = after_a_failure(stage, "", 200.0, 130.0);
    let over = |k| (Lost::Module(k), Reason::OverCurrent);
    let sequence = vec![(Lost::Module(0), Reason::Fault), over(1), over(2)];
    assert_eq!(n.result.cascade, Some(Cascade { sequence, size: 2 }));
    let n = after_a_failure(stage, "", 200.0, 280.0);
    at_moment(n.when(2, State::ChargeOnly).first().copied(), 120.5);
    assert_eq!(n.result.cascade, None);
}

/// 52.8 V − 400 A·10 mΩ/2 are 50.8 V, on three modules 51.47 V: below a cut-out of 51 V by the failure alone. 600 A
/// are 50.8 V on three as well.
#[test]
fn an_inverter_that_would_have_stopped_anyway_was_triggered_by_nothing() {
    let n = after_a_failure("", &inverter("51 V"), 200.0, 200.0);
    let sequence = vec![(Lost::Module(0), Reason::Fault), INVERTER];
    at_moment(n.when_event(Event::InverterOff).first().copied(), 123.0);
    assert_eq!(n.result.cascade, Some(Cascade { sequence, size: 1 }));
    let n = after_a_failure("", &inverter("51 V"), 200.0, 400.0);
    at_moment(n.when_event(Event::InverterOff).first().copied(), 123.0);
    assert_eq!(n.result.cascade, None);
}
