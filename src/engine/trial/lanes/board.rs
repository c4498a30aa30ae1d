//! On and off: which trials are calm enough to ride, and what goes over between a `Trial` and its lane.

use super::air::Airs;
use super::ride::Ride;
use crate::engine::ambient::Surroundings;
use crate::engine::controller;
use crate::engine::device::spent_after;
use crate::engine::inverter::{Asked, InverterState};
use crate::engine::model::Model;
use crate::engine::module::{Bounds, Range, State};
use crate::engine::observe::Nobody;
use crate::engine::tally::GREATER;
use crate::engine::trial::Trial;
use crate::engine::trial::rough::{INSIDE, module_range, quiet_current};
use crate::network::Demand;
use crate::network::lanes::{LANES, Lane, choose, lanes, one_by_one};
use crate::scenario::TripCurve;
use crate::time::Time;

/// Limits hold for air up to so much warmer than at boarding [K].
const WARMER: f64 = 5.0;

/// Greatest currents of a branch, and when.
#[derive(Clone, Debug)]
struct Greatest {
    amps: Lane,
    /// [µs]: whole numbers, exact for 285 years.
    at: Lane,
}

/// What is due at the end of a ridden step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Due {
    Nothing,
    /// Another load, or surges that begin or end.
    Load,
    /// Something that the trial takes by itself.
    Other,
}

/// What the lanes need beside their arithmetic.
pub struct Boarding<'m> {
    model: &'m Model,
    /// Whether any trial of this model may ride.
    possible: bool,
    /// When a timer, the inverter or the controller is next due in each lane; when chance begins or ends something; when
    /// its load changes.
    timers: [Time; LANES],
    mishaps: [Time; LANES],
    loads: [Time; LANES],
    pub airs: Airs<'m>,
    asked: [Asked; LANES],
    next_asked: [Asked; LANES],
    next_loss: Lane,
    greatest: Vec<Greatest>,
    hottest: Vec<Lane>,
    /// Of devices, in each lane.
    spent: Vec<Lane>,
    any_spent: bool,
    /// Whether a lane has taken anything since it boarded.
    rode: [bool; LANES],
}

impl<'m> Boarding<'m> {
    pub fn new(model: &'m Model) -> Boarding<'m> {
        let branches = model.bank.network.branches().len();
        let passive = model.modules.iter().all(|m| m.kind.self_limit.is_none());
        let memory = |k: &crate::scenario::DeviceType| matches!(k.curve, TripCurve::Thermal { .. });
        Boarding {
            model,
            possible: passive && !model.device_types.iter().any(memory),
            timers: [Time::NEVER; LANES],
            mishaps: [Time::NEVER; LANES],
            loads: [Time::NEVER; LANES],
            airs: Airs::new(),
            asked: [Asked::Power(0.0); LANES],
            next_asked: [Asked::Power(0.0); LANES],
            next_loss: Lane([0.0; LANES]),
            greatest: vec![Greatest { amps: Lane([0.0; LANES]), at: Lane([0.0; LANES]) }; branches],
            hottest: vec![Lane([f64::NEG_INFINITY; LANES]); model.bank.conductors.len()],
            spent: vec![Lane([0.0; LANES]); model.bank.devices.len()],
            any_spent: false,
            rode: [false; LANES],
        }
    }

    /// Forgets the trials before.
    pub fn clear(&mut self) {
        (self.airs, self.any_spent, self.rode) = (Airs::new(), false, [false; LANES]);
    }

    /// Where the next step of a lane must end at the latest: `Trial::boundary`, while the load is served in full.
    pub fn boundary(&self, lane: usize, now: Time) -> Time {
        let model = self.model;
        let grid = now.next_multiple(model.grid);
        let fixed = grid.min(self.loads[lane]).min(self.airs.bends[lane]).min(model.trials.horizon);
        fixed.min(self.timers[lane]).min(self.mishaps[lane]).max(now + Time(1))
    }

    /// What is due in a lane at its trial's `now`.
    pub fn due(&self, trial: &Trial<'_>, lane: usize) -> Due {
        let now = trial.now;
        if self.timers[lane] <= now {
            Due::Other
        } else if self.mishaps[lane] <= now {
            if trial.only_surges_due() { Due::Load } else { Due::Other }
        } else if self.loads[lane] <= now {
            Due::Load
        } else {
            Due::Nothing
        }
    }

    /// What the step adds up, before its end becomes the present.
    #[inline(always)]
    pub fn note(&mut self, ride: &Ride, takes: &Lane, to: &[Time; LANES]) {
        let to = lanes(|l| to[l].0 as f64);
        for k in one_by_one(ride.end.len()) {
            self.greatest[k].take(&ride.end[k], takes, &to);
        }
        for k in one_by_one(ride.wires.len()).filter(|k| ride.wires[*k].is_warm()) {
            let (before, ahead) = (self.hottest[k], ride.warmth_ahead[k]);
            self.hottest[k] = choose(takes, lanes(|l| if ahead[l] > before[l] { ahead[l] } else { before[l] }), before);
        }
        if self.any_spent {
            self.cool_devices(ride, takes);
        }
    }

    #[cold]
    #[inline(never)]
    fn cool_devices(&mut self, ride: &Ride, takes: &Lane) {
        let effective = ride.heating.sqrt();
        for (spent, fitted) in self.spent.iter_mut().zip(&self.model.bank.devices) {
            let kind = &self.model.device_types[fitted.device];
            for lane in 0..LANES {
                if takes[lane] == 0.0 || spent[lane] == 0.0 {
                    continue;
                }
                let (start, end) = (ride.start[fitted.branch][lane], ride.end[fitted.branch][lane]);
                spent[lane] = spent_after(kind, spent[lane], (effective * start, effective * end), ride.seconds[lane]);
            }
        }
    }

    /// Takes note that a lane has been solved for.
    pub fn rides(&mut self, lane: usize) {
        self.rode[lane] = true;
    }

    /// The load after a change of it, or of the surges, at the trial's `now`; whether the present is to be solved anew.
    pub fn next_load(&mut self, trial: &mut Trial<'_>, ride: &mut Ride, lane: usize) -> bool {
        let surges = trial.take_due_mishaps(&mut Nobody);
        let until = trial.load.at(trial.now).1;
        let asked = trial.asked_now();
        self.mishaps[lane] = trial.next_change_due();
        self.loads[lane] = until;
        self.next_asked[lane] = asked;
        if trial.asked.is_demand() {
            trial.served_voltage = ride.bus.voltage[lane];
        }
        let changes = surges || asked != self.asked[lane];
        if changes {
            let demand = trial.inverter.demand(asked);
            self.next_loss[lane] = InverterState::loss(asked, demand);
            set_demand(ride, lane, demand);
        }
        changes
    }

    /// The present of this lane was solved anew with the next load.
    pub fn take_load(&mut self, trial: &mut Trial<'_>, ride: &mut Ride, lane: usize) {
        trial.asked = self.next_asked[lane];
        self.asked[lane] = trial.asked;
        ride.inverter_loss[lane] = self.next_loss[lane];
        if trial.now < self.model.trials.horizon {
            for (seen, start) in self.greatest.iter_mut().zip(&ride.start) {
                seen.take_one(start[lane], lane, trial.now);
            }
        }
    }

    /// A trial's night, before it boards for the first time.
    pub fn begin(&mut self, trial: &Trial<'_>, lane: usize) {
        let cursors = self.model.ambient.cursors(trial.night);
        self.airs.set(lane, cursors, trial.luck.temperature);
    }

    /// Puts a trial into its lane, if it is calm.
    pub fn board(&mut self, trial: &mut Trial<'_>, ride: &mut Ride, lane: usize) -> bool {
        let Some(bounds) = (self.possible && is_calm(trial)).then(|| all_bounds(trial)).flatten() else {
            return false;
        };
        let air = trial.around.room + trial.own_warmth;
        if !self.board_wires(trial, ride, lane, air) {
            return false;
        }
        for (k, bounds) in bounds.iter().enumerate() {
            board_module(trial, ride, (lane, k), bounds);
        }
        for (to, amps) in ride.start.iter_mut().zip(&trial.start.currents) {
            to[lane] = *amps;
        }
        self.board_rest(trial, ride, lane);
        ride.forget_width(lane);
        self.airs.seek(lane, trial.now);
        self.rode[lane] = false;
        true
    }

    /// False where a conductor is near its limit.
    fn board_wires(&mut self, trial: &Trial<'_>, ride: &mut Ride, lane: usize, air: f64) -> bool {
        let (model, modules) = (self.model, self.model.modules.len());
        for (k, conductor) in model.bank.conductors.iter().enumerate() {
            let wire = &mut ride.wires[k];
            let limit = conductor.limit(air + WARMER).unwrap_or(f64::INFINITY);
            wire.most[lane] = limit * INSIDE;
            wire.live[lane] = if trial.wiring.is_open(k) { 0.0 } else { 1.0 };
            wire.joints[lane] = trial.wiring.joints(model, k, trial.luck.joints[k]);
            ride.warmth[k][lane] = trial.wiring.temperature(k);
        }
        for (k, fitted) in model.bank.devices.iter().enumerate() {
            self.spent[k][lane] = trial.wiring.spent(k);
            self.any_spent |= self.spent[k][lane] != 0.0;
            // A module's own device is kept by its range of current.
            if let Some(conductor) = fitted.branch.checked_sub(modules) {
                let most = &mut ride.wires[conductor].most[lane];
                *most = most.min(quiet_current(model, fitted));
            }
        }
        ride.room.set(lane, Range { high: air + WARMER, ..Range::ANY });
        let mut wires = ride.wires.iter().zip(&ride.warmth).zip(&trial.start.currents[modules..]);
        wires.all(|((wire, celsius), amps)| {
            amps.abs() <= wire.most[lane] && (!wire.is_warm() || celsius[lane] <= wire.stands)
        })
    }

    fn board_rest(&mut self, trial: &mut Trial<'_>, ride: &mut Ride, lane: usize) {
        let (model, now) = (self.model, trial.now);
        (ride.now.outdoor[lane], ride.now.room[lane]) = (trial.around.outdoor, trial.around.room);
        (ride.now.floor[lane], ride.now.own[lane]) = (trial.around.floor, trial.own_warmth);
        (ride.bus.voltage[lane], ride.bus.current[lane]) = (trial.start.bus.voltage, trial.start.bus.current);
        ride.wire_loss[lane] = trial.start.conductor_loss;
        ride.stiffness[lane] = trial.stiffness;
        let demand = trial.inverter.demand(trial.asked);
        set_demand(ride, lane, demand);
        ride.inverter_loss[lane] = InverterState::loss(trial.asked, demand);
        ride.bus_voltage.set(lane, trial.inverter.range());
        let limits = trial.limits();
        ride.bus_current.set(lane, Range { low: -limits.charge, high: limits.discharge });
        for (modules, wire) in ride.wires.iter_mut().enumerate() {
            let k = model.modules.len() + modules;
            if wire.is_fixed() {
                let conducts = wire.conductance_of(lane);
                ride.conductance[k][lane] = conducts;
            }
        }
        self.asked[lane] = trial.asked;
        self.loads[lane] = trial.load.at(now).1;
        let timers = trial.modules.iter().map(|m| m.due()).min().unwrap_or(Time::NEVER);
        let devices = trial.inverter.due().min(trial.controller_due());
        (self.timers[lane], self.mishaps[lane]) = (timers.min(devices), trial.next_change_due());
        let elements = trial.tally.elements();
        for (k, (seen, element)) in self.greatest.iter_mut().zip(elements).enumerate() {
            (seen.amps[lane], seen.at[lane]) = (element.greatest, element.greatest_at.0 as f64);
            seen.take_one(trial.start.currents[k], lane, now);
        }
        for (k, seen) in self.hottest.iter_mut().enumerate() {
            let before = elements[model.modules.len() + k].hottest.unwrap_or(f64::NEG_INFINITY);
            seen[lane] = before.max(ride.warmth[k][lane]);
        }
    }

    /// Puts a lane back into its trial, whose `now` is that of the lane.
    pub fn alight(&mut self, trial: &mut Trial<'_>, ride: &mut Ride, lane: usize) {
        if !self.rode[lane] {
            return;
        }
        trial.around =
            Surroundings { outdoor: ride.now.outdoor[lane], room: ride.now.room[lane], floor: ride.now.floor[lane] };
        trial.own_warmth = ride.now.own[lane];
        trial.stiffness = ride.stiffness[lane];
        for (slope, module) in trial.slopes.iter_mut().zip(&ride.present) {
            *slope = module.slope[lane];
        }
        for (k, module) in ride.present.iter().enumerate() {
            (trial.modules[k].charge, trial.modules[k].temperature) = (module.charge[lane], module.celsius[lane]);
            trial.start.terminal_voltages[k] = module.terminals[lane];
            trial.start.cell_voltages[k] = module.cells[lane] / f64::from(self.model.modules[k].kind.cells);
            trial.start.losses[k] = module.loss[lane];
        }
        for (amps, from) in trial.start.currents.iter_mut().zip(&ride.start) {
            *amps = from[lane];
        }
        (trial.start.bus.voltage, trial.start.bus.current) = (ride.bus.voltage[lane], ride.bus.current[lane]);
        trial.start.unlimited = ride.bus.current[lane];
        trial.start.conductor_loss = ride.wire_loss[lane];
        if trial.asked.is_demand() {
            trial.served_voltage = ride.bus.voltage[lane];
        }
        for (k, celsius) in ride.warmth.iter().enumerate() {
            trial.wiring.set_temperature(k, celsius[lane]);
        }
        for (k, spent) in self.spent.iter().enumerate() {
            trial.wiring.set_spent(k, spent[lane]);
        }
        self.alight_sums(trial, ride, lane);
    }

    fn alight_sums(&mut self, trial: &mut Trial<'_>, ride: &mut Ride, lane: usize) {
        let modules = self.model.modules.len();
        let elements = trial.tally.elements_mut();
        for (seen, element) in self.greatest.iter().zip(elements.iter_mut()) {
            (element.greatest, element.greatest_at) = (seen.amps[lane], Time(seen.at[lane] as i64));
        }
        for (k, seen) in self.hottest.iter().enumerate() {
            let insulated = self.model.bank.conductors[k].ampacity.is_some();
            elements[modules + k].hottest = insulated.then_some(seen[lane]);
        }
        let (work, of) = (&mut ride.work, &mut trial.work);
        of.steps += std::mem::take(&mut work.steps[lane]);
        of.solves += std::mem::take(&mut work.solves[lane]);
        work.tried[lane] = 0;
        of.kirchhoff = of.kirchhoff.max(std::mem::take(&mut work.kirchhoff[lane]));
        of.power_balance = of.power_balance.max(std::mem::take(&mut work.power_balance[lane]));
    }
}

fn set_demand(ride: &mut Ride, lane: usize, demand: Demand) {
    let (amount, is_power) = match demand {
        Demand::Power(watts) => (watts, true),
        Demand::Current(amps) => (amps, false),
    };
    (ride.demand.amount[lane], ride.demand.is_power[lane]) = (amount, is_power);
}

/// Whether nothing is going on but a load that is served.
fn is_calm(trial: &Trial<'_>) -> bool {
    let start = &trial.start;
    let in_full = start.carried && !start.limited && trial.inverter.runs() && trial.told_served;
    in_full && trial.tally.is_calm() && trial.states.iter().any(|s| s.delivers())
}

/// Within which values nothing about each module changes, nor what the controller announces.
fn all_bounds(trial: &Trial<'_>) -> Option<Vec<Bounds>> {
    let announced = announced_bounds(trial)?;
    let model = trial.model;
    let mut all = Vec::with_capacity(trial.modules.len());
    for (k, module) in trial.modules.iter().enumerate() {
        let mut bounds = module.bounds()?;
        let amps = trial.start.currents[k];
        let way = match trial.states[k] {
            State::InService | State::Open => Range::ANY,
            // It conducts the way it may, and is to go on doing so.
            State::DischargeOnly if amps > 0.0 => Range { low: 1e-9, ..Range::ANY },
            State::ChargeOnly if amps < 0.0 => Range { high: -1e-9, ..Range::ANY },
            State::DischargeOnly | State::ChargeOnly => return None,
        };
        bounds.current = bounds.current.within(module_range(model, k)).within(way);
        bounds.temperature = bounds.temperature.within(announced.temperature);
        bounds.cell_voltage = bounds.cell_voltage.within(announced.cell_voltage);
        if !bounds.current.holds(amps) {
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

/// Within which values of any module what the controller announces does not change.
fn announced_bounds(trial: &Trial<'_>) -> Option<Bounds> {
    let Some(controller) = &trial.controller else { return Some(Bounds::ANY) };
    // What could not be sent, the link being down, is tried again at every step.
    if !controller.has_told(trial.allowed(controller.model())) {
        return None;
    }
    controller::flat_about(controller.model(), trial.each_allowed())
}

fn board_module(trial: &Trial<'_>, ride: &mut Ride, (lane, k): (usize, usize), bounds: &Bounds) {
    let model = &trial.model.modules[k];
    let module = &mut ride.modules[k];
    let constants = &mut module.constants;
    constants.capacity[lane] = trial.capacity(k);
    constants.per_coulomb[lane] = 1.0 / trial.capacity(k);
    constants.standing[lane] = trial.standing(k);
    constants.luck[lane] = trial.luck.modules[k].resistance;
    constants.sensor[lane] = trial.luck.modules[k].sensor;
    constants.live[lane] = if trial.states[k] == State::Open { 0.0 } else { 1.0 };
    constants.drop[lane] = match trial.states[k] {
        State::DischargeOnly => model.kind.switch_drop,
        State::ChargeOnly => -model.kind.switch_drop,
        State::InService | State::Open => 0.0,
    };
    module.set_bounds(lane, bounds, f64::from(model.kind.cells));
    let (state, present) = (&trial.modules[k], &mut ride.present[k]);
    (present.charge[lane], present.celsius[lane]) = (state.charge, state.temperature);
    present.emf[lane] = model.emf(state.charge);
    present.slope[lane] = trial.slopes[k];
    present.loss[lane] = trial.start.losses[k];
}

impl Greatest {
    fn take_one(&mut self, amps: f64, lane: usize, at: Time) {
        if amps.abs() > self.amps[lane] * GREATER {
            (self.amps[lane], self.at[lane]) = (amps.abs(), at.0 as f64);
        }
    }

    /// Takes the currents of the lanes of `takes`, each at its own time.
    #[inline(always)]
    fn take(&mut self, end: &Lane, takes: &Lane, to: &Lane) {
        let (amps, at) = (self.amps, self.at);
        let more = lanes(|l| if (end[l].abs() > amps[l] * GREATER) & (takes[l] > 0.0) { 1.0 } else { 0.0 });
        self.amps = choose(&more, lanes(|l| end[l].abs()), amps);
        self.at = choose(&more, *to, at);
    }
}
