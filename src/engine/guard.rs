//! Guards of a module or an inverter: a quantity beyond `trip` for a delay acts; back inside
//! `release` for the same delay it lets go.
//!
//! In: the value of the quantity at a moment. Out: whether the guard has tripped, and when its
//! timer runs out. A guard changes phase where its `excess` turns positive, which the step locates.

use super::range::Range;
use crate::scenario::{Guard, Window};
use crate::time::Time;

/// Which side of the permitted range a guard watches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    Low,
    High,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    Clear,
    /// Beyond `trip`; acts at this moment unless it comes back.
    Arming(Time),
    Tripped,
    /// Back inside `release`; lets go at this moment unless it leaves again.
    Releasing(Time),
    /// Tripped, and lets go at this moment whatever the value; never: locked out.
    Out(Time),
}

/// One guard at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GuardState {
    guard: Guard,
    release_delay: Time,
    side: Side,
    phase: Phase,
}

impl GuardState {
    pub fn new(guard: Guard, side: Side) -> GuardState {
        GuardState { guard, release_delay: guard.delay, side, phase: Phase::Clear }
    }

    /// Lets go after a delay other than the one it trips with.
    pub fn with_release_delay(self, release_delay: Time) -> GuardState {
        GuardState { release_delay, ..self }
    }

    /// The guards of a window, the low one first.
    pub fn of_window(window: &Window) -> impl Iterator<Item = GuardState> {
        let low = window.low.map(|g| GuardState::new(g, Side::Low));
        let high = window.high.map(|g| GuardState::new(g, Side::High));
        low.into_iter().chain(high)
    }

    pub fn side(&self) -> Side {
        self.side
    }

    pub fn tripped(&self) -> bool {
        matches!(self.phase, Phase::Tripped | Phase::Releasing(_) | Phase::Out(_))
    }

    /// Whether a value is beyond its threshold, whatever its phase.
    pub fn is_beyond(&self, value: f64) -> bool {
        match self.side {
            Side::Low => value < self.guard.trip,
            Side::High => value > self.guard.trip,
        }
    }

    /// When its timer runs out, or never.
    pub fn due(&self) -> Time {
        match self.phase {
            Phase::Arming(due) | Phase::Releasing(due) | Phase::Out(due) => due,
            Phase::Clear | Phase::Tripped => Time::NEVER,
        }
    }

    /// Positive where this value makes the guard change its phase; continuous in the value.
    pub fn excess(&self, value: f64) -> f64 {
        let outward = match self.side {
            Side::Low => -1.0,
            Side::High => 1.0,
        };
        match self.phase {
            Phase::Clear => outward * (value - self.guard.trip),
            Phase::Arming(_) => outward * (self.guard.trip - value),
            Phase::Tripped => outward * (self.guard.release - value),
            Phase::Releasing(_) => outward * (value - self.guard.release),
            Phase::Out(_) => f64::NEG_INFINITY,
        }
    }

    /// The values that have no excess.
    pub fn range(&self) -> Range {
        let (outward, at) = match self.phase {
            Phase::Clear => (true, self.guard.trip),
            Phase::Arming(_) => (false, self.guard.trip),
            Phase::Tripped => (false, self.guard.release),
            Phase::Releasing(_) => (true, self.guard.release),
            Phase::Out(_) => return Range::ANY,
        };
        if (self.side == Side::High) == outward {
            Range { high: at, ..Range::ANY }
        } else {
            Range { low: at, ..Range::ANY }
        }
    }

    /// Keeps a guard that has tripped out until a moment, or for good (`Time::NEVER`).
    pub fn put_out(&mut self, until: Time) {
        self.phase = Phase::Out(until);
    }

    /// Changes phase after a positive `excess`; true if the guard tripped or let go at once.
    pub fn flip(&mut self, now: Time) -> bool {
        let begins = match self.phase {
            Phase::Clear => Phase::Arming(now.after(self.guard.delay)),
            Phase::Tripped => Phase::Releasing(now.after(self.release_delay)),
            Phase::Arming(_) => Phase::Clear,
            Phase::Releasing(_) => Phase::Tripped,
            Phase::Out(until) => Phase::Out(until),
        };
        self.phase = begins;
        self.due() <= now && self.expire(now)
    }

    /// Lets a timer that is due run out; true if the guard tripped or let go.
    pub fn expire(&mut self, now: Time) -> bool {
        if self.due() > now {
            return false;
        }
        self.phase = match self.phase {
            Phase::Arming(_) | Phase::Tripped => Phase::Tripped,
            Phase::Releasing(_) | Phase::Out(_) | Phase::Clear => Phase::Clear,
        };
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cold() -> GuardState {
        let delay = Time::from_seconds(5.0);
        GuardState::new(Guard { trip: -10.0, release: -5.0, delay }, Side::Low)
    }

    #[test]
    fn trips_after_its_delay_and_releases_at_another_value() {
        let mut g = cold();
        assert!(g.excess(-9.9) < 0.0 && g.excess(-10.1) > 0.0);
        assert!(!g.flip(Time(0)));
        assert_eq!(g.due(), Time::from_seconds(5.0));
        assert!(!g.expire(Time::from_seconds(4.9)) && !g.tripped());
        assert!(g.expire(Time::from_seconds(5.0)) && g.tripped());
        assert!(g.excess(-6.0) < 0.0 && g.excess(-4.9) > 0.0);
        g.flip(Time::from_seconds(100.0));
        assert!(g.tripped(), "still out while it waits to let go");
        assert!(g.expire(Time::from_seconds(105.0)) && !g.tripped());
    }

    #[test]
    fn a_short_excursion_does_nothing() {
        let mut g = cold();
        g.flip(Time(0));
        assert!(g.excess(-9.0) > 0.0, "back inside");
        g.flip(Time(1));
        assert_eq!(g.due(), Time::NEVER);
        assert!(!g.tripped());
    }
}
