//! A module: open-circuit voltage and resistance by charge and temperature, and what its guards
//! let it do.
//!
//! In: its type, its overrides by position, and the realization of the trial. Out: the branch element that
//! the network solves with, and which directions are blocked and why.
//!
//! E = OCV(z); R = s·(fixed + cell·f(z)·exp(Ea/R·(1/T − 1/298.15))) with s the scale by position
//! and realization. Charge by counting: dz/dt = −(i + standing/E)/Q.

mod bounds;
mod guards;
mod state;

use super::guard::{GuardState, Side};
use super::range::Range;
use crate::curve::{Curve, Line};
use crate::math::vector;
use crate::scenario::{Guard, ModuleType, Position, Protection, Switches};
use crate::time::Time;
use guards::{Blocks, ModuleGuard, Quantity};

pub use bounds::Bounds;
pub use guards::Watched;
pub use state::{Reason, State};

/// Molar gas constant [J/(mol·K)] (CODATA 2018, exact to the digits given).
const GAS: f64 = 8.314_462_618;

/// What does not change in a trial.
#[derive(Clone, Debug)]
pub struct ModuleModel {
    /// Its type.
    pub kind: ModuleType,
    /// Resistance by position, as a multiple of the type's.
    pub scale: f64,
    /// Open-circuit voltage by charge [V]: the type's, or one voltage where the position overrides it.
    pub open_circuit: Curve,
    /// Charge at the start (0…1).
    pub start: f64,
}

impl ModuleModel {
    /// A module in its place; `start` is its charge as a night begins, 0 to 1, where the position has none of its own.
    pub fn new(kind: &ModuleType, position: &Position, start: f64) -> ModuleModel {
        let nominal = kind.resistance.fixed + kind.resistance.cell;
        ModuleModel {
            kind: kind.clone(),
            scale: position.resistance.map_or(1.0, |r| r / nominal),
            open_circuit: position.open_circuit.map_or_else(|| kind.open_circuit.clone(), Curve::constant),
            start: position.soc.unwrap_or(start),
        }
    }

    /// Open-circuit voltage at a charge [V].
    pub fn emf(&self, charge: f64) -> f64 {
        self.tangent(charge).value(charge.clamp(0.0, 1.0))
    }

    /// The line that the open-circuit voltage [V] follows at a charge. Beyond both ends the last piece goes on, so that a
    /// step that would overrun the end, and is then shortened to it, still has one solution.
    pub fn tangent(&self, charge: f64) -> Line {
        self.open_circuit.segment(charge.clamp(0.0, 1.0)).line
    }

    /// Voltage of one cell that carries no current [V].
    pub fn cell_at_rest(&self, charge: f64) -> f64 {
        self.emf(charge) / f64::from(self.kind.cells)
    }

    /// The cells' part of the resistance [Ω], and the whole.
    pub fn resistance(&self, charge: f64, celsius: f64) -> (f64, f64) {
        self.resistance_by(self.kind.resistance.charge_factor.value(charge), celsius)
    }

    /// The same with the factor by charge already known.
    #[inline(always)]
    pub fn resistance_by(&self, factor: f64, celsius: f64) -> (f64, f64) {
        let r = &self.kind.resistance;
        let cold = match r.activation {
            0.0 => 1.0,
            energy => vector::exp(energy / GAS * (1.0 / (celsius + 273.15) - 1.0 / 298.15)),
        };
        let cell = self.scale * r.cell * factor * cold;
        (cell, cell + self.scale * r.fixed)
    }
}

/// How far a module has come back.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Joining {
    /// Closed, or blocked for some other reason.
    No,
    /// Until this moment, without a reason to stay out.
    Waiting(Time),
    /// Until the voltage across its switch is small enough.
    Comparing,
    PreCharging(Time),
    /// The wait, the comparison and the pre-charge are over: it closes now.
    Through,
}

/// What guards and switches of a module do in a trial.
#[derive(Clone, Debug)]
pub struct ModuleState {
    /// What from outside its own guards keeps it out, sorted; one reason may stand more than once.
    causes: Vec<Reason>,
    guards: Vec<ModuleGuard>,
    switches: Switches,
    protection: Protection,
    retries_left: u32,
    joining: Joining,
    heater: Option<GuardState>,
}

impl ModuleState {
    /// A module as a night begins: nothing blocks it.
    pub fn new(model: &ModuleModel) -> ModuleState {
        ModuleState {
            causes: Vec::new(),
            guards: guards::all(&model.kind),
            switches: model.kind.switches,
            protection: model.kind.protection.clone(),
            retries_left: model.kind.protection.retries,
            joining: Joining::No,
            heater: model.kind.heater.map(|h| {
                let guard = Guard { trip: h.on, release: h.off, delay: Time::ZERO };
                GuardState::new(guard, Side::Low)
            }),
        }
    }

    /// Something takes it out, until it is taken back.
    pub fn take_out(&mut self, cause: Reason) {
        let at = self.causes.partition_point(|c| *c <= cause);
        self.causes.insert(at, cause);
    }

    /// One such cause is gone.
    pub fn take_back(&mut self, cause: Reason) {
        if let Ok(at) = self.causes.binary_search(&cause) {
            self.causes.remove(at);
        }
    }

    /// Whether its heater is on.
    pub fn heats(&self) -> bool {
        self.heater.is_some_and(|h| h.tripped())
    }

    /// Why it is out of service in that direction, the first reason of several.
    fn blocked(&self, blocks: Blocks) -> Option<Reason> {
        if let Some(cause) = self.causes.first() {
            return Some(*cause);
        }
        let contactor = self.switches == Switches::Contactor;
        // A full module's charge is refused; no contactor opens for that.
        let acts = |g: &&ModuleGuard| g.blocks == blocks || (contactor && g.reason != Reason::Full);
        let reason = self.guards.iter().filter(|g| g.state.tripped()).find(acts).map(|g| g.reason);
        let waits = !matches!(self.joining, Joining::No | Joining::Through);
        reason.or(waits.then_some(Reason::Rejoining))
    }

    /// Begins, or gives up, the way back in after the reasons to stay out have changed. `delivered`
    /// is whether it delivered before.
    pub fn consider_rejoining(&mut self, delivered: bool, now: Time) {
        let joining = std::mem::replace(&mut self.joining, Joining::No);
        let free = self.blocked(Blocks::Discharge).is_none();
        if !free || joining == Joining::Through {
            return;
        }
        if joining != Joining::No {
            self.joining = joining;
        } else if !delivered && !self.protection.rejoins_at_once() {
            self.joining = Joining::Waiting(now.after(self.protection.rejoin_wait));
            self.pass_wait(now);
        }
    }

    /// Goes on from waiting to comparing voltages, once the wait is over.
    fn pass_wait(&mut self, now: Time) {
        if matches!(self.joining, Joining::Waiting(until) if until <= now) {
            self.joining = Joining::Comparing;
            if self.protection.rejoin_difference.is_none() {
                self.pass_comparison(now);
            }
        }
    }

    fn pass_comparison(&mut self, now: Time) {
        let until = now.after(self.protection.pre_charge);
        self.joining = if until > now { Joining::PreCharging(until) } else { Joining::Through };
    }

    fn rejoin_excess(&self, watched: &Watched) -> f64 {
        match (self.joining, self.protection.rejoin_difference) {
            (Joining::Comparing, Some(most)) => most - watched.across_switch.abs(),
            _ => f64::NEG_INFINITY,
        }
    }

    fn joining_due(&self) -> Time {
        match self.joining {
            Joining::Waiting(until) | Joining::PreCharging(until) => until,
            Joining::No | Joining::Comparing | Joining::Through => Time::NEVER,
        }
    }

    /// What it may do now.
    pub fn state(&self) -> State {
        match (self.blocked(Blocks::Charge), self.blocked(Blocks::Discharge)) {
            (None, None) => State::InService,
            (Some(_), None) => State::DischargeOnly,
            (None, Some(_)) => State::ChargeOnly,
            (Some(_), Some(_)) => State::Open,
        }
    }

    /// Why it does not deliver; a dropout before exhaustion where both hold.
    pub fn out(&self) -> Option<Reason> {
        self.blocked(Blocks::Discharge)
    }

    /// Whether what took it out for this reason has cause to, by these values.
    pub fn has_cause(&self, reason: Reason, watched: &Watched) -> bool {
        let mut acted = self.guards.iter().filter(|g| g.reason == reason && g.state.tripped());
        acted.any(|g| g.state.is_beyond(watched.of(g.quantity)))
    }

    /// Why it is not simply in service.
    pub fn reason(&self) -> Option<Reason> {
        self.out().or_else(|| self.blocked(Blocks::Charge))
    }

    /// The greatest excess of any guard, relative to a natural unit of its quantity.
    pub fn excess(&self, watched: &Watched) -> f64 {
        let excess = |g: &ModuleGuard| g.state.excess(watched.of(g.quantity));
        let heater = self.heater.map_or(f64::NEG_INFINITY, |h| h.excess(watched.temperature));
        self.guards.iter().map(excess).fold(heater.max(self.rejoin_excess(watched)), f64::max)
    }

    /// Changes the phase of every guard with a positive excess; true if any did.
    pub fn flip(&mut self, watched: &Watched, now: Time) -> bool {
        let mut flipped = false;
        for g in &mut self.guards {
            if g.state.excess(watched.of(g.quantity)) > 0.0 {
                g.state.flip(now);
                flipped = true;
            }
        }
        if let Some(heater) = &mut self.heater
            && heater.excess(watched.temperature) > 0.0
        {
            heater.flip(now);
            flipped = true;
        }
        if self.rejoin_excess(watched) > 0.0 {
            self.pass_comparison(now);
            flipped = true;
        }
        self.lock_out(now);
        flipped
    }

    /// What has just tripped on current stays out until it may try again, or for good.
    fn lock_out(&mut self, now: Time) {
        let (protection, left) = (&self.protection, &mut self.retries_left);
        for g in self.guards.iter_mut().filter(|g| g.reason == Reason::OverCurrent) {
            if g.state.tripped() && g.state.due() == Time::NEVER && !g.locked {
                let again = *left > 0;
                *left = left.saturating_sub(1);
                g.locked = !again;
                g.state.put_out(if again { now.after(protection.retry_after) } else { Time::NEVER });
            }
        }
    }

    /// The ranges of values within which nothing about it changes; `None` while it compares voltages to rejoin, which depends
    /// on its neighbours.
    pub fn bounds(&self) -> Option<Bounds> {
        if self.joining == Joining::Comparing {
            return None;
        }
        let mut bounds = Bounds::ANY;
        for guard in &self.guards {
            bounds.narrow(guard.quantity, guard.state.range());
        }
        bounds.narrow(Quantity::Temperature, self.heater.as_ref().map_or(Range::ANY, GuardState::range));
        Some(bounds)
    }

    /// When the next timer runs out.
    pub fn due(&self) -> Time {
        let guards = self.guards.iter().map(|g| g.state.due());
        guards.fold(self.joining_due(), Time::min)
    }

    /// Lets timers that are due run out; true if any did.
    pub fn expire(&mut self, now: Time) -> bool {
        let expired = self.guards.iter_mut().map(|g| g.state.expire(now));
        let guards = expired.fold(false, |any, did| any | did);
        self.lock_out(now);
        let joins = self.joining_due() <= now;
        if joins && matches!(self.joining, Joining::PreCharging(_)) {
            self.joining = Joining::Through;
        }
        self.pass_wait(now);
        guards || joins
    }

    /// Acts at once on what has lasted long enough before the start: no delay before time zero.
    pub fn settle_at_start(&mut self, watched: &Watched) {
        if self.flip(watched, Time::ZERO) {
            for g in &mut self.guards {
                let due = g.state.due();
                if due < Time::NEVER {
                    g.state.expire(due);
                }
            }
        }
    }
}
