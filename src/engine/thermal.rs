//! Lumped heat of the modules of a bank.
//!
//! In: temperatures, losses and surroundings at the start of a step, of N trials side by side. Out: temperatures at its
//! end.
//!
//! C·dT/dt = q − Ga·(T − T_air) − Gf·(T − T_floor) − Gn·Σ(T − T_neighbour), each module exactly
//! exponential over the step, with its neighbours half way to where a first pass has them. The room is warmed by the bank
//! and the inverter: C·dΔ/dt = heat − loss·Δ.

use super::ambient::Surroundings;
use crate::math;
use crate::network::lane::{Lane, lanes, opaque_range};
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

/// What a step does to a module: T = T₀·decay + inflow·rise.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Relaxation {
    /// e^(−ΣG·dt/C): what is left of a difference.
    decay: f64,
    /// (1 − decay)/ΣG [K/W]; dt/C of one that no heat leaves.
    rise: f64,
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

/// Air of each lane outdoors and in the room, and the floor, without the bank's own heat [°C]; and how much warmer the
/// bank makes the room [K].
#[derive(Clone, Copy, Debug)]
pub struct AirLanes<const N: usize> {
    pub outdoor: Lane<N>,
    pub room: Lane<N>,
    pub floor: Lane<N>,
    pub own: Lane<N>,
}

impl<const N: usize> AirLanes<N> {
    pub const ZERO: AirLanes<N> =
        AirLanes { outdoor: Lane::ZERO, room: Lane::ZERO, floor: Lane::ZERO, own: Lane::ZERO };

    /// The room as the bank has it [°C].
    #[inline(always)]
    pub fn warmed_room(&self) -> Lane<N> {
        lanes(|l| self.room[l] + self.own[l])
    }
}

/// What surrounds the modules in a step: means of the room as the bank has it and of the floor; the room at its end
/// [°C].
#[derive(Clone, Copy, Debug)]
pub struct Around<const N: usize> {
    pub room: Lane<N>,
    floor: Lane<N>,
    room_after: Lane<N>,
}

impl<const N: usize> Around<N> {
    /// Half way between the ends of a step.
    #[inline(always)]
    pub fn between(before: &AirLanes<N>, after: &AirLanes<N>) -> Around<N> {
        let (room_before, room_after) = (before.warmed_room(), after.warmed_room());
        Around {
            room: lanes(|l| 0.5 * (room_before[l] + room_after[l])),
            floor: lanes(|l| 0.5 * (before.floor[l] + after.floor[l])),
            room_after,
        }
    }
}

/// A module above or below, without a branch in the arithmetic.
#[derive(Clone, Copy, Debug)]
struct Neighbour {
    /// Its place among the modules by 1; the module's own by 0 where there is none.
    module: usize,
    there: f64,
    /// Its place among `Thermal::changes`: the last, which is zero, where there is none.
    change: usize,
}

/// The temperatures of the modules and of the room over one step of each lane.
#[derive(Clone, Debug)]
pub struct Thermal<const N: usize> {
    couplings: Vec<Coupling>,
    neighbours: Vec<[Neighbour; 2]>,
    /// Gradient of the air's temperature by height [K/m].
    gradient: f64,
    /// `Relaxation` of each module over the step of each lane.
    decay: Vec<Lane<N>>,
    rise: Vec<Lane<N>>,
    /// Loss [W/K] and capacity [J/K] of the room, and what is left of its own warmth after the step of each lane.
    room: Option<(f64, f64, Lane<N>)>,
    /// Temperature of each module at the end, its neighbours staying as they were, and how much more that is than at the
    /// start; at last a change of zero [°C], [K].
    first_pass: Vec<Lane<N>>,
    changes: Vec<Lane<N>>,
    /// The relaxations of the width that nearly all steps have.
    usual: (f64, Vec<Relaxation>),
}

impl<const N: usize> Thermal<N> {
    /// `room`: loss [W/K] and heat capacity [J/K]. `usual`: the width of most steps [s].
    pub fn new(couplings: &[Coupling], gradient: f64, room: Option<(f64, f64)>, usual: f64) -> Thermal<N> {
        let count = couplings.len();
        let none = |k: usize| Neighbour { module: k, there: 0.0, change: count };
        let some = |n: usize| Neighbour { module: n, there: 1.0, change: n };
        let neighbour = |k: usize, n: Option<usize>| n.map_or_else(|| none(k), some);
        let both = couplings.iter().enumerate().map(|(k, c)| [neighbour(k, c.below), neighbour(k, c.above)]);
        Thermal {
            neighbours: both.collect(),
            couplings: couplings.to_vec(),
            gradient,
            decay: vec![Lane::ONE; count],
            rise: vec![Lane::ZERO; count],
            room: room.map(|(loss, capacity)| (loss, capacity, Lane::ZERO)),
            first_pass: vec![Lane::ZERO; count],
            changes: vec![Lane::ZERO; count + 1],
            usual: (usual, couplings.iter().map(|c| Relaxation::over(usual, c)).collect()),
        }
    }

    /// Sets the width of a lane's step [s].
    pub fn set_width(&mut self, lane: usize, seconds: f64) {
        for (k, coupling) in self.couplings.iter().enumerate() {
            let usual = seconds == self.usual.0;
            let over = if usual { self.usual.1[k] } else { Relaxation::over(seconds, coupling) };
            (self.decay[k][lane], self.rise[k][lane]) = (over.decay, over.rise);
        }
        if let Some((loss, capacity, left)) = &mut self.room {
            left[lane] = math::exp(-*loss * seconds / *capacity);
        }
    }

    /// Air around module k above that at floor level [K].
    #[inline(always)]
    fn air_rise(&self, k: usize) -> f64 {
        self.gradient * self.couplings[k].height
    }

    /// How much the bank and the inverter warm the room by the end of the step [K]. `module`: temperature [°C] and loss
    /// [W] of each now; `others`: what everything else in the room turns to heat [W].
    #[inline(always)]
    pub fn warm_room<'a>(
        &self,
        now: &AirLanes<N>,
        module: impl Fn(usize) -> (&'a Lane<N>, &'a Lane<N>),
        others: [&Lane<N>; 2],
    ) -> Lane<N> {
        let Some((loss, _, left)) = &self.room else { return Lane::ZERO };
        let room = now.warmed_room();
        let mut sum = Lane::<N>::ZERO;
        for k in opaque_range::<N>(self.couplings.len()) {
            let (celsius, own_loss) = module(k);
            let (before, rise) = (sum, self.air_rise(k));
            // A module without heat of its own gives all of its loss to the air.
            let given = match self.couplings[k].heat {
                Some(heat) => lanes(|l| heat.to_air * (celsius[l] - (room[l] + rise))),
                None => *own_loss,
            };
            sum = lanes(|l| before[l] + given[l]);
        }
        let [conductors, inverter] = others;
        lanes(|l| {
            let settled = (sum[l] + conductors[l] + inverter[l]) / loss;
            settled + (now.own[l] - settled) * left[l]
        })
    }

    /// Temperature of module k at the end, with the losses of the start [W] and its neighbours staying as they are.
    /// `module`: temperature [°C] and loss [W] of each at the start.
    #[inline(always)]
    pub fn foresee<'a>(
        &self,
        k: usize,
        around: &Around<N>,
        module: impl Fn(usize) -> (&'a Lane<N>, &'a Lane<N>),
    ) -> Lane<N> {
        let (coupling, air_rise) = (&self.couplings[k], self.air_rise(k));
        let Some(heat) = coupling.heat else { return lanes(|l| around.room_after[l] + air_rise) };
        let to_floor = coupling.floor_conductance(&heat);
        let [(below, is_below), (above, is_above)] = self.neighbours[k].map(|n| (module(n.module).0, n.there));
        let near: Lane<N> = lanes(|l| is_below * below[l] + is_above * above[l]);
        let (from, loss) = module(k);
        let (decay, rise) = (&self.decay[k], &self.rise[k]);
        lanes(|l| {
            let inflow = loss[l]
                + heat.to_air * (around.room[l] + air_rise)
                + to_floor * around.floor[l]
                + heat.to_neighbour * near[l];
            from[l] * decay[l] + inflow * rise[l]
        })
    }

    /// The same once the losses at both ends are known [W]: heat is linear, so that only what is new is added. `from`: its
    /// temperature at the start. Of all modules before `settle`.
    #[inline(always)]
    pub fn correct(&mut self, k: usize, foreseen: &Lane<N>, from: &Lane<N>, (start, end): (&Lane<N>, &Lane<N>)) {
        let rise = &self.rise[k];
        let first = match self.couplings[k].heat {
            Some(_) => lanes(|l| foreseen[l] + 0.5 * (end[l] - start[l]) * rise[l]),
            None => *foreseen,
        };
        (self.first_pass[k], self.changes[k]) = (first, lanes(|l| first[l] - from[l]));
    }

    /// Temperature of module k at the end, with its neighbours on the way to where they were foreseen; and by how much
    /// that moved it: more than what is left of the step's error [K].
    #[inline(always)]
    pub fn settle(&self, k: usize) -> (Lane<N>, Lane<N>) {
        let first = self.first_pass[k];
        let Some(heat) = self.couplings[k].heat else { return (first, Lane::ZERO) };
        let [below, above] = self.neighbours[k].map(|n| &self.changes[n.change]);
        let rise = &self.rise[k];
        let settled: Lane<N> = lanes(|l| first[l] + heat.to_neighbour * (0.5 * (below[l] + above[l])) * rise[l]);
        (settled, lanes(|l| (settled[l] - first[l]).abs()))
    }
}

/// The bank in thermal equilibrium.
struct AtRest<'a> {
    couplings: &'a [Coupling],
    gradient: f64,
}

impl AtRest<'_> {
    /// Air around module k [°C].
    fn air(&self, k: usize, around: &Surroundings) -> f64 {
        around.room + self.gradient * self.couplings[k].height
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
    /// With these losses [W]: of all modules, for a degree of room and of floor.
    pub fn new(couplings: &[Coupling], gradient: f64, losses: &[f64]) -> Rest {
        let none = Surroundings { outdoor: 0.0, room: 0.0, floor: 0.0 };
        let idle = vec![0.0; losses.len()];
        let (real, flat) = (AtRest { couplings, gradient }, AtRest { couplings, gradient: 0.0 });
        Rest {
            by_itself: real.settled(losses, &none),
            by_room: flat.settled(&idle, &Surroundings { room: 1.0, ..none }),
            by_floor: flat.settled(&idle, &Surroundings { floor: 1.0, ..none }),
        }
    }

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

    const AROUND: AirLanes<1> = AirLanes { outdoor: TEN, room: TEN, floor: TEN, own: Lane::ZERO };
    const TEN: Lane<1> = Lane([10.0]);

    fn one(heat: Heat) -> Vec<Coupling> {
        vec![Coupling { heat: Some(heat), height: 0.1, on_floor: true, below: None, above: None }]
    }

    /// As a trial's step does, with losses that are foreseen and then known.
    fn step(couplings: &[Coupling], gradient: f64, seconds: f64, from: &[f64], losses: (&[f64], &[f64])) -> Vec<f64> {
        step_in(&AROUND, couplings, gradient, seconds, from, losses)
    }

    fn step_in(
        air: &AirLanes<1>,
        couplings: &[Coupling],
        gradient: f64,
        seconds: f64,
        from: &[f64],
        (start, end): (&[f64], &[f64]),
    ) -> Vec<f64> {
        let mut thermal = Thermal::<1>::new(couplings, gradient, None, 900.0);
        thermal.set_width(0, seconds);
        let lanes_of = |numbers: &[f64]| numbers.iter().map(|x| Lane([*x])).collect::<Vec<_>>();
        let (from, start, end) = (lanes_of(from), lanes_of(start), lanes_of(end));
        let around = Around::between(air, air);
        for k in 0..from.len() {
            let foreseen = thermal.foresee(k, &around, |n| (&from[n], &start[n]));
            thermal.correct(k, &foreseen, &from[k], (&start[k], &end[k]));
        }
        (0..from.len()).map(|k| thermal.settle(k).0[0]).collect()
    }

    /// 45 kJ/K with 5.7 W/K has a time constant of 2.2 h; 150 W (100 A through 15 mΩ) warm it at
    /// 12 K/h at first (by hand: C/G and q/C; the conductances are assumed).
    #[test]
    fn thermal_step_of_one_module() {
        let heat = Heat { capacity: 45e3, to_air: 5.7, to_floor: 0.0, to_neighbour: 0.0 };
        let bank = one(heat);
        let to = step(&bank, 0.0, 36.0, &[10.0], (&[150.0], &[150.0]));
        assert!(((to[0] - 10.0) * 100.0 - 12.0).abs() < 0.03, "{}", to[0]);
        let tau = 45e3 / 5.7;
        assert!((tau / 3600.0 - 2.19_f64).abs() < 0.01);
        let to = step(&bank, 0.0, tau, &[10.0], (&[150.0], &[150.0]));
        let wanted = 10.0 + 150.0 / 5.7 * (1.0 - (-1.0_f64).exp());
        assert!((to[0] - wanted).abs() < 1e-9);
    }

    /// A step in parts is the same as whole, and two coupled modules exchange what they should: the
    /// difference of two equal ones decays with C/(G + 2·Gn) (by hand).
    #[test]
    fn neighbours_even_out() {
        let heat = Heat { capacity: 45e3, to_air: 2.3, to_floor: 0.0, to_neighbour: 6.0 };
        let couple = |below, above| Coupling { heat: Some(heat), height: 0.0, on_floor: false, below, above };
        let bank = [couple(None, Some(1)), couple(Some(0), None)];
        let t = (0..60).fold(vec![20.0, 0.0], |t, _| step(&bank, 0.0, 60.0, &t, (&[0.0; 2], &[0.0; 2])));
        let wanted = 20.0 * (-(2.3 + 12.0) * 3600.0 / 45e3_f64).exp();
        assert!((t[0] - t[1] - wanted).abs() < 2e-4, "{} {wanted}", t[0] - t[1]);
        assert!((t[0] + t[1] - 20.0).abs() < 1e-6, "the mean is that of the air");
    }

    /// What is known of the losses only once the network is solved changes the end as if it had been known before.
    #[test]
    fn what_is_added_later_adds_up() {
        let heat = Heat { capacity: 45e3, to_air: 2.3, to_floor: 5.0, to_neighbour: 8.0 };
        let couple = |on_floor, below, above| Coupling { heat: Some(heat), height: 0.1, on_floor, below, above };
        let bank = [couple(true, None, Some(1)), couple(false, Some(0), None)];
        let (from, mean) = ([4.0, 9.0], [60.0, 30.0]);
        let at_once = step(&bank, 1.5, 900.0, &from, (&mean, &mean));
        let later = step(&bank, 1.5, 900.0, &from, (&[20.0, 40.0], &[100.0, 20.0]));
        assert!(at_once.iter().zip(&later).all(|(a, b)| (a - b).abs() < 1e-12), "{at_once:?} {later:?}");
    }

    /// What no heat leaves keeps all of its loss: q·t/C (by hand).
    #[test]
    fn an_insulated_module_keeps_its_heat() {
        let bank = one(Heat { capacity: 45e3, to_air: 0.0, to_floor: 0.0, to_neighbour: 0.0 });
        let to = step(&bank, 0.0, 900.0, &[10.0], (&[100.0], &[100.0]));
        assert!((to[0] - 12.0).abs() < 1e-12, "{to:?}");
    }

    #[test]
    fn settled_is_where_nothing_changes() {
        let heat = Heat { capacity: 45e3, to_air: 2.0, to_floor: 4.0, to_neighbour: 6.0 };
        let couple = |on_floor, below, above| Coupling { heat: Some(heat), height: 0.1, on_floor, below, above };
        let bank = [couple(true, None, Some(1)), couple(false, Some(0), None)];
        let t =
            Rest::new(&bank, 2.0, &[3.0, 3.0]).temperatures(&Surroundings { outdoor: -20.0, room: 5.0, floor: -1.0 });
        let air = AirLanes { outdoor: Lane([-20.0]), room: Lane([5.0]), floor: Lane([-1.0]), own: Lane::ZERO };
        let to = step_in(&air, &bank, 2.0, 3600.0, &t, (&[3.0, 3.0], &[3.0, 3.0]));
        assert!((to[0] - t[0]).abs() < 1e-6 && (to[1] - t[1]).abs() < 1e-6);
        assert!(t[0] < t[1], "the one on the cold floor is colder");
    }
}
