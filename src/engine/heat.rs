//! Lumped heat of the modules of a bank.
//!
//! In: temperatures, losses and surroundings at the start of a step. Out: temperatures at its end.
//! C·dT/dt = q − Ga·(T − T_air) − Gf·(T − T_floor) − Gn·Σ(T − T_neighbour), each module exactly
//! exponential over the step, with its neighbours at the mean of a first pass.

use super::ambient::Surroundings;
use crate::scenario::Heat;

/// How one module is coupled to what surrounds it.
#[derive(Clone, Copy, Debug)]
pub struct Coupling {
    /// `None`: at the temperature of the air around it.
    pub heat: Option<Heat>,
    /// Height of its middle above the floor [m].
    pub height: f64,
    pub on_floor: bool,
    /// Numbers of the modules below and above.
    pub below: Option<usize>,
    pub above: Option<usize>,
}

impl Coupling {
    pub fn neighbours(&self) -> impl Iterator<Item = usize> {
        self.below.into_iter().chain(self.above)
    }

    pub fn floor_conductance(&self, heat: &Heat) -> f64 {
        if self.on_floor { heat.to_floor } else { 0.0 }
    }

    /// Sum of the conductances of the module [W/K].
    fn total(&self, heat: &Heat) -> f64 {
        let neighbours = self.neighbours().count() as f64;
        heat.to_air + self.floor_conductance(heat) + heat.to_neighbour * neighbours
    }
}

/// The heat of a bank: couplings, and the decay of the last step length.
#[derive(Clone, Debug)]
pub struct Heating {
    couplings: Vec<Coupling>,
    gradient: f64,
    seconds: f64,
    /// e^(−G·dt/C) of each module for `seconds`.
    decay: Vec<f64>,
    /// 1/ΣG of each module [K/W]; infinite where it is insulated.
    rise: Vec<f64>,
    first_pass: Vec<f64>,
}

impl Heating {
    pub fn new(couplings: Vec<Coupling>, gradient: f64) -> Heating {
        let count = couplings.len();
        let (decay, first_pass) = (vec![1.0; count], vec![0.0; count]);
        let rise = couplings.iter().map(|c| c.heat.map_or(0.0, |h| 1.0 / c.total(&h))).collect();
        Heating { couplings, gradient, seconds: 0.0, decay, rise, first_pass }
    }

    /// 1/ΣG of each module [K/W].
    pub fn rise(&self) -> &[f64] {
        &self.rise
    }

    /// What is left of a difference of each module after so many seconds.
    pub fn decay_over(&mut self, seconds: f64) -> &[f64] {
        self.set_step(seconds);
        &self.decay
    }

    /// Air around module k [°C].
    pub fn air(&self, k: usize, around: &Surroundings) -> f64 {
        around.room + self.gradient * self.couplings[k].height
    }

    /// What module k gives to the air around it [W]: all of its loss where it has no heat of its own.
    pub fn to_air(&self, k: usize, celsius: f64, loss: f64, around: &Surroundings) -> f64 {
        self.couplings[k].heat.map_or(loss, |heat| heat.to_air * (celsius - self.air(k, around)))
    }

    /// Temperatures `seconds` after `from`, with these mean losses [W], and the surroundings: their
    /// mean, and those at the end, for modules without heat of their own.
    pub fn advance(
        &mut self,
        seconds: f64,
        from: &[f64],
        losses: &[f64],
        around: (&Surroundings, &Surroundings),
        to: &mut [f64],
    ) {
        self.set_step(seconds);
        let (mean, at_end) = around;
        for (k, &loss) in losses.iter().enumerate() {
            self.first_pass[k] = match self.couplings[k].heat {
                Some(heat) => self.relax(k, &heat, from, loss, mean, |n| from[n]),
                None => self.air(k, at_end),
            };
        }
        for (k, &loss) in losses.iter().enumerate() {
            let between = |n: usize| 0.5 * (from[n] + self.first_pass[n]);
            to[k] = match self.couplings[k].heat {
                Some(heat) => self.relax(k, &heat, from, loss, mean, between),
                None => self.first_pass[k],
            };
        }
    }

    /// By how much the neighbours, taken as they are on the way instead of as they were, moved any of these
    /// temperatures, which `advance` gave: more than what is left of the step's error [K].
    pub fn unsettled(&self, to: &[f64]) -> f64 {
        to.iter().zip(&self.first_pass).map(|(t, first)| (t - first).abs()).fold(0.0, f64::max)
    }

    fn relax(
        &self,
        k: usize,
        heat: &Heat,
        from: &[f64],
        loss: f64,
        around: &Surroundings,
        neighbour: impl Fn(usize) -> f64,
    ) -> f64 {
        let coupling = &self.couplings[k];
        let inflow = loss
            + heat.to_air * self.air(k, around)
            + coupling.floor_conductance(heat) * around.floor
            + heat.to_neighbour * coupling.neighbours().map(neighbour).sum::<f64>();
        if self.rise[k] == f64::INFINITY {
            // Perfectly insulated: all of its loss stays within.
            return from[k] + loss * self.seconds / heat.capacity;
        }
        let settled = inflow * self.rise[k];
        settled + (from[k] - settled) * self.decay[k]
    }

    fn set_step(&mut self, seconds: f64) {
        if seconds == self.seconds {
            return;
        }
        self.seconds = seconds;
        for (decay, c) in self.decay.iter_mut().zip(&self.couplings) {
            *decay = c.heat.map_or(0.0, |h| (-c.total(&h) * seconds / h.capacity).exp());
        }
    }

    /// Whether heat leaves each module for air or floor, by itself or by way of its neighbours.
    fn grounded(&self) -> Vec<bool> {
        let own = |c: &Coupling| c.heat.is_none_or(|h| h.to_air + c.floor_conductance(&h) > 0.0);
        let mut grounded: Vec<bool> = self.couplings.iter().map(own).collect();
        let passes = |k: usize| self.couplings[k].heat.is_some_and(|h| h.to_neighbour > 0.0);
        let count = grounded.len();
        for k in (0..count).chain((0..count).rev()) {
            let near = self.couplings[k].neighbours().any(|n| grounded[n]);
            grounded[k] |= near && passes(k);
        }
        grounded
    }

    /// Where nothing changes, with these losses: temperatures of all modules for a degree of room and of floor.
    pub fn rest(&self, losses: &[f64]) -> Rest {
        let none = Surroundings { outdoor: 0.0, room: 0.0, floor: 0.0 };
        let idle = vec![0.0; losses.len()];
        let flat = Heating { gradient: 0.0, ..self.clone() };
        Rest {
            by_itself: self.settled(losses, &none),
            by_room: flat.settled(&idle, &Surroundings { room: 1.0, ..none }),
            by_floor: flat.settled(&idle, &Surroundings { floor: 1.0, ..none }),
        }
    }

    /// Temperatures at which nothing changes. Gauss-Seidel on a diagonally dominant system. A module that no heat
    /// leaves is at the air's temperature.
    fn settled(&self, losses: &[f64], around: &Surroundings) -> Vec<f64> {
        let mut t: Vec<f64> = (0..self.couplings.len()).map(|k| self.air(k, around)).collect();
        let grounded = self.grounded();
        for _ in 0..10_000 {
            let mut moved: f64 = 0.0;
            for k in (0..t.len()).filter(|&k| grounded[k]) {
                let c = &self.couplings[k];
                let Some(heat) = c.heat else {
                    continue;
                };
                let inflow = losses[k]
                    + heat.to_air * self.air(k, around)
                    + c.floor_conductance(&heat) * around.floor
                    + heat.to_neighbour * c.neighbours().map(|n| t[n]).sum::<f64>();
                let next = inflow / c.total(&heat);
                moved = moved.max((next - t[k]).abs());
                t[k] = next;
            }
            if moved < 1e-12 {
                break;
            }
        }
        t
    }
}

/// Temperatures at rest, where each night starts: they follow room and floor along straight lines.
#[derive(Clone, Debug)]
pub struct Rest {
    /// In a room and on a floor of 0 °C [°C].
    by_itself: Vec<f64>,
    by_room: Vec<f64>,
    by_floor: Vec<f64>,
}

impl Rest {
    /// [°C]
    pub fn temperatures(&self, around: &Surroundings) -> Vec<f64> {
        let by_air = self.by_room.iter().zip(&self.by_floor);
        let each = self.by_itself.iter().zip(by_air);
        each.map(|(own, (room, floor))| own + room * around.room + floor * around.floor).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AROUND: Surroundings = Surroundings { outdoor: 10.0, room: 10.0, floor: 10.0 };

    fn one(heat: Heat) -> Heating {
        let c = Coupling { heat: Some(heat), height: 0.1, on_floor: true, below: None, above: None };
        Heating::new(vec![c], 0.0)
    }

    /// 45 kJ/K with 5.7 W/K has a time constant of 2.2 h; 150 W (100 A through 15 mΩ) warm it at
    /// 12 K/h at first (derived; the conductances are assumed).
    #[test]
    fn thermal_step_of_one_module() {
        let heat = Heat { capacity: 45e3, to_air: 5.7, to_floor: 0.0, to_neighbour: 0.0 };
        let mut h = one(heat);
        let mut to = [0.0];
        h.advance(36.0, &[10.0], &[150.0], (&AROUND, &AROUND), &mut to);
        assert!(((to[0] - 10.0) * 100.0 - 12.0).abs() < 0.03, "{}", to[0]);
        let tau = 45e3 / 5.7;
        assert!((tau / 3600.0 - 2.19_f64).abs() < 0.01);
        h.advance(tau, &[10.0], &[150.0], (&AROUND, &AROUND), &mut to);
        let wanted = 10.0 + 150.0 / 5.7 * (1.0 - (-1.0_f64).exp());
        assert!((to[0] - wanted).abs() < 1e-9);
    }

    /// A step in parts is the same as whole, and two coupled modules exchange what they should: the
    /// difference of two equal ones decays with C/(G + 2·Gn) (derived).
    #[test]
    fn neighbours_even_out() {
        let heat = Heat { capacity: 45e3, to_air: 2.3, to_floor: 0.0, to_neighbour: 6.0 };
        let couple = |below, above| Coupling { heat: Some(heat), height: 0.0, on_floor: false, below, above };
        let mut h = Heating::new(vec![couple(None, Some(1)), couple(Some(0), None)], 0.0);
        let (mut t, mut to) = ([20.0, 0.0], [0.0; 2]);
        for _ in 0..60 {
            h.advance(60.0, &t, &[0.0; 2], (&AROUND, &AROUND), &mut to);
            t = to;
        }
        let wanted = 20.0 * (-(2.3 + 12.0) * 3600.0 / 45e3_f64).exp();
        assert!((t[0] - t[1] - wanted).abs() < 2e-4, "{} {wanted}", t[0] - t[1]);
        assert!((t[0] + t[1] - 20.0).abs() < 1e-6, "the mean is that of the air");
    }

    #[test]
    fn settled_is_where_nothing_changes() {
        let heat = Heat { capacity: 45e3, to_air: 2.0, to_floor: 4.0, to_neighbour: 6.0 };
        let couple = |on_floor, below, above| Coupling { heat: Some(heat), height: 0.1, on_floor, below, above };
        let mut h = Heating::new(vec![couple(true, None, Some(1)), couple(false, Some(0), None)], 2.0);
        let around = Surroundings { outdoor: -20.0, room: 5.0, floor: -1.0 };
        let t = h.rest(&[3.0, 3.0]).temperatures(&around);
        let mut to = [0.0; 2];
        h.advance(3600.0, &t, &[3.0, 3.0], (&around, &around), &mut to);
        assert!((to[0] - t[0]).abs() < 1e-6 && (to[1] - t[1]).abs() < 1e-6);
        assert!(t[0] < t[1], "the one on the cold floor is colder");
    }
}
