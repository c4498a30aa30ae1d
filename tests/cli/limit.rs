//! `limit` into a folder: what is in it, and that nothing is written over unasked.

use super::{CONSTANT, Place, SMALL, number};

const LIMIT: &str = "limit bank.toml --quiet --out safe";

#[test]
fn the_folder_holds_document_table_and_chart() {
    let place = Place::small();
    let ran = place.run(&format!("{LIMIT} --json")).ends(0);
    assert_eq!(place.list("safe"), ["limit.csv", "limit.json", "limit.svg", "manifest.json"]);
    assert_eq!(place.text("safe/limit.json").trim_end(), ran.out.trim_end());
    let table = place.text("safe/limit.csv");
    let rows: Vec<&str> = table.lines().collect();
    // 0, 1, 2 out in two directions, twice: with every lead, and with one conductor open.
    assert_eq!(rows.len(), 1 + 2 * 3 * 2, "{table}");
    let limit = number(&ran.json()["limits"][0]["current_a"]);
    assert!(rows[1].starts_with(&format!("limits,25,0,discharge,{limit},true,{limit},{limit},")), "{}", rows[1]);
    assert!(place.text("safe/limit.svg").contains("Safe up to "));
}

#[test]
fn results_are_not_written_over_unasked() {
    let place = Place::with(&format!("{SMALL}\n{CONSTANT}"));
    place.run(LIMIT).ends(0);
    let before = place.contents("safe");
    let ran = place.run(&format!("{LIMIT} --air 0")).ends(2).says(&["safe", "--force", "--out"]);
    assert!(ran.out.is_empty());
    assert_eq!(place.contents("safe"), before);
    place.run(&format!("{LIMIT} --air 0 --force")).ends(0);
    assert_ne!(place.contents("safe"), before);
    place.run("run bank.toml --quiet").ends(0);
    place.run("limit bank.toml --out output/bank").ends(2).says(&["output/bank", "--force"]);
    place.run("limit bank.toml --force").ends(2).says(&["--out"]);
}

#[test]
fn a_wrong_scenario_writes_nothing() {
    let place = Place::with("format = 1\n");
    place.run(LIMIT).ends(2);
    assert!(!place.path("safe").exists());
}

#[test]
fn a_range_of_temperatures_is_by_the_degree_and_gets_a_chart() {
    let place = Place::small();
    let ran = place.run(&format!("{LIMIT} --json --air 25,-1.5..1")).ends(0);
    let airs = ran.json()["by_air"].as_array().unwrap().iter().map(|at| number(&at["air_c"])).collect::<Vec<_>>();
    assert_eq!(airs, [25.0, -1.5, -0.5, 0.5, 1.0]);
    assert!(place.list("safe").contains(&"limit_by_air.svg".to_string()));
    place.run(&format!("{LIMIT} --force")).ends(0);
    assert!(!place.list("safe").contains(&"limit_by_air.svg".to_string()), "it would belie the document");
    place.run("limit bank.toml --air 5..5").ends(2).says(&["colder to the warmer"]);
}

#[test]
fn chances_are_told_printed_and_written_where_asked() {
    let faults = "[faults]\nmodule_mtbf = \"99 h\"\nmodule_mttr = \"1 h\"\n";
    let place = Place::with(&format!("{SMALL}\n{CONSTANT}{faults}"));
    let ran = place.run(&format!("{LIMIT} --json --chance --air 25,0")).ends(0);
    assert_eq!(
        place.list("safe"),
        ["chance.csv", "chance.svg", "limit.csv", "limit.json", "limit.svg", "limit_by_air.svg", "manifest.json"]
    );
    let chance = &ran.json()["chance"];
    assert_eq!(number(&chance[1]["air_c"]), 0.0);
    assert_eq!((number(&chance[0]["loads"][0]["current_a"]), number(&chance[0]["sets"])), (30.0, 8.0));
    // 130 A on three of 60 A: A1 and A2, or any two of the three, carry it only beyond their limit.
    let at = place.run("limit bank.toml --json --chance --current 130").ends(0).json();
    let any = number(&at["chance"][0]["loads"][0]["any"]["low"]);
    assert!((any - (3.0 * 0.01 * 0.99 * 0.99 + 3.0 * 0.0001 * 0.99)).abs() < 1e-12, "{any}");
    let printed = place.run("limit bank.toml --chance --current 130").ends(0).out;
    assert!(printed.contains("Chance of being over at a moment") && printed.contains("8 sets solved"), "{printed}");
    Place::small().run("limit bank.toml --chance").ends(2).says(&["--current", "[load]"]);
    place.run("limit bank.toml --current 130").ends(2).says(&["--chance"]);
}

#[test]
fn what_moves_the_limit_is_told_printed_and_written_where_asked() {
    let place = Place::small();
    let ran = place.run(&format!("{LIMIT} --json --sensitivity --outages 1")).ends(0);
    let files = ["limit.csv", "limit.json", "limit.svg", "manifest.json", "sensitivity.csv", "sensitivity.svg"];
    assert_eq!(place.list("safe"), files);
    let found = &ran.json()["sensitivity"];
    assert_eq!((&found[0]["direction"], &found[1]["direction"]), (&"discharge".into(), &"charge".into()));
    assert_eq!(found[0]["limit_a"], ran.json()["limits"][1]["current_a"]);
    let printed = place.run("limit bank.toml --sensitivity --outages 1").ends(0).out;
    assert!(
        printed.contains("What buys most in discharge: ") && printed.contains("module box: discharge limit"),
        "{printed}"
    );
    place.run("limit bank.toml --sensitivity --most-sets 3").ends(2).says(&["--most-sets", "--outages"]);
}
