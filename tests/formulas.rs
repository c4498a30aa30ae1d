//! Each formula and rule against a closed form, a published value or a solution from outside the program, which stands
//! beside its check. Nothing here compares the program with itself: every trial is run alone and among others abreast,
//! and both are held against the same outside value.

mod conductors;
mod controller;
mod devices;
mod heat;
mod inference;
mod inverter;
mod limits;
mod modules;
mod rejoining;
mod steps;

use bankwright::draw::faults::Timeline;
use bankwright::engine::batch::Lanes;
use bankwright::engine::realization::{RandomEvent, Realization};
use bankwright::engine::result::TrialResult;
use bankwright::engine::trial;
use bankwright::engine::trial::Nobody;
use bankwright::scenario::{Scenario, check};
use bankwright::time::Time;
use bankwright::trials::Campaign;
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// So many copies of a trial are run abreast: more than there are lanes, so that some begin where others have ended.
const ABREAST: usize = 19;

/// Two conductors so short that they have no part in any figure here: 1 nΩ each.
const SHORT: &str = "[cable.short]\nresistance = \"1e-6 mΩ\"\n";

/// A module of 16 cells with these keys.
fn module(name: &str, keys: &str) -> String {
    format!("[module.{name}]\ncells = 16\n{keys}\n")
}

/// A stack of one module on one lead pair without resistance, with further keys.
fn single(name: &str, module: &str, keys: &str) -> String {
    format!(
        "[[stack]]\nname = \"{name}\"\nmodule = \"{module}\"\ncount = 1\n\
         leads = [{{ cable = \"short\", positive = 1, negative = 1 }}]\n{keys}\n"
    )
}

fn scenario(parts: &[&str]) -> Scenario {
    scenario_in(Path::new("."), parts)
}

/// Profiles are looked for in `folder`.
fn scenario_in(folder: &Path, parts: &[&str]) -> Scenario {
    let text = format!("format = 1\ntitle = \"invented\"\n{}", parts.join("\n"));
    let checked = check::parse(&text, "test.toml", folder);
    let told = |faults: Vec<bankwright::diagnostic::Diagnostic>| {
        faults.iter().map(|d| format!("{}: {}\n", d.message, d.label)).collect::<String>()
    };
    checked.unwrap_or_else(|faults| panic!("{}", told(faults))).scenario
}

fn campaign(parts: &[&str]) -> Campaign {
    campaign_in(Path::new("."), parts)
}

fn campaign_in(folder: &Path, parts: &[&str]) -> Campaign {
    let scenario = scenario_in(folder, parts);
    let (load, trials) = (scenario.load.clone().unwrap(), scenario.trials.clone().unwrap());
    Campaign::new(&scenario, &load, &trials).unwrap()
}

/// Runs one trial alone, and copies of it abreast, and hands each result to a check that holds it against a value from
/// outside.
fn each_way(campaign: &Campaign, realization: &Realization, check: impl Fn(&TrialResult)) {
    check(&trial::run(&campaign.model, realization, &mut Nobody).unwrap());
    let copies = vec![realization.clone(); ABREAST];
    let together = Lanes::new(&campaign.model).run(&copies, &AtomicBool::new(false)).unwrap();
    assert_eq!(together.len(), ABREAST);
    together.into_iter().for_each(|result| check(&result.unwrap()));
}

/// The same with nothing left to chance.
fn each_way_as_written(parts: &[&str], check: impl Fn(&TrialResult)) {
    let campaign = campaign(parts);
    each_way(&campaign, &campaign.realization(0), check);
}

/// Something happens, and ends, at these moments by turns [s].
fn at(realization: &mut Realization, what: RandomEvent, moments: &[f64]) {
    let changes = moments.iter().map(|&t| Time::from_seconds(t)).collect();
    realization.random_events.add(what, &Timeline { down_at_start: false, changes });
}

#[track_caller]
fn near(got: f64, wanted: f64, within: f64) {
    assert!((got - wanted).abs() <= within, "got {got}, not {wanted} ± {within}");
}

/// A moment [s].
#[track_caller]
fn at_moment(got: Option<Time>, wanted: f64, within: f64) {
    near(got.expect("it never came").seconds(), wanted, within);
}
