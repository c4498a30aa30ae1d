//! The solution of a step's end: modules loaded on the network, tangents laid until they hold.
//!
//! In: where the lanes are, and how wide their steps. Out: currents, charges and heat at the end, and in which lanes they
//! were found: `Trial::predict`.

use super::warm::Around;
use super::{Ride, greater};
use crate::engine::model::Model;
use crate::engine::trial::step::{MOST_ATTEMPTS, theta};
use crate::network::lanes::{LANES, Lane, ZERO, any, choose, lanes, one_by_one, whole};

impl Ride {
    pub(super) fn begin_counting(&mut self) {
        (self.solves, self.kirchhoff, self.power_balance) = (ZERO, ZERO, ZERO);
    }

    #[inline(always)]
    pub(super) fn solve_until_settled(&mut self, model: &Model, around: &Around) -> Lane {
        let (mut sound, mut open) = (Lane([1.0; LANES]), Lane([1.0; LANES]));
        let mut stiffness = self.stiffness;
        for attempt in 0..MOST_ATTEMPTS {
            self.leave(model, &stiffness, (attempt == 0).then_some(around));
            let before = self.solves;
            let here = self.solve();
            sound = lanes(|l| sound[l] * here[l]);
            let moved = self.arrive(model, &here, attempt == 0);
            stiffness = greater(&stiffness, &self.stiffness_ahead);
            let (used, asked) = (self.theta, lanes(|l| theta(self.seconds[l] * stiffness[l])));
            let other = lanes(|l| if (moved[l] > 0.0) | (asked[l] != used[l]) { 1.0 } else { 0.0 });
            // A lane that had settled is solved again to the same, and not counted.
            self.solves = choose(&open, self.solves, before);
            open = choose(&other, sound, ZERO);
            if !any(&open) {
                break;
            }
        }
        choose(&open, ZERO, sound)
    }

    /// Takes what the currents of the start take, by the weight of the end that this stiffness asks for; at first,
    /// foresees temperatures and lays tangents.
    #[inline(always)]
    fn leave(&mut self, model: &Model, stiffness: &Lane, first: Option<&Around>) {
        let (seconds, stiffness) = (self.seconds, *stiffness);
        self.theta = lanes(|l| theta(seconds[l] * stiffness[l]));
        self.leans = any(&lanes(|l| self.theta[l] - 0.5));
        for k in one_by_one(self.modules.len()) {
            if let Some(around) = first {
                self.foresee_module(k, around);
            }
            let (module, ahead, start) = (&mut self.modules[k], &mut self.coming[k], &self.start[k]);
            module.leave(&self.present[k], ahead, start, &self.theta);
            let implicit = module.implicit(&self.theta, &seconds, self.leans);
            let charge = ahead.charge;
            let foreseen = lanes(|l| charge[l] - implicit[l] * start[l]);
            if first.is_some() {
                module.lay_tangent(ahead, &model.modules[k], &foreseen);
            }
            let device = model.bank.modules[k].device;
            (self.emf[k], self.conductance[k]) = module.load(ahead, &foreseen, &implicit, &model.modules[k], device);
        }
    }

    /// Takes what the currents of the end take; 1 in the lanes in which a module has come to another segment of its
    /// curve.
    #[inline(always)]
    fn arrive(&mut self, model: &Model, sound: &Lane, fresh: bool) -> Lane {
        let mut other = ZERO;
        self.stiffness_ahead = ZERO;
        for k in one_by_one(self.modules.len()) {
            self.settle(model, k, sound);
            let (module, ahead) = (&mut self.modules[k], &mut self.coming[k]);
            let moved = module.arrive(ahead, &self.end[k], &self.theta, &model.modules[k], fresh);
            let before = other;
            other = lanes(|l| before[l] + moved[l]);
            self.note_stiffness(k);
            self.correct_module(k);
        }
        whole(other)
    }

    /// Of a module that carries current.
    #[inline(always)]
    fn note_stiffness(&mut self, k: usize) {
        let (end, before) = (self.end[k], self.stiffness_ahead);
        let here = greater(&before, &self.modules[k].stiffness(&self.coming[k]));
        self.stiffness_ahead = lanes(|l| if end[l] != 0.0 { here[l] } else { before[l] });
    }

    /// The present with what is loaded.
    #[inline(always)]
    pub(super) fn solve_as_it_is(&mut self, model: &Model) -> Lane {
        let sound = self.solve();
        self.stiffness_ahead = ZERO;
        for k in one_by_one(self.modules.len()) {
            self.settle(model, k, &sound);
            self.note_stiffness(k);
        }
        sound
    }

    /// Solves the network for the modules that are loaded, and checks the solution; 1 in the lanes that are sound.
    #[inline(always)]
    fn solve(&mut self) -> Lane {
        let modules = self.modules.len();
        let air = lanes(|l| self.ahead.room[l] + self.ahead.own[l]);
        for k in one_by_one(self.wires.len()) {
            if !self.wires[k].is_fixed() {
                self.conductance[modules + k] = self.wires[k].conductance(&self.warmth_ahead[k], &air);
            }
        }
        self.networks.start();
        self.solutions.start();
        self.bus_ahead = self.solver.solve(&self.emf, &self.conductance, &self.demand);
        self.solutions.stop();
        self.solver.give_currents(&mut self.end);
        let sound = Lane(self.bus_ahead.sound.map(|sound| f64::from(u8::from(sound))));
        if self.bus_ahead.sound != [true; LANES] {
            self.clear_unsound(&sound);
        }
        self.check_power();
        self.networks.stop();
        sound
    }

    /// Heat and voltages of a module with the current that the network gave.
    #[inline(always)]
    fn settle(&mut self, model: &Model, k: usize, sound: &Lane) {
        let (along, device) = (self.solver.along(k), model.bank.modules[k].device);
        let (module, end) = (&mut self.modules[k], &self.end[k]);
        let terminals = choose(sound, lanes(|l| -along[l]), ZERO);
        module.settle(&mut self.coming[k], end, terminals, self.heating, device);
    }

    /// What is not a number in a lane that is not sound must not spread: the curves would be searched for it.
    #[cold]
    #[inline(never)]
    fn clear_unsound(&mut self, sound: &Lane) {
        for end in &mut self.end {
            *end = choose(sound, *end, ZERO);
        }
    }

    /// What conductors turn to heat, and how exactly it was solved: power of the sources, less what resistances and the
    /// load take, by what is turned over and 1 W (`Instant::imbalance`).
    #[inline(always)]
    fn check_power(&mut self) {
        let (bus, modules) = (&self.bus_ahead, self.modules.len());
        let (mut net, mut all) = (lanes(|l| -bus.voltage[l] * bus.current[l]), Lane([1.0; LANES]));
        for k in one_by_one(modules) {
            let (emf, ohm, amps) = (&self.emf[k], &self.modules[k].branch_resistance, &self.end[k]);
            let (before, sum) = (net, all);
            net = lanes(|l| before[l] + (emf[l] - ohm[l] * amps[l]) * amps[l]);
            all = lanes(|l| sum[l] + (emf[l] * amps[l]).abs());
        }
        let mut loss = ZERO;
        for k in one_by_one(self.wires.len()) {
            let (ohm, amps) = (&self.wires[k].resistance, &self.end[modules + k]);
            let (before, sum) = (net, loss);
            let turned = lanes(|l| ohm[l] * amps[l] * amps[l]);
            net = lanes(|l| before[l] - turned[l]);
            loss = lanes(|l| sum[l] + turned[l]);
        }
        self.wire_loss_ahead = lanes(|l| loss[l] * self.heating);
        let balance = lanes(|l| net[l].abs() / all[l]);
        self.solves = lanes(|l| self.solves[l] + 1.0);
        self.kirchhoff = greater(&self.kirchhoff, &self.bus_ahead.kirchhoff);
        self.power_balance = greater(&self.power_balance, &balance);
    }
}
