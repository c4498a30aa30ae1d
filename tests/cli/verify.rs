//! The record of outside checks from outside.

use super::Place;
use serde_json::Value;

fn checks() -> Vec<Value> {
    let ran = Place::small().run("verify --json").ends(0);
    let document: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(document["failed"], 0);
    document["checks"].as_array().unwrap().clone()
}

/// Each says what it is of and where its answer is from, and passes by its own figures.
#[test]
fn every_check_passes_by_its_own_figures() {
    let all = checks();
    assert!(all.len() > 70, "{}", all.len());
    for check in &all {
        let number = |key: &str| check[key].as_f64().unwrap_or_else(|| panic!("{key} of {check}"));
        let text = |key: &str| check[key].as_str().unwrap_or_else(|| panic!("{key} of {check}")).len();
        assert!(text("what") > 5 && text("source") > 5 && text("part") > 0, "{check}");
        assert!(number("tolerance") >= 0.0, "{check}");
        assert!((number("got") - number("expected")).abs() <= number("tolerance"), "{check}");
        assert_eq!(check["pass"], true, "{check}");
    }
}

/// No two checks are of the same, and each part of the program has some.
#[test]
fn checks_are_of_every_part_and_each_of_something_else() {
    let all = checks();
    let mut whats: Vec<&str> = all.iter().map(|check| check["what"].as_str().unwrap()).collect();
    whats.sort_unstable();
    assert!(whats.windows(2).all(|pair| pair[0] != pair[1]));
    for part in ["conductors", "devices", "networks", "modules", "nights", "statistics"] {
        assert!(all.iter().filter(|check| check["part"] == part).count() >= 5, "{part}");
    }
}

#[test]
fn the_table_tells_every_check_and_its_source() {
    let ran = Place::small().run("verify").ends(0);
    let rows = ran.out.lines().filter(|line| line.contains('✔')).count();
    assert_eq!(rows, checks().len());
    assert!(ran.out.starts_with(&format!("All {rows} checks")), "{}", ran.out);
    assert!(!ran.out.contains('✖') && ran.out.contains("  [1] IEC 60228"), "{}", ran.out);
    assert!(ran.err.is_empty());
}
