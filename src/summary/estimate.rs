//! A probability (or a difference, or a mean) and how well the trials pin it down.

use super::Verdict;
use serde::{Deserialize, Serialize};

/// A value with the 95 % interval of the trials. Where nothing in a scenario is random the value is exact, and both
/// ends are the value itself.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
}

impl Estimate {
    pub const fn new(estimate: f64, low: f64, high: f64) -> Estimate {
        Estimate { estimate, low, high }
    }

    /// Of what chance has no part in.
    pub const fn exact(value: f64) -> Estimate {
        Estimate::new(value, value, value)
    }

    /// Whether chance has no part in it. No interval of trials has equal ends: none of a thousand million is below
    /// 4e-9.
    pub fn is_exact(&self) -> bool {
        self.low == self.high
    }

    /// Of "with at least this probability".
    pub fn reaches(&self, least: f64) -> Verdict {
        verdict(self.low >= least, self.high < least)
    }

    /// Of "with at most this probability".
    pub fn stays_within(&self, most: f64) -> Verdict {
        verdict(self.high <= most, self.low > most)
    }
}

fn verdict(met: bool, missed: bool) -> Verdict {
    match (met, missed) {
        (true, _) => Verdict::Met,
        (_, true) => Verdict::Missed,
        _ => Verdict::NotDecided,
    }
}
