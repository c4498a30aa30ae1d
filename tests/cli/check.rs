//! `bankwright check`: a dry run.

use super::{Place, WINTER};

#[test]
fn check_tells_what_a_scenario_holds_and_writes_nothing() {
    let place = Place::winter();
    let ran = place.run("check bank.toml").ends(0);
    for piece in [
        "4 modules in 2 stacks on 2 lead pairs",
        "300 trials from 8 calendar nights, seed 7",
        "is complete and can be run",
    ] {
        assert!(ran.out.contains(piece), "no {piece:?} in\n{}", ran.out);
    }
    // In the trade that word is about the code.
    assert!(!ran.out.contains("legal"), "{}", ran.out);
    assert_eq!(place.list(""), ["air.csv", "bank.toml", "load.csv"]);
}

#[test]
fn check_speaks_json() {
    let document = Place::winter().run("check bank.toml --json").ends(0).json();
    assert_eq!((document["modules"].as_u64(), document["trials"].as_u64()), (Some(4), Some(300)));
    let document = Place::small().run("check bank.toml --json").ends(0).json();
    assert!(document["trials"].is_null());
}

#[test]
fn check_counts_one_as_one() {
    let text = super::with(super::SMALL, "count = 2", "count = 1");
    let text = super::with(&text, "positive = 2, negative = 1", "positive = 1, negative = 1");
    let text = text.split("[[stack]]\nname = \"B\"").next().unwrap().to_string();
    let out = Place::with(&text).run("check bank.toml").ends(0).out;
    assert!(out.contains("1 module in 1 stack on 1 lead pair:"), "{out}");
}

#[test]
fn check_finds_what_run_would() {
    let place = Place::with(&super::with(WINTER, "count = 300", "count = 0"));
    place.write("load.csv", &super::load());
    place.write("air.csv", &super::air());
    for command in ["check", "run", "replay --trial 0", "point --current 1"] {
        place.run(&format!("{command} bank.toml")).ends(2).says(&["bank.toml:", "count = 0"]);
    }
    assert_eq!(place.list(""), ["air.csv", "bank.toml", "load.csv"]);
}
