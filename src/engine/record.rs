//! One replayed night, moment by moment.

use crate::engine::module::State;
use crate::time::Time;
use serde::Serialize;

/// Every current, voltage, temperature and state of one trial. Vectors over elements follow
/// `modules` and `conductors`.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Record {
    pub trial: u64,
    /// `2018-12-31 17:00`, or empty where there is no calendar.
    pub start: String,
    pub modules: Vec<String>,
    pub conductors: Vec<String>,
    /// Discharge limits [A].
    pub module_limits: Vec<Option<f64>>,
    pub conductor_ratings: Vec<Option<f64>>,
    pub moments: Vec<Moment>,
    /// What happened, in order: `A1 open (cold)`, `A.lead1+ over 160 A`.
    pub events: Vec<(Time, String)>,
}

/// The bank at one moment. At a discontinuity there are two moments of one time.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Moment {
    pub time: Time,
    /// At the bus [V], [A]; demand is what was asked for at the load [W].
    pub bus_voltage: f64,
    pub bus_current: f64,
    pub demand_w: f64,
    /// Whether the demand was met.
    pub served: bool,
    pub outdoor: f64,
    pub floor: f64,
    pub module_currents: Vec<f64>,
    pub module_charges: Vec<f64>,
    /// [°C]
    pub module_temperatures: Vec<f64>,
    pub module_states: Vec<State>,
    pub conductor_currents: Vec<f64>,
    /// [°C]; of those with insulation data.
    pub conductor_temperatures: Vec<Option<f64>>,
}
