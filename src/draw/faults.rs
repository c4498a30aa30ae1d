//! When one module fails and is repaired.
//!
//! In: mean times, the start and a horizon. Out: the moments within it at which the module's
//! service changes.
//!
//! Times to failure and to repair are exponential with means MTBF and MTTR: the alternating renewal
//! process with constant rates λ = 1/MTBF, μ = 1/MTTR. From new its availability is
//! A(t) = μ/(λ+μ) + λ/(λ+μ)·e^(−(λ+μ)t); in the long run it is down with probability
//! MTTR/(MTBF+MTTR) (K. S. Trivedi, Probability and Statistics with Reliability, Queuing, and
//! Computer Science Applications). An exponential has no memory, so what remains of a repair or of
//! service at a stationary start is exponential with the same mean.

use super::{Source, ziggurat};
use crate::scenario::{FaultStart, Faults, Surge, SurgeWhen};
use crate::time::Time;
use rand::RngExt;

/// Failures and repairs of one module in one trial.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Timeline {
    /// Whether it has failed before the trial begins.
    pub down_at_start: bool,
    /// Strictly ascending, each after the start and before the horizon; every one turns down into up
    /// or up into down.
    pub changes: Vec<Time>,
}

impl Timeline {
    /// Whether it is down just after `at`.
    pub fn down_at(&self, at: Time) -> bool {
        let changed = self.changes.partition_point(|&change| change <= at) % 2 == 1;
        self.down_at_start != changed
    }

    /// Failures within the horizon; one that was down at the start is not among them.
    pub fn failures(&self) -> usize {
        (self.changes.len() + usize::from(!self.down_at_start)) / 2
    }
}

/// The timeline of the module that `source` is of.
///
/// One uniform draw decides the start and the holding times follow it, whatever `faults` says, so
/// that scenarios that differ in a mean time share their random numbers. Without repair a module that failed
/// stays down, and the start is in service. A holding time is at least 1 µs, the clock's step; means
/// are far above it. Without a change nothing is allocated.
pub fn timeline(source: &Source, trial: u64, faults: &Faults, horizon: Time) -> Timeline {
    let mut rng = source.rng(trial, 0);
    let down_at_start = rng.random::<f64>() < down_at_start(faults);
    let mut changes = Vec::new();
    let mut at = Time::ZERO;
    let mut down = down_at_start;
    while let Some(mean) = if down { faults.mttr } else { Some(faults.mtbf) } {
        let unit = ziggurat::exponential(&mut rng);
        at = at.after(Time::from_seconds(unit * mean).max(Time(1)));
        if at >= horizon {
            break;
        }
        changes.push(at);
        down = !down;
    }
    Timeline { down_at_start, changes }
}

/// When a surge begins and ends: at its moments, or at random with an exponential time from the end of
/// one to the start of the next. None lasts at the start.
pub fn surges(source: &Source, trial: u64, surge: &Surge, horizon: Time) -> Timeline {
    let mut changes = Vec::new();
    let mut add = |start: Time| {
        let ends = start.after(surge.lasts);
        changes.extend([start.max(Time(1)), ends].into_iter().filter(|&at| at < horizon));
        ends
    };
    match &surge.when {
        SurgeWhen::At(moments) => moments.iter().for_each(|&at| {
            add(at);
        }),
        SurgeWhen::Every(mean) => {
            let mut rng = source.rng(trial, 0);
            let mut at = Time::ZERO;
            while at < horizon {
                let unit = ziggurat::exponential(&mut rng);
                at = add(at.after(Time::from_seconds(unit * mean).max(Time(1))));
            }
        }
    }
    Timeline { down_at_start: false, changes }
}

/// The probability of being down at the start.
fn down_at_start(faults: &Faults) -> f64 {
    match (faults.start, faults.mttr) {
        (FaultStart::Stationary, Some(mttr)) => mttr / (faults.mtbf + mttr),
        (FaultStart::Stationary, None) | (FaultStart::InService, _) => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::Purpose;

    const HORIZON: Time = Time(14 * 3_600_000_000);

    fn source() -> Source {
        Source::new(1, Purpose::Fault, "A1")
    }

    fn faults(mtbf_h: f64, mttr_h: Option<f64>, start: FaultStart) -> Faults {
        Faults { mtbf: mtbf_h * 3600.0, mttr: mttr_h.map(|h| h * 3600.0), start }
    }

    #[test]
    fn changes_ascend_within_the_horizon() {
        let busy = faults(0.5, Some(0.1), FaultStart::Stationary);
        let mut all = 0;
        for trial in 0..200 {
            let line = timeline(&source(), trial, &busy, HORIZON);
            all += line.changes.len();
            assert!(line.changes.windows(2).all(|pair| pair[0] < pair[1]));
            assert!(line.changes.iter().all(|&t| Time::ZERO < t && t < HORIZON));
        }
        assert!(all > 200 * 30);
    }

    #[test]
    fn without_repair_it_fails_once_and_starts_up() {
        let frail = faults(5.0, None, FaultStart::Stationary);
        for trial in 0..200 {
            let line = timeline(&source(), trial, &frail, HORIZON);
            assert!(!line.down_at_start && line.changes.len() <= 1);
            assert_eq!(line.down_at(HORIZON), line.failures() == 1);
        }
    }

    #[test]
    fn a_longer_horizon_only_adds_changes() {
        let busy = faults(2.0, Some(1.0), FaultStart::InService);
        for trial in 0..50 {
            let short = timeline(&source(), trial, &busy, HORIZON);
            let long = timeline(&source(), trial, &busy, Time(HORIZON.0 * 3));
            assert_eq!(long.changes[..short.changes.len()], short.changes[..]);
        }
    }

    #[test]
    fn state_turns_at_each_change() {
        let line = Timeline { down_at_start: true, changes: vec![Time(10), Time(20), Time(30)] };
        let states = [0, 9, 10, 19, 20, 30].map(|t| line.down_at(Time(t)));
        assert_eq!(states, [true, true, false, false, true, false]);
        assert_eq!(line.failures(), 1);
        let line = Timeline { down_at_start: false, changes: line.changes };
        assert_eq!(line.failures(), 2);
    }

    #[test]
    fn no_horizon_no_change() {
        let busy = faults(1e-6, Some(1e-6), FaultStart::InService);
        assert_eq!(timeline(&source(), 0, &busy, Time::ZERO).changes, vec![]);
        let never = faults(f64::INFINITY, None, FaultStart::InService);
        assert_eq!(timeline(&source(), 0, &never, HORIZON).changes, vec![]);
    }
}
