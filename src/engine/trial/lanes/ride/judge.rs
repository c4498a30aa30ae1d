//! What becomes of a step of which the end is known.
//!
//! In: both ends of every module and conductor. Out: in which lanes nothing happened and the step is good enough
//! (`Trial::is_coarse`, `Trial::is_rough`), and in which it is to be tried at half.

use super::{Ride, Stage, Verdict};
use crate::engine::trial::lanes::module::StrayLanes;
use crate::network::lanes::{LANES, Lane, ZERO, any, choose, lanes, one_by_one, whole};

/// Currents keep this much more than their stray from what watches them: rounding cannot tell otherwise [A].
const HAIR: f64 = 1e-9;

const ONE: Lane = Lane([1.0; LANES]);

/// What the modules and conductors say of a step.
struct Judgement {
    /// 1 where charges and temperatures are known well enough for a long step.
    settled: Lane,
    /// 1 where it does not lean on its end too much.
    fine: Lane,
    /// 1 where charges, temperatures and voltages are within what is watched at its end.
    calm: Lane,
    /// How far its currents stay from what watches them, at both ends [A].
    spare: Lane,
    /// How far they may stray between.
    stray: StrayLanes,
}

/// Judges the step, into `verdict`.
pub(super) struct Judge;

impl Stage for Judge {
    type Output = ();

    #[inline(always)]
    fn with(self, ride: &mut Ride) {
        let all = Judgement {
            settled: ONE,
            fine: ONE,
            calm: ONE,
            spare: Lane([f64::INFINITY; LANES]),
            stray: StrayLanes::NONE,
        };
        let all = ride.judge_modules(all);
        let all = ride.judge_wires(all);
        let (settled, fine, calm, spare) = (whole(all.settled), whole(all.fine), whole(all.calm), whole(all.spare));
        let stray = all.stray.greatest(&ride.bus_ahead.voltage, &ride.bus_ahead.current);
        let good = choose(&ride.long, choose(&settled, fine, ZERO), fine);
        let sound = ride.watch_surroundings(choose(&calm, ride.sound, ZERO));
        let quiet = lanes(|l| if spare[l] >= stray[l] + HAIR { sound[l] } else { 0.0 });
        let (quiet, bad) = (choose(&good, quiet, ZERO), choose(&good, ZERO, sound));
        let rough = if any(&bad) { ride.watch_ends(bad) } else { ZERO };
        ride.verdict = Verdict { quiet, rough };
    }
}

impl Ride {
    /// Settles the modules' temperatures and charges, and judges them.
    #[inline(always)]
    fn judge_modules(&mut self, mut all: Judgement) -> Judgement {
        let lean = lanes(|l| (self.theta[l] - 0.5) * self.seconds[l]);
        for k in one_by_one(self.modules.len()) {
            let apart = self.settle_module(k);
            let (module, now, ahead) = (&self.modules[k], &self.present[k], &mut self.coming[k]);
            let currents = (&self.start[k], &self.end[k]);
            let stray = module.stray(now, ahead, currents, &mut all.stray);
            all.settled = choose(&module.settles(&apart, &stray), all.settled, ZERO);
            all.calm = choose(&module.is_calm(ahead), all.calm, ZERO);
            all.spare = lesser(&all.spare, &module.spare(currents));
            if self.leans {
                all.fine = choose(&module.is_fine(&lean, currents), all.fine, ZERO);
            }
            ahead.hold_charge();
        }
        all
    }

    /// Takes what the currents of the end change in the conductors' temperatures, and judges them.
    #[inline(always)]
    fn judge_wires(&mut self, mut all: Judgement) -> Judgement {
        let modules = self.modules.len();
        for k in one_by_one(self.wires.len()) {
            let (start, end) = (&self.start[modules + k], &self.end[modules + k]);
            let wire = &self.wires[k];
            if wire.is_warm() {
                let celsius = wire.warm(&self.warmth_ahead[k], start, end, self.heating);
                all.calm = choose(&wire.stands(&celsius), all.calm, ZERO);
                self.warmth_ahead[k] = celsius;
            }
            all.spare = lesser(&all.spare, &wire.spare((start, end)));
        }
        all
    }

    /// Narrows a mask of lanes to those in which bus and room are within what is watched.
    #[inline(always)]
    fn watch_surroundings(&self, sound: Lane) -> Lane {
        let (sound, bus, room, own) = (whole(sound), &self.bus_ahead, self.ahead.room, self.ahead.own);
        lanes(|l| {
            let within = self.bus_voltage.holds(l, bus.voltage[l])
                & self.bus_current.holds(l, bus.current[l])
                & self.room.holds(l, room[l] + own[l]);
            if within { sound[l] } else { 0.0 }
        })
    }

    /// Narrows a mask of lanes to those in which the currents of the end are within what watches them.
    #[inline(always)]
    fn watch_ends(&self, sound: Lane) -> Lane {
        let (mut spare, modules) = (Lane([f64::INFINITY; LANES]), self.modules.len());
        for k in one_by_one(modules) {
            spare = lesser(&spare, &self.modules[k].spare((&self.end[k], &self.end[k])));
        }
        for k in one_by_one(self.wires.len()) {
            let end = &self.end[modules + k];
            spare = lesser(&spare, &self.wires[k].spare((end, end)));
        }
        lanes(|l| if spare[l] >= 0.0 { sound[l] } else { 0.0 })
    }

    /// Narrows a mask of lanes to those in which nothing is out of its range at the end.
    #[inline(always)]
    pub(super) fn watch(&self, sound: Lane) -> Lane {
        let (mut calm, modules) = (sound, self.modules.len());
        for k in one_by_one(modules) {
            calm = choose(&self.modules[k].is_calm(&self.coming[k]), calm, ZERO);
        }
        for k in one_by_one(self.wires.len()).filter(|k| self.wires[*k].is_warm()) {
            calm = choose(&self.wires[k].stands(&self.warmth_ahead[k]), calm, ZERO);
        }
        self.watch_ends(self.watch_surroundings(calm))
    }
}

#[inline(always)]
fn lesser(a: &Lane, b: &Lane) -> Lane {
    let (a, b) = (*a, *b);
    lanes(|l| {
        let (a, b) = (a[l], b[l]);
        if a <= b { a } else { b }
    })
}
