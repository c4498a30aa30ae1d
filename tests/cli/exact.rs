//! Where nothing is random a figure is exact, is given without an interval, and decides by a single night.

use super::{Place, SMALL, number};
use serde_json::Value;

/// 30 A for two hours through leads of 12 A, of which each carries 20 A or 10 A.
const BANK: &str = "[load]\ncurrent = \"30 A\"\n[trials]\ncount = 1\nhorizon = \"2 h\"\n\
                    [targets]\nride_through = \"2 h\"\nride_through_probability = 0.99\noverload_probability = 0.001\n\
                    [prices]\ncurrency = \"EUR\"\n";

/// A thicker lead, with which nothing is over.
const LAYOUT: &str = "\n[[layout]]\nname = \"thick\"\n[layout.cable.lead]\nrating = \"50 A\"\nprice = 9\n";

fn place(rating: &str, more: &str) -> Place {
    let small = SMALL.replace("charge_limit = \"40 A\"", "charge_limit = \"40 A\"\nprice = 500");
    let small = small.replace("rating = \"140 A\"", "rating = \"140 A\"\nprice = 4");
    let lead = format!("resistance = \"1 mΩ\"\nrating = \"{rating}\"\nprice = 8");
    Place::with(&format!("{}\n{BANK}{more}", small.replace("resistance = \"1 mΩ\"", &lead)))
}

/// Every estimate in a document has both ends at itself.
fn all_exact(value: &Value) -> usize {
    let here = value.get("estimate").filter(|e| e.is_number()).map_or(0, |e| {
        assert!(value["low"] == *e && value["high"] == *e, "{value}");
        1
    });
    let below: usize = match value {
        Value::Object(map) => map.values().map(all_exact).sum(),
        Value::Array(list) => list.iter().map(all_exact).sum(),
        _ => 0,
    };
    here + below
}

/// What stands for an interval in words.
fn no_interval(text: &str) {
    for word in ["95 %", "97.5 %", "below ", "above ", "none seen", "not decided", " (0", "(< ", "(> "] {
        assert!(!text.contains(word), "{word:?} in\n{text}");
    }
}

#[test]
fn a_run_without_chance_is_exact_after_one_night() {
    let place = place("12 A", "");
    let document = place.run("run bank.toml --json --quiet").ends(3).json();
    assert_eq!(document["exact"], true);
    assert!(all_exact(&document) > 10);
    let ride = &document["ride_through_h"];
    for (p, interval) in [("p5", "p5_interval"), ("p50", "p50_interval"), ("p95", "p95_interval")] {
        assert_eq!([&ride[p], &ride[p]], [&ride[interval][0], &ride[interval][1]]);
    }
    assert_eq!(number(&document["overload"]["any"]["estimate"]), 1.0);
    let verdicts: Vec<&Value> = document["targets"].as_array().unwrap().iter().map(|t| &t["verdict"]).collect();
    assert_eq!(verdicts, ["met", "missed"]);
    let text = place.run("run bank.toml --quiet --force").ends(3).out;
    no_interval(&text);
    for words in ["Nothing in this scenario is random", "in every night", "in no night", "✔ met", "✖ missed"] {
        assert!(text.contains(words), "no {words:?} in\n{text}");
    }
    for file in ["overview.html", "overload.svg", "ride_through.svg", "cascade.svg"] {
        let drawn = place.text(&format!("output/bank/{file}"));
        assert!(!drawn.contains("95 % interval"), "{file}");
    }
}

/// More of the same night change no figure, and nothing that is over is a met target by one night already.
#[test]
fn more_nights_of_one_kind_say_no_more() {
    let place = place("50 A", "");
    let one = place.run("run bank.toml --json --quiet").ends(0).json();
    let many = place.run("run bank.toml --json --quiet --trials 200 --out many").ends(0).json();
    for key in ["overload", "dropout", "ride_through_met", "ride_through_h", "targets"] {
        let (mut one, mut many) = (one[key].clone(), many[key].clone());
        for counts in [&mut one, &mut many] {
            counts.as_object_mut().map(|o| o.remove("histogram"));
        }
        assert_eq!(one, many, "{key}");
    }
}

/// A spread of any kind makes it random again, with the interval of Clopper and Pearson: 1 of 1 is above 2.5 %.
#[test]
fn a_spread_brings_the_interval_back() {
    let document = place("12 A", "[spread]\nload = \"1 %\"\n").run("run bank.toml --json --quiet").ends(3).json();
    assert_eq!(document["exact"], false);
    assert_eq!(number(&document["overload"]["any"]["high"]), 1.0);
    assert!((number(&document["overload"]["any"]["low"]) - 0.025).abs() < 1e-12);
}

#[test]
fn layouts_without_chance_are_compared_exactly() {
    let place = place("12 A", LAYOUT);
    let document = place.run("compare bank.toml --json --quiet").ends(0).json();
    assert_eq!(document["exact"], true);
    assert!(all_exact(&document) > 6);
    assert_eq!(document["ranking"][0], 1);
    assert_eq!(document["best_against_all"][0]["decided"], true);
    no_interval(&place.run("compare bank.toml --quiet --force").ends(0).out);
    let page = place.text("output/bank-compare/overview.html");
    assert!(!page.contains("95 %") && page.contains("every night"));
    let inputs = place.run("compare bank.toml --inputs --json --quiet").ends(0).json();
    assert_eq!(inputs["exact"], true);
    assert!(all_exact(&inputs["as_written"]) > 1);
}

#[test]
fn a_proposal_without_chance_takes_one_night_a_layout() {
    let place = place("12 A", LAYOUT);
    let document = place.run("propose bank.toml --json --quiet --trials 500").ends(0).json();
    assert_eq!((&document["exact"], &document["screening"]["nights_run"]), (&true.into(), &2.into()));
    assert_eq!(document["looks"].as_array().unwrap().len(), 1);
    assert_eq!(document["layouts"][0]["fate"], "target_missed");
    assert_eq!(document["layouts"][1]["fate"], "proposed");
    no_interval(&place.run("propose bank.toml --quiet --force").ends(0).out);
}
