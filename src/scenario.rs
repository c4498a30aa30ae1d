//! The scenario, complete and legal: what every later stage works from.
//!
//! In: the `document` as written, already judged fault by fault (`scenario::check`).
//! Out: plain data in SI units (volt, ampere, ohm, watt, second, kelvin differences, °C for
//! temperatures), with no defaults left to fill, no strings for kinds and no unit to convert.
//! What the scenario left out is `None`, and does not act.

pub mod ampacity;
mod bank;
mod cable;
mod chance;
pub mod check;
mod controller;
mod device;
pub(crate) mod document;
mod layout;
mod module;
pub mod tables;

pub use bank::{Bar, LeadPair, Position, Stack};
pub use cable::{Ampacity, CableType, ConductorResistance, Terminal};
pub use chance::{
    Chain, ChainThrough, Distribution, FaultStart, Faults, Hazards, JointHazard, Spread, Surge, SurgeSize, SurgeWhen,
};
pub use controller::{Controller, LimitRule, Link, OnLoss};
pub use device::{DeviceKind, DeviceType, Fitted, Poles, TripCurve};
pub use layout::{Design, Layout, Per, Prices, TakeOff, Wire};
pub use module::{
    Direction, Guard, Heat, Heater, ModuleResistance, ModuleType, Protection, SelfLimit, Stage, Switches, Window,
};

use crate::curve::Curve;
use crate::profile::{Night, Series, Source};
use crate::time::Time;

/// A proposed bank, and what it must live through.
#[derive(Clone, Debug)]
pub struct Scenario {
    /// What it is called.
    pub title: String,
    /// Module types, in the order of the file.
    pub modules: Vec<ModuleType>,
    /// Cable types, in the order of the file.
    pub cables: Vec<CableType>,
    /// Types of protective devices, in the order of the file.
    pub devices: Vec<DeviceType>,
    /// Stacks of modules, in the order of the file.
    pub stacks: Vec<Stack>,
    /// The bus bars, where the lead pairs and the inverter connect.
    pub bar: Bar,
    /// The protective device between the bus bars and the inverter; `None`: there is none.
    pub main: Option<Fitted>,
    /// `None`: the load is at the bus.
    pub inverter: Option<Inverter>,
    /// `None`: nobody announces limits.
    pub controller: Option<Controller>,
    /// `None`: nothing can be run.
    pub load: Option<Load>,
    /// Motor starts, in the order of the file.
    pub surges: Vec<Surge>,
    /// `None`: air of 25 °C.
    pub climate: Option<Climate>,
    /// `None`: the bank is in the air outdoors.
    pub room: Option<Room>,
    /// `None`: the floor is as warm as the profile says, or as the room.
    pub floor: Option<Floor>,
    /// Random failures of single modules; `None`: they never fail.
    pub faults: Option<Faults>,
    /// Random failures of stacks, protection, communication, joints and leads.
    pub hazards: Hazards,
    /// How far capacities, resistances, load and temperature vary at random from trial to trial.
    pub spread: Spread,
    /// `None`: nothing can be run.
    pub trials: Option<Trials>,
    /// What the bank is to reach.
    pub targets: Targets,
    /// What prices are in, and that of a joint.
    pub prices: Prices,
    /// Communication cables, which are only counted and priced; `None`: left out of the parts list.
    pub communication: Option<Wire>,
    /// Earthing conductors, which are only counted and priced; `None`: left out of the parts list.
    pub earthing: Option<Wire>,
}

/// The inverter: what it adds to the load, and when it gives up.
#[derive(Clone, Debug)]
pub struct Inverter {
    /// Rated output [W].
    pub rated: f64,
    /// Efficiency (0…1) by output as a share of `rated`. `None`: lossless.
    pub efficiency: Option<Curve>,
    /// Drawn from the bus while it runs [W].
    pub standing: f64,
    /// Effective value of the alternating part of its direct current, as a share of the mean: it heats by
    /// 1 + ripple².
    pub ripple: f64,
    /// Low-voltage cut-out: `trip` and `release` are bus voltages [V].
    pub cut_out: Option<CutOut>,
}

/// Low-voltage cut-out of an inverter.
#[derive(Clone, Copy, Debug)]
pub struct CutOut {
    /// Bus voltage below which it disconnects [V].
    pub trip: f64,
    /// How long the bus must stay below `trip` before the inverter disconnects.
    pub delay: Time,
    /// Voltage of the bus without load at or above which it reconnects [V] …
    pub reconnect: f64,
    /// … once the bus has stayed there for this long.
    pub reconnect_delay: Time,
}

/// What the bank must deliver; positive discharges.
#[derive(Clone, Debug)]
pub enum Load {
    /// Constant current at the bus [A].
    Current(f64),
    /// Constant power [W]: at the bus, or at the inverter's output if there is one.
    Power(f64),
    /// Power by time [W], each value held until the next.
    Profile(Series),
}

/// The air outdoors (or around the bank, where no room is given).
#[derive(Clone, Debug)]
pub struct Climate {
    /// Temperature of the air.
    pub air: Air,
    /// Floor temperature of its own, where the profile has a column for it [°C].
    pub floor: Option<Series>,
    /// First and last (month, day) on which a night may start; may wrap around the new year.
    pub season: Option<((i8, i8), (i8, i8))>,
}

/// Temperature of the air.
#[derive(Clone, Debug)]
pub enum Air {
    /// The same temperature at all times [°C].
    Constant(f64),
    /// Temperature by time [°C], linear between observations.
    Profile(Series),
}

/// The room between outdoors and bank: C·dT/dt = gain + own heat − loss·(T − outdoors).
#[derive(Clone, Copy, Debug)]
pub struct Room {
    /// Heat loss to the outdoors [W/K].
    pub loss: f64,
    /// Constant heat from people and appliances [W].
    pub gain: f64,
    /// Heat capacity of the room [J/K].
    pub heat_capacity: f64,
    /// Rise of the air's temperature with height above the floor [K/m].
    pub gradient: f64,
}

/// The floor below position 1, where it has no profile of its own.
#[derive(Clone, Copy, Debug)]
pub struct Floor {
    /// Time constant with which it lags [s].
    pub lag: f64,
    /// Whose temperature it lags.
    pub follows: FloorFollows,
    /// Temperature difference added to that of the air it follows [K].
    pub offset: f64,
}

/// Whose temperature the floor lags.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FloorFollows {
    /// The floor follows the air outdoors.
    Outdoors,
    /// The floor follows the air of the room.
    Room,
}

/// How many nights, and how each is run.
#[derive(Clone, Debug)]
pub struct Trials {
    /// Number of trials.
    pub count: u64,
    /// Seed of every random draw; the same seed gives the same results.
    pub seed: u64,
    /// Length of a trial.
    pub horizon: Time,
    /// The longest step.
    pub step: Time,
    /// State of charge of the modules at the start (0…1).
    pub soc: f64,
    /// Clock time at which each night starts [s after midnight]; `None`: where the profile starts.
    pub start: Option<i64>,
    /// Shortest time above a limit that is an overload, and without service that ends the service.
    pub hold_time: Time,
    /// A trip no longer than this after an earlier dropout counts as triggered by it.
    pub cascade_window: Time,
    /// The nights that the profiles cover, at least one.
    pub nights: Vec<Night>,
}

/// What the bank is to reach.
#[derive(Clone, Copy, Debug, Default)]
pub struct Targets {
    /// How long, and how often, the load must be carried.
    pub ride_through: Option<RideThroughTarget>,
    /// Greatest allowed probability that any element is overloaded in a night (0…1).
    pub overload_probability: Option<f64>,
    /// The current that the bank must carry with modules out of service.
    pub limit: Option<LimitTarget>,
}

/// A current that the bank must carry with no element over its limit, whichever modules are out of service.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitTarget {
    /// Current of the bank [A].
    pub current: f64,
    /// Number of modules out of service.
    pub outages: usize,
}

/// How long the load must be carried, and in what share of nights.
#[derive(Clone, Copy, Debug)]
pub struct RideThroughTarget {
    /// Time from the start of the night for which the load must be carried.
    pub length: Time,
    /// Smallest allowed share of nights in which it is carried that long (0…1).
    pub probability: f64,
}

/// State of charge of the modules (0…1) where the scenario gives none.
pub const DEFAULT_SOC: f64 = 0.9;

impl Scenario {
    /// State of charge at the start (0…1): that of the trials, else [`DEFAULT_SOC`].
    pub fn start_soc(&self) -> f64 {
        self.trials.as_ref().map_or(DEFAULT_SOC, |t| t.soc)
    }

    /// Effects that the scenario leaves out and the simulation therefore ignores, a line of text each.
    pub fn left_out(&self) -> Vec<String> {
        let every = |has: fn(&ModuleType) -> bool| self.modules.iter().all(has);
        let windows = |m: &ModuleType| [m.charge_temperature, m.discharge_temperature] != [Window::default(); 2];
        let left_out = [
            (self.climate.is_none(), "climate: the air stands at 25 °C"),
            (!every(windows), "temperature windows of some module type: cold and heat cut nothing off"),
            (
                !every(|m| m.cell_voltage != Window::default()),
                "cell-voltage window of some module type: voltage cuts nothing off",
            ),
            (!every(|m| m.heat.is_some()), "heat of some module type: it is at the air's temperature"),
            (
                !every(|m| m.resistance.activation > 0.0),
                "activation energy of some module type: its resistance is the same at every temperature",
            ),
            (
                !every(|m| !m.resistance.charge_factor.is_constant()),
                "charge factor of some module type: its resistance is the same at every charge",
            ),
            (
                !every(|m| !m.protection.stages.is_empty()),
                "over-current stages of some module type: it never trips on current",
            ),
            (self.devices.is_empty(), "protective devices: no fuse or breaker opens"),
            (
                self.cables.iter().any(|c| c.ampacity.is_none()),
                "insulation of some cable type: it is at the air's temperature, with one rating at every temperature",
            ),
            (self.inverter.is_none(), "inverter: the load is direct current at the bus, without a cut-out"),
            (self.inverter.as_ref().is_some_and(|i| i.cut_out.is_none()), "low-voltage cut-out of the inverter"),
            (
                self.inverter.as_ref().is_some_and(|i| i.ripple == 0.0),
                "ripple: the inverter draws direct current without an alternating part",
            ),
            (self.surges.is_empty(), "surges: no motor starts on top of the load"),
            (self.controller.is_none(), "controller: the inverter follows no announced limit"),
            (
                self.controller.as_ref().is_some_and(|c| c.link.faults.is_none()),
                "faults of the link between controller and inverter",
            ),
            (self.room.is_none(), "room: the bank stands in the outdoor air"),
            (self.spread == Spread::NONE, "spread: all modules, joints and nights are as nominal"),
        ];
        let conditional = left_out.iter().filter(|(out, _)| *out).map(|(_, what)| (*what).to_owned());
        let always = "hysteresis and polarisation of the cells".to_owned();
        self.no_faults().into_iter().chain(conditional).chain([always]).collect()
    }

    /// The values that were written into the program from memory and not checked in print, each named once.
    pub fn from_memory(&self) -> Vec<String> {
        each_once(from_memory(&self.cables, &self.devices))
    }

    /// The kinds of failure that do not happen, in one line.
    fn no_faults(&self) -> Option<String> {
        let hazards = &self.hazards;
        let kinds = [
            (self.faults.is_none(), "single modules"),
            (hazards.stack.is_none(), "whole stacks by a common cause"),
            (hazards.nuisance.is_none(), "protection that opens without a cause"),
            (hazards.chain.is_none(), "the communication chain"),
            (hazards.joint.is_none(), "joints"),
            (hazards.lead.is_none(), "leads"),
        ];
        let absent: Vec<&str> = kinds.iter().filter(|(out, _)| *out).map(|(_, kind)| *kind).collect();
        match absent.len() {
            0 => None,
            6 => Some("faults: nothing fails by chance".to_owned()),
            _ => Some(format!("faults of {}", crate::units::in_words(&absent))),
        }
    }

    /// The files of the load profile and of the air temperature, where these are profiles.
    pub fn sources(&self) -> impl Iterator<Item = &Source> {
        let load = match &self.load {
            Some(Load::Profile(series)) => Some(series.source()),
            _ => None,
        };
        let air = match self.climate.as_ref().map(|c| &c.air) {
            Some(Air::Profile(series)) => Some(series.source()),
            _ => None,
        };
        load.into_iter().chain(air)
    }

    /// Whether chance has any part in these trials. Where it has none, all of them are one night.
    ///
    /// Judged by what can be drawn, not by whether it matters: a sensor's error counts where no guard reads it. Joints
    /// without a resistance are none.
    pub fn is_random(&self, trials: &Trials) -> bool {
        let joints = self.cables.iter().any(|cable| cable.contact > 0.0);
        let (spread, hazards) = (&self.spread, &self.hazards);
        let spreads = [
            &spread.capacity,
            &spread.resistance,
            &spread.start_charge,
            &spread.load,
            &spread.temperature,
            &spread.sensor,
        ];
        let link = self.controller.as_ref().is_some_and(|c| c.link.faults.is_some());
        let fails = [self.faults.is_some(), hazards.stack.is_some(), hazards.nuisance.is_some()];
        let fails_too = [hazards.chain.is_some(), hazards.lead.is_some(), hazards.joint.is_some() && joints, link];
        trials.nights.len() > 1
            || spreads.into_iter().any(Distribution::varies)
            || spread.joint.varies() && joints
            || fails.into_iter().chain(fails_too).any(|may| may)
            || self.surges.iter().any(|surge| matches!(surge.when, SurgeWhen::Every(_)))
    }

    /// Number of modules in all stacks.
    pub fn module_count(&self) -> usize {
        self.stacks.iter().map(|s| s.positions.len()).sum()
    }
}

impl Layout {
    /// A copy of `base` with the stacks, types, bars and controller of this layout.
    pub fn of(&self, base: &Scenario) -> Scenario {
        let design = self.design.clone();
        Scenario {
            modules: design.modules,
            cables: design.cables,
            devices: design.devices,
            stacks: design.stacks,
            bar: design.bar,
            main: design.main,
            controller: design.controller,
            ..base.clone()
        }
    }
}

fn from_memory<'a>(cables: &'a [CableType], devices: &'a [DeviceType]) -> impl Iterator<Item = String> + 'a {
    let opens =
        devices.iter().filter(|d| d.instantaneous.is_some()).map(|_| DeviceType::OPENING_FROM_MEMORY.to_owned());
    cables.iter().flat_map(|c| c.from_memory.iter().cloned()).chain(opens)
}

fn each_once(all: impl IntoIterator<Item = String>) -> Vec<String> {
    let mut kept: Vec<String> = Vec::new();
    all.into_iter().for_each(|one| {
        if !kept.contains(&one) {
            kept.push(one)
        }
    });
    kept
}
