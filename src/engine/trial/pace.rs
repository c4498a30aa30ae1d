//! How wide a step is tried: where one had to be halved, the next are not tried much wider.
//!
//! In: widths tried, and whether they were good. Out: the width to try next. The same for a trial alone and in its lane.

use crate::time::Time;

/// Halving is remembered until the next step of the grid.
#[derive(Clone, Copy, Debug)]
pub struct Pace {
    /// No step is tried wider.
    widest: Time,
    /// Of the step under way.
    tried: Time,
    halved: bool,
}

impl Pace {
    pub fn new() -> Pace {
        Pace { widest: Time::NEVER, tried: Time::NEVER, halved: false }
    }

    /// The width to try first where a step may be this wide.
    pub fn first(&mut self, most: Time) -> Time {
        (self.tried, self.halved) = (most.min(self.widest), false);
        self.tried
    }

    /// The width to try where the last was too wide; `None` where there is no narrower one.
    pub fn halve(&mut self) -> Option<Time> {
        if self.tried <= Time(1) {
            return None;
        }
        (self.tried, self.halved) = (Time((self.tried.0 + 1) / 2), true);
        Some(self.tried)
    }

    /// The step was taken, to a moment that is on the grid or not.
    pub fn take(&mut self, on_grid: bool) {
        self.widest = match (on_grid, self.halved) {
            (true, _) => Time::NEVER,
            (false, true) => self.tried,
            (false, false) => Time(self.widest.0.saturating_mul(2)),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_halved_grows_again_by_doubling_until_the_grid() {
        let mut pace = Pace::new();
        assert_eq!(pace.first(Time(1000)), Time(1000));
        assert_eq!((pace.halve(), pace.halve()), (Some(Time(500)), Some(Time(250))));
        pace.take(false);
        assert_eq!(pace.first(Time(750)), Time(250));
        pace.take(false);
        assert_eq!(pace.first(Time(500)), Time(500));
        pace.take(true);
        assert_eq!(pace.first(Time(1000)), Time(1000));
    }

    #[test]
    fn what_is_short_for_another_reason_does_not_hold_the_next_back() {
        let mut pace = Pace::new();
        pace.first(Time(3));
        pace.take(false);
        assert_eq!(pace.first(Time(1000)), Time(1000));
        pace.first(Time(1));
        assert_eq!(pace.halve(), None);
    }
}
