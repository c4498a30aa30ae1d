//! What becomes of a step that was worked out: the present in the lanes that take it, and what it counts.
//!
//! In: the end, and a mask of the lanes that take it. Out: the next present.

use super::{Ride, greater};
use crate::engine::trial::lanes::module::within;
use crate::network::lanes::{LANES, Lane, ZERO, any, choose, lanes, one_by_one};

impl Ride {
    /// Makes the end the present in the lanes of `takes`; `tries` are to try again from where they are, and what was
    /// solved for them counts as well.
    #[inline(always)]
    pub fn commit(&mut self, takes: &Lane, tries: &Lane) {
        for k in one_by_one(self.coming.len()) {
            let ahead = &mut self.coming[k];
            let charge = ahead.charge;
            ahead.charge = lanes(|l| within(charge[l], -1e-9, 1.0 + 1e-9));
        }
        if any(tries) {
            self.keep_others(takes);
        }
        std::mem::swap(&mut self.present, &mut self.coming);
        std::mem::swap(&mut self.warmth, &mut self.warmth_ahead);
        std::mem::swap(&mut self.start, &mut self.end);
        self.stiffness = choose(takes, self.stiffness_ahead, self.stiffness);
        (self.now, self.bus, self.wire_loss) = (self.ahead, self.bus_ahead, self.wire_loss_ahead);
        self.count(takes, tries);
        for l in 0..LANES {
            self.work.steps[l] += u64::from(takes[l] > 0.0);
        }
    }

    /// Lets the lanes that do not take the step end where they begin.
    #[inline(always)]
    fn keep_others(&mut self, takes: &Lane) {
        for k in one_by_one(self.coming.len()) {
            self.coming[k].keep(&self.present[k], takes);
        }
        for k in one_by_one(self.warmth.len()) {
            self.warmth_ahead[k] = choose(takes, self.warmth_ahead[k], self.warmth[k]);
        }
        for k in one_by_one(self.start.len()) {
            self.end[k] = choose(takes, self.end[k], self.start[k]);
        }
        let (now, ahead) = (&self.now, &mut self.ahead);
        ahead.outdoor = choose(takes, ahead.outdoor, now.outdoor);
        ahead.room = choose(takes, ahead.room, now.room);
        ahead.floor = choose(takes, ahead.floor, now.floor);
        ahead.own = choose(takes, ahead.own, now.own);
        self.bus_ahead.voltage = choose(takes, self.bus_ahead.voltage, self.bus.voltage);
        self.bus_ahead.current = choose(takes, self.bus_ahead.current, self.bus.current);
        self.wire_loss_ahead = choose(takes, self.wire_loss_ahead, self.wire_loss);
    }

    /// The present was solved anew: taken in the lanes of `takes`, as it was in the others.
    #[inline(always)]
    pub fn commit_present(&mut self, takes: &Lane) {
        for k in one_by_one(self.present.len()) {
            self.present[k].take_solution(&self.coming[k], takes);
        }
        for k in one_by_one(self.start.len()) {
            self.start[k] = choose(takes, self.end[k], self.start[k]);
        }
        self.bus.voltage = choose(takes, self.bus_ahead.voltage, self.bus.voltage);
        self.bus.current = choose(takes, self.bus_ahead.current, self.bus.current);
        self.wire_loss = choose(takes, self.wire_loss_ahead, self.wire_loss);
        self.stiffness = choose(takes, self.stiffness_ahead, self.stiffness);
        self.count(takes, &ZERO);
    }

    #[inline(always)]
    fn count(&mut self, takes: &Lane, tries: &Lane) {
        let (work, solved) = (&mut self.work, lanes(|l| takes[l] + tries[l]));
        work.kirchhoff = greater(&work.kirchhoff, &choose(&solved, self.kirchhoff, ZERO));
        work.power_balance = greater(&work.power_balance, &choose(&solved, self.power_balance, ZERO));
        for l in 0..LANES {
            work.tried[l] += if solved[l] > 0.0 { self.solves[l] as u64 } else { 0 };
            if takes[l] > 0.0 {
                work.solves[l] += std::mem::take(&mut work.tried[l]);
            }
        }
    }
}
