//! One replayed night, moment by moment.

use crate::engine::module::State;
use crate::time::Time;
use serde::Serialize;

/// Every current, voltage, temperature and state of one trial. Vectors over elements follow
/// `modules` and `conductors`.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Record {
    /// Number of the trial, from 0.
    pub trial: u64,
    /// `2018-12-31 17:00`, or empty where there is no calendar.
    pub start: String,
    /// Identifiers of the modules.
    pub modules: Vec<String>,
    /// Identifiers of the conductors.
    pub conductors: Vec<String>,
    /// Discharge limits [A].
    pub module_limits: Vec<Option<f64>>,
    /// Ratings [A]; `None`: not given.
    pub conductor_ratings: Vec<Option<f64>>,
    /// The moments of the night, in order of time.
    pub moments: Vec<Moment>,
    /// What happened, in order: `A1 open (cold)`, `A.lead1+ over 160 A`.
    pub events: Vec<(Time, String)>,
}

/// The bank at one moment. At a discontinuity there are two moments of one time.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Moment {
    /// After the start of the trial.
    pub time: Time,
    /// [V]
    pub bus_voltage: f64,
    /// Positive in discharge [A].
    pub bus_current: f64,
    /// Power asked for at the load [W].
    pub demand_w: f64,
    /// Whether the demand was met.
    pub served: bool,
    /// Outdoor temperature [°C].
    pub outdoor: f64,
    /// Temperature of the floor [°C].
    pub floor: f64,
    /// Positive in discharge [A].
    pub module_currents: Vec<f64>,
    /// State of charge, 0 to 1.
    pub module_charges: Vec<f64>,
    /// [°C]
    pub module_temperatures: Vec<f64>,
    /// What each may do.
    pub module_states: Vec<State>,
    /// Positive along the branch's direction [A].
    pub conductor_currents: Vec<f64>,
    /// [°C]; of those with insulation data.
    pub conductor_temperatures: Vec<Option<f64>>,
}
