//! Solving the network exactly, whatever its topology and whichever branches are open or blocked.
//!
//! In: a network with its plan, the elements of one moment, and what the load asks.
//! Out: every branch current and the terminals, or that the load cannot be carried.
//!
//! Elimination by star-mesh transformation: a node with conductances g_i to its neighbours is
//! replaced by g_i·g_j/Σg between each pair, and its injected current is shared as g_i/Σg. Nothing
//! is subtracted, so an island shows as a sum of exactly zero and no accuracy is lost to dropouts.
//! (The transformation is Rosen's; the absence of subtraction is what makes elimination of
//! diagonally dominant M-matrices accurate entry by entry, as in the method of Grassmann, Taksar
//! and Heyman.) Branches that pass current one way only make a linear complementarity problem,
//! solved by block principal pivoting with Murty's least-index rule to fall back on, which is
//! finite. A constant power is met on the source's V(I): a straight line while no branch starts
//! or stops to conduct, walked from open circuit to the first root of V·I = P.

use super::plan::Plan;
use super::{Demand, Element, Law, Network, Outcome, Rail, Terminals};

/// A one-way branch counts as conducting the wrong way beyond this [A] …
const WRONG_CURRENT: f64 = 1e-10;

/// … and as wanting to conduct beyond this [V].
const WRONG_VOLTAGE: f64 = 1e-12;

/// The walk along V(I) settles which branches conduct so far beyond a change [A]: enough for each
/// to show its side, too little to be told on any instrument.
const BEYOND_A_CHANGE: f64 = 1e-6;

/// Kirchhoff's law is refined once where it is off by more than this [A].
const REFINE_BEYOND: f64 = 1e-11;

/// The network could not be solved: only from an element that is not a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the network has no solution: an electromotive force or resistance is not a number")]
pub struct Unsolvable;

/// A network, its plan, and the working memory to solve it over and over.
#[derive(Clone, Debug)]
pub struct Solver {
    network: Network,
    plan: Plan,
    /// Whether each branch conducts; remembered from one solution to the next.
    conducting: Vec<bool>,
    /// Level of the positive rail [V]: potentials of positive nodes are relative to it.
    level: f64,
    conductance: Vec<f64>,
    /// Of each pivot: 1/Σg, or 0 for an island's reference.
    inverse: Vec<f64>,
    /// Of each pivot and neighbour: g_i/Σg.
    share: Vec<f64>,
    injected: Vec<f64>,
    potential: Vec<f64>,
    /// Change of each potential with one ampere more at the terminals; also the correction of one
    /// refinement.
    response: Vec<f64>,
    current: Vec<f64>,
    residual: Vec<f64>,
    /// Factorisations so far: a loss of efficiency shows here without a clock.
    pub factorisations: u64,
}

/// The straight line V = emf − resistance·I that the terminals follow while no branch changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thevenin {
    pub emf: f64,
    pub resistance: f64,
}

/// What the load sees at its terminals.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Side {
    Line(Thevenin),
    /// At rest: every path is blocked, at this voltage.
    Floating(f64),
    /// Nothing joins the terminals.
    Dead,
}

impl Side {
    fn voltage(self, amps: f64) -> Option<f64> {
        match self {
            Side::Line(line) => Some(line.emf - line.resistance * amps),
            Side::Floating(voltage) => Some(voltage),
            Side::Dead => None,
        }
    }
}

impl Solver {
    pub fn new(network: Network) -> Solver {
        let plan = Plan::new(&network);
        let (nodes, branches) = (network.rails().len(), network.branches().len());
        let shares = plan.pivots.iter().map(|p| p.neighbours.len()).sum();
        Solver {
            conducting: vec![true; branches],
            level: 0.0,
            conductance: vec![0.0; plan.slot_count],
            inverse: vec![0.0; plan.pivots.len()],
            share: vec![0.0; shares],
            injected: vec![0.0; nodes],
            potential: vec![0.0; nodes],
            response: vec![0.0; nodes],
            current: vec![0.0; branches],
            residual: vec![0.0; nodes],
            factorisations: 0,
            network,
            plan,
        }
    }

    pub fn network(&self) -> &Network {
        &self.network
    }

    /// Branch currents of the last solution [A].
    pub fn currents(&self) -> &[f64] {
        &self.current
    }

    /// Voltage from `from` to `to` along a branch of the last solution [V].
    pub fn voltage_along(&self, branch: usize) -> f64 {
        let b = self.network.branches()[branch];
        self.potential[b.from] - self.potential[b.to] - self.rise(branch)
    }

    /// What drives current through a branch [V]: summed in an order that keeps the small difference.
    fn drive(&self, branch: usize, element: &Element) -> f64 {
        let b = self.network.branches()[branch];
        (self.potential[b.from] - self.potential[b.to]) + (element.driving() - self.rise(branch))
    }

    /// Greatest departure from Kirchhoff's current law of the last solution [A].
    pub fn kirchhoff(&self) -> f64 {
        self.residual.iter().fold(0.0, |worst, r| r.abs().max(worst))
    }

    /// Solves for what the load asks. Currents of the result are in `currents`.
    ///
    /// # Errors
    /// `Unsolvable` for elements that are not finite.
    pub fn solve(&mut self, elements: &[Element], demand: Demand) -> Result<Outcome, Unsolvable> {
        self.prepare(elements);
        match demand {
            Demand::Current(current) => self.carry_current(elements, current),
            Demand::Power(0.0) => self.carry_current(elements, 0.0),
            Demand::Power(power) => self.carry_power(elements, power),
        }
    }

    /// Sets the level of the positive rail, and what surely does not conduct.
    fn prepare(&mut self, elements: &[Element]) {
        let live = elements.iter().filter(|e| e.law != Law::Open);
        self.level = live.map(|e| e.driving()).fold(0.0, f64::max);
        for (conducting, element) in self.conducting.iter_mut().zip(elements) {
            match element.law {
                Law::Both => *conducting = true,
                Law::Open => *conducting = false,
                Law::ForwardOnly { .. } | Law::ReverseOnly { .. } => {}
            }
        }
    }

    fn carry_current(&mut self, elements: &[Element], amps: f64) -> Result<Outcome, Unsolvable> {
        let side = self.settle(elements, amps)?;
        let carried = match side {
            Side::Line(line) => amps <= 0.0 || line.emf - line.resistance * amps > 0.0,
            Side::Floating(_) | Side::Dead => amps == 0.0,
        };
        if !carried {
            return self.give_up(elements);
        }
        let voltage = self.finish(elements, amps, side);
        Ok(Outcome::Carried(Terminals { voltage, current: amps }))
    }

    /// Walks V(I) from open circuit to the first root of V·I = P.
    fn carry_power(&mut self, elements: &[Element], power: f64) -> Result<Outcome, Unsolvable> {
        if let Some(outcome) = self.carry_power_directly(elements, power) {
            return Ok(outcome);
        }
        let direction = power.signum();
        let mut from = 0.0;
        for _ in 0..4 * elements.len() + 16 {
            let beyond = from + direction * BEYOND_A_CHANGE * (1.0 + 1e-3 * f64::abs(from));
            let Side::Line(line) = self.settle(elements, beyond)? else {
                break;
            };
            let next = self.next_change(elements, line, beyond, direction);
            if let Some(root) = line.root(power)
                && (root - from) * direction >= -1e-9
                && next.is_none_or(|n| (n - root) * direction >= 0.0)
            {
                let voltage = self.finish(elements, root, Side::Line(line));
                return Ok(Outcome::Carried(Terminals { voltage, current: root }));
            }
            let Some(next) = next else { break };
            from = next;
        }
        self.give_up(elements)
    }

    /// The common case without a walk: the root on the line of the branches that conduct now, where
    /// that is surely the first. It is where nothing is one-way, and where only reverse current is
    /// blocked and the voltage stays above half of open circuit: V(I) is then convex, so that
    /// V + I·dV/dI ≥ 2V − V(0) > 0 and V·I has risen all the way.
    fn carry_power_directly(&mut self, elements: &[Element], power: f64) -> Option<Outcome> {
        let one_way = elements.iter().any(|e| matches!(e.law, Law::ForwardOnly { .. }));
        let other_way = elements.iter().any(|e| matches!(e.law, Law::ReverseOnly { .. }));
        if other_way || (one_way && power < 0.0) {
            return None;
        }
        let line = self.factorise(elements)?;
        let root = line.root(power)?;
        let voltage = self.finish(elements, root, Side::Line(line));
        let first = !one_way || (self.first_wrong(elements).is_none() && voltage > 0.5 * self.level);
        first.then_some(Outcome::Carried(Terminals { voltage, current: root }))
    }

    /// Leaves the branches as they are at open circuit.
    fn give_up(&mut self, elements: &[Element]) -> Result<Outcome, Unsolvable> {
        let side = self.settle(elements, 0.0)?;
        let voltage = self.finish(elements, 0.0, side);
        Ok(Outcome::NotCarried { open_circuit: (side != Side::Dead).then_some(voltage) })
    }

    /// Finds which one-way branches conduct at this current, and leaves the currents solved.
    /// `Dead` for a current that no branch can carry.
    fn settle(&mut self, elements: &[Element], amps: f64) -> Result<Side, Unsolvable> {
        let mut fewest = usize::MAX;
        let mut patience = 8;
        for _ in 0..64 + 16 * elements.len() * elements.len() {
            let side = match self.factorise(elements) {
                Some(line) => Side::Line(line),
                None if amps == 0.0 => self.at_rest(elements),
                None if self.let_conduct(elements, amps) => continue,
                None => return Ok(Side::Dead),
            };
            self.substitute(amps, side);
            self.take_currents(elements);
            if !self.potential.iter().all(|v| v.is_finite()) {
                return Err(Unsolvable);
            }
            let wrong = self.count_wrong(elements);
            if wrong == 0 {
                return Ok(side);
            }
            if wrong < fewest {
                (fewest, patience) = (wrong, 8);
            } else {
                patience -= 1;
            }
            if patience > 0 {
                self.turn_all_wrong(elements);
            } else if let Some(k) = self.first_wrong(elements) {
                self.conducting[k] = !self.conducting[k];
            }
        }
        Err(Unsolvable)
    }

    /// At rest nothing may conduct, and the terminals float between what could feed and what could
    /// be charged: the voltage at which the first would begin to feed, else the first to be charged.
    fn at_rest(&self, elements: &[Element]) -> Side {
        let forward = elements.iter().filter(|e| matches!(e.law, Law::ForwardOnly { .. }));
        let reverse = elements.iter().filter(|e| matches!(e.law, Law::ReverseOnly { .. }));
        let feeding = forward.map(Element::driving).max_by(f64::total_cmp);
        let charged = reverse.map(Element::driving).min_by(f64::total_cmp);
        feeding.or(charged).map_or(Side::Dead, Side::Floating)
    }

    /// Lets the one-way branches conduct that could carry this current; false if all do already.
    fn let_conduct(&mut self, elements: &[Element], amps: f64) -> bool {
        let mut changed = false;
        for (conducting, element) in self.conducting.iter_mut().zip(elements) {
            let could = match element.law {
                Law::ForwardOnly { .. } => amps > 0.0,
                Law::ReverseOnly { .. } => amps < 0.0,
                Law::Both | Law::Open => false,
            };
            if could && !*conducting {
                *conducting = true;
                changed = true;
            }
        }
        changed
    }

    fn is_wrong(&self, elements: &[Element], k: usize) -> bool {
        let sign = match elements[k].law {
            Law::Both | Law::Open => return false,
            Law::ForwardOnly { .. } => 1.0,
            Law::ReverseOnly { .. } => -1.0,
        };
        if self.conducting[k] {
            sign * self.current[k] < -WRONG_CURRENT
        } else {
            sign * self.drive(k, &elements[k]) > WRONG_VOLTAGE
        }
    }

    fn count_wrong(&self, elements: &[Element]) -> usize {
        (0..elements.len()).filter(|&k| self.is_wrong(elements, k)).count()
    }

    fn first_wrong(&self, elements: &[Element]) -> Option<usize> {
        (0..elements.len()).find(|&k| self.is_wrong(elements, k))
    }

    fn turn_all_wrong(&mut self, elements: &[Element]) {
        let wrong: Vec<usize> = (0..elements.len()).filter(|&k| self.is_wrong(elements, k)).collect();
        for k in wrong {
            self.conducting[k] = !self.conducting[k];
        }
    }

    /// The bank current, beyond `from`, at which a one-way branch starts or stops to conduct.
    fn next_change(&mut self, elements: &[Element], line: Thevenin, from: f64, direction: f64) -> Option<f64> {
        self.substitute(0.0, Side::Line(line));
        self.respond(line);
        let mut nearest: Option<f64> = None;
        for (k, element) in elements.iter().enumerate() {
            if matches!(element.law, Law::Both | Law::Open) {
                continue;
            }
            let b = self.network.branches()[k];
            let drive = self.drive(k, element);
            let slope = self.response[b.from] - self.response[b.to];
            let at = -drive / slope;
            let ahead = (at - from) * direction > 0.0;
            if at.is_finite() && ahead && nearest.is_none_or(|n| (at - n) * direction < 0.0) {
                nearest = Some(at);
            }
        }
        nearest
    }

    /// Eliminates every node; the Thevenin pair at the terminals, or `None` where nothing joins them.
    fn factorise(&mut self, elements: &[Element]) -> Option<Thevenin> {
        self.factorisations += 1;
        self.load_branches(elements);
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
        (between > 0.0).then(|| Thevenin { emf: injected / between + self.terminal_level(), resistance: 1.0 / between })
    }

    fn load_branches(&mut self, elements: &[Element]) {
        self.conductance.fill(0.0);
        self.injected.fill(0.0);
        for (k, element) in elements.iter().enumerate() {
            if !self.conducting[k] {
                continue;
            }
            let conductance = 1.0 / element.resistance;
            self.conductance[self.plan.branch_slots[k]] += conductance;
            let injected = conductance * (element.driving() - self.rise(k));
            let b = self.network.branches()[k];
            self.injected[b.to] += injected;
            self.injected[b.from] -= injected;
        }
    }

    /// How far a branch rises between the levels of the two rails [V].
    fn rise(&self, branch: usize) -> f64 {
        let b = self.network.branches()[branch];
        self.level_of(b.to) - self.level_of(b.from)
    }

    fn level_of(&self, node: usize) -> f64 {
        match self.network.rails()[node] {
            Rail::Negative => 0.0,
            Rail::Positive => self.level,
        }
    }

    fn terminal_level(&self) -> f64 {
        self.level_of(self.network.positive()) - self.level_of(self.network.negative())
    }

    /// Potentials of all nodes at this current, relative to the levels of their rails.
    fn substitute(&mut self, amps: f64, side: Side) {
        let at_terminal = side.voltage(amps).map_or(0.0, |v| v - self.terminal_level());
        self.potential[self.network.negative()] = 0.0;
        self.potential[self.network.positive()] = at_terminal;
        self.plan.back_substitute(&self.share, |k, node| self.inverse[k] * self.injected[node], &mut self.potential);
    }

    /// Change of every potential with one ampere more at the terminals.
    fn respond(&mut self, line: Thevenin) {
        self.response[self.network.negative()] = 0.0;
        self.response[self.network.positive()] = -line.resistance;
        self.plan.back_substitute(&self.share, |_, _| 0.0, &mut self.response);
    }

    fn take_currents(&mut self, elements: &[Element]) {
        for (k, element) in elements.iter().enumerate() {
            let drive = self.drive(k, element);
            self.current[k] = if self.conducting[k] { drive / element.resistance } else { 0.0 };
        }
    }

    /// Solves at this current with the branches that conduct; refines once where rounding left
    /// more than a trace; returns the terminal voltage.
    fn finish(&mut self, elements: &[Element], amps: f64, side: Side) -> f64 {
        self.substitute(amps, side);
        self.take_currents(elements);
        self.balance(amps);
        if self.kirchhoff() > REFINE_BEYOND {
            self.refine(elements, amps);
        }
        side.voltage(amps).unwrap_or(0.0)
    }

    /// What flows into each node beyond what flows out [A].
    fn balance(&mut self, amps: f64) {
        self.residual.fill(0.0);
        for (b, current) in self.network.branches().iter().zip(&self.current) {
            self.residual[b.to] += current;
            self.residual[b.from] -= current;
        }
        self.residual[self.network.positive()] -= amps;
        self.residual[self.network.negative()] += amps;
    }

    /// One step of iterative refinement: the residual, injected, gives the correction. The
    /// correction is added to the currents, not to the potentials, whose last digit is what was
    /// missing.
    fn refine(&mut self, elements: &[Element], amps: f64) {
        self.injected.copy_from_slice(&self.residual);
        self.plan.forward(&self.share, &mut self.injected);
        let (positive, last) = (self.network.positive(), self.inverse.len() - 1);
        self.response[self.network.negative()] = 0.0;
        self.response[positive] = self.injected[positive] * self.inverse[last];
        self.plan.back_substitute(&self.share, |k, node| self.inverse[k] * self.injected[node], &mut self.response);
        for (k, element) in elements.iter().enumerate().filter(|&(k, _)| self.conducting[k]) {
            let b = self.network.branches()[k];
            self.current[k] += (self.response[b.from] - self.response[b.to]) / element.resistance;
        }
        self.balance(amps);
    }
}

impl Thevenin {
    /// The current of least magnitude with V·I = P; `None` where the line never reaches P.
    pub fn root(self, power: f64) -> Option<f64> {
        let discriminant = self.emf * self.emf - 4.0 * self.resistance * power;
        let root = 2.0 * power / (self.emf + discriminant.sqrt());
        (self.emf > 0.0 && discriminant >= 0.0 && root.is_finite()).then_some(root)
    }
}
