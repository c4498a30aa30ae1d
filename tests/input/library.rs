//! Types from a file that many scenarios share.

use super::{LAYOUT_OF_CABLE, SMALL, with};
use bankwright::diagnostic::{Diagnostic, render};
use bankwright::scenario::check::{Checked, load};

const LIBRARY: &str = "# invented\nformat = 1\ntitle = \"what is in the store\"\n\n\
    [cable.link]\nresistance = \"0.25 mΩ\"\nrating = \"140 A\"\nprice = 7\n\n\
    [prices]\ncurrency = \"EUR\"\n";

/// `SMALL` with its cable from a library.
fn scenario() -> String {
    let own = "[cable.link]\nresistance = \"0.25 mΩ\"\nrating = \"140 A\"\n";
    with(&with(SMALL, own, ""), "format = 1\n", "format = 1\nparts = \"parts.toml\"\n")
}

fn judged(scenario: &str, library: &str) -> Result<Checked, Vec<Diagnostic>> {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("bank.toml"), scenario).unwrap();
    std::fs::write(dir.path().join("parts.toml"), library).unwrap();
    load(&dir.path().join("bank.toml"))
}

/// One fault, in this file at the line with this piece.
fn refused(scenario: &str, library: &str, (file, at): (&str, &str), fragment: &str) {
    let found = judged(scenario, library).expect_err("a fault");
    let shown = render(&found, false);
    assert_eq!(found.len(), 1, "{shown}");
    let text = if file == "parts.toml" { library } else { scenario };
    let line = text.lines().position(|l| l.contains(at)).unwrap() + 1;
    assert!(found[0].source.name.ends_with(file) && found[0].place().0 == line, "{shown}");
    assert!(shown.contains(fragment), "{shown}");
}

#[test]
fn types_come_from_the_file_as_if_they_stood_here() {
    let shared = judged(&scenario(), LIBRARY).unwrap();
    let alone = super::good(SMALL);
    assert_eq!(shared.scenario.cables[0].rating, alone.scenario.cables[0].rating);
    assert_eq!(shared.scenario.cables[0].price, Some(7.0));
    assert_eq!(shared.scenario.prices.currency.as_deref(), Some("EUR"));
    let other = judged(&scenario(), &LIBRARY.replace("140 A", "141 A")).unwrap();
    assert_ne!(shared.digest, other.digest, "a changed library is another scenario");
}

#[test]
fn a_fault_is_told_in_the_file_that_it_is_in() {
    let here = ("parts.toml", "rating");
    refused(&scenario(), &with(LIBRARY, "140 A", "140"), here, "`rating` is \"140\"");
    let here = ("parts.toml", "ratting");
    refused(&scenario(), &with(LIBRARY, "rating", "ratting"), here, "did you mean `rating`?");
    refused(
        &scenario(),
        &format!("{LIBRARY}[load]\npower = \"1 W\"\n"),
        ("parts.toml", "[load]"),
        "unknown key `load`",
    );
    refused(&scenario(), &with(LIBRARY, "price = 7", "price = = 7"), ("parts.toml", "= ="), "not TOML");
    refused(
        &scenario(),
        &with(LIBRARY, "format = 1", "format = 9"),
        ("parts.toml", "format"),
        "this file is of another format",
    );
    let here = ("bank.toml", "leads");
    refused(&with(&scenario(), "{ cable = \"link\"", "{ cable = \"lnk\""), LIBRARY, here, "did you mean \"link\"?");
}

#[test]
fn a_name_stands_in_one_of_the_two() {
    let twice = scenario() + "[cable.link]\nresistance = \"1 mΩ\"\n";
    refused(&twice, LIBRARY, ("bank.toml", "[cable.link]"), "[cable.link] is in the parts file too");
    let twice = scenario() + "[prices]\ncurrency = \"Fr.\"\n";
    refused(&twice, LIBRARY, ("bank.toml", "[prices]"), "leave it out of one of the two");
}

#[test]
fn a_file_that_is_not_there_is_told_where_it_is_named() {
    let text = with(&scenario(), "parts.toml", "prts.toml");
    refused(&text, LIBRARY, ("bank.toml", "prts.toml"), "cannot read");
    refused(&with(&scenario(), "\"parts.toml\"", "7"), LIBRARY, ("bank.toml", "parts = 7"), "no path");
}

/// Where base and override stand in two files, each value is told in its own.
#[test]
fn a_layout_may_override_what_the_library_has() {
    let layout = scenario() + LAYOUT_OF_CABLE;
    let checked = judged(&layout, LIBRARY).unwrap();
    assert_eq!(checked.layouts[0].design.cables[0].rating, Some(150.0));
    refused(&layout.replace("150 A", "150"), LIBRARY, ("bank.toml", "\"150\""), "in layout \"other\": `rating`");
}
