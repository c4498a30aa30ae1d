//! The solution of a step's end: each module is a tangent to its curve, and the network is solved until every end lies on
//! the segment of its tangent.
//!
//! In: where the lanes are, and how wide their steps. Out: currents, charges and heat at the end, and in which lanes they
//! were found.

use super::judge::Judge;
use super::{BatchStep, NetworkSolver, Stage};
use crate::engine::device::spent_after;
use crate::engine::model::Model;
use crate::engine::step_error::theta;
use crate::engine::thermal::Around;
use crate::network::lane::{Lane, any, greater, lanes, mask, opaque_range, select};
use crate::scenario::TripCurve;

/// Segments that a step's end is looked for on. A module crosses one or two; the steps that are tried
/// before an event is located may cross all.
const MOST_ATTEMPTS: u32 = 12;

impl<const N: usize> BatchStep<N> {
    /// The end of each lane's step, `ahead` holding the surroundings there; what becomes of it into `outcome`.
    ///
    /// # Errors
    /// Those of the solver of its network.
    pub fn advance<S: NetworkSolver<N>>(&mut self, model: &Model, network: &mut S) -> Result<(), S::Error> {
        self.stage(Foresee);
        self.solve_until_settled(model, network)?;
        self.stage(Judge);
        Ok(())
    }

    /// The present anew, after another load or anything else that happens at once; `outcome.quiet` in the lanes where
    /// nothing leaves its range by it.
    ///
    /// # Errors
    /// Those of the solver of its network.
    pub fn solve_present<S: NetworkSolver<N>>(&mut self, model: &Model, network: &mut S) -> Result<(), S::Error> {
        self.stage(LoadPresent { model });
        network.solve(self)?;
        self.stage(TakePresent { model });
        Ok(())
    }

    /// The branches of the present, for `solve_present` or for another question.
    pub fn load_present(&mut self, model: &Model) {
        self.stage(LoadPresent { model });
    }

    /// Looks for the end of the step; `sound` in the lanes in which it was found.
    fn solve_until_settled<S: NetworkSolver<N>>(&mut self, model: &Model, network: &mut S) -> Result<(), S::Error> {
        for attempt in 0..MOST_ATTEMPTS {
            self.stage(Leave { model, first: attempt == 0 });
            network.solve(self)?;
            if !self.stage(Arrive { model, first: attempt == 0 }) {
                return Ok(());
            }
        }
        let open = self.open;
        self.sound = select(&open, Lane::ZERO, self.sound);
        Ok(())
    }

    /// Raises the stiffness at the end of the step to that of module k, in the lanes in which it carries current.
    #[inline(always)]
    fn note_stiffness(&mut self, k: usize) {
        let (end, before) = (self.end[k], self.stiffness_ahead);
        let here = greater(&before, &self.modules[k].stiffness(&self.coming[k]));
        self.stiffness_ahead = lanes(|l| if end[l] != 0.0 { here[l] } else { before[l] });
    }

    /// What the conductors conduct at the end of the step; of those that are the same in every step only where `all`.
    #[inline(always)]
    pub fn load_conductors(&mut self, all: bool) {
        let air = self.air_ahead();
        let (_, of_conductors) = self.conductance.split_at_mut(self.modules.len());
        for k in opaque_range::<N>(self.conductors.len()) {
            if all || !self.conductors[k].is_fixed() {
                of_conductors[k] = self.conductors[k].conductance(&self.celsius_ahead[k], &air);
            }
        }
    }

    /// Takes the voltage from the positive to the negative rail along a module.
    #[inline(always)]
    pub fn take_voltage(&mut self, k: usize, along: Lane<N>) {
        self.coming[k].terminals = lanes(|l| -along[l]);
    }

    /// Takes in which lanes the solution is sound, and how exact it is, once currents and voltages have been taken.
    #[inline(always)]
    pub fn take_quality(&mut self) {
        self.solved = mask(|l| self.bus_ahead.sound[l]);
        if self.bus_ahead.sound != [true; N] {
            self.clear_unsound();
        }
        self.check_power();
    }

    /// What is not a number in a lane that is not sound must not spread: the curves would be searched for it.
    #[cold]
    #[inline(never)]
    fn clear_unsound(&mut self) {
        let terminals = self.coming.iter_mut().map(|ahead| &mut ahead.terminals);
        for value in self.end.iter_mut().chain(terminals) {
            *value = select(&self.solved, *value, Lane::ZERO);
        }
    }

    /// What conductors turn to heat, and how exactly it was solved: power of the sources, less what resistances and the
    /// load take, by what is turned over and 1 W.
    #[inline(always)]
    fn check_power(&mut self) {
        let bus = &self.bus_ahead;
        let (of_modules, of_conductors) = self.end.split_at(self.modules.len());
        let mut net: Lane<N> = lanes(|l| -bus.voltage[l] * bus.current[l]);
        let mut all = Lane::<N>::ONE;
        for k in opaque_range::<N>(of_modules.len()) {
            let (emf, ohm, amps) = (&self.emf[k], &self.modules[k].branch_resistance, &of_modules[k]);
            let (before, sum, terminals) = (net, all, &self.coming[k].terminals);
            // What a module that limits its own current does not pass on becomes heat in its electronics.
            net = match N == 1 && self.self_limited[k] {
                false => lanes(|l| before[l] + (emf[l] - ohm[l] * amps[l]) * amps[l]),
                true => lanes(|l| before[l] + terminals[l] * amps[l]),
            };
            all = lanes(|l| sum[l] + (emf[l] * amps[l]).abs());
        }
        let mut loss = Lane::<N>::ZERO;
        for k in opaque_range::<N>(self.conductors.len()) {
            let (ohm, amps) = (&self.conductors[k].resistance, &of_conductors[k]);
            let (before, sum) = (net, loss);
            let turned: Lane<N> = lanes(|l| ohm[l] * amps[l] * amps[l]);
            net = lanes(|l| before[l] - turned[l]);
            loss = lanes(|l| sum[l] + turned[l]);
        }
        self.conductor_loss_ahead = lanes(|l| loss[l] * self.ripple_factor[l]);
        let balance: Lane<N> = lanes(|l| net[l].abs() / all[l]);
        self.kirchhoff = greater(&self.kirchhoff, &self.bus_ahead.kirchhoff);
        self.power_balance = greater(&self.power_balance, &balance);
    }

    /// How far the protective devices are on their way at the end of the step. What forgets, or has a memory of heat,
    /// changes in every step; of many lanes, what has spent nothing spends nothing within its range.
    pub fn wear_devices(&mut self, model: &Model) {
        let effective: Lane<N> = lanes(|l| self.ripple_factor[l].sqrt());
        for (k, fitted) in model.bank.devices.iter().enumerate() {
            let kind = &model.device_types[fitted.device];
            let acts = N == 1 || self.any_spent || matches!(kind.curve, TripCurve::Thermal { .. });
            self.acting[k] = acts;
            if !acts {
                continue;
            }
            let (start, end) = (&self.start[fitted.branch], &self.until_end()[fitted.branch]);
            let spent = |l: usize| {
                spent_after(kind, self.spent[k][l], (effective[l] * start[l], effective[l] * end[l]), self.seconds[l])
            };
            let worn: Lane<N> = lanes(spent);
            self.spent_ahead[k] = worn;
        }
    }
}

/// Predicts what of the end depends on the start alone: the room and the conductors' temperatures.
struct Foresee;

impl<const N: usize> Stage<N> for Foresee {
    type Output = ();

    #[inline(always)]
    fn with(self, step: &mut BatchStep<N>) {
        step.begin();
        let present = &step.present;
        let module = |k: usize| (&present[k].celsius, &present[k].loss);
        step.ahead.own = step.thermal.warm_room(&step.now, module, [&step.conductor_loss, &step.inverter_loss]);
        step.around = Around::between(&step.now, &step.ahead);
        let (_, starts) = step.start.split_at(step.modules.len());
        for k in opaque_range::<N>(step.conductors.len()) {
            if step.conductors[k].is_insulated() {
                let (start, of_step) = (&starts[k], (&step.seconds, &step.ripple_factor));
                let celsius = step.conductors[k].foresee(&step.celsius[k], of_step, start, &step.around.room);
                step.celsius_ahead[k] = celsius;
            }
        }
    }
}

/// Takes the start's share of the charge that flows in the step, and loads the modules for the end. The weight of the end
/// follows from the stiffness.
struct Leave<'a> {
    model: &'a Model,
    /// Whether to foresee temperatures and lay tangents.
    first: bool,
}

impl<const N: usize> Stage<N> for Leave<'_> {
    type Output = ();

    #[inline(always)]
    fn with(self, step: &mut BatchStep<N>) {
        let Leave { model, first } = self;
        let (seconds, stiffest) = (step.seconds, step.stiffest);
        let weight: Lane<N> = lanes(|l| theta(seconds[l] * stiffest[l]));
        step.theta = weight;
        step.leans = any::<N>(&lanes(|l| weight[l] - 0.5));
        for k in opaque_range::<N>(step.modules.len()) {
            if first {
                let present = &step.present;
                let module = |k: usize| (&present[k].celsius, &present[k].loss);
                step.coming[k].celsius = step.thermal.foresee(k, &step.around, module);
            }
            let (module, ahead, start) = (&mut step.modules[k], &mut step.coming[k], &step.start[k]);
            module.leave(&step.present[k], ahead, start, &step.theta);
            let implicit = module.implicit(&step.theta, &seconds, step.leans);
            let soc = ahead.soc;
            let foreseen: Lane<N> = lanes(|l| soc[l] - implicit[l] * start[l]);
            if first {
                module.lay_tangent(ahead, &model.modules[k], &foreseen);
            }
            let device = model.bank.modules[k].device;
            (step.emf[k], step.conductance[k]) = module.load(ahead, &foreseen, &implicit, &model.modules[k], device);
        }
    }
}

/// Takes the end's share of the charge. Returns whether any lane has to be solved again: a module has come to another segment
/// of its curve, or asks for another weight of the end.
struct Arrive<'a> {
    model: &'a Model,
    /// Whether the tangents are those that were laid last.
    first: bool,
}

impl<const N: usize> Stage<N> for Arrive<'_> {
    type Output = bool;

    #[inline(always)]
    fn with(self, step: &mut BatchStep<N>) -> bool {
        let Arrive { model, first } = self;
        let mut other = Lane::<N>::ZERO;
        step.stiffness_ahead = Lane::ZERO;
        for k in opaque_range::<N>(step.modules.len()) {
            let device = model.bank.modules[k].device;
            let (module, ahead, now) = (&mut step.modules[k], &mut step.coming[k], &step.present[k]);
            module.take_current(ahead, &step.end[k], &step.ripple_factor, device);
            step.thermal.correct(k, &ahead.celsius, &now.celsius, (&now.loss, &ahead.loss));
            if step.turned {
                module.arrive_unchanged(ahead, &step.start[k], &step.theta, &model.modules[k]);
                continue;
            }
            let moved = module.arrive(ahead, &step.end[k], &step.theta, &model.modules[k], first);
            let before = other;
            other = lanes(|l| before[l] + moved[l]);
            step.note_stiffness(k);
        }
        step.stiffest = greater(&step.stiffest, &step.stiffness_ahead);
        let (used, seconds, stiffest) = (step.theta, step.seconds, step.stiffest);
        let asked: Lane<N> = lanes(|l| theta(seconds[l] * stiffest[l]));
        let other: Lane<N> = mask(|l| (other[l] > 0.0) | (asked[l] != used[l]));
        // A lane that had settled is solved again to the same, and not counted.
        let (before, counted) = (step.open, step.solves);
        step.solves = lanes(|l| counted[l] + before[l]);
        step.sound = select(&step.solved, step.sound, Lane::ZERO);
        step.open = if step.turned { Lane::ZERO } else { select(&other, step.sound, Lane::ZERO) };
        any(&step.open)
    }
}

/// Loads the modules as they are now on the network, for a solution without a step.
struct LoadPresent<'a> {
    model: &'a Model,
}

impl<const N: usize> Stage<N> for LoadPresent<'_> {
    type Output = ();

    #[inline(always)]
    fn with(self, step: &mut BatchStep<N>) {
        step.begin();
        (step.ahead.room, step.ahead.own) = (step.now.room, step.now.own);
        step.celsius_ahead.copy_from_slice(&step.celsius);
        for k in opaque_range::<N>(step.modules.len()) {
            let (module, ahead, now) = (&mut step.modules[k], &mut step.coming[k], &step.present[k]);
            let (model, device) = (&self.model.modules[k], self.model.bank.modules[k].device);
            module.stay(now, ahead, model);
            (step.emf[k], step.conductance[k]) = module.load(ahead, &now.soc, &Lane::ZERO, model, device);
        }
        step.solves = Lane::ONE;
    }
}

/// Takes the network's solution as the present; `outcome.quiet` where nothing leaves its range by it.
struct TakePresent<'a> {
    model: &'a Model,
}

impl<const N: usize> Stage<N> for TakePresent<'_> {
    type Output = ();

    #[inline(always)]
    fn with(self, step: &mut BatchStep<N>) {
        step.stiffness_ahead = Lane::ZERO;
        for k in opaque_range::<N>(step.modules.len()) {
            let device = self.model.bank.modules[k].device;
            step.modules[k].take_current(&mut step.coming[k], &step.end[k], &step.ripple_factor, device);
            step.note_stiffness(k);
        }
        if N > 1 {
            step.outcome.quiet = step.watch(step.solved);
        }
    }
}
