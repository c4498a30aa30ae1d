//! Lumped heat of the modules of a bank.
//!
//! In: temperatures, losses and surroundings at the start of a step. Out: temperatures at its end.
//! C·dT/dt = q − Ga·(T − T_air) − Gf·(T − T_floor) − Gn·Σ(T − T_neighbour), each module exactly
//! exponential over the step, with its neighbours half way to where a first pass has them.

use super::ambient::Surroundings;
use crate::math;
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

/// The heat of a bank: couplings, what a step of the last length does, and where that step was foreseen to end.
#[derive(Clone, Debug)]
pub struct Heating {
    couplings: Vec<Coupling>,
    gradient: f64,
    seconds: f64,
    over: Vec<Relaxation>,
    first_pass: Vec<f64>,
}

/// What a step does to a module: T = T₀·decay + inflow·rise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Relaxation {
    /// e^(−ΣG·dt/C): what is left of a difference.
    pub decay: f64,
    /// (1 − decay)/ΣG [K/W]; dt/C of one that no heat leaves.
    pub rise: f64,
}

impl Relaxation {
    const NONE: Relaxation = Relaxation { decay: 1.0, rise: 0.0 };

    fn over(seconds: f64, coupling: &Coupling) -> Relaxation {
        let Some(heat) = &coupling.heat else { return Relaxation::NONE };
        let (total, unhindered) = (coupling.total(heat), seconds / heat.capacity);
        let exponent = -total * unhindered;
        let rise = if total > 0.0 { -math::exp_m1(exponent) / total } else { unhindered };
        Relaxation { decay: math::exp(exponent), rise }
    }
}

impl Heating {
    pub fn new(couplings: Vec<Coupling>, gradient: f64) -> Heating {
        let count = couplings.len();
        let (over, first_pass) = (vec![Relaxation::NONE; count], vec![0.0; count]);
        Heating { couplings, gradient, seconds: 0.0, over, first_pass }
    }

    /// What a step of so many seconds does to each module.
    pub fn over(&mut self, seconds: f64) -> &[Relaxation] {
        if seconds != self.seconds {
            self.seconds = seconds;
            for (over, coupling) in self.over.iter_mut().zip(&self.couplings) {
                *over = Relaxation::over(seconds, coupling);
            }
        }
        &self.over
    }

    /// Air around module k [°C].
    pub fn air(&self, k: usize, around: &Surroundings) -> f64 {
        around.room + self.gradient * self.couplings[k].height
    }

    /// What module k gives to the air around it [W]: all of its loss where it has no heat of its own.
    pub fn to_air(&self, k: usize, celsius: f64, loss: f64, around: &Surroundings) -> f64 {
        self.couplings[k].heat.map_or(loss, |heat| heat.to_air * (celsius - self.air(k, around)))
    }

    /// Temperatures `seconds` after `from`, with the losses of the start [W], each module's neighbours staying as they
    /// are, and the surroundings: their mean, and those at the end, for modules without heat of their own.
    pub fn foresee(
        &mut self,
        seconds: f64,
        from: &[f64],
        losses: &[f64],
        around: (&Surroundings, &Surroundings),
        to: &mut [f64],
    ) {
        self.over(seconds);
        let (mean, at_end) = around;
        for (k, coupling) in self.couplings.iter().enumerate() {
            self.first_pass[k] = match coupling.heat {
                Some(heat) => {
                    let near: f64 = coupling.neighbours().map(|n| from[n]).sum();
                    let inflow = losses[k]
                        + heat.to_air * self.air(k, mean)
                        + coupling.floor_conductance(&heat) * mean.floor
                        + heat.to_neighbour * near;
                    from[k] * self.over[k].decay + inflow * self.over[k].rise
                }
                None => self.air(k, at_end),
            };
        }
        to.copy_from_slice(&self.first_pass);
    }

    /// The same temperatures once it is known by how much mean losses of the step exceed those of its start [W], and
    /// with each module's neighbours on the way to where they were foreseen. Heat is linear, so that only what is new
    /// is added.
    pub fn correct(&mut self, from: &[f64], more: &[f64], to: &mut [f64]) {
        for (k, coupling) in self.couplings.iter().enumerate() {
            if coupling.heat.is_some() {
                self.first_pass[k] += more[k] * self.over[k].rise;
            }
        }
        for (k, coupling) in self.couplings.iter().enumerate() {
            to[k] = match coupling.heat {
                Some(heat) => {
                    let nearer: f64 = coupling.neighbours().map(|n| 0.5 * (self.first_pass[n] - from[n])).sum();
                    self.first_pass[k] + heat.to_neighbour * nearer * self.over[k].rise
                }
                None => self.first_pass[k],
            };
        }
    }

    /// By how much the neighbours, taken as they are on the way instead of as they were, moved any of these
    /// temperatures, which `correct` gave: more than what is left of the step's error [K].
    pub fn unsettled(&self, to: &[f64]) -> f64 {
        to.iter().zip(&self.first_pass).map(|(t, first)| (t - first).abs()).fold(0.0, f64::max)
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

    /// As a trial's step does, with losses that stay.
    fn advance(h: &mut Heating, seconds: f64, from: &[f64], losses: &[f64], around: &Surroundings, to: &mut [f64]) {
        h.foresee(seconds, from, losses, (around, around), to);
        h.correct(from, &vec![0.0; from.len()], to);
    }

    /// 45 kJ/K with 5.7 W/K has a time constant of 2.2 h; 150 W (100 A through 15 mΩ) warm it at
    /// 12 K/h at first (by hand: C/G and q/C; the conductances are assumed).
    #[test]
    fn thermal_step_of_one_module() {
        let heat = Heat { capacity: 45e3, to_air: 5.7, to_floor: 0.0, to_neighbour: 0.0 };
        let mut h = one(heat);
        let mut to = [0.0];
        advance(&mut h, 36.0, &[10.0], &[150.0], &AROUND, &mut to);
        assert!(((to[0] - 10.0) * 100.0 - 12.0).abs() < 0.03, "{}", to[0]);
        let tau = 45e3 / 5.7;
        assert!((tau / 3600.0 - 2.19_f64).abs() < 0.01);
        advance(&mut h, tau, &[10.0], &[150.0], &AROUND, &mut to);
        let wanted = 10.0 + 150.0 / 5.7 * (1.0 - (-1.0_f64).exp());
        assert!((to[0] - wanted).abs() < 1e-9);
    }

    /// A step in parts is the same as whole, and two coupled modules exchange what they should: the
    /// difference of two equal ones decays with C/(G + 2·Gn) (by hand).
    #[test]
    fn neighbours_even_out() {
        let heat = Heat { capacity: 45e3, to_air: 2.3, to_floor: 0.0, to_neighbour: 6.0 };
        let couple = |below, above| Coupling { heat: Some(heat), height: 0.0, on_floor: false, below, above };
        let mut h = Heating::new(vec![couple(None, Some(1)), couple(Some(0), None)], 0.0);
        let (mut t, mut to) = ([20.0, 0.0], [0.0; 2]);
        for _ in 0..60 {
            advance(&mut h, 60.0, &t, &[0.0; 2], &AROUND, &mut to);
            t = to;
        }
        let wanted = 20.0 * (-(2.3 + 12.0) * 3600.0 / 45e3_f64).exp();
        assert!((t[0] - t[1] - wanted).abs() < 2e-4, "{} {wanted}", t[0] - t[1]);
        assert!((t[0] + t[1] - 20.0).abs() < 1e-6, "the mean is that of the air");
    }

    /// What is known of the losses only once the network is solved changes the end as if it had been known before.
    #[test]
    fn what_is_added_later_adds_up() {
        let heat = Heat { capacity: 45e3, to_air: 2.3, to_floor: 5.0, to_neighbour: 8.0 };
        let couple = |on_floor, below, above| Coupling { heat: Some(heat), height: 0.1, on_floor, below, above };
        let mut h = Heating::new(vec![couple(true, None, Some(1)), couple(false, Some(0), None)], 1.5);
        let (from, mut at_once, mut later) = ([4.0, 9.0], [0.0; 2], [0.0; 2]);
        advance(&mut h, 900.0, &from, &[60.0, 30.0], &AROUND, &mut at_once);
        h.foresee(900.0, &from, &[20.0, 40.0], (&AROUND, &AROUND), &mut later);
        h.correct(&from, &[40.0, -10.0], &mut later);
        assert!(at_once.iter().zip(&later).all(|(a, b)| (a - b).abs() < 1e-12), "{at_once:?} {later:?}");
    }

    /// What no heat leaves keeps all of its loss: q·t/C (by hand).
    #[test]
    fn an_insulated_module_keeps_its_heat() {
        let mut h = one(Heat { capacity: 45e3, to_air: 0.0, to_floor: 0.0, to_neighbour: 0.0 });
        let mut to = [0.0];
        advance(&mut h, 900.0, &[10.0], &[100.0], &AROUND, &mut to);
        assert!((to[0] - 12.0).abs() < 1e-12, "{to:?}");
    }

    #[test]
    fn settled_is_where_nothing_changes() {
        let heat = Heat { capacity: 45e3, to_air: 2.0, to_floor: 4.0, to_neighbour: 6.0 };
        let couple = |on_floor, below, above| Coupling { heat: Some(heat), height: 0.1, on_floor, below, above };
        let mut h = Heating::new(vec![couple(true, None, Some(1)), couple(false, Some(0), None)], 2.0);
        let around = Surroundings { outdoor: -20.0, room: 5.0, floor: -1.0 };
        let t = h.rest(&[3.0, 3.0]).temperatures(&around);
        let mut to = [0.0; 2];
        advance(&mut h, 3600.0, &t, &[3.0, 3.0], &around, &mut to);
        assert!((to[0] - t[0]).abs() < 1e-6 && (to[1] - t[1]).abs() < 1e-6);
        assert!(t[0] < t[1], "the one on the cold floor is colder");
    }
}
