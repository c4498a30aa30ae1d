//! What chance gives each trial, drawn by name.
//!
//! In: the scenario's spreads, faults and nights, and the seed. Out: the `Luck` of any trial.
//! Entities are named by their identifiers, so two layouts that share an element share its luck.

use crate::draw::faults::{self, Timeline};
use crate::draw::{Purpose, Source};
use crate::engine::luck::{Luck, ModuleLuck};
use crate::engine::model::Model;
use crate::scenario::{Faults, Scenario, Spread};

/// Sources of all draws.
#[derive(Clone, Debug)]
pub struct Lottery {
    spread: Spread,
    faults: Option<Faults>,
    night: Source,
    load: Source,
    temperature: Source,
    modules: Vec<ModuleSources>,
    joints: Vec<Source>,
    link: Source,
    link_faults: Option<Faults>,
}

#[derive(Clone, Debug)]
struct ModuleSources {
    capacity: Source,
    resistance: Source,
    start_charge: Source,
    sensor: Source,
    faults: Source,
}

impl Lottery {
    pub fn new(scenario: &Scenario, model: &Model) -> Lottery {
        let seed = model.trials.seed;
        let source = |purpose, entity: &str| Source::new(seed, purpose, entity);
        let modules = model.bank.modules.iter().map(|m| ModuleSources {
            capacity: source(Purpose::Capacity, &m.id),
            resistance: source(Purpose::Resistance, &m.id),
            start_charge: source(Purpose::StartCharge, &m.id),
            sensor: source(Purpose::Sensor, &m.id),
            faults: source(Purpose::Fault, &m.id),
        });
        let joints = model.bank.conductors.iter();
        Lottery {
            spread: scenario.spread,
            faults: scenario.faults,
            night: source(Purpose::Night, ""),
            load: source(Purpose::Load, ""),
            temperature: source(Purpose::Temperature, ""),
            modules: modules.collect(),
            joints: joints.map(|c| source(Purpose::Joint, &c.id)).collect(),
            link: source(Purpose::Link, ""),
            link_faults: scenario.controller.as_ref().and_then(|c| c.link.faults),
        }
    }

    pub fn luck(&self, model: &Model, trial: u64) -> Luck {
        let spread = &self.spread;
        let modules = self.modules.iter().map(|m| ModuleLuck {
            capacity: m.capacity.factor(trial, 0, &spread.capacity),
            resistance: m.resistance.factor(trial, 0, &spread.resistance),
            start_charge: m.start_charge.offset(trial, 0, &spread.start_charge),
            sensor: m.sensor.offset(trial, 0, &spread.sensor),
            faults: timeline(&m.faults, self.faults.as_ref(), model, trial),
        });
        let joint = |s: &Source| [0, 1].map(|end| s.factor(trial, end, &spread.joint));
        Luck {
            trial,
            night: self.night.index(trial, model.trials.nights.len()),
            load: self.load.factor(trial, 0, &spread.load),
            temperature: self.temperature.offset(trial, 0, &spread.temperature),
            modules: modules.collect(),
            link: timeline(&self.link, self.link_faults.as_ref(), model, trial),
            joints: self.joints.iter().map(joint).collect(),
        }
    }
}

fn timeline(source: &Source, faults: Option<&Faults>, model: &Model, trial: u64) -> Timeline {
    match faults {
        Some(f) => faults::timeline(source, trial, f, model.trials.horizon),
        None => Timeline { down_at_start: false, changes: Vec::new() },
    }
}
