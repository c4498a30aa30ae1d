//! Time: profiles whose readings lie anywhere against the step, and nights of the calendar.

use super::{Campaign, Night, SHORT, campaign_in, module, near, run, run_with, single, trials};
use bankwright::time::Time;
use std::fmt::Write;

fn bank(load: &str, air: Option<&str>, climate: &str, trials: &str) -> Campaign {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("load.csv"), load).unwrap();
    let mut parts = vec![module("m", 15.0, "\"52 V\"", ""), SHORT.to_owned(), single("A", "m", "")];
    parts.push("[load]\nprofile = \"load.csv\"\n".to_owned());
    if let Some(air) = air {
        std::fs::write(folder.path().join("air.csv"), air).unwrap();
        parts.push(format!("[climate]\nprofile = \"air.csv\"\n{climate}"));
    }
    parts.push(trials.to_owned());
    let parts: Vec<&str> = parts.iter().map(String::as_str).collect();
    campaign_in(&parts, folder.path())
}

fn watts(n: &Night, seconds: f64) -> f64 {
    n.at(seconds).bus.voltage * n.at(seconds).bus.current
}

/// A load every quarter of an hour, 100 W more each: steps of 60 s, of 7 min, and of an hour end on every
/// change, and what was drawn is the sum by hand.
#[test]
fn no_step_crosses_a_change_of_the_load() {
    let mut csv = "hours,power\n".to_owned();
    for k in 0..=16 {
        writeln!(csv, "{},{}", f64::from(k) * 0.25, 100 * k).unwrap();
    }
    for step in ["60 s", "7 min", "1 h"] {
        let n = run(&bank(&csv, None, "", &trials("4 h", &format!("step = \"{step}\""))));
        for k in 0..16_u32 {
            let at = f64::from(k) * 900.0;
            near(watts(&n, at), f64::from(k) * 100.0, 1e-7);
            assert!(k == 0 || n.seen.iter().filter(|s| s.time.seconds() == at).count() == 2, "before and after");
        }
        // Σ P/V with V so near 52 V that the quadratic's current is summed instead.
        let amps = |w: f64| (52.0 - (52.0 * 52.0 - 0.06 * w).sqrt()) / 0.03;
        let coulombs: f64 = (0..16).map(|k| amps(f64::from(k) * 100.0) * 900.0).sum();
        near(n.at(4.0 * 3600.0).charges[0], 0.9 - coulombs / 360_000.0, 1e-9);
    }
}

/// Charge, then at once discharge: a module that was full on the way delivers without waiting.
#[test]
fn a_full_module_delivers_at_once() {
    let n = run(&bank("hours,power\n0,-2000\n1,2000\n2,0\n", None, "", &trials("2 h", "soc = \"95 %\"")));
    near(n.at(3540.0).currents[0], 0.0, 1e-12);
    near(watts(&n, 3600.0), 2000.0, 1e-6);
    assert_eq!((n.result.served_until, n.result.unserved), (None, 0.0));
}

/// Rows of an hourly calendar from a day on: (date, hour) as text, with a value.
fn hourly(column: &str, days: &[&str], value: impl Fn(usize, u32) -> f64) -> String {
    let mut csv = format!("time,{column}\n");
    for (k, day) in days.iter().enumerate() {
        for hour in 0..24 {
            writeln!(csv, "{day} {hour:02}:00,{}", value(k, hour)).unwrap();
        }
    }
    csv
}

const FROM_FIVE: &str = "start = \"17:00\"";

/// The weather's night of 29 February 2020 takes the load of 28 February 2019, whose year has no 29th.
#[test]
fn the_night_of_a_leap_day() {
    let load_days = ["2019-02-27", "2019-02-28", "2019-03-01", "2019-03-02"];
    let load = hourly("power", &load_days, |day, hour| (100 * (day + 1)) as f64 + f64::from(hour));
    let air_days = ["2020-02-28", "2020-02-29", "2020-03-01"];
    let air = hourly("air", &air_days, |day, hour| -(day as f64) - 0.01 * f64::from(hour));
    let c = bank(&load, Some(&air), "", &trials("12 h", FROM_FIVE));
    let nights: Vec<&str> = c.model.trials.nights.iter().map(|n| n.date.as_str()).collect();
    assert_eq!(nights, ["2020-02-28", "2020-02-29"]);
    for (night, evening, outdoors) in [(0, 200.0, 0.0), (1, 200.0, -1.0)] {
        let n = run_with(&c, &bankwright::engine::realization::Realization { night, ..c.realization(0) });
        near(watts(&n, 0.0), evening + 17.0, 1e-7);
        near(n.at(0.0).outdoor, outdoors - 0.17, 1e-9);
        // After midnight: the load of 1 March, and the weather of its own next day.
        near(watts(&n, 9.0 * 3600.0), 300.0 + 2.0, 1e-7);
        near(n.at(9.0 * 3600.0).outdoor, outdoors - 1.0 - 0.02, 1e-9);
    }
}

/// Two winters of weather with one year of load: every date of the season is a night in each winter, and
/// each winter's nights are counted under its own name.
#[test]
fn two_winters_of_weather_on_another_year_of_load() {
    let load_days = ["2015-12-30", "2015-12-31", "2016-01-01", "2016-01-02"];
    let load = hourly("power", &load_days, |day, _| 500.0 + day as f64);
    let winters = ["2018-12-30", "2018-12-31", "2019-01-01", "2019-12-30", "2019-12-31", "2020-01-01"];
    let air = hourly("air", &winters, |day, _| if day < 3 { -5.0 } else { -25.0 });
    let c = bank(&load, Some(&air), "season = [\"11-01\", \"03-31\"]\n", &trials("12 h", FROM_FIVE));
    let nights = &c.model.trials.nights;
    let dates: Vec<(&str, &str)> = nights.iter().map(|n| (n.date.as_str(), n.year.as_str())).collect();
    let wanted =
        [("2018-12-30", "2018/19"), ("2018-12-31", "2018/19"), ("2019-12-30", "2019/20"), ("2019-12-31", "2019/20")];
    assert_eq!(dates, wanted);
    for (night, load, air) in [(1, 501.0, -5.0), (3, 501.0, -25.0)] {
        let n = run_with(&c, &bankwright::engine::realization::Realization { night, ..c.realization(0) });
        near(watts(&n, 0.0), load, 1e-7);
        near(watts(&n, 8.0 * 3600.0), load + 1.0, 1e-7);
        near(n.at(0.0).outdoor, air, 1e-12);
    }
}

/// 400 days, the longest horizon: 0.01 A empties 90 Ah in 9000 h, 375 days.
#[test]
fn the_longest_night() {
    let m = module("m", 15.0, "\"lfp\"", "");
    let load = "[load]\ncurrent = \"0.01 A\"\n";
    let trials = trials("9600 h", "step = \"1 h\"");
    let n = super::night(&[&m, SHORT, &single("A", "m", ""), load, &trials]);
    super::at_moment(n.served_until(), 9000.0 * 3600.0);
    assert_eq!(n.seen.last().unwrap().time, Time::from_seconds(9600.0 * 3600.0));
}
