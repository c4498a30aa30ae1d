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
    /// Whether the demand is carried and Kirchhoff's law holds so well that `Solver` would not have
    /// refined. The other numbers of a lane that is not sound mean nothing.
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
    current: Vec<Lane>,
}

impl LaneSolver {
    /// The first `sources` branches have an electromotive force, the others are conductors.
    pub fn new(network: &Network, sources: usize) -> LaneSolver {
        let plan = Plan::new(network);
        let branches = network.branches();
        let sources = sources.min(branches.len());
        let mut node_at = vec![0; network.rails().len()];
        let order = plan.pivots.iter().map(|p| p.node).chain([network.negative()]);
        order.enumerate().for_each(|(k, node)| node_at[node] = k);
        // Every slot is between a pivot and one of its neighbours, once.
        let mut slot_at = vec![0; plan.slot_count];
        let used_up = plan.pivots.iter().flat_map(|p| &p.neighbours);
        used_up.enumerate().for_each(|(k, &(_, slot))| slot_at[slot] = k);
        let height = |node: usize| if network.rails()[node] == Rail::Positive { 1.0 } else { 0.0 };
        let rise = |b: &Branch| height(b.to) - height(b.from);
        let wire = |b: &Branch| Wire { from: node_at[b.from] as u32, to: node_at[b.to] as u32, rise: rise(b) };

        let mut of_slot = vec![(Vec::new(), Vec::new()); plan.slot_count];
        let mut of_node = vec![(Vec::new(), Vec::new()); node_at.len()];
        let mut at_node = vec![Vec::new(); node_at.len()];
        let mut injecting = Vec::new();
        for (k, b) in branches.iter().enumerate() {
            let (from, to) = (node_at[b.from], node_at[b.to]);
            of_slot[slot_at[plan.branch_slots[k]]].0.push(k as u32);
            at_node[to].push((k as u32, 1.0));
            at_node[from].push((k as u32, -1.0));
            if k < sources || rise(b) != 0.0 {
                of_node[to].0.push((injecting.len() as u32, 1.0));
                of_node[from].0.push((injecting.len() as u32, -1.0));
                injecting.push(k as u32);
            }
        }
        let eliminated = &plan.pivots[..plan.pivots.len() - 1];
        let mut first = 0;
        for (k, pivot) in eliminated.iter().enumerate() {
            for (i, &(node, _)) in pivot.neighbours.iter().enumerate() {
                of_node[node_at[node]].1.push(((first + i) as u32, k as u32));
            }
            for &(i, j, slot) in &pivot.joins {
                of_slot[slot_at[slot]].1.push(((first + i) as u32, (first + j) as u32));
            }
            first += pivot.neighbours.len();
        }
        // Nothing is asked of the negative terminal.
        of_node.pop();
        let (slots, branch_lists, joins) = flat(of_slot);
        let (nodes, injections, receipts) = flat(of_node);
        LaneSolver {
            sources,
            degrees: eliminated.iter().map(|p| p.neighbours.len() as u32).collect(),
            neighbours: eliminated.iter().flat_map(|p| &p.neighbours).map(|n| node_at[n.0] as u32).collect(),
            slots,
            branches: branch_lists,
            joins,
            nodes,
            injections,
            receipts,
            meeting: at_node.iter().map(|branches| branches.len() as u32).collect(),
            incidence: at_node.into_iter().flatten().collect(),
            terminal_rise: height(network.positive()) - height(network.negative()),
            level: ZERO,
            injected: vec![ZERO; injecting.len()],
            injecting,
            conductance: vec![ZERO; plan.slot_count],
            share: vec![ZERO; plan.slot_count],
            arrived: vec![ZERO; node_at.len() - 1],
            potential: vec![ZERO; node_at.len()],
            current: vec![ZERO; branches.len()],
            wires: branches.iter().map(wire).collect(),
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
        let (mut shares, mut nodes) = (&self.share[..self.neighbours.len()], &self.neighbours[..]);
        for (k, &degree) in self.degrees.iter().enumerate().rev() {
            let (earlier, share) = shares.split_at(shares.len() - degree as usize);
            let (earlier_nodes, near) = nodes.split_at(nodes.len() - degree as usize);
            let mut value = potential[k];
            for (share, &node) in share.iter().zip(near) {
                let there = potential[node as usize];
                add(&mut value, lanes(|l| share[l] * there[l]));
            }
            potential[k] = value;
            (shares, nodes) = (earlier, earlier_nodes);
        }
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
        let positive = self.degrees.len();
        for (node, &meeting) in self.meeting.iter().enumerate() {
            let mut residual = ZERO;
            for &(branch, sign) in first(&mut incidence, meeting) {
                let current = self.current[branch as usize];
                add(&mut residual, lanes(|l| sign * current[l]));
            }
            if node >= positive {
                let sign = if node == positive { -1.0 } else { 1.0 };
                add(&mut residual, lanes(|l| sign * terminals.current[l]));
            }
            let before = worst;
            worst = lanes(|l| if residual[l].abs() > before[l] { residual[l].abs() } else { before[l] });
            add(&mut sum, residual);
        }
        for l in 0..LANES {
            terminals.sound[l] &= (worst[l] <= REFINE_BEYOND) & sum[l].is_finite();
        }
        terminals.kirchhoff = worst;
    }
}

/// Lists of two kinds of terms, one after another, and how many of each belong to each sum.
fn flat<A, B>(lists: Vec<(Vec<A>, Vec<B>)>) -> (Vec<Terms>, Vec<A>, Vec<B>) {
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
