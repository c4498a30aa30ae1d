//! Files that are read, and files that cannot be.

use super::{SMALL, WHOLE, and, good, line_of, refused, with};
use bankwright::diagnostic::render;
use bankwright::scenario::check::{load, parse};
use bankwright::scenario::{Air, Load};
use std::fs;
use std::path::Path;

fn refused_file(bytes: &[u8], fragment: &str) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bank.toml");
    fs::write(&path, bytes).unwrap();
    let shown = render(&load(&path).expect_err("a fault"), false);
    assert!(shown.contains(fragment) && shown.contains("bank.toml"), "{shown}");
    assert!(shown.ends_with("1 error\n"), "{shown}");
}

#[test]
fn files_that_are_no_scenario() {
    refused_file(b"", "is empty");
    refused_file(b"\xef\xbb\xbf \r\n", "is empty");
    refused_file(b"\x7fELF\0\0\x01", "not a text but binary");
    refused_file(b"format = 1\ntitle = \"caf\xe9\"\n", "bank.toml:2:13");
    refused_file(&vec![b'#'; 5 << 20], "larger than 1 MiB");
    refused_file(b"format = 1\ntitle = ", "not TOML");
}

#[test]
fn a_file_that_is_not_there() {
    for path in ["/nowhere/bank.toml", "/"] {
        let shown = render(&load(Path::new(path)).expect_err("a fault"), false);
        assert!(shown.contains(&format!("cannot read {path}: ")), "{shown}");
    }
}

#[test]
fn a_file_as_written_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bank.toml");
    fs::write(&path, WHOLE).unwrap();
    let checked = load(&path).unwrap();
    assert_eq!(checked.scenario.title, "everything");
    assert_eq!(checked.text.name, path.display().to_string());
}

#[test]
fn profiles_are_found_beside_the_scenario() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("load.csv"), "hours,power\n0,1000\n24,1000\n").unwrap();
    fs::write(folder.path().join("air.csv"), "hours,air\n0,-5\n24,-9\n").unwrap();
    let text = and(SMALL, "[load]\nprofile = \"load.csv\"\n[climate]\nprofile = [\"air.csv\"]");
    let first = parse(&text, "bank.toml", folder.path()).unwrap();
    assert!(matches!(first.scenario.load, Some(Load::Profile(_))));
    assert!(matches!(first.scenario.climate.unwrap().air, Air::Profile(_)));
    fs::write(folder.path().join("air.csv"), "hours,air\n0,-5\n24,-9.5\n").unwrap();
    assert_ne!(parse(&text, "bank.toml", folder.path()).unwrap().digest, first.digest);
}

#[test]
fn profiles_that_cannot_be_read_are_faults_where_they_are_named() {
    let text = and(SMALL, "[load]\nprofile = \"load.csv\"");
    refused(&text, "load.csv", &["load.csv", "relative to the scenario file"]);
    refused(&and(SMALL, "[load]\nprofile = \"\""), "profile", &["`profile` is blank"]);
    refused(&and(SMALL, "[climate]\nprofile = []"), "profile", &["names no file"]);
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("air.csv"), "hours,air\n0,-5\n24,-9\n").unwrap();
    let text = and(SMALL, "[climate]\nprofile = [\n\"air.csv\",\n\"missing.csv\",\n]");
    let found = parse(&text, "bank.toml", folder.path()).expect_err("a fault");
    assert_eq!(found.len(), 1, "{}", render(&found, false));
    assert_eq!(found[0].place().0, line_of(&text, "missing.csv"));
}

#[test]
fn faults_within_a_profile_come_with_those_of_the_scenario() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("load.csv"), "hours,power\n0,1000\n24,fault\n").unwrap();
    let text = with(SMALL, "\"92 Ah\"", "92");
    let text = and(&text, "[load]\nprofile = \"load.csv\"");
    let found = parse(&text, "bank.toml", folder.path()).expect_err("a fault");
    assert_eq!(found.len(), 2, "{}", render(&found, false));
    assert_eq!(found[0].source.name, "bank.toml");
    assert!(found[1].source.name.ends_with("load.csv"));
}

#[test]
fn a_floor_column_and_a_floor_section_are_one_too_many() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("air.csv"), "hours,air,slab\n0,-5,3\n24,-9,2\n").unwrap();
    let climate = "[climate]\nprofile = \"air.csv\"\nfloor_column = \"slab\"";
    let checked = parse(&and(SMALL, climate), "bank.toml", folder.path()).unwrap();
    assert!(checked.scenario.climate.unwrap().floor.is_some());
    let both = and(SMALL, &format!("{climate}\n[floor]\nlag = \"8 h\""));
    let shown = render(&parse(&both, "bank.toml", folder.path()).expect_err("a fault"), false);
    assert!(shown.contains("the floor is given twice"), "{shown}");
}

#[test]
fn a_start_where_no_profile_has_dates_is_unusual_and_said_at_its_place() {
    let text = with(WHOLE, "hold = \"5 s\"", "start = \"17:00\"");
    let warnings = good(&text).warnings;
    let here = warnings.iter().filter(|w| w.place().0 == line_of(&text, "start = \"17:00\""));
    assert_eq!(here.map(|w| w.message.as_str()).collect::<Vec<_>>(), ["`start` draws no night"]);
}

#[test]
fn seasons_reach_the_scenario() {
    let season = "[climate]\nair = \"5 °C\"\nseason = [\"11-01\", \"02-29\"]";
    let checked = parse(&and(SMALL, season), "bank.toml", Path::new("/nowhere")).unwrap();
    assert_eq!(checked.scenario.climate.unwrap().season, Some(((11, 1), (2, 29))));
}
