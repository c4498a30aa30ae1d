//! Limits on what a scenario self_limit: one more is refused with one message that says the limit and how to do with less.

use super::{SMALL, and, faults, good, refused, with};
use bankwright::diagnostic::render;
use std::fmt::Write;

fn types(count: usize) -> String {
    (0..count).fold(String::new(), |mut text, k| {
        let _ = write!(text, "\n[cable.c{k}]\nresistance = \"1 mΩ\"");
        text
    })
}

/// Stacks of one module each, with so many lead pairs.
fn stacks(count: usize, pairs: usize) -> String {
    let leads = "{ cable = \"link\", positive = 1, negative = 1 }, ".repeat(pairs);
    (0..count)
        .map(|k| format!("[[stack]]\nname = \"s{k}-\"\nmodule = \"cellar\"\ncount = 1\nleads = [{leads}]\n"))
        .collect()
}

fn surges(count: usize, times: usize) -> String {
    let at: Vec<String> = (0..times).map(|k| format!("\"{k} min\"")).collect();
    let surge = |k| format!("[[surge]]\nname = \"{k}\"\npower = \"1 W\"\nlasts = \"1 s\"\nat = [{}]\n", at.join(", "));
    format!("[load]\npower = \"1 W\"\n{}", (0..count).map(surge).collect::<String>())
}

fn rows(count: usize) -> String {
    let rows: Vec<String> = (0..count).map(|k| format!("[\"{} %\", 1.0]", k as f64 * 0.1)).collect();
    format!("charge_factor = [{}]\ncells = 16", rows.join(", "))
}

fn night(horizon: &str, more: &str) -> String {
    and(SMALL, &format!("[load]\npower = \"1 W\"\n[trials]\ncount = 1\nhorizon = \"{horizon}\"\n{more}"))
}

#[test]
fn one_more_than_there_may_be_is_refused_and_the_limit_itself_is_not() {
    let long = |n: usize| with(SMALL, "two modules", &"x".repeat(n));
    let named = |n: usize| and(SMALL, &format!("[cable.{}]\nresistance = \"1 mΩ\"", "x".repeat(n)));
    let few = |n: usize, leads: usize| and(SMALL, &stacks(n, leads));
    let stages = |n: usize| {
        let list = "{ discharge = \"150 A\", delay = \"1 s\" }, ".repeat(n);
        with(SMALL, "cells = 16", &format!("cells = 16\nover_current = [{list}]"))
    };
    let cases = [
        (long(1000), long(1001), "title = ", &["at most 1 000 characters", "shorten"][..]),
        (named(60), named(61), "[cable.x", &["at most 60 characters", "shorten"]),
        (and(SMALL, &types(63)), and(SMALL, &types(64)), "[cable.c63]", &["65 cable types", "at most 64"]),
        (few(254, 1), few(256, 1), "[[stack]]", &["at most 256", "by `count`"]),
        (few(254, 1), few(255, 1), "name = \"s254-\"", &["more than 256 modules"]),
        (few(1, 64), few(1, 65), "positive = 1,", &["a list of 65", "at most 64"]),
        (few(7, 64), few(8, 64), "[[stack]]", &["more than 512 lead pairs", "fewer pairs"]),
        (and(SMALL, &surges(100, 1)), and(SMALL, &surges(101, 1)), "[[surge]]", &["at most 100", "`every`"]),
        (and(SMALL, &surges(1, 1000)), and(SMALL, &surges(1, 1001)), "at = [", &["at most 1 000", "`every`"]),
        (
            with(SMALL, "cells = 16", &rows(101)),
            with(SMALL, "cells = 16", &rows(102)),
            "charge_factor",
            &["at most 101"],
        ),
        (stages(20), stages(21), "over_current", &["a list of 21", "at most 20"]),
        (
            night("1000 s", "step = \"1 ms\""),
            night("1001 s", "step = \"1 ms\""),
            "step = ",
            &["1 001 000 steps", "at most 1 000 000"],
        ),
        (night("400 d", ""), night("401 d", ""), "horizon = ", &["at most"]),
    ];
    for (fits, over, at, words) in cases {
        good(&fits);
        let found = faults(&over);
        let shown = render(&found, false);
        let line = over.lines().nth(found[0].place().0 - 1).unwrap_or_default();
        // A list of sections is pointed at by the first of them.
        assert!(found.len() == 1 && (line.contains(at) || at == "[[stack]]" || at == "[[surge]]"), "{at}: {shown}");
        words.iter().for_each(|word| assert!(shown.contains(word), "no {word:?} in\n{shown}"));
    }
}

#[test]
fn a_night_with_more_failures_and_surges_than_can_be_kept_is_refused_where_they_come_from() {
    let busy = |more: &str| night("16 h", &format!("[faults]\nlead_mtbf = \"1e5 h\"\n{more}"));
    let often = "module_mtbf = \"1 s\"\nmodule_mttr = \"1 s\"";
    refused(&busy(often), "module_mtbf", &["about 115 20", "at most 100 000", "shorter `horizon`"]);
    good(&busy("module_mtbf = \"2 s\"\nmodule_mttr = \"2 s\""));
    let surges = "[[surge]]\nname = \"a\"\npower = \"1 W\"\nlasts = \"1 ms\"\nevery = \"1 s\"\n";
    refused(&night("16 h", surges), "every", &["at most 100 000"]);
    // A layout may have more modules than the scenario.
    let layout = "[[layout]]\nname = \"more\"\n[layout.stack.A]\ncount = 6\n";
    let text = busy("module_mtbf = \"2 s\"\nmodule_mttr = \"2 s\"");
    refused(&and(&text, layout), "module_mtbf", &["at most 100 000"]);
}

#[test]
fn weather_of_other_years_than_the_load_may_not_make_nights_without_end() {
    let folder = tempfile::tempdir().unwrap();
    let days = |column: &str, years: std::ops::Range<i32>| {
        let day = |year: i32, month: i32, day: i32| format!("{year}-{month:02}-{day:02},1\n");
        let month = |year, month| (1..=28).map(move |d| day(year, month, d)).collect::<String>();
        let year = |year| (1..=12).map(move |m| month(year, m)).collect::<String>();
        format!("time,{column}\n{}", years.map(year).collect::<String>())
    };
    std::fs::write(folder.path().join("load.csv"), days("power", 1960..2050)).unwrap();
    std::fs::write(folder.path().join("air.csv"), days("air", 1900..1950)).unwrap();
    let text = night("12 h", "start = \"17:00\"\n[climate]\nprofile = \"air.csv\"\n");
    let text = with(&text, "power = \"1 W\"", "profile = \"load.csv\"");
    let found = bankwright::scenario::check::parse(&text, "bank.toml", folder.path()).expect_err("a fault");
    let shown = render(&found, false);
    assert!(found.len() == 1 && shown.contains("more than 100 000 different nights"), "{shown}");
}
