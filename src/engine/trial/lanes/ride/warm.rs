//! The heat of a step in every lane: the room, the modules, the conductors, as `trial::step` has them.
//!
//! In: losses and currents at the start, or at both ends. Out: temperatures at the end.

use super::Ride;
use crate::network::lanes::{Lane, ZERO, lanes, one_by_one};

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

    /// Temperatures of modules: with the losses of the start, or with the mean of both ends.
    #[inline(always)]
    pub(super) fn heat_modules(&mut self, with_end: bool) {
        let room_before = lanes(|l| self.now.room[l] + self.now.own[l]);
        let room_after = lanes(|l| self.ahead.room[l] + self.ahead.own[l]);
        let room = lanes(|l| 0.5 * (room_before[l] + room_after[l]));
        let floor = lanes(|l| 0.5 * (self.now.floor[l] + self.ahead.floor[l]));
        for k in one_by_one(self.modules.len()) {
            let (start, end) = (self.present[k].loss, self.coming[k].loss);
            let loss = if with_end { lanes(|l| 0.5 * (start[l] + end[l])) } else { start };
            let first = match self.heat.couplings[k].heat {
                Some(_) => self.relax(k, &loss, (&room, &floor), |n| self.present[n].celsius),
                None => {
                    let rise = self.heat.gradient * self.heat.couplings[k].height;
                    lanes(|l| room_after[l] + rise)
                }
            };
            (self.modules[k].mean_loss, self.modules[k].first_pass) = (loss, first);
        }
        for k in one_by_one(self.modules.len()) {
            let between = |n: usize| {
                let (from, first) = (self.present[n].celsius, self.modules[n].first_pass);
                lanes(|l| 0.5 * (from[l] + first[l]))
            };
            let loss = self.modules[k].mean_loss;
            self.coming[k].celsius = match self.heat.couplings[k].heat {
                Some(_) => self.relax(k, &loss, (&room, &floor), between),
                None => self.modules[k].first_pass,
            };
        }
    }

    #[inline(always)]
    fn relax(&self, k: usize, loss: &Lane, (room, floor): (&Lane, &Lane), neighbour: impl Fn(usize) -> Lane) -> Lane {
        let coupling = &self.heat.couplings[k];
        let Some(heat) = coupling.heat else { return ZERO };
        let (air_rise, to_floor) = (self.heat.gradient * coupling.height, coupling.floor_conductance(&heat));
        let mut near = ZERO;
        for n in coupling.neighbours() {
            let (before, celsius) = (near, neighbour(n));
            near = lanes(|l| before[l] + celsius[l]);
        }
        let (rise, decay, from) = (self.heat.rise[k], &self.heat.decay[k], self.present[k].celsius);
        lanes(|l| {
            let inflow =
                loss[l] + heat.to_air * (room[l] + air_rise) + to_floor * floor[l] + heat.to_neighbour * near[l];
            let settled = inflow * rise;
            settled + (from[l] - settled) * decay[l]
        })
    }

    #[inline(always)]
    pub(super) fn warm_wires(&mut self, with_end: bool) {
        let modules = self.modules.len();
        let air = lanes(|l| {
            let at_end = self.ahead.room[l] + self.ahead.own[l];
            0.5 * (self.now.room[l] + self.now.own[l] + at_end)
        });
        for k in one_by_one(self.wires.len()).filter(|k| self.wires[*k].is_warm()) {
            let wire = &self.wires[k];
            let start = &self.start[modules + k];
            let (now, step) = (&self.warmth[k], (&self.seconds, self.heating));
            self.warmth_ahead[k] = if with_end {
                wire.warm(now, start, &self.end[modules + k], step, &air)
            } else {
                wire.foresee(now, start, step, &air)
            };
        }
    }
}
