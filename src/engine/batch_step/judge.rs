//! Judges a step whose end is known.
//!
//! In: both ends of every module and conductor. Out: temperatures at the end; whether the error of the step is small enough;
//! the lanes in which nothing happened, and those in which the step is to be tried again with half its width.

use super::module::ChordErrors;
use super::{BatchStep, Stage, StepOutcome};
use crate::network::lane::{Lane, any, lanes, lesser, mask, materialize, opaque_range, select};

/// A current must stay away from its limits by this much more than its chord error, so that rounding decides nothing [A].
const HAIR: f64 = 1e-9;

/// What the modules and conductors say of a step.
struct Judgement<const N: usize> {
    /// 1 where charges and temperatures pass the test of a long step.
    passes: Lane<N>,
    /// 1 where the weight of the end is near enough to ½ for second order.
    second_order: Lane<N>,
    /// 1 where charges, temperatures and voltages are within what is watched at its end.
    calm: Lane<N>,
    /// Least distance of any current from what is watched, at both ends [A].
    spare: Lane<N>,
    /// Bounds of the currents' departure from their chords between the ends.
    chord_errors: ChordErrors<N>,
}

/// Judges the step, into `good`, `stray` and `outcome`.
pub(super) struct Judge;

impl<const N: usize> Stage<N> for Judge {
    type Output = ();

    #[inline(always)]
    fn with(self, step: &mut BatchStep<N>) {
        let all = Judgement {
            passes: Lane::ONE,
            second_order: Lane::ONE,
            calm: Lane::ONE,
            spare: Lane::all(f64::INFINITY),
            chord_errors: ChordErrors::NONE,
        };
        let all = step.judge_modules(all);
        let all = step.judge_conductors(all);
        let (passes, second_order) = (materialize(all.passes), materialize(all.second_order));
        let (calm, spare) = (materialize(all.calm), materialize(all.spare));
        let stray = all.chord_errors.greatest(&step.bus_ahead.voltage, &step.bus_ahead.current);
        let good = select(&step.long, select(&passes, second_order, Lane::ZERO), second_order);
        (step.good, step.stray) = (good, stray);
        if N == 1 {
            // A trial by itself looks for what happens, and where.
            return;
        }
        let sound = step.watch_surroundings(select(&calm, step.sound, Lane::ZERO));
        let quiet: Lane<N> = lanes(|l| if spare[l] >= stray[l] + HAIR { sound[l] } else { 0.0 });
        let (quiet, bad) = (select(&good, quiet, Lane::ZERO), select(&good, Lane::ZERO, sound));
        let fails_error_test = if any(&bad) { step.watch_ends(bad) } else { Lane::ZERO };
        step.outcome = StepOutcome { quiet, fails_error_test };
    }
}

impl<const N: usize> BatchStep<N> {
    /// Settles the modules' temperatures, and judges them.
    #[inline(always)]
    fn judge_modules(&mut self, mut all: Judgement<N>) -> Judgement<N> {
        let lean: Lane<N> = lanes(|l| (self.theta[l] - 0.5) * self.seconds[l]);
        for k in opaque_range::<N>(self.modules.len()) {
            let (celsius, apart) = self.thermal.settle(k);
            let (module, now, ahead) = (&self.modules[k], &self.present[k], &mut self.coming[k]);
            ahead.celsius = celsius;
            let currents = (&self.start[k], &self.end[k]);
            let stray = module.chord_error(now, ahead, currents, &mut all.chord_errors);
            all.passes = select(&module.passes_error_test(&apart, &stray), all.passes, Lane::ZERO);
            all.calm = select(&module.is_calm(ahead), all.calm, Lane::ZERO);
            if self.any_blocked {
                all.calm = select(&module.stays_blocked(ahead), all.calm, Lane::ZERO);
            }
            all.spare = lesser(&all.spare, &module.spare(currents));
            if self.leans {
                all.second_order = select(&module.is_second_order(&lean, currents), all.second_order, Lane::ZERO);
            }
            if N > 1 {
                // A trial by itself looks at what is beyond the ends first.
                ahead.clamp_soc();
            }
        }
        all
    }

    /// Takes what the currents of the end change in the conductors' temperatures, and judges them.
    #[inline(always)]
    fn judge_conductors(&mut self, mut all: Judgement<N>) -> Judgement<N> {
        let (_, starts) = self.start.split_at(self.modules.len());
        let (_, ends) = self.end.split_at(self.modules.len());
        for k in opaque_range::<N>(self.conductors.len()) {
            let start = &starts[k];
            let end = if self.turned { start } else { &ends[k] };
            let conductor = &self.conductors[k];
            if conductor.is_insulated() {
                let celsius = conductor.warm(&self.celsius_ahead[k], start, end, &self.ripple_factor);
                all.calm = select(&conductor.is_cool(&celsius), all.calm, Lane::ZERO);
                self.celsius_ahead[k] = celsius;
            }
            all.spare = lesser(&all.spare, &conductor.spare((start, end)));
        }
        all
    }

    /// Narrows a mask of lanes to those in which bus and room are within what is watched.
    #[inline(always)]
    fn watch_surroundings(&self, sound: Lane<N>) -> Lane<N> {
        let (sound, bus, room) = (materialize(sound), &self.bus_ahead, self.air_ahead());
        lanes(|l| {
            let within = self.ranges.bus_voltage.contains(l, bus.voltage[l])
                & self.ranges.bus_current.contains(l, bus.current[l])
                & self.ranges.room.contains(l, room[l]);
            if within { sound[l] } else { 0.0 }
        })
    }

    /// Narrows a mask of lanes to those in which the currents of the end are within what watches them.
    #[inline(always)]
    fn watch_ends(&self, sound: Lane<N>) -> Lane<N> {
        let mut spare = Lane::all(f64::INFINITY);
        let (of_modules, of_conductors) = self.end.split_at(self.modules.len());
        for k in opaque_range::<N>(of_modules.len()) {
            spare = lesser(&spare, &self.modules[k].spare((&of_modules[k], &of_modules[k])));
        }
        for k in opaque_range::<N>(of_conductors.len()) {
            spare = lesser(&spare, &self.conductors[k].spare((&of_conductors[k], &of_conductors[k])));
        }
        lanes(|l| if spare[l] >= 0.0 { sound[l] } else { 0.0 })
    }

    /// Narrows a mask of lanes to those in which nothing is out of its range at the end.
    #[inline(always)]
    pub(super) fn watch(&self, sound: Lane<N>) -> Lane<N> {
        let mut calm = sound;
        for k in opaque_range::<N>(self.modules.len()) {
            calm = select(&self.modules[k].is_calm(&self.coming[k]), calm, Lane::ZERO);
            calm = select(&self.modules[k].stays_blocked(&self.coming[k]), calm, Lane::ZERO);
        }
        for k in opaque_range::<N>(self.conductors.len()).filter(|k| self.conductors[*k].is_insulated()) {
            calm = select(&self.conductors[k].is_cool(&self.celsius_ahead[k]), calm, Lane::ZERO);
        }
        self.watch_ends(self.watch_surroundings(calm))
    }

    /// 1 where a protective device would open within the step.
    pub fn opens_device(&self) -> Lane<N> {
        let mut opens = Lane::<N>::ZERO;
        for (spent, _) in self.spent_ahead.iter().zip(&self.acting).filter(|(_, acts)| **acts) {
            let before = opens;
            opens = mask(|l| (before[l] > 0.0) | (spent[l] > 1.0));
        }
        opens
    }
}
