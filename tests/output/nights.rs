//! The picture of a night, claim by claim, of records that are made for it.

use super::*;
use bankwright::engine::module::State;
use bankwright::engine::record::Moment;
use bankwright::time::Time;

const HOURS: f64 = 16.0;

/// A bank of so many modules, by the quarter hour: what each is at a share of the night, and how warm.
fn record(modules: usize, state: impl Fn(usize, f64) -> State, warm: impl Fn(usize, f64) -> f64) -> Record {
    let moment = |k: usize| {
        let part = k as f64 / 64.0;
        Moment {
            time: Time::from_seconds(part * HOURS * 3600.0),
            bus_voltage: 52.0,
            bus_current: 100.0,
            served: true,
            outdoor: -20.0,
            floor: -5.0,
            module_currents: vec![100.0 / modules as f64; modules],
            module_charges: vec![0.5; modules],
            module_temperatures: (0..modules).map(|m| warm(m, part)).collect(),
            module_states: (0..modules).map(|m| state(m, part)).collect(),
            ..Moment::default()
        }
    };
    Record {
        start: "2021-01-12 17:00".into(),
        modules: (1..=modules).map(|k| format!("M{k}")).collect(),
        module_limits: vec![Some(80.0); modules],
        moments: (0..=64).map(moment).collect(),
        ..Record::default()
    }
}

fn words(svg: &str) -> Vec<String> {
    markup::texts(svg).into_iter().map(|t| t.3.replace('\u{a0}', " ")).collect()
}

/// Below the panels: words that were broken into lines, as one text.
fn below(svg: &str) -> String {
    let all = words(svg).join(" ");
    all.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn height_of(svg: &str, text: &str) -> f64 {
    let tag = svg.split("<text ").find(|part| part.contains(&format!(">{text}"))).unwrap_or_else(|| panic!("{text}"));
    tag.split(" y=\"").nth(1).or_else(|| tag.split("y=\"").nth(1)).unwrap().split('"').next().unwrap().parse().unwrap()
}

#[test]
fn modules_that_are_not_drawn_are_told_for_what_they_are() {
    let cold = night::chart::night(&record(40, |_, _| State::Open, |_, _| -18.0)).unwrap();
    super::limits::judge(&cold, "cold");
    let told = below(&cold);
    assert!(
        told.contains("Not drawn in panel d: 16 modules out of full service for no longer than those drawn"),
        "{told}"
    );
    assert!(!told.contains("in service all night"), "{told}");
    let state = |k: usize, part: f64| if k < 2 && part > 0.5 { State::Open } else { State::InService };
    let told = below(&night::chart::night(&record(40, state, |_, _| 10.0)).unwrap());
    assert!(told.contains("Not drawn in panel d: 38 modules in service all night"), "{told}");
    let all_in = below(&night::chart::night(&record(40, |_, _| State::InService, |_, _| 10.0)).unwrap());
    assert!(all_in.contains("all modules in service all night") && !all_in.contains("Not drawn"), "{all_in}");
}

#[test]
fn those_that_were_out_longest_have_the_rows() {
    // Module k is out for the last k of 40 parts of the night.
    let state = |k: usize, part: f64| if part * 40.0 >= 40.0 - k as f64 { State::Open } else { State::InService };
    let words = words(&night::chart::night(&record(40, state, |_, _| 10.0)).unwrap());
    let row = |name: &str| words.iter().any(|w| w == name);
    assert!(row("M40") && row("M17") && !row("M2") && !row("M16"), "{words:?}");
}

#[test]
fn coldest_and_warmest_are_what_they_are_called_and_the_band_is_whole() {
    // M5 is the warmest for an hour, and else as cold as M9, which is the coldest for a moment; M12 never cools.
    let warm = |k: usize, part: f64| match k {
        4 if (0.5..0.56).contains(&part) => 41.0,
        4 => -3.0,
        8 if (0.7..0.75).contains(&part) => -31.0,
        8 => -2.0,
        11 => 4.0,
        _ => 0.0,
    };
    let svg = night::chart::night(&record(12, |_, _| State::InService, warm)).unwrap();
    super::limits::judge(&svg, "band");
    let words = words(&svg);
    assert!(words.contains(&"M5, warmest".into()) && words.contains(&"M9, coldest".into()), "{words:?}");
    let (top, bottom) = (height_of(&svg, "c · Temp"), height_of(&svg, "d · State"));
    let band = svg.split("<polygon").nth(1).unwrap().split("points=\"").nth(1).unwrap().split('"').next().unwrap();
    let heights: Vec<f64> = band.split_whitespace().map(|p| p.split(',').nth(1).unwrap().parse().unwrap()).collect();
    assert!(heights.len() > 60 && heights.iter().all(|y| (top..bottom).contains(y)), "{top}..{bottom}: {heights:?}");
}

#[test]
fn modules_as_warm_as_each_other_are_one_line_with_one_name() {
    for modules in [3, 20] {
        let words =
            words(&night::chart::night(&record(modules, |_, _| State::InService, |_, part| 20.0 - part)).unwrap());
        assert!(words.contains(&"all modules".into()), "{words:?}");
        assert!(words.iter().all(|w| !w.ends_with("warmest") && !w.ends_with("coldest")), "{words:?}");
    }
}

fn with_events(events: impl IntoIterator<Item = (f64, String)>) -> Record {
    let mut r = record(8, |_, _| State::InService, |_, _| 10.0);
    r.events = events.into_iter().map(|(h, text)| (Time::from_seconds(h * 3600.0), text)).collect();
    r
}

#[test]
fn events_end_at_whole_events_and_the_rest_is_counted() {
    let text = |k: usize| format!("happening number {k} of a long row of happenings ends here");
    let told = below(&night::chart::night(&with_events((0..40).map(|k| (8.0, text(k))))).unwrap());
    let shown = (0..40).filter(|k| told.contains(&text(*k))).count();
    assert!((3..40).contains(&shown), "{shown} in {told}");
    assert_eq!(told.matches("happening number").count(), shown, "each is told whole: {told}");
    assert!(told.contains(&format!("; and {} more events", 40 - shown)), "{told}");
}

#[test]
fn what_happens_to_several_at_once_is_told_once() {
    let told = |n: usize| {
        below(&night::chart::night(&with_events((1..=n).map(|k| (8.0, format!("M{k} open (cold)"))))).unwrap())
    };
    assert!(told(1).contains("1. 01:00 M1 open (cold)"), "{}", told(1));
    assert!(told(2).contains("1. 01:00 M1 and M2 open (cold)"), "{}", told(2));
    assert!(told(4).contains("1. 01:00 M1, M2, M3 and M4 open (cold)"), "{}", told(4));
    assert!(told(8).contains("1. 01:00 M1, M2, M3 and 5 more open (cold)"), "{}", told(8));
    let two = with_events([(8.0, "M1 over its limit 80 A".into()), (8.0, "M2 over its limit 80 A".into())]);
    assert!(below(&night::chart::night(&two).unwrap()).contains("M1 and M2 over their limit 80 A"));
}

/// Every quarter of an hour something, for three days: numbers have room, and each has its line.
#[test]
fn numbers_of_events_do_not_touch_and_each_is_told() {
    let mut r = with_events((0..288).map(|k| (f64::from(k) / 4.0, format!("M{} open (cold)", k % 8 + 1))));
    for (k, m) in r.moments.iter_mut().enumerate() {
        m.time = Time::from_seconds(k as f64 / 64.0 * 72.0 * 3600.0);
    }
    let svg = night::chart::night(&r).unwrap();
    let numbers: Vec<(f64, f64, String)> = markup::texts(&svg)
        .into_iter()
        .filter(|t| t.1 == "middle" && !t.3.is_empty() && t.3.chars().all(|c| c.is_ascii_digit()))
        .map(|t| (t.0, t.2, t.3))
        .collect();
    assert!(numbers.len() >= 15, "{numbers:?}");
    for two in numbers.windows(2) {
        // Bold digits are two thirds of an em wide at most.
        let room = (two[0].1 + two[1].1) / 2.0 * 0.7 / 0.48;
        assert!(two[1].0 - two[0].0 >= room, "{} and {}", two[0].2, two[1].2);
    }
    super::limits::judge(&svg, "three days");
    let words = words(&svg);
    for (.., number) in &numbers {
        assert!(words.iter().any(|w| w.starts_with(&format!("{number}. "))), "{number} in {words:?}");
    }
    assert!(words.contains(&"day 2 00:00".into()) && words.iter().any(|w| w.contains("day 3 ")), "{words:?}");
}

#[test]
fn within_one_day_no_day_is_told() {
    let told = below(&night::chart::night(&with_events([(10.5, "M1 open (cold)".into())])).unwrap());
    assert!(told.contains("1. 03:30 M1 open (cold)") && !told.contains("day 1"), "{told}");
}
