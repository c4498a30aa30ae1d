//! Insulation, terminals and surroundings of cables.

use super::{SMALL, WHOLE, good, line_of, refused, with};
use bankwright::diagnostic::render;
use bankwright::scenario::{Ampacity, Terminal};

const SIZE: &str = "size = \"35 mm2\"\nlength = \"2 m\"";

/// The link of the small bank by size, without its rating.
fn sized(more: &str) -> String {
    let text = with(SMALL, "resistance = \"0.25 mΩ\"", SIZE);
    with(&text, "rating = \"140 A\"", more)
}

fn insulated(more: &str) -> String {
    sized(&format!("insulation = \"90 °C\"\n{more}"))
}

fn ampacity(text: &str) -> Ampacity {
    let checked = good(text);
    assert!(checked.warnings.is_empty(), "{}", render(&checked.warnings, false));
    checked.scenario.cables[0].ampacity.unwrap()
}

#[test]
fn a_makers_current_with_every_default() {
    let a = ampacity(&insulated("ampacity = \"180 A\""));
    assert_eq!((a.current, a.insulation, a.base), (180.0, 90.0, 30.0));
    assert_eq!((a.terminal, a.bundling, a.above_base), (None, 1.0, false));
    // IEC 60949: 3.45 J/(K·cm³) of copper; 35 mm² of class 5 has 0.554 mΩ/m at 20 °C (IEC 60228).
    let watt_per_metre = 180.0 * 180.0 * 0.554e-3 * (1.0 + 0.00393 * 70.0);
    let seconds = 3.45e6 * 35e-6 * 60.0 / watt_per_metre;
    assert!((a.time_constant / seconds - 1.0).abs() < 1e-12, "{}", a.time_constant);
    assert_eq!(good(SMALL).scenario.cables[0].ampacity, None);
}

#[test]
fn currents_of_the_tables() {
    // IEC 60364-5-52, method F, XLPE and PVC; NFPA 70, Table 310.16.
    let table = "ampacity = \"table\"";
    assert_eq!(ampacity(&insulated(table)).current, 169.0);
    assert_eq!(ampacity(&insulated(&format!("{table}\nloaded = 3"))).current, 169.0);
    assert_eq!(ampacity(&insulated(&format!("{table}\nloaded = 2"))).current, 200.0);
    let pvc = with(&insulated(table), "90 °C", "70 °C");
    assert_eq!(ampacity(&pvc).current, 137.0);
    let gauge = with(&insulated(table), "35 mm2", "2/0 AWG");
    assert_eq!(ampacity(&gauge).current, 195.0);
}

#[test]
fn cables_with_everything() {
    let s = good(WHOLE).scenario;
    let of = |name: &str| s.cables.iter().find(|c| c.name == name).unwrap().ampacity.unwrap();
    let jumper = of("jumper");
    assert_eq!((jumper.current, jumper.insulation, jumper.time_constant), (150.0, 105.0, 300.0));
    // No column for 75 °C in the table of sections: by the square root of the rises.
    let lead = of("lead").terminal.unwrap();
    assert_eq!(lead.temperature, 75.0);
    assert!((lead.current - 200.0 * (45.0f64 / 60.0).sqrt()).abs() < 1e-9);
    let stiff = of("stiff");
    assert_eq!((stiff.current, stiff.base, stiff.above_base), (220.0, 25.0, true));
    // NFPA 70: 1/0 AWG has 170 A at 90 °C and 150 A at 75 °C (Table 310.16); 310.15(C)(1).
    let foreign = of("foreign");
    assert_eq!((foreign.current, foreign.bundling), (170.0, 0.8));
    assert_eq!(foreign.terminal, Some(Terminal { temperature: 75.0, current: 150.0 }));
}

#[test]
fn bundles_by_their_number() {
    // NFPA 70, 310.15(C)(1).
    for (bundled, factor) in [(1, 1.0), (3, 1.0), (4, 0.8), (9, 0.7), (20, 0.5), (30, 0.45), (40, 0.4), (1000, 0.35)] {
        let text = insulated(&format!("ampacity = \"180 A\"\nbundled = {bundled}"));
        assert_eq!(ampacity(&text).bundling, factor, "{bundled}");
    }
}

#[test]
fn keys_of_insulation_that_belong_together() {
    let current = |more: &str| insulated(&format!("ampacity = \"180 A\"\n{more}"));
    let table = |more: &str| insulated(&format!("ampacity = \"table\"\n{more}"));
    let cases = [
        (sized("insulation = \"90 °C\""), "[cable.link]", "has no `ampacity`"),
        (sized("ampacity = \"180 A\""), "[cable.link]", "has no `insulation`"),
        (sized("base = \"40 °C\""), "base", "needs `insulation` and `ampacity`"),
        (sized("bundled = 4"), "bundled", "needs `insulation` and `ampacity`"),
        (sized("time_constant = \"5 min\""), "time_constant", "needs `insulation` and `ampacity`"),
        (current("loaded = 2"), "loaded", "`ampacity = \"table\"`"),
        (current("base = \"90 °C\""), "insulation", "above the air of `base`, 90 °C"),
        (current("terminals = \"30 °C\""), "terminals", "above the air of `base`, 30 °C"),
        (current("bundled = 0"), "bundled", "from 1 to 1000"),
        (current("above_base = \"yes\""), "above_base", "expected true or false"),
        (current("time_constant = \"0 s\""), "time_constant", "at least 0.001 s"),
        (table("base = \"40 °C\""), "base", "for air of 30 °C"),
        (table("loaded = 4"), "loaded", "from 2 to 3"),
        (insulated("ampacity = \"0 A\""), "ampacity", "more than 0 A"),
        (insulated("ampacity = \"tables\""), "ampacity", "does not start with a number"),
        (with(&table(""), "90 °C", "40 °C"), "insulation", "at least 50 °C"),
        (with(&table(""), "90 °C", "75 °C"), "ampacity", "no table has 35 mm² with insulation of 75 °C"),
        (with(&table("loaded = 2"), "90 °C", "70 °C"), "ampacity", "25 to 95 mm² at 90 °C only"),
        (with(&table("loaded = 3"), "35 mm2", "2 AWG"), "loaded", "up to three"),
    ];
    for (text, at, fragment) in cases {
        refused(&text, at, &[fragment]);
    }
    let unsized_link = |more: &str| with(SMALL, "rating = \"140 A\"", &format!("insulation = \"90 °C\"\n{more}"));
    refused(&unsized_link("ampacity = \"table\""), "ampacity", &["needs `size`"]);
    refused(&unsized_link("ampacity = \"180 A\""), "[cable.link]", &["has no `time_constant`"]);
    good(&unsized_link("ampacity = \"180 A\"\ntime_constant = \"5 min\""));
}

#[test]
fn a_rating_above_its_ampacity_is_warned_of() {
    let text = insulated("ampacity = \"table\"\nterminals = \"60 °C\"\nrating = \"125 A\"");
    // 169 A·√(30 K/60 K) = 119.5 A.
    let warnings = good(&text).warnings;
    let shown = render(&warnings, false);
    assert!(shown.contains("`rating` is 125 A, its ampacity 119.5") && shown.ends_with("1 warning\n"), "{shown}");
    assert_eq!(warnings[0].place().0, line_of(&text, "rating"));
    assert!(good(&with(&text, "125 A", "119 A")).warnings.is_empty());
}
