//! A probability (or a difference, or a mean) and how well the trials pin it down.

use super::verdict::Verdict;
use serde::{Deserialize, Serialize};

/// A value with the 95 % interval of the trials. Where nothing in a scenario is random the value is exact, and both
/// ends are the value itself.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// The most likely value.
    pub estimate: f64,
    /// Lower end of the interval of the trials.
    pub low: f64,
    /// Upper end of the interval of the trials.
    pub high: f64,
    /// The interval by calendar nights, which contains the one by trials; absent where there is only one night, or where
    /// nights were not told apart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by_night: Option<[f64; 2]>,
}

impl Estimate {
    /// A value with the interval of the trials.
    pub const fn new(estimate: f64, low: f64, high: f64) -> Estimate {
        Estimate { estimate, low, high, by_night: None }
    }

    /// A value that does not depend on chance: both ends of its interval are the value.
    pub const fn exact(value: f64) -> Estimate {
        Estimate::new(value, value, value)
    }

    /// Whether chance has no part in it. No interval of trials has equal ends: none of a thousand million is below
    /// 4e-9.
    pub fn is_exact(&self) -> bool {
        self.low == self.high
    }

    /// Adds an interval by calendar nights, widened so that it contains the one by trials: the nights cannot be more certain
    /// than the trials that were drawn from them.
    pub fn and_by_night(self, by_night: Option<[f64; 2]>) -> Estimate {
        let wider = |[low, high]: [f64; 2]| [low.min(self.low), high.max(self.high)];
        Estimate { by_night: by_night.map(wider), ..self }
    }

    /// The estimate with the interval by trials alone.
    pub fn by_trials(&self) -> Estimate {
        Estimate { by_night: None, ..*self }
    }

    /// The estimate with the interval by calendar nights alone; `None` where there is none.
    pub fn by_nights(&self) -> Option<Estimate> {
        self.by_night.map(|[low, high]| Estimate::new(self.estimate, low, high))
    }

    /// Verdict on the requirement "with at least this probability".
    pub fn reaches(&self, least: f64) -> Verdict {
        self.judged(|[low, high]| (low >= least, high < least))
    }

    /// Verdict on the requirement "with at most this probability".
    pub fn stays_within(&self, most: f64) -> Verdict {
        self.judged(|[low, high]| (high <= most, low > most))
    }

    /// Met, or missed, where trials and calendar nights both say so; else it is not decided.
    fn judged(&self, by: impl Fn([f64; 2]) -> (bool, bool)) -> Verdict {
        let trials = by([self.low, self.high]);
        let nights = self.by_night.map_or(trials, &by);
        match (trials, nights) {
            ((true, _), (true, _)) => Verdict::Met,
            ((_, true), (_, true)) => Verdict::Missed,
            _ => Verdict::NotDecided,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_trials_and_nights_judge_differently_is_not_decided() {
        let e = Estimate::new(0.0067, 0.0052, 0.0085).and_by_night(Some([0.0008, 0.0239]));
        assert_eq!(e.by_trials().stays_within(0.01), Verdict::Met);
        assert_eq!(e.stays_within(0.01), Verdict::NotDecided);
        assert_eq!(e.by_trials().stays_within(0.005), Verdict::Missed);
        assert_eq!(e.stays_within(0.005), Verdict::NotDecided);
        assert_eq!([0.03, 0.0005].map(|p| e.stays_within(p)), [Verdict::Met, Verdict::Missed]);
        assert_eq!([0.0005, 0.03].map(|p| e.reaches(p)), [Verdict::Met, Verdict::Missed]);
        assert_eq!(e.reaches(0.005), Verdict::NotDecided);
    }

    #[test]
    fn nights_leave_no_less_open_than_trials() {
        let e = Estimate::new(0.5, 0.4, 0.6);
        assert_eq!(e.and_by_night(Some([0.45, 0.7])).by_night, Some([0.4, 0.7]));
        assert_eq!(e.and_by_night(None), e);
    }
}
