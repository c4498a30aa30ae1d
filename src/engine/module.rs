//! A module: open-circuit voltage and resistance by charge and temperature, and what its guards
//! let it do.
//!
//! In: its type, its overrides by position, and the luck of the trial. Out: the branch element that
//! the network solves with, and which directions are blocked and why.
//!
//! E = OCV(z); R = s·(fixed + cell·f(z)·exp(Ea/R·(1/T − 1/298.15))) with s the scale by position
//! and luck. Charge by counting: dz/dt = −(i + standing/E)/Q.

use super::guard::{GuardState, Side};
use super::luck::ModuleLuck;
use crate::network::Law;
use crate::scenario::{Guard, ModuleType, Position, Switches};
use crate::time::Time;
use serde::{Deserialize, Serialize};

/// Molar gas constant [J/(mol·K)] (CODATA 2018, exact to the digits given).
const GAS: f64 = 8.314_462_618;

/// A module that was empty serves again when it has been charged by this much.
const EMPTY_HYSTERESIS: f64 = 0.02;

/// A full module takes charge again when it has fallen by this much.
const FULL_HYSTERESIS: f64 = 0.005;

/// What does not change in a trial.
#[derive(Clone, Debug)]
pub struct ModuleModel {
    pub kind: ModuleType,
    /// Resistance by position, as a multiple of the type's.
    pub scale: f64,
    /// One voltage at every charge, where the position overrides the curve [V].
    pub fixed_emf: Option<f64>,
    /// Charge at the start (0…1).
    pub start: f64,
}

impl ModuleModel {
    pub fn new(kind: &ModuleType, position: &Position, start: f64) -> ModuleModel {
        let nominal = kind.resistance.fixed + kind.resistance.cell;
        ModuleModel {
            kind: kind.clone(),
            scale: position.resistance.map_or(1.0, |r| r / nominal),
            fixed_emf: position.open_circuit,
            start: position.soc.unwrap_or(start),
        }
    }

    /// Open-circuit voltage [V] at a charge, and its slope by charge.
    pub fn emf(&self, charge: f64) -> (f64, f64) {
        match self.fixed_emf {
            Some(volts) => (volts, 0.0),
            None => self.kind.open_circuit.at(charge),
        }
    }

    /// The cells' part of the resistance [Ω], and the whole.
    pub fn resistance(&self, charge: f64, celsius: f64) -> (f64, f64) {
        let r = &self.kind.resistance;
        let cold = match r.activation {
            0.0 => 1.0,
            energy => (energy / GAS * (1.0 / (celsius + 273.15) - 1.0 / 298.15)).exp(),
        };
        let cell = self.scale * r.cell * r.charge_factor.value(charge) * cold;
        (cell, cell + self.scale * r.fixed)
    }
}

/// Why a direction is blocked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Reason {
    Fault,
    Cold,
    Hot,
    LowVoltage,
    HighVoltage,
    Empty,
    Full,
}

impl Reason {
    pub fn word(self) -> &'static str {
        match self {
            Reason::Fault => "fault",
            Reason::Cold => "cold",
            Reason::Hot => "hot",
            Reason::LowVoltage => "low voltage",
            Reason::HighVoltage => "high voltage",
            Reason::Empty => "empty",
            Reason::Full => "full",
        }
    }

    /// Whether it is the end of the charge, and not a dropout.
    pub fn is_exhaustion(self) -> bool {
        matches!(self, Reason::Empty | Reason::LowVoltage)
    }
}

/// What a module may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    InService,
    /// Discharge passes.
    ChargeBlocked,
    /// Charge passes.
    DischargeBlocked,
    Open,
}

impl State {
    pub fn word(self) -> &'static str {
        match self {
            State::InService => "in service",
            State::ChargeBlocked => "charge blocked",
            State::DischargeBlocked => "discharge blocked",
            State::Open => "open",
        }
    }

    /// For machines.
    pub fn tag(self) -> &'static str {
        match self {
            State::InService => "in_service",
            State::ChargeBlocked => "charge_blocked",
            State::DischargeBlocked => "discharge_blocked",
            State::Open => "open",
        }
    }

    pub fn delivers(self) -> bool {
        matches!(self, State::InService | State::ChargeBlocked)
    }

    pub fn law(self, drop: f64) -> Law {
        match self {
            State::InService => Law::Both,
            State::ChargeBlocked => Law::ForwardOnly { drop },
            State::DischargeBlocked => Law::ReverseOnly { drop },
            State::Open => Law::Open,
        }
    }
}

/// What a guard of a module watches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// 0…1
    Charge,
    /// As its sensor reads it [°C].
    Temperature,
    /// [V]
    CellVoltage,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Blocks {
    Charge,
    Discharge,
}

/// The values that the guards watch, at one moment.
#[derive(Clone, Copy, Debug)]
pub struct Watched {
    pub charge: f64,
    pub temperature: f64,
    pub cell_voltage: f64,
}

impl Watched {
    fn of(&self, quantity: Quantity) -> f64 {
        match quantity {
            Quantity::Charge => self.charge,
            Quantity::Temperature => self.temperature,
            Quantity::CellVoltage => self.cell_voltage,
        }
    }
}

#[derive(Clone, Copy, Debug)]
struct ModuleGuard {
    state: GuardState,
    quantity: Quantity,
    blocks: Blocks,
    reason: Reason,
}

/// The state of a module in a trial.
#[derive(Clone, Debug)]
pub struct ModuleState {
    /// 0…1
    pub charge: f64,
    /// [°C]
    pub temperature: f64,
    /// Out by a fault, not yet repaired.
    pub down: bool,
    guards: Vec<ModuleGuard>,
    switches: Switches,
}

impl ModuleState {
    pub fn new(model: &ModuleModel, luck: &ModuleLuck, temperature: f64) -> ModuleState {
        ModuleState {
            charge: (model.start + luck.start_charge).clamp(0.0, 1.0),
            temperature,
            down: luck.faults.down_at_start,
            guards: guards(&model.kind),
            switches: model.kind.switches,
        }
    }

    /// Why it is out of service in that direction, the first reason of several.
    fn blocked(&self, blocks: Blocks) -> Option<Reason> {
        if self.down {
            return Some(Reason::Fault);
        }
        let contactor = self.switches == Switches::Contactor;
        // A full module's charge is refused; no contactor opens for that.
        let acts = |g: &&ModuleGuard| g.blocks == blocks || (contactor && g.reason != Reason::Full);
        self.guards.iter().filter(|g| g.state.tripped()).find(acts).map(|g| g.reason)
    }

    pub fn state(&self) -> State {
        match (self.blocked(Blocks::Charge), self.blocked(Blocks::Discharge)) {
            (None, None) => State::InService,
            (Some(_), None) => State::ChargeBlocked,
            (None, Some(_)) => State::DischargeBlocked,
            (Some(_), Some(_)) => State::Open,
        }
    }

    /// Why it does not deliver; a dropout before exhaustion where both hold.
    pub fn out(&self) -> Option<Reason> {
        self.blocked(Blocks::Discharge)
    }

    /// Why it is not simply in service.
    pub fn reason(&self) -> Option<Reason> {
        self.out().or_else(|| self.blocked(Blocks::Charge))
    }

    /// The greatest excess of any guard, relative to a natural unit of its quantity.
    pub fn excess(&self, watched: &Watched) -> f64 {
        let excess = |g: &ModuleGuard| g.state.excess(watched.of(g.quantity));
        self.guards.iter().map(excess).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Changes the phase of every guard with a positive excess; true if any did.
    pub fn flip(&mut self, watched: &Watched, now: Time) -> bool {
        let mut flipped = false;
        for g in &mut self.guards {
            if g.state.excess(watched.of(g.quantity)) > 0.0 {
                g.state.flip(now);
                flipped = true;
            }
        }
        flipped
    }

    /// When the next timer runs out.
    pub fn due(&self) -> Time {
        self.guards.iter().map(|g| g.state.due()).min().unwrap_or(Time::NEVER)
    }

    /// Lets timers that are due run out; true if any did.
    pub fn expire(&mut self, now: Time) -> bool {
        let expired = self.guards.iter_mut().map(|g| g.state.expire(now));
        expired.fold(false, |any, did| any | did)
    }

    /// Acts at once on what has lasted long enough before the start: no delay before time zero.
    pub fn settle_at_start(&mut self, watched: &Watched) {
        if self.flip(watched, Time::ZERO) {
            for g in &mut self.guards {
                let due = g.state.due();
                if due < Time::NEVER {
                    g.state.expire(due);
                }
            }
        }
    }
}

fn by_side<T>(state: &GuardState, low: T, high: T) -> T {
    match state.side() {
        Side::Low => low,
        Side::High => high,
    }
}

/// Dropouts first, exhaustion last: the order in which reasons are told.
fn guards(kind: &ModuleType) -> Vec<ModuleGuard> {
    let mut guards = Vec::new();
    let temperature = Quantity::Temperature;
    for (window, blocks) in
        [(&kind.discharge_temperature, Blocks::Discharge), (&kind.charge_temperature, Blocks::Charge)]
    {
        for state in GuardState::of_window(window) {
            let reason = by_side(&state, Reason::Cold, Reason::Hot);
            guards.push(ModuleGuard { state, quantity: temperature, blocks, reason });
        }
    }
    let mut windows: Vec<ModuleGuard> = GuardState::of_window(&kind.cell_voltage)
        .map(|state| ModuleGuard {
            state,
            quantity: Quantity::CellVoltage,
            blocks: by_side(&state, Blocks::Discharge, Blocks::Charge),
            reason: by_side(&state, Reason::LowVoltage, Reason::HighVoltage),
        })
        .collect();
    windows.reverse();
    guards.extend(windows);
    let charge = Quantity::Charge;
    let release = (kind.empty + EMPTY_HYSTERESIS).min(1.0);
    let empty = Guard { trip: kind.empty, release, delay: Time::ZERO };
    let state = GuardState::new(empty, Side::Low);
    guards.push(ModuleGuard { state, quantity: charge, blocks: Blocks::Discharge, reason: Reason::Empty });
    let full = Guard { trip: 1.0, release: 1.0 - FULL_HYSTERESIS, delay: Time::ZERO };
    let state = GuardState::new(full, Side::High);
    guards.push(ModuleGuard { state, quantity: charge, blocks: Blocks::Charge, reason: Reason::Full });
    guards
}
