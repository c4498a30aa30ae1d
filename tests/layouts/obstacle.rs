//! Where no layout meets every target, what stands in the way is told.

use super::proposed::proposal;
use super::{TINY, candidates, checked, compared, nights};
use bankwright::study::compare::Comparison;
use bankwright::study::compare::output::{chart, text, words as finding};
use bankwright::study::propose::output::words;
use bankwright::summary::Verdict;

/// 150 Ah at 90 % and 95 A last for some 1.4 h: no layout serves 2.5 h, and no lead pair has a part in it.
fn too_little_charge() -> String {
    let text = TINY.replace("horizon = \"40 min\"", "horizon = \"3 h\"").replace("count = 400", "count = 60");
    let targets = "[targets]\nride_through = \"2.5 h\"\nride_through_probability = 0.9\n";
    let (before, rest) = text.split_once("[targets]").unwrap();
    format!("{before}{targets}\n[prices]{}", rest.split_once("[prices]").unwrap().1)
}

/// All three modules are too cold to discharge, from dusk on.
fn too_cold() -> String {
    let cold = "open_circuit = \"lfp\"\ndischarge_temperature = { low = \"-10 °C\" }";
    too_little_charge().replacen("open_circuit = \"lfp\"", cold, 1) + "\n[climate]\nair = \"-15 °C\"\n"
}

fn comparison(text: &str) -> Comparison {
    let checked = checked(text);
    let candidates = candidates(&checked);
    compared(&candidates, &nights(&candidates, 30))
}

#[test]
fn charge_that_no_lead_can_add_is_told_as_what_stands_in_the_way() {
    let c = comparison(&too_little_charge());
    let told = finding::sentences(&c).join("\n");
    assert!(told.contains("No layout meets every target.\n"), "{told}");
    assert!(told.contains("Every layout misses: served for 2.5 h"), "{told}");
    let same = "Each of them comes to none of 60 nights (below ";
    assert!(
        told.contains(same) && told.contains(", by the very same nights: lead pairs have no part in it."),
        "{told}"
    );
    assert!(
        told.contains("of 60 nights with more than half of the modules in service or empty (the charge,"),
        "{told}"
    );
    // The same by `propose`, which stops at its first look.
    let told = words::sentences(&proposal(&checked(&too_little_charge()))).join("\n");
    assert!(told.contains("No layout meets every target.\nEvery layout misses: served for 2.5 h"), "{told}");
    assert!(told.contains("(the charge, or the voltage that the load leaves, ends it: more modules"), "{told}");
    assert!(told.contains("No layout was ruled out early; "), "{told}");
}

#[test]
fn cold_modules_are_told_as_what_stands_in_the_way() {
    let told = finding::sentences(&comparison(&too_cold())).join("\n");
    assert!(
        told.contains(
            "Service ended in 60 of 60 nights with half of the modules or more out, most of them too cold (heaters,"
        ),
        "{told}"
    );
}

/// Where layouts do differ, the one that comes nearest is named with what it comes to.
#[test]
fn the_nearest_layout_is_named_where_they_differ() {
    let mut c = comparison(TINY);
    for l in &mut c.layouts {
        l.targets.iter_mut().for_each(|t| t.verdict = Verdict::Missed);
        l.at_rest.limit_target.iter_mut().for_each(|t| t.verdict = Verdict::Missed);
    }
    let least = c.layouts.iter().map(|l| l.targets[0].got.estimate).fold(1.0, f64::min);
    let nearest = c.layouts.iter().find(|l| l.targets[0].got.estimate == least).unwrap();
    let greatest =
        |l: &&bankwright::study::compare::LayoutResult| l.at_rest.limit_target.clone().unwrap().got_a.unwrap();
    let strongest = c.layouts.iter().reduce(|a, b| if greatest(&b) > greatest(&a) { b } else { a }).unwrap();
    let told = finding::sentences(&c).join("\n");
    assert!(told.contains(&format!("Nearest is \"{}\": ", nearest.name)), "{told}");
    assert!(
        told.contains(&format!("safe up to 70.0 A with any module out. Nearest is \"{}\": ", strongest.name)),
        "{told}"
    );
    // One that is not decided may yet meet them all.
    c.layouts[3].targets[0].verdict = Verdict::NotDecided;
    c.layouts[3].at_rest.limit_target.iter_mut().for_each(|t| t.verdict = Verdict::Met);
    let told = finding::sentences(&c).join("\n");
    assert!(told.contains("No layout is shown to meet every target; 1 is not decided, the others miss one."), "{told}");
    assert!(!told.contains("Every layout misses"), "{told}");
}

/// What is drawn, without the description of it.
fn drawn(svg: &str) -> String {
    svg.split_once("</desc>").map_or(svg, |parts| parts.1).to_owned()
}

#[test]
fn layouts_whose_hours_do_not_differ_share_a_panel() {
    let mut c = comparison(TINY);
    let one = c.layouts[0].clone();
    for l in &mut c.layouts {
        (l.ride_through_h, l.ride_through_met) = (one.ride_through_h.clone(), one.ride_through_met);
    }
    let svg = chart::hours(&c).unwrap();
    let all = format!("All {} layouts", c.layouts.len());
    assert!(drawn(&svg).contains(&all) && !drawn(&svg).contains("1 pair, one end"), "{svg}");
    assert!(svg.contains("share a panel."), "{svg}");
    // Ten of the sixty nights that end sooner are a line of their own.
    c.layouts[4].ride_through_h.histogram.insert(0, (0.25, 10));
    let svg = drawn(&chart::hours(&c).unwrap());
    let name = c.layouts[4].name.split(", ").next().unwrap();
    assert!(svg.contains("alike") && svg.contains(name) && !svg.contains(&all), "{svg}");
}

/// A column of what is wanted says that no night had it, not that none was seen.
#[test]
fn no_night_served_is_no_night_and_not_none_seen() {
    let c = comparison(&too_cold());
    let told = text::text(&c);
    assert!(told.contains("no night (< ") && told.contains("No night tells a layout from the next"), "{told}");
    let reasons = words::text(&proposal(&checked(&too_cold())));
    assert!(reasons.contains("no night (< ") && reasons.contains("; wanted: served for 2.5 h"), "{reasons}");
}
