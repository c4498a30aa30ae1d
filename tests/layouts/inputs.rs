//! What moves the nights, against closed forms, and against the same change written as a layout.

use super::{TINY, candidates, checked};
use bankwright::output::inputs::{chart, words as inputs_words};
use bankwright::progress::Progress;
use bankwright::scenario::Scenario;
use bankwright::scenario::check::{Checked, load};
use bankwright::study::inputs::{Effect, Hazard, Input, InputResult, Inputs, Plan, Shift, Side, inputs, solve};
use bankwright::summary::interval::clopper_pearson_at;
use bankwright::trials::Options;
use std::collections::BTreeSet;
use std::path::Path;

/// Two equal modules, taken off diagonally: each carries half, at once through one jumper.
const PAIR: &str = include_str!("../../scenarios/reference/pair.toml");

fn pair(changes: &[(&str, &str)]) -> Checked {
    let text = changes.iter().fold(PAIR.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replace(from, to)
    });
    checked(&text)
}

fn solved(checked: &Checked) -> Inputs {
    solve(&Plan::new(checked, Options::default()).unwrap(), &Progress::none()).unwrap()
}

fn input<'a>(all: &'a Inputs, input: &str, of: &str) -> &'a InputResult {
    all.inputs
        .iter()
        .find(|i| i.input.to_string() == input && i.of == of)
        .unwrap_or_else(|| panic!("no {input} of {of}"))
}

fn effect<'a>(all: &'a Inputs, tag: &str, of: &str, side: Side) -> &'a Effect {
    input(all, tag, of).effect(side).unwrap()
}

/// A lead of 105 A at 100 A: over exactly where 110 A pass it, or it stands 94.5 A.
#[test]
fn overload_flips_exactly_where_a_tenth_passes_a_rating() {
    let all = solved(&pair(&[("\"80 A\"", "\"105 A\""), ("count   = 1", "count = 1000"), ("\"4 h\"", "\"20 min\"")]));
    let margin = |load: f64, rating: f64| 1.0 - load / rating;
    assert!((all.as_written.margin.unwrap() - margin(100.0, 105.0)).abs() < 1e-6);
    assert_eq!(all.as_written.nearest.as_deref(), Some("A.lead1+"));
    let mut flipped = 0;
    for one in &all.inputs {
        for (side, factor) in [(Side::Less, 0.9), (Side::More, 1.1)] {
            let effect = one.effect(side).unwrap();
            let (load, rating) = match (one.input.to_string().as_str(), one.of.as_str()) {
                ("load", "") => (100.0 * factor, 105.0),
                ("cable_rating", "lead") => (100.0, 105.0 * factor),
                _ => (100.0, 105.0),
            };
            let over = load > rating;
            flipped += u32::from(over);
            assert_eq!(effect.overload.by.estimate, f64::from(u8::from(over)), "{} {side:?}", one.input);
            assert_eq!(effect.overload_alone, [if over { 1000 } else { 0 }, 0]);
            assert_eq!(effect.overload.decided, over, "{} {side:?}", one.input);
            // Next to the lead are the modules, 50 of 60 A: never nearer than it is here.
            let shift = effect.margin.unwrap();
            let wanted = margin(load, rating) - margin(100.0, 105.0);
            assert!((shift.by.estimate - wanted).abs() < 2e-6, "{} {side:?}: {shift:?}, {wanted}", one.input);
            assert_eq!(shift.decided, wanted != 0.0, "{} {side:?}", one.input);
        }
    }
    assert_eq!(flipped, 2);
    let first: BTreeSet<String> = all.inputs[..2].iter().map(|i| i.input.to_string()).collect();
    assert_eq!(first, ["cable_rating".to_owned(), "load".to_owned()].into());
    // Less load: 100/105 − 90/105; more rating: 100/105 − 100/115.5.
    let best = all.best.margin.as_ref().unwrap();
    assert_eq!((all.inputs[best.input].input, best.side, best.open.len()), (Input::Load, Side::Less, 0));
    assert!((best.by.estimate - 10.0 / 105.0).abs() < 2e-6);
    assert!(all.best.overload.is_none() && all.best.short.is_none());
}

/// Constant voltage behind a resistance: P = I·(E − R·I), and what is in the bank lasts charge·capacity/I.
#[test]
fn hours_of_a_constant_power_scale_as_the_closed_form() {
    let all = solved(&pair(&[("current = \"100 A\"", "power = \"5 kW\""), ("count   = 1", "count = 3")]));
    // Half the current through a module and a jumper, all of it through both leads.
    let resistance = |module: f64, jumper: f64, lead: f64| 0.5 * (module + jumper) + 2.0 * lead;
    let hours = |power: f64, ohm: f64, amp_hours: f64| {
        let emf: f64 = 52.8;
        amp_hours / ((emf - (emf * emf - 4.0 * ohm * power).sqrt()) / (2.0 * ohm))
    };
    let ohm = resistance(0.012, 0.25e-3, 1e-3);
    let before = hours(5000.0, ohm, 180.0);
    assert!((all.as_written.ride_through_h - before).abs() < 1e-6, "{} {before}", all.as_written.ride_through_h);
    for (tag, of, side, after) in [
        ("start_charge", "", Side::Less, hours(5000.0, ohm, 170.0)),
        ("start_charge", "", Side::More, hours(5000.0, ohm, 190.0)),
        ("module_capacity", "plain", Side::Less, hours(5000.0, ohm, 162.0)),
        ("module_capacity", "plain", Side::More, hours(5000.0, ohm, 198.0)),
        ("load", "", Side::Less, hours(4500.0, ohm, 180.0)),
        ("load", "", Side::More, hours(5500.0, ohm, 180.0)),
        ("module_resistance", "plain", Side::More, hours(5000.0, resistance(0.0132, 0.25e-3, 1e-3), 180.0)),
        ("cable_resistance", "lead", Side::Less, hours(5000.0, resistance(0.012, 0.25e-3, 0.9e-3), 180.0)),
        ("cable_rating", "lead", Side::Less, before),
    ] {
        let shift = effect(&all, tag, of, side).ride_through_h;
        assert!((shift.by.estimate - (after - before)).abs() < 2e-6, "{tag} {side:?}: {shift:?}, {}", after - before);
    }
}

/// The first failure of two overloads the other: 1 − exp(−2·H/MTBF). The same draws, so times scale with the MTBF and
/// a night that fails with the longer one fails with the shorter one.
#[test]
fn a_mean_time_scales_the_times_that_were_drawn() {
    let faults = "[faults]\nmodule_mtbf = \"2 h\"\nstart = \"in service\"\n\n[trials]";
    let scenario = pair(&[
        ("[trials]", faults),
        ("\"80 A\"", "\"200 A\""),
        ("count   = 1", "count = 3000"),
        ("\"4 h\"", "\"30 min\"\nhold = \"0 s\""),
    ]);
    let all = solved(&scenario);
    let over = |mtbf: f64| 1.0 - (-2.0 * 0.5 / mtbf).exp();
    let hits = (all.as_written.overload.estimate * 3000.0).round() as u64;
    // At 95 % one layout of draws in twenty would fail.
    let drawn = clopper_pearson_at(hits, 3000, 0.9999);
    assert!(drawn.low < over(2.0) && over(2.0) < drawn.high && drawn.high - drawn.low < 0.08);
    let (less, more) = (effect(&all, "module_mtbf", "", Side::Less), effect(&all, "module_mtbf", "", Side::More));
    for (effect, mtbf) in [(less, 1.0), (more, 4.0)] {
        let (by, wanted) = (effect.overload.by, over(mtbf) - over(2.0));
        assert!(by.low < wanted && wanted < by.high && effect.overload.decided, "{by:?}, {wanted}");
    }
    assert_eq!((less.overload_alone[1], more.overload_alone[0]), (0, 0));
    assert!(less.overload_alone[0] > 400 && more.overload_alone[1] > 300);
    assert!(all.inputs.iter().all(|i| i.input != Input::Mttr(Hazard::Module)), "there is no repair");
    let best = all.best.overload.as_ref().unwrap();
    assert_eq!(
        (all.inputs[best.input].input, best.side, best.open.len()),
        (Input::Mtbf(Hazard::Module), Side::More, 0)
    );
    assert_eq!(
        inputs_words::title(&all),
        format!(
            "Against overload \"modules: MTBF doubled\" buys most ({}); 3,000 nights suffice to say so",
            inputs_words::points(best.by.estimate)
        )
    );
}

#[test]
fn an_input_counts_what_the_same_change_counts_as_a_layout() {
    let rated = "[[layout]]\nname = \"rated\"\n[layout.cable.thin]\nrating = \"93.6 A\"\n";
    let checked = checked(&TINY.replace("[layouts]\n", &format!("{rated}[layouts]\n")));
    let (all, candidates) = (solved(&checked), candidates(&checked));
    let layout = candidates.list.iter().find(|c| c.name == "rated").unwrap();
    let found = super::nights(&candidates, 100);
    let pair = found.paired.pair(layout.campaign, 0);
    let effect = effect(&all, "cable_rating", "thin", Side::Less);
    assert_eq!((effect.overload_alone, effect.short_alone), (pair.over, pair.short));
    assert!(pair.over[0] > 20, "{pair:?}");
    assert_eq!(all.as_written.overload.estimate, found.counts[0].sum(|n| n.over) as f64 / 400.0);
    assert!(all.confidence_each > 1.0 - 0.05 / (all.changes as f64 - 0.5) && all.changes > 20);
}

fn tags(scenario: &Scenario) -> BTreeSet<String> {
    inputs(scenario).iter().map(Input::to_string).collect()
}

#[test]
fn only_what_a_scenario_has_is_moved() {
    let few = ["load", "start_charge", "module_capacity", "module_resistance", "discharge_limit"];
    let few: BTreeSet<String> =
        few.into_iter().chain(["cable_resistance", "cable_rating"]).map(str::to_owned).collect();
    assert_eq!(tags(&pair(&[]).scenario), few);
    let shipped = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/refuge.toml");
    let refuge = load(&shipped).unwrap().scenario;
    let more = [
        "charge_limit",
        "cable_contact",
        "cable_ampacity",
        "device_resistance",
        "device_rated",
        "outdoor_temperature",
        "discharge_temperature_low",
        "room_loss",
        "room_gain",
        "floor_offset",
        "controller_reaction",
        "module_mtbf",
        "module_mttr",
        "stack_mtbf",
        "stack_mttr",
        "nuisance_mtbf",
        "nuisance_mttr",
        "joint_mtbf",
        "joint_mttr",
        "lead_mtbf",
        "lead_mttr",
        "link_mtbf",
        "link_mttr",
    ];
    assert_eq!(tags(&refuge), few.into_iter().chain(more.map(str::to_owned)).collect());
}

#[test]
fn a_step_that_is_not_legal_is_not_taken() {
    let full = pair(&[("\"90 %\"", "\"100 %\"")]).scenario;
    assert!(Input::StartCharge.changed(&full, Side::More).is_none());
    assert_eq!(Input::StartCharge.changed(&full, Side::Less).unwrap().trials.unwrap().soc, 0.95);
    let window = "discharge_limit = \"60 A\"\ndischarge_temperature = { low = \"0 °C\", low_release = \"9 °C\", high = \"10 °C\", high_release = \"1 °C\" }";
    let narrow = pair(&[("discharge_limit = \"60 A\"", window)]).scenario;
    assert!(Input::ColdCutOff(0).changed(&narrow, Side::More).is_none());
    let lower = Input::ColdCutOff(0).changed(&narrow, Side::Less).unwrap();
    let low = lower.modules[0].discharge_temperature.low.unwrap();
    assert_eq!((low.trip, low.release), (-2.0, 7.0));
}

/// Where nothing is random one night tells all: what moves is decided, without an interval.
#[test]
fn a_single_night_decides_all_where_nothing_is_random() {
    let all = solved(&pair(&[]));
    assert!(all.exact);
    for shift in all.inputs.iter().flat_map(InputResult::effects).flat_map(|e| [Some(e.ride_through_h), e.margin]) {
        let Shift { by, decided } = shift.unwrap();
        assert!(by.low == by.estimate && by.high == by.estimate && decided == (by.estimate != 0.0), "{by:?}");
    }
    assert!(all.best.margin.as_ref().is_some_and(|best| best.by.estimate > 0.0));
    assert!(!inputs_words::text(&all).contains("at 95 %"));
}

/// One night of many bounds no mean; nothing is then called decided, and no cell, word or picture shows what is no
/// number.
#[test]
fn a_single_night_decides_nothing() {
    let all = solved(&pair(&[("[trials]", "[spread]\nload = \"1 %\"\n[trials]")]));
    assert!(all.inputs.iter().flat_map(InputResult::effects).all(|e| {
        !e.overload.decided && !e.short.decided && !e.ride_through_h.decided && !e.margin.unwrap().decided
    }));
    assert_eq!(inputs_words::title(&all), "No single input is shown to buy anything by 1 night");
    let document = serde_json::to_string(&all).unwrap();
    for text in [inputs_words::text(&all), inputs_words::csv(&all), chart::inputs(&all).unwrap(), document] {
        assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
    }
}
