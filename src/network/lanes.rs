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

use super::plan::Plan;
use super::solve::REFINE_BEYOND;
use super::{Branch, Demand, Network, Rail};
use std::ops::{Deref, DerefMut};

/// Trials that are solved at once: so many that the latency of one pivot hides behind the next.
pub const LANES: usize = 16;

/// A number of each trial. Aligned, so that a vector lies in one line of the cache.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[repr(align(64))]
pub struct Lane(pub [f64; LANES]);

const ZERO: Lane = Lane([0.0; LANES]);

impl Deref for Lane {
    type Target = [f64; LANES];

    #[inline(always)]
    fn deref(&self) -> &[f64; LANES] {
        &self.0
    }
}

impl DerefMut for Lane {
    #[inline(always)]
    fn deref_mut(&mut self) -> &mut [f64; LANES] {
        &mut self.0
    }
}

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

/// One branch, its nodes numbered in the order of their elimination.
#[derive(Clone, Copy, Debug)]
struct Wire {
    from: u32,
    to: u32,
    /// How often the level of the positive rail it rises: 1, 0 or −1.
    rise: f64,
}

/// How a sum is made: of so many terms of one list, then of so many of another.
#[derive(Clone, Copy, Debug, Default)]
struct Terms {
    first: u32,
    second: u32,
}

/// A plan as flat lists of what each number is the sum of, and the working memory of one solution.
///
/// Nodes are numbered as they are eliminated, the positive terminal and then the negative one last.
/// Slots are numbered as they are used up, so that those of a pivot stand side by side. Numbers are
/// gathered, not scattered: each is written once, which is what costs.
#[derive(Clone, Debug)]
pub struct LaneSolver {
    wires: Vec<Wire>,
    /// Branches that have an electromotive force: the first so many.
    sources: usize,
    /// Neighbours of each pivot but the last, which is the positive terminal.
    degrees: Vec<u32>,
    /// Neighbours of the pivots, one after another.
    neighbours: Vec<u32>,
    /// Of each slot: its branches, then its joins.
    slots: Vec<Terms>,
    branches: Vec<u32>,
    /// Slot whose conductance, and slot whose share, multiply to a join.
    joins: Vec<(u32, u32)>,
    /// Of each pivot: branches that inject at it, then earlier pivots that share with it.
    nodes: Vec<Terms>,
    /// Among `injecting`, and its sign.
    injections: Vec<(u32, f64)>,
    /// Slot of the share, and the earlier pivot.
    receipts: Vec<(u32, u32)>,
    /// Branches that inject: sources, and conductors between the rails.
    injecting: Vec<u32>,
    /// Of each node: how many branches meet there.
    meeting: Vec<u32>,
    /// Branches that meet, and whether they arrive (1) or leave (−1), node by node.
    incidence: Vec<(u32, f64)>,
    /// How often the level the positive terminal lies above the negative one.
    terminal_rise: f64,
    level: Lane,
    injected: Vec<Lane>,
    conductance: Vec<Lane>,
    share: Vec<Lane>,
    /// What is injected at each node once those before it are eliminated.
    arrived: Vec<Lane>,
    /// J/Σg of each pivot; then its potential.
    potential: Vec<Lane>,
    /// Of each node, the correction of a refinement.
    response: Vec<Lane>,
    current: Vec<Lane>,
}

/// The numbers of nodes and slots here, by their numbers in the network and in the plan.
struct Numbers {
    node: Vec<usize>,
    slot: Vec<usize>,
}

/// Terms of two kinds.
type Sum<A, B> = (Vec<A>, Vec<B>);

impl Numbers {
    fn new(network: &Network, plan: &Plan) -> Numbers {
        let (mut node, mut slot) = (vec![0; network.rails().len()], vec![0; plan.slot_count]);
        let order = plan.pivots.iter().map(|p| p.node).chain([network.negative()]);
        order.enumerate().for_each(|(k, n)| node[n] = k);
        // Every slot is between a pivot and one of its neighbours, once.
        let used_up = plan.pivots.iter().flat_map(|p| &p.neighbours);
        used_up.enumerate().for_each(|(k, neighbour)| slot[neighbour.1] = k);
        Numbers { node, slot }
    }

    /// Of each slot: its branches, and the pairs of slots whose conductance and share are joined into it.
    fn sums_of_slots(&self, plan: &Plan) -> Vec<Sum<u32, (u32, u32)>> {
        let mut sums = vec![(Vec::new(), Vec::new()); plan.slot_count];
        for (k, &slot) in plan.branch_slots.iter().enumerate() {
            sums[self.slot[slot]].0.push(k as u32);
        }
        for pivot in &plan.pivots {
            let at = |i: usize| self.slot[pivot.neighbours[i].1] as u32;
            for &(i, j, slot) in &pivot.joins {
                sums[self.slot[slot]].1.push((at(i), at(j)));
            }
        }
        sums
    }

    /// Of each node but the negative terminal: what is injected there by branches, and what earlier
    /// pivots share with it.
    fn sums_of_nodes(&self, network: &Network, plan: &Plan, injecting: &[usize]) -> Vec<Sum<(u32, f64), (u32, u32)>> {
        let mut sums = vec![(Vec::new(), Vec::new()); self.node.len()];
        for (k, &branch) in injecting.iter().enumerate() {
            let b = network.branches()[branch];
            sums[self.node[b.to]].0.push((k as u32, 1.0));
            sums[self.node[b.from]].0.push((k as u32, -1.0));
        }
        for (k, pivot) in plan.pivots.iter().enumerate() {
            for &(node, slot) in &pivot.neighbours {
                sums[self.node[node]].1.push((self.slot[slot] as u32, k as u32));
            }
        }
        sums.pop();
        sums
    }
}

/// How often the level of the positive rail a node's potential is counted from.
fn height(network: &Network, node: usize) -> f64 {
    match network.rails()[node] {
        Rail::Negative => 0.0,
        Rail::Positive => 1.0,
    }
}

impl LaneSolver {
    /// The first `sources` branches have an electromotive force, the others are conductors.
    pub fn new(network: &Network, sources: usize) -> LaneSolver {
        let plan = Plan::new(network);
        let branches = network.branches();
        let sources = sources.min(branches.len());
        let number = Numbers::new(network, &plan);
        let rise = |b: &Branch| height(network, b.to) - height(network, b.from);
        let injects = |k: &usize| *k < sources || rise(&branches[*k]) != 0.0;
        let injecting: Vec<usize> = (0..branches.len()).filter(injects).collect();
        let (slots, branches_of_slots, joins) = flat(number.sums_of_slots(&plan));
        let (nodes, injections, receipts) = flat(number.sums_of_nodes(network, &plan, &injecting));
        let mut meeting = vec![Vec::new(); number.node.len()];
        for (k, b) in branches.iter().enumerate() {
            meeting[number.node[b.to]].push((k as u32, 1.0));
            meeting[number.node[b.from]].push((k as u32, -1.0));
        }
        let wire = |b: &Branch| Wire { from: number.node[b.from] as u32, to: number.node[b.to] as u32, rise: rise(b) };
        let eliminated = &plan.pivots[..plan.pivots.len() - 1];
        let neighbours = eliminated.iter().flat_map(|p| &p.neighbours);
        LaneSolver {
            wires: branches.iter().map(wire).collect(),
            sources,
            degrees: eliminated.iter().map(|p| p.neighbours.len() as u32).collect(),
            neighbours: neighbours.map(|n| number.node[n.0] as u32).collect(),
            slots,
            branches: branches_of_slots,
            joins,
            nodes,
            injections,
            receipts,
            meeting: meeting.iter().map(|branches| branches.len() as u32).collect(),
            incidence: meeting.into_iter().flatten().collect(),
            terminal_rise: height(network, network.positive()) - height(network, network.negative()),
            level: ZERO,
            injected: vec![ZERO; injecting.len()],
            injecting: injecting.into_iter().map(|k| k as u32).collect(),
            conductance: vec![ZERO; plan.slot_count],
            share: vec![ZERO; plan.slot_count],
            arrived: vec![ZERO; plan.pivots.len()],
            potential: vec![ZERO; number.node.len()],
            response: vec![ZERO; number.node.len()],
            current: vec![ZERO; branches.len()],
        }
    }

    /// Branch currents of the last solution [A].
    pub fn currents(&self) -> &[Lane] {
        &self.current
    }

    /// Voltage from `from` to `to` along a branch of the last solution [V].
    #[inline(always)]
    pub fn along(&self, branch: usize) -> Lane {
        let wire = &self.wires[branch];
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
        let (emf, conductance) = (&emf[..self.sources], &conductance[..self.wires.len()]);
        self.load(emf, conductance);
        self.eliminate(conductance);
        let mut terminals = self.meet(demand);
        self.substitute(&terminals.voltage);
        self.take_currents(emf, conductance);
        self.balance(&mut terminals);
        let needs = lanes(|l| if terminals.kirchhoff[l] > REFINE_BEYOND { 1.0 } else { 0.0 });
        if needs.iter().zip(&terminals.sound).any(|(&needs, &sound)| needs > 0.0 && sound) {
            self.refine(conductance, &terminals.current, &needs);
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
        for (injected, &k) in self.injected.iter_mut().zip(&self.injecting) {
            let (g, rise) = (conductance[k as usize], self.wires[k as usize].rise);
            let e = emf.get(k as usize).copied().unwrap_or(ZERO);
            *injected = lanes(|l| g[l] * (e[l] - rise * level[l]));
        }
    }

    /// Eliminates every node but the terminals.
    #[inline(always)]
    fn eliminate(&mut self, given: &[Lane]) {
        let (conductance, shares, arrived) = (&mut self.conductance[..], &mut self.share[..], &mut self.arrived[..]);
        let (mut branches, mut joins) = (&self.branches[..], &self.joins[..]);
        let (mut injections, mut receipts) = (&self.injections[..], &self.receipts[..]);
        let mut slot = 0;
        // The positive terminal has one slot left: what is between it and the negative one.
        for (k, (&degree, node)) in self.degrees.iter().chain([&1]).zip(&self.nodes).enumerate() {
            let own = slot..slot + degree as usize;
            slot = own.end;
            let mut sum = ZERO;
            for (terms, at) in self.slots[own.clone()].iter().zip(own.clone()) {
                let mut g = ZERO;
                for &branch in first(&mut branches, terms.first) {
                    add(&mut g, given[branch as usize]);
                }
                for &(i, j) in first(&mut joins, terms.second) {
                    let (g_i, share_j) = (conductance[i as usize], shares[j as usize]);
                    add(&mut g, lanes(|l| g_i[l] * share_j[l]));
                }
                conductance[at] = g;
                add(&mut sum, g);
            }
            let mut here = ZERO;
            for &(branch, sign) in first(&mut injections, node.first) {
                let injected = self.injected[branch as usize];
                add(&mut here, lanes(|l| sign * injected[l]));
            }
            for &(share, earlier) in first(&mut receipts, node.second) {
                let (share, earlier) = (shares[share as usize], arrived[earlier as usize]);
                add(&mut here, lanes(|l| share[l] * earlier[l]));
            }
            let inverse = inverse_of(&sum);
            for (share, g) in shares[own.clone()].iter_mut().zip(&conductance[own]) {
                *share = lanes(|l| g[l] * inverse[l]);
            }
            arrived[k] = here;
            self.potential[k] = lanes(|l| inverse[l] * here[l]);
        }
    }

    /// The Thevenin pair at the terminals, and the voltage and current that meet the demand.
    #[inline(always)]
    fn meet(&self, demand: &LaneDemand) -> LaneTerminals {
        let between = self.conductance[self.conductance.len() - 1];
        let injected = self.arrived[self.arrived.len() - 1];
        let mut terminals = LaneTerminals { voltage: ZERO, current: ZERO, kirchhoff: ZERO, sound: [false; LANES] };
        let mut carried = ZERO;
        for l in 0..LANES {
            let emf = injected[l] / between[l] + self.terminal_rise * self.level[l];
            let resistance = 1.0 / between[l];
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
        }
        terminals.sound = carried.map(|c| c > 0.0);
        terminals
    }

    /// Potentials of all nodes with this voltage at the terminals, from the last pivot to the first.
    #[inline(always)]
    fn substitute(&mut self, terminal: &Lane) {
        let potential = &mut self.potential[..];
        let (positive, level) = (self.degrees.len(), self.level);
        potential[positive] = lanes(|l| terminal[l] - self.terminal_rise * level[l]);
        potential[positive + 1] = ZERO;
        back_substitute(&self.degrees, &self.neighbours, &self.share, potential);
    }

    #[inline(always)]
    fn take_currents(&mut self, emf: &[Lane], conductance: &[Lane]) {
        let level = self.level;
        let potential = &self.potential[..];
        let (fed, plain) = self.current.split_at_mut(self.sources);
        // The last zero makes −0 A of an open branch +0 A, and changes nothing else.
        for (((current, wire), g), e) in fed.iter_mut().zip(&self.wires).zip(conductance).zip(emf) {
            let (from, to) = (potential[wire.from as usize], potential[wire.to as usize]);
            *current = lanes(|l| ((from[l] - to[l]) + (e[l] - wire.rise * level[l])) * g[l] + 0.0);
        }
        let wires = self.wires[self.sources..].iter();
        for ((current, wire), g) in plain.iter_mut().zip(wires).zip(&conductance[self.sources..]) {
            let (from, to) = (potential[wire.from as usize], potential[wire.to as usize]);
            *current = lanes(|l| (from[l] - to[l]) * g[l] + 0.0);
        }
        // Conductors between the rails are rare.
        for &k in &self.injecting[self.sources..] {
            let (wire, g) = (self.wires[k as usize], conductance[k as usize]);
            let (from, to) = (potential[wire.from as usize], potential[wire.to as usize]);
            self.current[k as usize] = lanes(|l| ((from[l] - to[l]) + (0.0 - wire.rise * level[l])) * g[l] + 0.0);
        }
    }

    /// Kirchhoff's current law at every node, and so which lanes are sound.
    #[inline(always)]
    fn balance(&self, terminals: &mut LaneTerminals) {
        let mut incidence = &self.incidence[..];
        // The sum is there for what is not a number, which no comparison would see.
        let (mut worst, mut sum) = (ZERO, ZERO);
        for (node, &meeting) in self.meeting.iter().enumerate() {
            let residual = self.residual(node, first(&mut incidence, meeting), &terminals.current);
            let before = worst;
            worst = lanes(|l| if residual[l].abs() > before[l] { residual[l].abs() } else { before[l] });
            add(&mut sum, residual);
        }
        for l in 0..LANES {
            terminals.sound[l] &= sum[l].is_finite();
        }
        terminals.kirchhoff = worst;
    }

    /// What flows into a node beyond what flows out.
    #[inline(always)]
    fn residual(&self, node: usize, meeting: &[(u32, f64)], amps: &Lane) -> Lane {
        let mut residual = ZERO;
        for &(branch, sign) in meeting {
            let current = self.current[branch as usize];
            add(&mut residual, lanes(|l| sign * current[l]));
        }
        let positive = self.degrees.len();
        if node >= positive {
            let sign = if node == positive { -1.0 } else { 1.0 };
            add(&mut residual, lanes(|l| sign * amps[l]));
        }
        residual
    }

    /// One step of iterative refinement of the lanes that need it: the residual, injected, gives the
    /// correction of the drives.
    #[inline(always)]
    fn refine(&mut self, given: &[Lane], amps: &Lane, needs: &Lane) {
        let (mut incidence, mut receipts) = (&self.incidence[..], &self.receipts[..]);
        let mut slots = &self.conductance[..];
        for (k, (&degree, node)) in self.degrees.iter().chain([&1]).zip(&self.nodes).enumerate() {
            let mut here = self.residual(k, first(&mut incidence, self.meeting[k]), amps);
            for &(share, earlier) in first(&mut receipts, node.second) {
                let (share, earlier) = (self.share[share as usize], self.arrived[earlier as usize]);
                add(&mut here, lanes(|l| share[l] * earlier[l]));
            }
            let mut sum = ZERO;
            first(&mut slots, degree).iter().for_each(|g| add(&mut sum, *g));
            let inverse = inverse_of(&sum);
            self.arrived[k] = here;
            self.response[k] = lanes(|l| inverse[l] * here[l]);
        }
        let response = &mut self.response[..];
        response[self.degrees.len() + 1] = ZERO;
        back_substitute(&self.degrees, &self.neighbours, &self.share, response);
        for ((current, wire), g) in self.current.iter_mut().zip(&self.wires).zip(given) {
            let (from, to, before) = (response[wire.from as usize], response[wire.to as usize], *current);
            *current = lanes(|l| {
                let refined = before[l] + (from[l] - to[l]) * g[l];
                if needs[l] > 0.0 { refined } else { before[l] }
            });
        }
    }
}

/// v = J/Σg + Σ (g_i/Σg)·v_i from the last pivot but one to the first. J/Σg stands in `values`, of the
/// terminals the value itself.
#[inline(always)]
fn back_substitute(degrees: &[u32], neighbours: &[u32], shares: &[Lane], values: &mut [Lane]) {
    let (mut nodes, mut shares) = (neighbours, &shares[..neighbours.len()]);
    for (k, &degree) in degrees.iter().enumerate().rev() {
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

/// Lists of two kinds of terms, one after another, and how many of each belong to each sum.
fn flat<A, B>(lists: Vec<Sum<A, B>>) -> (Vec<Terms>, Vec<A>, Vec<B>) {
    let terms = lists.iter().map(|(a, b)| Terms { first: a.len() as u32, second: b.len() as u32 }).collect();
    let (first, second): (Vec<_>, Vec<_>) = lists.into_iter().unzip();
    (terms, first.into_iter().flatten().collect(), second.into_iter().flatten().collect())
}

/// Takes so many off the front of a list.
#[inline(always)]
fn first<'a, T>(list: &mut &'a [T], count: u32) -> &'a [T] {
    let (first, rest) = list.split_at(count as usize);
    *list = rest;
    first
}

#[inline(always)]
fn lanes(number: impl Fn(usize) -> f64) -> Lane {
    let mut all = ZERO;
    for l in 0..LANES {
        all.0[l] = number(l);
    }
    all
}

#[inline(always)]
fn add(to: &mut Lane, what: Lane) {
    let before = *to;
    *to = lanes(|l| before[l] + what[l]);
}

/// 1/Σg, or 0 for the reference of an island.
#[inline(always)]
fn inverse_of(sum: &Lane) -> Lane {
    lanes(|l| {
        let inverse = 1.0 / sum[l];
        if sum[l] > 0.0 { inverse } else { 0.0 }
    })
}
