//! The figure of what moves the nights: well-formed, nothing clipped, no text on another.

use super::limits::judge;
use bankwright::progress::Progress;
use bankwright::scenario::check::load;
use bankwright::study::inputs::output::{chart, words as inputs_words};
use bankwright::study::inputs::{Inputs, Plan, solve};
use bankwright::trials::Options;
use std::path::Path;

fn ask(file: &str, trials: u64, change: fn(&mut bankwright::scenario::Scenario)) -> Inputs {
    let mut checked = load(&Path::new(env!("CARGO_MANIFEST_DIR")).join(file)).unwrap();
    change(&mut checked.scenario);
    let plan = Plan::new(&checked, Options { trials: Some(trials), ..Options::default() }).unwrap();
    solve(&plan, &Progress::none()).unwrap()
}

#[test]
fn what_moves_the_nights_is_clear_of_itself() {
    for (name, file, trials) in [
        ("refuge", "scenarios/refuge.toml", 32),
        ("polder", "scenarios/polder_leads.toml", 160),
        ("tiny", "tests/layouts/tiny.toml", 400),
        ("pair", "scenarios/reference/pair.toml", 1),
    ] {
        judge(&chart::inputs(&ask(file, trials, |_| ())).unwrap(), name);
    }
    let nothing = ask("scenarios/reference/pair.toml", 2, |s| {
        s.cables.iter_mut().for_each(|c| c.rating = None);
        s.modules[0].discharge_limit = None;
        s.trials.as_mut().unwrap().horizon = bankwright::time::Time::from_seconds(60.0);
    });
    assert!(nothing.as_written.margin.is_none() && inputs_words::that_move(&nothing).next().is_none());
    let svg = chart::inputs(&nothing).unwrap();
    judge(&svg, "nothing");
    assert!(svg.contains("No input alone moves anything."));
}

/// What is decided is drawn full, what is not hollow; both have their interval, and the title is the finding.
#[test]
fn undecided_changes_are_hollow() {
    let all = ask("tests/layouts/tiny.toml", 400, |_| ());
    let svg = chart::inputs(&all).unwrap();
    assert!(svg.split("</title>").next().unwrap().contains("buys most"), "{svg}");
    let shifts = || {
        let effects = inputs_words::that_move(&all).take(16).flat_map(|input| input.effects());
        effects.flat_map(|e| [Some(e.overload), Some(e.short), e.margin]).flatten().filter(|s| s.by.estimate != 0.0)
    };
    let full = shifts().filter(|s| s.decided).count();
    assert!(full > 10 && shifts().count() >= full + 10, "{full} of {}", shifts().count());
    // The ground is one more.
    assert_eq!(svg.matches("<rect ").count(), full + 1);
}
