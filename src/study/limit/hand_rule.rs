//! Limits calculated by hand, without the network: the one-division rule, and the sum that a controller would announce.
//!
//! In: the scenario, or the bank's modules. Out: a current for each rule, to compare with the exact limit.

use super::binding_current::Direction;
use crate::scenario::{Scenario, Stack};
use crate::study::steady::{Steady, SteadyModule};

/// Every module carries an equal share, and no lead pair more than its rating: a stack of m modules on p pairs of
/// rating r allows r·p/m a module, and the bank the least of these times all its modules [A]. A stack with an
/// unrated pair does not bind; `None` where none binds.
pub fn one_division(scenario: &Scenario) -> Option<f64> {
    let shares = scenario.stacks.iter().filter_map(|stack| share_of_leads(scenario, stack));
    let least = shares.min_by(f64::total_cmp)?;
    Some(least * scenario.module_count() as f64)
}

fn share_of_leads(scenario: &Scenario, stack: &Stack) -> Option<f64> {
    let ratings: Option<Vec<f64>> = stack.leads.iter().map(|l| scenario.cables[l.cable].rating).collect();
    Some(ratings?.iter().sum::<f64>() / stack.positions.len() as f64)
}

/// The sum of the limits of the modules that deliver (or take charge), with a number of them out [A]: the least
/// over all sets, for each number from 0. `None` where a module is unrated.
pub fn announced(steady: &Steady, direction: Direction) -> Option<Vec<f64>> {
    let serves = |m: &&SteadyModule| match direction {
        Direction::Discharge => m.state.delivers(),
        Direction::Charge => m.state.takes_charge(),
    };
    let limit = |m: &SteadyModule| match direction {
        Direction::Discharge => m.kind.discharge_limit,
        Direction::Charge => m.kind.charge_limit,
    };
    let mut limits: Vec<f64> = steady.modules.iter().filter(serves).map(limit).collect::<Option<_>>()?;
    limits.sort_by(f64::total_cmp);
    let count = steady.modules.len();
    Some((0..=count).map(|out| limits.iter().take(limits.len().saturating_sub(out)).sum()).collect())
}
