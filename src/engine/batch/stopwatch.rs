//! Where the time of lanes goes, for benches: the clock is read only where one has asked.

use std::time::{Duration, Instant};

/// Adds up time between `start` and `stop` while it is on.
#[derive(Clone, Debug, Default)]
pub struct Stopwatch {
    on: bool,
    since: Option<Instant>,
    spent: Duration,
}

impl Stopwatch {
    pub fn turn(&mut self, on: bool) {
        self.on = on;
    }

    pub fn is_on(&self) -> bool {
        self.on
    }

    #[inline(always)]
    pub fn start(&mut self) {
        if self.on {
            self.since = Some(Instant::now());
        }
    }

    #[inline(always)]
    pub fn stop(&mut self) {
        if let Some(since) = self.since.take() {
            self.spent += since.elapsed();
        }
    }

    pub fn spent(&self) -> Duration {
        self.spent
    }
}

/// Time of ridden steps; of that, of their networks, solved and checked by Kirchhoff's law and the balance of power; and
/// of that, of the solutions with Kirchhoff's law alone. Each holds a reading of the clock or some.
#[derive(Clone, Copy, Debug)]
pub struct Spent {
    /// Time of whole steps; the two below are part of it.
    pub steps: Duration,
    /// Time of solving their networks and checking the solutions.
    pub networks: Duration,
    /// Time of solving the networks and checking Kirchhoff's current law only.
    pub solutions: Duration,
}
