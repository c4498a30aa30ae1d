//! The currents of one network under any load, from one elimination.
//!
//! In: a solver and its elements. Out: while no branch changes its piece, every branch current is affine in the
//! bank's: what flows at rest, and so much more an ampere. Many loads on the same network then cost a multiplication
//! a branch each.

use super::solve::{Solver, Unsolvable};
use super::thevenin::Thevenin;
use super::{Demand, Element};

/// Far enough from rest to tell slopes from [A].
const APART: f64 = 100.0;

/// How a network answers its load.
#[derive(Clone, Debug)]
pub enum Response {
    /// Every branch current is a straight line over the current of the bank.
    Affine(Affine),
    /// Nothing joins the terminals: no load is carried.
    Dead,
    /// Some branch has a characteristic with bends: each load is solved by itself.
    Bent,
}

/// Branch currents by the bank's.
#[derive(Clone, Debug)]
pub struct Affine {
    line: Thevenin,
    /// Current of each branch while the bank carries nothing [A], and its change for each ampere of the bank.
    rest: Vec<f64>,
    slope: Vec<f64>,
}

impl Response {
    /// # Errors
    /// `Unsolvable` for elements that are not finite.
    pub fn of(solver: &mut Solver, elements: &[Element]) -> Result<Response, Unsolvable> {
        if elements.iter().any(Element::has_pieces) {
            return Ok(Response::Bent);
        }
        let Some(piece) = solver.segment(elements, 0.0, 1.0)? else { return Ok(Response::Dead) };
        let rest = solver.along(elements, &piece, 0.0).to_vec();
        let later = solver.along(elements, &piece, APART);
        let slope = later.iter().zip(&rest).map(|(b, a)| (b - a) / APART).collect();
        Ok(Response::Affine(Affine { line: piece.line, rest, slope }))
    }
}

impl Affine {
    /// Voltage of the terminals by the bank's current.
    pub fn line(&self) -> Thevenin {
        self.line
    }

    /// Current of every branch while the bank carries nothing [A].
    pub fn rest(&self) -> &[f64] {
        &self.rest
    }

    /// Change of every branch current for each ampere of the bank.
    pub fn slope(&self) -> &[f64] {
        &self.slope
    }

    /// The bank's current under a load [A]; `None` where it cannot be carried.
    pub fn bank_current(&self, demand: Demand) -> Option<f64> {
        match demand {
            Demand::Current(amps) => (amps <= 0.0 || self.line.emf - self.line.resistance * amps > 0.0).then_some(amps),
            Demand::Power(watts) => self.line.root(watts),
        }
    }

    /// Current of every branch at a current of the bank [A].
    pub fn currents(&self, bank: f64, to: &mut [f64]) {
        for ((to, rest), slope) in to.iter_mut().zip(&self.rest).zip(&self.slope) {
            *to = rest + slope * bank;
        }
    }
}
