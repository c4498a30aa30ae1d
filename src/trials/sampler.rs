//! Draws the random part of each trial: spreads, random events and the night. Draws are addressed by names.
//!
//! In: the scenario's spreads, faults and nights, and the seed. Out: the `Realization` of any trial.
//! Entities are named by their identifiers, so two layouts that share an element share its random numbers.

use crate::draw::faults;
use crate::draw::{Purpose, Source};
use crate::engine::model::Model;
use crate::engine::realization::{ModuleSpread, RandomEvent, RandomEvents, Realization};
use crate::network::bank::ConductorRole;
use crate::scenario::{Faults, Scenario, Spread, Surge};

/// Sources of all draws.
#[derive(Clone, Debug)]
pub struct Sampler {
    spread: Spread,
    night: Source,
    load: Source,
    temperature: Source,
    start_charge: Source,
    modules: Vec<ModuleSources>,
    joints: Vec<Source>,
    random_events: Vec<(RandomEvent, Source, Faults)>,
    surges: Vec<(RandomEvent, Source, Surge)>,
}

#[derive(Clone, Debug)]
struct ModuleSources {
    capacity: Source,
    resistance: Source,
    sensor: Source,
}

impl Sampler {
    /// The sampler for a scenario; the seed is that of its model.
    pub fn new(scenario: &Scenario, model: &Model) -> Sampler {
        let seed = model.trials.seed;
        let source = |purpose, entity: &str| Source::new(seed, purpose, entity);
        let modules = model.bank.modules.iter().map(|m| ModuleSources {
            capacity: source(Purpose::Capacity, &m.id),
            resistance: source(Purpose::Resistance, &m.id),
            sensor: source(Purpose::Sensor, &m.id),
        });
        let joints = model.bank.conductors.iter();
        let random_events = what_may_fail(scenario, model).into_iter();
        let surges = scenario.surges.iter().enumerate();
        Sampler {
            spread: scenario.spread,
            night: source(Purpose::Night, ""),
            load: source(Purpose::Load, ""),
            temperature: source(Purpose::Temperature, ""),
            start_charge: source(Purpose::StartCharge, ""),
            modules: modules.collect(),
            joints: joints.map(|c| source(Purpose::Joint, &c.id)).collect(),
            random_events: random_events.map(|f| (f.random_event, source(f.purpose, &f.entity), f.faults)).collect(),
            surges: surges.map(|(k, s)| (RandomEvent::Surge(k), source(Purpose::Surge, &s.name), s.clone())).collect(),
        }
    }

    /// What chance gives one trial.
    pub fn realization(&self, model: &Model, trial: u64) -> Realization {
        let spread = &self.spread;
        let modules = self.modules.iter().map(|m| ModuleSpread {
            capacity: m.capacity.factor(trial, 0, &spread.capacity),
            resistance: m.resistance.factor(trial, 0, &spread.resistance),
            sensor: m.sensor.offset(trial, 0, &spread.sensor),
        });
        let joint = |s: &Source| [0, 1].map(|end| s.factor(trial, end, &spread.joint));
        Realization {
            trial,
            night: self.night.index(trial, model.trials.nights.len()),
            load: self.load.factor(trial, 0, &spread.load),
            temperature: self.temperature.offset(trial, 0, &spread.temperature),
            start_charge: self.start_charge.offset(trial, 0, &spread.start_charge),
            modules: modules.collect(),
            joints: self.joints.iter().map(joint).collect(),
            random_events: self.random_events(model, trial),
        }
    }

    fn random_events(&self, model: &Model, trial: u64) -> RandomEvents {
        let horizon = model.trials.horizon;
        let mut all = RandomEvents::default();
        for (random_event, source, faults) in &self.random_events {
            all.add(*random_event, &faults::timeline(source, trial, faults, horizon));
        }
        for (random_event, source, surge) in &self.surges {
            all.add(*random_event, &faults::surges(source, trial, surge, horizon));
        }
        all
    }
}

/// One thing that may fail, with what its draws are named by.
struct MayFail {
    random_event: RandomEvent,
    purpose: Purpose,
    entity: String,
    faults: Faults,
}

fn what_may_fail(scenario: &Scenario, model: &Model) -> Vec<MayFail> {
    let (bank, hazards) = (&model.bank, &scenario.hazards);
    let mut all = Vec::new();
    let mut add = |faults: Option<Faults>, purpose, random_event, entity: &str| {
        all.extend(faults.map(|faults| MayFail { random_event, purpose, entity: entity.to_owned(), faults }));
    };
    for (k, module) in bank.modules.iter().enumerate() {
        add(scenario.faults, Purpose::Fault, RandomEvent::Module(k), &module.id);
        add(hazards.nuisance, Purpose::Nuisance, RandomEvent::Nuisance(k), &module.id);
        add(hazards.chain.map(|c| c.faults), Purpose::ChainLink, RandomEvent::ChainLink(k), &module.id);
    }
    for (k, stack) in scenario.stacks.iter().enumerate() {
        add(hazards.stack, Purpose::StackFault, RandomEvent::Stack(k), &stack.name);
    }
    for (k, conductor) in bank.conductors.iter().enumerate() {
        // A joint without a resistance is not one.
        let joint = hazards.joint.filter(|_| conductor.contact > 0.0).map(|j| j.faults);
        add(joint, Purpose::JointFault, RandomEvent::Joint(k), &conductor.id);
        add(
            hazards.lead.filter(|_| conductor.role == ConductorRole::Lead),
            Purpose::OpenLead,
            RandomEvent::Conductor(k),
            &conductor.id,
        );
    }
    let link = scenario.controller.as_ref().and_then(|c| c.link.faults);
    add(link, Purpose::Link, RandomEvent::Link, "");
    all
}
