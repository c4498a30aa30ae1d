//! Sensitivity of the nights: each input alone is moved a step down and a step up, under the same random nights.
//!
//! In: a scenario. Out, for each of its inputs: the change of the probability of overload, of the probability that the load
//! is not served for the wanted time, of the mean hours served and of the mean margin, each with its interval. For each of
//! these quantities also the change that improves it most, and whether the nights decide that it is the best.
//!
//! All changed scenarios use the random draws of the scenario as written, matched by name and trial number: a doubled mean
//! time between failures doubles the very times that were drawn. For each quantity the intervals of all changes hold
//! together at 95 % (Bonferroni), so that looking at many of them does not mislead. The best change is then compared with
//! every other one by their paired difference, again with all intervals together at 95 %. To be wrongly called better than
//! the truly best change, the interval of that one pair would have to fail, and there is one such pair for each other change
//! (J. C. Hsu, "Simultaneous confidence intervals for all distances from the best", Ann. Stat. 9:1026, 1981).
//!
//! The limit of a bank in steady state has exact derivatives (`sensitivity`). The outcome of a night has none.

mod input;

pub use input::{Hazard, Input, Side, Step, inputs};

use crate::progress::{Progress, Work};
use crate::scenario::Scenario;
use crate::scenario::check::Checked;
use crate::summary::Estimate;
use crate::summary::inference::Inference;
use crate::summary::margin::Margin;
use crate::trials::paired_trials::{self, PairedTrials};
use crate::trials::{Campaign, Options, RunError, blocks};
use serde::Serialize;

/// Version of the document: a change of meaning takes a new number.
pub const SCHEMA_VERSION: u32 = 1;

/// The scenario and each of its changes, ready to run.
#[derive(Debug)]
pub struct Plan {
    scenario: Scenario,
    inputs: Vec<Input>,
    /// What each campaign after the first changes: the number of the input, and the side to which it is moved.
    changes: Vec<(usize, Side)>,
    /// One for the scenario as written, then one for each change.
    pub campaigns: Vec<Campaign>,
    options: Options,
}

impl Plan {
    /// Plans every change of a scenario as it was read.
    ///
    /// # Errors
    /// A scenario that lacks its load or its trials.
    pub fn new(checked: &Checked, options: Options) -> Result<Plan, RunError> {
        let scenario = options.apply(checked)?;
        let inputs = inputs(&scenario);
        let (mut changes, mut campaigns) = (Vec::new(), vec![Campaign::of(&scenario)?]);
        for (k, input) in inputs.iter().enumerate() {
            for side in [Side::Less, Side::More] {
                if let Some(changed) = input.changed(&scenario, side) {
                    changes.push((k, side));
                    campaigns.push(Campaign::of(&changed)?);
                }
            }
        }
        Ok(Plan { scenario, inputs, changes, campaigns, options })
    }

    fn inference(&self) -> Inference {
        Inference::new(self.campaigns.iter().any(|campaign| campaign.model.random))
    }
}

/// The answer, the same for the same scenario, seed and number of trials. Other programs rely on its names: names may be
/// added, never changed. Units are in the names, numbers are not rounded.
#[derive(Clone, Debug, Serialize)]
pub struct Inputs {
    /// Version of this document's names; a change of meaning takes a new number.
    pub schema_version: u32,
    /// Title of the scenario.
    pub scenario: String,
    /// Seed of every random draw.
    pub seed: u64,
    /// Nights that each change went through.
    pub trials: u64,
    /// True where nothing is random: all trials are the same night, and low and high equal the estimate.
    pub exact: bool,
    /// Length of a trial [h].
    pub horizon_h: f64,
    /// Time for which the load is to be served [h].
    pub wanted_h: f64,
    /// Shortest time above a limit that is an overload, and without service that ends the service [s].
    pub hold_s: f64,
    /// Number of different calendar nights that a trial may draw.
    pub distinct_nights: u64,
    /// Number of changes; for each quantity all their intervals hold together at 95 %.
    pub changes: u64,
    /// Confidence of each interval (0…1), so that all hold together.
    pub confidence_each: f64,
    /// The scenario without any change.
    pub as_written: AsWritten,
    /// The inputs, greatest change first: of a probability where one is decided, else of the margin.
    pub inputs: Vec<InputResult>,
    /// The changes that improve the bank most.
    pub best: Best,
}

/// The results of the scenario without any change.
#[derive(Clone, Debug, Serialize)]
pub struct AsWritten {
    /// Probability that any element is overloaded in a night.
    pub overload: Estimate,
    /// Probability that the load is not served for the wanted time.
    pub short: Estimate,
    /// Mean time served [h].
    pub ride_through_h: f64,
    /// Mean margin to the nearest limit, as a share of it; null where nothing has a limit.
    pub margin: Option<f64>,
    /// The element that came nearest to its limit, or farthest over it, in any night.
    pub nearest: Option<String>,
    /// Trials that the engine could not finish: counted as overloaded and not served.
    pub failed_trials: u64,
}

/// The effect of one input, moved to either side.
#[derive(Clone, Debug, Serialize)]
pub struct InputResult {
    /// Name of the type; empty where it is of the scenario as a whole.
    pub of: String,
    /// Which input it is.
    pub input: Input,
    /// The effect of a step to the lower side; null where that step is impossible or changes nothing.
    pub less: Option<Effect>,
    /// The effect of a step to the higher side; null likewise.
    pub more: Option<Effect>,
}

impl InputResult {
    /// What a step to one side changes; `None` where it is not legal.
    pub fn effect(&self, side: Side) -> Option<&Effect> {
        match side {
            Side::Less => self.less.as_ref(),
            Side::More => self.more.as_ref(),
        }
    }

    /// What the steps change, the lower first.
    pub fn effects(&self) -> impl Iterator<Item = &Effect> {
        self.less.iter().chain(&self.more)
    }
}

/// The differences that one change makes, change less scenario as written.
#[derive(Clone, Debug, Serialize)]
pub struct Effect {
    #[serde(skip)]
    campaign: usize,
    /// Difference of the probability that any element is overloaded in a night.
    pub overload: Shift,
    /// Nights overloaded only with the change, and nights overloaded only without it.
    pub overload_alone: [u64; 2],
    /// Difference of the probability that the load is not served for the wanted time.
    pub short: Shift,
    /// Nights that fell short only with the change, and nights that fell short only without it.
    pub short_alone: [u64; 2],
    /// Difference of the mean time served [h].
    pub ride_through_h: Shift,
    /// Difference of the mean margin to the nearest limit; null where nothing has a limit.
    pub margin: Option<Shift>,
    /// Trials that the engine could not finish: counted as overloaded and not served.
    pub failed_trials: u64,
}

/// The difference that a change makes to one quantity.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Shift {
    /// The difference with its interval.
    #[serde(flatten)]
    pub by: Estimate,
    /// Whether the interval excludes zero.
    pub decided: bool,
}

impl Shift {
    fn new(by: Estimate) -> Shift {
        Shift { by, decided: by.low > 0.0 || by.high < 0.0 }
    }

    /// Magnitude of the difference where it is decided, else 0.
    fn reach(&self) -> f64 {
        if self.decided { self.by.estimate.abs() } else { 0.0 }
    }
}

/// The change that improves each quantity most.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Best {
    /// For the probability of overload; null where no improvement is decided.
    pub overload: Option<Buy>,
    /// For the probability of not serving the wanted time; null likewise.
    pub short: Option<Buy>,
    /// For the mean margin; null likewise.
    pub margin: Option<Buy>,
}

/// The greatest decided improvement of one quantity.
#[derive(Clone, Debug, Serialize)]
pub struct Buy {
    /// Index of the input in `inputs`.
    pub input: usize,
    /// The side to which the input is moved.
    pub side: Side,
    /// The improvement with its interval.
    pub by: Estimate,
    /// Number of changes of other inputs that it was compared with.
    pub others: u64,
    /// Changes that may be as good, as far as the nights show: index of the input and side, best first.
    pub open: Vec<(usize, Side)>,
}

/// A quantity that a change may improve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Probability that any element is overloaded in a night.
    Overload,
    /// Probability that the load is not served for the wanted time.
    Short,
    /// Mean margin to the nearest limit.
    Margin,
}

impl Quantity {
    /// The difference that a step makes to it; `None` where it has no value.
    pub fn of(self, effect: &Effect) -> Option<Shift> {
        match self {
            Quantity::Overload => Some(effect.overload),
            Quantity::Short => Some(effect.short),
            Quantity::Margin => effect.margin,
        }
    }

    /// The improvement that a change of the value is, positive where the bank gets better.
    pub fn gain(self, change: f64) -> f64 {
        if self == Quantity::Margin { change } else { -change }
    }

    fn difference(self, found: &PairedTrials, first: usize, second: usize, inference: Inference) -> Option<Estimate> {
        let pair = || found.paired.pair(first, second);
        match self {
            Quantity::Overload => Some(inference.difference(pair().over, pair().nights)),
            Quantity::Short => Some(inference.difference(pair().short, pair().nights)),
            Quantity::Margin => found.margins.difference(first, second, inference),
        }
    }
}

/// Takes the scenario and all its changes through the nights.
///
/// # Errors
/// An interruption.
pub fn solve(plan: &Plan, progress: &Progress<'_>) -> Result<Inputs, RunError> {
    let trials = plan.campaigns[0].model.trials.count;
    progress.begin(Work::Nights, Some(trials * plan.campaigns.len() as u64));
    let run = || paired_trials::run(&plan.campaigns, blocks::divide(0..trials), progress);
    Ok(inputs_of(plan, &plan.options.on_threads(run)??))
}

/// Makes the document of what all campaigns came to.
fn inputs_of(plan: &Plan, found: &PairedTrials) -> Inputs {
    let changes = plan.changes.len() as u64;
    let confidence = 1.0 - 0.05 / changes.max(1) as f64;
    let inference = plan.inference();
    let mut inputs: Vec<InputResult> = (0..plan.inputs.len())
        .map(|k| input(plan, found, k, inference.at(confidence)))
        .filter(|i| i.effects().count() > 0)
        .collect();
    // Stable: equals stay in the order of the list.
    inputs.sort_by(|a, b| order(b).partial_cmp(&order(a)).unwrap_or(std::cmp::Ordering::Equal));
    let campaign = &plan.campaigns[0];
    let trials = &campaign.model.trials;
    let best = |quantity| buy(found, &inputs, (quantity, inference));
    Inputs {
        schema_version: SCHEMA_VERSION,
        scenario: plan.scenario.title.clone(),
        seed: trials.seed,
        trials: trials.count,
        exact: inference == Inference::new(false),
        horizon_h: trials.horizon.hours(),
        wanted_h: campaign.model.wanted.hours(),
        hold_s: trials.hold_time.seconds(),
        distinct_nights: trials.nights.len() as u64,
        changes,
        confidence_each: confidence,
        as_written: as_written(plan, found),
        best: Best { overload: best(Quantity::Overload), short: best(Quantity::Short), margin: best(Quantity::Margin) },
        inputs,
    }
}

fn as_written(plan: &Plan, found: &PairedTrials) -> AsWritten {
    let (campaign, counts) = (&plan.campaigns[0], &found.counts[0]);
    let horizon = campaign.model.trials.horizon;
    let hours = |(end, nights): (&crate::time::Time, &u64)| end.hours() * *nights as f64;
    let served = counts.served as f64 * horizon.hours() + counts.ended.iter().map(hours).sum::<f64>();
    let margin = Margin::new(&campaign.model);
    let nearest = margin.least(counts.elements.iter().map(|e| e.greatest));
    AsWritten {
        overload: plan.inference().of_nights(counts.by_night(|n| n.over)),
        short: plan.inference().of_nights(counts.by_night(|n| n.short)),
        ride_through_h: served / counts.trials.max(1) as f64,
        margin: found.margins.mean(0),
        nearest: nearest.map(|(k, _)| campaign.model.bank.branch_id(k).to_owned()),
        failed_trials: counts.failed,
    }
}

fn input(plan: &Plan, found: &PairedTrials, k: usize, inference: Inference) -> InputResult {
    let effect = |side| {
        let at = plan.changes.iter().position(|change| *change == (k, side))?;
        Some(effect(plan, found, at + 1, inference))
    };
    let input = plan.inputs[k];
    InputResult { of: input.of(&plan.scenario), input, less: effect(Side::Less), more: effect(Side::More) }
}

fn effect(plan: &Plan, found: &PairedTrials, campaign: usize, inference: Inference) -> Effect {
    let horizon_h = plan.campaigns[0].model.trials.horizon.hours();
    let pair = found.paired.pair(campaign, 0);
    // Of the first less the second: as written less this one.
    let longer = found.paired.pair(0, campaign).longer;
    Effect {
        campaign,
        overload: Shift::new(inference.difference(pair.over, pair.nights)),
        overload_alone: pair.over,
        short: Shift::new(inference.difference(pair.short, pair.nights)),
        short_alone: pair.short,
        ride_through_h: Shift::new(inference.mean_within(&longer, true, horizon_h)),
        margin: found.margins.difference(campaign, 0, inference).map(Shift::new),
        failed_trials: found.counts[campaign].failed,
    }
}

/// Sort key: greatest decided change of a probability, then of the margin, then the undecided changes.
fn order(input: &InputResult) -> [f64; 4] {
    let most = |of: &dyn Fn(&Effect) -> f64| input.effects().map(of).fold(0.0, f64::max);
    [
        most(&|e| e.overload.reach().max(e.short.reach())),
        most(&|e| e.margin.map_or(0.0, |m| m.reach())),
        most(&|e| e.overload.by.estimate.abs().max(e.short.by.estimate.abs())),
        most(&|e| e.margin.map_or(0.0, |m| m.by.estimate.abs())),
    ]
}

fn buy(found: &PairedTrials, inputs: &[InputResult], (quantity, inference): (Quantity, Inference)) -> Option<Buy> {
    let all: Vec<(usize, Side, &Effect, Shift)> = inputs
        .iter()
        .enumerate()
        .flat_map(|(k, input)| [Side::Less, Side::More].map(|side| (k, side, input)))
        .filter_map(|(k, side, input)| {
            let effect = input.effect(side)?;
            Some((k, side, effect, quantity.of(effect)?))
        })
        .collect();
    let gain = |shift: &Shift| quantity.gain(shift.by.estimate);
    let decided = all.iter().filter(|(.., shift)| shift.decided && gain(shift) > 0.0);
    let &(input, side, best, shift) = decided.reduce(|a, b| if gain(&b.3) > gain(&a.3) { b } else { a })?;
    let mut others: Vec<_> = all.iter().filter(|(k, ..)| *k != input).collect();
    others.sort_by(|a, b| gain(&b.3).total_cmp(&gain(&a.3)));
    let together = inference.at(1.0 - 0.05 / others.len().max(1) as f64);
    let told_apart = |other: &Effect| {
        let apart = quantity.difference(found, best.campaign, other.campaign, together).map(Shift::new);
        apart.is_some_and(|a| a.decided && quantity.gain(a.by.estimate) > 0.0)
    };
    let open = others.iter().filter(|(_, _, effect, _)| !told_apart(effect)).map(|(k, side, ..)| (*k, *side));
    Some(Buy { input, side, by: shift.by, others: others.len() as u64, open: open.collect() })
}
