//! An invented night of the bank of `sample`.

use super::sample::conductor_ids;
use bankwright::engine::module::State;
use bankwright::engine::record::{Moment, Record};
use bankwright::time::Time;

/// A night of 16 h from 17:00: cold comes up from the floor; where `cold`, modules 1 drop out.
pub fn record(height: usize, cold: bool) -> Record {
    night(height, cold, 960)
}

/// A week in steps of ten seconds.
pub fn long_record() -> Record {
    night(4, true, 60_480)
}

fn night(height: usize, cold: bool, steps: usize) -> Record {
    let stacks: &[&str] = if height == 1 { &["A"] } else { &["A", "B"] };
    let modules: Vec<String> = stacks.iter().flat_map(|s| (1..=height).map(move |k| format!("{s}{k}"))).collect();
    let conductors: Vec<String> = stacks.iter().flat_map(|s| conductor_ids(s, height)).collect();
    let ratings = conductors.iter().map(|c| Some(if c.contains("lead") { 160.0 } else { 140.0 })).collect();
    let moments =
        (0..=steps).map(|k| moment(k as f64 / steps as f64, (height, stacks.len(), cold), &conductors)).collect();
    let mut events = Vec::new();
    if cold {
        for (h, text) in [
            (5.6, "A1 discharge only (cold)"),
            (9.6, "A1 open (cold)"),
            (9.63, "A.lead1+ over 160 A"),
            (10.4, "B1 discharge only (cold)"),
            (12.0, "A.lead1+ back within 160 A"),
            (14.4, "bus below 46 V: inverter off"),
        ] {
            events.push((Time::from_seconds(h * 3600.0), text.to_string()));
        }
    }
    Record {
        trial: 4711,
        start: if height == 1 { String::new() } else { "2018-12-31 17:00".into() },
        module_limits: vec![Some(85.0); modules.len()],
        modules,
        conductors,
        conductor_ratings: ratings,
        moments,
        events,
    }
}

fn moment(part: f64, (height, stacks, cold): (usize, usize, bool), conductors: &[String]) -> Moment {
    let h = part * 16.0;
    let served = !(cold && h >= 14.4);
    let breakfast = 60.0 * (-((h - 10.8) / 0.9f64).powi(2)).exp();
    let ripple = 8.0 * (h * 9.0).sin() + 6.0 * (h * 41.0).sin();
    let bus = if served {
        (height * stacks) as f64 * 22.0 + 30.0 * (-((h - 2.0) / 1.6f64).powi(2)).exp() + breakfast + ripple
    } else {
        0.0
    };
    let outdoor = -4.0 - 14.0 * (part * std::f64::consts::PI).sin();
    let floor = 1.5 - 3.0 * part;
    let state = |k: usize| match (cold && k == 0, h) {
        (true, h) if h >= 9.6 => State::Open,
        (true, h) if h >= 5.6 => State::DischargeOnly,
        _ if cold && k == height && h >= 10.4 => State::DischargeOnly,
        _ if cold && k == 2 && h > 13.0 && h < 14.0 => State::ChargeOnly,
        _ => State::InService,
    };
    let n = height * stacks;
    let carrying = (0..n).filter(|k| state(*k) != State::Open).count().max(1) as f64;
    Moment {
        time: Time::from_seconds(h * 3600.0),
        bus_voltage: 52.0 - bus * 0.004,
        bus_current: bus,
        demand_w: bus * 51.0,
        served,
        outdoor,
        floor,
        module_currents: (0..n)
            .map(|k| if state(k) == State::Open { 0.0 } else { bus / carrying * (1.0 + 0.02 * (k as f64)) })
            .collect(),
        module_charges: vec![0.9 - 0.6 * part; n],
        module_temperatures: (0..n).map(|k| 9.0 - 11.0 * part + 0.9 * (k % height) as f64 * (8.0 / n as f64)).collect(),
        module_states: (0..n).map(state).collect(),
        conductor_currents: conductors
            .iter()
            .map(|c| {
                let lead =
                    bus / stacks as f64 * if c.starts_with('A') && h > 9.6 { 1.28 } else { 1.0 } * 8.0 / n as f64;
                let sign = if c.ends_with('-') { -1.0 } else { 1.0 };
                if c.contains("lead") { lead * 1.1 } else { sign * lead * 0.6 }
            })
            .collect(),
        conductor_temperatures: conductors.iter().map(|c| c.contains("lead").then_some(20.0 + bus / 8.0)).collect(),
    }
}

/// Rows of unequal length, and values that are no numbers.
pub fn broken_record() -> Record {
    let mut r = record(4, true);
    r.start = "yesterday".into();
    for (k, m) in r.moments.iter_mut().enumerate() {
        match k % 5 {
            0 => m.module_currents.truncate(2),
            1 => m.bus_current = f64::NAN,
            2 => m.module_states.truncate(3),
            3 => {
                m.conductor_currents.clear();
                m.conductor_temperatures.clear();
            }
            _ => m.outdoor = f64::INFINITY,
        }
    }
    r.module_limits.truncate(3);
    r.conductor_ratings[0] = Some(0.0);
    r
}
