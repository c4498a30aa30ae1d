//! What is known of a layout without simulating a night: its safe limits, and its losses at the greatest load.
//!
//! In: a scenario. Out: the limit with 0, 1, … modules out; at the greatest load of the scenario, with all modules in,
//! what its conductors lose and how far the bus is below the farthest module. All at 25 °C and the charge at the start.

use crate::engine::ambient::DEFAULT_AIR;
use crate::engine::inverter::{Asked, InverterState};
use crate::network::Demand;
use crate::progress::{Progress, Work};
use crate::scenario::{Load, Scenario};
use crate::study::error::StudyError;
use crate::study::{limit, point};
use crate::summary::{LimitVerdict, Verdict};
use serde::Serialize;

/// The answers for a layout that need no simulated night: its limits, and its losses at the greatest load.
#[derive(Clone, Debug, Serialize)]
pub struct StaticResult {
    /// Discharge limit for each number of modules out, from 0 up.
    pub limits: Vec<Limit>,
    /// Verdict on the limit target; null: the scenario has none.
    pub limit_target: Option<LimitVerdict>,
    /// Current, losses and voltage drop at the greatest load.
    pub at_load: AtLoad,
}

/// The greatest safe discharge current with exactly `outages` modules out.
#[derive(Clone, Debug, Serialize)]
pub struct Limit {
    /// Modules out.
    pub outages: usize,
    /// Safe current [A], proven where the sets are too many to solve all; null: nothing limits it.
    pub current_a: Option<f64>,
    /// False where the limit lies between `current_a` and `high_a`.
    pub exact: bool,
    /// Limit of the worst set that was solved [A]; null where none of them has a limit.
    pub high_a: Option<f64>,
    /// The element that reaches its limit first; null where none does.
    pub binding: Option<String>,
    /// Identifiers of the modules that are out in the worst set.
    pub out: Vec<String>,
}

/// State of the bank at the greatest load, surges left out.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct AtLoad {
    /// Whether the bank carries it.
    pub carried: bool,
    /// Current of the bank [A].
    pub current_a: f64,
    /// Power lost in all conductors, joints included [W].
    pub loss_w: f64,
    /// Voltage drop from the module with the highest terminal voltage to the bus [V].
    pub drop_v: f64,
}

/// The limits for up to `outages` modules out, or as many as the target names where that is more, and the losses.
///
/// # Errors
/// Limits that take too many sets, or an interruption.
pub fn solve(scenario: &Scenario, outages: usize, progress: &Progress<'_>) -> Result<StaticResult, StudyError> {
    let limits = limits_within(scenario, &question(scenario, outages), progress)?;
    Ok(StaticResult { limit_target: target(scenario, &limits), limits, at_load: at_load(scenario)? })
}

/// The verdict on the limit target alone; `None`: the scenario has none.
///
/// # Errors
/// Too many sets, or an interruption.
pub fn limit_target(scenario: &Scenario, progress: &Progress<'_>) -> Result<Option<LimitVerdict>, StudyError> {
    if scenario.targets.limit.is_none() {
        return Ok(None);
    }
    progress.begin(Work::Sets, Some(sets_to_solve(scenario, 0)?));
    Ok(target(scenario, &limits_within(scenario, &question(scenario, 0), progress)?))
}

/// The verdict on the limit target.
fn target(scenario: &Scenario, limits: &[Limit]) -> Option<LimitVerdict> {
    let target = scenario.targets.limit?;
    limits.iter().find(|l| l.outages == target.outages.min(scenario.module_count())).map(|l| verdict(target, l))
}

/// How many sets `solve` works through.
///
/// # Errors
/// Too many.
pub fn sets_to_solve(scenario: &Scenario, outages: usize) -> Result<u64, StudyError> {
    limit::sets_in_rows(scenario, &question(scenario, outages))
}

/// The question for the limit: up to `outages` modules out, or as many as the target names where that is more.
pub fn question(scenario: &Scenario, outages: usize) -> limit::Question {
    let outages = outages.max(scenario.targets.limit.map_or(0, |t| t.outages));
    limit::Question { outages, soc: None, air: DEFAULT_AIR, also_air: Vec::new(), most_sets: limit::MOST_SETS }
}

/// The discharge limits for each number of modules out.
///
/// # Errors
/// Too many sets even for bounds, or an interruption.
pub fn limits_within(
    scenario: &Scenario,
    question: &limit::Question,
    progress: &Progress<'_>,
) -> Result<Vec<Limit>, StudyError> {
    let rows = limit::rows(scenario, question, progress)?;
    let row = |row: limit::Row| Limit {
        outages: row.outages,
        current_a: row.discharge.current_a,
        exact: row.discharge.bounds.is_none(),
        high_a: row.discharge.bounds.map_or(row.discharge.current_a, |range| range.high_a),
        binding: row.discharge.binding,
        out: row.discharge.out,
    };
    Ok(rows.into_iter().map(row).collect())
}

/// Whether the limit meets its target, beyond rounding.
pub fn verdict(target: crate::scenario::LimitTarget, limit: &Limit) -> LimitVerdict {
    let reaches = |end: Option<f64>| end.is_none_or(|amps| amps >= target.current * (1.0 - 1e-9));
    let verdict = match (reaches(limit.current_a), reaches(limit.high_a)) {
        (true, _) => Verdict::Met,
        (false, true) => Verdict::NotDecided,
        (false, false) => Verdict::Missed,
    };
    LimitVerdict {
        outages: target.outages,
        wanted_a: target.current,
        got_a: limit.current_a,
        exact: limit.exact,
        high_a: limit.high_a,
        binding: limit.binding.clone(),
        out: limit.out.clone(),
        met: verdict == Verdict::Met,
        verdict,
    }
}

fn at_load(scenario: &Scenario) -> Result<AtLoad, StudyError> {
    let question = point::Question { demand: greatest(scenario), soc: None, air: DEFAULT_AIR, without: Vec::new() };
    let point = point::solve(scenario, &question)?;
    let highest = point.modules.iter().filter_map(|m| m.voltage_v).fold(f64::NEG_INFINITY, f64::max);
    Ok(AtLoad {
        carried: point.bus.carried,
        current_a: point.bus.current_a,
        loss_w: point.conductors.iter().map(|c| c.loss_w).sum(),
        drop_v: point.bus.voltage_v.map_or(0.0, |bus| highest - bus),
    })
}

/// The greatest load at the bus.
fn greatest(scenario: &Scenario) -> Demand {
    let asked = match &scenario.load {
        None => return Demand::NONE,
        Some(Load::Current(amps)) => Asked::Current(*amps),
        Some(Load::Power(watts)) => Asked::Power(*watts),
        Some(Load::Profile(series)) => Asked::Power(series.values().iter().copied().fold(0.0, f64::max)),
    };
    InverterState::new(scenario.inverter.as_ref()).demand(asked)
}
