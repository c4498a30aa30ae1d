//! `bankwright propose`: the document, the folder and the exit codes; nothing random.

use super::{CONSTANT, Place, SMALL};

/// Two modules of 60 A a stack and one; at 30 A nothing is over, the limit decides.
const CHOICE: &str = "\n[[layout]]\nname = \"better\"\n[layout.cable.jumper]\nrating = \"200 A\"\nprice = 9\n\
                      [layout.cable.lead]\nrating = \"190 A\"\nprice = 12\n\
                      [[layout]]\nname = \"best\"\n[layout.cable.jumper]\nrating = \"300 A\"\nprice = 90\n\
                      [prices]\ncurrency = \"EUR\"\n";

fn place(limit: &str) -> Place {
    let small = SMALL.replace("charge_limit = \"40 A\"", "charge_limit = \"40 A\"\nprice = 500");
    let small = small.replace("rating = \"140 A\"", "rating = \"20 A\"\nprice = 4");
    let small = small.replace("resistance = \"1 mΩ\"", "resistance = \"1 mΩ\"\nprice = 8");
    Place::with(&format!("{small}\n{CONSTANT}\n{CHOICE}\n[targets]\nlimit = \"{limit}\"\n"))
}

#[test]
fn the_cheapest_that_meets_the_limit_is_proposed_without_a_night() {
    let place = place("100 A");
    let document = place.run("propose bank.toml --json --quiet").ends(0).json();
    assert_eq!(document["layouts"][1]["name"], "better");
    assert_eq!(document["proposed"], 1);
    assert_eq!(document["layouts"][0]["fate"], "limit_missed");
    assert_eq!(document["layouts"][2]["fate"], "runner_up");
    assert_eq!(document["screening"]["nights_run"], 0);
    assert_eq!(document["screening"]["nights_spared"], 9);
    let files = ["manifest.json", "overview.html", "parts.csv", "proposal.csv", "proposal.svg", "results.json"];
    assert_eq!(place.list("output/bank-propose"), files);
    let html = place.text("output/bank-propose/overview.html");
    for words in
        ["Proposed: &quot;better&quot;", "Parts of &quot;better&quot;", "safe up to 100.0 A", "not an approval"]
    {
        assert!(html.contains(words), "{words}");
    }
    let text = place.run("propose bank.toml --quiet --force").ends(0).out;
    assert!(text.contains("Proposed: \"better\"") && text.contains("A.jumper1-2"), "{text}");
}

#[test]
fn exit_codes() {
    place("900 A").run("propose bank.toml --quiet").ends(3);
    let place = Place::with(&format!("{SMALL}\n{CONSTANT}\n[[layout]]\nname = \"x\"\n"));
    place.run("propose bank.toml --quiet").ends(2).says(&["has no price", "bank.toml:", "[prices]"]);
    assert!(!place.path("output").exists());
}

/// A lead without a price would make its layout the cheapest.
#[test]
fn half_of_the_prices_are_not_enough() {
    let place = place("100 A");
    let text = place.text("bank.toml");
    assert!(text.contains("\nprice = 8\n"));
    place.write("bank.toml", &text.replace("\nprice = 8\n", "\n"));
    let told = ["bank.toml:", "in layout \"as written\" lead", "has no price", "give `price`"];
    place.run("propose bank.toml --quiet").ends(2).says(&told);
    place.write("bank.toml", &text.replace("limit = \"100 A\"", "").replace("[targets]", ""));
    place.run("propose bank.toml --quiet").ends(2).says(&["bank.toml:", "something to meet", "[targets]"]);
    assert!(!place.path("output").exists());
}
