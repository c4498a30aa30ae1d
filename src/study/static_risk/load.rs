//! What the load asks of the bus at a moment.
//!
//! In: the scenario's load, and the nights that a trial may draw. Out: loads by how often they are not exceeded.
//! Motor starts and the spread of the load are not in them.

use crate::engine::inverter::{Asked, InverterState};
use crate::network::Demand;
use crate::profile::Series;
use crate::scenario::{Load, Scenario};
use crate::time::Time;

/// Shares of the time; for each, the load is reported that is not exceeded in that share.
const SHARES: [f64; 5] = [0.5, 0.9, 0.95, 0.99, 0.999];

/// One load.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadAt {
    /// Share of the time for which the load is at most this; `None`: stated, or constant.
    pub share: Option<f64>,
    /// At the bus.
    pub demand: Demand,
}

/// The load's quantiles over the nights; a constant load is one. Empty without a load.
pub fn quantiles(scenario: &Scenario) -> Vec<LoadAt> {
    let inverter = InverterState::new(scenario.inverter.as_ref());
    let at = |share: Option<f64>, asked: Asked| LoadAt { share, demand: inverter.demand(asked) };
    match &scenario.load {
        None => Vec::new(),
        Some(Load::Current(amps)) => vec![at(None, Asked::Current(*amps))],
        Some(Load::Power(watts)) => vec![at(None, Asked::Power(*watts))],
        Some(Load::Profile(series)) => {
            let durations = sorted(durations(scenario, series));
            let shares = SHARES.into_iter().chain([1.0]);
            shares.filter_map(|share| Some(at(Some(share), Asked::Power(quantile(&durations, share)?)))).collect()
        }
    }
}

/// Each value of the load with its duration [s], over all nights; without nights, over the whole profile.
fn durations(scenario: &Scenario, series: &Series) -> Vec<(f64, f64)> {
    let nights = scenario.trials.as_ref().map(|trials| (trials.horizon, &trials.nights));
    let Some((horizon, nights)) = nights else {
        let ends = series.times().iter().copied().skip(1).chain([series.end()]);
        let values = series.times().iter().zip(series.values()).zip(ends);
        return values.map(|((from, value), to)| (*value, (to - from) as f64)).collect();
    };
    nights.iter().flat_map(|night| one_night(series, night.load_start, horizon)).collect()
}

fn one_night(series: &Series, start: i64, horizon: Time) -> Vec<(f64, f64)> {
    let mut cursor = series.cursor(start);
    let (mut at, mut durations) = (Time::ZERO, Vec::new());
    while at < horizon {
        let (value, next) = cursor.held(at);
        let next = next.min(horizon);
        durations.push((value, next.seconds() - at.seconds()));
        at = next;
    }
    durations
}

fn sorted(mut durations: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    durations.sort_by(|a, b| a.0.total_cmp(&b.0));
    durations
}

/// The least value that is not exceeded for this share of the time; values rising.
fn quantile(durations: &[(f64, f64)], share: f64) -> Option<f64> {
    let whole: f64 = durations.iter().map(|h| h.1).sum();
    let mut passed = 0.0;
    let reached = durations.iter().find(|(_, lasts)| {
        passed += lasts;
        passed >= share * whole * (1.0 - 1e-12)
    });
    reached.or(durations.last()).map(|h| h.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_weigh_by_time() {
        let durations = sorted(vec![(5.0, 1.0), (1.0, 90.0), (2.0, 9.0)]);
        let of = |share: f64| quantile(&durations, share);
        assert_eq!([0.5, 0.9, 0.901, 0.99, 0.991, 1.0].map(of), [1.0, 1.0, 2.0, 2.0, 5.0, 5.0].map(Some));
        assert_eq!(quantile(&[], 0.5), None);
    }
}
