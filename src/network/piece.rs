//! The pieces of a branch's characteristic, and what it is on each.
//!
//! In: an element. Out: a voltage behind a resistance, or a current, whatever the voltage.

use super::thevenin::Side;
use super::{Element, Law, SelfLimit};

/// A branch is on the wrong piece of its characteristic beyond this [A] …
pub(super) const WRONG_CURRENT: f64 = 1e-10;

/// … or, seen from a piece without a slope, beyond this [V].
pub(super) const WRONG_VOLTAGE: f64 = 1e-12;

/// What a branch is while the circuit is linear.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Linear {
    /// A voltage behind a resistance: i = (v_from − v_to + emf)/resistance.
    Source {
        emf: f64,
        resistance: f64,
    },
    /// A current, whatever the voltage [A].
    Current(f64),
    Open,
}

/// Which piece of its characteristic a branch is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Piece {
    /// Blocked or open.
    Off,
    /// On its straight line.
    Conducting,
    /// Holding itself at its limit, forwards or in reverse.
    LimitedForward,
    LimitedReverse,
}

/// What a branch is on a piece of its characteristic; `leak` is the slope of flat pieces.
pub(super) fn linear(element: &Element, piece: Piece, leak: f64) -> Linear {
    let (emf, resistance) = (element.driving(), element.resistance);
    let flat = |amps: f64| match leak {
        0.0 => Linear::Current(amps),
        // Through the bend, where the straight line carries `amps` as well.
        _ => Linear::Source { emf: emf - amps * resistance + amps * resistance / leak, resistance: resistance / leak },
    };
    match piece {
        Piece::Conducting => Linear::Source { emf, resistance },
        Piece::Off if element.law == Law::Open => Linear::Open,
        Piece::Off => flat(0.0),
        Piece::LimitedForward => flat(element.self_limit.forward),
        Piece::LimitedReverse => flat(-element.self_limit.reverse),
    }
}

pub(super) fn any_self_limit(elements: &[Element]) -> bool {
    elements.iter().any(|e| e.self_limit != SelfLimit::NONE)
}

/// At rest nothing may conduct, and the terminals float between what could feed and what could be
/// charged: the voltage at which the first would begin to feed, else the first to be charged.
pub(super) fn at_rest(elements: &[Element]) -> Side {
    let forward = elements.iter().filter(|e| matches!(e.law, Law::ForwardOnly { .. }));
    let reverse = elements.iter().filter(|e| matches!(e.law, Law::ReverseOnly { .. }));
    let feeding = forward.map(Element::driving).max_by(f64::total_cmp);
    let charged = reverse.map(Element::driving).min_by(f64::total_cmp);
    feeding.or(charged).map_or(Side::Dead, Side::Floating)
}
