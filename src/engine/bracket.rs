//! The first microsecond at which something has happened, closed in from both sides.
//!
//! In: two moments, not yet at the first and past it at the second, and how far at each guess.
//! Out: the guesses, until the two are neighbours.
//!
//! Regula falsi with the Illinois rule (M. Dowell and P. Jarratt, BIT 11 (1971) 168), on whole
//! microseconds. Where the excess jumps, as when a voltage collapses, straight lines lead nowhere:
//! whenever three guesses in a row have not halved the bracket, it is cut in half.

use crate::time::Time;

/// An excess before the event counts as at least this far below zero.
const LEAST: f64 = 1e-12;

const PATIENCE: u32 = 3;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Low,
    High,
}

/// Two moments with an event between them.
#[derive(Clone, Copy, Debug)]
pub struct Bracket {
    low: Time,
    high: Time,
    /// Excess at each; halved when the other end has moved twice.
    below: f64,
    above: f64,
    moved: Option<Side>,
    /// Guesses in a row that have not halved it.
    stalled: u32,
}

impl Bracket {
    /// A moment with an excess of at most zero, and a later one with a positive excess.
    pub fn new(low: (Time, f64), high: (Time, f64)) -> Bracket {
        Bracket { low: low.0, high: high.0, below: low.1.min(-LEAST), above: high.1, moved: None, stalled: 0 }
    }

    /// The first moment known to be past the event.
    pub fn high(&self) -> Time {
        self.high
    }

    fn width(&self) -> i64 {
        (self.high - self.low).0
    }

    /// The moment to look at next; `None` once both ends are neighbours.
    pub fn guess(&self) -> Option<Time> {
        let width = self.width();
        if width <= 1 {
            return None;
        }
        let share = if self.stalled < PATIENCE { self.below / (self.below - self.above) } else { 0.5 };
        let step = (width as f64 * share).round() as i64;
        Some(self.low + Time(step.clamp(1, width - 1)))
    }

    /// Takes the excess at a guess.
    pub fn narrow(&mut self, at: Time, excess: f64) {
        let before = self.width();
        let side = if excess > 0.0 { Side::High } else { Side::Low };
        let again = self.moved == Some(side);
        match side {
            Side::High => {
                (self.high, self.above) = (at, excess);
                self.below *= if again { 0.5 } else { 1.0 };
            }
            Side::Low => {
                (self.low, self.below) = (at, excess.min(-LEAST));
                self.above *= if again { 0.5 } else { 1.0 };
            }
        }
        self.moved = Some(side);
        let halved = self.width() <= before - before / 2;
        self.stalled = if halved { 0 } else { self.stalled + 1 };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP: Time = Time(60_000_000);

    /// The moment found, and how many guesses it took.
    fn find(excess: impl Fn(i64) -> f64) -> (i64, u32) {
        let mut bracket = Bracket::new((Time(0), excess(0)), (STEP, excess(STEP.0)));
        let mut guesses = 0;
        while let Some(at) = bracket.guess() {
            bracket.narrow(at, excess(at.0));
            guesses += 1;
        }
        (bracket.high().0, guesses)
    }

    #[test]
    fn smooth_crossings_take_few_guesses() {
        let (at, guesses) = find(|t| t as f64 - 12_345_678.5);
        assert!(at == 12_345_679 && guesses <= 4, "{at} {guesses}");
        let (at, guesses) = find(|t| (t as f64 * 1e-6).powi(3) - 1000.0);
        assert!(at == 10_000_001 && guesses <= 20, "{at} {guesses}");
    }

    /// From no excess at all to a whole one, wherever the jump lies: no more than four guesses for each
    /// of 26 halvings.
    #[test]
    fn a_jump_is_closed_in_on_all_the_same() {
        for jump in [1, 2, 1000, 30_000_000, 59_999_999, 60_000_000] {
            for below in [0.0, -1e-9, -0.3, -1e6] {
                let (at, guesses) = find(|t| if t < jump { below } else { 1.0 });
                assert_eq!(at, jump);
                assert!(guesses <= 4 * 26, "{guesses} guesses for {jump} from {below}");
            }
        }
    }
}
