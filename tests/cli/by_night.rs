//! Trials of one calendar night resemble each other: what they say alone, and what the record's nights say, side by side.

use super::{Place, SMALL, number};

/// Three hundred evenings, on two of which a heavy load is over the leads' rating in any case; nothing else is random.
fn two_evenings(targets: &str) -> Place {
    let bank = format!(
        "{}\n[load]\nprofile = \"load.csv\"\n[trials]\ncount = 3000\nhorizon = \"2 h\"\nstart = \"17:00\"\n[targets]\n{targets}\n",
        SMALL.replace("resistance = \"1 mΩ\"", "resistance = \"1 mΩ\"\nrating = \"30 A\"")
    );
    let place = Place::with(&bank);
    let mut load = "time,power\n".to_owned();
    for day in 0..301 {
        let (month, date) = (day / 28 + 1, day % 28 + 1);
        // No day of the months is left out: of each the first 28.
        let heavy = [40, 190].contains(&day);
        load += &format!("2021-{month:02}-{date:02}T12:00,{}\n", if heavy { 4000 } else { 1000 });
    }
    place.write("load.csv", &load);
    place
}

#[test]
fn two_bad_evenings_in_a_record_are_two_of_its_nights() {
    let place = two_evenings("overload_probability = 0.012");
    let document = place.run("run bank.toml --json --quiet").ends(3).json();
    let nights = document["nights"]["distinct"].as_u64().unwrap();
    let any = &document["overload"]["any"];
    let [low, high] = [0, 1].map(|k| number(&any["by_night"][k]));
    let exact = bankwright::summary::interval::clopper_pearson(2, nights);
    assert!(nights > 250 && (low - exact.low).abs() < 1e-12 && (high - exact.high).abs() < 1e-12, "{any} {exact:?}");
    assert_eq!(document["overload"]["any_by_night"], any["by_night"]);
    assert!(low < number(&any["low"]) && number(&any["high"]) < 0.012 && high > 0.012);
    let target = &document["targets"][0];
    assert_eq!((&target["verdict"], &target["got"]["by_night"]), (&"not_decided".into(), &any["by_night"]));
    let text = place.run("run bank.toml --quiet --force").ends(3).out;
    for words in
        ["? not decided", "% by trials; ", "% by calendar nights", "the record has too few nights to decide it"]
    {
        assert!(text.contains(words), "no {words:?} in\n{text}");
    }
    let page = place.text("output/bank/overview.html");
    assert!(page.contains("by calendar nights") && page.contains("asks for a longer record"));
    // What both say is decided.
    let both = two_evenings("overload_probability = 0.04\nride_through = \"1 h\"\nride_through_probability = 0.9");
    both.run("run bank.toml --quiet").ends(0);
    two_evenings("overload_probability = 0.0005").run("run bank.toml --quiet").ends(3);
}

/// `compare` and `propose` judge as `run` does.
#[test]
fn layouts_are_judged_by_the_record_too() {
    let place = two_evenings("overload_probability = 0.012");
    let prices = "[prices]\ncurrency = \"EUR\"\n[[layout]]\nname = \"same\"\n[layout.cable.lead]\nprice = 8\n";
    let text = place.text("bank.toml").replace("charge_limit = \"40 A\"", "charge_limit = \"40 A\"\nprice = 500");
    let text = text
        .replace("rating = \"140 A\"", "rating = \"140 A\"\nprice = 4")
        .replace("rating = \"30 A\"", "rating = \"30 A\"\nprice = 9");
    place.write("bank.toml", &(text + prices));
    let compared = place.run("compare bank.toml --json --quiet").ends(3).json();
    let target = &compared["layouts"][0]["targets"][0];
    assert_eq!(target["verdict"], "not_decided");
    assert!(number(&target["got"]["high"]) < 0.012 && number(&target["got"]["by_night"][1]) > 0.012, "{target}");
    let proposal = place.run("propose bank.toml --json --quiet").ends(3).json();
    assert_eq!(proposal["layouts"][0]["fate"], "not_decided");
    let told = place.run("propose bank.toml --quiet --force").ends(3).out;
    assert!(told.contains("by calendar nights"), "{told}");
}
