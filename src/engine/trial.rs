//! The course of one trial: its state, its moments, its events. How it steps is in `step`.
//!
//! In: a `Model` and a `Realization`. Out: a `TrialResult`.

mod events;
pub(super) mod step;
mod trigger;

use super::ambient::{AmbientCursors, Surroundings};
use super::batch_step::BatchStep;
use super::batch_step::commit::CommitPresent;
use super::cascade::{Loss, Lost};
use super::conductors::Conductors;
use super::controller::{ControllerState, Limits};
use super::event::Event;
use super::inverter::{Asked, InverterState};
use super::model::{LoadCourse, Model};
use super::module::{ModuleState, Reason, State, Watched};
use super::operating_point::OperatingPoint;
use super::realization::{RandomEvent, Realization};
use super::result::{TrialError, TrialResult, Work};
use super::step_size::StepSize;
use super::tally::Tally;
use crate::network::lane::Lane;
use crate::network::solve::Solver;
use crate::network::{Demand, Element, Terminals};
use crate::profile::Night;
use crate::time::Time;
use std::sync::atomic::{AtomicBool, Ordering};

/// One trial under way.
pub struct Trial<'m> {
    /// What no trial changes.
    pub model: &'m Model,
    pub(super) realization: &'m Realization,
    pub(super) night: &'m Night,
    /// The present moment.
    pub now: Time,
    /// What guards and switches of each module do.
    pub modules: Vec<ModuleState>,
    /// What each module may do now.
    pub states: Vec<State>,
    /// The inverter, with its low-voltage cut-out.
    pub inverter: InverterState,
    pub(super) controller: Option<ControllerState>,
    /// Number of the next change among the trial's random events.
    next_change: usize,
    /// What chance has begun and not ended.
    lasting: Vec<RandomEvent>,
    /// What is asked of the bank now.
    pub asked: Asked,
    air: AmbientCursors<'m>,
    load: LoadCourse<'m>,
    pub(super) conductors: Conductors,
    /// Everything continuous, in a lane of its own.
    pub(super) lane: Box<BatchStep<1>>,
    solver: Box<Solver>,
    elements: Vec<Element>,
    pub(super) start: OperatingPoint,
    end: OperatingPoint,
    /// The time at which the next step would end.
    end_at: Time,
    /// Bus voltage when the demand was last met: what a current not delivered was worth.
    pub(super) served_voltage: f64,
    pub(super) step_size: StepSize,
    /// What the observer was last told of the load.
    pub(super) told_served: bool,
    pub(super) tally: Tally,
    /// Losses at this moment of what is not a module, not yet noted.
    lost: Vec<Loss>,
    pub(super) work: Work,
}

/// Who watches a trial. The default watches nothing, at no cost.
pub trait Observer {
    /// The state of the trial at its `now`; at a discontinuity before it and after it.
    fn moment(&mut self, _trial: &Trial<'_>) {}
    /// Something happened at this moment.
    fn event(&mut self, _at: Time, _event: Event) {}
    /// Whether to give the trial up; asked before every step.
    fn gives_up(&self) -> bool {
        false
    }
}

/// Watches nothing.
pub struct Nobody;

impl Observer for Nobody {}

/// Watches nothing, and gives the trial up when the flag is raised.
pub struct Until<'a>(pub &'a AtomicBool);

impl Observer for Until<'_> {
    fn gives_up(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// What a trial works in, for the next to take over.
pub struct Workspace {
    lane: Box<BatchStep<1>>,
    solver: Box<Solver>,
    elements: Vec<Element>,
}

impl Workspace {
    /// Memory for the trials of a model.
    pub fn new(model: &Model) -> Workspace {
        let branches = model.bank.network.branches().len();
        Workspace {
            lane: Box::new(BatchStep::new(model)),
            solver: Box::new(model.solver.clone()),
            elements: vec![Element::conductor(1.0); branches],
        }
    }
}

/// Runs one trial to its horizon.
///
/// # Errors
/// A network without a solution, events without end, or an observer that gives up.
pub fn run(model: &Model, realization: &Realization, observer: &mut impl Observer) -> Result<TrialResult, TrialError> {
    let horizon = model.trials.horizon;
    let mut trial = Trial::begin(model, realization, Workspace::new(model), observer)?;
    observer.moment(&trial);
    trial.go_on(horizon, observer)?;
    Ok(trial.finish().0)
}

impl<'m> Trial<'m> {
    /// A trial at its first moment, with all that follows from it at once.
    ///
    /// # Errors
    /// Begins a trial as [`run`] does.
    pub(super) fn begin(
        model: &'m Model,
        realization: &'m Realization,
        space: Workspace,
        observer: &mut impl Observer,
    ) -> Result<Trial<'m>, TrialError> {
        let mut trial = Trial::start(model, realization, space)?;
        trial.settle(observer)?;
        trial.run_controller(observer)?;
        Ok(trial)
    }

    /// Goes on until a moment that is an end of the grid's steps.
    pub(super) fn go_on(&mut self, until: Time, observer: &mut impl Observer) -> Result<(), TrialError> {
        while self.now < until {
            self.go_a_step(observer)?;
        }
        Ok(())
    }

    pub(super) fn go_a_step(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        if observer.gives_up() {
            return Err(TrialError::GivenUp { trial: self.realization.trial, at: self.now });
        }
        self.look_ahead()?;
        if self.excess_ahead() > 0.0 {
            self.locate()?;
        }
        self.commit(observer)?;
        self.arrive(observer)
    }

    /// Everything that is due now, and what follows from it at once.
    pub(super) fn arrive(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        self.take_due_events(observer)?;
        self.settle(observer)?;
        self.run_controller(observer)?;
        observer.moment(self);
        Ok(())
    }

    fn start(model: &'m Model, realization: &'m Realization, space: Workspace) -> Result<Trial<'m>, TrialError> {
        let Workspace { mut lane, mut solver, elements } = space;
        lane.clear();
        solver.forget();
        let night = &model.trials.nights[realization.night];
        let (mut air, mut load) = (model.ambient.cursors(night), model.load_of(night, realization.load));
        let around = air.at(Time::ZERO, realization.temperature);
        let mut trial = Trial {
            model,
            realization,
            night,
            now: Time::ZERO,
            modules: model.modules.iter().map(ModuleState::new).collect(),
            states: vec![State::InService; model.modules.len()],
            inverter: InverterState::new(model.inverter.as_ref()),
            controller: None,
            next_change: 0,
            lasting: Vec::new(),
            asked: load.at(Time::ZERO).0,
            air,
            load,
            conductors: Conductors::new(model),
            lane,
            solver,
            elements,
            start: OperatingPoint::carried(Terminals::default()),
            end: OperatingPoint::carried(Terminals::default()),
            end_at: Time::ZERO,
            served_voltage: model.modules.iter().map(|m| m.emf(m.start)).fold(0.0, f64::max),
            step_size: StepSize::new(),
            told_served: true,
            tally: Tally::new(model),
            lost: Vec::new(),
            work: Work::default(),
        };
        trial.fill_lane(&around);
        trial.take_random_events_at_start();
        trial.settle_guards_at_start();
        trial.take_states();
        trial.note_lost_at_start();
        trial.start_controller();
        trial.solve_now()?;
        trial.note_if_blackout();
        Ok(trial)
    }

    /// Everything continuous where the night begins.
    fn fill_lane(&mut self, around: &Surroundings) {
        let (model, realization, lane) = (self.model, self.realization, &mut *self.lane);
        lane.now.outdoor = Lane([around.outdoor]);
        lane.now.room = Lane([around.room]);
        lane.now.floor = Lane([around.floor]);
        let temperatures = model.rest.temperatures(around);
        for (k, celsius) in temperatures.into_iter().enumerate() {
            let (module, spread) = (&model.modules[k], &realization.modules[k]);
            let capacity = module.kind.capacity * spread.capacity;
            let lanes = &mut lane.modules[k];
            (lanes.capacity, lanes.per_coulomb) = (Lane([capacity]), Lane([1.0 / capacity]));
            (lanes.resistance_factor, lanes.sensor) = (Lane([spread.resistance]), Lane([spread.sensor]));
            let soc = (module.start + realization.start_charge).clamp(0.0, 1.0);
            let sample = &mut lane.present[k];
            (sample.soc, sample.celsius, sample.emf) = (Lane([soc]), Lane([celsius]), Lane([module.emf(soc)]));
        }
        lane.celsius.fill(Lane([around.room]));
        lane.hottest.fill(Lane([around.room]));
    }

    fn note_lost_at_start(&mut self) {
        for random_event in self.realization.random_events.at_start() {
            if let RandomEvent::Conductor(k) = random_event {
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
            let watched = Watched { cell_voltage: self.cell_at_rest(k), ..self.watched(k) };
            self.modules[k].settle_at_start(&watched);
        }
    }

    // ---- values ----

    /// Charge of a module (0…1).
    pub fn soc(&self, k: usize) -> f64 {
        self.lane.present[k].soc[0]
    }

    /// Temperature of a module [°C].
    pub fn temperature(&self, k: usize) -> f64 {
        self.lane.present[k].celsius[0]
    }

    /// Current of a branch, modules first [A].
    pub fn current(&self, branch: usize) -> f64 {
        self.lane.start[branch][0]
    }

    /// Currents of all branches, modules first [A].
    pub fn currents(&self) -> Vec<f64> {
        self.lane.start.iter().map(|amps| amps[0]).collect()
    }

    /// Temperature of a conductor with insulation data [°C].
    pub fn conductor_temperature(&self, k: usize) -> f64 {
        self.lane.celsius[k][0]
    }

    /// Temperatures around the bank, before its own heat [°C].
    pub fn around(&self) -> Surroundings {
        let air = &self.lane.now;
        Surroundings { outdoor: air.outdoor[0], room: air.room[0], floor: air.floor[0] }
    }

    /// What the load gets now.
    pub fn operating_point(&self) -> &OperatingPoint {
        &self.start
    }

    /// Air around the conductors now [°C].
    pub(super) fn air_now(&self) -> f64 {
        self.lane.now.warmed_room()[0]
    }

    /// Voltage of one cell of a module without a current [V].
    fn cell_at_rest(&self, k: usize) -> f64 {
        self.model.modules[k].cell_at_rest(self.soc(k))
    }

    /// Voltage of each cell of a module [V].
    fn cell_voltage(&self, k: usize) -> f64 {
        self.lane.present[k].cells[0] / f64::from(self.model.modules[k].kind.cells)
    }

    fn watched(&self, k: usize) -> Watched {
        let sample = &self.lane.present[k];
        Watched {
            soc: sample.soc[0],
            temperature: sample.celsius[0] + self.realization.modules[k].sensor,
            cell_voltage: self.cell_voltage(k),
            current: self.current(k),
            across_switch: sample.emf[0] - sample.terminals[0],
        }
    }

    /// What a module's own electronics and heater draw from its cells [W].
    fn standing(&self, k: usize) -> f64 {
        let kind = &self.model.modules[k].kind;
        let heater = kind.heater.filter(|_| self.modules[k].heats());
        kind.standing + heater.map_or(0.0, |h| h.power)
    }

    /// The limits that the inverter obeys now.
    pub(super) fn limits(&self) -> Limits {
        self.controller.as_ref().map_or(Limits::NONE, ControllerState::limits)
    }

    /// How much more the bank's current heats than its mean would, by the inverter's ripple.
    fn ripple_factor(&self) -> f64 {
        if self.inverter.runs() { self.model.ripple_factor() } else { 1.0 }
    }

    pub(super) fn demand(&self) -> Demand {
        self.inverter.demand(self.asked)
    }

    /// Whether what is asked for is delivered; a charge that is refused is no shortfall.
    pub fn served(&self) -> bool {
        let in_full = self.start.carried && !self.start.limited;
        !self.asked.is_demand() || (in_full && self.inverter.runs())
    }

    // ---- solving a moment ----

    /// Takes over into the lane what guards, switches and chance have changed.
    fn refresh_lane(&mut self) {
        for k in 0..self.modules.len() {
            let (standing, state) = (self.standing(k), self.states[k]);
            let drop = state.drop(self.model.modules[k].kind.switch_drop);
            let lanes = &mut self.lane.modules[k];
            (lanes.standing, lanes.drop) = (Lane([standing]), Lane([drop]));
            lanes.live = if state == State::Open { Lane::ZERO } else { Lane::ONE };
        }
        for (k, lanes) in self.lane.conductors.iter_mut().enumerate() {
            lanes.joints = Lane([self.conductors.joints(self.model, k, self.realization.joints[k])]);
            lanes.live = if self.conductors.is_open(k) { Lane::ZERO } else { Lane::ONE };
        }
        self.lane.ripple_factor = Lane([self.ripple_factor()]);
    }

    /// Solves the present moment.
    fn solve_now(&mut self) -> Result<(), TrialError> {
        self.refresh_lane();
        let (mut network, lane) = self.network(self.start.carried);
        let solved = lane.solve_present(network.model, &mut network);
        let solves = network.solves;
        self.take_work(solves);
        solved.map_err(|source| TrialError::Unsolvable { trial: self.realization.trial, at: self.now, source })?;
        self.lane.stage(CommitPresent { takes: &Lane::ONE });
        self.start = self.end;
        self.note_served();
        Ok(())
    }

    /// What a current that is not delivered would be worth.
    fn note_served(&mut self) {
        if self.served() && self.asked.is_demand() {
            self.served_voltage = self.start.bus.voltage;
        }
    }

    /// What solutions cost, and how exact they are.
    fn take_work(&mut self, solves: u64) {
        self.work.solves += solves;
        self.work.kirchhoff = self.work.kirchhoff.max(self.lane.kirchhoff[0]);
        self.work.power_balance = self.work.power_balance.max(self.lane.power_balance[0]);
    }

    /// The result, and the memory for another trial.
    pub(super) fn finish(mut self) -> (TrialResult, Workspace) {
        let (trial, night, end) = (self.realization.trial, self.realization.night, self.now);
        self.work.steps += self.lane.work.steps[0];
        let result = self.tally.finish((trial, night), end, self.model, &self.lane, self.work);
        (result, Workspace { lane: self.lane, solver: self.solver, elements: self.elements })
    }
}
