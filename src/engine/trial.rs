//! The course of one trial: its state, its moments, its events. How it steps is in `step`.
//!
//! In: a `Model` and a `Luck`. Out: a `TrialResult`.

mod events;
pub mod lanes;
mod pace;
mod rough;
mod step;
mod trigger;

use super::ambient::{AmbientCursors, Surroundings};
use super::cascade::{Loss, Lost};
use super::controller::{ControllerState, Limits};
use super::heat::Heating;
use super::instant::{Instant, Residual};
use super::inverter::{Asked, InverterState};
use super::luck::{Luck, Mishap};
use super::model::{LoadCourse, Model};
use super::module::{ModuleState, Reason, State, Watched};
use super::observe::Observer;
use super::result::{TrialError, TrialResult, Work};
use super::stride::stiffness;
use super::tally::Tally;
use super::wiring::Wiring;
use crate::curve::Line;
use crate::network::solve::Solver;
use crate::network::{Demand, Element, Holds};
use crate::profile::Night;
use crate::scenario::SelfLimit;
use crate::time::Time;
use pace::Pace;

/// One trial under way.
pub struct Trial<'m> {
    pub model: &'m Model,
    luck: &'m Luck,
    night: &'m Night,
    pub now: Time,
    pub modules: Vec<ModuleState>,
    pub states: Vec<State>,
    pub inverter: InverterState,
    controller: Option<ControllerState>,
    /// Number of the next change among the trial's mishaps.
    next_change: usize,
    /// What chance has begun and not ended.
    lasting: Vec<Mishap>,
    pub asked: Asked,
    pub around: Surroundings,
    air: AmbientCursors<'m>,
    load: LoadCourse<'m>,
    /// Of the room above its course without the bank [K].
    own_warmth: f64,
    pub wiring: Wiring,
    solver: Solver,
    heating: Heating,
    elements: Vec<Element>,
    start: Instant,
    end: Instant,
    ahead: Ahead,
    /// Temperatures and losses at the start of the step, or by how much the mean losses are more, for the heating.
    temperatures: Vec<f64>,
    losses: Vec<f64>,
    /// Bus voltage when the demand was last met: what a current not delivered was worth.
    served_voltage: f64,
    /// Greatest E′/(Q·R) of the modules that carry current [1/s].
    stiffness: f64,
    /// Of each module's open-circuit curve at the start of the step [V].
    slopes: Vec<f64>,
    pace: Pace,
    /// What the observer was last told of the load.
    told_served: bool,
    tally: Tally,
    /// Of what is not a module: lost at this moment, and not yet noted.
    lost: Vec<Loss>,
    work: Work,
}

/// Where the next step would end.
#[derive(Clone, Debug)]
struct Ahead {
    at: Time,
    around: Surroundings,
    own_warmth: f64,
    charges: Vec<f64>,
    temperatures: Vec<f64>,
    /// Of each module's open-circuit curve, where the step is to end.
    tangents: Vec<Line>,
    /// Resistance of each module, and the part of it within its cells [Ω].
    resistance: Vec<f64>,
    cell_resistance: Vec<f64>,
    /// Weight of the end in the step.
    theta: f64,
    /// Whether every tangent holds at the end.
    settled: bool,
}

impl Ahead {
    fn new(temperatures: &[f64], around: Surroundings) -> Ahead {
        let count = temperatures.len();
        Ahead {
            at: Time::ZERO,
            around,
            own_warmth: 0.0,
            charges: vec![0.0; count],
            temperatures: temperatures.to_vec(),
            tangents: vec![Line::default(); count],
            resistance: vec![1.0; count],
            cell_resistance: vec![1.0; count],
            theta: 0.5,
            settled: true,
        }
    }
}

/// Runs one trial to its horizon.
///
/// # Errors
/// A network without a solution, events without end, or an observer that gives up.
pub fn run(model: &Model, luck: &Luck, observer: &mut impl Observer) -> Result<TrialResult, TrialError> {
    let horizon = model.trials.horizon;
    let mut trial = Trial::start(model, luck)?;
    trial.settle(observer)?;
    trial.run_controller(observer)?;
    observer.moment(&trial, &trial.start);
    trial.go_on(horizon, observer)?;
    Ok(trial.finish())
}

impl<'m> Trial<'m> {
    /// Goes on until a moment that is an end of the grid's steps.
    fn go_on(&mut self, until: Time, observer: &mut impl Observer) -> Result<(), TrialError> {
        while self.now < until {
            self.go_a_step(observer)?;
        }
        Ok(())
    }

    fn go_a_step(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        if observer.gives_up() {
            return Err(TrialError::GivenUp { trial: self.luck.trial, at: self.now });
        }
        self.look_ahead()?;
        if self.excess_ahead() > 0.0 {
            self.locate()?;
        }
        self.commit(observer)?;
        self.arrive(observer)
    }

    /// Everything that is due now, and what follows from it at once.
    fn arrive(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        self.take_due_events(observer)?;
        self.settle(observer)?;
        self.run_controller(observer)?;
        observer.moment(self, &self.start);
        Ok(())
    }

    fn start(model: &'m Model, luck: &'m Luck) -> Result<Trial<'m>, TrialError> {
        let (count, branches) = (model.modules.len(), model.bank.network.branches().len());
        let night = &model.trials.nights[luck.night];
        let (mut air, mut load) = (model.ambient.cursors(night), model.load_of(night, luck.load));
        let around = air.at(Time::ZERO, luck.temperature);
        let heating = Heating::new(model.couplings.clone(), model.ambient.gradient);
        let temperatures = model.rest.temperatures(&around);
        let each = model.modules.iter().zip(&temperatures);
        let modules = each.map(|(m, t)| ModuleState::new(m, luck.start_charge, *t)).collect();
        let mut trial = Trial {
            model,
            luck,
            night,
            now: Time::ZERO,
            modules,
            states: vec![State::InService; count],
            inverter: InverterState::new(model.inverter.as_ref()),
            controller: None,
            next_change: 0,
            lasting: Vec::new(),
            asked: load.at(Time::ZERO).0,
            around,
            air,
            load,
            own_warmth: 0.0,
            wiring: Wiring::new(model, around.room),
            solver: model.solver.clone(),
            heating,
            elements: vec![Element::conductor(1.0); branches],
            start: Instant::new(count, branches),
            end: Instant::new(count, branches),
            ahead: Ahead::new(&temperatures, around),
            temperatures,
            losses: vec![0.0; count],
            served_voltage: model.modules.iter().map(|m| m.emf(m.start)).fold(0.0, f64::max),
            stiffness: 0.0,
            slopes: vec![0.0; count],
            pace: Pace::new(),
            told_served: true,
            tally: Tally::new(model),
            lost: Vec::new(),
            work: Work::default(),
        };
        trial.take_mishaps_at_start();
        trial.settle_guards_at_start();
        trial.take_states();
        trial.note_lost_at_start();
        trial.start_controller();
        trial.solve_now()?;
        trial.note_if_dark();
        Ok(trial)
    }

    fn note_lost_at_start(&mut self) {
        for mishap in self.luck.mishaps.at_start() {
            if let Mishap::Conductor(k) = mishap {
                self.tally.note_loss(self.now, Lost::Conductor(*k), Reason::Broken, false);
            }
        }
        for (k, state) in self.states.iter().enumerate() {
            if let (false, Some(reason)) = (state.delivers(), self.modules[k].out()) {
                self.tally.note_loss(self.now, Lost::Module(k), reason, false);
            }
        }
    }

    /// What has lasted since before the start acts without a delay: a module that is too cold at
    /// dusk is out at dusk.
    fn settle_guards_at_start(&mut self) {
        for k in 0..self.modules.len() {
            let at_rest = self.model.modules[k].cell_at_rest(self.modules[k].charge);
            let watched = Watched { cell_voltage: at_rest, ..self.watched(k, &self.start) };
            self.modules[k].settle_at_start(&watched);
        }
    }

    // ---- values ----

    fn watched(&self, k: usize, instant: &Instant) -> Watched {
        Watched {
            charge: self.modules[k].charge,
            temperature: self.modules[k].temperature + self.luck.modules[k].sensor,
            cell_voltage: instant.cell_voltages[k],
            current: instant.currents[k],
            across_switch: self.model.modules[k].emf(self.modules[k].charge) - instant.terminal_voltages[k],
        }
    }

    fn capacity(&self, k: usize) -> f64 {
        self.model.modules[k].kind.capacity * self.luck.modules[k].capacity
    }

    /// What a module's own electronics and heater draw from its cells [W].
    fn standing(&self, k: usize) -> f64 {
        let kind = &self.model.modules[k].kind;
        let heater = kind.heater.filter(|_| self.modules[k].heats());
        kind.standing + heater.map_or(0.0, |h| h.power)
    }

    /// The same as a current [A].
    fn standing_current(&self, k: usize) -> f64 {
        match self.standing(k) {
            0.0 => 0.0,
            watts => watts / self.model.modules[k].emf(self.modules[k].charge),
        }
    }

    /// The limits that the inverter obeys now.
    fn limits(&self) -> Limits {
        self.controller.as_ref().map_or(Limits::NONE, ControllerState::limits)
    }

    /// How much more the bank's current heats than its mean would, by the inverter's ripple.
    fn heating(&self) -> f64 {
        if self.inverter.runs() { self.model.heating() } else { 1.0 }
    }

    fn demand(&self) -> Demand {
        self.inverter.demand(self.asked)
    }

    /// Whether what is asked for is delivered; a charge that is refused is no shortfall.
    pub fn served(&self) -> bool {
        let in_full = self.start.carried && !self.start.limited;
        !self.asked.is_demand() || (in_full && self.inverter.runs())
    }

    // ---- solving a moment ----

    /// The branch elements at the charges and temperatures of `ahead`; `seconds` of the step that
    /// ends there, 0 for the moment itself.
    fn load_elements(&mut self, seconds: f64) {
        let bank = &self.model.bank;
        for k in 0..self.modules.len() {
            let (model, luck) = (&self.model.modules[k], &self.luck.modules[k]);
            let (charge, tangent) = (self.ahead.charges[k], self.ahead.tangents[k]);
            // What the end's current takes from the charge is in the source; for the resistance it is
            // foreseen from the start's.
            let per_ampere = self.implicit(k, seconds);
            let foreseen = charge - per_ampere * self.start.currents[k];
            let (cell, whole) = model.resistance(foreseen, self.ahead.temperatures[k]);
            self.ahead.cell_resistance[k] = cell * luck.resistance;
            self.ahead.resistance[k] = whole * luck.resistance;
            self.elements[k] = Element {
                emf: tangent.value(charge),
                resistance: self.ahead.resistance[k] + per_ampere * tangent.slope + bank.modules[k].device,
                law: self.states[k].law(model.kind.switch_drop),
                holds: holds(model.kind.self_limit),
            };
        }
        let air = self.ahead.around.room + self.ahead.own_warmth;
        for k in 0..bank.conductors.len() {
            let branch = bank.conductor_branch(k);
            self.elements[branch] = self.wiring.element(self.model, k, air, self.luck.joints[k]);
        }
    }

    /// Solves `elements` into `end`, with the modules' heat and cell voltages.
    fn solve_end(&mut self) -> Result<(), TrialError> {
        let demand = self.demand();
        let limits = self.limits();
        let solved = self.end.solve(&mut self.solver, &self.elements, demand, limits);
        let Residual { kirchhoff, power } =
            solved.map_err(|source| TrialError::Unsolvable { trial: self.luck.trial, at: self.now, source })?;
        self.work.solves += 1;
        self.work.kirchhoff = self.work.kirchhoff.max(kirchhoff);
        self.work.power_balance = self.work.power_balance.max(power);
        let heating = self.heating();
        for k in 0..self.modules.len() {
            let standing = self.standing(k);
            let (model, element) = (&self.model.modules[k], &self.elements[k]);
            let (amps, whole) = (self.end.currents[k], self.ahead.resistance[k]);
            let device = self.model.bank.modules[k].device;
            let implicit = element.resistance - whole - device;
            let across_cells = element.emf - (implicit + self.ahead.cell_resistance[k]) * amps;
            self.end.cell_voltages[k] = across_cells / f64::from(model.kind.cells);
            let within = element.emf - (implicit + device) * amps - self.end.terminal_voltages[k];
            self.end.losses[k] = within * amps * heating + standing;
        }
        let first = self.modules.len();
        let conductors = self.elements[first..].iter().zip(&self.end.currents[first..]);
        let loss: f64 = conductors.map(|(e, amps)| e.resistance * amps * amps).sum();
        self.end.conductor_loss = loss * heating;
        Ok(())
    }

    /// Solves the present moment into `start`.
    fn solve_now(&mut self) -> Result<(), TrialError> {
        self.take_present();
        self.load_elements(0.0);
        self.solve_end()?;
        std::mem::swap(&mut self.start, &mut self.end);
        self.note_start();
        Ok(())
    }

    /// Takes the present for the end ahead: no step.
    fn take_present(&mut self) {
        self.ahead.at = self.now;
        self.ahead.around = self.around;
        self.ahead.own_warmth = self.own_warmth;
        self.wiring.stay();
        for (k, module) in self.modules.iter().enumerate() {
            self.ahead.charges[k] = module.charge;
            self.ahead.temperatures[k] = module.temperature;
            self.ahead.tangents[k] = self.model.modules[k].tangent(module.charge);
        }
    }

    /// Takes note of what the next step needs to know of its start.
    fn note_start(&mut self) {
        if self.served() && self.asked.is_demand() {
            self.served_voltage = self.start.bus.voltage;
        }
        for (slope, tangent) in self.slopes.iter_mut().zip(&self.ahead.tangents) {
            *slope = tangent.slope;
        }
        self.stiffness = self.stiffness_by(&self.start.currents);
    }

    /// Greatest E′/(Q·R) of the modules that carry current, on their tangents [1/s].
    fn stiffness_by(&self, currents: &[f64]) -> f64 {
        let conducting = (0..self.modules.len()).filter(|&k| currents[k] != 0.0);
        let of = |k: usize| {
            let conductance = 1.0 / self.ahead.resistance[k];
            stiffness(self.ahead.tangents[k].slope, 1.0 / self.capacity(k), conductance)
        };
        conducting.map(of).fold(0.0, f64::max)
    }

    fn finish(self) -> TrialResult {
        let (trial, night, end) = (self.luck.trial, self.luck.night, self.now);
        self.tally.finish(trial, night, end, self.work)
    }
}

/// Where a module holds its own current.
pub fn holds(limit: Option<SelfLimit>) -> Holds {
    limit.map_or(Holds::NONE, |l| Holds { forward: l.discharge, reverse: l.charge })
}
