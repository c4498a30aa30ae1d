//! Heat of modules, room and floor, and what cold does to a bank.

use super::{
    Night, SHORT, State, at_moment, campaign, campaign_in, module, near, night, run, run_with, single, trials,
};
use bankwright::engine::module::Reason;
use bankwright::engine::result::ChainResult;
use std::fmt::Write;

const HUNDRED: &str = "[load]\ncurrent = \"100 A\"\n";
pub(super) const STIFF: &str = "\"52 V\"";

/// One module at 100 A and 15 mΩ, which is 150 W, for an hour from 95 % in air of 10 °C.
fn warming(heat: &str, around: &str) -> Night {
    let m = module("m", 15.0, STIFF, heat).replace("100 Ah", "200 Ah");
    let climate = format!("[climate]\nair = \"10 °C\"\n{around}");
    night(&[&m, SHORT, &single("A", "m", ""), HUNDRED, &climate, &trials("1 h", "")])
}

/// By hand: q·t/C, 150 W for an hour into 45 kJ/K is 12 K with nowhere to go.
#[test]
fn joule_heat_alone() {
    let n = warming("heat_capacity = \"45 kJ/K\"\nheat_to_air = \"0 W/K\"", "");
    near(n.at(0.0).temperatures[0], 10.0, 1e-12);
    near(n.at(3600.0).temperatures[0], 22.0, 1e-9);
}

/// T = air + q/G·(1 − e^(−G·t/C)); 5.7 W/K: τ = C/G = 2.2 h (by hand). The standing draw of
/// 3 W has warmed it since long before the start.
#[test]
fn towards_a_steady_state() {
    let heat = "heat_capacity = \"45 kJ/K\"\nheat_to_air = \"5.7 W/K\"\nstanding = \"3 W\"";
    let n = warming(heat, "");
    near(45e3 / 5.7 / 3600.0, 2.2, 0.01);
    near(n.at(0.0).temperatures[0], 10.0 + 3.0 / 5.7, 1e-8);
    let settled = 153.0 / 5.7;
    for t in [600.0, 1800.0, 3600.0] {
        let wanted = 10.0 + settled + (3.0 / 5.7 - settled) * f64::exp(-5.7 * t / 45e3);
        near(n.at(t).temperatures[0], wanted, 1e-8);
    }
}

/// A room stands at outdoors + gain/loss and is warmer by its gradient at the module's height (half a
/// pitch of 20 cm). A module without heat of its own gives all to it: Δ = q/loss·(1 − e^(−loss·t/C)).
/// Leads of 1 nΩ give nothing that counts.
#[test]
fn a_room_is_warmed_by_people_and_bank() {
    let room = "[room]\nloss = \"60 W/K\"\ngain = \"300 W\"\nheat_capacity = \"0.5 MJ/K\"\ngradient = \"2 K/m\"\n";
    let n = warming("pitch = \"20 cm\"", room);
    for t in [0.0, 600.0, 3600.0] {
        let bank = 150.0 / 60.0 * (1.0 - f64::exp(-60.0 * t / 0.5e6));
        near(n.at(t).temperatures[0], 10.0 + 5.0 + 0.2 + bank, 1e-6);
    }
}

/// With heat of its own the module stores what the room does not get. Both equations,
/// C·dT/dt = q − G·(T − T_r) and C_r·dΔ/dt = G·(T − T_r) − loss·Δ, integrated here by Runge and Kutta's
/// fourth-order rule in steps of 1 s.
#[test]
fn what_a_module_stores_the_room_does_not_get() {
    let room = "[room]\nloss = \"60 W/K\"\nheat_capacity = \"0.5 MJ/K\"\n";
    let n = warming("heat_capacity = \"45 kJ/K\"\nheat_to_air = \"30 W/K\"", room);
    let rate = |[t, r]: [f64; 2]| [(150.0 - 30.0 * (t - r)) / 45e3, (30.0 * (t - r) - 60.0 * (r - 10.0)) / 0.5e6];
    let mut y = [10.0, 10.0];
    for _ in 0..3600 {
        let along = |k: [f64; 2], h: f64| [y[0] + h * k[0], y[1] + h * k[1]];
        let a = rate(y);
        let b = rate(along(a, 0.5));
        let c = rate(along(b, 0.5));
        let d = rate(along(c, 1.0));
        y = [0, 1].map(|i| y[i] + (a[i] + 2.0 * b[i] + 2.0 * c[i] + d[i]) / 6.0);
    }
    near(n.at(3600.0).temperatures[0], y[0], 5e-3);
    // Were all of the 150 W given to the room at once as well, it would be warmer by half a kelvin.
    assert!((y[1] - 10.0) < 0.8);
}

/// Air and times by hand: 0 °C for an hour, then 6 K/h down to −18 °C, an hour there, and back up.
pub(super) fn cold_snap(parts: &[&str], more: &str) -> (super::Campaign, Night) {
    let folder = tempfile::tempdir().unwrap();
    let mut csv = "hours,air\n".to_owned();
    for (hours, air) in [(0.0, 0.0), (1.0, 0.0), (4.0, -18.0), (5.0, -18.0), (8.0, 0.0), (12.0, 0.0)] {
        writeln!(csv, "{hours},{air}").unwrap();
    }
    std::fs::write(folder.path().join("air.csv"), csv).unwrap();
    let climate = format!("[climate]\nprofile = \"air.csv\"\n{more}");
    let trials = trials("10 h", "");
    let parts: Vec<&str> = parts.iter().copied().chain([climate.as_str(), trials.as_str()]).collect();
    let campaign = campaign_in(&parts, folder.path());
    let night = run(&campaign);
    (campaign, night)
}

pub(super) const COLD: &str = "discharge_temperature = { low = \"-10 °C\", low_release = \"-5 °C\", delay = \"7 s\" }";

/// −6 K/h from 1 h on: −10 °C at 1 h + 100 min, out 7 s later; up from 5 h on: −5 °C at 5 h + 130 min,
/// back 7 s later. A sensor that reads 1 K too warm is 10 min late out and 10 min early back.
#[test]
fn cold_trips_and_releases_to_the_millisecond() {
    let m = module("m", 15.0, STIFF, COLD);
    let ten = "[load]\ncurrent = \"10 A\"\n";
    let stacks = [single("A", "m", ""), single("B", "m", "")].concat();
    let (campaign, n) = cold_snap(&[&m, SHORT, &stacks, ten], "");
    for k in 0..2 {
        at_moment(n.when(k, State::ChargeOnly).first().copied(), 3600.0 + 6000.0 + 7.0);
        at_moment(n.when(k, State::InService).first().copied(), 5.0 * 3600.0 + 7800.0 + 7.0);
    }
    at_moment(n.served_until(), 3600.0 + 6007.0);
    // 10 A at the voltage that it last had, 52 V − 10 A · 7.5 mΩ, for 4.5 h.
    near(n.result.unserved, 519.25 * 16_200.0, 1.0);
    assert!(n.result.dropout.cold && !n.result.dropout.fault);
    assert_eq!(n.result.dropout.most, 2);

    let mut realization = campaign.realization(0);
    realization.modules[0].sensor = 1.0;
    let n = run_with(&campaign, &realization);
    at_moment(n.when(0, State::ChargeOnly).first().copied(), 3600.0 + 6600.0 + 7.0);
    at_moment(n.when(0, State::InService).first().copied(), 5.0 * 3600.0 + 7200.0 + 7.0);
    at_moment(n.when(1, State::ChargeOnly).first().copied(), 3600.0 + 6007.0);
    near(n.at(3600.0 + 6300.0).currents[0], 10.0, 1e-6);
}

/// An excursion that ends within the delay is none: 6 K/h down to −10.01 °C and at once back.
#[test]
fn a_short_excursion_does_not_trip() {
    let folder = tempfile::tempdir().unwrap();
    let csv = "time,air\n2019-01-01 00:00:00,-9.99\n2019-01-01 00:00:12,-10.01\n2019-01-01 00:00:24,-9.99\n\
               2019-01-01 02:00:00,-9.99\n";
    std::fs::write(folder.path().join("air.csv"), csv).unwrap();
    let out = |delay: &str| {
        let m = module("m", 15.0, STIFF, &COLD.replace("7 s", delay));
        let climate = "[climate]\nprofile = \"air.csv\"\n";
        let parts = [&m, SHORT, &single("A", "m", ""), "[load]\ncurrent = \"1 A\"\n", climate, &trials("1 h", "")];
        run(&campaign_in(&parts, folder.path())).when(0, State::ChargeOnly)
    };
    // Beyond −10 °C from 6 s to 18 s.
    assert_eq!(out("12.5 s"), Vec::<f64>::new());
    let tripped = out("11.5 s");
    near(tripped[0], 6.0 + 11.5, 1e-3);
}

const BOTH: &str = "charge_temperature = { low = \"0 °C\" }\ndischarge_temperature = { low = \"-10 °C\" }";

/// At −2 °C a bank discharges and takes no charge; at −12 °C it is open. From the start, without a delay.
#[test]
fn cold_blocks_charge_before_it_opens() {
    let at = |air: &str, load: &str| {
        let m = module("m", 15.0, STIFF, BOTH);
        let climate = format!("[climate]\nair = \"{air}\"\n");
        let load = format!("[load]\ncurrent = \"{load}\"\n");
        night(&[&m, SHORT, &single("A", "m", ""), &load, &climate, &trials("1 h", "")])
    };
    let n = at("-2 °C", "20 A");
    assert_eq!((n.seen[0].states[0], n.result.served_until), (State::DischargeOnly, None));
    near(n.at(0.0).currents[0], 20.0, 1e-9);
    assert_eq!(n.result.dropout.most, 0, "it delivers");
    let n = at("-2 °C", "-20 A");
    near(n.at(0.0).currents[0], 0.0, 1e-12);
    assert!(n.result.curtailed > 0.0 && n.result.unserved == 0.0);
    let n = at("-12 °C", "20 A");
    assert_eq!((n.seen[0].states[0], n.served_until()), (State::Open, Some(0.0)));
    assert_eq!((n.result.dropout.most, n.result.dropout.cold), (1, true));
    let n = at("2 °C", "-20 A");
    near(n.at(0.0).currents[0], -20.0, 1e-9);
}

/// The floor lags the air. Air falls by b from the record's first hour on, settled before it:
/// T = u − b·τ + b·τ·e^(−t/τ).
#[test]
fn the_floor_lags_the_air() {
    let m = module("m", 15.0, STIFF, "");
    let parts = [&m, SHORT, &single("A", "m", ""), "[load]\ncurrent = \"1 A\"\n"];
    let (_, n) = cold_snap(&parts, "[floor]\nlag = \"2 h\"\noffset = \"3 K\"\n");
    for hours in [0.5, 1.0, 2.0, 4.0_f64] {
        let since = (hours - 1.0).max(0.0);
        let wanted = 3.0 - 6.0 * since + 12.0 * (1.0 - (-since / 2.0).exp());
        near(n.at(hours * 3600.0).floor, wanted, 1e-6);
        near(n.at(hours * 3600.0).outdoor, -6.0 * since, 1e-9);
    }
}

/// So does a module with heat of its own, and each step sees the air's mean and not its start's: with
/// τ = C/G the same form (half a step of 60 s at 6 K/h would be 0.05 K). 1 A of 15 mΩ is 15 mW more.
#[test]
fn a_module_lags_the_air() {
    let m = module("m", 15.0, STIFF, "heat_capacity = \"45 kJ/K\"\nheat_to_air = \"5 W/K\"");
    let (_, n) = cold_snap(&[&m, SHORT, &single("A", "m", ""), "[load]\ncurrent = \"1 A\"\n"], "");
    let tau = 2.5;
    for hours in [1.5, 2.0, 4.0_f64] {
        let since = hours - 1.0;
        let wanted = -6.0 * since + 6.0 * tau * (1.0 - (-since / tau).exp());
        let own = 0.003 * (1.0 - (-hours / tau).exp());
        near(n.at(hours * 3600.0).temperatures[0], wanted + own, 1e-4);
    }
}

/// A stack of three on a floor colder than its air: the one on the floor is coldest, goes first and comes
/// back last; while it is out the others carry its share, and at its return it takes it up again.
#[test]
fn the_module_on_the_cold_floor_drops_first_and_takes_up_the_load_again() {
    let heat = "heat_capacity = \"45 kJ/K\"\nheat_to_air = \"4 W/K\"\nheat_to_floor = \"4 W/K\"\n\
                heat_to_neighbour = \"3 W/K\"\ndischarge_limit = \"25 A\"\n";
    let m = module("m", 15.0, STIFF, &format!("{heat}{COLD}")).replace("100 Ah", "400 Ah");
    let m = m.replace("-10 °C", "-12 °C").replace("-5 °C", "-8 °C");
    let stack = "[[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 3\njumper = \"short\"\n\
                 leads = [{ cable = \"short\", positive = 1, negative = 1 }]\n";
    let around = "[floor]\nlag = \"30 min\"\noffset = \"-4 K\"\n";
    let (campaign, n) = cold_snap(&[&m, SHORT, stack, "[load]\ncurrent = \"60 A\"\n"], around);
    let [out, back] = [State::ChargeOnly, State::InService].map(|s| n.when(0, s));
    assert_eq!((out.len(), back.len()), (1, 1), "{:?}", n.events);
    assert!((1..3).all(|k| n.when(k, State::ChargeOnly).is_empty()), "only the one on the floor");
    let at = |t: f64, k: usize| {
        let seen: Vec<_> = n.seen.iter().filter(|s| s.time.seconds() == t).collect();
        (seen[0].currents[k], seen[seen.len() - 1].currents[k])
    };
    for (k, [before, after]) in [[20.0, 0.0], [20.0, 30.0], [20.0, 30.0]].into_iter().enumerate() {
        near(at(out[0], k).0, before, 1e-4);
        near(at(out[0], k).1, after, 1e-4);
        near(at(back[0], k).0, after, 1e-4);
        near(at(back[0], k).1, before, 1e-4);
    }
    assert_eq!(n.result.served_until, None);
    // The other two were over 25 A just while the first was out, and the report says so.
    for k in 1..3 {
        let over = n.result.elements[k];
        near(over.first_over.unwrap().seconds(), out[0], 1e-6);
        near(over.time_over.seconds(), back[0] - out[0], 1e-6);
        assert!(n.result.chains.contains(&ChainResult { out: vec![(0, Reason::Cold)], amiss: vec![], over: k }));
    }
    let last = n.at(10.0 * 3600.0);
    assert!(last.temperatures[0] < last.temperatures[1], "{:?}", last.temperatures);
    assert_eq!(campaign.model.bank.modules[0].id, "A1");
}

/// Cells that resist more in the cold: 20 kJ/mol is 2.0926 at 0 °C and 4.1961 at −20 °C (by hand:
/// exp(Ea/R·(1/T − 1/298.15 K)), R = 8.314463 J/(mol·K)), and copper at the air's temperature by 0.00393 a kelvin.
#[test]
fn resistance_follows_temperature() {
    let cable = "[cable.short]\nsize = \"35 mm2\"\nlength = \"2 m\"\n";
    for (air, factor) in [("0 °C", 2.0926), ("-20 °C", 4.1961), ("25 °C", 1.0)] {
        let m = module("m", 15.0, STIFF, "fixed_resistance = \"5 mΩ\"\nactivation_energy = \"20 kJ/mol\"");
        let climate = format!("[climate]\nair = \"{air}\"\n");
        let n = run(&campaign(&[&m, cable, &single("A", "m", ""), HUNDRED, &climate, &trials("10 min", "")]));
        let celsius: f64 = air.trim_end_matches(" °C").parse().unwrap();
        let leads = 2.0 * 2.0 * 0.554e-3 * (1.0 + 0.00393 * (celsius - 20.0));
        near(n.at(0.0).bus.voltage, 52.0 - 100.0 * (0.005 + 0.010 * factor + leads), 1e-4);
    }
}
