//! A type of module: what it is electrically and thermally, what guards it, how it comes back.

use crate::curve::Curve;
use crate::time::Time;

/// A type of module: an open-circuit voltage behind a resistance, with its guards and its heat.
#[derive(Clone, Debug, PartialEq)]
pub struct ModuleType {
    /// Name of the type in the scenario.
    pub name: String,
    /// Cells in series.
    pub cells: u32,
    /// Charge between empty and full [C].
    pub capacity: f64,
    /// Resistance between its terminals.
    pub resistance: ModuleResistance,
    /// Open-circuit voltage of the module [V] by its state of charge (0…1).
    pub open_circuit: Curve,
    /// Rated discharge current [A]; `None`: unrated, never over.
    pub discharge_limit: Option<f64>,
    /// Rated charge current, positive [A]; `None`: unrated, never over.
    pub charge_limit: Option<f64>,
    /// State of charge (0…1) at which it leaves service.
    pub empty: f64,
    /// Power that its electronics draw from its own cells [W].
    pub standing: f64,
    /// Voltage lost across a switch that blocks the other direction [V].
    pub switch_drop: f64,
    /// How it interrupts its current.
    pub switches: Switches,
    /// Height of one module in the stack [m]: position k is centred at (k − ½) of it.
    pub pitch: f64,
    /// Its heat capacity and conductances; `None`: it is at the temperature of the air around it.
    pub heat: Option<Heat>,
    /// Cell temperatures outside which it is not charged [°C].
    pub charge_temperature: Window,
    /// Cell temperatures outside which it is not discharged [°C].
    pub discharge_temperature: Window,
    /// Cell voltage: `low` stops discharging, `high` stops charging [V per cell].
    pub cell_voltage: Window,
    /// What trips on current, and how the module comes back.
    pub protection: Protection,
    /// Its heater; `None`: it has none.
    pub heater: Option<Heater>,
    /// Currents at which its electronics limit its own current; `None`: they do not.
    pub self_limit: Option<SelfLimit>,
    /// Price of one module, in the scenario's currency; `None`: not stated.
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
    /// How long it must be free of every trip and window before it rejoins.
    pub rejoin_wait: Time,
    /// Greatest voltage across its open switch at which it rejoins [V]; `None`: it rejoins at any.
    pub rejoin_difference: Option<f64>,
    /// How long it pre-charges before its switch closes; until then it carries no current.
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
    /// Direction of the current that it trips on.
    pub direction: Direction,
    /// Current above which it trips, positive [A].
    pub current: f64,
    /// How long above `current` before it trips.
    pub delay: Time,
}

/// Direction of the current of one module.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Out of the module.
    Discharge,
    /// Into the module.
    Charge,
}

/// A heater within a module, fed from its own cells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heater {
    /// Power that it draws [W].
    pub power: f64,
    /// Sensor reading below which it turns on [°C].
    pub on: f64,
    /// Sensor reading above which it turns off [°C].
    pub off: f64,
}

/// Currents at which a module's electronics limit its own current. Up to them the module is a voltage behind a
/// resistance, beyond them a constant current; the lost voltage becomes heat in the electronics.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SelfLimit {
    /// Greatest discharge current [A]; infinite where discharge is not limited.
    pub discharge: f64,
    /// Greatest charge current, positive [A]; infinite where charge is not limited.
    pub charge: f64,
}

/// Resistance between the terminals: `fixed + cell·f(z)·exp(Ea/R·(1/T − 1/298.15))`.
#[derive(Clone, Debug, PartialEq)]
pub struct ModuleResistance {
    /// Copper, switches and joints: the same at every temperature [Ω].
    pub fixed: f64,
    /// The cells' part at 25 °C where `charge_factor` is 1 [Ω].
    pub cell: f64,
    /// Activation energy Ea [J/mol]; 0 = no effect of temperature.
    pub activation: f64,
    /// f(z): factor on the cells' part by state of charge z (0…1).
    pub charge_factor: Curve,
}

/// How a module interrupts its current.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Switches {
    /// One switch for each direction: one may be blocked without the other.
    Separate,
    /// One contactor: a trip in either direction blocks both.
    Contactor,
}

/// Lumped heat of one module.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heat {
    /// Heat capacity [J/K].
    pub capacity: f64,
    /// Heat conductance to the air around it [W/K].
    pub to_air: f64,
    /// Heat conductance of position 1 to the floor [W/K].
    pub to_floor: f64,
    /// Heat conductance to each neighbour above and below [W/K].
    pub to_neighbour: f64,
}

/// A guard on one quantity: trips at one value for longer than a delay, releases at another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    /// Value beyond which it trips, in the unit of the guarded quantity.
    pub trip: f64,
    /// Value inside which it releases, in the same unit.
    pub release: f64,
    /// How long the quantity must stay beyond `trip` (or inside `release`) before it acts.
    pub delay: Time,
}

/// The two ends of a permitted range. `low.release > low.trip`, `high.release < high.trip`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Window {
    /// `None`: no lower end.
    pub low: Option<Guard>,
    /// `None`: no upper end.
    pub high: Option<Guard>,
}
