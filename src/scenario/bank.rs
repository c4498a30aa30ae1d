//! The bank: stacks of modules, their lead pairs, and the bus bars where these meet.

use super::device::Fitted;

/// A stack of modules, paralleled by jumpers on both rails.
#[derive(Clone, Debug)]
pub struct Stack {
    /// Name of the stack; the identifiers of its elements begin with it.
    pub name: String,
    /// Index into `Scenario::cables`; `None` only where the stack has a single module.
    pub jumper: Option<usize>,
    /// Its modules from the floor up: position 1 first.
    pub positions: Vec<Position>,
    /// Its lead pairs, in the order of the file.
    pub leads: Vec<LeadPair>,
    /// The protective device between each module and the rails; `None`: there is none.
    pub module_device: Option<Fitted>,
    /// Heat conduction from position 1 to the floor [W/K], as over a pallet or a mat; `None`: that of the module type.
    pub heat_to_floor: Option<f64>,
}

/// The module in one position of a stack, and its own values.
#[derive(Clone, Debug)]
pub struct Position {
    /// Index of its type in `Scenario::modules`.
    pub module: usize,
    /// State of charge at the start (0…1); `None`: that of the scenario.
    pub soc: Option<f64>,
    /// Resistance between the terminals at 25 °C [Ω], fixed and cell part scaled alike; `None`: that of the type.
    pub resistance: Option<f64>,
    /// Open-circuit voltage at every state of charge [V]; `None`: the curve of the type.
    pub open_circuit: Option<f64>,
}

/// One pair of longer leads from a stack to the bus bar.
#[derive(Clone, Copy, Debug)]
pub struct LeadPair {
    /// Index of its type in `Scenario::cables`.
    pub cable: usize,
    /// Position (from 1) whose positive terminal the positive lead takes off.
    pub positive: usize,
    /// Position (from 1) whose negative terminal the negative lead takes off.
    pub negative: usize,
    /// Distance along the bus bar [m]; 0 on an ideal bus.
    pub at: f64,
    /// Its protective device; `None`: it has none.
    pub device: Option<Fitted>,
}

/// The bus bars, where the lead pairs and the inverter connect.
#[derive(Clone, Debug)]
pub enum Bar {
    /// Bars without resistance: all connections of a pole are at one point.
    Ideal,
    /// A pair of bars with taps at distances.
    Tapped {
        /// Resistance of one bar per metre [Ω/m], the same at every temperature.
        per_metre: f64,
        /// Distance along the bar at which the inverter connects [m].
        load_at: f64,
        /// Rated current of one bar [A]; `None`: it has no rating.
        rating: Option<f64>,
    },
}
