//! Elimination of all nodes, of N networks of one topology at once: the numbers behind both solvers.
//!
//! In: what each branch conducts, and what it injects at its ends. Out: the Thevenin pair at the terminals, and
//! potentials for any current there.
//!
//! Star-mesh transformation: a node with conductances g_i to its neighbours is replaced by
//! g_i·g_j/Σg between each pair, and its injected current is shared as g_i/Σg. Nothing is
//! subtracted, so an island shows as a sum of exactly zero and no accuracy is lost to dropouts.
//! (The transformation is Rosen's; the absence of subtraction is what makes elimination of
//! diagonally dominant M-matrices accurate entry by entry, as in the method of Grassmann, Taksar
//! and Heyman.)
//!
//! A lane is one network's number among its neighbours', so that one vector instruction serves them all; no operation
//! is fused, so that a lane has the same bits whatever N is. Everything hot is inlined into the caller: what calls it
//! from a function compiled for wider vectors (`pulp::Arch::dispatch`) has it compiled for them.

use super::Network;
use super::lane::{Lane, add, greater, lanes};
use super::schedule::Schedule;
use super::thevenin::Thevenin;

/// The order of the operations, and the working memory of one elimination.
#[derive(Clone, Debug)]
pub struct Elimination<const N: usize> {
    pub(super) schedule: Schedule,
    /// Level of the positive rail [V]: potentials of positive nodes are relative to it.
    level: Lane<N>,
    /// Open-circuit voltage of the terminals, relative to the levels of their rails [V].
    open_circuit: Lane<N>,
    /// Currents injected by the branches [A].
    injected: Vec<Lane<N>>,
    conductance: Vec<Lane<N>>,
    /// Share g_i/Σg for each slot, by the pivot that eliminated it.
    share: Vec<Lane<N>>,
    /// What is injected at each node once those before it are eliminated [A].
    arrived: Vec<Lane<N>>,
    /// J/Σg of each pivot [V].
    own: Vec<Lane<N>>,
    potential: Vec<Lane<N>>,
    /// What flows into each node beyond what flows out [A].
    residual: Vec<Lane<N>>,
    /// Change of each potential: with one ampere more at the terminals, or by one refinement.
    response: Vec<Lane<N>>,
}

/// How well Kirchhoff's current law holds.
#[derive(Clone, Copy, Debug)]
pub struct Balance<const N: usize> {
    /// Greatest departure at any node [A].
    pub worst: Lane<N>,
    /// Sum of all departures: not finite where any number is not.
    pub sum: Lane<N>,
}

impl<const N: usize> Elimination<N> {
    /// The first `sources` branches may have an electromotive force, the others are conductors.
    pub fn new(network: &Network, sources: usize) -> Elimination<N> {
        let schedule = Schedule::new(network, sources);
        let (nodes, slots) = (schedule.meeting.len(), schedule.slots);
        let zeros = |count: usize| vec![Lane::ZERO; count];
        Elimination {
            level: Lane::ZERO,
            open_circuit: Lane::ZERO,
            injected: zeros(schedule.injecting.len()),
            conductance: zeros(slots),
            share: zeros(slots),
            arrived: zeros(schedule.degrees.len()),
            own: zeros(schedule.degrees.len()),
            potential: zeros(nodes),
            residual: zeros(nodes),
            response: zeros(nodes),
            schedule,
        }
    }

    /// Sets the level of the positive rail: near the voltages that will come out, so that the
    /// millivolts along a conductor keep their digits.
    #[inline(always)]
    pub fn set_level(&mut self, volts: Lane<N>) {
        self.level = volts;
    }

    /// How far a branch rises between the levels of the two rails [V].
    #[inline(always)]
    pub fn rise(&self, branch: usize) -> Lane<N> {
        let rise = self.schedule.wires[branch].rise;
        lanes(|l| rise * self.level[l])
    }

    /// What a voltage behind a conductance injects at the far end of its branch [A].
    #[inline(always)]
    pub fn injection(&self, branch: usize, emf: &Lane<N>, conductance: &Lane<N>) -> Lane<N> {
        let rise = self.rise(branch);
        lanes(|l| conductance[l] * (emf[l] - rise[l]))
    }

    /// How many branches may inject.
    #[inline(always)]
    pub fn injecting(&self) -> usize {
        self.injected.len()
    }

    /// The branch at a place among those.
    #[inline(always)]
    pub fn injecting_branch(&self, place: usize) -> usize {
        self.schedule.injecting[place] as usize
    }

    /// Sets what the branch at a place among those injects [A].
    #[inline(always)]
    pub fn set_injection(&mut self, place: usize, amps: Lane<N>) {
        self.injected[place] = amps;
    }

    /// Eliminates every node, `given` being the conductance of every branch [S]: the Thevenin pair at the terminals, and
    /// the conductance between them, 0 where nothing joins them.
    #[inline(always)]
    pub fn factorise(&mut self, given: &[Lane<N>]) -> (Lane<N>, Lane<N>, Lane<N>) {
        let schedule = &self.schedule;
        let mut program = &schedule.program[..];
        let mut numbers = Numbers {
            given,
            injected: &self.injected,
            conductance: &mut self.conductance,
            share: &mut self.share,
            arrived: &mut self.arrived,
            own: &mut self.own,
        };
        let mut used = 0;
        for (k, &degree) in schedule.degrees.iter().enumerate() {
            // With a number of neighbours that the compiler knows, it writes their loops out.
            match degree {
                2 => numbers.pivot(k, used, 2, &mut program),
                3 => numbers.pivot(k, used, 3, &mut program),
                _ => numbers.pivot(k, used, degree as usize, &mut program),
            }
            used += degree as usize;
        }
        let between = self.conductance[self.conductance.len() - 1];
        let injected = self.arrived[schedule.positive()];
        let resistance = inverse_of(&between);
        // The zero makes −0 V of a dead network +0 V, and changes nothing else.
        let open_circuit: Lane<N> = lanes(|l| injected[l] * resistance[l] + 0.0);
        self.open_circuit = open_circuit;
        (lanes(|l| open_circuit[l] + schedule.terminal_rise * self.level[l]), resistance, between)
    }

    /// Between the levels of the terminals' rails [V].
    pub fn terminal_level(&self) -> Lane<N> {
        lanes(|l| self.schedule.terminal_rise * self.level[l])
    }

    /// Potentials of all nodes while the terminals carry so much along the line found last: its voltage is not rounded to
    /// the digits that 50 V leave.
    #[inline(always)]
    pub fn substitute(&mut self, resistance: &Lane<N>, amps: &Lane<N>) {
        let open_circuit = self.open_circuit;
        self.substitute_at(lanes(|l| open_circuit[l] - resistance[l] * amps[l]));
    }

    /// The same with this voltage at the terminals, relative to the levels of their rails.
    #[inline(always)]
    pub fn substitute_at(&mut self, terminal: Lane<N>) {
        self.potential[self.schedule.positive()] = terminal;
        self.potential[self.schedule.negative()] = Lane::ZERO;
        back_substitute(&self.schedule, &self.share, |k| self.own[k], &mut self.potential);
    }

    /// Change of every potential with one ampere more at the terminals, into `response_along`.
    pub fn respond(&mut self, line: Thevenin) {
        self.response[self.schedule.negative()] = Lane::ZERO;
        self.response[self.schedule.positive()] = Lane::all(-line.resistance);
        back_substitute(&self.schedule, &self.share, |_| Lane::ZERO, &mut self.response);
    }

    #[inline(always)]
    fn between(&self, of: &[Lane<N>], branch: usize) -> Lane<N> {
        let wire = self.schedule.wires[branch];
        let (from, to) = (of[wire.from as usize], of[wire.to as usize]);
        lanes(|l| from[l] - to[l])
    }

    /// Voltage from `from` to `to` along a branch [V].
    #[inline(always)]
    pub fn along(&self, branch: usize) -> Lane<N> {
        let (between, rise) = (self.between(&self.potential, branch), self.rise(branch));
        lanes(|l| between[l] - rise[l])
    }

    /// What drives current through a branch with this EMF [V]: summed in an order that keeps the
    /// small difference.
    #[inline(always)]
    pub fn drive(&self, branch: usize, emf: &Lane<N>) -> Lane<N> {
        let (between, rise) = (self.between(&self.potential, branch), self.rise(branch));
        lanes(|l| between[l] + (emf[l] - rise[l]))
    }

    /// The same along a conductor whose ends are on one rail.
    #[inline(always)]
    pub fn drive_on_rail(&self, branch: usize) -> Lane<N> {
        self.between(&self.potential, branch)
    }

    /// Change of the drive of a branch [V]: by `respond` or by `refine`.
    #[inline(always)]
    pub fn response_along(&self, branch: usize) -> Lane<N> {
        self.between(&self.response, branch)
    }

    pub fn is_finite(&self) -> bool {
        self.potential.iter().all(|v| v.iter().all(|x| x.is_finite()))
    }

    /// Kirchhoff's current law at every node, with so much at the terminals: what flows in beyond what flows out.
    #[inline(always)]
    pub fn balance(&mut self, current: impl Fn(usize) -> Lane<N>, amps: &Lane<N>) -> Balance<N> {
        let schedule = &self.schedule;
        let mut incidence = &schedule.incidence[..];
        let mut balance = Balance { worst: Lane::ZERO, sum: Lane::ZERO };
        for (k, (&(arrive, leave), kept)) in schedule.meeting.iter().zip(&mut self.residual).enumerate() {
            let mut residual = Lane::<N>::ZERO;
            for &branch in first(&mut incidence, arrive) {
                add(&mut residual, current(branch as usize));
            }
            for &branch in first(&mut incidence, leave) {
                let (before, current) = (residual, current(branch as usize));
                residual = lanes(|l| before[l] - current[l]);
            }
            if k >= schedule.positive() {
                let sign = if k == schedule.positive() { -1.0 } else { 1.0 };
                add(&mut residual, lanes(|l| sign * amps[l]));
            }
            balance.worst = greater(&balance.worst, &lanes(|l| residual[l].abs()));
            add(&mut balance.sum, residual);
            *kept = residual;
        }
        balance
    }

    /// As if `branch` drove this current through the network beside what it drives [A]: `refine` then gives what it
    /// changes.
    pub fn inject(&mut self, branch: usize, amps: Lane<N>) {
        self.residual.fill(Lane::ZERO);
        let wire = self.schedule.wires[branch];
        self.residual[wire.to as usize] = amps;
        self.residual[wire.from as usize] = lanes(|l| -amps[l]);
    }

    /// One step of iterative refinement: the residual, injected, gives the correction of the drives,
    /// into `response_along`. It is to be added to the currents and not to the potentials, whose last
    /// digit is what was missing.
    #[inline(always)]
    pub fn refine(&mut self) {
        let schedule = &self.schedule;
        let (mut receipts, mut slots) = (&schedule.receipts[..], &self.conductance[..]);
        for (k, (&degree, &count)) in schedule.degrees.iter().zip(&schedule.received).enumerate() {
            let mut here = self.residual[k];
            for &(share, earlier) in first(&mut receipts, count) {
                let (share, earlier) = (self.share[share as usize], self.arrived[earlier as usize]);
                add(&mut here, lanes(|l| share[l] * earlier[l]));
            }
            let mut sum = Lane::<N>::ZERO;
            first(&mut slots, degree).iter().for_each(|g| add(&mut sum, *g));
            let inverse = inverse_of(&sum);
            self.arrived[k] = here;
            // The residual of a node that is done is not asked for again: its own part of the correction takes its place.
            self.residual[k] = lanes(|l| inverse[l] * here[l]);
        }
        self.response[schedule.positive()] = self.residual[schedule.positive()];
        self.response[schedule.negative()] = Lane::ZERO;
        back_substitute(schedule, &self.share, |k| self.residual[k], &mut self.response);
    }
}

/// The numbers that an elimination reads and writes.
struct Numbers<'a, const N: usize> {
    given: &'a [Lane<N>],
    injected: &'a [Lane<N>],
    conductance: &'a mut [Lane<N>],
    share: &'a mut [Lane<N>],
    arrived: &'a mut [Lane<N>],
    own: &'a mut [Lane<N>],
}

impl<const N: usize> Numbers<'_, N> {
    /// Eliminates node `k`, whose slots begin at `used`: its star becomes a mesh between its neighbours, and
    /// what is injected at it is shared among them. `program` is `Schedule::program` from here on.
    #[inline(always)]
    fn pivot(&mut self, k: usize, used: usize, degree: usize, program: &mut &[u32]) {
        let mut sum = Lane::<N>::ZERO;
        let (before, own) = self.conductance.split_at_mut(used);
        let (shares_before, shares) = self.share.split_at_mut(used);
        let (own, shares) = (&mut own[..degree], &mut shares[..degree]);
        for own in own.iter_mut() {
            let [branch, parallel, joins] = next(program);
            let mut g = self.given.get(branch as usize).copied().unwrap_or(Lane::ZERO);
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
        let mut here = Lane::<N>::ZERO;
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
        self.own[k] = lanes(|l| inverse[l] * here[l]);
    }
}

/// v = own + Σ (g_i/Σg)·v_i from the last pivot but one to the first; the terminals' values stand in `values` already.
#[inline(always)]
fn back_substitute<const N: usize>(
    schedule: &Schedule,
    shares: &[Lane<N>],
    own: impl Fn(usize) -> Lane<N>,
    values: &mut [Lane<N>],
) {
    let (mut nodes, mut shares) = (&schedule.neighbours[..], &shares[..schedule.neighbours.len()]);
    for (k, &degree) in schedule.degrees[..schedule.positive()].iter().enumerate().rev() {
        let (earlier, share) = shares.split_at(shares.len() - degree as usize);
        let (earlier_nodes, near) = nodes.split_at(nodes.len() - degree as usize);
        let mut value = own(k);
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
fn next<const COUNT: usize>(program: &mut &[u32]) -> [u32; COUNT] {
    match program.split_first_chunk() {
        Some((words, rest)) => {
            *program = rest;
            *words
        }
        None => [0; COUNT],
    }
}

/// 1/Σg, or 0 for the reference of an island.
#[inline(always)]
fn inverse_of<const N: usize>(sum: &Lane<N>) -> Lane<N> {
    lanes(|l| {
        let inverse = 1.0 / sum[l];
        if sum[l] > 0.0 { inverse } else { 0.0 }
    })
}
