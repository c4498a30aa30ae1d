//! One operating point: every current, voltage and margin, to be held against a clamp meter.
//!
//! In: a scenario, a demand at the bus, a state of charge, an air temperature, and modules taken out.
//! Out: a `Point`. Everything is at the air's temperature, conductors given by size too; a module
//! that its temperature window or its state of charge keeps out of service is out.

use super::error::StudyError;
use super::steady::{Steady, SteadyModule, is_over};
use crate::engine::module::State;
use crate::network::bank::{Bank, DeviceElement};
use crate::network::solve::Solver;
use crate::network::{Demand, Outcome};
use crate::scenario::Scenario;
use serde::Serialize;

/// The question: current or power, state of charge and temperature.
#[derive(Clone, Debug)]
pub struct Question {
    /// Current or power that the bank is to deliver.
    pub demand: Demand,
    /// State of charge of every module (0…1); `None`: that of the scenario.
    pub soc: Option<f64>,
    /// Temperature of the air [°C].
    pub air: f64,
    /// Identifiers of modules out of service.
    pub without: Vec<String>,
}

/// The answer. Other programs rely on its names: add, never rename.
#[derive(Clone, Debug, Serialize)]
pub struct Point {
    /// The terminals of the bank.
    pub bus: Bus,
    /// The modules, in the order of the scenario.
    pub modules: Vec<ModulePoint>,
    /// The conductors, in the order of the scenario.
    pub conductors: Vec<ConductorPoint>,
    /// The protective devices, in the order of the scenario.
    pub devices: Vec<DevicePoint>,
}

/// Voltage, current and power at the terminals of the bank.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Bus {
    /// Whether the bank meets the demand. If not, everything below is at open circuit.
    pub carried: bool,
    /// Voltage between the terminals [V]; null where no module in service is connected to them.
    pub voltage_v: Option<f64>,
    /// Positive in discharge [A].
    pub current_a: f64,
    /// Positive in discharge [W].
    pub power_w: f64,
}

/// One module.
#[derive(Clone, Debug, Serialize)]
pub struct ModulePoint {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Positive in discharge [A].
    pub current_a: f64,
    /// Voltage between its rails [V]; null where nothing in service holds them at a voltage.
    pub voltage_v: Option<f64>,
    /// Whether it is in service, by its temperature and state of charge.
    pub state: State,
    /// Its limit in the direction of the current [A]; null: unrated.
    pub limit_a: Option<f64>,
    /// Whether its current is over its limit.
    pub over: bool,
}

/// One conductor.
#[derive(Clone, Debug, Serialize)]
pub struct ConductorPoint {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Positive in discharge [A].
    pub current_a: f64,
    /// What it may carry in this air: the lesser of its rating and what its insulation allows.
    pub rating_a: Option<f64>,
    /// Whether its current is over its limit.
    pub over: bool,
    /// Along its positive direction, joints included.
    pub drop_v: f64,
    /// Heat in it [W].
    pub loss_w: f64,
    /// What it comes to in the end with this current; null without insulation data, or where it never settles.
    pub steady_temperature_c: Option<f64>,
}

/// One protective device.
#[derive(Clone, Debug, Serialize)]
pub struct DevicePoint {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Positive in discharge [A].
    pub current_a: f64,
    /// Rated current [A].
    pub rated_a: f64,
    /// How long it carries this current from cold before it opens [s]; null: it never opens.
    pub opens_after_s: Option<f64>,
}

/// Solves one operating point.
///
/// # Errors
/// A module that the scenario does not have.
pub fn solve(scenario: &Scenario, question: &Question) -> Result<Point, StudyError> {
    let mut steady = Steady::new(scenario, question.soc, question.air)?;
    for module in modules_out(&steady.bank, &question.without)? {
        steady.take_out(module);
    }
    let mut solver = Solver::new(steady.bank.network.clone());
    let outcome = solver.solve(&steady.elements, question.demand)?;
    let connected = steady.modules.iter().any(|m| m.state != State::Open);
    Ok(Point {
        bus: bus(outcome, connected),
        modules: steady
            .modules
            .iter()
            .enumerate()
            .map(|(k, m)| module_point(&steady, &solver, (k, m), connected))
            .collect(),
        conductors: (0..steady.bank.conductors.len()).map(|k| conductor_point(&steady, &solver, k)).collect(),
        devices: steady.bank.devices.iter().map(|d| device_point(scenario, &solver, d)).collect(),
    })
}

fn modules_out(bank: &Bank, without: &[String]) -> Result<Vec<usize>, StudyError> {
    let find = |id: &String| {
        let found = bank.modules.iter().position(|m| &m.id == id);
        let alike = |m: &&str| strsim::jaro_winkler(m, id);
        let ids = bank.modules.iter().map(|m| m.id.as_str());
        let nearest = ids.max_by(|a, b| alike(a).total_cmp(&alike(b))).map(str::to_string);
        found.ok_or_else(|| StudyError::NoSuchModule(id.clone(), nearest))
    };
    without.iter().map(find).collect()
}

/// Without a module in service no current is carried at no voltage that means anything.
fn bus(outcome: Outcome, connected: bool) -> Bus {
    match outcome {
        Outcome::Carried(t) => {
            let voltage_v = connected.then_some(t.voltage);
            Bus { carried: true, voltage_v, current_a: t.current, power_w: t.voltage * t.current }
        }
        Outcome::NotCarried { open_circuit } => {
            Bus { carried: false, voltage_v: open_circuit, current_a: 0.0, power_w: 0.0 }
        }
    }
}

fn module_point(steady: &Steady, solver: &Solver, (k, module): (usize, &SteadyModule), connected: bool) -> ModulePoint {
    let current_a = solver.currents()[k];
    let limit_a = if current_a >= 0.0 { module.kind.discharge_limit } else { module.kind.charge_limit };
    ModulePoint {
        id: steady.bank.modules[k].id.clone(),
        current_a,
        voltage_v: connected.then(|| current_a * steady.bank.modules[k].device - solver.voltage_along(k)),
        state: module.state,
        limit_a,
        over: is_over(current_a, limit_a),
    }
}

fn conductor_point(steady: &Steady, solver: &Solver, k: usize) -> ConductorPoint {
    let (conductor, branch) = (&steady.bank.conductors[k], steady.bank.conductor_branch(k));
    let current_a = solver.currents()[branch];
    let drop_v = current_a * steady.elements[branch].resistance;
    let rating_a = conductor.limit(steady.air);
    ConductorPoint {
        id: conductor.id.clone(),
        current_a,
        rating_a,
        over: is_over(current_a, rating_a),
        drop_v,
        loss_w: drop_v * current_a,
        steady_temperature_c: conductor.ampacity.and_then(|a| a.steady_temperature(steady.air, current_a)),
    }
}

fn device_point(scenario: &Scenario, solver: &Solver, fitted: &DeviceElement) -> DevicePoint {
    let kind = &scenario.devices[fitted.device];
    let current_a = solver.currents()[fitted.branch];
    let opens_after_s = Some(kind.operating_time(current_a.abs())).filter(|t| t.is_finite());
    DevicePoint { id: fitted.id.clone(), current_a, rated_a: kind.rated, opens_after_s }
}
