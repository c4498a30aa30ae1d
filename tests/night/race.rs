//! The seconds after a loss with all that acts in them at once: fuses, warm conductors, motor starts, limits.

use super::*;
use bankwright::draw::faults::Timeline;
use bankwright::engine::cascade::Blackout;
use bankwright::engine::controller::Limits;
use bankwright::engine::realization::RandomEvent;

fn course(changes: &[f64]) -> Timeline {
    Timeline { down_at_start: false, changes: changes.iter().map(|&t| Time::from_seconds(t)).collect() }
}

/// Two stacks of two on insulated leads with a fuse each, a controller that is too slow, stages with one retry, a
/// pump that starts four times; B1 fails at 100.3 s.
fn all_at_once(step: &str) -> Night {
    let m = module(
        "m",
        12.0,
        "\"lfp\"",
        "fixed_resistance = \"4 mΩ\"\nactivation_energy = \"20 kJ/mol\"\ndischarge_limit = \"100 A\"\n\
         heat_capacity = \"45 kJ/K\"\nheat_to_air = \"3 W/K\"\nretries = 1\nretry_after = \"40 s\"\n\
         over_current = [{ discharge = \"150 A\", delay = \"20 s\" }, { discharge = \"260 A\", delay = \"1 s\" }]",
    );
    let cables = "[cable.lead]\nsize = \"35 mm2\"\nlength = \"2 m\"\ninsulation = \"90 °C\"\nampacity = \"150 A\"\nterminals = \"42 °C\"\n\
                  [cable.jumper]\nresistance = \"0.3 mΩ\"\n\
                  [device.link]\nkind = \"fuse\"\nrated = \"100 A\"\nbreaking_capacity = \"20 kA\"\nvoltage = \"80 V\"\n";
    let stacks = ["A", "B"].map(|name| {
        format!(
            "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = 2\njumper = \"jumper\"\n\
             leads = [{{ cable = \"lead\", positive = 2, negative = 1, device = \"link\" }}]\n"
        )
    });
    let more = "[[surge]]\nname = \"pump\"\npower = \"2 kW\"\nlasts = \"3 s\"\n\
                at = [\"20.7 s\", \"90 s\", \"103.1 s\", \"150 s\"]\n\
                [controller]\ndelay = \"0.5 s\"\nreaction = \"300 s\"\n\
                [inverter]\nrated = \"20 kW\"\nefficiency = \"94 %\"\nripple = \"20 %\"\n\
                [load]\npower = \"18 kW\"\n[climate]\nair = \"20 °C\"\n";
    let c = campaign(&[&m, cables, &stacks.concat(), more, &trials("30 min", &format!("step = \"{step}\""))]);
    let mut realization = c.realization(0);
    realization.random_events.add(RandomEvent::Module(2), &course(&[100.3]));
    run_with(&c, &realization)
}

/// Order does not depend on the step, and moments agree to a millisecond: timers, what opens, what trips. When a
/// conductor becomes too hot is read off a straight line within the step, and agrees to 0.2 s.
#[test]
fn the_same_sequence_with_any_step() {
    let wanted = all_at_once("60 s");
    let has = |is: fn(&Event) -> bool| wanted.events.iter().filter(|(_, e)| is(e)).count();
    assert_eq!(has(|e| matches!(e, Event::DeviceOpened { .. })), 1, "{:?}", wanted.events);
    assert!(has(|e| matches!(e, Event::HotBegan { .. })) >= 2 && has(|e| matches!(e, Event::Limits(_))) >= 1);
    assert_eq!(has(|e| matches!(e, Event::Surge { begins: true, .. })), 4);
    for step in ["30 s", "10 s", "1 s"] {
        let got = all_at_once(step);
        let names = |n: &Night| n.events.iter().map(|(_, e)| format!("{e:?}")).collect::<Vec<_>>();
        assert_eq!(names(&got), names(&wanted), "{step}");
        for ((at, event), (t, _)) in got.events.iter().zip(&wanted.events) {
            let apart = (at.seconds() - t.seconds()).abs();
            let most = if matches!(event, Event::HotBegan { .. }) { 0.2 } else { 1e-3 };
            assert!(apart <= most, "{event:?} at {at} with {step}, {t} with 60 s");
        }
        assert_eq!(got.result.cascade, wanted.result.cascade);
        for (a, b) in got.seen.last().unwrap().charges.iter().zip(&wanted.seen.last().unwrap().charges) {
            near(*a, *b, 1e-5);
        }
        for (a, b) in got.result.elements.iter().zip(&wanted.result.elements) {
            near(a.greatest, b.greatest, 1e-3 * b.greatest);
            near(a.hottest.unwrap_or(0.0), b.hottest.unwrap_or(0.0), 0.1);
        }
    }
}

const FUSE: &str = "[device.link]\nkind = \"fuse\"\nrated = \"100 A\"\nbreaking_capacity = \"20 kA\"\n\
                    voltage = \"80 V\"\nresistance = \"0.5 mΩ\"\n";

/// The main fuse carries 300 A, three times its rating, and opens after 2400/(3⁴ − 4) s. What is left is a loop: the
/// higher module charges the lower one with ΔE/(Σ R), as 20 V/40 Ω beside 30 V/60 Ω (by hand, 10 V/100 Ω), which
/// circulates 0.1 A at open circuit. Nothing is delivered from that moment on.
#[test]
fn behind_an_open_main_fuse_the_modules_circulate() {
    let (a, b) = (module("a", 40.0, "\"53.0 V\"", ""), module("b", 60.0, "\"52.0 V\"", ""));
    let leads = "[cable.lead]\nresistance = \"1 mΩ\"\n";
    let stack = |name: &str| single(name, name, "").replace("short", "lead");
    let bar = "[bar]\ndevice = \"link\"\npoles = \"both\"\n[load]\ncurrent = \"300 A\"\n";
    let c = campaign(&[&a, &b, leads, FUSE, &stack("a"), &stack("b"), bar, &trials("10 min", "soc = \"90 %\"")]);
    let n = run(&c);
    let opens = 2400.0 / 77.0;
    at_moment(n.result.opened[0].map(Time::seconds), opens);
    let after = n.seen.last().unwrap();
    assert_eq!((after.bus.current, after.served), (0.0, false));
    near(after.currents[0], 1.0 / 0.104, 1e-9);
    near(after.currents[0] + after.currents[1], 0.0, 1e-9);
    assert!(n.result.work.kirchhoff < 1e-9 && n.result.work.power_balance < 1e-12);
    at_moment(n.served_until(), opens);
    assert_eq!(n.result.blackout, Some(Blackout::After(Time::ZERO)));
    // At most one more step: both poles' fuses are alike, and open together.
    assert_eq!(n.when_event(Event::DeviceOpened { device: 1 }), n.when_event(Event::DeviceOpened { device: 0 }));
}

/// A bank whose only module is down at dusk is dark from dusk on, and not from the next event on.
#[test]
fn dark_from_dusk() {
    let m = module("m", 15.0, "\"52.8 V\"", "");
    let surge = "[[surge]]\nname = \"pump\"\ncurrent = \"5 A\"\nlasts = \"2 s\"\nat = [\"5 min\"]\n";
    let load = "[load]\ncurrent = \"10 A\"\n";
    let c = campaign(&[&m, SHORT, &single("A", "m", ""), load, surge, &trials("10 min", "")]);
    let mut realization = c.realization(0);
    realization.random_events.add(RandomEvent::Module(0), &Timeline { down_at_start: true, changes: vec![] });
    let n = run_with(&c, &realization);
    assert_eq!((n.result.blackout, n.served_until()), (Some(Blackout::FromStart), Some(0.0)));
}

/// A stack whose two leads have opened is an island: its modules even out among themselves, and the other stack has
/// the whole load.
#[test]
fn a_stack_cut_off_is_an_island() {
    let m = module("m", 10.0, "\"52.8 V\"", "");
    let jumper = "[cable.jumper]\nresistance = \"1 mΩ\"\n";
    let stack = |name: &str, more: &str| {
        format!(
            "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = 2\njumper = \"jumper\"\n{more}\
             leads = [{{ cable = \"short\", positive = 1, negative = 1 }}]\n"
        )
    };
    let stacks = stack("A", "open_circuit = [\"52.8 V\", \"52.9 V\"]\n") + &stack("B", "");
    let c = campaign(&[&m, SHORT, jumper, &stacks, "[load]\ncurrent = \"100 A\"\n", &trials("10 min", "")]);
    let lead = c.model.bank.conductors.iter().position(|x| x.id == "A.lead1+").unwrap();
    let mut realization = c.realization(0);
    realization.random_events.add(RandomEvent::Conductor(lead), &course(&[100.0]));
    realization.random_events.add(RandomEvent::Conductor(lead + 1), &course(&[100.0]));
    let n = run_with(&c, &realization);
    let after = n.at(100.0);
    // 0.1 V around two modules and two jumpers.
    near(after.currents[1], 0.1 / 0.022, 1e-9);
    near(after.currents[0], -0.1 / 0.022, 1e-9);
    near(after.currents[2] + after.currents[3], 100.0, 1e-9);
    assert!(n.result.work.kirchhoff < 1e-9);
    assert!(n.result.blackout.is_none() && n.served_until().is_none());
}

/// Devices take their part of the power, at the module, in the lead and before the load: E·I = V·I + I²·ΣR, and what
/// the module's own fuse turns to heat does not warm its cells.
#[test]
fn devices_are_in_the_balance() {
    let m = module("m", 10.0, "\"52.8 V\"", "heat_capacity = \"45 kJ/K\"\nheat_to_air = \"2 W/K\"");
    let stack = "[cable.lead]\nresistance = \"1 mΩ\"\n[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 1\n\
                 module_device = \"link\"\nmodule_poles = \"both\"\nleads = [{ cable = \"lead\", positive = 1, \
                 negative = 1, device = \"link\", poles = \"both\" }]\n[bar]\ndevice = \"link\"\npoles = \"both\"\n";
    let n = night(&[&m, FUSE, stack, "[load]\ncurrent = \"90 A\"\n", &trials("10 min", "soc = \"100 %\"")]);
    let (amps, ohm) = (90.0, 10e-3 + 2.0 * 1e-3 + 6.0 * 0.5e-3);
    let last = n.at(600.0);
    near(52.8 * amps, last.bus.voltage * amps + amps * amps * ohm, 1e-6);
    // C·dT/dt = P − 2 W/K·(T − Ta), with P of its own 10 mΩ alone.
    let wanted = amps * amps * 10e-3 / 2.0 * (1.0 - f64::exp(-2.0 * 600.0 / 45e3));
    near(last.temperatures[0] - n.at(0.0).temperatures[0], wanted, 1e-6);
    assert!(n.result.work.power_balance < 1e-12);
}

/// Eight modules of 100 A under 600 A, four fail, the inverter comes down to 400 A in 0.3 s. On ideal rails each that is
/// left carries 150 A until then and its 100 A from then on; on jumpers of 0.3 mΩ the nearest carries 113.2117 A of the
/// same 400 A for good (by hand, see `the_four_lower_out` of the limits): the limit adds up modules and knows nothing of unequal shares.
#[test]
fn a_limit_that_falls_in_time_helps_where_shares_are_equal() {
    for (jumper, over) in [("1e-6 mΩ", false), ("0.3 mΩ", true)] {
        let m = module("m", 15.0, "\"52.8 V\"", "discharge_limit = \"100 A\"");
        let stack = format!(
            "[cable.jumper]\nresistance = \"{jumper}\"\n[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 8\njumper = \
             \"jumper\"\nleads = [{{ cable = \"short\", positive = 8, negative = 8 }}]\n"
        );
        let more = "[controller]\nperiod = \"1 ms\"\nreaction = \"0.3 s\"\n[load]\ncurrent = \"600 A\"\n";
        let c = campaign(&[&m, SHORT, &stack, more, &trials("5 min", "")]);
        let mut realization = c.realization(0);
        (0..4).for_each(|k| realization.random_events.add(RandomEvent::Module(k), &course(&[100.0])));
        let n = run_with(&c, &realization);
        let greatest = n.at(100.3).currents[4..8].iter().copied().fold(0.0, f64::max);
        near(greatest, if over { 113.2117 } else { 100.0 }, if over { 5e-5 } else { 1e-3 });
        // Over from the dropout to the end, or for 0.3 s only.
        let from_then = n.seen.iter().filter(|s| s.time > Time::from_seconds(100.4));
        let over_limit = |s: &Seen| s.currents[4..8].iter().any(|i| *i > 100.0 + 1e-3);
        assert!(from_then.clone().count() > 0 && from_then.clone().all(|s| over_limit(s) == over));
    }
}

/// Links that are lost: one inverter holds what it last heard, one comes down to its default.
#[test]
fn a_lost_link_holds_or_falls_back() {
    let run = |keys: &str| {
        let m = module("m", 15.0, "\"52.8 V\"", "discharge_limit = \"100 A\"");
        let stacks = ["A", "B"].map(|name| single(name, "m", "")).concat();
        let more = format!("[controller]\nlost_after = \"10 s\"\n{keys}\n[load]\ncurrent = \"180 A\"\n");
        let c = campaign(&[&m, SHORT, &stacks, &more, &trials("10 min", "")]);
        let mut realization = c.realization(0);
        realization.random_events.add(RandomEvent::Link, &course(&[100.0]));
        realization.random_events.add(RandomEvent::Module(0), &course(&[200.0]));
        run_with(&c, &realization)
    };
    let held = run("lost_link = \"hold\"");
    // It never hears that only 100 A are allowed.
    near(held.at(600.0).bus.current, 180.0, 1e-9);
    assert_eq!(held.served_until(), None);
    let fallen = run("lost_link = \"default\"\ndefault_discharge = \"60 A\"");
    at_moment(fallen.served_until(), 110.0);
    near(fallen.at(600.0).bus.current, 60.0, 1e-9);
    let limits = Limits { discharge: 60.0, charge: 0.0 };
    assert_eq!(fallen.when_event(Event::Limits(limits)), [110.0]);
    // One that hears of the loss in time comes down to what one module may give.
    let m = module("m", 15.0, "\"52.8 V\"", "discharge_limit = \"100 A\"");
    let stacks = ["A", "B"].map(|name| single(name, "m", "")).concat();
    let c = campaign(&[&m, SHORT, &stacks, "[controller]\n[load]\ncurrent = \"180 A\"\n", &trials("10 min", "")]);
    let mut realization = c.realization(0);
    realization.random_events.add(RandomEvent::Module(0), &course(&[200.0]));
    near(run_with(&c, &realization).at(600.0).bus.current, 100.0, 1e-9);
}

/// Limits fall with the coldest module and with the lowest cell near empty, each by its table.
#[test]
fn limits_are_derated_by_cold_and_by_low_cells() {
    let m = module("m", 15.0, "\"51.2 V\"", "discharge_limit = \"100 A\"");
    let bus_amps = |controller: &str| {
        let more = format!("[controller]\n{controller}\n[climate]\nair = \"-5 °C\"\n[load]\ncurrent = \"95 A\"\n");
        night(&[&m, SHORT, &single("A", "m", ""), &more, &trials("10 min", "")]).at(600.0).bus.current
    };
    near(bus_amps("discharge_by_temperature = [[\"-10 °C\", \"20 %\"], [\"0 °C\", \"100 %\"]]"), 60.0, 1e-9);
    // A cell of 51.2/16 V less I·15 mΩ/16, and a share that follows it: I = 100·(3.2 − I·r − 3.0)/0.2.
    let table = "discharge_by_cell_voltage = [[\"3.0 V\", \"0 %\"], [\"3.2 V\", \"100 %\"]]\nperiod = \"1 ms\"";
    near(bus_amps(table), 100.0 / (1.0 + 100.0 * 0.015 / 16.0 / 0.2), 1.0);
}

/// A charge of 80 A on one module with a charge stage of 60 A after 5 s: it stops taking charge, and still delivers.
#[test]
fn over_current_in_charge_blocks_charge_alone() {
    let m = module("m", 15.0, "\"51.2 V\"", "over_current = [{ charge = \"60 A\", delay = \"5 s\" }]");
    let n = night(&[
        &m,
        SHORT,
        &single("A", "m", ""),
        "[load]\ncurrent = \"-80 A\"\n",
        &trials("10 min", "soc = \"50 %\""),
    ]);
    at_moment(n.when(0, State::DischargeOnly).first().copied(), 5.0);
    near(n.at(600.0).bus.current, 0.0, 1e-12);
    assert!(n.seen.last().unwrap().states[0].delivers());
    near(n.result.curtailed, 80.0 * 51.2 * 595.0, 0.05 * 80.0 * 51.2 * 595.0);
}

/// What stayed out while the other was charged comes back lower, and takes most of the charge until it has caught up:
/// I/2 + ΔE/(2r) at first, then e^(−t/τ) of the difference with τ = R·Q/a for two alike (by hand).
#[test]
fn a_module_that_rejoins_in_charge_catches_up() {
    let m = module("m", 15.0, "[[\"0 %\", \"3.2 V\"], [\"100 %\", \"3.3 V\"]]", "");
    let stacks = ["A", "B"].map(|name| single(name, "m", "")).concat();
    let c = campaign(&[&m, SHORT, &stacks, "[load]\ncurrent = \"-20 A\"\n", &trials("4 h", "soc = \"10 %\"")]);
    let mut realization = c.realization(0);
    realization.random_events.add(RandomEvent::Module(1), &course(&[0.5, 3600.5]));
    let n = run_with(&c, &realization);
    let gap = 0.2 * 1.6;
    let first = n.at(3600.5).currents[1];
    near(first, -(10.0 + gap / 0.030), 0.01);
    assert!(first / -20.0 > 0.9, "it takes nearly all, and the other gives or waits");
    let tau = 0.015 * 360_000.0 / 1.6;
    let later = &n.at(7200.0).currents;
    near(later[0] - later[1], 2.0 * gap / 0.030 * f64::exp(-(7200.0 - 3600.5) / tau), 0.05);
}
