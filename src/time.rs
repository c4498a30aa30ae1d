//! Integer time: the engine's clock.
//!
//! A moment within a trial and a length of time are whole microseconds, so that events have one
//! order on every machine and a sum of steps is exact. Calendar time (years, offsets, leap days)
//! belongs to `profile`; here there is only "so long after the trial's start".

use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::{Add, AddAssign, Sub};

/// A moment after the start of a trial, or a length of time [µs].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Time(pub i64);

impl Time {
    /// The beginning of a trial.
    pub const ZERO: Time = Time(0);
    /// Later than any horizon: "never".
    pub const NEVER: Time = Time(i64::MAX);

    /// The nearest whole microsecond; beyond the range of the clock, "never".
    pub fn from_seconds(seconds: f64) -> Time {
        let micros = (seconds * 1e6).round();
        if micros >= i64::MAX as f64 { Time::NEVER } else { Time(micros as i64) }
    }

    /// So many seconds, exactly.
    pub fn from_whole_seconds(seconds: i64) -> Time {
        Time(seconds.saturating_mul(1_000_000))
    }

    /// [s]
    pub fn seconds(self) -> f64 {
        self.0 as f64 * 1e-6
    }

    /// [h]
    pub fn hours(self) -> f64 {
        self.seconds() / 3600.0
    }

    /// The first whole multiple of a step that lies after this moment.
    pub fn next_multiple(self, step: Time) -> Time {
        Time((self.0 / step.0 + 1) * step.0)
    }

    /// `self + length`, or "never" where that overflows.
    pub fn after(self, length: Time) -> Time {
        Time(self.0.saturating_add(length.0))
    }
}

impl Add for Time {
    type Output = Time;
    fn add(self, other: Time) -> Time {
        Time(self.0 + other.0)
    }
}

impl AddAssign for Time {
    fn add_assign(&mut self, other: Time) {
        self.0 += other.0;
    }
}

impl Sub for Time {
    type Output = Time;
    fn sub(self, other: Time) -> Time {
        Time(self.0 - other.0)
    }
}

/// Hours, minutes and seconds after the start: `5:08:30`.
impl fmt::Display for Time {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let seconds = (self.0 + 500_000).div_euclid(1_000_000);
        write!(f, "{}:{:02}:{:02}", seconds / 3600, seconds / 60 % 60, seconds % 60)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_of_a_third_are_exact_to_the_microsecond() {
        assert_eq!(Time::from_seconds(30_000.0), Time(30_000_000_000));
        assert!((Time::from_seconds(25.0 / 3.0 * 3600.0).hours() - 25.0 / 3.0).abs() < 1e-9);
    }

    #[test]
    fn never_stays_never() {
        assert_eq!(Time::NEVER.after(Time(5)), Time::NEVER);
        assert_eq!(Time::from_seconds(1e300), Time::NEVER);
    }

    #[test]
    fn shown_as_a_clock() {
        assert_eq!(Time::from_seconds(5.0 * 3600.0 + 510.0).to_string(), "5:08:30");
    }
}
