//! Elimination of all nodes: the numbers behind the solver.
//!
//! In: which branches are a resistance with a voltage, and which a current, at one moment.
//! Out: the Thevenin pair at the terminals, and potentials and branch currents for any load.
//!
//! Star-mesh transformation: a node with conductances g_i to its neighbours is replaced by
//! g_i·g_j/Σg between each pair, and its injected current is shared as g_i/Σg. Nothing is
//! subtracted, so an island shows as a sum of exactly zero and no accuracy is lost to dropouts.
//! (The transformation is Rosen's; the absence of subtraction is what makes elimination of
//! diagonally dominant M-matrices accurate entry by entry, as in the method of Grassmann, Taksar
//! and Heyman.)

use super::plan::Plan;
use super::thevenin::{Side, Thevenin};
use super::{Network, Rail};

/// What a branch is while the circuit is linear.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Linear {
    /// A voltage behind a resistance: i = (v_from − v_to + emf)/resistance.
    Source {
        emf: f64,
        resistance: f64,
    },
    /// A current, whatever the voltage [A].
    Current(f64),
    Open,
}

/// A network, its plan, and the working memory of one elimination.
#[derive(Clone, Debug)]
pub struct Elimination {
    network: Network,
    plan: Plan,
    /// Level of the positive rail [V]: potentials of positive nodes are relative to it.
    level: f64,
    /// Of the terminals, relative to the levels of their rails [V].
    open_circuit: f64,
    conductance: Vec<f64>,
    /// Of each pivot: 1/Σg, or 0 for an island's reference.
    inverse: Vec<f64>,
    /// Of each pivot and neighbour: g_i/Σg.
    share: Vec<f64>,
    /// What each branch injects, and what is injected at each node [A].
    by_branch: Vec<f64>,
    injected: Vec<f64>,
    potential: Vec<f64>,
    /// Change of each potential with one ampere more at the terminals; also the correction of one
    /// refinement.
    response: Vec<f64>,
    residual: Vec<f64>,
}

impl Elimination {
    pub fn new(network: Network) -> Elimination {
        let plan = Plan::new(&network);
        let nodes = network.rails().len();
        let shares = plan.pivots.iter().map(|p| p.neighbours.len()).sum();
        Elimination {
            level: 0.0,
            open_circuit: 0.0,
            conductance: vec![0.0; plan.slot_count],
            inverse: vec![0.0; plan.pivots.len()],
            share: vec![0.0; shares],
            by_branch: vec![0.0; network.branches().len()],
            injected: vec![0.0; nodes],
            potential: vec![0.0; nodes],
            response: vec![0.0; nodes],
            residual: vec![0.0; nodes],
            network,
            plan,
        }
    }

    pub fn network(&self) -> &Network {
        &self.network
    }

    /// Sets the level of the positive rail: near the voltages that will come out, so that the
    /// millivolts along a conductor keep their digits.
    pub fn set_level(&mut self, volts: f64) {
        self.level = volts;
    }

    fn level_of(&self, node: usize) -> f64 {
        match self.network.rails()[node] {
            Rail::Negative => 0.0,
            Rail::Positive => self.level,
        }
    }

    /// How far a branch rises between the levels of the two rails [V].
    fn rise(&self, branch: usize) -> f64 {
        let b = self.network.branches()[branch];
        self.level_of(b.to) - self.level_of(b.from)
    }

    fn terminal_level(&self) -> f64 {
        self.level_of(self.network.positive()) - self.level_of(self.network.negative())
    }

    /// Eliminates every node; the Thevenin pair at the terminals, or `None` where nothing joins them.
    pub fn factorise(&mut self, linear: impl Iterator<Item = Linear>) -> Option<Thevenin> {
        self.load(linear);
        let mut first = 0;
        for (k, pivot) in self.plan.pivots.iter().enumerate() {
            let count = pivot.neighbours.len();
            let share = &mut self.share[first..first + count];
            first += count;
            let sum: f64 = pivot.neighbours.iter().map(|n| self.conductance[n.1]).sum();
            let inverse = if sum > 0.0 { 1.0 / sum } else { 0.0 };
            self.inverse[k] = inverse;
            let injected = self.injected[pivot.node];
            for (share, &(node, slot)) in share.iter_mut().zip(&pivot.neighbours) {
                *share = self.conductance[slot] * inverse;
                self.injected[node] += *share * injected;
            }
            for &(i, j, slot) in &pivot.joins {
                self.conductance[slot] += self.conductance[pivot.neighbours[i].1] * share[j];
            }
        }
        let between = self.conductance[self.plan.terminal_slot];
        let injected = self.injected[self.network.positive()];
        let resistance = 1.0 / between;
        self.open_circuit = injected * resistance;
        (between > 0.0).then(|| Thevenin { emf: self.open_circuit + self.terminal_level(), resistance })
    }

    fn load(&mut self, linear: impl Iterator<Item = Linear>) {
        self.conductance.fill(0.0);
        self.injected.fill(0.0);
        self.by_branch.fill(0.0);
        for (k, branch) in linear.enumerate() {
            self.by_branch[k] = match branch {
                Linear::Open => continue,
                Linear::Current(amps) => amps,
                Linear::Source { emf, resistance } => {
                    let conductance = 1.0 / resistance;
                    self.conductance[self.plan.branch_slots[k]] += conductance;
                    conductance * (emf - self.rise(k))
                }
            };
        }
        let branches = self.network.branches();
        branches.iter().zip(&self.by_branch).for_each(|(b, injected)| self.injected[b.to] += injected);
        branches.iter().zip(&self.by_branch).for_each(|(b, injected)| self.injected[b.from] -= injected);
    }

    /// Potentials of all nodes with this current at the terminals, relative to the levels of their rails.
    /// A line is the one found last: its voltage is not rounded to the digits that 50 V leave.
    pub(super) fn substitute(&mut self, side: Side, amps: f64) {
        self.potential[self.network.negative()] = 0.0;
        self.potential[self.network.positive()] = match side {
            Side::Line(line) => self.open_circuit - line.resistance * amps,
            Side::Floating(voltage) => voltage - self.terminal_level(),
            Side::Dead => 0.0,
        };
        let own = |k: usize, node: usize| self.inverse[k] * self.injected[node];
        self.plan.back_substitute(&self.share, own, &mut self.potential);
    }

    /// Change of every potential with one ampere more at the terminals, into `response_along`.
    pub fn respond(&mut self, line: Thevenin) {
        self.response[self.network.negative()] = 0.0;
        self.response[self.network.positive()] = -line.resistance;
        self.plan.back_substitute(&self.share, |_, _| 0.0, &mut self.response);
    }

    /// Voltage from `from` to `to` along a branch [V].
    pub fn along(&self, branch: usize) -> f64 {
        let b = self.network.branches()[branch];
        self.potential[b.from] - self.potential[b.to] - self.rise(branch)
    }

    /// What drives current through a branch with this EMF [V]: summed in an order that keeps the
    /// small difference.
    pub fn drive(&self, branch: usize, emf: f64) -> f64 {
        let b = self.network.branches()[branch];
        (self.potential[b.from] - self.potential[b.to]) + (emf - self.rise(branch))
    }

    /// Change of the drive of a branch with one ampere more at the terminals [V/A].
    pub fn response_along(&self, branch: usize) -> f64 {
        let b = self.network.branches()[branch];
        self.response[b.from] - self.response[b.to]
    }

    pub fn is_finite(&self) -> bool {
        self.potential.iter().all(|v| v.is_finite())
    }

    /// Takes note of what flows into each node beyond what flows out [A].
    pub fn balance(&mut self, currents: &[f64], amps: f64) {
        self.residual.fill(0.0);
        let branches = self.network.branches();
        branches.iter().zip(currents).for_each(|(b, current)| self.residual[b.to] += current);
        branches.iter().zip(currents).for_each(|(b, current)| self.residual[b.from] -= current);
        self.residual[self.network.positive()] -= amps;
        self.residual[self.network.negative()] += amps;
    }

    /// Greatest departure from Kirchhoff's current law when last balanced [A].
    pub fn kirchhoff(&self) -> f64 {
        self.residual.iter().fold(0.0, |worst, r| r.abs().max(worst))
    }

    /// As if `branch` drove this current through the network beside what it drives [A]: `refine` then gives what it
    /// changes.
    pub fn inject(&mut self, branch: usize, amps: f64) {
        self.residual.fill(0.0);
        let b = self.network.branches()[branch];
        self.residual[b.to] += amps;
        self.residual[b.from] -= amps;
    }

    /// One step of iterative refinement: the residual, injected, gives the correction of the drives,
    /// into `response_along`. It is to be added to the currents and not to the potentials, whose last
    /// digit is what was missing. The residual is used up.
    pub fn refine(&mut self) {
        self.plan.forward(&self.share, &mut self.residual);
        let (positive, last) = (self.network.positive(), self.inverse.len() - 1);
        self.response[self.network.negative()] = 0.0;
        self.response[positive] = self.residual[positive] * self.inverse[last];
        let own = |k: usize, node: usize| self.inverse[k] * self.residual[node];
        self.plan.back_substitute(&self.share, own, &mut self.response);
    }
}
