//! `bankwright compare`: the document, the folder, the exit codes, and that a layout is what `run` makes of it.

use super::{CONSTANT, PROGRAM, Place, Ran, SMALL, number, with};
use crate::statistics::paired::independent_difference;
use serde_json::Value;
use std::process::{Command, Stdio};

/// Beside `winter.toml`: a thicker lead, and one that is the same but for its price.
const LAYOUTS: &str = "\n[[layout]]\nname = \"thick\"\n[layout.cable.lead]\nsize = \"16 mm2\"\nrating = \"58 A\"\n\
                       [[layout]]\nname = \"dear\"\n[layout.module.box]\nprice = 5\n\
                       [prices]\ncurrency = \"EUR\"\n";

fn winter() -> Place {
    let place = Place::winter();
    place.write("bank.toml", &(place.text("bank.toml") + LAYOUTS));
    place
}

fn layout<'a>(document: &'a Value, name: &str) -> &'a Value {
    document["layouts"].as_array().unwrap().iter().find(|l| l["name"] == name).unwrap()
}

#[test]
fn a_layout_is_what_run_makes_of_it() {
    let place = winter();
    let document = place.run("compare bank.toml --json --quiet").ends(3).json();
    let text = with(&place.text("bank.toml"), "size = \"10 mm2\"", "size = \"16 mm2\"");
    place.write("thick.toml", &with(&text, "rating = \"52 A\"", "rating = \"58 A\""));
    for (file, name) in [("bank.toml", "as written"), ("thick.toml", "thick")] {
        let alone = place.run(&format!("run {file} --json --quiet")).ends(3).json();
        let layout = layout(&document, name);
        assert_eq!(layout["overload"], alone["overload"]["any"], "{name}");
        assert_eq!(layout["ride_through_met"], alone["ride_through_met"], "{name}");
        assert_eq!(layout["ride_through_h"], alone["ride_through_h"], "{name}");
        // Of two layouts by two targets, so judged with wider intervals.
        let of = |document: &Value, name: &str| -> Vec<f64> {
            document["targets"].as_array().unwrap().iter().map(|t| number(&t["got"][name])).collect()
        };
        assert_eq!(of(layout, "estimate"), of(&alone, "estimate"), "{name}");
        assert!(of(layout, "low") < of(&alone, "low"), "{name}");
        let limit = place.run(&format!("limit {file} --json --quiet")).ends(0).json();
        assert_eq!(layout["limits"][1]["current_a"], limit["limits"][1]["current_a"], "{name}");
    }
    assert_eq!(layout(&document, "dear")["same_nights_as"], "as written");
    assert_eq!(document["screening"]["nights_spared"], 300);
    assert!(document["finding"][0].as_str().unwrap().contains("\"thick\""));
}

/// The same two layouts once under the same nights and once each under its own.
#[test]
fn paired_nights_narrow_the_difference() {
    let place = winter();
    let document = place.run("compare bank.toml --json --quiet --trials 600").ends(3).json();
    let paired = &document["against_first"][0]["overload"];
    let other = place.run("compare bank.toml --json --quiet --trials 600 --seed 99 --out other").ends(3).json();
    let nights = |e: &Value| (number(&e["overload"]["estimate"]) * 600.0).round() as u64;
    let counts = [nights(layout(&document, "thick")), nights(layout(&other, "as written"))];
    let apart = independent_difference(counts, 600);
    let width = number(&paired["high"]) - number(&paired["low"]);
    let factor = (apart.high - apart.low) / width;
    println!("paired {paired}, independent {apart:?}: narrower by {factor:.2}");
    assert!(factor > 1.3, "{factor}");
    // Both speak of the same difference.
    assert!(number(&paired["low"]) < apart.high && apart.low < number(&paired["high"]));
}

#[test]
fn the_same_bytes_for_any_number_of_threads() {
    let place = winter();
    let one = place.run("compare bank.toml --quiet --json --threads 1 --out one").ends(3);
    let two = place.run("compare bank.toml --quiet --json --threads 2 --out two").ends(3);
    assert_eq!(one.out, two.out);
    assert_eq!(place.contents("one"), place.contents("two"));
    assert_eq!(one.out, place.text("one/results.json") + "\n");
    let names =
        "differences.csv hours.svg layouts.csv leads.svg manifest.json overview.html parts.csv price.svg results.json";
    assert_eq!(place.list("one").join(" "), names);
    let html = place.text("one/overview.html").replace('\u{a0}', " ");
    let told = one.json()["finding"][0].as_str().unwrap().replace('"', "&quot;");
    assert!(html.contains(&told) && html.contains("bank.toml") && html.contains("Seed"), "{told}");
}

#[test]
fn check_tells_how_many_layouts_there_are() {
    let told = winter().run("check bank.toml").ends(0).out;
    assert!(told.contains("2 layouts proposed beside it"), "{told}");
}

#[test]
fn exit_codes_and_folders() {
    let place = Place::with(&format!("{SMALL}\n{CONSTANT}"));
    place.run("compare bank.toml").ends(2).says(&["[[layout]] or [layouts]"]);
    let twins = "[[layout]]\nname = \"two\"\n[layout.cable.jumper]\nrating = \"150 A\"\n";
    let place = Place::with(&format!("{SMALL}\n{CONSTANT}\n{twins}"));
    place.run("compare bank.toml --quiet").ends(0);
    assert!(place.path("output/bank-compare/results.json").exists());
    place.run("compare bank.toml --quiet").ends(2).says(&["--force"]);
    place.run("compare bank.toml --quiet --force").ends(0);
    place.write("mine/parts.csv", "mine");
    place.run("compare bank.toml --quiet --out mine").ends(2).says(&["mine/parts.csv", "manifest.json", "--out"]);
    assert_eq!(place.text("mine/parts.csv"), "mine");
    let missed = format!("{SMALL}\n{CONSTANT}\n{twins}[targets]\nlimit = \"900 A\"\n");
    Place::with(&missed).run("compare bank.toml --quiet").ends(3);
    Place::small().run("compare bank.toml").ends(2).says(&["needs [load]", "needs [trials]"]);
}

/// Of a scenario without layouts, and without a judgement of its targets.
#[test]
fn inputs_are_moved_without_layouts_to_the_same_bytes_for_any_number_of_threads() {
    let place = Place::winter();
    let one = place.run("compare bank.toml --inputs --quiet --json --trials 100 --threads 1 --out one").ends(0);
    let two = place.run("compare bank.toml --inputs --quiet --json --trials 100 --threads 2 --out two").ends(0);
    assert_eq!(one.out, two.out);
    assert_eq!(place.contents("one"), place.contents("two"));
    assert_eq!(place.list("one"), ["inputs.csv", "inputs.svg", "manifest.json", "results.json"]);
    assert_eq!(one.out, place.text("one/results.json") + "\n");
    let run = place.run("run bank.toml --json --quiet --trials 100").ends(3).json();
    let document = one.json();
    assert_eq!(document["as_written"]["overload"], run["overload"]["any"]);
    let (short, met) = (&document["as_written"]["short"]["estimate"], &run["ride_through_met"]["estimate"]);
    assert!((number(short) + number(met) - 1.0).abs() < 1e-12);
    assert!((number(&document["as_written"]["ride_through_h"]) - number(&run["ride_through_h"]["mean"])).abs() < 1e-6);
    let told = place.run("compare bank.toml --inputs --quiet --trials 20").ends(0).out;
    assert!(told.contains("For the margin") && told.contains("charge at the start"), "{told}");
    assert!(place.path("output/bank-inputs/results.json").exists());
    place.run("compare bank.toml --inputs --quiet --trials 20").ends(2).says(&["--force"]);
}

#[test]
#[cfg(target_os = "linux")]
fn an_interrupted_comparison_writes_nothing() {
    for inputs in [None, Some("--inputs")] {
        let place = winter();
        let mut command = Command::new(PROGRAM);
        command.current_dir(place.dir()).args(["compare", "bank.toml", "--trials", "100000", "--quiet"]).args(inputs);
        let child = command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        super::interrupt::wait_until_at_work(&child);
        let kill = Command::new("sh").arg("-c").arg(format!("kill -INT {}", child.id())).status().unwrap();
        assert!(kill.success());
        let ran = Ran::from(child.wait_with_output().unwrap()).ends(130);
        ran.says(&["interrupted after ", " nights; nothing was written"]);
        assert!(!place.path("output").exists());
    }
}
