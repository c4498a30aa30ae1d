//! What is the same in every trial: the bank, its modules, their surroundings, and the settings of the trials.

use super::ambient::Ambient;
use super::inverter::Asked;
use super::module::ModuleModel;
use super::step_error;
use super::thermal::{Coupling, Rest};
use crate::network::NetworkError;
use crate::network::bank::Bank;
use crate::network::solve::Solver;
use crate::profile::{Cursor, Night};
use crate::scenario::{
    Chain, ChainThrough, Controller, DeviceType, Heat, Inverter, Load, Scenario, Surge, SurgeSize, Trials,
};
use crate::time::Time;

/// Charge and discharge limits of a module [A].
#[derive(Clone, Copy, Debug)]
pub struct ModuleLimits {
    /// `None`: no limit.
    pub discharge: Option<f64>,
    /// A magnitude; `None`: no limit.
    pub charge: Option<f64>,
}

/// A scenario made ready to run.
#[derive(Clone, Debug)]
pub struct Model {
    /// The network, and what its branches are.
    pub bank: Bank,
    /// What `bank.devices` refer to.
    pub device_types: Vec<DeviceType>,
    /// The solver of the network, with its plan of elimination; each trial clones it.
    pub solver: Solver,
    /// The modules, in the order of the bank.
    pub modules: Vec<ModuleModel>,
    /// Limits of each module.
    pub limits: Vec<ModuleLimits>,
    /// What each module exchanges heat with.
    pub couplings: Vec<Coupling>,
    /// The temperatures with which modules begin a night.
    pub rest: Rest,
    /// Temperatures around the bank.
    pub ambient: Ambient,
    /// `None`: the load lies at the bus.
    pub inverter: Option<Inverter>,
    /// `None`: no limits are announced.
    pub controller: Option<Controller>,
    /// What is asked of the bank.
    pub load: Load,
    /// Short rises of the load.
    pub surges: Vec<Surge>,
    chain: Option<Chain>,
    /// What a bad joint's resistance is multiplied by.
    pub joint_factor: f64,
    /// Step, horizon, hold time and start of charge.
    pub trials: Trials,
    /// How long the load is to be served: the target's length, or the horizon.
    pub wanted: Time,
    /// Whether chance has any part in a trial; where it has none, all trials are one.
    pub random: bool,
    /// Step of the grid on which trials go: one or several of `trials.step`.
    pub grid: Time,
}

/// The load of one night.
#[derive(Clone, Copy, Debug)]
pub enum LoadCourse<'m> {
    /// The same all night.
    Constant(Asked),
    /// Power, and the factor on it.
    Profile(Cursor<'m>, f64),
}

impl LoadCourse<'_> {
    /// What it asks at a moment, and when that next changes.
    pub fn at(&mut self, t: Time) -> (Asked, Time) {
        match self {
            LoadCourse::Constant(asked) => (*asked, Time::NEVER),
            LoadCourse::Profile(cursor, factor) => {
                let (watts, next) = cursor.held(t);
                (Asked::Power(watts * *factor), next)
            }
        }
    }
}

impl Model {
    /// # Errors
    /// None for a legal scenario.
    pub fn new(scenario: &Scenario, load: &Load, trials: &Trials) -> Result<Model, NetworkError> {
        let bank = Bank::new(scenario)?;
        let (mut modules, mut limits, mut couplings) = (Vec::new(), Vec::new(), Vec::new());
        for stack in &scenario.stacks {
            let (first, count) = (modules.len(), stack.positions.len());
            for (k, position) in stack.positions.iter().enumerate() {
                let kind = &scenario.modules[position.module];
                modules.push(ModuleModel::new(kind, position, trials.soc));
                limits.push(ModuleLimits { discharge: kind.discharge_limit, charge: kind.charge_limit });
                couplings.push(Coupling {
                    heat: kind.heat.map(|h| Heat { to_floor: stack.heat_to_floor.unwrap_or(h.to_floor), ..h }),
                    height: (k as f64 + 0.5) * kind.pitch,
                    on_floor: k == 0,
                    below: (k > 0).then(|| first + k - 1),
                    above: (k + 1 < count).then(|| first + k + 1),
                });
            }
        }
        let ambient = Ambient::new(scenario);
        let standing: Vec<f64> = modules.iter().map(|m: &ModuleModel| m.kind.standing).collect();
        Ok(Model {
            rest: Rest::new(&couplings, ambient.gradient, &standing),
            solver: Solver::with_sources(bank.network.clone(), modules.len()),
            bank,
            modules,
            limits,
            couplings,
            ambient,
            inverter: scenario.inverter.clone(),
            controller: scenario.controller.clone(),
            load: load.clone(),
            surges: scenario.surges.clone(),
            chain: scenario.hazards.chain,
            joint_factor: scenario.hazards.joint.map_or(1.0, |j| j.factor),
            device_types: scenario.devices.clone(),
            grid: step_error::grid(load, scenario.controller.as_ref(), trials),
            trials: trials.clone(),
            wanted: scenario.targets.ride_through.map_or(trials.horizon, |t| t.length),
            random: scenario.is_random(trials),
        })
    }

    /// Modules that a failure of the chain link to module k cuts off: itself and those behind it.
    pub fn behind(&self, k: usize) -> std::ops::Range<usize> {
        let stack = self.bank.modules[k].stack;
        let end = match self.chain.map(|c| c.through) {
            Some(ChainThrough::Bank) => self.modules.len(),
            _ => k + self.bank.modules[k..].iter().take_while(|m| m.stack == stack).count(),
        };
        k..end
    }

    /// Modules of a stack.
    pub fn of_stack(&self, stack: usize) -> std::ops::Range<usize> {
        let first = self.bank.modules.partition_point(|m| m.stack < stack);
        first..self.bank.modules.partition_point(|m| m.stack <= stack)
    }

    /// Mean square of the direct current over the square of its mean, while an inverter draws it.
    pub fn ripple_factor(&self) -> f64 {
        self.inverter.as_ref().map_or(1.0, |inverter| 1.0 + inverter.ripple * inverter.ripple)
    }

    /// A load with what a surge adds to it.
    pub fn with_surge(&self, asked: Asked, surge: usize) -> Asked {
        match (asked, self.surges[surge].size) {
            (Asked::Power(load), SurgeSize::Power(watts)) => Asked::Power(load + watts),
            (Asked::Current(load), SurgeSize::Current(amps)) => Asked::Current(load + amps),
            (asked, _) => asked,
        }
    }

    /// The load of a night by time, times a factor.
    pub fn load_of(&self, night: &Night, factor: f64) -> LoadCourse<'_> {
        match &self.load {
            Load::Current(amps) => LoadCourse::Constant(Asked::Current(amps * factor)),
            Load::Power(watts) => LoadCourse::Constant(Asked::Power(watts * factor)),
            Load::Profile(series) => LoadCourse::Profile(series.cursor(night.load_start), factor),
        }
    }
}
