//! The cheapest layout that meets the scenario's targets.
//!
//! In: the layouts of a scenario with their prices. Out: a `Proposal`: the cheapest that is
//! shown to meet every target, the next ones that do, and why each of the rest fell.
//!
//! What needs no night comes first: the exact limit with modules out, and the price. Layouts are then taken from the
//! cheapest up, each through the nights in declared looks until it is decided, and dearer ones are not run once enough
//! have been found. Looking often finds by chance:
//! all verdicts hold together (`multiplicity`).

use crate::progress::{Progress, Work};
use crate::study::compare::{self, Candidate, Candidates, multiplicity};
use crate::study::error::StudyError;
use crate::study::parts::{self, Item, Parts, half_priced};
use crate::summary::Merge;
use crate::summary::counts::Counts;
use crate::summary::inference::Inference;
use crate::summary::{Endings, LimitVerdict, Results, TargetVerdict, Verdict, assemble};
use serde::Serialize;
use std::collections::BTreeMap;

/// Version of the document: a change of meaning takes a new number.
pub const SCHEMA_VERSION: u32 = 1;

/// Number of layouts meeting all targets that are looked for, the proposed one included.
const WANTED: usize = 3;

/// Each look divides the number of nights by this: after a sixteenth, a quarter, and all of them.
const LOOKS: [u64; 3] = [16, 4, 1];

/// The answer. Other programs rely on its names: add, never rename. Units in the names, numbers not rounded.
#[derive(Clone, Debug, Serialize)]
pub struct Proposal {
    /// Version of this document's names; a change of meaning takes a new number.
    pub schema_version: u32,
    /// Title of the scenario.
    pub scenario: String,
    /// Seed of every random draw.
    pub seed: u64,
    /// True where nothing is random in any layout: one night is the exact answer.
    pub exact: bool,
    /// Currency of all prices; null where the scenario names none.
    pub currency: Option<String>,
    /// Kinds of part without a price, which every sum leaves out.
    pub unpriced: Vec<Item>,
    /// Index in `layouts` of the proposed one; null where none is shown to meet every target.
    pub proposed: Option<usize>,
    /// Numbers of nights after which a layout is judged.
    pub looks: Vec<u64>,
    /// Probability that any of the intervals misleads (0…1).
    pub error: f64,
    /// Confidence of each interval (0…1), so that all hold together.
    pub confidence_each: f64,
    /// All layouts, cheapest first.
    pub layouts: Vec<Judged>,
    /// What did not have to be run.
    pub screening: Screening,
}

/// What did not have to be run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Screening {
    /// Number of layouts.
    pub layouts: u64,
    /// Layouts excluded because their exact limit is below the target.
    pub by_limit: u64,
    /// Layouts not run because enough cheaper ones meet the targets.
    pub by_price: u64,
    /// Nights that were run.
    pub nights_run: u64,
    /// Nights not run, of those that all layouts together would have taken.
    pub nights_spared: u64,
}

/// One layout, what was found about it, and what became of it.
#[derive(Clone, Debug, Serialize)]
pub struct Judged {
    /// Name of the layout.
    pub name: String,
    /// Sum of its parts that have a price.
    pub price: f64,
    /// What became of the layout, and why.
    pub fate: Fate,
    /// Verdict on the limit target; null: the scenario has none.
    pub limit: Option<LimitVerdict>,
    /// Number of nights that were simulated.
    pub nights: u64,
    /// Verdict on each target, from intervals of confidence `confidence_each`; empty where no night was run.
    pub targets: Vec<TargetVerdict>,
    /// How the bank was in the nights whose service ended.
    pub ended: Endings,
    /// Identifier of the element most often over its limit; null: none was.
    pub most_often_over: Option<String>,
}

/// What became of a layout.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Fate {
    /// The cheapest that is shown to meet every target.
    Proposed,
    /// It meets every target, and costs more than the proposed one.
    RunnerUp,
    /// The exact limit is below its target.
    LimitMissed,
    /// The nights show that a target is missed.
    TargetMissed,
    /// The nights do not suffice, or the limit is bounded by too wide a range.
    NotDecided,
    /// Not run: it costs more than the layouts that were found.
    NotRun,
}

/// Finds the cheapest layout that is shown to meet every target.
///
/// # Errors
/// No targets, a layout without a price, or an interruption.
pub fn solve(candidates: &Candidates, progress: &Progress<'_>) -> Result<Proposal, StudyError> {
    candidates.options.on_threads(|| find(candidates, progress))?
}

fn find(candidates: &Candidates, progress: &Progress<'_>) -> Result<Proposal, StudyError> {
    let scenario = &candidates.list[0].scenario;
    let order = by_price(candidates)?;
    if multiplicity::night_targets(candidates) == 0 && scenario.targets.limit.is_none() {
        return Err(StudyError::NoTargets);
    }
    let limits: Vec<Option<LimitVerdict>> = limits_of(candidates, progress)?;
    let by_limit = |k: usize| limits[k].as_ref().map_or(Verdict::Met, |l| l.verdict);
    let left = |k: usize| by_limit(k) != Verdict::Missed;
    let mut search = Search::new(candidates, progress, multiplicity::intervals(candidates, left));
    progress.begin(Work::Nights, Some(candidates.trials() * candidates.campaigns.len() as u64));
    let mut layouts = Vec::with_capacity(order.len());
    let mut found = 0;
    for &k in &order {
        let fate = if !left(k) {
            Fate::LimitMissed
        } else if found >= WANTED {
            Fate::NotRun
        } else {
            match (search.verdict(k)?, by_limit(k)) {
                (Verdict::Missed, _) => Fate::TargetMissed,
                (Verdict::NotDecided, _) | (_, Verdict::NotDecided) => Fate::NotDecided,
                _ if found == 0 => Fate::Proposed,
                _ => Fate::RunnerUp,
            }
        };
        found += usize::from(matches!(fate, Fate::Proposed | Fate::RunnerUp));
        layouts.push(search.judged(k, fate, limits[k].clone()));
    }
    let count = |fate: Fate| layouts.iter().filter(|l| l.fate == fate).count() as u64;
    let screening = Screening {
        layouts: layouts.len() as u64,
        by_limit: count(Fate::LimitMissed),
        by_price: count(Fate::NotRun),
        nights_run: search.nights_run,
        nights_spared: layouts.len() as u64 * search.trials - search.nights_run,
    };
    Ok(Proposal {
        schema_version: SCHEMA_VERSION,
        scenario: scenario.title.clone(),
        seed: candidates.campaigns[0].model.trials.seed,
        exact: !candidates.is_random(),
        currency: scenario.prices.currency.clone(),
        unpriced: parts::unpriced(candidates.list.iter().map(|c| c.parts.unpriced.as_slice())),
        proposed: layouts.iter().position(|l| l.fate == Fate::Proposed),
        looks: search.looks.clone(),
        error: multiplicity::ERROR,
        confidence_each: search.confidence,
        layouts,
        screening,
    })
}

/// Numbers of the layouts, cheapest first, in the order of the scenario where they cost the same.
fn by_price(candidates: &Candidates) -> Result<Vec<usize>, StudyError> {
    let unpriced = candidates.list.iter().find(|c| c.parts.price.is_none());
    if let Some(candidate) = unpriced {
        return Err(StudyError::NoPrice(candidate.name.clone()));
    }
    let lists: Vec<&Parts> = candidates.list.iter().map(|c| &c.parts).collect();
    if let Some((k, part)) = half_priced(&lists) {
        let part = format!("{} \"{}\"", part.item, part.kind);
        return Err(StudyError::HalfPriced { layout: candidates.list[k].name.clone(), part });
    }
    let mut order: Vec<usize> = (0..candidates.list.len()).collect();
    order.sort_by(|&a, &b| price(&candidates.list[a]).total_cmp(&price(&candidates.list[b])).then(a.cmp(&b)));
    Ok(order)
}

fn price(candidate: &Candidate) -> f64 {
    candidate.parts.price.unwrap_or(f64::INFINITY)
}

/// Verdicts on the limit target, by layout; layouts with the same nights have the same limit.
fn limits_of(candidates: &Candidates, progress: &Progress<'_>) -> Result<Vec<Option<LimitVerdict>>, StudyError> {
    if candidates.list[0].scenario.targets.limit.is_none() {
        return Ok(vec![None; candidates.list.len()]);
    }
    Ok(compare::at_rest(candidates, 0, progress)?.into_iter().map(|result| result.limit_target).collect())
}

/// Nights that have been run, by campaign, and what they showed.
struct Search<'a> {
    candidates: &'a Candidates,
    progress: &'a Progress<'a>,
    trials: u64,
    looks: Vec<u64>,
    confidence: f64,
    counts: BTreeMap<usize, Counts>,
    nights_run: u64,
}

impl<'a> Search<'a> {
    /// `intervals`: that could be looked at in one look.
    fn new(candidates: &'a Candidates, progress: &'a Progress<'a>, intervals: usize) -> Search<'a> {
        let trials = candidates.trials();
        let random = candidates.is_random();
        let mut looks: Vec<u64> = LOOKS.iter().map(|share| trials.div_ceil(*share)).collect();
        if !random {
            looks = vec![1];
        }
        looks.dedup();
        let confidence = multiplicity::confidence(intervals * looks.len());
        Search { candidates, progress, trials, looks, confidence, counts: BTreeMap::new(), nights_run: 0 }
    }

    /// Looks at a layout until it is decided, or the nights are at their end.
    fn verdict(&mut self, k: usize) -> Result<Verdict, StudyError> {
        let candidate = &self.candidates.list[k];
        let mut verdict = verdict_of(&self.targets(candidate));
        for &look in &self.looks.clone() {
            // Without a night nothing is known, but that there may be nothing to know.
            if verdict != Verdict::NotDecided {
                break;
            }
            let done = self.counts.get(&candidate.campaign).map_or(0, |c| c.trials);
            if look > done {
                let campaign = &self.candidates.campaigns[candidate.campaign];
                let more = campaign.run(done..look, &(), self.progress)?;
                self.nights_run += look - done;
                self.counts.entry(candidate.campaign).and_modify(|counts| counts.merge(&more)).or_insert(more);
            }
            verdict = verdict_of(&self.targets(candidate));
        }
        Ok(verdict)
    }

    /// What is known of a layout after the nights so far.
    fn results(&self, candidate: &Candidate) -> Results {
        let none = Counts::new(&self.candidates.campaigns[candidate.campaign].model);
        self.candidates.results(candidate, self.counts.get(&candidate.campaign).unwrap_or(&none))
    }

    /// Its targets, judged by intervals of the declared confidence.
    fn targets(&self, candidate: &Candidate) -> Vec<TargetVerdict> {
        let none = Counts::new(&self.candidates.campaigns[candidate.campaign].model);
        let counts = self.counts.get(&candidate.campaign).unwrap_or(&none);
        let random = self.candidates.campaigns[candidate.campaign].model.random;
        assemble::targets(&candidate.scenario, counts, Inference::new(random).at(self.confidence))
    }

    fn judged(&self, k: usize, fate: Fate, limit: Option<LimitVerdict>) -> Judged {
        let candidate = &self.candidates.list[k];
        let ran = !matches!(fate, Fate::LimitMissed | Fate::NotRun);
        let nights = self.counts.get(&candidate.campaign).filter(|_| ran).map_or(0, |c| c.trials);
        let (mut targets, mut ended, mut most_often_over) = (Vec::new(), Endings::default(), None);
        if nights > 0 {
            let results = self.results(candidate);
            targets = self.targets(candidate);
            ended = results.ride_through_h.ended;
            most_often_over = results.overload.most_often().map(|e| e.id.clone());
        }
        let (name, price) = (candidate.name.clone(), price(candidate));
        Judged { name, price, fate, limit, nights, targets, ended, most_often_over }
    }
}

fn verdict_of(targets: &[TargetVerdict]) -> Verdict {
    Verdict::of_all(targets.iter().map(|t| t.verdict))
}
