//! `bankwright replay`: a night of the results again, from its number.

use super::{Place, number};
use serde_json::Value;

fn worst(place: &Place, args: &str) -> Vec<Value> {
    let document = place.run(&format!("run bank.toml --json --quiet --force {args}")).ends(3).json();
    document["worst"].as_array().unwrap().clone()
}

#[test]
fn the_worst_nights_of_the_results_come_again_to_the_last_digit() {
    let place = Place::winter();
    let worst = worst(&place, "");
    assert_eq!(worst.len(), 10);
    let mut over_seen = false;
    for night in &worst {
        let again = place.run(&format!("replay bank.toml --json --trial {}", night["trial"])).ends(0).json();
        for key in ["trial", "ride_through_h", "modules_out"] {
            assert_eq!(again[key], night[key], "{key} of {night}");
        }
        assert!(again["start"].as_str().unwrap().starts_with(night["date"].as_str().unwrap()));
        let over = again["over"].as_array().unwrap();
        let longest = over.iter().map(|o| number(&o["time_over_h"])).fold(0.0, f64::max);
        assert_eq!(longest, number(&night["time_over_h"]), "{night}");
        if let Some(id) = night["over"].as_str() {
            over_seen = true;
            let element = over.iter().find(|o| o["id"] == id).unwrap();
            assert_eq!(element["time_over_h"], night["time_over_h"]);
        }
    }
    assert!(over_seen);
}

#[test]
fn the_greatest_current_of_an_element_is_in_the_record_of_its_night() {
    let place = Place::winter();
    let document = place.run("run bank.toml --json --quiet").ends(3).json();
    let lead = document["overload"]["conductors"].as_array().unwrap().iter().find(|c| c["id"] == "A.lead1+").unwrap();
    let again = place.run(&format!("replay bank.toml --json --trial {}", lead["greatest_trial"])).ends(0).json();
    let column = again["conductors"].as_array().unwrap().iter().position(|c| c == "A.lead1+").unwrap();
    let currents = again["moments"].as_array().unwrap().iter().map(|m| number(&m["conductor_currents"][column]).abs());
    assert_eq!(currents.fold(0.0, f64::max), number(&lead["greatest_a"]));
}

#[test]
fn a_seed_makes_other_nights_and_the_same_ones_again() {
    let place = Place::winter();
    let night = worst(&place, "--seed 11")[0].clone();
    let replay =
        |seed: &str| place.run(&format!("replay bank.toml --json --trial {} {seed}", night["trial"])).ends(0).json();
    let again = replay("--seed 11");
    assert_eq!(again["ride_through_h"], night["ride_through_h"]);
    assert_ne!(replay("")["moments"], again["moments"]);
}

/// A trial is a function of its number and the seed alone, so there is one for every number.
#[test]
fn a_trial_beyond_the_number_of_trials_is_a_night_like_any_other() {
    let place = Place::winter();
    let longer = worst(&place, "--trials 2000");
    let beyond = longer.iter().find(|n| n["trial"].as_u64() >= Some(300)).expect("one of ten beyond the first 300");
    let again = place.run(&format!("replay bank.toml --json --trial {}", beyond["trial"])).ends(0).json();
    assert_eq!(again["ride_through_h"], beyond["ride_through_h"]);
    place.run(&format!("replay bank.toml --json --trial {}", u64::MAX)).ends(0).json();
}

#[test]
fn the_course_is_csv_on_standard_output_or_files_in_a_folder() {
    let place = Place::winter();
    let csv = place.run("replay bank.toml --trial 3").ends(0).out;
    let rows: Vec<&str> = csv.lines().collect();
    assert!(rows[0].starts_with("time_h,bus_v,bus_a,") && rows[0].contains("A.lead1+_a"), "{}", rows[0]);
    let columns = rows[0].split(',').count();
    // A row at each step's end: five minutes where nothing happens.
    assert!(rows.len() > 14 * 12 && rows.iter().all(|row| row.split(',').count() == columns));
    let ran = place.run("replay bank.toml --trial 3 --out deep/nights").ends(0);
    assert!(ran.out.is_empty());
    assert_eq!(place.list("deep/nights"), ["manifest.json", "night-3.csv", "night-3.svg"]);
    assert_eq!(place.text("deep/nights/night-3.csv"), csv);
}

#[test]
fn the_night_in_the_results_folder_is_the_worst_one() {
    let place = Place::winter();
    let night = worst(&place, "")[0].clone();
    let csv = place.run(&format!("replay bank.toml --trial {}", night["trial"])).ends(0).out;
    assert_eq!(place.text("output/bank/night.csv"), csv);
}

#[test]
fn a_folder_that_cannot_be_made_is_named() {
    let place = Place::winter();
    place.write("taken", "");
    place.run("replay bank.toml --trial 3 --out taken").ends(1).says(&["taken"]);
    assert_eq!(place.text("taken"), "");
}

/// A year at one second: the record is thinned out and says so, all events are kept.
#[test]
fn a_record_of_a_long_trial_stays_within_bounds() {
    let text = super::with(super::CONSTANT, "30 A", "0.001 A");
    let text = super::with(&text, "horizon = \"2 h\"", "horizon = \"100 h\"\nstep = \"1 s\"");
    let place = Place::with(&format!("{}\n{text}", super::SMALL));
    let document = place.run("replay bank.toml --trial 0 --json").ends(0).json();
    let moments = document["moments"].as_array().unwrap();
    assert!(moments.len() > 100_000 && moments.len() <= 200_001, "{}", moments.len());
    assert!(document["events"][0][1].as_str().unwrap().contains("one moment of 2 "), "{}", document["events"][0]);
}

/// Three modules of 90 Ah last less than three hours at 100 A; the pump is due before and after.
#[test]
fn a_surge_of_a_bank_that_gives_nothing_gets_no_power() {
    let more = "[load]\ncurrent = \"100 A\"\n[[surge]]\nname = \"pump\"\ncurrent = \"20 A\"\nlasts = \"4 s\"\n\
                at = [\"30 min\", \"5 h\", \"5.5 h\"]\n[trials]\ncount = 1\nhorizon = \"6 h\"\n";
    let place = super::Place::with(&format!("{}\n{more}", super::SMALL));
    let document = place.run("replay bank.toml --trial 0 --json").ends(0).json();
    let events: Vec<(f64, String)> = serde_json::from_value(document["events"].clone()).unwrap();
    let of_pump: Vec<&str> = events.iter().map(|e| e.1.as_str()).filter(|text| text.starts_with("pump")).collect();
    assert_eq!(of_pump, ["pump starts", "pump: surge over", "pump gets no power", "pump gets no power"], "{events:?}");
    let at = |text: &str| events.iter().position(|e| e.1 == text).unwrap_or_else(|| panic!("{text}: {events:?}"));
    assert!(at("pump: surge over") < at("load not served") && at("load not served") < at("pump gets no power"));
}
