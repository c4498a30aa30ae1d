//! The events of a trial: timers, faults, the controller, and what changes at once.
//!
//! In: a trial at its `now`. Out: the same moment with everything that is due taken, and solved anew.

use super::{Observer, Trial};
use crate::engine::cascade::Lost;
use crate::engine::controller::{self, Allowed, ControllerState, Limits};
use crate::engine::event::Event;
use crate::engine::inverter::Asked;
use crate::engine::module::Reason;
use crate::engine::realization::RandomEvent;
use crate::engine::result::TrialError;
use crate::scenario::Controller;
use crate::time::Time;
use std::ops::Range;

/// A trial is given up where it has more events than the first number and, for each module and hour, the second: its events
/// then cause each other without end.
const EVENTS: u64 = 20_000;
const EVENTS_BY_MODULE_HOUR: f64 = 1000.0;

impl Trial<'_> {
    /// At the start the inverter has long obeyed what the modules at rest allow.
    pub(super) fn start_controller(&mut self) {
        for k in 0..self.modules.len() {
            self.lane.present[k].cells = self.lane.present[k].emf;
        }
        let up = !self.realization.random_events.at_start().contains(&RandomEvent::Link);
        let controller = self.model.controller.as_ref();
        self.controller = controller.map(|c| ControllerState::new(c, self.allowed(c), up));
    }

    /// What the bank's controller would announce now.
    pub(in crate::engine) fn allowed(&self, controller: &Controller) -> Limits {
        controller::announced(controller, self.each_allowed())
    }

    /// What each module allows.
    pub(in crate::engine) fn each_allowed(&self) -> impl Iterator<Item = Allowed> + Clone {
        let module = move |k: usize| Allowed {
            delivers: self.states[k].delivers(),
            takes_charge: self.states[k].takes_charge(),
            limits: Limits {
                discharge: self.model.limits[k].discharge.unwrap_or(f64::INFINITY),
                charge: self.model.limits[k].charge.unwrap_or(f64::INFINITY),
            },
            temperature: self.temperature(k) + self.realization.modules[k].sensor,
            cell_voltage: self.cell_voltage(k),
        };
        (0..self.modules.len()).map(module)
    }

    /// When chance next begins or ends something.
    pub(in crate::engine) fn next_change_due(&self) -> Time {
        self.realization.random_events.change(self.next_change).map_or(Time::NEVER, |(at, _)| at)
    }

    /// When chance next begins or ends something, and when the load next changes.
    pub(in crate::engine) fn next_changes(&mut self) -> (Time, Time) {
        (self.next_change_due(), self.load.at(self.now).1)
    }

    /// What lasts since before the start.
    pub(super) fn take_random_events_at_start(&mut self) {
        for random_event in self.realization.random_events.at_start() {
            self.take_random_event(*random_event);
        }
    }

    /// Something begins by chance, or ends if it lasts; true where it begins.
    fn take_random_event(&mut self, random_event: RandomEvent) -> bool {
        let (model, lasts) = (self.model, self.lasting.iter().position(|m| *m == random_event));
        let begins = lasts.is_none();
        match lasts {
            Some(at) => drop(self.lasting.remove(at)),
            None => self.lasting.push(random_event),
        }
        match random_event {
            RandomEvent::Module(k) => self.turn_modules(k..k + 1, Reason::Fault, begins),
            RandomEvent::Stack(stack) => self.turn_modules(model.of_stack(stack), Reason::StackFault, begins),
            RandomEvent::Nuisance(k) => self.turn_modules(k..k + 1, Reason::Nuisance, begins),
            RandomEvent::ChainLink(k) => self.turn_modules(model.behind(k), Reason::Chain, begins),
            RandomEvent::Conductor(k) => self.conductors.turn_conductor(model, k, begins),
            RandomEvent::Joint(k) => self.conductors.turn_joint(k, begins),
            // It is part of what is asked for as long as it lasts.
            RandomEvent::Surge(_) => {}
            RandomEvent::Link => {
                if let Some(controller) = &mut self.controller {
                    controller.turn_link(self.now);
                }
            }
        }
        begins
    }

    fn turn_modules(&mut self, modules: Range<usize>, cause: Reason, begins: bool) {
        for module in &mut self.modules[modules] {
            if begins { module.take_out(cause) } else { module.take_back(cause) }
        }
    }

    /// Everything that chance begins or ends now; true where the network or the load changes.
    pub(in crate::engine) fn take_due_random_events(&mut self, observer: &mut impl Observer) -> bool {
        let mut changed = false;
        while let Some((at, random_event)) = self.realization.random_events.change(self.next_change)
            && at <= self.now
        {
            self.next_change += 1;
            let begins = self.take_random_event(random_event);
            changed |= random_event != RandomEvent::Link;
            self.tell_random_event(random_event, begins, observer);
        }
        changed
    }

    /// Whether all that chance begins or ends now are surges, which are nothing but a load.
    pub(in crate::engine) fn only_surges_due(&self) -> bool {
        let changes = (self.next_change..).map_while(|k| self.realization.random_events.change(k));
        let mut due = changes.take_while(|(at, _)| *at <= self.now);
        due.all(|(_, random_event)| matches!(random_event, RandomEvent::Surge(_)))
    }

    /// What the observer and the tally hear of it; of modules they hear by their states.
    fn tell_random_event(&mut self, random_event: RandomEvent, begins: bool, observer: &mut impl Observer) {
        match random_event {
            RandomEvent::Conductor(conductor) => {
                observer.event(self.now, Event::Conductor { conductor, open: begins });
                if begins {
                    self.lost.push((Lost::Conductor(conductor), Reason::Broken));
                }
            }
            RandomEvent::Joint(conductor) => observer.event(self.now, Event::Joint { conductor, bad: begins }),
            RandomEvent::Surge(surge) => observer.event(self.now, Event::Surge { surge, begins }),
            _ => {}
        }
    }

    /// What is asked of the bank now: the profile, and the surges under way.
    pub(in crate::engine) fn asked_now(&mut self) -> Asked {
        let profile = self.load.at(self.now).0;
        self.lasting.iter().fold(profile, |asked, random_event| match random_event {
            RandomEvent::Surge(k) => self.model.with_surge(asked, *k),
            _ => asked,
        })
    }

    /// Timers, faults, repairs and changes of the load that are due now.
    pub(super) fn take_due_events(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        let mut changed = false;
        for k in 0..self.modules.len() {
            changed |= self.modules[k].expire(self.now);
        }
        changed |= self.take_due_random_events(observer);
        let now = self.now;
        let ran = self.inverter.runs();
        if let Some(guard) = self.inverter.guard() {
            changed |= guard.expire(now);
        }
        self.tell_inverter(ran, observer);
        let (before, asked) = (self.asked, self.asked_now());
        changed |= asked != before;
        if changed {
            observer.moment(self);
            self.asked = asked;
            self.resolve_from(before, observer)?;
        }
        Ok(())
    }

    /// What the observer and the tally hear of the inverter; `ran`: before.
    fn tell_inverter(&mut self, ran: bool, observer: &mut impl Observer) {
        if ran == self.inverter.runs() {
            return;
        }
        observer.event(self.now, if ran { Event::InverterOff } else { Event::InverterOn });
        if ran {
            self.lost.push((Lost::Inverter, Reason::LowVoltage));
        }
    }

    /// When the controller, its link, or the inverter's side of it next does something.
    pub(in crate::engine) fn controller_due(&self) -> Time {
        self.controller.as_ref().map_or(Time::NEVER, ControllerState::due)
    }

    /// Announces what the modules allow now, and takes what is due on the link, until nothing is.
    pub(super) fn run_controller(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        let Some(mut controller) = self.controller.take() else { return Ok(()) };
        let allowed = self.allowed(controller.model());
        controller.note(self.now, allowed);
        let mut changed = false;
        while controller.due() <= self.now {
            changed |= controller.take_due(self.now, allowed);
        }
        self.controller = Some(controller);
        if changed {
            self.count_event()?;
            observer.event(self.now, Event::Limits(self.limits()));
            observer.moment(self);
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
                let watched = self.watched(k);
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
            self.tell_inverter(ran, observer);
            acted |= self.open_devices(observer);
            // A heater changes what a module draws, and nothing else at once.
            self.refresh_lane();
            self.count_event()?;
            if acted {
                observer.moment(self);
                self.resolve(observer)?;
            }
        }
        Ok(())
    }

    /// Opens every device that has come to its end; true if any did.
    fn open_devices(&mut self, observer: &mut impl Observer) -> bool {
        let mut opened = false;
        loop {
            let spent = self.lane.spent.iter().map(|spent| spent[0]);
            let Some(device) = self.conductors.open_next_device(self.model, spent) else { break };
            opened = true;
            observer.event(self.now, Event::DeviceOpened { device });
            self.tally.note_opened(device, self.now);
            let branch = self.model.bank.devices[device].branch;
            match self.modules.get_mut(branch) {
                Some(module) => module.take_out(Reason::Device),
                None => self.lost.push((Lost::Device(device), Reason::Device)),
            }
        }
        opened
    }

    fn event_limit(&self) -> u64 {
        let module_hours = self.modules.len() as f64 * self.model.trials.horizon.hours();
        EVENTS + (EVENTS_BY_MODULE_HOUR * module_hours) as u64
    }

    pub(super) fn count_event(&mut self) -> Result<(), TrialError> {
        self.work.events += 1;
        let limit = self.event_limit();
        if self.work.events > limit {
            return Err(TrialError::TooManyEvents { trial: self.realization.trial, at: self.now, limit });
        }
        Ok(())
    }

    /// Solves the present moment anew after something changed at once.
    pub(super) fn resolve(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        self.resolve_from(self.asked, observer)
    }

    /// The same; `asked` before.
    fn resolve_from(&mut self, asked: Asked, observer: &mut impl Observer) -> Result<(), TrialError> {
        let before = self.states.clone();
        self.take_states();
        let (mut lost, mut rejoined) = (std::mem::take(&mut self.lost), Vec::new());
        for (k, &old) in before.iter().enumerate() {
            let (state, reason) = (self.states[k], self.modules[k].reason());
            if state != old {
                observer.event(self.now, Event::Module { module: k, state, reason });
            }
            match (old.delivers(), state.delivers(), self.modules[k].out()) {
                (true, false, Some(reason)) => lost.push((Lost::Module(k), reason)),
                (false, true, _) => rejoined.push(k),
                _ => {}
            }
        }
        self.note_losses(&lost, &before, asked)?;
        self.solve_now()?;
        self.note_if_blackout();
        for k in rejoined {
            self.tally.note_rejoined(k, self.current(k), self.now);
        }
        self.tell_service(observer);
        Ok(())
    }

    /// Takes note where nothing that delivers is left, or none of it reaches the terminals.
    pub(super) fn note_if_blackout(&mut self) {
        if self.start.dead || !self.states.iter().any(|s| s.delivers()) {
            self.tally.note_blackout(self.now);
        }
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
        self.tally.note_states(&self.modules, &self.conductors);
    }
}
