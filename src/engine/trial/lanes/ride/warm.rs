//! The heat of a step in every lane: the room, the modules, the conductors, as `trial::step` has them.
//!
//! In: losses and currents at the start, then at the end. Out: temperatures foreseen at the end, then corrected.

use super::Ride;
use crate::network::lanes::{Lane, ZERO, lanes, one_by_one};

/// What surrounds the modules in a step: means of the room, with what the bank warms it by, and of the floor; the room
/// at its end [°C].
pub struct Around {
    room: Lane,
    floor: Lane,
    room_after: Lane,
}

impl Ride {
    /// The room by the bank's own heat, with the losses of the start.
    #[inline(always)]
    pub(super) fn warm_room(&mut self) {
        let Some((loss, left)) = &self.heat.room else {
            self.ahead.own = ZERO;
            return;
        };
        let room = lanes(|l| self.now.room[l] + self.now.own[l]);
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
        let (wires, inverter, own) = (self.wire_loss, self.inverter_loss, self.now.own);
        self.ahead.own = lanes(|l| {
            let settled = (sum[l] + wires[l] + inverter[l]) / loss;
            settled + (own[l] - settled) * left[l]
        });
    }

    /// What surrounds the modules on the way.
    #[inline(always)]
    pub(super) fn around(&self) -> Around {
        let before = lanes(|l| self.now.room[l] + self.now.own[l]);
        let room_after = lanes(|l| self.ahead.room[l] + self.ahead.own[l]);
        let room = lanes(|l| 0.5 * (before[l] + room_after[l]));
        let floor = lanes(|l| 0.5 * (self.now.floor[l] + self.ahead.floor[l]));
        Around { room, floor, room_after }
    }

    /// Temperature of a module with the losses of the start: `Heating::foresee`.
    #[inline(always)]
    pub(super) fn foresee_module(&mut self, k: usize, around: &Around) {
        let coupling = &self.heat.couplings[k];
        let air_rise = self.heat.gradient * coupling.height;
        let Around { room, floor, room_after } = around;
        self.coming[k].celsius = match coupling.heat {
            Some(heat) => {
                let to_floor = coupling.floor_conductance(&heat);
                let [(below, has_below), (above, has_above)] = self.heat.neighbours[k];
                let (below, above) = (&self.present[below].celsius, &self.present[above].celsius);
                let near = lanes(|l| has_below * below[l] + has_above * above[l]);
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
        let (foreseen, rise) = (self.coming[k].celsius, &self.heat.rise[k]);
        let (start, end) = (&self.present[k].loss, &self.coming[k].loss);
        self.modules[k].first_pass = match self.heat.couplings[k].heat {
            Some(_) => lanes(|l| foreseen[l] + 0.5 * (end[l] - start[l]) * rise[l]),
            None => foreseen,
        };
    }

    /// And with its neighbours on the way: the second.
    #[inline(always)]
    pub(super) fn settle_module(&mut self, k: usize) {
        let (coupling, first) = (&self.heat.couplings[k], self.modules[k].first_pass);
        self.coming[k].celsius = match coupling.heat {
            Some(heat) => {
                let [below, above] = self.heat.neighbours[k]
                    .map(|(n, has)| (&self.modules[n].first_pass, &self.present[n].celsius, 0.5 * has));
                let rise = &self.heat.rise[k];
                lanes(|l| {
                    let nearer = below.2 * (below.0[l] - below.1[l]) + above.2 * (above.0[l] - above.1[l]);
                    first[l] + heat.to_neighbour * nearer * rise[l]
                })
            }
            None => first,
        };
    }

    #[inline(always)]
    pub(super) fn foresee_wires(&mut self, around: &Around) {
        let modules = self.modules.len();
        for k in one_by_one(self.wires.len()) {
            if self.wires[k].is_warm() {
                let (start, step) = (&self.start[modules + k], (&self.seconds, self.heating));
                self.warmth_ahead[k] = self.wires[k].foresee(&self.warmth[k], step, start, &around.room);
            }
        }
    }

    #[inline(always)]
    pub(super) fn correct_wires(&mut self) {
        let modules = self.modules.len();
        for k in one_by_one(self.wires.len()).filter(|k| self.wires[*k].is_warm()) {
            let (start, end) = (&self.start[modules + k], &self.end[modules + k]);
            self.warmth_ahead[k] = self.wires[k].warm(&self.warmth_ahead[k], start, end, self.heating);
        }
    }
}
