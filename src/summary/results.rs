//! The results document of a run, as types.
//!
//! A "night" in these names is a trial: one night drawn with its random events. "Over" means above a limit for longer than the
//! hold time. Unless said otherwise, an estimate is of the probability that it happens in a night (0…1).

use super::estimate::Estimate;
use super::inference::Inference;
use super::targets::{LimitVerdict, TargetVerdict};
use super::verdict::Verdict;
use serde::{Deserialize, Serialize};

/// The results document. Other programs rely on its names: add, never rename. Units in the names, numbers not rounded.
/// Two runs of one scenario with the same seed and number of trials give the same document.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Results {
    /// Version of the names below: a change of meaning takes a new number.
    pub schema_version: u32,
    /// Title of the scenario.
    pub scenario: String,
    /// Seed of every random draw.
    pub seed: u64,
    /// Number of trials.
    pub trials: u64,
    /// True where nothing is random: all trials are the same night, and low and high equal the estimate.
    #[serde(default)]
    pub exact: bool,
    /// Length of a trial [h].
    pub horizon_h: f64,
    /// The longest step of a trial that the scenario asks for [s].
    pub step_s: f64,
    /// Hold time: shortest time above a limit that is an overload, and without service that ends the service [s].
    pub hold_s: f64,
    /// How long the load was served [h].
    pub ride_through_h: RideThrough,
    /// Probability that the load is served for the target length, or for the horizon where there is no target.
    pub ride_through_met: Estimate,
    /// Modules and conductors over their current limits.
    pub overload: Overload,
    /// Conductors over their temperature ratings; null where no conductor has insulation data.
    pub over_temperature: Option<OverTemperature>,
    /// Protective devices that opened; null where there is no protective device.
    pub device_opened: Option<DeviceOpened>,
    /// Modules that dropped out of service.
    pub dropout: Dropout,
    /// Energy that was not delivered [Wh].
    pub unserved_wh: Unserved,
    /// Which modules were out when which element went over its limit, most frequent first.
    pub chains: Vec<Chain>,
    /// Losses that were caused by earlier losses.
    pub cascade: Cascades,
    /// The calendar nights behind the trials.
    pub nights: Nights,
    /// The nights with the longest overload or the earliest end, worst first.
    pub worst: Vec<WorstNight>,
    /// The scenario's targets for nights, with their verdicts.
    pub targets: Vec<TargetVerdict>,
    /// The target for the safe limit, which no night decides; null without one.
    #[serde(default)]
    pub limit_target: Option<LimitVerdict>,
    /// Numerical quality, and the work that the run took.
    pub quality: Quality,
    /// Mechanisms that the scenario leaves out and that therefore do not act.
    pub not_modelled: Vec<String>,
    /// Warnings, in sentences.
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
    /// 95 % interval of `p5` by order statistics [h].
    pub p5_interval: [f64; 2],
    /// 95 % interval of `p50` [h].
    pub p50_interval: [f64; 2],
    /// 95 % interval of `p95` [h].
    pub p95_interval: [f64; 2],
    /// Probability that the load is still served at the horizon (statistically: the trial is censored).
    pub censored: Estimate,
    /// Nights in which service ended, by the state of the bank then.
    pub ended: Endings,
    /// Nights by the quarter hour in which service ended: (end of the quarter hour [h], nights). Nights still served at the
    /// horizon are not counted.
    pub histogram: Vec<(f64, u64)>,
}

/// Number of nights in which service ended, by the state of the bank then.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Endings {
    /// More than half of the modules were in service or empty: the charge had run out, or the voltage was too low under load.
    pub charge: u64,
    /// The same, and a limit announced by the controller kept the load from being served in full.
    pub limited: u64,
    /// At least half of the modules had dropped out, and at least half of these because of cold.
    pub cold: u64,
    /// At least half of the modules had dropped out, most of these for other reasons.
    pub dropped: u64,
}

impl Endings {
    /// Nights in which service ended.
    pub fn nights(&self) -> u64 {
        self.charge + self.limited + self.cold + self.dropped
    }
}

/// Elements over their current limits for longer than the hold time.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Overload {
    /// Any element over its limit.
    pub any: Estimate,
    /// The 95 % interval of `any` by calendar nights, as it also is in `any`; null where there is only one calendar night.
    pub any_by_night: Option<[f64; 2]>,
    /// Each conductor, in the order of the scenario.
    pub conductors: Vec<ElementResult>,
    /// Each module, in the order of the scenario.
    pub modules: Vec<ElementResult>,
}

impl Overload {
    /// The element that was over its limit in most nights; `None` where none was.
    pub fn most_often(&self) -> Option<&ElementResult> {
        let over = self.conductors.iter().chain(&self.modules).filter(|e| e.nights > 0);
        over.reduce(|a, b| if b.nights > a.nights { b } else { a })
    }
}

/// How one conductor or module fared in all trials.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct ElementResult {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Probability that it is over its limit in a night (0…1).
    pub estimate: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of its 95 % interval.
    pub high: f64,
    /// The 95 % interval by calendar nights, at least as wide as the one by trials; null where there is only one calendar night.
    #[serde(default)]
    pub by_night: Option<[f64; 2]>,
    /// Number of trials in which it was over its limit.
    pub nights: u64,
    /// Rated current [A]; null: unrated. For a module its discharge limit; for a conductor with insulation data the
    /// lesser of its rating and of what its insulation allows in the air that its figure is for.
    pub rating_a: Option<f64>,
    /// Charge limit of a module [A]; null for a conductor, and where it is unrated.
    pub charge_rating_a: Option<f64>,
    /// Mean time over its limit in the nights in which it was over [h].
    pub mean_time_over_h: f64,
    /// Greatest magnitude of its current in any trial [A].
    pub greatest_a: f64,
    /// Number of the trial with that current.
    pub greatest_trial: u64,
    /// Time of that current from the start of the trial [h].
    pub greatest_at_h: f64,
}

/// Conductors over the temperature rating of their insulation or terminals, for longer than the hold time.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct OverTemperature {
    /// Any conductor over its temperature rating.
    pub any: Estimate,
    /// Each conductor with insulation data, in the order of the scenario.
    pub conductors: Vec<HotConductor>,
}

/// How one conductor with insulation data fared in all trials.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct HotConductor {
    /// Its identifier, as `A.lead1+`.
    pub id: String,
    /// Probability that it is over its rating in a night.
    #[serde(flatten)]
    pub chance: Estimate,
    /// Number of trials in which it was over its rating.
    pub nights: u64,
    /// The lesser of the temperature ratings of its insulation and its terminals [°C].
    pub stands_c: f64,
    /// Mean time above that rating in the nights in which it was above it [h].
    pub mean_time_hot_h: f64,
    /// Its greatest temperature in any trial [°C].
    pub hottest_c: f64,
}

/// Protective devices that opened, and whether each can break the fault current beside it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct DeviceOpened {
    /// Any device opened.
    pub any: Estimate,
    /// Highest voltage of a full module at rest, which every device must be able to break [V].
    pub highest_v: f64,
    /// Each device, in the order of the scenario.
    pub devices: Vec<DeviceResult>,
}

/// How one protective device fared in all trials, and what a short beside it asks of it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct DeviceResult {
    /// Its identifier, as `A2.breaker` or `A.lead1+.fuse`.
    pub id: String,
    /// Probability that it opens in a night.
    #[serde(flatten)]
    pub chance: Estimate,
    /// Number of trials in which it opened.
    pub nights: u64,
    /// Rated current [A].
    pub rated_a: f64,
    /// Prospective fault current [A]: what a bolted short beside it drives through it, limited by resistances alone, with all
    /// modules full, in service and as warm as their guards allow.
    pub prospective_a: f64,
    /// Greatest direct current that it can break [A]; null: not stated.
    pub breaking_capacity_a: Option<f64>,
    /// Greatest direct voltage that it can break [V]; null: not stated.
    pub voltage_v: Option<f64>,
    /// Whether its breaking capacity and voltage are stated and suffice.
    pub breaks: bool,
    /// Time until it opens at its prospective current [s]; null: it never does.
    pub opens_after_s: Option<f64>,
    /// Time for which its conductor withstands that current without losing heat (adiabatic) [s]; null where its section or its
    /// insulation is not known.
    pub conductor_stands_s: Option<f64>,
}

/// Probability that a module drops out in a night, by cause.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Dropout {
    /// For any cause.
    pub any: Estimate,
    /// Because of cold.
    pub cold: Estimate,
    /// Because of a fault of a module or a stack, a nuisance trip, or the communication chain.
    pub fault: Estimate,
    /// Because of heat, a cell voltage out of range, over-current, or its device that opened.
    pub other: Estimate,
    /// By the number of modules out at the same moment.
    pub at_least: Vec<AtLeast>,
}

/// Probability that at least a number of modules are out at the same moment in a night.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct AtLeast {
    /// The number of modules.
    pub modules: u64,
    /// Probability that so many are out in a night.
    #[serde(flatten)]
    pub chance: Estimate,
}

/// Energy that was not delivered in a night.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Unserved {
    /// Mean demand not met in shortfalls that lasted for the hold time or longer [Wh].
    pub mean: f64,
    /// Standard error of that mean [Wh].
    pub std_error: f64,
    /// Mean demand not met in shortfalls shorter than the hold time [Wh].
    pub brief_mean: f64,
    /// Mean charging energy that the bank could not take up [Wh].
    pub curtailed_mean: f64,
}

/// Modules out when an element went over its limit.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Chain {
    /// Modules out when the overload began, by identifier.
    pub out: Vec<String>,
    /// The reason for each of them, in the same order.
    pub why: Vec<String>,
    /// Conductors that were damaged then: `A.lead1+ open`, `A.lead2- with a bad joint`.
    pub amiss: Vec<String>,
    /// The element over its limit.
    pub over: String,
    /// Number of trials in which this was the case.
    pub nights: u64,
    /// Its probability in a night.
    #[serde(flatten)]
    pub chance: Estimate,
}

/// Protection that acted within a window of time after an earlier loss, and would not have acted without that loss.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Cascades {
    /// Length of the window [s].
    pub window_s: f64,
    /// Probability that a loss causes another in a night.
    pub any: Estimate,
    /// Nights by the number of losses that earlier ones caused.
    pub sizes: Vec<CascadeSize>,
    /// What was lost, in order, most frequent sequence first.
    pub sequences: Vec<Sequence>,
    /// Probability that after dropouts within the night no module delivers. Banks whose last module ran empty do not count,
    /// nor do those in which nothing delivered at the start.
    pub dark: Estimate,
    /// Probability that no module delivers when the night begins: every one is too cold or has failed.
    pub dark_from_start: Estimate,
    /// Time from the first loss until no module delivered [s]: its 5 %, 50 % and 95 % quantiles; null where there was no such
    /// night.
    pub dark_after_s: Option<[f64; 3]>,
    /// The greatest current with which a module rejoined; null where none did.
    pub rejoining: Option<Rejoining>,
}

/// Number of nights with a given number of losses that earlier ones caused.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub struct CascadeSize {
    /// Losses that earlier ones caused.
    pub losses: u32,
    /// Number of trials in which there were so many.
    pub nights: u64,
}

/// Losses in the order in which they happened; the first was not caused by an earlier one.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Sequence {
    /// `A1 (cold)`, `A2 (over-current)`, …
    pub losses: Vec<String>,
    /// Number of trials with this sequence.
    pub nights: u64,
    /// Its probability in a night.
    #[serde(flatten)]
    pub chance: Estimate,
}

/// The module that rejoined the bank with the greatest current.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Rejoining {
    /// Its identifier, as `A2`.
    pub id: String,
    /// Its current as it rejoined [A], positive in discharge.
    pub current_a: f64,
    /// Number of the trial.
    pub trial: u64,
    /// Time from the start of the trial [h].
    pub at_h: f64,
}

/// The calendar nights behind the trials.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Nights {
    /// Number of different calendar nights that a trial may draw.
    pub distinct: u64,
    /// Results by winter or year.
    pub years: Vec<YearResult>,
    /// Label of the winter or year with the greatest probability of overload; null where there is none.
    pub worst_year: Option<String>,
}

/// The trials of one winter or year.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct YearResult {
    /// Its label, as `2018` or `2018/19`.
    pub year: String,
    /// Trials that drew a night of it.
    pub trials: u64,
    /// Probability of any overload in a night.
    pub overload: Estimate,
    /// Probability that any module drops out in a night.
    pub dropout: Estimate,
}

/// One of the worst nights.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct WorstNight {
    /// Number of the trial.
    pub trial: u64,
    /// Date on which the night starts, as `2018-12-31`; empty where no profile has dates.
    pub date: String,
    /// Longest time that an element was over its limit [h].
    pub time_over_h: f64,
    /// How long the load was served [h].
    pub ride_through_h: f64,
    /// Greatest number of modules out at the same moment.
    pub modules_out: u64,
    /// The element that was over its limit longest; null where none was.
    pub over: Option<String>,
}

impl Results {
    /// How counts of trials become estimates in these results.
    pub fn inference(&self) -> Inference {
        Inference::new(!self.exact)
    }

    /// The verdict on all targets together; met where there is no target.
    pub fn verdict(&self) -> Verdict {
        let of_limit = self.limit_target.as_ref().map(|t| t.verdict);
        Verdict::of_all(self.targets.iter().map(|t| t.verdict).chain(of_limit))
    }
}

/// Numerical quality of the run.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Quality {
    /// Greatest sum of the currents at any node in any step, which Kirchhoff's law says is zero [A].
    pub kirchhoff_a: f64,
    /// Greatest difference between power in and power out, relative to the power turned over.
    pub power_balance: f64,
    /// Number of steps in all trials.
    pub steps: u64,
    /// Number of times that the network was solved.
    pub solves: u64,
    /// Number of events that were located in time.
    pub events: u64,
    /// Trials that the engine could not finish; counted, never dropped.
    pub failed_trials: u64,
    /// Comparison with half the step; null where it was not made.
    pub half_step: Option<HalfStep>,
}

/// The first trials run again with half the step, compared with the run.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct HalfStep {
    /// Number of trials that were run again.
    pub trials: u64,
    /// Trials of these with anything over its limit, with the run's own step.
    pub over: u64,
    /// Trials of these with anything over its limit, with half the step.
    pub over_with_half: u64,
    /// Trials with anything over its limit with one of the two steps and not with the other.
    pub over_changed: u64,
    /// Trials with a dropout with one of the two steps and not with the other.
    pub dropout_changed: u64,
    /// Mean time by which the load was served longer with half the step [s]; negative: shorter.
    pub ride_through_mean_change_s: f64,
    /// Greatest change of the time served in any of these trials, longer or shorter [s].
    pub ride_through_greatest_change_s: f64,
    /// Greatest change of an element's greatest current [A].
    pub current_greatest_change_a: f64,
    /// Whether the share of nights with an overload and the mean time served, with half the step, lie within the 95 % intervals
    /// that these trials have with the run's own step. A mean that moves by less than the hold time counts as unmoved.
    pub within_intervals: bool,
}
