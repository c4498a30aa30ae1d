//! What becomes of a step that was worked out: the present in the lanes that take it, and what it counts.
//!
//! In: the end, and a mask of the lanes that take it. Out: the next present.

use super::{Ride, Stage, greater};
use crate::network::lanes::{LANES, Lane, ZERO, any, choose, lanes, one_by_one};

/// Makes the end the present in the lanes of `takes`; `tries` are to try again from where they are, and what was solved
/// for them counts as well.
pub struct Commit<'a> {
    pub takes: &'a Lane,
    pub tries: &'a Lane,
}

impl Stage for Commit<'_> {
    type Output = ();

    #[inline(always)]
    fn with(self, ride: &mut Ride) {
        let Commit { takes, tries } = self;
        if any(tries) {
            ride.keep_others(takes);
        }
        std::mem::swap(&mut ride.present, &mut ride.coming);
        std::mem::swap(&mut ride.warmth, &mut ride.warmth_ahead);
        std::mem::swap(&mut ride.start, &mut ride.end);
        ride.stiffness = choose(takes, ride.stiffness_ahead, ride.stiffness);
        (ride.now, ride.bus, ride.wire_loss) = (ride.ahead, ride.bus_ahead, ride.wire_loss_ahead);
        ride.count(takes, tries);
        for l in 0..LANES {
            ride.work.steps[l] += u64::from(takes[l] > 0.0);
        }
    }
}

/// The present was solved anew: taken in the lanes of `takes`, as it was in the others.
pub struct CommitPresent<'a> {
    pub takes: &'a Lane,
}

impl Stage for CommitPresent<'_> {
    type Output = ();

    #[inline(always)]
    fn with(self, ride: &mut Ride) {
        let takes = self.takes;
        for k in one_by_one(ride.present.len()) {
            ride.present[k].take_solution(&ride.coming[k], takes);
        }
        for k in one_by_one(ride.start.len()) {
            ride.start[k] = choose(takes, ride.end[k], ride.start[k]);
        }
        ride.bus.voltage = choose(takes, ride.bus_ahead.voltage, ride.bus.voltage);
        ride.bus.current = choose(takes, ride.bus_ahead.current, ride.bus.current);
        ride.wire_loss = choose(takes, ride.wire_loss_ahead, ride.wire_loss);
        ride.stiffness = choose(takes, ride.stiffness_ahead, ride.stiffness);
        ride.count(takes, &ZERO);
    }
}

impl Ride {
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
