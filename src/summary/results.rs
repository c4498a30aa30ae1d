//! The results document of a run, as types.

use super::estimate::Estimate;
use super::inference::Inference;
use super::targets::{LimitVerdict, TargetVerdict};
use super::verdict::Verdict;
use serde::{Deserialize, Serialize};

/// The results document. Other programs rely on its names: add, never rename. Units in the names, numbers not rounded.
/// Two runs of one scenario with the same seed and number of trials give the same document.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Results {
    /// Of the names below: a change of meaning takes a new number.
    pub schema_version: u32,
    /// Title of the scenario.
    pub scenario: String,
    /// Of every random draw.
    pub seed: u64,
    /// How many trials.
    pub trials: u64,
    /// Nothing is random: all trials are one night, and low and high are the estimate itself.
    #[serde(default)]
    pub exact: bool,
    /// Length of a trial [h].
    pub horizon_h: f64,
    /// The longest step of a trial that the scenario asks for [s].
    pub step_s: f64,
    /// What lasts less is no overload and no end of service [s].
    pub hold_s: f64,
    /// How long the load was served [h].
    pub ride_through_h: RideThrough,
    /// The chance that the target length (the horizon, where there is no target) is reached.
    pub ride_through_met: Estimate,
    /// Currents over a limit for longer than the hold.
    pub overload: Overload,
    /// Null where no conductor has insulation data.
    pub over_temperature: Option<OverTemperature>,
    /// Null where there is no protective device.
    pub device_opened: Option<DeviceOpened>,
    /// Modules out.
    pub dropout: Dropout,
    /// Energy that was not delivered [Wh].
    pub unserved_wh: Unserved,
    /// "With these out, this was over", most frequent first.
    pub chains: Vec<Chain>,
    /// What earlier losses caused.
    pub cascade: Cascades,
    /// Calendar nights that were drawn.
    pub nights: Nights,
    /// The nights with the longest overload or the earliest end, worst first.
    pub worst: Vec<WorstNight>,
    /// The scenario's targets.
    pub targets: Vec<TargetVerdict>,
    /// The target for the safe limit, which no night decides; null without one.
    #[serde(default)]
    pub limit_target: Option<LimitVerdict>,
    /// How exact the numbers are, and what they took.
    pub quality: Quality,
    /// Mechanisms that the scenario leaves out and that therefore do not act.
    pub not_modelled: Vec<String>,
    /// What is unusual, in words.
    pub warnings: Vec<String>,
}

/// How long the load was served, over all trials.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct RideThrough {
    /// One trial in twenty is served no longer [h].
    pub p5: f64,
    /// Half of the trials are served no longer [h].
    pub p50: f64,
    /// 19 of 20 trials are served no longer [h].
    pub p95: f64,
    /// Mean of all trials [h].
    pub mean: f64,
    /// 95 % intervals of the percentiles by order statistics [h]: p5, p50, p95.
    pub p5_interval: [f64; 2],
    /// Of `p50` [h].
    pub p50_interval: [f64; 2],
    /// Of `p95` [h].
    pub p95_interval: [f64; 2],
    /// The share of nights still served at the horizon.
    pub censored: Estimate,
    /// How the bank was when service ended, by nights in which it did.
    pub ended: Endings,
    /// Nights by the whole quarter hour in which service ended: (end of the quarter [h], nights);
    /// censored nights are not in it.
    pub histogram: Vec<(f64, u64)>,
}

/// Nights whose service ended, by how the bank was then.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Endings {
    /// With more than half of the modules in service or empty: the charge, or the voltage that the load left.
    pub charge: u64,
    /// The same, and a limit that the controller announced held the load back.
    pub limited: u64,
    /// With half of the modules or more dropped out, most of them by cold.
    pub cold: u64,
    /// With half of the modules or more dropped out, most of them otherwise.
    pub dropped: u64,
}

impl Endings {
    /// In how many trials.
    pub fn nights(&self) -> u64 {
        self.charge + self.limited + self.cold + self.dropped
    }
}

/// Elements over their limits for longer than the hold.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Overload {
    /// In any element.
    pub any: Estimate,
    /// 95 % interval of `any` by calendar nights, as in `any`; null where there is only one night.
    pub any_by_night: Option<[f64; 2]>,
    /// In the order of the scenario.
    pub conductors: Vec<ElementResult>,
    /// In the order of the scenario.
    pub modules: Vec<ElementResult>,
}

impl Overload {
    /// The element that was over in most nights, where any was.
    pub fn most_often(&self) -> Option<&ElementResult> {
        let over = self.conductors.iter().chain(&self.modules).filter(|e| e.nights > 0);
        over.reduce(|a, b| if b.nights > a.nights { b } else { a })
    }
}

/// One conductor or module over all trials.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct ElementResult {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Its probability (0…1).
    pub estimate: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of its 95 % interval.
    pub high: f64,
    /// Its 95 % interval by calendar nights, at least as wide; null where there is only one night.
    #[serde(default)]
    pub by_night: Option<[f64; 2]>,
    /// In how many trials.
    pub nights: u64,
    /// Rated current [A]; null: unrated. For a module its discharge limit; for a conductor with insulation data the
    /// lesser of its rating and of what its insulation allows in the air that its figure is for.
    pub rating_a: Option<f64>,
    /// Charge limit of a module.
    pub charge_rating_a: Option<f64>,
    /// Mean time over its limit, of the nights in which it was over [h].
    pub mean_time_over_h: f64,
    /// Greatest magnitude of current in any trial [A], and where and when it came.
    pub greatest_a: f64,
    /// Trial in which that was.
    pub greatest_trial: u64,
    /// When that was [h].
    pub greatest_at_h: f64,
}

/// Conductors that were hotter than their insulation and terminals stand, for longer than the hold.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct OverTemperature {
    /// Any conductor.
    pub any: Estimate,
    /// In the order of the scenario.
    pub conductors: Vec<HotConductor>,
}

/// One conductor with insulation data.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct HotConductor {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Its probability in a night (0…1), by the trials.
    #[serde(flatten)]
    pub chance: Estimate,
    /// In how many trials.
    pub nights: u64,
    /// The lesser of what its insulation and its terminals stand.
    pub stands_c: f64,
    /// Mean time above it, of the nights in which it was [h].
    pub mean_time_hot_h: f64,
    /// Its greatest temperature in any trial.
    pub hottest_c: f64,
}

/// Protective devices that opened, and whether each can.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct DeviceOpened {
    /// Any device.
    pub any: Estimate,
    /// Highest voltage of a full module at rest, which each must break.
    pub highest_v: f64,
    /// In the order of the scenario.
    pub devices: Vec<DeviceResult>,
}

/// One protective device.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct DeviceResult {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Its probability in a night (0…1), by the trials.
    #[serde(flatten)]
    pub chance: Estimate,
    /// In how many trials.
    pub nights: u64,
    /// Rated current [A].
    pub rated_a: f64,
    /// What a bolted short beside it drives through it by resistance alone: all modules full, in service and as warm as
    /// their guards allow.
    pub prospective_a: f64,
    /// Null: not stated.
    pub breaking_capacity_a: Option<f64>,
    /// Greatest direct voltage that it breaks; null: not stated.
    pub voltage_v: Option<f64>,
    /// Whether both are stated and suffice.
    pub breaks: bool,
    /// At its prospective current; null: never.
    pub opens_after_s: Option<f64>,
    /// How long its conductor stands that current (adiabatic); null where section or insulation is not known.
    pub conductor_stands_s: Option<f64>,
}

/// Chance that modules drop out, by why.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Dropout {
    /// Any module.
    pub any: Estimate,
    /// By cold.
    pub cold: Estimate,
    /// Of a module or a stack, a nuisance trip, or the communication chain.
    pub fault: Estimate,
    /// Hot, over or under its voltage, over-current, or its device opened.
    pub other: Estimate,
    /// By how many are out at one moment.
    pub at_least: Vec<AtLeast>,
}

/// Chance of at least so many modules out at one moment.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct AtLeast {
    /// So many.
    pub modules: u64,
    /// Its probability in a night (0…1), by the trials.
    #[serde(flatten)]
    pub chance: Estimate,
}

/// Energy that was not delivered, a night [Wh].
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Unserved {
    /// Mean a night [Wh].
    pub mean: f64,
    /// Standard error of the mean.
    pub std_error: f64,
    /// Demand not met in shortfalls that did not last for the hold, mean a night.
    pub brief_mean: f64,
    /// Charge that the bank could not take up, mean a night.
    pub curtailed_mean: f64,
}

/// Modules out when an element went over its limit.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Chain {
    /// Modules out when the overload began, by identifier.
    pub out: Vec<String>,
    /// Why each of them was.
    pub why: Vec<String>,
    /// Conductors that were not whole then: `A.lead1+ open`, `A.lead2- with a bad joint`.
    pub amiss: Vec<String>,
    /// The element over its limit.
    pub over: String,
    /// In how many trials.
    pub nights: u64,
    /// Its probability in a night (0…1), by the trials.
    #[serde(flatten)]
    pub chance: Estimate,
}

/// Protection that acted within the window after an earlier loss, and would have had no cause to without it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Cascades {
    /// How long after a loss another counts as caused by it [s].
    pub window_s: f64,
    /// Any loss that an earlier one caused.
    pub any: Estimate,
    /// Nights by how many losses earlier ones triggered.
    pub sizes: Vec<CascadeSize>,
    /// "First this, then that", most frequent first.
    pub sequences: Vec<Sequence>,
    /// Nothing delivered, after dropouts within the night; a bank of which the last module ran empty is not among them, nor
    /// one that began so.
    pub dark: Estimate,
    /// Nothing delivered when the night began: every module was cold or failed.
    pub dark_from_start: Estimate,
    /// From the first loss until then [s]: 5 %, half and 95 % of such nights; null where there was none.
    pub dark_after_s: Option<[f64; 3]>,
    /// The greatest current with which a module rejoined; null where none did.
    pub rejoining: Option<Rejoining>,
}

/// Nights with so many losses caused by earlier ones.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub struct CascadeSize {
    /// Losses that earlier ones caused.
    pub losses: u32,
    /// In how many trials.
    pub nights: u64,
}

/// Losses in their order, the first without a cause among them.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Sequence {
    /// `A1 (cold)`, `A2 (over-current)`, …
    pub losses: Vec<String>,
    /// In how many trials.
    pub nights: u64,
    /// Its probability in a night (0…1), by the trials.
    #[serde(flatten)]
    pub chance: Estimate,
}

/// A module that came back into service.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Rejoining {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Positive in discharge.
    pub current_a: f64,
    /// Number of the trial.
    pub trial: u64,
    /// When that was [h].
    pub at_h: f64,
}

/// The calendar nights behind the trials.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Nights {
    /// Different calendar nights among those that could be drawn.
    pub distinct: u64,
    /// Each winter or year apart: label, trials, and the chance of any overload and of a dropout.
    pub years: Vec<YearResult>,
    /// Label of the year with the most frequent overload.
    pub worst_year: Option<String>,
}

/// One winter, or one year.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct YearResult {
    /// Its label.
    pub year: String,
    /// Trials that drew a night of it.
    pub trials: u64,
    /// Chance of any overload.
    pub overload: Estimate,
    /// Chance that a module drops out.
    pub dropout: Estimate,
}

/// One of the worst nights.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct WorstNight {
    /// Number of the trial.
    pub trial: u64,
    /// `2018-12-31`, or empty where there is no calendar.
    pub date: String,
    /// Longest time that an element was over its limit [h].
    pub time_over_h: f64,
    /// How long the load was served [h].
    pub ride_through_h: f64,
    /// Greatest number out at one moment.
    pub modules_out: u64,
    /// The element longest over its limit, if any.
    pub over: Option<String>,
}

impl Results {
    /// How its counts become estimates.
    pub fn inference(&self) -> Inference {
        Inference::new(!self.exact)
    }

    /// Of all targets; without any it is met.
    pub fn verdict(&self) -> Verdict {
        let of_limit = self.limit_target.as_ref().map(|t| t.verdict);
        Verdict::of_all(self.targets.iter().map(|t| t.verdict).chain(of_limit))
    }
}

/// Numerical quality of the run.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Quality {
    /// Greatest departure from Kirchhoff's current law at any node and step [A].
    pub kirchhoff_a: f64,
    /// Greatest relative departure of power in from power out.
    pub power_balance: f64,
    /// Steps of all trials.
    pub steps: u64,
    /// Solutions of the network.
    pub solves: u64,
    /// Moments at which something happened.
    pub events: u64,
    /// Trials that the engine could not finish; counted, never dropped.
    pub failed_trials: u64,
    /// `null` where it was not tried.
    pub half_step: Option<HalfStep>,
}

/// What half the step makes of the first trials.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct HalfStep {
    /// How many were run again.
    pub trials: u64,
    /// Of those, how many had something over its limit, with the run's step and with half of it.
    pub over: u64,
    /// The same with half the step.
    pub over_with_half: u64,
    /// In how many one of the two had something over its limit, or a dropout, and the other had not.
    pub over_changed: u64,
    /// The same of a dropout.
    pub dropout_changed: u64,
    /// By how much the ride-through was longer with half the step: the mean, and the greatest either way [s].
    pub ride_through_mean_change_s: f64,
    /// The greatest change either way [s].
    pub ride_through_greatest_change_s: f64,
    /// Greatest change of an element's greatest current [A].
    pub current_greatest_change_a: f64,
    /// Whether the share of nights over, and the mean ride-through, with half the step lie within the 95 % intervals
    /// that these trials give with the whole; a mean that moves by less than the hold time has not moved.
    pub within_intervals: bool,
}
