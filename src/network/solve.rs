//! Solving the network exactly, whatever its topology and whichever branches are open, blocked, or
//! hold their own current.
//!
//! In: a network, the elements of one moment, and what the load asks.
//! Out: every branch current and the terminals, or that the load cannot be carried.
//!
//! Each branch has a current that never falls as its voltage drives it harder: nothing while
//! blocked, a straight line, and a constant where it holds itself at a limit. Which piece each is
//! on is a linear complementarity problem, solved by block principal pivoting with Murty's
//! least-index rule to fall back on, which is finite. The terminals then follow a straight line
//! V(I) between two changes of piece; it is walked from open circuit to the first, highest-voltage
//! current that meets the demand.

use super::elimination::Elimination;
use super::lane::Lane;
use super::piece::{Linear, Piece, WRONG_CURRENT, WRONG_VOLTAGE, any_self_limit, at_rest, linear};
use super::thevenin::{Side, Thevenin};
use super::{Demand, Element, Law, Network, Outcome, Terminals};

/// The walk along V(I) settles the pieces so far beyond a change [A]: enough for each branch to show
/// its side, too little to be told on any instrument.
const BEYOND_A_CHANGE: f64 = 1e-6;

/// Slope of flat pieces while they are looked for the hard way, as a share of the straight line's: volts
/// across it then drive far less than `BEYOND_A_CHANGE`.
const LEAK: f64 = 1e-12;

/// Kirchhoff's law is refined once where it is off by more than this [A].
pub(super) const REFINE_BEYOND: f64 = 1e-10;

/// The network could not be solved: only from an element that is not a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the network has no solution: an electromotive force or resistance is not a number")]
pub struct Unsolvable;

/// A network and the working memory to solve it over and over.
#[derive(Clone, Debug)]
pub struct Solver {
    network: Network,
    elimination: Elimination<1>,
    linear: Vec<Linear>,
    conductance: Vec<Lane<1>>,
    /// Remembered from one solution to the next.
    pieces: Vec<Piece>,
    current: Vec<f64>,
    /// Greatest departure from Kirchhoff's current law of the last solution [A].
    kirchhoff: f64,
    /// Slope of flat pieces, as a share of the straight line's: 0 but while pieces are hard to find.
    leak: f64,
    /// Factorisations so far: a loss of efficiency shows here without a clock.
    pub factorisations: u64,
}

/// A segment of the bank's V(I): one line, and the current of the terminals at which it ends [A] (`None`:
/// never).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Segment {
    /// Voltage over current at the terminals.
    pub line: Thevenin,
    /// [A]; `None`: it goes on without end.
    pub until: Option<f64>,
}

impl Solver {
    /// Any branch may have an electromotive force.
    pub fn new(network: Network) -> Solver {
        let branches = network.branches().len();
        Solver::with_sources(network, branches)
    }

    /// The first `sources` branches may have an electromotive force or hold their current, the others are conductors.
    pub fn with_sources(network: Network, sources: usize) -> Solver {
        let branches = network.branches().len();
        Solver {
            elimination: Elimination::new(&network, sources),
            network,
            linear: vec![Linear::Open; branches],
            conductance: vec![Lane::ZERO; branches],
            pieces: vec![Piece::Conducting; branches],
            current: vec![0.0; branches],
            kirchhoff: 0.0,
            leak: 0.0,
            factorisations: 0,
        }
    }

    /// Forgets what the last solution was, as if it were new.
    pub fn forget(&mut self) {
        self.pieces.fill(Piece::Conducting);
    }

    /// The graph that it solves.
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// Branch currents of the last solution [A].
    pub fn currents(&self) -> &[f64] {
        &self.current
    }

    /// Voltage from `from` to `to` along a branch of the last solution [V].
    pub fn voltage_along(&self, branch: usize) -> f64 {
        self.elimination.along(branch)[0]
    }

    /// Whether a branch of the last solution holds its own current at its limit.
    pub fn is_self_limited(&self, branch: usize) -> bool {
        matches!(self.pieces[branch], Piece::LimitedForward | Piece::LimitedReverse)
    }

    /// Greatest departure from Kirchhoff's current law of the last solution [A].
    pub fn kirchhoff(&self) -> f64 {
        self.kirchhoff
    }

    /// Solves for what the load asks. Currents of the result are in `currents`.
    ///
    /// # Errors
    /// `Unsolvable` for elements that are not finite.
    pub fn solve(&mut self, elements: &[Element], demand: Demand) -> Result<Outcome, Unsolvable> {
        self.prepare(elements);
        match demand {
            Demand::Current(amps) if any_self_limit(elements) && amps != 0.0 => self.walk(elements, demand),
            Demand::Current(amps) => self.carry_current(elements, amps),
            Demand::Power(0.0) => self.carry_current(elements, 0.0),
            Demand::Power(power) => match self.carry_power_directly(elements, power) {
                Some(outcome) => Ok(outcome),
                None => self.walk(elements, demand),
            },
        }
    }

    /// Sets the level of the positive rail, and takes back pieces that an element no longer has.
    fn prepare(&mut self, elements: &[Element]) {
        let live = elements.iter().filter(|e| e.law != Law::Open);
        self.elimination.set_level(Lane([live.map(Element::driving).fold(0.0, f64::max)]));
        for (piece, element) in self.pieces.iter_mut().zip(elements) {
            *piece = match (element.law, *piece) {
                (Law::Open, _) => Piece::Off,
                (Law::Both, Piece::Off) => Piece::Conducting,
                (_, Piece::LimitedForward) if element.self_limit.forward == f64::INFINITY => Piece::Conducting,
                (_, Piece::LimitedReverse) if element.self_limit.reverse == f64::INFINITY => Piece::Conducting,
                (Law::ForwardOnly { .. }, Piece::LimitedReverse) | (Law::ReverseOnly { .. }, Piece::LimitedForward) => {
                    Piece::Conducting
                }
                (_, piece) => piece,
            };
        }
    }

    fn carry_current(&mut self, elements: &[Element], amps: f64) -> Result<Outcome, Unsolvable> {
        let side = self.settle(elements, amps)?;
        let carried = match side {
            Side::Line(line) => line.carries(amps),
            Side::Floating(_) | Side::Dead => amps == 0.0,
        };
        if !carried {
            return self.give_up(elements);
        }
        Ok(self.finish(elements, amps, side))
    }

    /// Walks V(I) from open circuit to the first current that meets the demand.
    fn walk(&mut self, elements: &[Element], demand: Demand) -> Result<Outcome, Unsolvable> {
        let direction = if demand.is_discharge() { 1.0 } else { -1.0 };
        let mut from = 0.0;
        for _ in 0..8 * elements.len() + 16 {
            let Some(Segment { line, until: next }) = self.leave(elements, from, direction)? else { break };
            let root = match demand {
                Demand::Power(power) => line.root(power),
                Demand::Current(amps) => Some(amps).filter(|i| line.carries(*i)),
            };
            if let Some(root) = root
                && (root - from) * direction >= -1e-9
                && next.is_none_or(|n| (n - root) * direction >= 0.0)
            {
                return Ok(self.finish(elements, root, Side::Line(line)));
            }
            let Some(next) = next else { break };
            from = next;
        }
        self.give_up(elements)
    }

    /// The segment of V(I) that leaves `from` [A] in this direction (1: towards discharge, −1: towards
    /// charge); `None` where no branch carries current that way.
    ///
    /// # Errors
    /// `Unsolvable` for elements that are not finite.
    pub fn segment(&mut self, elements: &[Element], from: f64, direction: f64) -> Result<Option<Segment>, Unsolvable> {
        self.prepare(elements);
        self.leave(elements, from, direction)
    }

    /// Branch currents where the terminals carry `amps` on the segment found last, or on its line continued
    /// beyond its ends: they are affine in the current of the terminals.
    pub fn along(&mut self, elements: &[Element], segment: &Segment, amps: f64) -> &[f64] {
        self.finish(elements, amps, Side::Line(segment.line));
        &self.current
    }

    /// How every branch current of the last solution changes with one volt more in `branch`, the current of the
    /// terminals and the pieces kept [A/V]. By reciprocity also how that branch's current changes with one volt more in
    /// each of the others, which is why one solution tells all derivatives of one reading.
    pub fn transfer(&mut self, elements: &[Element], branch: usize, to: &mut [f64]) {
        let conducts =
            |k: usize, piece: Piece| if piece == Piece::Conducting { 1.0 / elements[k].resistance } else { 0.0 };
        let own = conducts(branch, self.pieces[branch]);
        self.elimination.inject(branch, Lane([own]));
        self.elimination.refine();
        for (k, to) in to.iter_mut().enumerate() {
            *to = self.elimination.response_along(k)[0] * conducts(k, self.pieces[k]);
        }
        to[branch] += own;
    }

    fn leave(&mut self, elements: &[Element], from: f64, direction: f64) -> Result<Option<Segment>, Unsolvable> {
        let beyond = from + direction * BEYOND_A_CHANGE * (1.0 + 1e-3 * from.abs());
        let Side::Line(line) = self.settle(elements, beyond)? else { return Ok(None) };
        let until = self.next_change(elements, line, beyond, direction);
        Ok(Some(Segment { line, until }))
    }

    /// The common case without a walk: the root on the line of the branches that conduct now, where
    /// that is surely the first. It is where nothing is one-way, and where only reverse current is
    /// blocked and the voltage stays above half of open circuit: V(I) is then convex, so that
    /// V + I·dV/dI ≥ 2V − V(0) > 0 and V·I has risen all the way.
    fn carry_power_directly(&mut self, elements: &[Element], power: f64) -> Option<Outcome> {
        let one_way = elements.iter().any(|e| matches!(e.law, Law::ForwardOnly { .. }));
        let other_way = elements.iter().any(|e| matches!(e.law, Law::ReverseOnly { .. }));
        if other_way || (one_way && power < 0.0) || any_self_limit(elements) {
            return None;
        }
        let line = self.factorise(elements)?;
        let root = line.root(power)?;
        let outcome = self.finish(elements, root, Side::Line(line));
        if !one_way {
            return Some(outcome);
        }
        let open_circuit = elements.iter().map(Element::driving).fold(0.0, f64::max);
        let high = line.voltage(root) > 0.5 * open_circuit;
        (high && self.first_wrong(elements).is_none()).then_some(outcome)
    }

    /// Leaves the branches as they are at open circuit.
    fn give_up(&mut self, elements: &[Element]) -> Result<Outcome, Unsolvable> {
        let side = self.settle(elements, 0.0)?;
        self.finish(elements, 0.0, side);
        Ok(Outcome::NotCarried { open_circuit: side.voltage(0.0) })
    }

    /// Finds which piece each branch is on at this current, and leaves the currents solved. `Dead`
    /// for a current that no branch can carry.
    fn settle(&mut self, elements: &[Element], amps: f64) -> Result<Side, Unsolvable> {
        if let Some(side) = self.pivot(elements, amps)? {
            return Ok(side);
        }
        if !elements.iter().any(Element::has_pieces) {
            return Ok(Side::Dead);
        }
        // On the way the terminals came to float. With a trace of slope on every flat piece they
        // never do; the pieces that this finds are then solved as they are.
        self.leak = LEAK;
        let found = self.pivot(elements, amps);
        self.leak = 0.0;
        found?;
        let side = match self.factorise(elements) {
            Some(line) => Side::Line(line),
            None if amps == 0.0 => at_rest(elements),
            None => Side::Dead,
        };
        self.substitute(side, amps);
        self.take_currents(elements);
        Ok(side)
    }

    /// Principal pivoting: `None` where the terminals float on the way, or where it takes too long.
    fn pivot(&mut self, elements: &[Element], amps: f64) -> Result<Option<Side>, Unsolvable> {
        let (mut fewest, mut patience) = (usize::MAX, 8);
        for _ in 0..64 + 16 * elements.len() {
            let side = match self.factorise(elements) {
                Some(line) => Side::Line(line),
                None if amps == 0.0 => at_rest(elements),
                None => return Ok(None),
            };
            self.substitute(side, amps);
            self.take_currents(elements);
            if !self.elimination.is_finite() {
                return Err(Unsolvable);
            }
            let wrong = (0..elements.len()).filter(|&k| self.is_wrong(elements, k)).count();
            if wrong == 0 {
                return Ok(Some(side));
            }
            if wrong < fewest {
                (fewest, patience) = (wrong, 8);
            } else {
                patience -= 1;
            }
            self.correct(elements, patience <= 0);
        }
        Ok(None)
    }

    /// The piece that the last solution puts a branch on.
    fn piece_by_solution(&self, elements: &[Element], k: usize) -> Piece {
        let element = &elements[k];
        let sign = match element.law {
            Law::Open => return Piece::Off,
            Law::Both => 0.0,
            Law::ForwardOnly { .. } => 1.0,
            Law::ReverseOnly { .. } => -1.0,
        };
        let current = self.current[k];
        let drive = || self.drive(k, element);
        match self.pieces[k] {
            Piece::Conducting if sign * current < -WRONG_CURRENT => Piece::Off,
            Piece::Conducting if current > element.self_limit.forward + WRONG_CURRENT => Piece::LimitedForward,
            Piece::Conducting if current < -element.self_limit.reverse - WRONG_CURRENT => Piece::LimitedReverse,
            Piece::Off if sign * drive() > WRONG_VOLTAGE => Piece::Conducting,
            Piece::LimitedForward if drive() < element.self_limit.forward * element.resistance - WRONG_VOLTAGE => {
                Piece::Conducting
            }
            Piece::LimitedReverse if drive() > -element.self_limit.reverse * element.resistance + WRONG_VOLTAGE => {
                Piece::Conducting
            }
            piece => piece,
        }
    }

    fn is_wrong(&self, elements: &[Element], k: usize) -> bool {
        self.piece_by_solution(elements, k) != self.pieces[k]
    }

    fn first_wrong(&self, elements: &[Element]) -> Option<usize> {
        (0..elements.len()).find(|&k| self.is_wrong(elements, k))
    }

    /// Moves the branches that are on a wrong piece: all of them, or the first alone.
    fn correct(&mut self, elements: &[Element], first_only: bool) {
        for k in 0..elements.len() {
            // The solution is that of before: a piece moved here does not change what it says of others.
            let piece = self.piece_by_solution(elements, k);
            if piece != self.pieces[k] {
                self.pieces[k] = piece;
                if first_only {
                    return;
                }
            }
        }
    }

    /// The bank current, beyond `from`, at which the next branch changes its piece.
    fn next_change(&mut self, elements: &[Element], line: Thevenin, from: f64, direction: f64) -> Option<f64> {
        if !elements.iter().any(Element::has_pieces) {
            return None;
        }
        self.substitute(Side::Line(line), 0.0);
        self.elimination.respond(line);
        let mut nearest: Option<f64> = None;
        for (k, element) in elements.iter().enumerate().filter(|(_, e)| e.has_pieces()) {
            let drive = self.drive(k, element);
            let slope = self.elimination.response_along(k)[0];
            for bend in element.bends().into_iter().flatten() {
                let at = (bend - drive) / slope;
                let ahead = (at - from) * direction > 0.0;
                if at.is_finite() && ahead && nearest.is_none_or(|n| (at - n) * direction < 0.0) {
                    nearest = Some(at);
                }
            }
        }
        nearest
    }

    fn factorise(&mut self, elements: &[Element]) -> Option<Thevenin> {
        self.factorisations += 1;
        let leak = self.leak;
        for (k, (element, piece)) in elements.iter().zip(&self.pieces).enumerate() {
            self.linear[k] = linear(element, *piece, leak);
            self.conductance[k] = match self.linear[k] {
                Linear::Source { resistance, .. } => Lane([1.0 / resistance]),
                Linear::Current(_) | Linear::Open => Lane::ZERO,
            };
        }
        for place in 0..self.elimination.injecting() {
            let k = self.elimination.injecting_branch(place);
            let amps = match self.linear[k] {
                Linear::Source { emf, .. } => self.elimination.injection(k, &Lane([emf]), &self.conductance[k]),
                Linear::Current(amps) => Lane([amps]),
                Linear::Open => Lane::ZERO,
            };
            self.elimination.set_injection(place, amps);
        }
        let (Lane([emf]), Lane([resistance]), Lane([between])) = self.elimination.factorise(&self.conductance);
        (between > 0.0).then_some(Thevenin { emf, resistance })
    }

    /// Potentials of all nodes with this current at the terminals.
    fn substitute(&mut self, side: Side, amps: f64) {
        match side {
            Side::Line(line) => self.elimination.substitute(&Lane([line.resistance]), &Lane([amps])),
            Side::Floating(voltage) => {
                let Lane([level]) = self.elimination.terminal_level();
                self.elimination.substitute_at(Lane([voltage - level]));
            }
            Side::Dead => self.elimination.substitute_at(Lane::ZERO),
        }
    }

    /// What drives current through a branch [V].
    fn drive(&self, branch: usize, element: &Element) -> f64 {
        self.elimination.drive(branch, &Lane([element.driving()]))[0]
    }

    fn balance(&mut self, amps: f64) {
        let current = &self.current;
        let balance = self.elimination.balance(|k| Lane([current[k]]), &Lane([amps]));
        self.kirchhoff = balance.worst[0];
    }

    fn take_currents(&mut self, elements: &[Element]) {
        for (k, element) in elements.iter().enumerate() {
            self.current[k] = match self.pieces[k] {
                Piece::Off => 0.0,
                Piece::Conducting => self.drive(k, element) * (1.0 / element.resistance),
                Piece::LimitedForward => element.self_limit.forward,
                Piece::LimitedReverse => -element.self_limit.reverse,
            };
        }
    }

    /// Solves at this current with the pieces as they are; refines once where rounding left more
    /// than a trace.
    fn finish(&mut self, elements: &[Element], amps: f64, side: Side) -> Outcome {
        self.substitute(side, amps);
        self.take_currents(elements);
        self.balance(amps);
        if self.kirchhoff() > REFINE_BEYOND {
            self.elimination.refine();
            for (k, element) in elements.iter().enumerate() {
                if self.pieces[k] == Piece::Conducting {
                    self.current[k] += self.elimination.response_along(k)[0] * (1.0 / element.resistance);
                }
            }
            self.balance(amps);
        }
        Outcome::Carried(Terminals { voltage: side.voltage(amps).unwrap_or(0.0), current: amps })
    }
}
