//! The guards of a module: what each watches, which direction it blocks, and why.
//!
//! In: the module's type. Out: its guards, in the order in which their reasons are told.

use super::state::Reason;
use crate::engine::guard::{GuardState, Side};
use crate::scenario::{Direction, Guard, ModuleType, Stage, Window};
use crate::time::Time;

/// A module that was empty serves again when it has been charged by this much.
const EMPTY_HYSTERESIS: f64 = 0.02;

/// A full module takes charge again when it has fallen by this much.
const FULL_HYSTERESIS: f64 = 0.005;

/// What a guard of a module watches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Quantity {
    /// 0…1
    Soc,
    /// As its sensor reads it [°C].
    Temperature,
    /// [V]
    CellVoltage,
    /// Positive in discharge [A].
    Current,
    /// Positive in charge [A].
    ChargeCurrent,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Blocks {
    Charge,
    Discharge,
}

/// The values that the guards watch, at one moment.
#[derive(Clone, Copy, Debug)]
pub struct Watched {
    /// State of charge, 0 to 1.
    pub soc: f64,
    /// As its sensor reads it [°C].
    pub temperature: f64,
    /// Mean of its cells [V].
    pub cell_voltage: f64,
    /// Positive in discharge [A].
    pub current: f64,
    /// Across its switch while that is open: its open-circuit voltage less that of the rails [V].
    pub across_switch: f64,
}

impl Watched {
    pub(super) fn of(&self, quantity: Quantity) -> f64 {
        match quantity {
            Quantity::Soc => self.soc,
            Quantity::Temperature => self.temperature,
            Quantity::CellVoltage => self.cell_voltage,
            Quantity::Current => self.current,
            Quantity::ChargeCurrent => -self.current,
        }
    }
}

#[derive(Clone, Copy, Debug)]
pub(super) struct ModuleGuard {
    pub state: GuardState,
    pub quantity: Quantity,
    pub blocks: Blocks,
    pub reason: Reason,
    /// Tripped on current for the last time.
    pub locked: bool,
}

impl ModuleGuard {
    fn new(state: GuardState, quantity: Quantity, blocks: Blocks, reason: Reason) -> ModuleGuard {
        ModuleGuard { state, quantity, blocks, reason, locked: false }
    }
}

fn by_side<T>(state: &GuardState, low: T, high: T) -> T {
    match state.side() {
        Side::Low => low,
        Side::High => high,
    }
}

/// Dropouts first, exhaustion last: the order in which reasons are told.
pub(super) fn all(kind: &ModuleType) -> Vec<ModuleGuard> {
    let stages = kind.protection.stages.iter().map(over_current);
    let discharge = temperature(&kind.discharge_temperature, Blocks::Discharge);
    let charge = temperature(&kind.charge_temperature, Blocks::Charge);
    let mut voltage: Vec<ModuleGuard> = GuardState::of_window(&kind.cell_voltage)
        .map(|state| {
            let blocks = by_side(&state, Blocks::Discharge, Blocks::Charge);
            let reason = by_side(&state, Reason::LowVoltage, Reason::HighVoltage);
            ModuleGuard::new(state, Quantity::CellVoltage, blocks, reason)
        })
        .collect();
    voltage.reverse();
    let [empty, full] = ends_of_charge(kind);
    discharge.chain(charge).chain(stages).chain(voltage).chain([empty, full]).collect()
}

fn temperature(window: &Window, blocks: Blocks) -> impl Iterator<Item = ModuleGuard> {
    GuardState::of_window(window).map(move |state| {
        let reason = by_side(&state, Reason::Cold, Reason::Hot);
        ModuleGuard::new(state, Quantity::Temperature, blocks, reason)
    })
}

fn over_current(stage: &Stage) -> ModuleGuard {
    let (quantity, blocks) = match stage.direction {
        Direction::Discharge => (Quantity::Current, Blocks::Discharge),
        Direction::Charge => (Quantity::ChargeCurrent, Blocks::Charge),
    };
    let guard = Guard { trip: stage.current, release: stage.current, delay: stage.delay };
    ModuleGuard::new(GuardState::new(guard, Side::High), quantity, blocks, Reason::OverCurrent)
}

fn ends_of_charge(kind: &ModuleType) -> [ModuleGuard; 2] {
    let release = (kind.empty + EMPTY_HYSTERESIS).min(1.0);
    let empty = Guard { trip: kind.empty, release, delay: Time::ZERO };
    let full = Guard { trip: 1.0, release: 1.0 - FULL_HYSTERESIS, delay: Time::ZERO };
    let (empty, full) = (GuardState::new(empty, Side::Low), GuardState::new(full, Side::High));
    [
        ModuleGuard::new(empty, Quantity::Soc, Blocks::Discharge, Reason::Empty),
        ModuleGuard::new(full, Quantity::Soc, Blocks::Charge, Reason::Full),
    ]
}
