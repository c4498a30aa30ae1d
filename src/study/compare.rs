//! Comparison of layouts under the same random nights.
//!
//! In: a scenario and the layouts that it proposes. Out: a `Comparison`: for each layout its risk, hours, safe limit,
//! losses and price, a ranking, and for each pair that the ranking rests on the difference with its interval.
//!
//! Layouts that cannot differ in any night, such as two that differ in price alone, share one simulation. All others go
//! through the same nights. A night that overloads both layouts of a pair, or neither, says nothing of their difference. So
//! the fewer nights differ, the narrower is the interval of the difference.

mod layouts;
pub mod multiplicity;
mod static_result;

pub use layouts::{Candidate, Candidates};
pub use static_result::{AtLoad, Limit, StaticResult, limit_target, limits_within, question, verdict as limit_verdict};

use crate::progress::{Progress, Work};
use crate::scenario::TakeOff;
use crate::study::error::StudyError;
use crate::study::parts::{self, Item, Parts};
use crate::summary::counts::Counts;
use crate::summary::inference::Inference;
use crate::summary::interval::CONFIDENCE;
use crate::summary::{Estimate, TargetVerdict, Verdict, assemble};
use crate::summary::{difference, paired::Pair};
use crate::trials::blocks;
use crate::trials::paired_trials::{self, PairedTrials};
use serde::Serialize;
use std::cmp::Ordering;
use std::collections::BTreeSet;

/// Modules out, at most, for the limits.
const OUTAGES: usize = 2;

/// Version of the document: a change of meaning takes a new number.
pub const SCHEMA_VERSION: u32 = 1;

/// The answer, the same for the same scenario, seed and number of trials. Other programs rely on its names: names may be
/// added, never changed. Units are in the names, numbers are not rounded.
#[derive(Clone, Debug, Serialize)]
pub struct Comparison {
    /// Version of this document's names; a change of meaning takes a new number.
    pub schema_version: u32,
    /// Title of the scenario.
    pub scenario: String,
    /// Seed of every random draw.
    pub seed: u64,
    /// Nights that each layout went through.
    pub trials: u64,
    /// Nothing is random in any layout: all trials are one night, and low and high are the estimate itself.
    pub exact: bool,
    /// Length of a trial [h].
    pub horizon_h: f64,
    /// Shortest time above a limit that is an overload, and without service that ends the service [s].
    pub hold_s: f64,
    /// Number of different calendar nights that a trial may draw.
    pub distinct_nights: u64,
    /// Currency of all prices; null where the scenario names none.
    pub currency: Option<String>,
    /// False where an item has a price in some layouts and none in others: the sums cannot be compared.
    pub prices_comparable: bool,
    /// Number of intervals by which the layouts are judged against the targets.
    pub intervals: usize,
    /// Probability that any of these intervals misleads (0…1).
    pub error: f64,
    /// Confidence of each interval (0…1), so that all hold together.
    pub confidence_each: f64,
    /// The results, the scenario as written first, then the layouts in its order.
    pub layouts: Vec<LayoutResult>,
    /// Numbers of the layouts, least risk first.
    pub ranking: Vec<usize>,
    /// Each layout compared with the scenario as written.
    pub against_first: Vec<Difference>,
    /// Each layout of the ranking compared with the next one.
    pub neighbours: Vec<Difference>,
    /// The first of the ranking compared with every other; all intervals hold together at 95 %, whichever came first.
    pub best_against_all: Vec<Difference>,
    /// What did not have to be run.
    pub screening: Screening,
}

/// What did not have to be run.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Screening {
    /// Number of layouts, the scenario as written included.
    pub layouts: u64,
    /// Number of layouts that can differ in some night; only these are run.
    pub distinct: u64,
    /// Nights that were run.
    pub nights_run: u64,
    /// Nights not run because another layout has the same nights.
    pub nights_spared: u64,
}

/// The results of one layout.
#[derive(Clone, Debug, Serialize)]
pub struct LayoutResult {
    /// Name of the layout.
    pub name: String,
    /// Name of an earlier layout with the same nights; null: there is none.
    pub same_nights_as: Option<String>,
    /// Number of modules.
    pub modules: u64,
    /// Number of lead pairs.
    pub lead_pairs: u64,
    /// Where its lead pairs take off; null where this has no name, or differs between stacks.
    pub take_off: Option<TakeOff>,
    /// Names of the cable types of its lead pairs.
    pub leads: Vec<String>,
    /// Names of the types of protective devices in its lead pairs.
    pub lead_devices: Vec<String>,
    /// True where nothing is random: one night is the exact answer.
    pub exact: bool,
    /// Probability that any element is overloaded in a night.
    pub overload: Estimate,
    /// The element most often over, where any is.
    pub most_often_over: Option<String>,
    /// How long the load was served, over all nights [h].
    pub ride_through_h: crate::summary::RideThrough,
    /// Probability that the load is served for the wanted time.
    pub ride_through_met: Estimate,
    /// Verdict on each target, from intervals of confidence `confidence_each`.
    pub targets: Vec<TargetVerdict>,
    /// Its limits and its losses, which need no simulated night.
    #[serde(flatten)]
    pub at_rest: StaticResult,
    /// Sum of its parts that have a price; null where none has.
    pub price: Option<f64>,
    /// Kinds of part without a price, which the sum leaves out.
    pub unpriced: Vec<Item>,
    /// Trials that the engine could not finish: counted as overloaded and not served.
    pub failed_trials: u64,
}

impl LayoutResult {
    /// Whether it meets every target; without targets it does.
    pub fn verdict(&self) -> Verdict {
        let limit = self.at_rest.limit_target.as_ref().map(|t| t.verdict);
        Verdict::of_all(self.targets.iter().map(|t| t.verdict).chain(limit))
    }
}

/// The difference between two layouts, first less second.
#[derive(Clone, Debug, Serialize)]
pub struct Difference {
    /// Number of the first layout in `layouts`.
    pub first: usize,
    /// Number of the second layout in `layouts`.
    pub second: usize,
    /// True where the two have the same nights: they are equal, whatever the number of nights.
    pub same_nights: bool,
    /// Difference of the probabilities of overload.
    pub overload: Estimate,
    /// Nights in which only the first was overloaded.
    pub overload_first_alone: u64,
    /// Nights in which only the second was overloaded.
    pub overload_second_alone: u64,
    /// Whether the interval of `overload` excludes zero.
    pub decided: bool,
    /// Nights after which four runs of five decide a difference such as was seen, at 95 % for the pair alone; null
    /// where none was seen.
    pub nights_to_decide: Option<u64>,
    /// Difference of the probabilities that the load is not served for the wanted time.
    pub short: Estimate,
    /// Nights in which only the first did not serve the wanted time.
    pub short_first_alone: u64,
    /// Nights in which only the second did not serve the wanted time.
    pub short_second_alone: u64,
    /// Difference of the mean time served [h].
    pub ride_through_h: Estimate,
}

impl Difference {
    fn new(
        [first, second]: [usize; 2],
        pair: &Pair,
        same_nights: bool,
        (inference, horizon_h): (Inference, f64),
    ) -> Difference {
        let of = |alone| match same_nights {
            true => Estimate::exact(0.0),
            false => inference.difference(alone, pair.nights),
        };
        let overload = of(pair.over);
        Difference {
            first,
            second,
            same_nights,
            overload,
            overload_first_alone: pair.over[0],
            overload_second_alone: pair.over[1],
            decided: overload.low > 0.0 || overload.high < 0.0,
            nights_to_decide: Some(pair)
                .filter(|_| !overload.is_exact())
                .and_then(|p| difference::nights_to_decide(p.over, p.nights)),
            short: of(pair.short),
            short_first_alone: pair.short[0],
            short_second_alone: pair.short[1],
            ride_through_h: match same_nights {
                true => Estimate::exact(0.0),
                false => pair.hours(inference.at(CONFIDENCE), horizon_h),
            },
        }
    }
}

/// Takes all layouts through their nights, and compares them.
///
/// # Errors
/// Limits that take too many sets, or an interruption.
pub fn solve(candidates: &Candidates, progress: &Progress<'_>) -> Result<Comparison, StudyError> {
    candidates.options.on_threads(|| {
        // First what needs no night: a limit that cannot be told must not cost the nights.
        let at_rest = at_rest(candidates, OUTAGES, progress)?;
        let (trials, layouts) = (candidates.trials(), candidates.campaigns.len() as u64);
        progress.begin(Work::Nights, Some(trials * layouts));
        let found = paired_trials::run(&candidates.campaigns, blocks::divide(0..trials), progress)?;
        Ok(compare(candidates, &found, at_rest))
    })?
}

/// The answers for each layout that need no simulated night, in their order, with limits up to `outages` modules out.
///
/// # Errors
/// Limits that take too many sets, or an interruption.
pub fn at_rest(
    candidates: &Candidates,
    outages: usize,
    progress: &Progress<'_>,
) -> Result<Vec<StaticResult>, StudyError> {
    // Layouts of which the nights see nothing different have the same limits and losses.
    let sets: u64 =
        candidates.distinct().map(|c| static_result::sets_to_solve(&c.scenario, outages)).sum::<Result<_, _>>()?;
    progress.begin(Work::Sets, Some(sets));
    let distinct = candidates.distinct().map(|c| static_result::solve(&c.scenario, outages, progress));
    let distinct: Vec<StaticResult> = distinct.collect::<Result<_, _>>()?;
    Ok(candidates.list.iter().map(|c| distinct[c.campaign].clone()).collect())
}

/// Makes the document of what all layouts came to.
pub fn compare(candidates: &Candidates, found: &PairedTrials, at_rest: Vec<StaticResult>) -> Comparison {
    // What misses the exact limit needs no night to fall.
    let falls = |k: usize| at_rest[k].limit_target.as_ref().is_some_and(|t| t.verdict == Verdict::Missed);
    let intervals = multiplicity::intervals(candidates, |k| !falls(k));
    let confidence_each = multiplicity::confidence(intervals);
    let of = |(k, at_rest): (usize, StaticResult)| layout(candidates, &found.counts, (k, confidence_each), at_rest);
    let layouts: Vec<LayoutResult> = at_rest.into_iter().enumerate().map(of).collect();
    let ranking = ranking(&layouts);
    let random = candidates.is_random();
    let horizon_h = candidates.campaigns[0].model.trials.horizon.hours();
    let pair = |a: usize, b: usize, confidence| {
        let [first, second] = [a, b].map(|k| candidates.list[k].campaign);
        let inference = Inference::new(random).at(confidence);
        Difference::new([a, b], &found.paired.pair(first, second), first == second, (inference, horizon_h))
    };
    let together = difference::confidence_against_first(candidates.campaigns.len());
    let lists: Vec<&Parts> = candidates.list.iter().map(|c| &c.parts).collect();
    let model = &candidates.campaigns[0].model;
    let (trials, scenario) = (&model.trials, &candidates.list[0].scenario);
    let distinct = candidates.campaigns.len() as u64;
    let all = candidates.list.len() as u64;
    Comparison {
        schema_version: SCHEMA_VERSION,
        scenario: scenario.title.clone(),
        seed: trials.seed,
        trials: trials.count,
        exact: !random,
        horizon_h: trials.horizon.hours(),
        hold_s: trials.hold_time.seconds(),
        distinct_nights: trials.nights.len() as u64,
        currency: scenario.prices.currency.clone(),
        intervals,
        error: multiplicity::ERROR,
        confidence_each,
        prices_comparable: parts::half_priced(&lists).is_none(),
        against_first: (1..layouts.len()).map(|k| pair(k, 0, CONFIDENCE)).collect(),
        neighbours: ranking.windows(2).map(|two| pair(two[0], two[1], CONFIDENCE)).collect(),
        best_against_all: ranking.iter().skip(1).map(|&k| pair(ranking[0], k, together)).collect(),
        screening: Screening {
            layouts: all,
            distinct,
            nights_run: distinct * trials.count,
            nights_spared: (all - distinct) * trials.count,
        },
        layouts,
        ranking,
    }
}

fn layout(
    candidates: &Candidates,
    counts: &[Counts],
    (k, confidence): (usize, f64),
    at_rest: StaticResult,
) -> LayoutResult {
    let candidate = &candidates.list[k];
    let scenario = &candidate.scenario;
    let of_layout = &counts[candidate.campaign];
    let results = candidates.results(candidate, of_layout);
    let stands = candidates.stands_for(k);
    let pairs = || scenario.stacks.iter().flat_map(|s| &s.leads);
    LayoutResult {
        name: candidate.name.clone(),
        same_nights_as: (stands < k).then(|| candidates.list[stands].name.clone()),
        modules: scenario.module_count() as u64,
        lead_pairs: scenario.stacks.iter().map(|s| s.leads.len() as u64).sum(),
        take_off: TakeOff::of_bank(&scenario.stacks),
        leads: names(pairs().map(|lead| scenario.cables[lead.cable].name.clone())),
        lead_devices: names(pairs().filter_map(|lead| Some(scenario.devices[lead.device?.device].name.clone()))),
        exact: results.exact,
        overload: results.overload.any,
        most_often_over: results.overload.most_often().map(|e| e.id.clone()),
        ride_through_h: results.ride_through_h.clone(),
        ride_through_met: results.ride_through_met,
        targets: assemble::targets(scenario, of_layout, results.inference().at(confidence)),
        at_rest,
        price: candidate.parts.price,
        unpriced: candidate.parts.unpriced.clone(),
        failed_trials: results.quality.failed_trials,
    }
}

/// The names in order, each once.
fn names(all: impl Iterator<Item = String>) -> Vec<String> {
    all.collect::<BTreeSet<String>>().into_iter().collect()
}

/// Least risk first; of equals the one that is more often served for as long as is wanted, then the cheaper one.
fn ranking(layouts: &[LayoutResult]) -> Vec<usize> {
    let price = |l: &LayoutResult| l.price.unwrap_or(f64::INFINITY);
    let order = |a: &LayoutResult, b: &LayoutResult| -> Ordering {
        (a.overload.estimate.total_cmp(&b.overload.estimate))
            .then(b.ride_through_met.estimate.total_cmp(&a.ride_through_met.estimate))
            .then(price(a).total_cmp(&price(b)))
    };
    let mut ranking: Vec<usize> = (0..layouts.len()).collect();
    ranking.sort_by(|&a, &b| order(&layouts[a], &layouts[b]).then(a.cmp(&b)));
    ranking
}
