//! The course of one trial: settle, step, locate, commit.
//!
//! In: a `Model` and a `Luck`. Out: a `TrialResult`.
//!
//! The step from t to t + h solves the network once, at its end. Each module's charge follows
//! z₁ = z₀ − h/Q·((1−θ)·i₀ + θ·i₁), so that its voltage at the end, E(z₁) − R·i₁, is that of a
//! source E(z₀ − (1−θ)·h·i₀/Q) behind R + θ·h·E′/Q: the implicit part costs nothing. With
//! x = h·E′/(Q·R), θ = 1/(1−e^(−x)) − 1/x is exact for a module on a fixed bus voltage (exponential
//! fitting; Liniger and Willoughby, SIAM J. Numer. Anal. 7 (1970) 47): ½ on the flat of the curve,
//! second order; towards 1 on its steep ends, where an explicit step would not be stable.

use super::ambient::Surroundings;
use super::heat::Heating;
use super::instant::{Instant, Residual};
use super::inverter::{Asked, InverterState};
use super::luck::Luck;
use super::model::Model;
use super::module::{ModuleState, State, Watched};
use super::observe::{Event, Observer};
use super::result::{TrialError, TrialResult, Work};
use super::tally::{Taken, Tally};
use crate::network::solve::Solver;
use crate::network::{Demand, Element};
use crate::profile::Night;
use crate::time::Time;

/// More events than this in one trial: something chases its own tail.
const EVENT_LIMIT: u64 = 200_000;

/// One trial under way.
pub struct Trial<'m> {
    pub model: &'m Model,
    luck: &'m Luck,
    night: &'m Night,
    pub now: Time,
    pub modules: Vec<ModuleState>,
    pub states: Vec<State>,
    pub inverter: InverterState,
    pub asked: Asked,
    pub around: Surroundings,
    /// Of the room above its course without the bank [K].
    own_warmth: f64,
    next_fault: Vec<usize>,
    solver: Solver,
    heating: Heating,
    elements: Vec<Element>,
    start: Instant,
    end: Instant,
    ahead: Ahead,
    /// Temperatures and losses at the start of the step, for the heating.
    temperatures: Vec<f64>,
    losses: Vec<f64>,
    /// Bus voltage when the demand was last met: what a current not delivered was worth.
    served_voltage: f64,
    tally: Tally,
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
    /// Resistance of each module, and the part of it within its cells [Ω].
    resistance: Vec<f64>,
    cell_resistance: Vec<f64>,
    /// Weight of the end in each module's step.
    theta: Vec<f64>,
}

/// Runs one trial to its horizon.
///
/// # Errors
/// A network without a solution, events without end, or an observer that gives up.
pub fn run(model: &Model, luck: &Luck, observer: &mut impl Observer) -> Result<TrialResult, TrialError> {
    let horizon = model.trials.horizon;
    let mut trial = Trial::start(model, luck)?;
    trial.settle(observer)?;
    observer.moment(&trial, &trial.start);
    while trial.now < horizon {
        if observer.gives_up() {
            return Err(TrialError::GivenUp { trial: luck.trial, at: trial.now });
        }
        let boundary = trial.boundary();
        trial.predict(boundary)?;
        if trial.excess_ahead() > 0.0 {
            trial.locate()?;
        }
        trial.commit(observer);
        trial.take_due_events(observer)?;
        trial.settle(observer)?;
        observer.moment(&trial, &trial.start);
    }
    Ok(trial.finish())
}

impl<'m> Trial<'m> {
    fn start(model: &'m Model, luck: &'m Luck) -> Result<Trial<'m>, TrialError> {
        let (count, branches) = (model.modules.len(), model.bank.network.branches().len());
        let night = &model.trials.nights[luck.night];
        let around = model.ambient.at(Time::ZERO, night, luck.temperature);
        let heating = Heating::new(model.couplings.clone(), model.ambient.gradient);
        let standing: Vec<f64> = model.modules.iter().map(|m| m.kind.standing).collect();
        let temperatures = heating.settled(&standing, &around);
        let each = model.modules.iter().zip(&luck.modules).zip(&temperatures);
        let modules = each.map(|((m, luck), t)| ModuleState::new(m, luck, *t)).collect();
        let mut trial = Trial {
            model,
            luck,
            night,
            now: Time::ZERO,
            modules,
            states: vec![State::InService; count],
            inverter: InverterState::new(model.inverter.as_ref()),
            asked: model.asked(Time::ZERO, night, luck.load).0,
            around,
            own_warmth: 0.0,
            next_fault: vec![0; count],
            solver: model.solver.clone(),
            heating,
            elements: vec![Element::conductor(1.0); branches],
            start: Instant::new(count, branches),
            end: Instant::new(count, branches),
            ahead: Ahead {
                at: Time::ZERO,
                around,
                own_warmth: 0.0,
                charges: vec![0.0; count],
                temperatures: temperatures.clone(),
                resistance: vec![1.0; count],
                cell_resistance: vec![1.0; count],
                theta: vec![0.5; count],
            },
            temperatures,
            losses: standing,
            served_voltage: model.modules.iter().map(|m| m.emf(m.start).0).fold(0.0, f64::max),
            tally: Tally::new(model),
            work: Work::default(),
        };
        trial.settle_guards_at_start();
        trial.take_states();
        trial.solve_now()?;
        Ok(trial)
    }

    /// What has lasted since before the start acts without a delay: a module that is too cold at
    /// dusk is out at dusk.
    fn settle_guards_at_start(&mut self) {
        for k in 0..self.modules.len() {
            let model = &self.model.modules[k];
            let at_rest = model.emf(self.modules[k].charge).0 / f64::from(model.kind.cells);
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
        }
    }

    fn capacity(&self, k: usize) -> f64 {
        self.model.modules[k].kind.capacity * self.luck.modules[k].capacity
    }

    /// Current that a module's own electronics draw from its cells [A].
    fn standing_current(&self, k: usize) -> f64 {
        let model = &self.model.modules[k];
        if model.kind.standing == 0.0 {
            return 0.0;
        }
        model.kind.standing / model.emf(self.modules[k].charge).0
    }

    fn demand(&self) -> Demand {
        self.inverter.demand(self.asked)
    }

    /// Whether what is asked for is delivered.
    fn is_served(&self, instant: &Instant) -> bool {
        instant.carried && (self.inverter.runs() || !self.asked.is_demand())
    }

    pub fn served(&self) -> bool {
        self.is_served(&self.start)
    }

    // ---- solving a moment ----

    /// The branch elements at the charges and temperatures of `ahead`; `seconds` of the step that
    /// ends there, 0 for the moment itself.
    fn load_elements(&mut self, seconds: f64) {
        for k in 0..self.modules.len() {
            let (model, luck) = (&self.model.modules[k], &self.luck.modules[k]);
            let charge = self.ahead.charges[k];
            let (emf, slope) = model.emf(charge);
            let (cell, whole) = model.resistance(charge, self.ahead.temperatures[k]);
            self.ahead.cell_resistance[k] = cell * luck.resistance;
            self.ahead.resistance[k] = whole * luck.resistance;
            let implicit = self.ahead.theta[k] * seconds * slope / self.capacity(k);
            self.elements[k] = Element {
                emf,
                resistance: self.ahead.resistance[k] + implicit,
                law: self.states[k].law(model.kind.switch_drop),
            };
        }
        let (first, air) = (self.modules.len(), self.ahead.around.room + self.ahead.own_warmth);
        for (k, conductor) in self.model.bank.conductors.iter().enumerate() {
            let ohm = conductor.resistance(air, self.luck.joints[k]);
            self.elements[first + k] = Element::conductor(ohm);
        }
    }

    /// Solves `elements` into `end`, with the modules' heat and cell voltages.
    fn solve_end(&mut self) -> Result<(), TrialError> {
        let demand = self.demand();
        let solved = self.end.solve(&mut self.solver, &self.elements, demand);
        let Residual { kirchhoff, power } =
            solved.map_err(|source| TrialError::Unsolvable { trial: self.luck.trial, at: self.now, source })?;
        self.work.solves += 1;
        self.work.kirchhoff = self.work.kirchhoff.max(kirchhoff);
        self.work.power_balance = self.work.power_balance.max(power);
        for k in 0..self.modules.len() {
            let (model, element) = (&self.model.modules[k], &self.elements[k]);
            let (amps, whole) = (self.end.currents[k], self.ahead.resistance[k]);
            let implicit = element.resistance - whole;
            let across_cells = element.emf - (implicit + self.ahead.cell_resistance[k]) * amps;
            self.end.cell_voltages[k] = across_cells / f64::from(model.kind.cells);
            let switch = (element.emf - element.driving()) * amps;
            self.end.losses[k] = whole * amps * amps + switch + model.kind.standing;
        }
        Ok(())
    }

    /// Solves the present moment into `start`.
    fn solve_now(&mut self) -> Result<(), TrialError> {
        self.ahead.at = self.now;
        self.ahead.around = self.around;
        self.ahead.own_warmth = self.own_warmth;
        for (k, module) in self.modules.iter().enumerate() {
            self.ahead.charges[k] = module.charge;
            self.ahead.temperatures[k] = module.temperature;
        }
        self.load_elements(0.0);
        self.solve_end()?;
        std::mem::swap(&mut self.start, &mut self.end);
        self.note_voltage();
        Ok(())
    }

    fn note_voltage(&mut self) {
        if self.start.carried && self.asked.is_demand() {
            self.served_voltage = self.start.bus.voltage;
        }
    }

    // ---- the step ----

    /// Where the next step must end at the latest.
    fn boundary(&self) -> Time {
        let step = self.model.trials.step;
        let grid = Time((self.now.0 / step.0 + 1) * step.0);
        let load = self.model.asked(self.now, self.night, self.luck.load).1;
        let air = self.model.ambient.next_reading(self.now, self.night);
        let timers = self.modules.iter().map(ModuleState::due);
        let faults = (0..self.modules.len()).map(|k| self.next_fault_change(k));
        let soonest = timers.chain(faults).min().unwrap_or(Time::NEVER);
        let fixed = grid.min(load).min(air).min(self.model.trials.horizon);
        fixed.min(soonest).min(self.inverter.due()).max(self.now + Time(1))
    }

    fn next_fault_change(&self, k: usize) -> Time {
        let changes = &self.luck.modules[k].faults.changes;
        changes.get(self.next_fault[k]).copied().unwrap_or(Time::NEVER)
    }

    /// Works out where a step to `at` would end, into `ahead` and `end`.
    fn predict(&mut self, at: Time) -> Result<(), TrialError> {
        let seconds = (at - self.now).seconds();
        self.ahead.at = at;
        self.ahead.around = self.model.ambient.at(at, self.night, self.luck.temperature);
        self.ahead.own_warmth = self.own_warmth_after(seconds);
        self.predict_temperatures(seconds, false);
        for k in 0..self.modules.len() {
            let charge = self.modules[k].charge;
            let slope = self.model.modules[k].emf(charge).1;
            let per_ampere = seconds / self.capacity(k);
            let theta = theta(per_ampere * slope / self.ahead.resistance[k]);
            let gone = (1.0 - theta) * self.start.currents[k] + self.standing_current(k);
            self.ahead.theta[k] = theta;
            self.ahead.charges[k] = charge - per_ampere * gone;
        }
        self.load_elements(seconds);
        self.solve_end()?;
        for k in 0..self.modules.len() {
            let gone = self.ahead.theta[k] * self.end.currents[k];
            self.ahead.charges[k] -= seconds / self.capacity(k) * gone;
        }
        self.predict_temperatures(seconds, true);
        Ok(())
    }

    /// Temperatures at the end: with the losses of the start, or with the mean of both ends.
    fn predict_temperatures(&mut self, seconds: f64, with_end: bool) {
        for (k, module) in self.modules.iter().enumerate() {
            self.temperatures[k] = module.temperature;
            let start = self.start.losses[k];
            self.losses[k] = if with_end { 0.5 * (start + self.end.losses[k]) } else { start };
        }
        let warmed = |s: &Surroundings, own: f64| Surroundings { room: s.room + own, ..*s };
        let before = warmed(&self.around, self.own_warmth);
        let after = warmed(&self.ahead.around, self.ahead.own_warmth);
        let to = &mut self.ahead.temperatures;
        self.heating.advance(seconds, &self.temperatures, &self.losses, (&before, &after), to);
    }

    /// The room is warmed by the bank and the inverter: C·dΔ/dt = heat − loss·Δ.
    fn own_warmth_after(&self, seconds: f64) -> f64 {
        let Some((loss, capacity)) = self.model.ambient.room_heat else {
            return 0.0;
        };
        let bank: f64 = self.start.losses.iter().sum();
        let inverter = if self.served() { self.inverter.loss(self.asked) } else { 0.0 };
        let settled = (bank + inverter) / loss;
        settled + (self.own_warmth - settled) * (-loss * seconds / capacity).exp()
    }

    /// Greatest excess of any guard at the end ahead: positive where the step crosses an event.
    fn excess_ahead(&self) -> f64 {
        if self.end.carried != self.start.carried {
            return 1.0;
        }
        let bus = self.end.bus_under(self.demand());
        let guards = self.modules.iter().enumerate().map(|(k, module)| {
            module.excess(&Watched {
                charge: self.ahead.charges[k],
                temperature: self.ahead.temperatures[k] + self.luck.modules[k].sensor,
                cell_voltage: self.end.cell_voltages[k],
            })
        });
        guards.fold(self.inverter.excess(bus), f64::max)
    }

    /// Shortens the step to the first microsecond at which an event has happened: regula falsi
    /// with the Illinois rule on whole microseconds.
    fn locate(&mut self) -> Result<(), TrialError> {
        let (mut low, mut high) = (self.now, self.ahead.at);
        let (mut below, mut above) = (self.excess_now().min(-1e-12), self.excess_ahead());
        let mut last_side = 0;
        while high - low > Time(1) {
            let share = below / (below - above);
            let guess = ((high - low).0 as f64 * share).round() as i64;
            let at = low + Time(guess.clamp(1, (high - low).0 - 1));
            self.predict(at)?;
            let excess = self.excess_ahead();
            if excess > 0.0 {
                (high, above) = (at, excess);
                if last_side == 1 {
                    below *= 0.5;
                }
                last_side = 1;
            } else {
                (low, below) = (at, excess.min(-1e-12));
                if last_side == -1 {
                    above *= 0.5;
                }
                last_side = -1;
            }
        }
        if self.ahead.at != high {
            self.predict(high)?;
        }
        self.work.events += 1;
        Ok(())
    }

    fn excess_now(&self) -> f64 {
        let bus = self.start.bus_under(self.demand());
        let guards = self.modules.iter().enumerate();
        let guards = guards.map(|(k, module)| module.excess(&self.watched(k, &self.start)));
        guards.fold(self.inverter.excess(bus), f64::max)
    }

    /// Makes the end ahead the present.
    fn commit(&mut self, observer: &mut impl Observer) {
        let changed = self.end.carried != self.start.carried;
        let seconds_short = if self.served() { 0.0 } else { self.power_asked().max(0.0) };
        let refused = self.asked.is_charge() && !self.start.carried;
        let taken = Taken {
            from: self.now,
            to: self.ahead.at,
            start: &self.start,
            // A voltage that collapses does so at the end: until then the currents were as before.
            end: if changed { &self.start } else { &self.end },
            short: seconds_short,
            curtailed: if refused { -self.power_asked() } else { 0.0 },
        };
        self.tally.add(self.model, &taken, observer);
        self.work.steps += 1;
        self.now = self.ahead.at;
        self.around = self.ahead.around;
        self.own_warmth = self.ahead.own_warmth;
        for (k, module) in self.modules.iter_mut().enumerate() {
            // A trace beyond the end is kept: it is what tells a guard that the end has been reached.
            module.charge = self.ahead.charges[k].clamp(-1e-9, 1.0 + 1e-9);
            module.temperature = self.ahead.temperatures[k];
        }
        std::mem::swap(&mut self.start, &mut self.end);
        self.note_voltage();
        if changed {
            self.tell_service(observer);
        }
    }

    fn power_asked(&self) -> f64 {
        match self.asked {
            Asked::Power(watts) => watts,
            Asked::Current(amps) => amps * self.served_voltage,
        }
    }

    fn tell_service(&self, observer: &mut impl Observer) {
        let event = if self.served() { Event::Served } else { Event::Short };
        observer.event(self.now, event);
    }

    // ---- events ----

    /// Timers, faults, repairs and changes of the load that are due now.
    fn take_due_events(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        let mut changed = false;
        for k in 0..self.modules.len() {
            changed |= self.modules[k].expire(self.now);
            while self.next_fault_change(k) <= self.now {
                self.next_fault[k] += 1;
                self.modules[k].down = !self.modules[k].down;
                changed = true;
            }
        }
        let now = self.now;
        let ran = self.inverter.runs();
        if let Some(guard) = self.inverter.guard() {
            changed |= guard.expire(now);
        }
        if ran != self.inverter.runs() {
            let event = if ran { Event::InverterOff } else { Event::InverterOn };
            observer.event(now, event);
        }
        let asked = self.model.asked(now, self.night, self.luck.load).0;
        changed |= asked != self.asked;
        if changed {
            observer.moment(self, &self.start);
            self.asked = asked;
            self.resolve(observer)?;
        }
        Ok(())
    }

    /// Lets every guard change phase that the present moment makes change, until none does.
    fn settle(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        while self.excess_now() > 0.0 {
            let mut acted = false;
            for k in 0..self.modules.len() {
                let watched = self.watched(k, &self.start);
                let before = self.modules[k].state();
                self.modules[k].flip(&watched, self.now);
                acted |= self.modules[k].state() != before;
            }
            let (now, bus) = (self.now, self.start.bus_under(self.demand()));
            let ran = self.inverter.runs();
            if let Some(guard) = self.inverter.guard()
                && guard.excess(bus) > 0.0
            {
                guard.flip(now);
            }
            acted |= ran != self.inverter.runs();
            self.count_event()?;
            if acted {
                observer.moment(self, &self.start);
                self.resolve(observer)?;
            }
        }
        Ok(())
    }

    fn count_event(&mut self) -> Result<(), TrialError> {
        self.work.events += 1;
        if self.work.events > EVENT_LIMIT {
            let (trial, at) = (self.luck.trial, self.now);
            return Err(TrialError::TooManyEvents { trial, at, limit: EVENT_LIMIT });
        }
        Ok(())
    }

    /// Solves the present moment anew after something changed at once.
    fn resolve(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        let (served, before) = (self.served(), self.states.clone());
        self.take_states();
        for (k, old) in before.into_iter().enumerate() {
            let (state, reason) = (self.states[k], self.modules[k].reason());
            if state != old {
                observer.event(self.now, Event::Module { module: k, state, reason });
            }
        }
        self.solve_now()?;
        if served != self.served() {
            self.tell_service(observer);
        }
        Ok(())
    }

    fn take_states(&mut self) {
        for (state, module) in self.states.iter_mut().zip(&self.modules) {
            *state = module.state();
        }
        self.tally.note_states(&self.modules);
    }

    fn finish(self) -> TrialResult {
        let (trial, night, end) = (self.luck.trial, self.luck.night, self.now);
        self.tally.finish(trial, night, end, self.work)
    }
}

/// Weight of the end of a step: 1/(1 − e^(−x)) − 1/x.
fn theta(x: f64) -> f64 {
    if x < 1e-3 {
        // Its series: the exact form would lose its digits to cancellation.
        return 0.5 + x / 12.0;
    }
    1.0 / (1.0 - (-x).exp()) - 1.0 / x
}

#[cfg(test)]
mod tests {
    use super::theta;

    #[test]
    fn theta_is_smooth_and_runs_from_a_half_to_one() {
        assert_eq!(theta(0.0), 0.5);
        assert!((theta(9.999e-4) - theta(1.001e-3)).abs() < 1e-6);
        assert!((theta(1e6) - 1.0).abs() < 1e-5);
    }
}
