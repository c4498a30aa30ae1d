//! Losses of service in their order, and what followed from what.
//!
//! In: every loss of a trial as it happens. Out: the cascade, if there was one: protection that took
//! something out within a window after an earlier loss; and how long until the bank was dark.

use super::module::Reason;
use crate::time::Time;
use serde::{Deserialize, Serialize};

/// Losses told of one cascade; the rest are counted in its size.
const TOLD: usize = 8;

/// What was lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Lost {
    Module(usize),
    /// By its low-voltage cut-out.
    Inverter,
    /// One that opened by itself.
    Conductor(usize),
    /// A fuse or breaker in a conductor, by number of the bank's devices.
    Device(usize),
}

/// One loss: what, and why.
pub type Loss = (Lost, Reason);

/// A cascade: its losses in order, and how many of them were by protection after the first.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Cascade {
    pub sequence: Vec<Loss>,
    pub size: u32,
}

/// The losses of one trial so far.
#[derive(Clone, Debug)]
pub struct LossLog {
    window: Time,
    losses: Vec<(Time, Loss)>,
    dark_after: Option<Time>,
}

impl LossLog {
    pub fn new(window: Time) -> LossLog {
        LossLog { window, losses: Vec::new(), dark_after: None }
    }

    pub fn lose(&mut self, at: Time, what: Lost, reason: Reason) {
        self.losses.push((at, (what, reason)));
    }

    /// Nothing delivers any more.
    pub fn go_dark(&mut self, at: Time) {
        let mut losses = self.losses.iter();
        let first = losses.find(|(_, (_, reason))| !reason.is_exhaustion());
        if let (Some((first, _)), None) = (first, self.dark_after) {
            self.dark_after = Some(at - *first);
        }
    }

    /// From the first loss until nothing delivered; the end of the charge is no such loss.
    pub fn dark_after(&self) -> Option<Time> {
        self.dark_after
    }

    /// The first cascade of the trial. The end of the charge is not the beginning of one.
    pub fn cascade(&self) -> Option<Cascade> {
        let follows = |k: usize| self.losses[k].0 - self.losses[k - 1].0 <= self.window;
        let mut first = 0;
        while first < self.losses.len() {
            let mut end = first + 1;
            while end < self.losses.len() && follows(end) {
                end += 1;
            }
            let run = &self.losses[first..end];
            let begins = run.iter().position(|(_, (_, reason))| !reason.is_exhaustion());
            if let Some(begins) = begins {
                let after = run[begins + 1..].iter().filter(|(_, loss)| is_protection(loss));
                let size = after.count() as u32;
                if size > 0 {
                    let sequence = run[begins..].iter().take(TOLD).map(|(_, loss)| *loss).collect();
                    return Some(Cascade { sequence, size });
                }
            }
            first = end;
        }
        None
    }
}

fn is_protection(loss: &Loss) -> bool {
    loss.0 == Lost::Inverter || loss.1.is_protection()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn log(losses: &[(f64, usize, Reason)]) -> LossLog {
        let mut log = LossLog::new(Time::from_seconds(60.0));
        for &(at, k, reason) in losses {
            log.lose(Time::from_seconds(at), Lost::Module(k), reason);
        }
        log
    }

    #[test]
    fn protection_after_a_dropout_is_a_cascade() {
        let c = log(&[(100.0, 0, Reason::Cold), (100.5, 1, Reason::OverCurrent), (101.0, 2, Reason::OverCurrent)]);
        let c = c.cascade().unwrap();
        assert_eq!(c.size, 2);
        assert_eq!(c.sequence[0], (Lost::Module(0), Reason::Cold));
    }

    #[test]
    fn two_dropouts_or_an_empty_bank_or_a_late_trip_are_none() {
        assert_eq!(log(&[(0.0, 0, Reason::Cold), (1.0, 1, Reason::Fault)]).cascade(), None);
        assert_eq!(log(&[(0.0, 0, Reason::Empty), (1.0, 1, Reason::LowVoltage)]).cascade(), None);
        assert_eq!(log(&[(0.0, 0, Reason::Cold), (61.0, 1, Reason::OverCurrent)]).cascade(), None);
    }

    #[test]
    fn dark_is_told_once_from_the_first_loss() {
        let mut l = log(&[(10.0, 0, Reason::Cold)]);
        l.go_dark(Time::from_seconds(12.0));
        l.go_dark(Time::from_seconds(20.0));
        assert_eq!(l.dark_after(), Some(Time::from_seconds(2.0)));
    }

    #[test]
    fn a_bank_that_runs_empty_is_not_dark_after_a_loss() {
        let mut l = log(&[(10.0, 0, Reason::Empty), (12.0, 1, Reason::LowVoltage)]);
        l.go_dark(Time::from_seconds(12.0));
        assert_eq!(l.dark_after(), None);
        let mut l = log(&[(10.0, 0, Reason::Empty), (20.0, 1, Reason::Fault)]);
        l.go_dark(Time::from_seconds(25.0));
        assert_eq!(l.dark_after(), Some(Time::from_seconds(5.0)));
    }
}
