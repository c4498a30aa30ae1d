//! The solution of a step's end: modules loaded on the network, tangents laid until they hold.
//!
//! In: where the lanes are, and how wide their steps. Out: currents, charges and heat at the end, and in which lanes they
//! were found: `Trial::predict`.

use super::{Ride, Stage, greater};
use crate::engine::model::Model;
use crate::engine::trial::step::{MOST_ATTEMPTS, theta};
use crate::network::lanes::{LANES, Lane, ZERO, any, choose, lanes, one_by_one};

impl Ride {
    /// Nothing is solved yet, and nothing counted.
    #[inline(always)]
    pub(super) fn begin(&mut self) {
        (self.solves, self.kirchhoff, self.power_balance) = (ZERO, ZERO, ZERO);
        (self.sound, self.open, self.stiffest) = (Lane([1.0; LANES]), Lane([1.0; LANES]), self.stiffness);
    }

    /// Looks for the end of the step; `sound` in the lanes in which it was found.
    pub(super) fn solve_until_settled(&mut self, model: &Model) {
        for attempt in 0..MOST_ATTEMPTS {
            self.stage(Leave { model, first: attempt == 0 });
            self.solve();
            if !self.stage(Arrive { model, first: attempt == 0 }) {
                return;
            }
        }
        let open = self.open;
        self.sound = choose(&open, ZERO, self.sound);
    }

    /// Of a module that carries current.
    #[inline(always)]
    fn note_stiffness(&mut self, k: usize) {
        let (end, before) = (self.end[k], self.stiffness_ahead);
        let here = greater(&before, &self.modules[k].stiffness(&self.coming[k]));
        self.stiffness_ahead = lanes(|l| if end[l] != 0.0 { here[l] } else { before[l] });
    }

    /// Solves the network for the modules that are loaded, and checks the solution.
    pub(super) fn solve(&mut self) {
        self.networks.start();
        self.solutions.start();
        self.stage(SolveNetwork);
        self.solutions.stop();
        self.stage(CheckNetwork);
        self.networks.stop();
    }

    /// Heat and voltages of a module with the current that the network gave.
    #[inline(always)]
    fn settle(&mut self, model: &Model, k: usize) {
        let (along, device) = (self.solver.along(k), model.bank.modules[k].device);
        let (module, end) = (&mut self.modules[k], &self.end[k]);
        let terminals = choose(&self.solved, lanes(|l| -along[l]), ZERO);
        module.settle(&mut self.coming[k], end, terminals, self.heating, device);
    }

    /// What is not a number in a lane that is not sound must not spread: the curves would be searched for it.
    #[cold]
    #[inline(never)]
    fn clear_unsound(&mut self) {
        for end in &mut self.end {
            *end = choose(&self.solved, *end, ZERO);
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
        self.kirchhoff = greater(&self.kirchhoff, &self.bus_ahead.kirchhoff);
        self.power_balance = greater(&self.power_balance, &balance);
    }
}

/// Takes what the currents of the start take, by the weight of the end that the stiffness asks for.
struct Leave<'a> {
    model: &'a Model,
    /// Whether to foresee temperatures and lay tangents.
    first: bool,
}

impl Stage for Leave<'_> {
    type Output = ();

    #[inline(always)]
    fn with(self, ride: &mut Ride) {
        let Leave { model, first } = self;
        let (seconds, stiffest) = (ride.seconds, ride.stiffest);
        ride.theta = lanes(|l| theta(seconds[l] * stiffest[l]));
        ride.leans = any(&lanes(|l| ride.theta[l] - 0.5));
        for k in one_by_one(ride.modules.len()) {
            if first {
                ride.foresee_module(k);
            }
            let (module, ahead, start) = (&mut ride.modules[k], &mut ride.coming[k], &ride.start[k]);
            module.leave(&ride.present[k], ahead, start, &ride.theta);
            let implicit = module.implicit(&ride.theta, &seconds, ride.leans);
            let charge = ahead.charge;
            let foreseen = lanes(|l| charge[l] - implicit[l] * start[l]);
            if first {
                module.lay_tangent(ahead, &model.modules[k], &foreseen);
            }
            let device = model.bank.modules[k].device;
            (ride.emf[k], ride.conductance[k]) = module.load(ahead, &foreseen, &implicit, &model.modules[k], device);
        }
    }
}

/// The network of the modules that are loaded.
struct SolveNetwork;

impl Stage for SolveNetwork {
    type Output = ();

    #[inline(always)]
    fn with(self, ride: &mut Ride) {
        let modules = ride.modules.len();
        let air = lanes(|l| ride.ahead.room[l] + ride.ahead.own[l]);
        for k in one_by_one(ride.wires.len()) {
            if !ride.wires[k].is_fixed() {
                ride.conductance[modules + k] = ride.wires[k].conductance(&ride.warmth_ahead[k], &air);
            }
        }
        ride.bus_ahead = ride.solver.solve(&ride.emf, &ride.conductance, &ride.demand);
    }
}

/// Its currents, in which lanes it is sound, and how exact it is.
struct CheckNetwork;

impl Stage for CheckNetwork {
    type Output = ();

    #[inline(always)]
    fn with(self, ride: &mut Ride) {
        ride.solver.give_currents(&mut ride.end);
        ride.solved = Lane(ride.bus_ahead.sound.map(|sound| f64::from(u8::from(sound))));
        if ride.bus_ahead.sound != [true; LANES] {
            ride.clear_unsound();
        }
        ride.check_power();
    }
}

/// Takes what the currents of the end take. Whether a lane is still open: a module has come to another segment of its
/// curve, or asks for another weight of the end.
struct Arrive<'a> {
    model: &'a Model,
    /// Whether the tangents are those that were laid last.
    first: bool,
}

impl Stage for Arrive<'_> {
    type Output = bool;

    #[inline(always)]
    fn with(self, ride: &mut Ride) -> bool {
        let Arrive { model, first } = self;
        let mut other = ZERO;
        ride.stiffness_ahead = ZERO;
        for k in one_by_one(ride.modules.len()) {
            ride.settle(model, k);
            let (module, ahead) = (&mut ride.modules[k], &mut ride.coming[k]);
            let moved = module.arrive(ahead, &ride.end[k], &ride.theta, &model.modules[k], first);
            let before = other;
            other = lanes(|l| before[l] + moved[l]);
            ride.note_stiffness(k);
            ride.correct_module(k);
        }
        ride.stiffest = greater(&ride.stiffest, &ride.stiffness_ahead);
        let (used, seconds, stiffest) = (ride.theta, ride.seconds, ride.stiffest);
        let asked = lanes(|l| theta(seconds[l] * stiffest[l]));
        let other = lanes(|l| if (other[l] > 0.0) | (asked[l] != used[l]) { 1.0 } else { 0.0 });
        // A lane that had settled is solved again to the same, and not counted.
        let (before, counted) = (ride.open, ride.solves);
        ride.solves = lanes(|l| counted[l] + before[l]);
        ride.sound = choose(&ride.solved, ride.sound, ZERO);
        ride.open = choose(&other, ride.sound, ZERO);
        any(&ride.open)
    }
}

/// The present with another load: the modules as they are.
pub(super) struct LoadPresent<'a> {
    pub model: &'a Model,
}

impl Stage for LoadPresent<'_> {
    type Output = ();

    #[inline(always)]
    fn with(self, ride: &mut Ride) {
        ride.begin();
        (ride.ahead.room, ride.ahead.own) = (ride.now.room, ride.now.own);
        ride.warmth_ahead.copy_from_slice(&ride.warmth);
        for k in one_by_one(ride.modules.len()) {
            let (module, ahead, now) = (&mut ride.modules[k], &mut ride.coming[k], &ride.present[k]);
            let (model, device) = (&self.model.modules[k], self.model.bank.modules[k].device);
            module.stay(now, ahead, model);
            (ride.emf[k], ride.conductance[k]) = module.load(ahead, &now.charge, &ZERO, model, device);
        }
        ride.solves = Lane([1.0; LANES]);
    }
}

/// The same with what the network gave; `verdict.quiet` where nothing leaves its range by it.
pub(super) struct SettlePresent<'a> {
    pub model: &'a Model,
}

impl Stage for SettlePresent<'_> {
    type Output = ();

    #[inline(always)]
    fn with(self, ride: &mut Ride) {
        ride.stiffness_ahead = ZERO;
        for k in one_by_one(ride.modules.len()) {
            ride.settle(self.model, k);
            ride.note_stiffness(k);
        }
        ride.verdict.quiet = ride.watch(ride.solved);
    }
}
