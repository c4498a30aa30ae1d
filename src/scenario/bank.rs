//! The bank: stacks of modules, their lead pairs, and the bus bars where these meet.

use super::device::Fitted;

/// A stack of modules, paralleled by jumpers on both rails.
#[derive(Clone, Debug)]
pub struct Stack {
    /// Begins the identifiers of its elements.
    pub name: String,
    /// Index into `Scenario::cables`; `None` only where the stack has a single module.
    pub jumper: Option<usize>,
    /// From the floor up: position 1 first.
    pub positions: Vec<Position>,
    /// Its lead pairs, in the order of the file.
    pub leads: Vec<LeadPair>,
    /// Between each module and its rails.
    pub module_device: Option<Fitted>,
    /// Of position 1 to the floor, where the stack overrides its module type [W/K]: a pallet or a mat.
    pub heat_to_floor: Option<f64>,
}

/// What stands in one position of a stack.
#[derive(Clone, Debug)]
pub struct Position {
    /// Index into `Scenario::modules`.
    pub module: usize,
    /// Overrides of the type by position.
    pub soc: Option<f64>,
    /// Resistance between the terminals at 25 °C [Ω]; scales fixed and cell part alike.
    pub resistance: Option<f64>,
    /// One voltage for the module [V].
    pub open_circuit: Option<f64>,
}

/// One pair of longer leads from a stack to the bus bar.
#[derive(Clone, Copy, Debug)]
pub struct LeadPair {
    /// Index into `Scenario::cables`.
    pub cable: usize,
    /// Position (from 1) whose positive terminal the positive lead takes off.
    pub positive: usize,
    /// Position (from 1) whose negative terminal the negative lead takes off.
    pub negative: usize,
    /// Distance along the bus bar [m]; 0 on an ideal bus.
    pub at: f64,
    /// Its protective device, if it has one.
    pub device: Option<Fitted>,
}

/// Where all leads and the inverter meet.
#[derive(Clone, Debug)]
pub enum Bar {
    /// One point a pole.
    Ideal,
    /// A pair of bars with taps at distances.
    Tapped {
        /// Resistance of one bar a metre [Ω/m], at every temperature.
        per_metre: f64,
        /// Where the inverter takes off [m].
        load_at: f64,
        /// Rated current of one bar [A]; `None`: unrated.
        rating: Option<f64>,
    },
}
