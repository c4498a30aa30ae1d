//! One operating point: every current, voltage and margin, to be held against a clamp meter.
//!
//! In: a scenario, a demand at the bus, a charge, an air temperature, and modules taken out.
//! Out: a `Point`. Everything is at the air's temperature, conductors given by size too; a module
//! that its temperature window or its charge keeps out of service is out.

use crate::engine::luck::Luck;
use crate::engine::module::{ModuleModel, ModuleState, State, Watched};
use crate::engine::trial::holds;
use crate::engine::watch::OVER_BY;
use crate::network::bank::Bank;
use crate::network::solve::{Solver, Unsolvable};
use crate::network::{Demand, Element, NetworkError, Outcome};
use crate::scenario::{ModuleType, Scenario};
use serde::Serialize;

/// What is asked.
#[derive(Clone, Debug)]
pub struct Question {
    pub demand: Demand,
    /// Charge of every module (0…1); `None`: the scenario's.
    pub soc: Option<f64>,
    /// [°C]
    pub air: f64,
    /// Identifiers of modules out of service.
    pub without: Vec<String>,
}

/// The answer; names of the contract.
#[derive(Clone, Debug, Serialize)]
pub struct Point {
    pub bus: Bus,
    pub modules: Vec<ModulePoint>,
    pub conductors: Vec<ConductorPoint>,
}

#[derive(Clone, Copy, Debug, Serialize)]
pub struct Bus {
    /// Whether the bank meets the demand. If not, everything below is at open circuit.
    pub carried: bool,
    /// Null where nothing connects the terminals.
    pub voltage_v: Option<f64>,
    pub current_a: f64,
    pub power_w: f64,
}

#[derive(Clone, Debug, Serialize)]
pub struct ModulePoint {
    pub id: String,
    pub current_a: f64,
    /// Between its terminals.
    pub voltage_v: f64,
    pub state: &'static str,
    /// Its limit in the direction of the current; null: unrated.
    pub limit_a: Option<f64>,
    pub over: bool,
}

#[derive(Clone, Debug, Serialize)]
pub struct ConductorPoint {
    pub id: String,
    pub current_a: f64,
    pub rating_a: Option<f64>,
    pub over: bool,
    /// Along its positive direction, joints included.
    pub drop_v: f64,
    pub loss_w: f64,
}

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub enum PointError {
    #[error("there is no module `{0}` in this scenario{hint}", hint = nearest_hint(.1))]
    NoSuchModule(String, Option<String>),
    #[error(transparent)]
    Network(#[from] NetworkError),
    #[error(transparent)]
    Unsolvable(#[from] Unsolvable),
}

fn nearest_hint(nearest: &Option<String>) -> String {
    nearest.as_ref().map_or(String::new(), |id| format!("; did you mean `{id}`?"))
}

/// Solves one operating point.
///
/// # Errors
/// A module that the scenario does not have.
pub fn solve(scenario: &Scenario, question: &Question) -> Result<Point, PointError> {
    let bank = Bank::new(scenario)?;
    let out = modules_out(&bank, &question.without)?;
    let mut solver = Solver::new(bank.network.clone());
    let mut elements = Vec::with_capacity(bank.network.branches().len());
    let mut states = Vec::with_capacity(bank.modules.len());
    for (k, module) in bank.modules.iter().enumerate() {
        let (model, kind) = module_model(scenario, &bank, k);
        let soc = question.soc.unwrap_or(model.start);
        let state = if out.contains(&k) { State::Open } else { state_at(&model, soc, question.air) };
        let (emf, _) = model.emf(soc);
        let (_, resistance) = model.resistance(soc, question.air);
        elements.push(Element { emf, resistance, law: state.law(kind.switch_drop), holds: holds(kind.self_limit) });
        states.push((module.id.clone(), state, kind));
    }
    let conductors = bank.conductors.iter();
    elements.extend(conductors.map(|c| Element::conductor(c.resistance(question.air, [1.0; 2]))));
    let outcome = solver.solve(&elements, question.demand)?;
    let connected = states.iter().any(|(_, state, _)| *state != State::Open);
    let modules = states.into_iter().enumerate();
    Ok(Point {
        bus: bus(outcome, connected),
        modules: modules.map(|(k, (id, state, kind))| module_point(&solver, k, id, state, kind)).collect(),
        conductors: (0..bank.conductors.len()).map(|k| conductor_point(&bank, &solver, &elements, k)).collect(),
    })
}

fn modules_out(bank: &Bank, without: &[String]) -> Result<Vec<usize>, PointError> {
    let find = |id: &String| {
        let found = bank.modules.iter().position(|m| &m.id == id);
        let alike = |m: &&str| strsim::jaro_winkler(m, id);
        let ids = bank.modules.iter().map(|m| m.id.as_str());
        let nearest = ids.max_by(|a, b| alike(a).total_cmp(&alike(b))).map(str::to_string);
        found.ok_or_else(|| PointError::NoSuchModule(id.clone(), nearest))
    };
    without.iter().map(find).collect()
}

fn module_model<'s>(scenario: &'s Scenario, bank: &Bank, k: usize) -> (ModuleModel, &'s ModuleType) {
    let module = &bank.modules[k];
    let position = &scenario.stacks[module.stack].positions[module.position];
    let kind = &scenario.modules[position.module];
    (ModuleModel::new(kind, position, scenario.start_soc()), kind)
}

/// The state of a module that has long been at this charge and temperature.
fn state_at(model: &ModuleModel, soc: f64, celsius: f64) -> State {
    let luck = &Luck::nominal(1, 0).modules[0];
    let mut state = ModuleState::new(model, luck, celsius);
    state.charge = soc;
    let cell_voltage = model.emf(soc).0 / f64::from(model.kind.cells);
    state.settle_at_start(&Watched {
        charge: soc,
        temperature: celsius,
        cell_voltage,
        current: 0.0,
        across_switch: 0.0,
    });
    state.state()
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

fn is_over(amps: f64, limit: Option<f64>) -> bool {
    limit.is_some_and(|limit| amps.abs() > limit * (1.0 + OVER_BY))
}

fn module_point(solver: &Solver, k: usize, id: String, state: State, kind: &ModuleType) -> ModulePoint {
    let current_a = solver.currents()[k];
    let limit_a = if current_a >= 0.0 { kind.discharge_limit } else { kind.charge_limit };
    ModulePoint {
        id,
        current_a,
        // Not a minus sign, which would make a voltage of minus zero.
        voltage_v: 0.0 - solver.voltage_along(k),
        state: state.tag(),
        limit_a,
        over: is_over(current_a, limit_a),
    }
}

fn conductor_point(bank: &Bank, solver: &Solver, elements: &[Element], k: usize) -> ConductorPoint {
    let (conductor, branch) = (&bank.conductors[k], bank.conductor_branch(k));
    let current_a = solver.currents()[branch];
    let drop_v = current_a * elements[branch].resistance;
    ConductorPoint {
        id: conductor.id.clone(),
        current_a,
        rating_a: conductor.rating,
        over: is_over(current_a, conductor.rating),
        drop_v,
        loss_w: drop_v * current_a,
    }
}
