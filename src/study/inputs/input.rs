//! The inputs of a night: what each is, and the scenario with one of them a step lower or higher.
//!
//! In: a scenario. Out: each input that it has, and the whole scenario with that one changed. A step that would leave
//! what a scenario may hold is not taken.

use crate::scenario::{Air, Faults, Fitted, Load, Scenario, Window};
use crate::study::sensitivity::Kind;
use crate::study::sensitivity::input::{self as of_limit, Input as OfLimit};
use crate::time::Time;
use serde::{Serialize, Serializer};
use std::fmt;

/// How far an input is moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Times 0.9 and 1.1.
    Tenth,
    /// Five points of a per cent.
    Points,
    /// One kelvin.
    Kelvin,
    /// Two kelvins.
    Kelvins,
    /// Halved and doubled.
    Twofold,
}

/// The side to which an input is moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// A step lower.
    Less,
    /// A step higher.
    More,
}

/// What fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hazard {
    /// A module by itself.
    Module,
    /// All modules of a stack by a common cause.
    Stack,
    /// A module opens without a cause.
    Nuisance,
    /// A link of the chain of communication.
    Chain,
    /// A joint goes bad.
    Joint,
    /// A lead conductor breaks.
    Lead,
    /// The controller's link to the inverter.
    Link,
}

impl Hazard {
    const ALL: [Hazard; 7] =
        [Hazard::Module, Hazard::Stack, Hazard::Nuisance, Hazard::Chain, Hazard::Joint, Hazard::Lead, Hazard::Link];

    fn of(self, s: &mut Scenario) -> Option<&mut Faults> {
        let hazards = &mut s.hazards;
        match self {
            Hazard::Module => s.faults.as_mut(),
            Hazard::Stack => hazards.stack.as_mut(),
            Hazard::Nuisance => hazards.nuisance.as_mut(),
            Hazard::Chain => hazards.chain.as_mut().map(|c| &mut c.faults),
            Hazard::Joint => hazards.joint.as_mut().map(|j| &mut j.faults),
            Hazard::Lead => hazards.lead.as_mut(),
            Hazard::Link => s.controller.as_mut().and_then(|c| c.link.faults.as_mut()),
        }
    }
}

/// One input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Input {
    /// A property of a type or of the bar that moves the limit too.
    OfLimit(OfLimit),
    /// The load, all of it.
    Load,
    /// State of charge at the start.
    StartCharge,
    /// Temperature of the air outside.
    OutdoorTemperature,
    /// Capacity of the module type of this index.
    Capacity(usize),
    /// Low discharge temperatures, trip and release, of the module type of this index.
    ColdCutOff(usize),
    /// Heat that the room loses, for each kelvin.
    RoomLoss,
    /// Constant heat from people and appliances in the room.
    RoomGain,
    /// Temperature of the floor above that of the room.
    FloorOffset,
    /// Mean time between failures.
    Mtbf(Hazard),
    /// Mean time to repair.
    Mttr(Hazard),
    /// Time that the controller takes to react.
    Reaction,
    /// Rated current of the device type of this index.
    DeviceRated(usize),
}

/// All inputs that a scenario has.
pub fn inputs(scenario: &Scenario) -> Vec<Input> {
    let s = scenario;
    let used = |at: &usize| s.stacks.iter().flat_map(|stack| &stack.positions).any(|p| p.module == *at);
    let modules = || (0..s.modules.len()).filter(used);
    let fitted = |at: &usize| devices(s).any(|d| d.device == *at);
    let mut all = vec![Input::Load, Input::StartCharge];
    let mut add = |is: bool, input: Input| all.extend(is.then_some(input));
    add(s.climate.is_some(), Input::OutdoorTemperature);
    add(s.room.is_some(), Input::RoomLoss);
    add(s.room.is_some_and(|room| room.gain != 0.0), Input::RoomGain);
    add(s.floor.is_some(), Input::FloorOffset);
    add(s.controller.as_ref().is_some_and(|c| c.reaction > Time::ZERO), Input::Reaction);
    all.extend(modules().map(Input::Capacity));
    all.extend(modules().filter(|&k| s.modules[k].discharge_temperature.low.is_some()).map(Input::ColdCutOff));
    all.extend((0..s.devices.len()).filter(fitted).map(Input::DeviceRated));
    all.extend(of_limit::inputs(s).into_iter().filter(|i| !i.kind().is_count()).map(Input::OfLimit));
    let mut copy = s.clone();
    for hazard in Hazard::ALL {
        let faults = hazard.of(&mut copy).copied();
        all.extend(faults.map(|_| Input::Mtbf(hazard)));
        all.extend(faults.and_then(|f| f.mttr).map(|_| Input::Mttr(hazard)));
    }
    all
}

fn devices(s: &Scenario) -> impl Iterator<Item = Fitted> {
    let of_stacks = s
        .stacks
        .iter()
        .flat_map(|stack| stack.module_device.into_iter().chain(stack.leads.iter().filter_map(|l| l.device)));
    of_stacks.chain(s.main)
}

/// As JSON and CSV name it; for failures, the key in the scenario.
impl fmt::Display for Input {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Input::OfLimit(input) => return input.kind().fmt(f),
            Input::Load => "load",
            Input::StartCharge => "start_charge",
            Input::OutdoorTemperature => "outdoor_temperature",
            Input::Capacity(_) => "module_capacity",
            Input::ColdCutOff(_) => "discharge_temperature_low",
            Input::RoomLoss => "room_loss",
            Input::RoomGain => "room_gain",
            Input::FloorOffset => "floor_offset",
            Input::Reaction => "controller_reaction",
            Input::DeviceRated(_) => "device_rated",
            Input::Mtbf(Hazard::Module) => "module_mtbf",
            Input::Mttr(Hazard::Module) => "module_mttr",
            Input::Mtbf(Hazard::Stack) => "stack_mtbf",
            Input::Mttr(Hazard::Stack) => "stack_mttr",
            Input::Mtbf(Hazard::Nuisance) => "nuisance_mtbf",
            Input::Mttr(Hazard::Nuisance) => "nuisance_mttr",
            Input::Mtbf(Hazard::Chain) => "chain_mtbf",
            Input::Mttr(Hazard::Chain) => "chain_mttr",
            Input::Mtbf(Hazard::Joint) => "joint_mtbf",
            Input::Mttr(Hazard::Joint) => "joint_mttr",
            Input::Mtbf(Hazard::Lead) => "lead_mtbf",
            Input::Mttr(Hazard::Lead) => "lead_mttr",
            Input::Mtbf(Hazard::Link) => "link_mtbf",
            Input::Mttr(Hazard::Link) => "link_mttr",
        })
    }
}

impl Serialize for Input {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl Input {
    /// How far the input is moved.
    pub fn step(self) -> Step {
        match self {
            Input::StartCharge => Step::Points,
            Input::FloorOffset => Step::Kelvin,
            Input::OutdoorTemperature | Input::ColdCutOff(_) => Step::Kelvins,
            Input::Mtbf(_) | Input::Mttr(_) | Input::Reaction => Step::Twofold,
            _ => Step::Tenth,
        }
    }

    /// The name of its type; empty where it is of the scenario as a whole.
    pub fn of(self, scenario: &Scenario) -> String {
        match self {
            Input::OfLimit(input) => input.of(scenario),
            Input::Capacity(k) | Input::ColdCutOff(k) => scenario.modules[k].name.clone(),
            Input::DeviceRated(k) => scenario.devices[k].name.clone(),
            _ => String::new(),
        }
    }

    /// Which property of the limit it is.
    pub fn kind(self) -> Option<Kind> {
        match self {
            Input::OfLimit(input) => Some(input.kind()),
            _ => None,
        }
    }

    /// The scenario with this input alone a step to one side; `None` where that changes nothing or is not legal.
    pub fn changed(self, scenario: &Scenario, side: Side) -> Option<Scenario> {
        let more = side == Side::More;
        let sign = if more { 1.0 } else { -1.0 };
        let tenth = 1.0 + 0.1 * sign;
        let twofold = if more { 2.0 } else { 0.5 };
        let mut s = scenario.clone();
        match self {
            Input::OfLimit(input) => return Some(input.changed(scenario, tenth)),
            Input::Load => scale_load(s.load.as_mut()?, tenth)?,
            Input::StartCharge => shift_charge(&mut s, 0.05 * sign)?,
            Input::OutdoorTemperature => shift_air(&mut s.climate.as_mut()?.air, 2.0 * sign)?,
            Input::Capacity(k) => s.modules[k].capacity *= tenth,
            Input::ColdCutOff(k) => shift_low(&mut s.modules[k].discharge_temperature, 2.0 * sign)?,
            Input::RoomLoss => s.room.as_mut()?.loss *= tenth,
            Input::RoomGain => s.room.as_mut()?.gain *= tenth,
            Input::FloorOffset => s.floor.as_mut()?.offset += sign,
            Input::Mtbf(hazard) => hazard.of(&mut s)?.mtbf *= twofold,
            Input::Mttr(hazard) => *hazard.of(&mut s)?.mttr.as_mut()? *= twofold,
            Input::Reaction => {
                let reaction = &mut s.controller.as_mut()?.reaction;
                *reaction = Time::from_seconds(reaction.seconds() * twofold);
            }
            Input::DeviceRated(k) => s.devices[k].rated *= tenth,
        }
        Some(s)
    }
}

fn scale_load(load: &mut Load, factor: f64) -> Option<()> {
    match load {
        Load::Current(value) | Load::Power(value) => *value *= factor,
        Load::Profile(series) => {
            *series = series.with_values(series.values().iter().map(|watts| watts * factor).collect()).ok()?;
        }
    }
    Some(())
}

fn shift_air(air: &mut Air, kelvins: f64) -> Option<()> {
    match air {
        Air::Constant(celsius) => *celsius += kelvins,
        Air::Profile(series) => {
            *series = series.with_values(series.values().iter().map(|celsius| celsius + kelvins).collect()).ok()?;
        }
    }
    Some(())
}

/// Moves the state of charge of all modules, kept between empty and full.
fn shift_charge(s: &mut Scenario, by: f64) -> Option<()> {
    let own = s.stacks.iter_mut().flat_map(|stack| &mut stack.positions).filter_map(|p| p.soc.as_mut());
    let mut moved = false;
    for soc in own.chain(s.trials.as_mut().map(|trials| &mut trials.soc)) {
        let new = (*soc + by).clamp(0.0, 1.0);
        moved |= new != *soc;
        *soc = new;
    }
    moved.then_some(())
}

/// Trips and releases at temperatures that are so much higher, where the other end leaves room for it.
fn shift_low(window: &mut Window, kelvins: f64) -> Option<()> {
    let low = window.low.as_mut()?;
    (low.trip, low.release) = (low.trip + kelvins, low.release + kelvins);
    let fits = window.high.is_none_or(|high| low.release < high.trip && low.trip < high.release);
    fits.then_some(())
}
