//! N networks of one topology at once, as long as they are linear: every branch a voltage behind a resistance, or open.
//!
//! In: for each lane the conductances and electromotive forces of one moment, and what the load asks.
//! Out: branch currents and terminals of each lane, and which lanes are sound.
//!
//! A sound lane has the bits of `Solver::solve` for branches that pass current both ways or are open. A lane that is not
//! sound is for `Solver` to solve.

use super::elimination::Elimination;
use super::lane::{Lane, greater, lanes, mask, select};
use super::solve::REFINE_BEYOND;
use super::thevenin::Thevenin;
use super::{Demand, Network};

/// What the load asks of the terminals, lane by lane; positive discharges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LaneDemand<const N: usize> {
    /// [W] where `is_power`, else [A].
    pub amount: Lane<N>,
    /// Whether `amount` is a power.
    pub is_power: [bool; N],
}

impl<const N: usize> LaneDemand<N> {
    /// No current.
    pub const NONE: LaneDemand<N> = LaneDemand { amount: Lane::ZERO, is_power: [false; N] };

    /// The demand of each lane.
    pub fn new(demands: &[Demand; N]) -> LaneDemand<N> {
        let mut all = LaneDemand::NONE;
        demands.iter().enumerate().for_each(|(l, demand)| all.set(l, *demand));
        all
    }

    /// Sets the demand of one lane.
    pub fn set(&mut self, lane: usize, demand: Demand) {
        (self.amount[lane], self.is_power[lane]) = match demand {
            Demand::Power(watts) => (watts, true),
            Demand::Current(amps) => (amps, false),
        };
    }
}

/// What the load sees, lane by lane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LaneTerminals<const N: usize> {
    /// [V]
    pub voltage: Lane<N>,
    /// [A], positive in discharge.
    pub current: Lane<N>,
    /// Greatest departure from Kirchhoff's current law at any node [A].
    pub kirchhoff: Lane<N>,
    /// Whether the demand is carried, all numbers finite. The other
    /// numbers of a lane that is not sound mean nothing.
    pub sound: [bool; N],
}

impl<const N: usize> LaneTerminals<N> {
    /// Before anything is solved.
    pub const NONE: LaneTerminals<N> =
        LaneTerminals { voltage: Lane::ZERO, current: Lane::ZERO, kirchhoff: Lane::ZERO, sound: [false; N] };
}

/// The solver of linear networks.
#[derive(Clone, Debug)]
pub struct LinearSolver<const N: usize> {
    elimination: Elimination<N>,
    current: Vec<Lane<N>>,
}

impl<const N: usize> LinearSolver<N> {
    /// The first `sources` branches have an electromotive force, the others are conductors.
    pub fn new(network: &Network, sources: usize) -> LinearSolver<N> {
        let elimination = Elimination::new(network, sources);
        LinearSolver { current: vec![Lane::ZERO; network.branches().len()], elimination }
    }

    /// Branch currents of the last solution [A].
    #[inline(always)]
    pub fn currents(&self) -> &[Lane<N>] {
        &self.current
    }

    /// Exchanges them for a buffer of the same length, so that they need not be copied.
    #[inline(always)]
    pub fn give_currents(&mut self, to: &mut Vec<Lane<N>>) {
        std::mem::swap(&mut self.current, to);
    }

    /// Voltage from `from` to `to` along a branch of the last solution [V].
    #[inline(always)]
    pub fn along(&self, branch: usize) -> Lane<N> {
        self.elimination.along(branch)
    }

    /// Solves all lanes. `emf` [V] is of the sources and finite; `conductance` [S] is of every branch,
    /// finite, 0 where it is open.
    ///
    /// # Panics
    /// On fewer EMFs or conductances than the network has.
    #[inline(always)]
    pub fn solve(&mut self, emf: &[Lane<N>], conductance: &[Lane<N>], demand: &LaneDemand<N>) -> LaneTerminals<N> {
        let level = highest(emf, conductance);
        self.solve_at(level, emf, conductance, demand)
    }

    /// The same with this level of the positive rail [V]: the highest EMF of what is not open, be it blocked.
    #[inline(always)]
    pub fn solve_at(
        &mut self,
        level: Lane<N>,
        emf: &[Lane<N>],
        conductance: &[Lane<N>],
        demand: &LaneDemand<N>,
    ) -> LaneTerminals<N> {
        let (sources, branches) = (self.elimination.schedule.sources, self.current.len());
        let (emf, conductance) = (&emf[..sources], &conductance[..branches]);
        self.load(emf, conductance, level);
        let mut terminals = self.meet(conductance, demand);
        self.take_currents(emf, conductance);
        self.balance(&mut terminals);
        let needs: Lane<N> = mask(|l| terminals.kirchhoff[l] > REFINE_BEYOND);
        if needs.iter().zip(&terminals.sound).any(|(&needs, &sound)| needs > 0.0 && sound) {
            self.refine(conductance, &needs);
            self.balance(&mut terminals);
        }
        terminals
    }

    /// Sets the level of the positive rail, and what each branch injects.
    #[inline(always)]
    fn load(&mut self, emf: &[Lane<N>], conductance: &[Lane<N>], level: Lane<N>) {
        self.elimination.set_level(level);
        // A closure handed on would not be compiled for the vectors of the caller.
        for place in 0..self.elimination.injecting() {
            let k = self.elimination.injecting_branch(place);
            let e = emf.get(k).copied().unwrap_or(Lane::ZERO);
            let amps = self.elimination.injection(k, &e, &conductance[k]);
            self.elimination.set_injection(place, amps);
        }
    }

    /// Eliminates, and finds the voltage and current that meet the demand.
    #[inline(always)]
    fn meet(&mut self, conductance: &[Lane<N>], demand: &LaneDemand<N>) -> LaneTerminals<N> {
        let (emf, resistance, between) = self.elimination.factorise(conductance);
        let mut terminals = LaneTerminals::NONE;
        let mut carried = Lane::<N>::ZERO;
        for l in 0..N {
            let line = Thevenin { emf: emf[l], resistance: resistance[l] };
            let amount = demand.amount[l];
            let (root, reached) = line.least_current(amount);
            // No power asks for no current, whatever the voltage.
            let is_power = demand.is_power[l] & (amount != 0.0);
            let asked = if amount == 0.0 { 0.0 } else { amount };
            let amps = if is_power { root } else { asked };
            let met = (is_power & reached) | (!is_power & line.carries(asked));
            let joined = between[l] > 0.0;
            // Where nothing joins the terminals nothing can be asked of them, and what is left apart is solved all the same.
            carried[l] = if met & (joined | (amount == 0.0)) { 1.0 } else { 0.0 };
            (terminals.current[l], terminals.voltage[l]) = (amps, if joined { line.voltage(amps) } else { 0.0 });
        }
        terminals.sound = carried.map(|c| c > 0.0);
        self.elimination.substitute(&resistance, &terminals.current);
        terminals
    }

    #[inline(always)]
    fn take_currents(&mut self, emf: &[Lane<N>], conductance: &[Lane<N>]) {
        let (elimination, sources) = (&self.elimination, emf.len());
        // The last zero makes −0 A of an open branch +0 A, and changes nothing else.
        for k in 0..sources {
            let (drive, g) = (elimination.drive(k, &emf[k]), conductance[k]);
            self.current[k] = lanes(|l| drive[l] * g[l] + 0.0);
        }
        for k in sources..self.current.len() {
            let (drive, g) = (elimination.drive_on_rail(k), conductance[k]);
            self.current[k] = lanes(|l| drive[l] * g[l] + 0.0);
        }
        // Conductors between the rails are rare.
        for &k in &elimination.schedule.injecting[sources..] {
            let (drive, g) = (elimination.drive(k as usize, &Lane::ZERO), conductance[k as usize]);
            self.current[k as usize] = lanes(|l| drive[l] * g[l] + 0.0);
        }
    }

    #[inline(always)]
    fn balance(&mut self, terminals: &mut LaneTerminals<N>) {
        let current = &self.current;
        let balance = self.elimination.balance(|k| current[k], &terminals.current);
        for l in 0..N {
            // The sum is there for what is not a number, which no comparison would see.
            terminals.sound[l] &= balance.sum[l].is_finite();
        }
        terminals.kirchhoff = balance.worst;
    }

    /// One step of iterative refinement of the lanes that need it.
    #[inline(always)]
    fn refine(&mut self, conductance: &[Lane<N>], needs: &Lane<N>) {
        self.elimination.refine();
        for (k, g) in conductance.iter().enumerate() {
            let (more, before) = (self.elimination.response_along(k), self.current[k]);
            self.current[k] = select(needs, lanes(|l| before[l] + more[l] * g[l]), before);
        }
    }
}

/// The highest of some numbers above 0 in each lane, of those whose mask is above 0; 0 where there is none.
#[inline(always)]
pub fn highest<'a, const N: usize>(
    numbers: impl IntoIterator<Item = &'a Lane<N>>,
    masks: impl IntoIterator<Item = &'a Lane<N>>,
) -> Lane<N> {
    let mut highest = Lane::ZERO;
    for (x, mask) in numbers.into_iter().zip(masks) {
        highest = greater(&highest, &select(mask, *x, Lane::ZERO));
    }
    highest
}
