//! How wide a step is tried: where one had to be halved, the next are not tried much wider.
//!
//! In: widths tried, and whether they were good. Out: the width to try next. The same for a trial alone and in its lane.

use crate::time::Time;

/// Halving for a step's error is remembered until the next step of the grid.
#[derive(Clone, Copy, Debug)]
pub struct StepSize {
    /// No step is tried wider.
    widest: Time,
    /// Width of the step that is being tried; the width to which its error test has halved it, `None` where it has not.
    tried: Time,
    narrowed: Option<Time>,
}

impl StepSize {
    pub fn new() -> StepSize {
        StepSize { widest: Time::NEVER, tried: Time::NEVER, narrowed: None }
    }

    /// The width to try first where a step may be this wide.
    pub fn first(&mut self, most: Time) -> Time {
        (self.tried, self.narrowed) = (most.min(self.widest), None);
        self.tried
    }

    /// The width to try where the last was too wide for its error; `None` where there is no narrower one.
    pub fn narrow(&mut self) -> Option<Time> {
        self.narrowed = self.halve();
        self.narrowed
    }

    /// The same where the last found no end, or one that the load did not reach: that says nothing of the next.
    pub fn halve(&mut self) -> Option<Time> {
        if self.tried <= Time(1) {
            return None;
        }
        self.tried = Time((self.tried.0 + 1) / 2);
        Some(self.tried)
    }

    /// The step was taken, to a moment that is on the grid or not.
    pub fn take(&mut self, on_grid: bool) {
        self.widest = match (on_grid, self.narrowed) {
            (true, _) => Time::NEVER,
            (false, Some(width)) => width,
            (false, None) => Time(self.widest.0.saturating_mul(2)),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_halved_grows_again_by_doubling_until_the_grid() {
        let mut size = StepSize::new();
        assert_eq!(size.first(Time(1000)), Time(1000));
        assert_eq!((size.narrow(), size.narrow()), (Some(Time(500)), Some(Time(250))));
        size.take(false);
        assert_eq!(size.first(Time(750)), Time(250));
        size.take(false);
        assert_eq!(size.first(Time(500)), Time(500));
        size.take(true);
        assert_eq!(size.first(Time(1000)), Time(1000));
    }

    #[test]
    fn what_is_short_for_another_reason_does_not_hold_the_next_back() {
        let mut size = StepSize::new();
        size.first(Time(3));
        size.take(false);
        assert_eq!(size.first(Time(1000)), Time(1000));
        // Nor does a load that ceased to be met, which is closed in upon by halves.
        assert_eq!((size.halve(), size.halve()), (Some(Time(500)), Some(Time(250))));
        size.take(false);
        assert_eq!(size.first(Time(1000)), Time(1000));
        size.first(Time(1));
        assert_eq!((size.halve(), size.narrow()), (None, None));
    }
}
