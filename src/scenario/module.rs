//! A type of module: what it is electrically and thermally, what guards it, how it comes back.

use crate::curve::Curve;
use crate::time::Time;

/// A type of module: an open-circuit voltage behind a resistance, with its guards and its heat.
#[derive(Clone, Debug, PartialEq)]
pub struct ModuleType {
    pub name: String,
    /// Cells in series.
    pub cells: u32,
    /// Charge between empty and full [C].
    pub capacity: f64,
    pub resistance: ModuleResistance,
    /// Open-circuit voltage of the module [V] by its charge (0…1).
    pub open_circuit: Curve,
    /// Rated discharge current [A]; `None`: unrated, never over.
    pub discharge_limit: Option<f64>,
    /// Rated charge current, positive [A].
    pub charge_limit: Option<f64>,
    /// The charge (0…1) at which it leaves service.
    pub empty: f64,
    /// What its electronics draw from its own cells [W].
    pub standing: f64,
    /// Voltage lost across a switch that blocks the other direction [V].
    pub switch_drop: f64,
    pub switches: Switches,
    /// Height of one module in the stack [m]: position k is centred at (k − ½) of it.
    pub pitch: f64,
    /// `None`: the module is at the temperature of the air around it.
    pub heat: Option<Heat>,
    /// Where cell temperature forbids charging.
    pub charge_temperature: Window,
    /// Where cell temperature forbids discharging.
    pub discharge_temperature: Window,
    /// Cell voltage: `low` stops discharging, `high` stops charging [V per cell].
    pub cell_voltage: Window,
    /// What trips on current, and how the module comes back.
    pub protection: Protection,
    pub heater: Option<Heater>,
    /// Where its electronics hold its own current; `None`: passive.
    pub self_limit: Option<SelfLimit>,
    /// In the scenario's currency.
    pub price: Option<f64>,
}

/// What a module trips on by current, and how it comes back from any trip.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Protection {
    /// Over-current stages, in the order of the file.
    pub stages: Vec<Stage>,
    /// How long a module that tripped on current stays out before it tries again.
    pub retry_after: Time,
    /// How often it tries again within a trial; after that it stays out (lock-out).
    pub retries: u32,
    /// How long nothing must block it before it rejoins.
    pub rejoin_wait: Time,
    /// Greatest difference of voltage across its open switch at which it rejoins [V].
    pub rejoin_difference: Option<f64>,
    /// How long it pre-charges before it closes: it carries nothing meanwhile.
    pub pre_charge: Time,
}

impl Protection {
    /// Whether a module comes back as soon as nothing blocks it.
    pub fn rejoins_at_once(&self) -> bool {
        self.rejoin_wait == Time::ZERO && self.rejoin_difference.is_none() && self.pre_charge == Time::ZERO
    }
}

/// One over-current stage: trips when the current in its direction stays above `current`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stage {
    pub direction: Direction,
    /// [A]
    pub current: f64,
    pub delay: Time,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    Discharge,
    Charge,
}

/// A heater within a module, fed from its own cells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heater {
    /// [W]
    pub power: f64,
    /// Turns on below this, as the sensor reads it [°C] …
    pub on: f64,
    /// … and off above this.
    pub off: f64,
}

/// A module that holds its own current: a voltage behind a resistance up to here, a constant current
/// beyond; what that costs in voltage becomes heat in its electronics.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SelfLimit {
    /// [A]; infinite where that direction is not limited.
    pub discharge: f64,
    pub charge: f64,
}

/// Resistance between the terminals: `fixed + cell·f(z)·exp(Ea/R·(1/T − 1/298.15))`.
#[derive(Clone, Debug, PartialEq)]
pub struct ModuleResistance {
    /// Copper, switches and joints: the same at every temperature [Ω].
    pub fixed: f64,
    /// The cells' part at 25 °C and a charge factor of one [Ω].
    pub cell: f64,
    /// Activation energy Ea [J/mol]; 0 = no effect of temperature.
    pub activation: f64,
    /// f(z), factor on the cells' part by charge (0…1).
    pub charge_factor: Curve,
}

/// How a module interrupts its current.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Switches {
    /// One switch a direction: either may be blocked alone.
    Separate,
    /// One contactor: whatever trips opens both directions.
    Contactor,
}

/// Lumped heat of one module.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heat {
    /// [J/K]
    pub capacity: f64,
    /// To the air around it [W/K].
    pub to_air: f64,
    /// To the floor, position 1 only [W/K].
    pub to_floor: f64,
    /// To each neighbour above and below [W/K].
    pub to_neighbour: f64,
}

/// A guard on one quantity: trips at one value for longer than a delay, releases at another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    pub trip: f64,
    pub release: f64,
    /// How long beyond `trip` (or back inside `release`) before it acts.
    pub delay: Time,
}

/// The two ends of a permitted range. `low.release > low.trip`, `high.release < high.trip`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Window {
    pub low: Option<Guard>,
    pub high: Option<Guard>,
}
