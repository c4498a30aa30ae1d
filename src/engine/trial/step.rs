//! One step of a trial by itself: predict its end, shorten it to the first event, make its end the present.
//!
//! In: a trial at its `now`. Out: the same trial at the step's end. The arithmetic of a step is `batch_step`'s, here in
//! one lane.

use super::{Observer, Trial};
use crate::engine::batch_step::commit::Commit;
use crate::engine::batch_step::{BatchStep, NetworkSolver};
use crate::engine::bracket::Bracket;
use crate::engine::conductors::Conductors;
use crate::engine::controller::Limits;
use crate::engine::inverter::{Asked, InverterState};
use crate::engine::model::Model;
use crate::engine::module::{ModuleState, State, Watched};
use crate::engine::operating_point::OperatingPoint;
use crate::engine::range::Range;
use crate::engine::result::TrialError;
use crate::engine::step_error::{SHORT, STRAY};
use crate::engine::step_size::StepSize;
use crate::engine::tally::Taken;
use crate::network::bank::DeviceElement;
use crate::network::lane::Lane;
use crate::network::linear::LaneTerminals;
use crate::network::solve::{Solver, Unsolvable};
use crate::network::{Demand, Element, Law};
use crate::time::Time;

/// Ranges of what rounding could tell otherwise end so much, relatively, inside their limit.
pub(in crate::engine) const INSIDE: f64 = 1.0 - 1e-12;

/// When something next happens to a trial, whatever its state does.
#[derive(Clone, Copy, Debug)]
pub(in crate::engine) struct Deadlines {
    /// A timer of a guard, the inverter or the controller runs out.
    pub timers: Time,
    /// Chance begins or ends something.
    pub chance: Time,
    /// The load changes.
    pub load: Time,
    /// The outdoor air bends.
    pub air: Time,
}

impl Deadlines {
    pub const NONE: Deadlines =
        Deadlines { timers: Time::NEVER, chance: Time::NEVER, load: Time::NEVER, air: Time::NEVER };

    /// The latest time at which the next step must end.
    pub fn boundary(&self, now: Time, stride: Time, horizon: Time) -> Time {
        let fixed = now.next_multiple(stride).min(self.load).min(self.air).min(horizon);
        fixed.min(self.timers).min(self.chance).max(now + Time(1))
    }
}

/// The network of a trial by itself: branches may be blocked or hold their current, and the inverter obeys limits.
pub(super) struct Alone<'a> {
    pub model: &'a Model,
    solver: &'a mut Solver,
    elements: &'a mut [Element],
    states: &'a [State],
    conductors: &'a Conductors,
    demand: Demand,
    limits: Limits,
    /// Whether the demand is met at the start of the step.
    carried: bool,
    end: &'a mut OperatingPoint,
    pub solves: u64,
}

impl Alone<'_> {
    /// The branches as the step has loaded them.
    pub fn load_elements(&mut self, step: &mut BatchStep<1>) {
        let (of_modules, of_conductors) = self.elements.split_at_mut(self.states.len());
        for (k, (element, state)) in of_modules.iter_mut().zip(self.states).enumerate() {
            let (lanes, kind) = (&step.modules[k], &self.model.modules[k].kind);
            *element = Element {
                emf: lanes.branch_emf[0],
                resistance: lanes.branch_resistance[0],
                law: state.law(kind.switch_drop),
                self_limit: kind.self_limit.into(),
            };
        }
        step.load_conductors(true);
        for (k, (element, lanes)) in of_conductors.iter_mut().zip(&step.conductors).enumerate() {
            let closed = Element::conductor(lanes.resistance[0]);
            *element = if self.conductors.is_open(k) { Element { law: Law::Open, ..closed } } else { closed };
        }
    }
}

impl NetworkSolver<1> for Alone<'_> {
    type Error = Unsolvable;

    fn solve(&mut self, step: &mut BatchStep<1>) -> Result<(), Unsolvable> {
        self.load_elements(step);
        let solver = &mut *self.solver;
        *self.end = OperatingPoint::solve(solver, self.elements, self.demand, self.limits)?;
        self.solves += 1;
        step.turned = self.end.carried != self.carried;
        for (end, amps) in step.end.iter_mut().zip(solver.currents()) {
            *end = Lane([*amps]);
        }
        for (k, limited) in step.self_limited.iter_mut().enumerate() {
            *limited = solver.is_self_limited(k);
        }
        step.bus_ahead = LaneTerminals {
            voltage: Lane([self.end.bus.voltage]),
            current: Lane([self.end.bus.current]),
            kirchhoff: Lane([solver.kirchhoff()]),
            sound: [true],
        };
        for k in 0..step.modules.len() {
            step.take_voltage(k, Lane([solver.voltage_along(k)]));
        }
        step.take_quality();
        Ok(())
    }
}

impl Trial<'_> {
    /// The network of this moment, and the lane that it is solved for; `carried`: whether the demand is met where the step
    /// begins.
    pub(super) fn network(&mut self, carried: bool) -> (Alone<'_>, &mut BatchStep<1>) {
        let (demand, limits) = (self.demand(), self.limits());
        let network = Alone {
            model: self.model,
            solver: &mut self.solver,
            elements: &mut self.elements,
            states: &self.states,
            conductors: &self.conductors,
            demand,
            limits,
            carried,
            end: &mut self.end,
            solves: 0,
        };
        (network, &mut *self.lane)
    }

    /// When something next happens.
    pub(in crate::engine) fn deadlines(&mut self) -> Deadlines {
        let timers = self.modules.iter().map(ModuleState::due).min().unwrap_or(Time::NEVER);
        Deadlines {
            timers: timers.min(self.inverter.due()).min(self.controller_due()),
            chance: self.next_change_due(),
            load: self.load.at(self.now).1,
            air: self.air.next_reading(self.now),
        }
    }

    /// Step of the grid now: the scenario's own where the bank gives less than it is asked for, which is looked at again
    /// after each.
    pub(in crate::engine) fn stride(&self) -> Time {
        let in_full = self.start.carried && !self.start.limited;
        if in_full { self.model.grid } else { self.model.trials.step }
    }

    pub(in crate::engine) fn is_on_grid(&self) -> bool {
        self.now.0 % self.model.grid.0 == 0
    }

    /// Works out the next step: to the boundary, or as much of the way there as is good enough.
    pub(super) fn look_ahead(&mut self) -> Result<(), TrialError> {
        let (now, stride, horizon) = (self.now, self.stride(), self.model.trials.horizon);
        let most = self.deadlines().boundary(now, stride, horizon) - now;
        let mut width = Some(self.step_size.first(most));
        while let Some(tried) = width {
            self.predict(self.now + tried)?;
            width = if self.fails() {
                self.step_size.halve()
            } else if self.fails_error_test() {
                self.step_size.narrow()
            } else {
                None
            };
        }
        Ok(())
    }

    /// Whether the step ahead found no end; or its voltage collapses, which is approached by halves, because a long step
    /// is a poor judge of when.
    fn fails(&self) -> bool {
        self.lane.sound[0] == 0.0 || (self.start.carried && !self.end.carried)
    }

    /// Whether the step ahead is too long for its error, or a current that strays from the straight line between its ends
    /// might come over a limit and back, and nobody would see it.
    fn fails_error_test(&self) -> bool {
        let (width, stray) = (self.end_at - self.now, self.lane.stray[0]);
        let unseen = width > SHORT && stray > STRAY && self.may_be_over(stray);
        !self.lane.turned && (self.lane.good[0] == 0.0 || unseen)
    }

    /// Whether any current, astray by so much, would leave the range in which nothing looks at it.
    fn may_be_over(&self, stray: f64) -> bool {
        let crosses = |branch: usize, range: Range| {
            let (start, end) = (self.lane.start[branch][0], self.lane.end[branch][0]);
            let (least, most) = (start.min(end), start.max(end));
            let outside = most + stray < range.low || least - stray > range.high;
            let inside = range.contains(least - stray) && range.contains(most + stray);
            !(inside || outside)
        };
        let over = |k: usize| {
            let guards = self.modules[k].bounds().map_or(Range::ANY, |b| b.current);
            self.states[k] != State::Open && (crosses(k, module_range(self.model, k)) || crosses(k, guards))
        };
        let air = self.air_now().max(self.lane.ahead.warmed_room()[0]);
        let bank = &self.model.bank;
        let hot = |k: usize| {
            let branch = bank.conductor_branch(k);
            let limit = bank.conductors[k].limit(air).unwrap_or(f64::INFINITY);
            let spends = spends_from(self.model, branch);
            crosses(branch, Range::about_zero(limit)) || crosses(branch, Range::about_zero(spends))
        };
        (0..self.modules.len()).any(over) || (0..bank.conductors.len()).any(hot)
    }

    /// Works out where a step to `at` would end. It depends on the present and on `at` alone, not on what was predicted
    /// before.
    fn predict(&mut self, at: Time) -> Result<(), TrialError> {
        self.end_at = at;
        let inverter = if self.served() { InverterState::loss(self.asked, self.demand()) } else { 0.0 };
        let around = self.air.at(at, self.realization.temperature);
        let lane = &mut *self.lane;
        lane.inverter_loss = Lane([inverter]);
        lane.set_width(0, at - self.now);
        lane.ahead.outdoor = Lane([around.outdoor]);
        lane.ahead.room = Lane([around.room]);
        lane.ahead.floor = Lane([around.floor]);
        let (mut network, lane) = self.network(self.start.carried);
        let found = lane.advance(network.model, &mut network);
        let solves = network.solves;
        self.take_work(solves);
        found.map_err(|source| TrialError::Unsolvable { trial: self.realization.trial, at: self.now, source })?;
        self.lane.wear_devices(self.model);
        Ok(())
    }

    /// Greatest excess of any guard at the end ahead: positive where the step crosses an event.
    pub(super) fn excess_ahead(&self) -> f64 {
        let (lane, bus) = (&self.lane, self.end.bus_under(self.demand()));
        let guards = self.modules.iter().enumerate().map(|(k, module)| {
            let ahead = &lane.coming[k];
            module.excess(&Watched {
                soc: ahead.soc[0],
                temperature: ahead.celsius[0] + self.realization.modules[k].sensor,
                cell_voltage: ahead.cells[0] / f64::from(self.model.modules[k].kind.cells),
                current: lane.end[k][0],
                across_switch: lane.modules[k].tangent_value(ahead)[0] - ahead.terminals[0],
            })
        });
        let limit = self.end.limit_excess(self.limits(), self.start.limited);
        let devices = self.conductors.excess(lane.spent_ahead.iter().map(|spent| spent[0]));
        let others = self.inverter.excess(bus).max(limit).max(devices);
        guards.fold(others, f64::max)
    }

    pub(super) fn excess_now(&self) -> f64 {
        let bus = self.start.bus_under(self.demand());
        let guards = self.modules.iter().enumerate();
        let guards = guards.map(|(k, module)| module.excess(&self.watched(k)));
        let devices = self.conductors.excess(self.lane.spent.iter().map(|spent| spent[0]));
        guards.fold(self.inverter.excess(bus).max(devices), f64::max)
    }

    /// Shortens the step to the first microsecond at which an event has happened.
    pub(super) fn locate(&mut self) -> Result<(), TrialError> {
        self.count_event()?;
        let mut bracket = Bracket::new((self.now, self.excess_now()), (self.end_at, self.excess_ahead()));
        while let Some(at) = bracket.guess() {
            self.predict(at)?;
            bracket.narrow(at, self.excess_ahead());
        }
        if self.end_at != bracket.high() {
            self.predict(bracket.high())?;
        }
        Ok(())
    }

    /// Makes the end ahead the present.
    pub(super) fn commit(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        let delivers = self.start.carried && (self.inverter.runs() || self.asked.is_charge());
        let delivered = if delivers { self.start.share } else { 0.0 };
        let taken = Taken {
            from: self.now,
            to: self.end_at,
            lane: &self.lane,
            limited: self.start.limited,
            short: if self.served() { 0.0 } else { self.power_asked() * (1.0 - delivered) },
            curtailed: if self.asked.is_charge() { -self.power_asked() * (1.0 - delivered) } else { 0.0 },
            air: (self.air_now(), self.lane.ahead.warmed_room()[0]),
        };
        self.tally.add(self.model, &taken, &mut |at, event| observer.event(at, event));
        for (seen, amps) in self.lane.greatest.iter_mut().zip(&self.lane.start) {
            seen.take_one(amps[0], 0, self.now);
        }
        self.now = self.end_at;
        self.step_size.take(self.is_on_grid());
        if self.lane.turned {
            self.lane.commit_turned();
            // What the step was shortened for is over.
            self.step_size = StepSize::new();
            return self.resolve(observer);
        }
        self.lane.stage(Commit { takes: &Lane::ONE, tries: &Lane::ZERO, to: &[self.now] });
        self.start = self.end;
        self.note_served();
        self.tell_service(observer);
        Ok(())
    }

    pub(in crate::engine) fn power_asked(&self) -> f64 {
        match self.asked {
            Asked::Power(watts) => watts,
            Asked::Current(amps) => amps * self.served_voltage,
        }
    }
}

/// Currents of a module that are not over its rating, and spend nothing of its device.
pub(in crate::engine) fn module_range(model: &Model, k: usize) -> Range {
    let most = |limit: Option<f64>| limit.map_or(f64::INFINITY, |limit| limit * INSIDE);
    let (limits, quiet) = (&model.limits[k], spends_from(model, k));
    Range { low: -most(limits.charge).min(quiet), high: most(limits.discharge).min(quiet) }
}

/// The current from which a device in a branch is spent; infinite where there is none.
fn spends_from(model: &Model, branch: usize) -> f64 {
    let fitted = model.bank.devices.iter().filter(|d| d.branch == branch);
    fitted.map(|d| quiet_current(model, d)).fold(f64::INFINITY, f64::min)
}

/// The greatest mean current that spends nothing of a device, ripple included [A].
pub(in crate::engine) fn quiet_current(model: &Model, fitted: &DeviceElement) -> f64 {
    model.device_types[fitted.device].pickup() / model.ripple_factor().sqrt() * INSIDE
}
