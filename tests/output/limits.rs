//! The figures of the safe limit, of shipped and of large banks: well-formed, nothing clipped, no text on another.

use super::markup;
use bankwright::network::Demand;
use bankwright::progress::Progress;
use bankwright::scenario::check::{load, parse};
use bankwright::scenario::{Faults, Scenario};
use bankwright::study::limit::output::{chart, chart_by_air};
use bankwright::study::limit::{Limits, MOST_SETS, Question, solve};
use bankwright::study::sensitivity;
use bankwright::study::sensitivity::output::{chart as sensitivity_chart, words as sensitivity_words};
use bankwright::study::static_risk::output::{chart as chance_chart, words as chance_words};
use bankwright::study::static_risk::{self, LoadAt, quantiles};
use std::path::Path;

fn shipped(name: &str) -> Scenario {
    load(&Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(name)).unwrap().scenario
}

/// Two stacks of eight on two pairs each.
fn sixteen() -> Scenario {
    let lead = |p: u8, n: u8| format!("{{ cable = \"lead\", positive = {p}, negative = {n} }}");
    let stack = |name: &str| {
        let leads = [lead(8, 1), lead(1, 8)].join(", ");
        format!("[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = 8\njumper = \"jumper\"\nleads = [{leads}]\n")
    };
    let text = format!(
        "format = 1\ntitle = \"sixteen\"\n[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"13 mΩ\"\n\
         open_circuit = \"lfp\"\ndischarge_limit = \"85 A\"\ncharge_limit = \"40 A\"\n[cable.jumper]\n\
         resistance = \"0.25 mΩ\"\nrating = \"140 A\"\n[cable.lead]\nsize = \"35 mm2\"\nlength = \"2 m\"\n\
         rating = \"160 A\"\n{}{}",
        stack("A"),
        stack("B")
    );
    parse(&text, "sixteen.toml", Path::new("")).unwrap().scenario
}

fn limits(scenario: &Scenario, outages: usize, airs: &[f64]) -> Limits {
    let (air, also_air) = (airs[0], airs[1..].to_vec());
    solve(scenario, &Question { outages, soc: None, air, also_air, most_sets: MOST_SETS }, &Progress::none()).unwrap()
}

fn cases() -> Vec<(&'static str, Limits)> {
    let mut unrated = sixteen();
    unrated.modules[0].discharge_limit = None;
    unrated.cables.iter_mut().for_each(|c| c.rating = None);
    let few = Question { outages: 8, soc: None, air: 25.0, also_air: Vec::new(), most_sets: 200 };
    let bounded = solve(&sixteen(), &few, &Progress::none()).unwrap();
    vec![
        ("refuge", limits(&shipped("refuge.toml"), 2, &[25.0])),
        ("refuge, frost", limits(&shipped("refuge.toml"), 1, &[-15.0])),
        ("polder", limits(&shipped("polder.toml"), 2, &[25.0])),
        ("boat house", limits(&shipped("boat_house.toml"), 5, &[25.0])),
        ("boat house, held", limits(&shipped("boat_house_held.toml"), 1, &[25.0])),
        ("sixteen", limits(&sixteen(), 6, &[25.0])),
        ("sixteen, all", limits(&sixteen(), 16, &[25.0])),
        ("sixteen, bounded", bounded),
        ("unrated", limits(&unrated, 1, &[25.0])),
    ]
}

/// Well-formed, without numbers that are none, all text on the sheet and none on another.
pub fn judge(svg: &str, name: &str) {
    markup::check(svg, name);
    assert!(!svg.contains("NaN") && !svg.contains("#F1"), "{name}: a marker colour or NaN is left");
    let height: f64 = svg.split("viewBox=\"0 0 7200 ").nth(1).unwrap().split('"').next().unwrap().parse().unwrap();
    let boxes: Vec<_> = svg
        .split("<text ")
        .skip(1)
        .zip(markup::texts(svg))
        .map(|(tag, t)| placed(tag, t))
        .filter(|t| !t.words.is_empty())
        .collect();
    for (k, a) in boxes.iter().enumerate() {
        assert!(a.left >= -1.0 && a.right <= 7201.0, "{name}: {:?} is clipped", a.words);
        assert!(a.y >= 0.0 && a.y <= height, "{name}: {:?} is clipped", a.words);
        let over = |b: &&Placed| (a.y - b.y).abs() < 110.0 && a.left < b.right && b.left < a.right;
        let hit = boxes[k + 1..].iter().find(over);
        assert!(hit.is_none(), "{name}: {:?} lies on {:?}", a.words, hit.map(|b| &b.words));
    }
}

struct Placed {
    left: f64,
    right: f64,
    y: f64,
    words: String,
}

fn placed(tag: &str, (x, anchor, width, words): (f64, String, f64, String)) -> Placed {
    let y = tag.split(" y=\"").nth(1).or_else(|| tag.strip_prefix("y=\"")).unwrap();
    let y: f64 = y.split('"').next().unwrap().parse().unwrap();
    // Labels below an axis hang from their point, those above stand on it; all others are centred.
    let y = if tag.contains("dy=\"0.76em\"") { y + 60.0 } else { y };
    let left = match anchor.as_str() {
        "start" => x,
        "end" => x - width,
        _ => x - width / 2.0,
    };
    Placed { left, right: left + width, y, words }
}

#[test]
fn the_limit_by_modules_out_is_clear_of_itself() {
    for (name, limits) in cases() {
        judge(&chart::limits(&limits).unwrap(), name);
    }
}

#[test]
fn the_limit_by_temperature_is_clear_of_itself() {
    let range: Vec<f64> = std::iter::once(25.0).chain((-30..=60).map(f64::from)).collect();
    let mut hot = sixteen();
    hot.cables[1].rating = None;
    for (name, limits) in [
        ("refuge", limits(&shipped("refuge.toml"), 3, &range)),
        ("refuge, few", limits(&shipped("refuge.toml"), 1, &[5.0, 20.0])),
        ("polder", limits(&shipped("polder.toml"), 2, &range)),
        ("boat house", limits(&shipped("boat_house.toml"), 5, &range)),
        ("sixteen", limits(&hot, 2, &[25.0, -10.0])),
    ] {
        let svg = chart_by_air::limits_by_air(&limits).unwrap();
        judge(&svg, name);
        assert!(name != "polder" || svg.contains("below it A.jumper7-8+ by its rating binds, above it A8"), "{svg}");
    }
}

#[test]
fn the_chances_by_load_are_clear_of_themselves() {
    let ask = |scenario: &Scenario, loads: Vec<LoadAt>| {
        let question = static_risk::Question { soc: None, air: 25.0, loads, most_sets: MOST_SETS };
        static_risk::solve(scenario, &question, &Progress::none()).unwrap()
    };
    let stated = |amps| LoadAt { share: None, demand: Demand::Current(amps) };
    let (refuge, polder) = (shipped("refuge.toml"), shipped("polder.toml"));
    let mut many = sixteen();
    many.faults = polder.faults;
    for (name, chances) in [
        ("refuge", ask(&refuge, quantiles(&refuge))),
        ("polder", ask(&polder, quantiles(&polder))),
        ("sixteen", ask(&many, [300.0, 450.0, 600.0, 640.5, 700.0].map(stated).to_vec())),
        ("small", ask(&many, vec![stated(5.0)])),
        ("charge", ask(&many, [-300.0, -600.0].map(stated).to_vec())),
    ] {
        let svg = chance_chart::chances(&chances).unwrap();
        judge(&svg, name);
        assert_eq!(
            svg.contains("Nothing is over its limit at 5.0 A, in any set of modules out that was solved"),
            name == "small",
            "{name}"
        );
        // Both poles of a lead or a jumper are over at once, and are told in one.
        assert!(name != "refuge" || svg.contains("B.lead1+/-"), "{svg}");
    }
}

/// 16 modules of which one is out for an hour in two thousand years, more or less: what takes several is far below 10⁻⁹.
#[test]
fn chances_too_small_to_mean_anything_are_drawn_and_told_as_such() {
    let mut many = sixteen();
    many.faults = many.faults.or(shipped("polder.toml").faults).map(|f| Faults { mtbf: f.mtbf * 1e4, ..f });
    let stated = |amps| LoadAt { share: None, demand: Demand::Current(amps) };
    for (name, amps, any_above) in
        [("one", &[200.0][..], false), ("some", &[100.0, 200.0], false), ("mixed", &[100.0, 620.0, 700.0], true)]
    {
        let loads = amps.iter().copied().map(stated).collect();
        let question = static_risk::Question { soc: None, air: 25.0, loads, most_sets: MOST_SETS };
        let chances = static_risk::solve(&many, &question, &Progress::none()).unwrap();
        let tiny = |p: f64| p > 0.0 && p < 1e-9;
        assert!(chances.loads.iter().any(|at| tiny(at.any.low)), "{name}: {chances:?}");
        let svg = chance_chart::chances(&chances).unwrap();
        judge(&svg, name);
        let told = chance_words::table(std::slice::from_ref(&chances));
        for text in [&svg, &told] {
            assert!(
                text.contains("below 10⁻⁹") && !text.contains("×10⁻¹") && !text.contains("×10⁻²"),
                "{name}: {text}"
            );
        }
        assert_eq!(
            svg.contains("No element's chance of being over its limit reaches 10⁻⁹"),
            !any_above,
            "{name}: {svg}"
        );
        let circle = |part: &str, key: &str| -> f64 {
            part.split(&format!(" {key}=\"")).nth(1).unwrap().split('"').next().unwrap().parse().unwrap()
        };
        let points: Vec<(f64, f64)> =
            svg.split("<circle").skip(1).map(|c| (circle(c, "cx"), circle(c, "cy"))).collect();
        assert!(!points.is_empty(), "{name}: the panel is empty");
        // From the middle of the last tick of the axis down to the line below the strip.
        let axis = markup::texts(&svg).into_iter().any(|t| t.3 == "below 10⁻⁹" && t.1 == "end");
        assert!(axis, "{name}: the strip has no name");
        let floor = svg.split("viewBox=\"0 0 7200 ").nth(1).unwrap().split('"').next().unwrap().parse().unwrap();
        assert!(points.iter().all(|p| (960.0..=5000.0).contains(&p.0) && (0.0..floor).contains(&p.1)), "{points:?}");
    }
}

#[test]
fn what_moves_the_limit_is_clear_of_itself() {
    let ask = |scenario: &Scenario, outages| {
        let question = sensitivity::Question { outages, soc: None, air: 25.0, most_sets: MOST_SETS };
        sensitivity::solve(scenario, &question, &Progress::none()).unwrap()
    };
    for (name, scenario, outages) in [
        ("refuge", shipped("refuge.toml"), 1),
        ("polder", shipped("polder.toml"), 2),
        ("boat house", shipped("boat_house.toml"), 1),
        ("sixteen", sixteen(), 2),
        ("none left", shipped("polder.toml"), 8),
    ] {
        judge(&sensitivity_chart::sensitivity(&ask(&scenario, outages)).unwrap(), name);
    }
    let svg = sensitivity_chart::sensitivity(&ask(&shipped("refuge.toml"), 1)).unwrap();
    assert!(svg.contains("What buys most in discharge: stack B: one more lead pair (+"));
    let rows = sensitivity_words::csv(&ask(&shipped("polder.toml"), 1));
    assert!(rows.contains("discharge,1,shed,discharge_limit,-43.") && rows.contains(",A8,derivative,"), "{rows}");
}

#[test]
fn its_title_is_the_finding() {
    let svg = chart::limits(&limits(&shipped("polder.toml"), 2, &[25.0])).unwrap();
    let title = svg.split("</title>").next().unwrap();
    assert!(title.ends_with("Safe up to 504 A with all modules in, 374 A with any 2 out; the modules' own limits add up to 800 A and 600 A") , "{title}");
    for words in ["−295.4 A", "announced 800.0 A", "equal sharing 600.0 A", "A8"] {
        assert!(svg.contains(words), "no {words}");
    }
}
