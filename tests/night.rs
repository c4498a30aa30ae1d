//! The engine of a night against closed forms and hand calculations; each source stands beside its
//! check. Times are exact to a millisecond unless a check says otherwise.

mod abreast;
mod abreast_random;
mod balance;
mod cascade;
mod chance;
mod clock;
mod drift;
mod edges;
mod exact;
mod exact_chance;
mod faults;
mod heat;
mod inverter;
mod long_steps;
mod overload;
mod race;
mod rest;
mod same;
mod seconds;
mod shipped;
mod stiff;
mod trade;
mod wiring;
mod work;

use bankwright::diagnostic::Diagnostic;
use bankwright::engine::event::Event;
use bankwright::engine::module::State;
use bankwright::engine::realization::Realization;
use bankwright::engine::result::TrialResult;
use bankwright::engine::trial::Observer;
use bankwright::engine::trial::{self, Trial};
use bankwright::network::Terminals;
use bankwright::scenario::check;
use bankwright::time::Time;
use bankwright::trials::Campaign;
use std::path::Path;

/// A module of 16 cells and 100 Ah, with further keys.
fn module(name: &str, milliohm: f64, open_circuit: &str, more: &str) -> String {
    format!(
        "[module.{name}]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"{milliohm} mΩ\"\n\
         open_circuit = {open_circuit}\n{more}\n"
    )
}

/// A cable so short that it has no part in any figure here: 1 nΩ.
const SHORT: &str = "[cable.short]\nresistance = \"1e-6 mΩ\"\n";

/// A stack of one module on one lead pair of no resistance, with further keys.
fn single(name: &str, module: &str, more: &str) -> String {
    format!(
        "[[stack]]\nname = \"{name}\"\nmodule = \"{module}\"\ncount = 1\n\
         leads = [{{ cable = \"short\", positive = 1, negative = 1 }}]\n{more}\n"
    )
}

/// The scenario's first two lines.
const HEAD: &str = "format = 1\ntitle = \"test\"\n";

fn trials(horizon: &str, more: &str) -> String {
    format!("[trials]\ncount = 1\nhorizon = \"{horizon}\"\n{more}\n")
}

fn shown(faults: &[Diagnostic]) -> String {
    faults.iter().map(|d| format!("{}: {}\n", d.message, d.label)).collect()
}

/// A campaign of a scenario's text; profiles are looked for in `folder`.
fn campaign_in(parts: &[&str], folder: &Path) -> Campaign {
    let text = [HEAD].iter().chain(parts).copied().collect::<Vec<_>>().join("\n");
    let checked = check::parse(&text, "test.toml", folder).unwrap_or_else(|faults| panic!("{}", shown(&faults)));
    let scenario = checked.scenario;
    let (load, trials) = (scenario.load.clone().unwrap(), scenario.trials.clone().unwrap());
    Campaign::new(&scenario, &load, &trials).unwrap()
}

fn campaign(parts: &[&str]) -> Campaign {
    campaign_in(parts, Path::new("."))
}

/// The bank as an observer saw it.
#[derive(Clone, Debug, PartialEq)]
struct Seen {
    time: Time,
    bus: Terminals,
    served: bool,
    currents: Vec<f64>,
    charges: Vec<f64>,
    temperatures: Vec<f64>,
    states: Vec<State>,
    outdoor: f64,
    floor: f64,
}

/// Writes down all of a trial.
#[derive(Default)]
struct Watcher {
    seen: Vec<Seen>,
    events: Vec<(Time, Event)>,
}

impl Observer for Watcher {
    fn moment(&mut self, trial: &Trial<'_>) {
        self.seen.push(Seen {
            time: trial.now,
            bus: trial.operating_point().bus,
            served: trial.served(),
            currents: trial.currents(),
            charges: (0..trial.modules.len()).map(|k| trial.soc(k)).collect(),
            temperatures: (0..trial.modules.len()).map(|k| trial.temperature(k)).collect(),
            states: trial.states.clone(),
            outdoor: trial.around().outdoor,
            floor: trial.around().floor,
        });
    }

    fn event(&mut self, at: Time, event: Event) {
        self.events.push((at, event));
    }
}

/// One trial and all that was seen of it.
struct Night {
    result: TrialResult,
    seen: Vec<Seen>,
    events: Vec<(Time, Event)>,
}

impl Night {
    /// The state just after the last event at or before a moment that a step ended on.
    #[track_caller]
    fn at(&self, seconds: f64) -> &Seen {
        let time = Time::from_seconds(seconds);
        self.seen.iter().rfind(|s| s.time == time).unwrap_or_else(|| panic!("no step ended at {time}"))
    }

    /// When module `k` came to be in a state, each time [s].
    fn when(&self, k: usize, wanted: State) -> Vec<f64> {
        let is = |e: &Event| matches!(e, Event::Module { module, state, .. } if *module == k && *state == wanted);
        self.events.iter().filter(|(_, e)| is(e)).map(|(t, _)| t.seconds()).collect()
    }

    fn when_event(&self, wanted: Event) -> Vec<f64> {
        self.events.iter().filter(|(_, e)| *e == wanted).map(|(t, _)| t.seconds()).collect()
    }

    /// Ride-through [s]; `None`: to the horizon.
    fn served_until(&self) -> Option<f64> {
        self.result.served_until.map(Time::seconds)
    }
}

fn run_with(campaign: &Campaign, realization: &Realization) -> Night {
    let mut watcher = Watcher::default();
    let result = trial::run(&campaign.model, realization, &mut watcher).unwrap();
    Night { result, seen: watcher.seen, events: watcher.events }
}

fn run(campaign: &Campaign) -> Night {
    run_with(campaign, &campaign.realization(0))
}

fn night(parts: &[&str]) -> Night {
    run(&campaign(parts))
}

#[track_caller]
fn near(got: f64, wanted: f64, tolerance: f64) {
    assert!((got - wanted).abs() <= tolerance, "got {got}, not {wanted} ± {tolerance}");
}

/// A moment to a millisecond [s].
#[track_caller]
fn at_moment(got: Option<f64>, wanted: f64) {
    near(got.expect("it never came"), wanted, 1e-3);
}
