//! What chance gives one trial: the engine itself draws nothing.

use crate::draw::faults::Timeline;
use crate::time::Time;

/// The realization of one trial.
#[derive(Clone, Debug)]
pub struct Realization {
    /// Number of the trial, from 0.
    pub trial: u64,
    /// Index into the scenario's nights.
    pub night: usize,
    /// Factor on the load.
    pub load: f64,
    /// Added to the outdoor air [K].
    pub temperature: f64,
    /// Added to the charge of every module at the start (0…1): modules in parallel have come to one voltage.
    pub start_charge: f64,
    /// How each module differs from its type.
    pub modules: Vec<ModuleSpread>,
    /// Factors on the two joints of each conductor.
    pub joints: Vec<[f64; 2]>,
    /// What chance begins and ends in this trial, and when.
    pub random_events: RandomEvents,
}

/// The realization of one module.
#[derive(Clone, Debug)]
pub struct ModuleSpread {
    /// Factor on capacity.
    pub capacity: f64,
    /// Factor on resistance.
    pub resistance: f64,
    /// Added to what its temperature sensor reads [K].
    pub sensor: f64,
}

/// What chance begins and ends. Of one moment, in this order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RandomEvent {
    /// A module fails.
    Module(usize),
    /// All modules of a stack fail.
    Stack(usize),
    /// The protection of a module opens without a cause.
    Nuisance(usize),
    /// The link of the communication chain that leads to a module fails.
    ChainLink(usize),
    /// A conductor opens.
    Conductor(usize),
    /// A joint of a conductor is bad.
    Joint(usize),
    /// The link between controller and inverter is down.
    Link,
    /// A motor starts and runs up.
    Surge(usize),
}

/// Everything that chance begins and ends in one trial.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RandomEvents {
    at_start: Vec<RandomEvent>,
    /// Times at which a random event begins or ends, in order of time, then in the order of `RandomEvent`.
    changes: Vec<(Time, RandomEvent)>,
}

impl RandomEvents {
    /// Those that last at the start.
    pub fn at_start(&self) -> &[RandomEvent] {
        &self.at_start
    }

    /// How many changes there are.
    pub fn number(&self) -> usize {
        self.changes.len()
    }

    /// Number `k` of the changes, in their order.
    pub fn change(&self, k: usize) -> Option<(Time, RandomEvent)> {
        self.changes.get(k).copied()
    }

    /// Adds the course of one.
    pub fn add(&mut self, random_event: RandomEvent, course: &Timeline) {
        if course.down_at_start {
            self.at_start.push(random_event);
        }
        if !course.changes.is_empty() {
            self.changes.extend(course.changes.iter().map(|&at| (at, random_event)));
            // Two stretches in order, which this sort sees and merges.
            self.changes.sort();
        }
    }
}

impl Realization {
    /// Everything as nominal: nothing fails, nothing spreads.
    pub fn nominal(modules: usize, conductors: usize) -> Realization {
        let module = ModuleSpread { capacity: 1.0, resistance: 1.0, sensor: 0.0 };
        Realization {
            trial: 0,
            night: 0,
            load: 1.0,
            temperature: 0.0,
            start_charge: 0.0,
            modules: vec![module; modules],
            joints: vec![[1.0; 2]; conductors],
            random_events: RandomEvents::default(),
        }
    }
}
