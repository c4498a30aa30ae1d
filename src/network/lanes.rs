//! The elimination of several trials at once: one plan, numbers of their own.
//!
//! In: for each lane the conductances and electromotive forces of one moment, and what the load asks.
//! Out: branch currents and terminals of each lane, and which lanes are sound.
//!
//! A lane is one trial's number among its neighbours', so that one vector instruction serves them
//! all. The operations are those of `Elimination`, `Thevenin` and `Solver` in the same order, none of
//! them fused, so that a sound lane has the bits of `Solver::solve` for branches that pass current
//! both ways or are open. A lane that is not sound is for `Solver` to solve.
//!
//! Everything hot is inlined into the caller: what calls it from a function compiled for wider
//! vectors (`pulp::Arch::dispatch`) has it compiled for them, with the same bits.

pub mod lane;
mod layout;

use super::solve::REFINE_BEYOND;
use super::{Demand, Network};
use lane::add;
use layout::Layout;

pub use lane::{LANES, Lane, ZERO, any, any_of, choose, lanes, one_by_one, whole};

/// What the load asks of the terminals, lane by lane; positive discharges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LaneDemand {
    /// [W] where `is_power`, else [A].
    pub amount: Lane,
    pub is_power: [bool; LANES],
}

impl LaneDemand {
    pub fn new(demands: &[Demand; LANES]) -> LaneDemand {
        let amount = |demand: Demand| match demand {
            Demand::Current(x) | Demand::Power(x) => x,
        };
        LaneDemand {
            amount: Lane(demands.map(amount)),
            is_power: demands.map(|demand| matches!(demand, Demand::Power(_))),
        }
    }
}

/// What the load sees, lane by lane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LaneTerminals {
    /// [V]
    pub voltage: Lane,
    /// [A], positive in discharge.
    pub current: Lane,
    /// Greatest departure from Kirchhoff's current law at any node [A].
    pub kirchhoff: Lane,
    /// Whether the demand is carried by branches that join the terminals, all numbers finite. The other
    /// numbers of a lane that is not sound mean nothing.
    pub sound: [bool; LANES],
}

/// A plan as flat lists, and the working memory of one solution.
#[derive(Clone, Debug)]
pub struct LaneSolver {
    layout: Layout,
    /// Level of the positive rail [V]: potentials of positive nodes are relative to it.
    level: Lane,
    /// By the branches that inject.
    injected: Vec<Lane>,
    conductance: Vec<Lane>,
    /// Of each slot: g_i/Σg of the pivot that used it up.
    share: Vec<Lane>,
    /// What is injected at each node once those before it are eliminated.
    arrived: Vec<Lane>,
    /// J/Σg of each pivot; then its potential.
    potential: Vec<Lane>,
    /// Residual of each node; then the correction of a refinement.
    response: Vec<Lane>,
    current: Vec<Lane>,
}

impl LaneSolver {
    /// The first `sources` branches have an electromotive force, the others are conductors.
    pub fn new(network: &Network, sources: usize) -> LaneSolver {
        let layout = Layout::new(network, sources);
        let nodes = layout.meeting.len();
        LaneSolver {
            level: ZERO,
            injected: vec![ZERO; layout.injecting.len()],
            conductance: vec![ZERO; layout.slots],
            share: vec![ZERO; layout.slots],
            arrived: vec![ZERO; layout.degrees.len()],
            potential: vec![ZERO; nodes],
            response: vec![ZERO; nodes],
            current: vec![ZERO; layout.wires.len()],
            layout,
        }
    }

    /// Branch currents of the last solution [A].
    #[inline(always)]
    pub fn currents(&self) -> &[Lane] {
        &self.current
    }

    /// Exchanges them for a buffer of the same length, so that they need not be copied.
    #[inline(always)]
    pub fn give_currents(&mut self, to: &mut Vec<Lane>) {
        std::mem::swap(&mut self.current, to);
    }

    /// Voltage from `from` to `to` along a branch of the last solution [V].
    #[inline(always)]
    pub fn along(&self, branch: usize) -> Lane {
        let wire = self.layout.wires[branch];
        let (from, to) = (&self.potential[wire.from as usize], &self.potential[wire.to as usize]);
        lanes(|l| from[l] - to[l] - wire.rise * self.level[l])
    }

    /// Solves all lanes. `emf` [V] is of the sources and finite; `conductance` [S] is of every branch,
    /// finite, 0 where it is open.
    ///
    /// # Panics
    /// On fewer EMFs or conductances than the network has.
    #[inline(always)]
    pub fn solve(&mut self, emf: &[Lane], conductance: &[Lane], demand: &LaneDemand) -> LaneTerminals {
        let (emf, conductance) = (&emf[..self.layout.sources], &conductance[..self.layout.wires.len()]);
        self.load(emf, conductance);
        self.eliminate(conductance);
        let (mut terminals, above) = self.meet(demand);
        self.substitute(above);
        self.take_currents(emf, conductance);
        self.balance(&mut terminals);
        let needs = lanes(|l| if terminals.kirchhoff[l] > REFINE_BEYOND { 1.0 } else { 0.0 });
        if needs.iter().zip(&terminals.sound).any(|(&needs, &sound)| needs > 0.0 && sound) {
            self.refine(conductance, &needs);
            self.balance(&mut terminals);
        }
        terminals
    }

    /// Sets the level of the positive rail, and what each branch injects.
    #[inline(always)]
    fn load(&mut self, emf: &[Lane], conductance: &[Lane]) {
        let mut level = ZERO;
        for (e, g) in emf.iter().zip(conductance) {
            let before = level;
            level = lanes(|l| {
                let here = if g[l] > 0.0 { e[l] } else { 0.0 };
                if here > before[l] { here } else { before[l] }
            });
        }
        self.level = level;
        for (injected, &k) in self.injected.iter_mut().zip(&self.layout.injecting) {
            let (g, rise) = (conductance[k as usize], self.layout.wires[k as usize].rise);
            let e = emf.get(k as usize).copied().unwrap_or(ZERO);
            *injected = lanes(|l| g[l] * (e[l] - rise * level[l]));
        }
    }

    /// Eliminates every node but the terminals.
    #[inline(always)]
    fn eliminate(&mut self, given: &[Lane]) {
        let layout = &self.layout;
        let mut program = &layout.program[..];
        let mut numbers = Numbers {
            given,
            injected: &self.injected,
            conductance: &mut self.conductance,
            share: &mut self.share,
            arrived: &mut self.arrived,
            potential: &mut self.potential,
        };
        let mut used = 0;
        for (k, &degree) in layout.degrees.iter().enumerate() {
            // With a number of neighbours that the compiler knows, it writes their loops out.
            match degree {
                2 => numbers.pivot(k, used, 2, &mut program),
                3 => numbers.pivot(k, used, 3, &mut program),
                _ => numbers.pivot(k, used, degree as usize, &mut program),
            }
            used += degree as usize;
        }
    }

    /// The Thevenin pair at the terminals, and the voltage and current that meet the demand; the voltage
    /// relative to the levels of the rails as well.
    #[inline(always)]
    fn meet(&self, demand: &LaneDemand) -> (LaneTerminals, Lane) {
        let between = self.conductance[self.conductance.len() - 1];
        let injected = self.arrived[self.layout.positive()];
        let mut terminals = LaneTerminals { voltage: ZERO, current: ZERO, kirchhoff: ZERO, sound: [false; LANES] };
        let (mut carried, mut above) = (ZERO, ZERO);
        for l in 0..LANES {
            let resistance = 1.0 / between[l];
            let open_circuit = injected[l] * resistance;
            let emf = open_circuit + self.layout.terminal_rise * self.level[l];
            let amount = demand.amount[l];
            let discriminant = emf * emf - 4.0 * resistance * amount;
            let root = 2.0 * amount / (emf + discriminant.sqrt());
            // No power asks for no current, whatever the voltage.
            let is_power = demand.is_power[l] & (amount != 0.0);
            let asked = if amount == 0.0 { 0.0 } else { amount };
            let amps = if is_power { root } else { asked };
            let voltage = emf - resistance * amps;
            let by_power = (emf > 0.0) & (discriminant >= 0.0) & root.is_finite();
            let by_current = (amount <= 0.0) | (voltage > 0.0);
            let met = (is_power & by_power) | (!is_power & by_current);
            carried[l] = if met & (between[l] > 0.0) { 1.0 } else { 0.0 };
            terminals.current[l] = amps;
            terminals.voltage[l] = voltage;
            above[l] = open_circuit - resistance * amps;
        }
        terminals.sound = carried.map(|c| c > 0.0);
        (terminals, above)
    }

    /// Potentials of all nodes, relative to the levels of their rails as that of the terminals is.
    #[inline(always)]
    fn substitute(&mut self, terminal: Lane) {
        self.potential[self.layout.positive()] = terminal;
        self.potential[self.layout.negative()] = ZERO;
        back_substitute(&self.layout, &self.share, &mut self.potential);
    }

    #[inline(always)]
    fn take_currents(&mut self, emf: &[Lane], conductance: &[Lane]) {
        let (layout, level, potential) = (&self.layout, self.level, &self.potential[..]);
        let (sourced, plain) = self.current.split_at_mut(layout.sources);
        // The last zero makes −0 A of an open branch +0 A, and changes nothing else.
        for (((current, wire), g), e) in sourced.iter_mut().zip(&layout.wires).zip(conductance).zip(emf) {
            let (from, to) = (potential[wire.from as usize], potential[wire.to as usize]);
            *current = lanes(|l| ((from[l] - to[l]) + (e[l] - wire.rise * level[l])) * g[l] + 0.0);
        }
        let wires = &layout.wires[layout.sources..];
        for ((current, wire), g) in plain.iter_mut().zip(wires).zip(&conductance[layout.sources..]) {
            let (from, to) = (potential[wire.from as usize], potential[wire.to as usize]);
            *current = lanes(|l| (from[l] - to[l]) * g[l] + 0.0);
        }
        // Conductors between the rails are rare.
        for &k in &layout.injecting[layout.sources..] {
            let (wire, g) = (layout.wires[k as usize], conductance[k as usize]);
            let (from, to) = (potential[wire.from as usize], potential[wire.to as usize]);
            self.current[k as usize] = lanes(|l| ((from[l] - to[l]) + (0.0 - wire.rise * level[l])) * g[l] + 0.0);
        }
    }

    /// Kirchhoff's current law at every node: what flows in beyond what flows out.
    #[inline(always)]
    fn balance(&mut self, terminals: &mut LaneTerminals) {
        let layout = &self.layout;
        let mut incidence = &layout.incidence[..];
        // The sum is there for what is not a number, which no comparison would see.
        let (mut worst, mut sum) = (ZERO, ZERO);
        for (k, (&(arrive, leave), kept)) in layout.meeting.iter().zip(&mut self.response).enumerate() {
            let mut residual = ZERO;
            for &branch in first(&mut incidence, arrive) {
                add(&mut residual, self.current[branch as usize]);
            }
            for &branch in first(&mut incidence, leave) {
                let (before, current) = (residual, self.current[branch as usize]);
                residual = lanes(|l| before[l] - current[l]);
            }
            if k >= layout.positive() {
                let sign = if k == layout.positive() { -1.0 } else { 1.0 };
                add(&mut residual, lanes(|l| sign * terminals.current[l]));
            }
            let before = worst;
            worst = lanes(|l| if residual[l].abs() > before[l] { residual[l].abs() } else { before[l] });
            add(&mut sum, residual);
            *kept = residual;
        }
        for l in 0..LANES {
            terminals.sound[l] &= sum[l].is_finite();
        }
        terminals.kirchhoff = worst;
    }

    /// One step of iterative refinement of the lanes that need it: the residual, injected, gives the
    /// correction of the drives.
    #[inline(always)]
    fn refine(&mut self, given: &[Lane], needs: &Lane) {
        let (layout, response) = (&self.layout, &mut self.response[..]);
        let (mut receipts, mut slots) = (&layout.receipts[..], &self.conductance[..]);
        for (k, (&degree, &count)) in layout.degrees.iter().zip(&layout.received).enumerate() {
            let mut here = response[k];
            for &(share, earlier) in first(&mut receipts, count) {
                let (share, earlier) = (self.share[share as usize], self.arrived[earlier as usize]);
                add(&mut here, lanes(|l| share[l] * earlier[l]));
            }
            let mut sum = ZERO;
            first(&mut slots, degree).iter().for_each(|g| add(&mut sum, *g));
            let inverse = inverse_of(&sum);
            self.arrived[k] = here;
            response[k] = lanes(|l| inverse[l] * here[l]);
        }
        response[layout.negative()] = ZERO;
        back_substitute(layout, &self.share, response);
        for ((current, wire), g) in self.current.iter_mut().zip(&layout.wires).zip(given) {
            let (from, to, before) = (response[wire.from as usize], response[wire.to as usize], *current);
            *current = lanes(|l| {
                let refined = before[l] + (from[l] - to[l]) * g[l];
                if needs[l] > 0.0 { refined } else { before[l] }
            });
        }
    }
}

/// The numbers that an elimination reads and writes.
struct Numbers<'a> {
    given: &'a [Lane],
    injected: &'a [Lane],
    conductance: &'a mut [Lane],
    share: &'a mut [Lane],
    arrived: &'a mut [Lane],
    potential: &'a mut [Lane],
}

impl Numbers<'_> {
    /// Eliminates node `k`, whose slots begin at `used`: its star becomes a mesh between its neighbours, and
    /// what is injected at it is shared among them. `program` is `Layout::program` from here on.
    #[inline(always)]
    fn pivot(&mut self, k: usize, used: usize, degree: usize, program: &mut &[u32]) {
        let mut sum = ZERO;
        let (before, own) = self.conductance.split_at_mut(used);
        let (shares_before, shares) = self.share.split_at_mut(used);
        let (own, shares) = (&mut own[..degree], &mut shares[..degree]);
        for own in own.iter_mut() {
            let [branch, parallel, joins] = next(program);
            let mut g = self.given.get(branch as usize).copied().unwrap_or(ZERO);
            for &k in first(program, parallel) {
                add(&mut g, self.given[k as usize]);
            }
            for _ in 0..joins {
                let [i, j] = next(program);
                let (g_i, share_j) = (before[i as usize], shares_before[j as usize]);
                add(&mut g, lanes(|l| g_i[l] * share_j[l]));
            }
            *own = g;
            add(&mut sum, g);
        }
        let [arriving, leaving, receipts] = next(program);
        let mut here = ZERO;
        for &k in first(program, arriving) {
            add(&mut here, self.injected[k as usize]);
        }
        for &k in first(program, leaving) {
            let (before, injected) = (here, self.injected[k as usize]);
            here = lanes(|l| before[l] - injected[l]);
        }
        for _ in 0..receipts {
            let [share, earlier] = next(program);
            let (share, earlier) = (shares_before[share as usize], self.arrived[earlier as usize]);
            add(&mut here, lanes(|l| share[l] * earlier[l]));
        }
        let inverse = inverse_of(&sum);
        for (share, g) in shares.iter_mut().zip(own) {
            *share = lanes(|l| g[l] * inverse[l]);
        }
        self.arrived[k] = here;
        self.potential[k] = lanes(|l| inverse[l] * here[l]);
    }
}

/// v = J/Σg + Σ (g_i/Σg)·v_i from the last pivot but one to the first. J/Σg stands in `values`, of the
/// terminals the value itself.
#[inline(always)]
fn back_substitute(layout: &Layout, shares: &[Lane], values: &mut [Lane]) {
    let (mut nodes, mut shares) = (&layout.neighbours[..], &shares[..layout.neighbours.len()]);
    for (k, &degree) in layout.degrees[..layout.positive()].iter().enumerate().rev() {
        let (earlier, share) = shares.split_at(shares.len() - degree as usize);
        let (earlier_nodes, near) = nodes.split_at(nodes.len() - degree as usize);
        let mut value = values[k];
        for (share, &node) in share.iter().zip(near) {
            let there = values[node as usize];
            add(&mut value, lanes(|l| share[l] * there[l]));
        }
        values[k] = value;
        (shares, nodes) = (earlier, earlier_nodes);
    }
}

/// Takes so many off the front of a list.
#[inline(always)]
fn first<'a, T>(list: &mut &'a [T], count: u32) -> &'a [T] {
    let (first, rest) = list.split_at(count as usize);
    *list = rest;
    first
}

/// Takes so many words off the front of a program, which is as long as it says.
#[inline(always)]
fn next<const N: usize>(program: &mut &[u32]) -> [u32; N] {
    match program.split_first_chunk() {
        Some((words, rest)) => {
            *program = rest;
            *words
        }
        None => [0; N],
    }
}

/// 1/Σg, or 0 for the reference of an island.
#[inline(always)]
fn inverse_of(sum: &Lane) -> Lane {
    lanes(|l| {
        let inverse = 1.0 / sum[l];
        if sum[l] > 0.0 { inverse } else { 0.0 }
    })
}
