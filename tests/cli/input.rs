//! Input that is wrong: said at its place on standard error, with exit code 2, and nothing written.

use super::{CONSTANT, Place, SMALL, WINTER, with};

/// Refused by every command that reads it, with a caret and these pieces; nothing is written.
fn refused(place: &Place, pieces: &[&str]) {
    let before = place.list("");
    for args in
        ["run bank.toml", "run bank.toml --json --out made/here", "point bank.toml --current 1", "check bank.toml"]
    {
        let ran = place.run(args).ends(2).says(pieces);
        assert!(ran.out.is_empty(), "{args}: {}", ran.out);
    }
    assert_eq!(place.list(""), before);
}

/// The underline below a line of the file.
const CARET: &str = "━";

#[test]
fn a_fault_is_shown_with_file_line_and_caret() {
    for (piece, other, pieces) in [
        ("\"100 Ah\"", "100", &["bank.toml:7", CARET, "Ah"][..]),
        ("\"100 Ah\"", "\"100 V\"", &["bank.toml:7", CARET, "Ah"]),
        ("\"100 Ah\"", "\"-100 Ah\"", &["bank.toml:7", CARET]),
        ("capacity", "capasity", &["bank.toml:7", CARET, "did you mean `capacity`?"]),
        ("[module.box]", "[modul.box]", &["bank.toml", CARET, "did you mean `module`?"]),
        ("format = 1", "format = 9", &["bank.toml:2", CARET]),
        ("\"10 mΩ\"", "\"10 mΩ", &["bank.toml:8"]),
        ("name = \"B\"", "name = \"A\"", &["bank.toml", CARET]),
    ] {
        refused(&Place::with(&with(SMALL, piece, other)), pieces);
    }
}

#[test]
fn all_faults_are_told_at_once() {
    let text = with(&with(SMALL, "\"100 Ah\"", "\"0 Ah\""), "\"140 A\"", "\"140 mm\"");
    refused(&Place::with(&text), &["bank.toml:7", "bank.toml:15", "2 errors"]);
}

#[test]
fn files_that_cannot_be_read_are_input_errors() {
    let place = Place::winter();
    place.run("run none.toml").ends(2).says(&["cannot read none.toml"]);
    place.run("run .").ends(2).says(&["cannot read"]);
    std::fs::remove_file(place.path("air.csv")).unwrap();
    refused(&place, &["air.csv", "bank.toml", CARET]);
    std::fs::create_dir(place.path("air.csv")).unwrap();
    refused(&place, &["air.csv"]);
}

#[test]
fn a_fault_in_a_profile_is_shown_in_the_profile() {
    let place = Place::winter();
    place.write("load.csv", &with(&super::load(), "2021-01-10T03:00,", "2021-01-10T03:00,much"));
    refused(&place, &["load.csv:5", CARET]);
}

#[test]
fn nights_that_the_profiles_do_not_cover_are_an_input_error() {
    let place = Place::winter();
    place.write("bank.toml", &with(WINTER, "horizon = \"14 h\"", "horizon = \"300 h\""));
    refused(&place, &["bank.toml", CARET, "no night"]);
}

#[test]
fn a_run_without_load_or_trials_is_refused_where_they_are_to_be_added() {
    let lines = SMALL.trim_end().lines().count();
    let place = Place::small();
    let end = format!("bank.toml:{lines}");
    for args in ["run bank.toml", "replay bank.toml --trial 0"] {
        let pieces = ["needs [load]", "needs [trials]", "power = \"2 kW\"", "count = 10000", &end, "2 errors"];
        place.run(args).ends(2).says(&pieces);
    }
    let (load, trials) = CONSTANT.split_at(CONSTANT.find("[trials]").unwrap());
    place.write("bank.toml", &format!("{SMALL}\n{load}\n\n\n"));
    let ran = place.run("run bank.toml").ends(2).says(&["needs [trials]", "current = \"30 A\"", "1 error"]);
    assert!(!ran.err.contains("needs [load]"), "{}", ran.err);
    place.write("bank.toml", &format!("{SMALL}\n{trials}"));
    place.run("run bank.toml").ends(2).says(&["needs [load]", "1 error"]);
    assert_eq!(place.list(""), ["bank.toml"]);
}

#[test]
fn the_least_scenario_is_enough_for_a_point() {
    Place::small().run("point bank.toml --current 1 --json").ends(0);
}

#[test]
fn profiles_are_looked_for_beside_the_scenario_wherever_the_command_runs() {
    let place = Place::winter();
    for name in ["bank.toml", "load.csv", "air.csv"] {
        place.write(&format!("far/away/{name}"), &place.text(name));
    }
    let here = place.run("run bank.toml --trials 20 --json --quiet").ends(3);
    for name in ["load.csv", "air.csv"] {
        std::fs::remove_file(place.path(name)).unwrap();
    }
    let there = place.run("run far/away/bank.toml --trials 20 --json --quiet --out there").ends(3);
    assert_eq!(here.out, there.out, "the document does not tell where the files are");
    // The default folder is where the command runs, not beside the scenario.
    assert_eq!(place.list("output"), ["bank"]);
    assert_eq!(place.list("far/away"), ["air.csv", "bank.toml", "load.csv"]);
}

#[test]
fn windows_files_mean_the_same() {
    let place = Place::winter();
    let plain = place.run("run bank.toml --trials 20 --json --quiet --out plain").ends(3);
    for name in ["bank.toml", "load.csv", "air.csv"] {
        place.write(name, &format!("\u{feff}{}", place.text(name).replace('\n', "\r\n")));
    }
    let windows = place.run("run bank.toml --trials 20 --json --quiet --out windows").ends(3);
    assert_eq!(plain.out, windows.out);
}

#[test]
fn a_caret_in_a_windows_file_stands_where_it_should() {
    let text = format!("\u{feff}{}", with(SMALL, "\"100 Ah\"", "\"0 Ah\"").replace('\n', "\r\n"));
    let ran = Place::with(&text).run("check bank.toml").ends(2).says(&["bank.toml:7:12"]);
    assert!(!ran.err.contains('\r'));
}

#[test]
fn a_message_carries_no_control_characters_of_the_input() {
    let text = with(SMALL, "name = \"B\"", "name = \"\\u001b[2J\"");
    let ran = Place::with(&text).run("check bank.toml").ends(2);
    assert!(!ran.err.contains('\u{1b}') && !ran.err.is_empty());
}
