//! The heat of a step in every lane: the room, the modules, the conductors, as `trial::step` has them.
//!
//! In: losses and currents at the start, then at the end. Out: temperatures foreseen at the end, then corrected.

use super::{Ride, Stage};
use crate::network::lanes::{Lane, ZERO, lanes, one_by_one, whole};

/// What surrounds the modules in a step: means of the room, with what the bank warms it by, and of the floor; the room
/// at its end [°C].
#[derive(Clone, Debug)]
pub struct Around {
    room: Lane,
    floor: Lane,
    room_after: Lane,
}

impl Around {
    pub fn new() -> Around {
        Around { room: ZERO, floor: ZERO, room_after: ZERO }
    }
}

/// The end of the step as far as the start tells it.
pub struct Foresee;

impl Stage for Foresee {
    type Output = ();

    #[inline(always)]
    fn with(self, ride: &mut Ride) {
        ride.begin();
        ride.warm_room();
        ride.around = ride.surroundings();
        ride.foresee_wires();
    }
}

impl Ride {
    /// The room by the bank's own heat, with the losses of the start.
    #[inline(always)]
    fn warm_room(&mut self) {
        let Some((loss, left)) = &self.heat.room else {
            self.ahead.own = ZERO;
            return;
        };
        let room = whole(lanes(|l| self.now.room[l] + self.now.own[l]));
        let mut sum = ZERO;
        for k in one_by_one(self.present.len()) {
            let (now, coupling) = (&self.present[k], &self.heat.couplings[k]);
            let rise = self.heat.gradient * coupling.height;
            let (before, celsius) = (sum, now.celsius);
            let given = match coupling.heat {
                Some(heat) => lanes(|l| heat.to_air * (celsius[l] - (room[l] + rise))),
                None => now.loss,
            };
            sum = lanes(|l| before[l] + given[l]);
        }
        let (sum, wires, inverter, own) = (whole(sum), self.wire_loss, self.inverter_loss, self.now.own);
        self.ahead.own = lanes(|l| {
            let settled = (sum[l] + wires[l] + inverter[l]) / loss;
            settled + (own[l] - settled) * left[l]
        });
    }

    /// What surrounds the modules on the way.
    #[inline(always)]
    fn surroundings(&self) -> Around {
        let before = lanes(|l| self.now.room[l] + self.now.own[l]);
        let room_after = lanes(|l| self.ahead.room[l] + self.ahead.own[l]);
        let room = lanes(|l| 0.5 * (before[l] + room_after[l]));
        let floor = lanes(|l| 0.5 * (self.now.floor[l] + self.ahead.floor[l]));
        Around { room, floor, room_after }
    }

    /// Temperature of a module with the losses of the start: `Heating::foresee`.
    #[inline(always)]
    pub(super) fn foresee_module(&mut self, k: usize) {
        let coupling = &self.heat.couplings[k];
        let air_rise = self.heat.gradient * coupling.height;
        let Around { room, floor, room_after } = &self.around;
        self.coming[k].celsius = match coupling.heat {
            Some(heat) => {
                let to_floor = coupling.floor_conductance(&heat);
                let [(below, is_below), (above, is_above)] =
                    self.heat.neighbours[k].map(|n| (&self.present[n.module].celsius, n.there));
                let near = lanes(|l| is_below * below[l] + is_above * above[l]);
                let (loss, from) = (&self.present[k].loss, &self.present[k].celsius);
                let (decay, rise) = (&self.heat.decay[k], &self.heat.rise[k]);
                lanes(|l| {
                    let inflow = loss[l]
                        + heat.to_air * (room[l] + air_rise)
                        + to_floor * floor[l]
                        + heat.to_neighbour * near[l];
                    from[l] * decay[l] + inflow * rise[l]
                })
            }
            None => lanes(|l| room_after[l] + air_rise),
        };
    }

    /// The same with the losses of the end: the first pass of `Heating::correct`.
    #[inline(always)]
    pub(super) fn correct_module(&mut self, k: usize) {
        let (foreseen, from, rise) = (self.coming[k].celsius, &self.present[k].celsius, &self.heat.rise[k]);
        let (start, end) = (&self.present[k].loss, &self.coming[k].loss);
        let first = match self.heat.couplings[k].heat {
            Some(_) => lanes(|l| foreseen[l] + 0.5 * (end[l] - start[l]) * rise[l]),
            None => foreseen,
        };
        (self.first_pass[k], self.changes[k]) = (first, lanes(|l| first[l] - from[l]));
    }

    /// And with its neighbours on the way: the second. By how much that is another temperature [K].
    #[inline(always)]
    pub(super) fn settle_module(&mut self, k: usize) -> Lane {
        let first = self.first_pass[k];
        let Some(heat) = self.heat.couplings[k].heat else {
            self.coming[k].celsius = first;
            return ZERO;
        };
        let [below, above] = self.heat.neighbours[k].map(|n| &self.changes[n.change]);
        let rise = &self.heat.rise[k];
        let settled = lanes(|l| first[l] + heat.to_neighbour * (0.5 * (below[l] + above[l])) * rise[l]);
        self.coming[k].celsius = settled;
        lanes(|l| (settled[l] - first[l]).abs())
    }

    #[inline(always)]
    fn foresee_wires(&mut self) {
        let modules = self.modules.len();
        for k in one_by_one(self.wires.len()) {
            if self.wires[k].is_warm() {
                let (start, step) = (&self.start[modules + k], (&self.seconds, self.heating));
                self.warmth_ahead[k] = self.wires[k].foresee(&self.warmth[k], step, start, &self.around.room);
            }
        }
    }
}
