//! In and out of a lane: which trials are calm enough to go side by side, and what goes over between a `Trial` and its
//! lane.

use super::air::Airs;
use crate::engine::batch_step::BatchStep;
use crate::engine::controller;
use crate::engine::inverter::{Asked, InverterState};
use crate::engine::model::Model;
use crate::engine::module::{Bounds, State};
use crate::engine::operating_point::OperatingPoint;
use crate::engine::range::Range;
use crate::engine::trial::Nobody;
use crate::engine::trial::Trial;
use crate::engine::trial::step::{Deadlines, INSIDE, module_range, quiet_current};
use crate::network::lane::LANES;
use crate::network::{Demand, Terminals};
use crate::time::Time;

/// Limits hold for air up to so much warmer than when a trial came into its lane [K].
const WARMER: f64 = 5.0;

/// What is due at the end of a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Due {
    Nothing,
    /// Another load, or surges that begin or end.
    Load,
    /// Something that the trial takes by itself.
    Other,
}

/// What the bank gives while it is in a lane.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Service {
    /// All that is asked for.
    Full,
    /// It delivers nothing: the inverter is off; modules may still drive current through each other.
    Off,
    /// It delivers nothing: no current can flow, whatever the load asks.
    Idle,
}

/// What the lanes need beside their arithmetic.
pub struct Slots<'m> {
    model: &'m Model,
    deadlines: [Deadlines; LANES],
    pub airs: Airs<'m>,
    next_asked: [Asked; LANES],
    /// Step of the grid in each lane.
    strides: [Time; LANES],
    service: [Service; LANES],
    /// Whether a module of a lane is blocked.
    blocked: [bool; LANES],
    /// Whether a lane has taken anything since its trial came into it.
    used: [bool; LANES],
}

impl<'m> Slots<'m> {
    pub fn new(model: &'m Model) -> Slots<'m> {
        Slots {
            model,
            deadlines: [Deadlines::NONE; LANES],
            airs: Airs::new(),
            next_asked: [Asked::Power(0.0); LANES],
            strides: [model.grid; LANES],
            service: [Service::Full; LANES],
            blocked: [false; LANES],
            used: [false; LANES],
        }
    }

    /// Forgets the trials before.
    pub fn clear(&mut self) {
        (self.airs, self.used, self.blocked) = (Airs::new(), [false; LANES], [false; LANES]);
    }

    /// The latest time at which the next step of a lane must end.
    pub fn boundary(&self, lane: usize, now: Time) -> Time {
        let deadlines = Deadlines { air: self.airs.bends[lane], ..self.deadlines[lane] };
        deadlines.boundary(now, self.strides[lane], self.model.trials.horizon)
    }

    /// What is due in a lane at its trial's `now`.
    pub fn due(&self, trial: &Trial<'_>, lane: usize) -> Due {
        let (now, deadlines) = (trial.now, &self.deadlines[lane]);
        if deadlines.timers <= now {
            Due::Other
        } else if deadlines.chance <= now {
            if trial.only_surges_due() { Due::Load } else { Due::Other }
        } else if deadlines.load <= now {
            Due::Load
        } else {
            Due::Nothing
        }
    }

    /// Takes note that a lane has been solved for.
    pub fn note_used(&mut self, lane: usize) {
        self.used[lane] = true;
    }

    /// The load after a change of it, or of the surges, at the trial's `now`; `Load` where the present is to be solved anew.
    pub fn next_load(&mut self, trial: &mut Trial<'_>, step: &mut BatchStep<LANES>, lane: usize) -> Due {
        let surges = trial.take_due_random_events(&mut Nobody);
        let asked = trial.asked_now();
        (self.deadlines[lane].chance, self.deadlines[lane].load) = trial.next_changes();
        self.next_asked[lane] = asked;
        match self.service[lane] {
            Service::Full if trial.asked.is_demand() => trial.served_voltage = step.bus.voltage[lane],
            Service::Full => {}
            _ if !asked.is_demand() => return Due::Other,
            Service::Off => {}
            // Nothing changes but how much is not served.
            Service::Idle => {
                trial.asked = asked;
                step.short[lane] = trial.power_asked();
                return Due::Nothing;
            }
        }
        let changes = surges || asked != trial.asked;
        if !changes {
            return Due::Nothing;
        }
        step.demand.set(lane, trial.inverter.demand(asked));
        Due::Load
    }

    /// The present of this lane was solved anew with the next load.
    pub fn take_load(&mut self, trial: &mut Trial<'_>, step: &mut BatchStep<LANES>, lane: usize) {
        trial.asked = self.next_asked[lane];
        match self.service[lane] {
            Service::Full => step.inverter_loss[lane] = InverterState::loss(trial.asked, trial.demand()),
            Service::Off | Service::Idle => step.short[lane] = trial.power_asked(),
        }
        if trial.now < self.model.trials.horizon {
            note_start(step, lane, trial.now);
        }
    }

    /// A trial's night, before it comes into a lane for the first time.
    pub fn begin(&mut self, trial: &Trial<'_>, lane: usize) {
        let cursors = self.model.ambient.cursors(trial.night);
        self.airs.set(lane, cursors, trial.realization.temperature);
    }

    /// Puts a trial into its lane, if it is calm.
    pub fn load_lane(&mut self, trial: &mut Trial<'_>, step: &mut BatchStep<LANES>, lane: usize) -> bool {
        let Some(service) = service(trial) else { return false };
        let Some(bounds) = all_bounds(trial) else { return false };
        if !limit_conductors(trial, step, lane) {
            return false;
        }
        for (k, bounds) in bounds.iter().enumerate() {
            let cells = f64::from(self.model.modules[k].kind.cells);
            step.modules[k].set_bounds(lane, bounds, cells);
        }
        let (limits, demand, warmest) = (trial.limits(), trial.demand(), trial.air_now() + WARMER);
        let bus_current = Range { low: -limits.charge, high: limits.discharge };
        // Where nothing can flow the bus is at whatever it floats at, which no guard watches.
        let (idle, full) = (service == Service::Idle, service == Service::Full);
        let bus_voltage = if idle { Range::ANY } else { trial.inverter.range() };
        step.set_ranges(lane, bus_voltage, bus_current, Range { high: warmest, ..Range::ANY });
        trial.lane.demand.set(0, if idle { Demand::NONE } else { demand });
        trial.lane.inverter_loss[0] = if full { InverterState::loss(trial.asked, demand) } else { 0.0 };
        step.copy_lane(lane, &trial.lane, 0);
        self.blocked[lane] = false;
        for (k, module) in step.modules.iter_mut().enumerate().filter(|(k, _)| idle || trial.current(*k) == 0.0) {
            module.blocked[lane] = if idle { 0.0 } else { trial.states[k].blocked() };
            let blocked = module.blocked[lane] != 0.0;
            self.blocked[lane] |= blocked;
            if idle || blocked {
                module.conducts[lane] = 0.0;
            }
        }
        step.any_blocked = self.blocked.contains(&true);
        step.short[lane] = if full { 0.0 } else { trial.power_asked() };
        step.unserved[lane] = *trial.tally.unserved();
        (self.service[lane], self.strides[lane]) = (service, trial.stride());
        note_start(step, lane, trial.now);
        self.deadlines[lane] = trial.deadlines();
        self.airs.seek(lane, trial.now);
        self.used[lane] = false;
        true
    }

    /// Puts a lane back into its trial, whose `now` is that of the lane.
    pub fn store_lane(&mut self, trial: &mut Trial<'_>, step: &mut BatchStep<LANES>, lane: usize) {
        self.blocked[lane] = false;
        if !self.used[lane] {
            return;
        }
        trial.lane.copy_lane(0, step, lane);
        *trial.tally.unserved() = step.unserved[lane];
        let service = self.service[lane];
        if service != Service::Idle {
            let bus = Terminals { voltage: step.bus.voltage[lane], current: step.bus.current[lane] };
            trial.start = OperatingPoint::carried(bus);
            if service == Service::Full && trial.asked.is_demand() {
                trial.served_voltage = bus.voltage;
            }
        }
        let (work, of) = (&mut step.work, &mut trial.work);
        of.steps += std::mem::take(&mut work.steps[lane]);
        of.solves += std::mem::take(&mut work.solves[lane]);
        work.tried[lane] = 0;
        of.kirchhoff = of.kirchhoff.max(std::mem::take(&mut work.kirchhoff[lane]));
        of.power_balance = of.power_balance.max(std::mem::take(&mut work.power_balance[lane]));
    }
}

/// Takes the currents that a lane begins with among the greatest so far.
fn note_start(step: &mut BatchStep<LANES>, lane: usize, at: Time) {
    for (seen, amps) in step.greatest.iter_mut().zip(&step.start) {
        seen.take_one(amps[lane], lane, at);
    }
}

/// Sets up to which currents nothing happens to the conductors; false where one is near its limit.
fn limit_conductors(trial: &Trial<'_>, step: &mut BatchStep<LANES>, lane: usize) -> bool {
    let (bank, warmest) = (&trial.model.bank, trial.air_now() + WARMER);
    for (lanes, conductor) in step.conductors.iter_mut().zip(&bank.conductors) {
        lanes.most[lane] = conductor.limit(warmest).unwrap_or(f64::INFINITY) * INSIDE;
    }
    for fitted in &bank.devices {
        // A module's own device is kept by its range of current.
        if let Some(conductor) = bank.conductor_of(fitted.branch) {
            let most = &mut step.conductors[conductor].most[lane];
            *most = most.min(quiet_current(trial.model, fitted));
        }
    }
    (0..bank.conductors.len()).all(|k| {
        let amps = trial.current(bank.conductor_branch(k));
        let is_cool = trial.lane.conductors[k].is_cool(&trial.lane.celsius[k])[0] > 0.0;
        amps.abs() <= step.conductors[k].most[lane] && (bank.conductors[k].ampacity.is_none() || is_cool)
    })
}

/// What a trial's bank gives, where nothing is going on: a load that is served, or one that has long been refused.
fn service(trial: &Trial<'_>) -> Option<Service> {
    let (start, delivers) = (&trial.start, trial.states.iter().any(|s| s.delivers()));
    let runs = trial.inverter.runs();
    if start.limited || trial.told_served != trial.served() {
        return None;
    }
    if start.carried && runs && trial.told_served {
        return (delivers && trial.tally.is_calm(false)).then_some(Service::Full);
    }
    if !trial.asked.is_demand() || trial.told_served || !trial.tally.is_calm(true) {
        return None;
    }
    let still = (0..trial.states.len()).all(|k| trial.current(k) == 0.0);
    // The bus floats, and can only fall.
    let floats = !start.carried || trial.inverter.range().low == f64::NEG_INFINITY;
    match (delivers, runs) {
        (false, _) => (still && floats).then_some(Service::Idle),
        (true, false) => start.carried.then_some(Service::Off),
        (true, true) => None,
    }
}

/// For each module the ranges of values within which nothing about it changes, nor the limits that the controller announces.
fn all_bounds(trial: &Trial<'_>) -> Option<Vec<Bounds>> {
    let announced = announced_bounds(trial)?;
    let model = trial.model;
    let mut all = Vec::with_capacity(trial.modules.len());
    for (k, module) in trial.modules.iter().enumerate() {
        let mut bounds = module.bounds()?;
        let amps = trial.current(k);
        let way = match trial.states[k] {
            State::InService | State::Open => Range::ANY,
            // It conducts the way it may, and is to go on doing so; or it does not, and is watched for that.
            State::DischargeOnly if amps > 0.0 => Range { low: 1e-9, ..Range::ANY },
            State::ChargeOnly if amps < 0.0 => Range { high: -1e-9, ..Range::ANY },
            State::DischargeOnly | State::ChargeOnly if amps == 0.0 => Range::ANY,
            State::DischargeOnly | State::ChargeOnly => return None,
        };
        // Its electronics hold nothing back.
        let own = model.modules[k]
            .kind
            .self_limit
            .map_or(Range::ANY, |own| Range { low: -own.charge * INSIDE, high: own.discharge * INSIDE });
        bounds.current = bounds.current.within(module_range(model, k)).within(way).within(own);
        bounds.temperature = bounds.temperature.within(announced.temperature);
        bounds.cell_voltage = bounds.cell_voltage.within(announced.cell_voltage);
        if !bounds.current.contains(amps) {
            return None;
        }
        if trial.states[k] == State::Open {
            // Nothing flows, whatever the rest of the bank does.
            bounds.current = Range::ANY;
        }
        all.push(bounds);
    }
    Some(all)
}

/// The ranges of values of any module within which the announced limits do not change.
fn announced_bounds(trial: &Trial<'_>) -> Option<Bounds> {
    let Some(controller) = &trial.controller else { return Some(Bounds::ANY) };
    // What could not be sent, the link being down, is tried again at every step.
    if !controller.has_told(trial.allowed(controller.model())) {
        return None;
    }
    controller::flat_about(controller.model(), trial.each_allowed())
}
