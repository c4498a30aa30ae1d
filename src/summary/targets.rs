//! Targets of a scenario, and what was found of them.

use super::estimate::Estimate;
use super::verdict::Verdict;
use serde::{Deserialize, Serialize};

/// What a night is judged by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Target {
    /// The load is served for as long as is wanted.
    RideThrough,
    /// Nothing is over its limit.
    OverloadProbability,
    /// No conductor is above its temperature rating.
    OverTemperature,
    /// No protective device opens.
    DeviceOpened,
}

/// A target against what the trials say of it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct TargetVerdict {
    /// Which target it is.
    pub target: Target,
    /// The target in words, with numbers: `served for at least 12 h with probability 0.99`.
    pub wanted: String,
    /// Time for which the load is to be served [h]; null for other targets.
    pub length_h: Option<f64>,
    /// The probability that is asked for (0…1).
    pub required: f64,
    /// The probability that was found.
    pub got: Estimate,
    /// What the trials say of it.
    pub verdict: Verdict,
}

/// The greatest safe discharge current with so many modules out, against what is wanted; 25 °C, charge at the start.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LimitVerdict {
    /// Modules out.
    pub outages: usize,
    /// The current that is asked for [A].
    pub wanted_a: f64,
    /// Null: nothing bounds it. Where the sets are too many to solve, what is proven to be safe.
    pub got_a: Option<f64>,
    /// False where the limit lies between `got_a` and `high_a`.
    pub exact: bool,
    /// Limit of the worst set that was solved [A]; null where none of them has a limit.
    pub high_a: Option<f64>,
    /// The element that reaches its limit first in the worst set; null where none does.
    pub binding: Option<String>,
    /// The worst set that was solved.
    pub out: Vec<String>,
    /// Whether the verdict is met.
    pub met: bool,
    /// The verdict; not decided where the limit is a range and the target lies within it.
    pub verdict: Verdict,
}
