//! A bank that has long been at one state of charge and one temperature.
//!
//! In: a scenario, a state of charge, the air's temperature. Out: the network's elements at that moment, and what each
//! module is in. Everything is at the air's temperature; a module that its temperature window or its state of charge keeps
//! out of service is out.

use crate::engine::module::{ModuleModel, ModuleState, State, Watched};
use crate::engine::watch::OVER_BY;
use crate::network::bank::Bank;
use crate::network::{Element, Law, NetworkError};
use crate::scenario::{ModuleType, Scenario};

/// The bank and its elements.
#[derive(Clone, Debug)]
pub struct Steady<'s> {
    /// The network, and what its branches are.
    pub bank: Bank,
    /// One element for each branch of the network, modules first.
    pub elements: Vec<Element>,
    /// The modules, in the order of the network's branches.
    pub modules: Vec<SteadyModule<'s>>,
    /// Temperature of the air [°C].
    pub air: f64,
}

/// The state of one module.
#[derive(Clone, Copy, Debug)]
pub struct SteadyModule<'s> {
    /// Its type.
    pub kind: &'s ModuleType,
    /// State of charge (0…1).
    pub soc: f64,
    /// Whether it is in service, by its temperature and state of charge.
    pub state: State,
}

impl<'s> Steady<'s> {
    /// `soc` (0…1) of every module, else the scenario's; `air` [°C].
    ///
    /// # Errors
    /// None for a legal scenario.
    pub fn new(scenario: &'s Scenario, soc: Option<f64>, air: f64) -> Result<Steady<'s>, NetworkError> {
        let bank = Bank::new(scenario)?;
        let mut elements = Vec::with_capacity(bank.network.branches().len());
        let mut modules = Vec::with_capacity(bank.modules.len());
        for place in &bank.modules {
            let position = &scenario.stacks[place.stack].positions[place.position];
            let kind = &scenario.modules[position.module];
            let model = ModuleModel::new(kind, position, scenario.start_soc());
            let soc = soc.unwrap_or(model.start);
            let state = state_at(&model, soc, air);
            let emf = model.emf(soc);
            let resistance = model.resistance(soc, air).1 + place.device;
            elements.push(Element {
                emf,
                resistance,
                law: state.law(kind.switch_drop),
                self_limit: kind.self_limit.into(),
            });
            modules.push(SteadyModule { kind, soc, state });
        }
        elements.extend(bank.conductors.iter().map(|c| Element::conductor(c.resistance(air, [1.0; 2]))));
        Ok(Steady { bank, elements, modules, air })
    }

    /// Takes a module out of service.
    pub fn take_out(&mut self, module: usize) {
        self.modules[module].state = State::Open;
        self.elements[module].law = Law::Open;
    }

    /// The identifier of a branch.
    pub fn id(&self, branch: usize) -> &str {
        self.bank.branch_id(branch)
    }
}

/// The state of a module that has long been at this state of charge and temperature.
fn state_at(model: &ModuleModel, soc: f64, celsius: f64) -> State {
    let mut state = ModuleState::new(model);
    let cell_voltage = model.cell_at_rest(soc);
    state.settle_at_start(&Watched { soc, temperature: celsius, cell_voltage, current: 0.0, across_switch: 0.0 });
    state.state()
}

/// Whether a current is over a limit, beyond rounding; what is unrated never is.
pub fn is_over(amps: f64, limit: Option<f64>) -> bool {
    limit.is_some_and(|limit| amps.abs() > limit * (1.0 + OVER_BY))
}
