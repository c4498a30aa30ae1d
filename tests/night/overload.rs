//! Overload, shortfall and ride-through as the page of a run defines them; currents and times by hand.

use super::{Night, SHORT, campaign_in, module, near, night, run, single, trials};
use bankwright::time::Time;
use std::fmt::Write;

const LIMITED: &str = "discharge_limit = \"50 A\"\ncharge_limit = \"30 A\"";

/// One module of 52 V and 15 mΩ, rated 50 A; the load is given as current, from a moment on [s], and
/// becomes the power that draws it.
fn under(amps: &[(u32, f64)], more: &str) -> Night {
    let watts: Vec<(u32, f64)> = amps.iter().map(|&(at, i)| (at, (52.0 - 0.015 * i) * i)).collect();
    under_power(&watts, more)
}

fn under_power(watts: &[(u32, f64)], more: &str) -> Night {
    let folder = tempfile::tempdir().unwrap();
    let mut csv = "time,power\n".to_owned();
    for &(at, watts) in watts {
        writeln!(csv, "2019-01-01 {:02}:{:02}:{:02},{watts}", at / 3600, at / 60 % 60, at % 60).unwrap();
    }
    std::fs::write(folder.path().join("load.csv"), csv).unwrap();
    let load = "[load]\nprofile = \"load.csv\"\n";
    let m = module("m", 15.0, "\"52 V\"", LIMITED);
    run(&campaign_in(&[&m, SHORT, &single("A", "m", ""), load, &trials("1 h", more)], folder.path()))
}

const END: (u32, f64) = (7200, 40.0);

/// 9 s over, then 10 s over with the default hold of 10 s: only the second counts, from its own start, and
/// the hold counts in the time over.
#[test]
fn over_for_the_hold_time_without_a_break() {
    let n = under(&[(0, 40.0), (600, 60.0), (609, 40.0), (1200, 60.0), (1210, 40.0), END], "");
    let module = n.result.elements[0];
    assert_eq!(module.first_over, Some(Time::from_seconds(1200.0)));
    assert_eq!(module.time_over, Time::from_seconds(10.0));
    near(module.greatest, 60.0, 1e-6);
    assert_eq!(module.greatest_at, Time::from_seconds(600.0));
}

/// A break of a second resets the clock: twice 9 s is not 18 s. A hold of 5 s counts both.
#[test]
fn a_break_resets_the_clock() {
    let twice = [(0, 40.0), (600, 60.0), (609, 40.0), (610, 60.0), (619, 40.0), END];
    assert_eq!(under(&twice, "").result.elements[0].first_over, None);
    let n = under(&twice, "hold = \"5 s\"");
    assert_eq!(n.result.elements[0].time_over, Time::from_seconds(18.0));
    assert_eq!(n.result.elements[0].first_over, Some(Time::from_seconds(600.0)));
}

/// Over at the horizon counts to the horizon; charging has a limit of its own.
#[test]
fn over_to_the_end_and_over_in_charge() {
    let n = under(&[(0, 40.0), (3000, -31.0), END], "soc = \"50 %\"");
    assert_eq!(n.result.elements[0].time_over, Time::from_seconds(600.0));
    let n = under(&[(0, 40.0), (3000, -29.0), END], "soc = \"50 %\"");
    assert_eq!(n.result.elements[0].first_over, None);
}

/// Over means by more than a relative 1e-9: at 50 A exactly, and 8e-10 above, it is not.
#[test]
fn at_its_rating_is_not_over() {
    for (amps, over) in [("50", false), ("50.00000004", false), ("50.0000002", true)] {
        let load = format!("[load]\ncurrent = \"{amps} A\"\n");
        let m = module("m", 15.0, "\"52 V\"", LIMITED);
        let n = night(&[&m, SHORT, &single("A", "m", ""), &load, &trials("1 h", "")]);
        assert_eq!(n.result.elements[0].first_over.is_some(), over, "{amps} A");
        let whole = Time::from_seconds(if over { 3600.0 } else { 0.0 });
        assert_eq!(n.result.elements[0].time_over, whole);
    }
}

/// Constant power on a falling voltage: the current comes to 62 A at the moment of the integral in
/// `exact` (by hand); a step of 60 s finds it to 0.1 s.
#[test]
fn a_slow_crossing_begins_where_it_crosses() {
    let (ohm, watts, slope, limit) = (0.015, 3000.0, 8.0, 62.0_f64);
    let first = (53.2 - (53.2_f64.powi(2) - 4.0 * ohm * watts).sqrt()) / (2.0 * ohm);
    let by_i2 = watts / 2.0 * (1.0 / (first * first) - 1.0 / (limit * limit));
    let wanted = 360_000.0 / slope * (by_i2 - ohm * (limit / first).ln());
    let m = module("m", 15.0, "[[\"0 %\", \"2.875 V\"], [\"100 %\", \"3.375 V\"]]", "discharge_limit = \"62 A\"");
    let n = night(&[&m, SHORT, &single("A", "m", ""), "[load]\npower = \"3 kW\"\n", &trials("2 h", "")]);
    near(n.result.elements[0].first_over.unwrap().seconds(), wanted, 0.1);
    // Greatest just as it empties.
    let most = n.result.elements[0];
    near(most.greatest_at.seconds(), n.served_until().unwrap(), 1e-3);
    near(most.greatest, (46.0 - (46.0_f64.powi(2) - 180.0).sqrt()) / 0.03, 1e-4);
}

/// 52 V behind 15 mΩ gives 45.07 kW at most (E²/4R). 50 kW for 9 s is a dip and no shortfall; for 20 s
/// it is 50 kW · 20 s unserved, and ride-through ends at its start. The rest of the night is served.
#[test]
fn a_shortfall_counts_from_the_hold_time_on() {
    let dip = under_power(&[(0, 2000.0), (600, 50_000.0), (609, 2000.0), END], "");
    assert_eq!((dip.result.served_until, dip.result.unserved), (None, 0.0));
    let short = under_power(&[(0, 2000.0), (600, 50_000.0), (609, 2000.0), (1200, 50_000.0), (1220, 2000.0), END], "");
    assert_eq!(short.result.served_until, Some(Time::from_seconds(1200.0)));
    near(short.result.unserved, 50_000.0 * 20.0, 1e-6);
    assert!(short.at(1200.0).currents[0].abs() < 1e-9 && !short.at(1200.0).served);
    near(short.at(1260.0).bus.voltage * short.at(1260.0).bus.current, 2000.0, 1e-6);
    let twice = [(0, 2000.0), (600, 50_000.0), (620, 2000.0), (1200, 50_000.0), (1230, 2000.0), END];
    let twice = under_power(&twice, "");
    assert_eq!(twice.result.served_until, Some(Time::from_seconds(600.0)), "the first ends the ride");
    near(twice.result.unserved, 50_000.0 * 50.0, 1e-6);
}

/// 2 kW out of 52 V empties 90 Ah well after an hour: censored. To its end, unserved is 2 kW over what
/// is left of the night.
#[test]
fn ride_through_is_censored_or_the_rest_is_unserved() {
    assert_eq!(under_power(&[(0, 2000.0), END], "").result.served_until, None);
    let n = under_power(&[(0, 2000.0), END], "soc = \"20 %\"");
    let amps = (52.0 - (52.0_f64.powi(2) - 4.0 * 0.015 * 2000.0).sqrt()) / 0.03;
    let ride = 20.0 * 3600.0 / amps;
    near(n.served_until().unwrap(), ride, 1e-3);
    near(n.result.unserved, 2000.0 * (3600.0 - ride), 2.0);
    assert_eq!(n.result.dropout.most, 0, "an empty module is no dropout");
}

/// Over, then at once under, then over again before the step ends: the time under is not counted. Constant
/// power on a falling voltage, steps of 10 min; the limit lies half way between the currents at both ends
/// of the second step: over from 0 to 600 s, and from where the current comes to the limit to the hour.
///
/// On E = 46 V + 8 V·z, P = (E − R·i)·i gives 8/Q·dt = (P/i³ − R/i)·di, whose integral is −P/(2·i²) − R·ln i.
/// The currents are taken as straight between the ends of a step, which a step of 37 s near the limit, where it
/// is bent by a few milliamperes, lets be off by some hundredths of a second.
#[test]
fn a_step_that_begins_under_and_ends_over() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(
        folder.path().join("load.csv"),
        "time,power\n2019-01-01 00:00:00,3300\n2019-01-01 00:10:00,3000\n2019-01-01 02:00:00,3000\n",
    )
    .unwrap();
    let at_limit = |amps: f64| {
        let limit = format!("discharge_limit = \"{amps:.12} A\"");
        let m = module("m", 15.0, "[[\"0 %\", \"2.875 V\"], [\"100 %\", \"3.375 V\"]]", &limit);
        let load = "[load]\nprofile = \"load.csv\"\n";
        let trials = trials("1 h", "step = \"600 s\"");
        run(&campaign_in(&[&m, SHORT, &single("A", "m", ""), load, &trials], folder.path()))
    };
    let free = at_limit(1000.0);
    let limit = 0.5 * (free.at(600.0).currents[0] + free.at(1200.0).currents[0]);
    let over = at_limit(limit).result.elements[0];
    assert_eq!(over.first_over, Some(Time::ZERO));
    let integral = |amps: f64| 360_000.0 / 8.0 * (-3000.0 / (2.0 * amps * amps) - 0.015 * amps.ln());
    let under = integral(limit) - integral(free.at(600.0).currents[0]);
    near(over.time_over.seconds(), 3600.0 - under, 0.05);
}
