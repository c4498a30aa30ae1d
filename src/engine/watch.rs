//! Clocks of what lasts: overload of an element, and shortfall of the load.
//!
//! In: whether (or by how much) a limit is exceeded at both ends of a step. Out: how long, since
//! when, and whether for as long as the hold time without a break. The hold time counts in the time over.

use crate::time::Time;

/// Current counts as over its limit beyond this relative excess.
pub const OVER_BY: f64 = 1e-9;

/// A stretch that ended, or that reached the hold time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    pub from: Time,
    pub to: Time,
}

/// What a step did to a clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Passed {
    /// When it began to run, if it did.
    pub began: Option<Time>,
    /// A stretch of at least the hold time that ended.
    pub ended: Option<Stretch>,
    /// The start of a stretch that has lasted for the hold time.
    pub lasting_since: Option<Time>,
}

/// One clock: runs while a limit is exceeded, is reset on release.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct HoldClock {
    since: Option<Time>,
}

impl HoldClock {
    /// Takes a step from `from` to `to`.
    pub fn pass(&mut self, passage: Passage, from: Time, to: Time, hold_time: Time) -> Passed {
        let mut passed = Passed::default();
        let (begins, ends) = match passage {
            Passage::Never => (None, Some(from)),
            Passage::Always => (Some(from), None),
            Passage::Until(at) => (Some(from), Some(at)),
            Passage::From(at) => {
                passed.ended = self.stop(from, hold_time);
                (Some(at), None)
            }
        };
        if let Some(at) = begins.filter(|_| self.since.is_none()) {
            passed.began = Some(at);
            self.start(at);
        }
        if let Some(at) = ends {
            passed.ended = self.stop(at, hold_time);
        }
        passed.lasting_since = if self.has_lasted(to, hold_time) { self.since } else { passed.ended.map(|s| s.from) };
        passed
    }

    pub fn since(&self) -> Option<Time> {
        self.since
    }

    /// Whether it has run for the hold time by `now`.
    pub fn has_lasted(&self, now: Time, hold_time: Time) -> bool {
        self.since.is_some_and(|s| now > s && now - s >= hold_time)
    }

    pub fn start(&mut self, at: Time) {
        self.since.get_or_insert(at);
    }

    /// Stops the clock; the stretch, if it lasted for the hold time.
    pub fn stop(&mut self, at: Time, hold_time: Time) -> Option<Stretch> {
        let lasted = self.has_lasted(at, hold_time);
        let from = self.since.take()?;
        lasted.then_some(Stretch { from, to: at })
    }
}

/// What one step does to a clock, for an excess that runs straight between its ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Passage {
    Never,
    /// Over throughout.
    Always,
    /// Over until this moment.
    Until(Time),
    /// Over from this moment on.
    From(Time),
}

impl Passage {
    pub fn of(from: Time, to: Time, excess: (f64, f64)) -> Passage {
        let crossing = || {
            let share = excess.0 / (excess.0 - excess.1);
            from + Time(((to - from).0 as f64 * share).round() as i64)
        };
        match (excess.0 > 0.0, excess.1 > 0.0) {
            (false, false) => Passage::Never,
            (true, true) => Passage::Always,
            (true, false) => Passage::Until(crossing()),
            (false, true) => Passage::From(crossing()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOLD: Time = Time(10_000_000);

    #[test]
    fn a_short_stretch_does_not_count() {
        let mut c = HoldClock::default();
        c.start(Time(0));
        assert_eq!(c.stop(Time(9_999_999), HOLD), None);
        c.start(Time(20_000_000));
        let whole = Stretch { from: Time(20_000_000), to: Time(30_000_000) };
        assert_eq!(c.stop(Time(30_000_000), HOLD), Some(whole));
        assert_eq!(c.since(), None);
    }

    #[test]
    fn nothing_lasts_no_time_even_without_a_hold() {
        let mut c = HoldClock::default();
        c.start(Time(5));
        assert!(!c.has_lasted(Time(5), Time(0)) && c.has_lasted(Time(6), Time(0)));
    }

    #[test]
    fn crossings_lie_where_the_line_does() {
        let passage = Passage::of(Time(0), Time(60), (-1.0, 2.0));
        assert_eq!(passage, Passage::From(Time(20)));
        assert_eq!(Passage::of(Time(0), Time(60), (1.0, -2.0)), Passage::Until(Time(20)));
        assert_eq!(Passage::of(Time(0), Time(60), (0.0, 0.0)), Passage::Never);
    }
}
