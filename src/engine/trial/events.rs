//! The events of a trial: timers, faults, the controller, and what changes at once.
//!
//! In: a trial at its `now`. Out: the same moment with everything that is due taken, and solved anew.

use super::Trial;
use crate::engine::cascade::Lost;
use crate::engine::controller::{self, Allowed, ControllerState, Limits};
use crate::engine::module::{Reason, State};
use crate::engine::observe::{Event, Observer};
use crate::engine::result::TrialError;
use crate::scenario::Controller;
use crate::time::Time;

/// More events than this in one trial: something chases its own tail.
const EVENT_LIMIT: u64 = 200_000;

impl Trial<'_> {
    /// At the start the inverter has long obeyed what the modules at rest allow.
    pub(super) fn start_controller(&mut self) {
        for k in 0..self.modules.len() {
            self.start.cell_voltages[k] = self.model.modules[k].cell_at_rest(self.modules[k].charge);
        }
        let up = !self.luck.link.down_at_start;
        let controller = self.model.controller.as_ref();
        self.controller = controller.map(|c| ControllerState::new(c, self.allowed(c), up));
    }

    /// What the bank's controller would announce now.
    fn allowed(&self, controller: &Controller) -> Limits {
        let module = |k: usize| Allowed {
            delivers: self.states[k].delivers(),
            takes_charge: matches!(self.states[k], State::InService | State::DischargeBlocked),
            limits: Limits {
                discharge: self.model.limits[k].discharge.unwrap_or(f64::INFINITY),
                charge: self.model.limits[k].charge.unwrap_or(f64::INFINITY),
            },
            temperature: self.modules[k].temperature + self.luck.modules[k].sensor,
            cell_voltage: self.start.cell_voltages[k],
        };
        controller::announced(controller, (0..self.modules.len()).map(module))
    }

    pub(super) fn next_fault_change(&self, k: usize) -> Time {
        let changes = &self.luck.modules[k].faults.changes;
        changes.get(self.next_fault[k]).copied().unwrap_or(Time::NEVER)
    }

    /// Timers, faults, repairs and changes of the load that are due now.
    pub(super) fn take_due_events(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
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
            if ran {
                self.tally.note_loss(now, Lost::Inverter, Reason::LowVoltage);
            }
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

    fn next_link_change(&self) -> Time {
        self.luck.link.changes.get(self.next_link_change).copied().unwrap_or(Time::NEVER)
    }

    /// When the controller, its link, or the inverter's side of it next does something.
    pub(super) fn controller_due(&self) -> Time {
        match &self.controller {
            Some(controller) => controller.due().min(self.next_link_change()),
            None => Time::NEVER,
        }
    }

    /// Announces what the modules allow now, and takes what is due on the link, until nothing is.
    pub(super) fn run_controller(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        let Some(mut controller) = self.controller.take() else { return Ok(()) };
        let allowed = self.allowed(controller.model());
        while self.next_link_change() <= self.now {
            self.next_link_change += 1;
            controller.turn_link(self.now);
        }
        controller.note(self.now, allowed);
        let mut changed = false;
        while controller.due() <= self.now {
            changed |= controller.take_due(self.now, allowed);
        }
        self.controller = Some(controller);
        if changed {
            self.count_event()?;
            observer.event(self.now, Event::Limits(self.limits()));
            observer.moment(self, &self.start);
            self.resolve(observer)?;
            self.settle(observer)?;
        }
        Ok(())
    }

    /// Lets every guard change phase that the present moment makes change, until none does.
    pub(super) fn settle(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
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

    pub(super) fn count_event(&mut self) -> Result<(), TrialError> {
        self.work.events += 1;
        if self.work.events > EVENT_LIMIT {
            let (trial, at) = (self.luck.trial, self.now);
            return Err(TrialError::TooManyEvents { trial, at, limit: EVENT_LIMIT });
        }
        Ok(())
    }

    /// Solves the present moment anew after something changed at once.
    pub(super) fn resolve(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        let before = self.states.clone();
        self.take_states();
        let mut rejoined = Vec::new();
        for (k, old) in before.into_iter().enumerate() {
            let (state, reason) = (self.states[k], self.modules[k].reason());
            if state != old {
                observer.event(self.now, Event::Module { module: k, state, reason });
            }
            match (old.delivers(), state.delivers(), self.modules[k].out()) {
                (true, false, Some(reason)) => self.tally.note_loss(self.now, Lost::Module(k), reason),
                (false, true, _) => rejoined.push(k),
                _ => {}
            }
        }
        if !self.states.iter().any(|s| s.delivers()) {
            self.tally.note_dark(self.now);
        }
        self.solve_now()?;
        for k in rejoined {
            self.tally.note_rejoined(k, self.start.currents[k], self.now);
        }
        self.tell_service(observer);
        Ok(())
    }

    pub(super) fn tell_service(&mut self, observer: &mut impl Observer) {
        if self.told_served != self.served() {
            self.told_served = self.served();
            observer.event(self.now, if self.told_served { Event::Served } else { Event::Short });
        }
    }

    pub(super) fn take_states(&mut self) {
        for (state, module) in self.states.iter_mut().zip(&mut self.modules) {
            module.consider_rejoining(state.delivers(), self.now);
            *state = module.state();
        }
        self.tally.note_states(&self.modules);
    }
}
