//! The first current at which an element reaches its limit, for one set of modules out.
//!
//! In: elements and limits of every branch. Out: that current in one direction, and what binds. While no branch
//! starts or stops to conduct, every branch current is affine in the bank's: i = a + b·I, so the limit L is reached
//! at I = (L − a)/b, and the least of these over all elements is the answer. Where modules are blocked in one
//! direction the bank's line has corners; its pieces are walked from zero. Nothing is searched by trial.

use crate::engine::watch::OVER_BY;
use crate::network::solve::{Segment, Solver, Unsolvable};
use crate::network::{Element, Law};
use crate::study::steady::Steady;
use serde::Serialize;

/// Two elements that reach their limits this near to each other, relatively, do so together: the first is named.
const TOGETHER: f64 = 1e-9;

/// A branch that takes less than this share of the bank's current takes none: it is rounding, as in a jumper
/// between equal halves.
const NO_SHARE: f64 = 1e-10;

/// Which way the bank's current flows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// Out of the bank.
    Discharge,
    /// Into the bank.
    Charge,
}

display_as_serialised!(Direction);

impl Direction {
    /// Discharge, then charge.
    pub const BOTH: [Direction; 2] = [Direction::Discharge, Direction::Charge];

    pub(in crate::study) fn sign(self) -> f64 {
        match self {
            Direction::Discharge => 1.0,
            Direction::Charge => -1.0,
        }
    }

    /// Whether a branch is a source that carries current this way.
    pub(super) fn passes(self, element: &Element) -> bool {
        let passes = match element.law {
            Law::Both => true,
            Law::ForwardOnly { .. } => self == Direction::Discharge,
            Law::ReverseOnly { .. } => self == Direction::Charge,
            Law::Open => false,
        };
        passes && element.emf != 0.0
    }
}

/// What a branch may carry along its direction and against it [A]; infinite where unrated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ratings {
    pub along: f64,
    pub against: f64,
}

/// Why no greater current of the bank is safe.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// An element reaches its limit.
    Rating,
    /// An element is over its limit without any current of the bank.
    AtRest,
    /// No module in service that carries current this way is joined to the bus.
    NothingCarries,
    /// The voltage at the bus has fallen to zero, and nothing has reached its limit.
    BusVoltage,
    /// Nothing that carries current has a limit.
    Unrated,
}

display_as_serialised!(Why);

/// The greatest current of the bank, as a magnitude, and what binds there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BindingCurrent {
    /// The limit, positive [A]; infinite where nothing limits it.
    pub current: f64,
    /// Branch.
    pub binding: Option<usize>,
    pub why: Why,
}

/// The limits in discharge and in charge.
///
/// # Errors
/// `Unsolvable` for elements that are not finite.
pub fn both(solver: &mut Solver, elements: &[Element], ratings: &[Ratings]) -> Result<[BindingCurrent; 2], Unsolvable> {
    let one_way = elements.iter().any(Element::has_pieces);
    if one_way {
        let discharge = walk(solver, elements, ratings, Direction::Discharge)?;
        return Ok([discharge, walk(solver, elements, ratings, Direction::Charge)?]);
    }
    let whole = solver.segment(elements, 0.0, 1.0)?;
    Ok(Direction::BOTH.map(|direction| match whole {
        None => nothing_carries(0.0),
        Some(piece) => on_piece(solver, elements, ratings, &Part { piece, from: 0.0, direction }).unwrap_or(UNBOUNDED),
    }))
}

const UNBOUNDED: BindingCurrent = BindingCurrent { current: f64::INFINITY, binding: None, why: Why::Unrated };

/// Nothing carries more than this [A].
pub fn nothing_carries(current: f64) -> BindingCurrent {
    BindingCurrent { current, binding: None, why: Why::NothingCarries }
}

fn walk(
    solver: &mut Solver,
    elements: &[Element],
    ratings: &[Ratings],
    direction: Direction,
) -> Result<BindingCurrent, Unsolvable> {
    if !elements.iter().any(|e| direction.passes(e)) {
        return Ok(nothing_carries(0.0));
    }
    let mut from = 0.0;
    for _ in 0..4 * elements.len() + 16 {
        let Some(piece) = solver.segment(elements, from, direction.sign())? else {
            return Ok(nothing_carries(f64::abs(from)));
        };
        if let Some(first) = on_piece(solver, elements, ratings, &Part { piece, from, direction }) {
            return Ok(first);
        }
        match piece.until {
            Some(until) => from = until,
            None => return Ok(UNBOUNDED),
        }
    }
    Err(Unsolvable)
}

/// A piece of the bank's line, from a current of the terminals [A] in a direction.
struct Part {
    piece: Segment,
    from: f64,
    direction: Direction,
}

impl Part {
    /// Far enough from `from` to tell slopes from [A].
    const APART: f64 = 100.0;

    /// How far from `from` the piece ends, by a corner or by the voltage [A].
    fn lengths(&self) -> (f64, f64) {
        let until = self.piece.until.map_or(f64::INFINITY, |u| (u - self.from).abs());
        let line = self.piece.line;
        let collapse = match self.direction {
            Direction::Discharge => (line.emf / line.resistance - self.from).max(0.0),
            Direction::Charge => f64::INFINITY,
        };
        (until, collapse)
    }
}

/// The first limit that is reached on a part; `None` if none is before its end.
fn on_piece(solver: &mut Solver, elements: &[Element], ratings: &[Ratings], part: &Part) -> Option<BindingCurrent> {
    let start: Vec<f64> = solver.along(elements, &part.piece, part.from).to_vec();
    let apart = part.from + part.direction.sign() * Part::APART;
    let later = solver.along(elements, &part.piece, apart);
    let reaches = start.iter().zip(later).zip(ratings).map(|((&a, &b), r)| r.reached(a, (b - a) / Part::APART));
    let reaches: Vec<f64> = reaches.collect();
    let nearest = reaches.iter().copied().fold(f64::INFINITY, f64::min);
    let (until, collapse) = part.lengths();
    let base = part.from.abs();
    if nearest <= until.min(collapse) && nearest.is_finite() {
        let together = nearest + TOGETHER * (base + nearest);
        let binding = reaches.iter().position(|&r| r <= together);
        let at_rest = binding.is_some_and(|k| ratings[k].over(start[k])) && base == 0.0;
        let why = if at_rest { Why::AtRest } else { Why::Rating };
        return Some(BindingCurrent { current: base + nearest, binding, why });
    }
    let rated = ratings.iter().zip(elements).any(|(r, e)| r.along.is_finite() && e.law != Law::Open);
    if collapse < until && rated {
        return Some(BindingCurrent { current: base + collapse, binding: None, why: Why::BusVoltage });
    }
    None
}

impl Ratings {
    /// The ratings of every branch of a bank, at its air temperature.
    pub fn of(steady: &Steady) -> Vec<Ratings> {
        let modules = steady.modules.iter().map(|m| Ratings::new(m.kind.discharge_limit, m.kind.charge_limit));
        let limits = steady.bank.conductors.iter().map(|c| c.limit(steady.air));
        modules.chain(limits.map(|limit| Ratings::new(limit, limit))).collect()
    }

    pub fn new(along: Option<f64>, against: Option<f64>) -> Ratings {
        let or_none = |rating: Option<f64>| rating.unwrap_or(f64::INFINITY);
        Ratings { along: or_none(along), against: or_none(against) }
    }

    pub fn over(&self, amps: f64) -> bool {
        amps > self.along * (1.0 + OVER_BY) || -amps > self.against * (1.0 + OVER_BY)
    }

    /// How much more current of the bank [A] until a branch, with `amps` now and `slope` more an ampere of the
    /// bank, is over: 0 if it is already, infinite if never.
    fn reached(&self, amps: f64, slope: f64) -> f64 {
        if self.over(amps) {
            return 0.0;
        }
        if slope.abs() < NO_SHARE {
            return f64::INFINITY;
        }
        let room = if slope > 0.0 { self.along - amps } else { self.against + amps };
        (room / slope.abs()).max(0.0)
    }
}
