//! What the results say, in words that the terminal, the charts and the page share.
//!
//! In: the results document. Out: sentences and orderings. Nothing here counts or estimates.

mod protection;

pub use protection::{
    brief_shortfalls, device_faults, device_verdict, devices, devices_opened, hot_conductors, over_temperature,
};

use crate::output::kit::number;
use crate::output::kit::words::listed;
use crate::summary::{Chain, ElementResult, Estimate, Results, Target, TargetVerdict, Verdict, WorstNight};
use serde::Serialize;

/// What a verdict on the target for overload says of an element.
pub fn against_target(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Missed => "over target",
        Verdict::Met => "below target",
        Verdict::NotDecided => "not decided",
    }
}

/// A heading, with what stands in brackets behind each figure: `Nights over, 95 % interval`.
pub fn with_interval(results: &Results, heading: &str) -> String {
    match intervals(results) {
        Intervals::None => heading.into(),
        Intervals::Trials => format!("{heading}, 95 % interval"),
        Intervals::TrialsAndNights => format!("{heading}, 95 % interval by trials"),
    }
}

/// Which intervals there are.
pub enum Intervals {
    /// Nothing is random.
    None,
    /// Intervals by trials alone.
    Trials,
    /// Nights are drawn from a calendar.
    TrialsAndNights,
}

/// Which intervals these results have.
pub fn intervals(results: &Results) -> Intervals {
    match (results.exact, results.overload.any.by_nights()) {
        (true, _) => Intervals::None,
        (false, None) => Intervals::Trials,
        (false, Some(_)) => Intervals::TrialsAndNights,
    }
}

/// The chance that one element is over in a night.
pub fn probability(e: &ElementResult) -> Estimate {
    Estimate { by_night: e.by_night, ..Estimate::new(e.estimate, e.low, e.high) }
}

/// Whether anything limits it; an unrated element is never over.
pub fn rated(e: &ElementResult) -> bool {
    e.rating_a.is_some() || e.charge_rating_a.is_some()
}

/// Every conductor and module, worst first; equals by identifier.
pub fn elements(results: &Results) -> Vec<&ElementResult> {
    let mut all: Vec<_> = results.overload.conductors.iter().chain(&results.overload.modules).collect();
    all.sort_by(|a, b| b.estimate.total_cmp(&a.estimate).then(b.high.total_cmp(&a.high)).then_with(|| a.id.cmp(&b.id)));
    all
}

/// Those that were over their limit in any night, worst first.
pub fn overloaded(results: &Results) -> Vec<&ElementResult> {
    elements(results).into_iter().filter(|e| e.nights > 0 || e.estimate > 0.0).collect()
}

/// Rated elements that were never over.
pub fn never_over(results: &Results) -> Vec<&ElementResult> {
    elements(results).into_iter().filter(|e| rated(e) && e.nights == 0 && e.estimate <= 0.0).collect()
}

/// Elements without a rating: they are not judged.
pub fn unrated(results: &Results) -> usize {
    elements(results).iter().filter(|e| !rated(e)).count()
}

/// `, each below 0.037 % by trials, 2.4 % by calendar nights`: the greatest upper bound among elements of which nothing was seen; nothing where that is
/// exact.
pub fn each_below(elements: &[&ElementResult]) -> String {
    let worst = elements.iter().copied().reduce(|a, b| if b.high > a.high { b } else { a });
    let worst = worst.map(probability).filter(|e| e.high > 0.0);
    worst.map_or_else(String::new, |e| format!(", each {}", number::below(&e)))
}

/// The first thing to know, one sentence.
pub fn headline(results: &Results) -> String {
    if results.trials == 0 {
        return "No night was run: there is nothing to say".into();
    }
    let overload = match overloaded(results).first() {
        Some(worst) => format!(
            "{} is the element most often over its rating: {}",
            worst.id,
            number::frequency(&probability(worst), results.trials)
        ),
        None => format!(
            "No element {} over its rating for longer than {} in {}",
            if results.exact { "is" } else { "was" },
            number::duration(results.hold_s / 3600.0),
            if results.exact { "any night".to_string() } else { number::counted(results.trials, "night", "nights") }
        ),
    };
    match cascades(results).filter(|_| cascades_lead(results)) {
        Some(cascades) => format!("In {cascades} one dropout triggered further trips. {overload}"),
        None => overload,
    }
}

/// Whether cascades are more frequent than overload, and so the first thing to know.
pub fn cascades_lead(results: &Results) -> bool {
    results.cascade.any.estimate > results.overload.any.estimate
}

/// `1.2 % of nights (0.9–1.5 %)`; `None` where no cascade was seen.
pub fn cascades(results: &Results) -> Option<String> {
    let any = &results.cascade.any;
    (any.estimate > 0.0).then(|| number::of_nights(any, results.trials))
}

/// `In 1.2 % of nights (0.9–1.5 %) one dropout triggered further trips`; where none was seen, the bound.
pub fn triggered(results: &Results) -> String {
    let often = number::of_nights(&results.cascade.any, results.trials);
    let none = cascades(results).is_none();
    format!(
        "In {often} {}",
        if none { "did a dropout trigger further trips" } else { "one dropout triggered further trips" }
    )
}

/// What counts as a cascade, as the end of a sentence.
pub fn what_is_a_cascade(results: &Results) -> String {
    let window = number::duration(results.cascade.window_s / 3600.0);
    format!(
        "protection that acts within {window} after an earlier loss and would have had no cause to without it. Cold, heat \
         and faults are losses and no protection; the end of the charge, and an inverter that stops with its bank, are no \
         cascade"
    )
}

/// `the bank went dead in 1.2 % of nights (0.9–1.5 %), typically 6.2 h after the first dropout`, and in how many it was
/// dead from the start, where that was seen.
pub fn dark(results: &Results) -> String {
    let c = &results.cascade;
    let after = dark_after(results).filter(|_| c.dark.estimate > 0.0).map_or_else(String::new, |[_, half, _]| {
        let when = if half > 0.0 { format!("{} after", number::seconds(half)) } else { "at once with".to_owned() };
        format!(", typically {when} the first dropout")
    });
    let from_start = match c.dark_from_start.estimate > 0.0 {
        true => format!("; it was dead from the start in {}", number::of_nights(&c.dark_from_start, results.trials)),
        false => String::new(),
    };
    format!("the bank went dead in {}{after}{from_start}", number::of_nights(&c.dark, results.trials))
}

/// How soon after the first loss nothing was delivered [s]: 5 %, half and 95 % of those nights.
pub fn dark_after(results: &Results) -> Option<[f64; 3]> {
    results.cascade.dark_after_s.filter(|times| times.iter().all(|s| s.is_finite()))
}

/// What was over in the same nights after the same dropouts: the two poles of a lead, as a rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sequence {
    /// `A1 and A2 (cold)`; `None` of no module.
    pub out: Option<String>,
    /// Conductors that were not whole.
    pub amiss: Vec<String>,
    /// What was over its rating.
    pub over: Vec<String>,
    /// In how many nights.
    pub nights: u64,
}

/// Chains, those of one cause and one number of nights told together, in the order of the results.
pub fn sequences(results: &Results) -> Vec<Sequence> {
    let mut told: Vec<Sequence> = Vec::new();
    for chain in &results.chains {
        let (out, amiss) = (out(chain), &chain.amiss);
        match told.iter_mut().find(|s| s.nights == chain.nights && s.out == out && &s.amiss == amiss) {
            Some(sequence) => sequence.over.push(chain.over.clone()),
            None => {
                told.push(Sequence { out, amiss: amiss.clone(), over: vec![chain.over.clone()], nights: chain.nights })
            }
        }
    }
    told
}

/// The modules that were out before an overload, and why: `A1 and A2 (cold)`, `A1 (cold) and B1 (fault)`.
pub fn out(chain: &Chain) -> Option<String> {
    let first = chain.why.first()?;
    if chain.why.iter().all(|why| why == first) {
        return Some(format!("{} ({first})", listed(&chain.out)));
    }
    let each: Vec<String> = chain.out.iter().zip(&chain.why).map(|(id, why)| format!("{id} ({why})")).collect();
    Some(listed(&each))
}

/// The same and the conductors that were not whole: `A1 (cold); A.lead2+ open`.
pub fn out_and_amiss(chain: &Chain, none: &str) -> String {
    let out = out(chain).unwrap_or_else(|| none.into());
    if chain.amiss.is_empty() { out } else { format!("{out}; {}", listed(&chain.amiss)) }
}

/// `with A1 (fault) out, A.lead1+ and A.lead1- were over in 37 nights`
pub fn sequence(s: &Sequence) -> String {
    let and = if s.amiss.is_empty() { String::new() } else { format!(" and {}", listed(&s.amiss)) };
    let before = format!("with {} out{and}", s.out.as_deref().unwrap_or("no module"));
    let were = if s.over.len() == 1 { "was" } else { "were" };
    format!("{before}, {} {were} over in {}", listed(&s.over), number::counted(s.nights, "night", "nights"))
}

/// `A1 (cold), then A2 (over-current)`; of more than four losses the first three.
pub fn cascade(s: &crate::summary::Sequence) -> String {
    const TOLD: usize = 3;
    match s.losses.as_slice() {
        losses if losses.len() <= TOLD + 1 => losses.join(", then "),
        losses => format!("{}, then {} more", losses[..TOLD].join(", then "), losses.len() - TOLD),
    }
}

/// How long the bank lasts, one or two sentences. A night still served at the horizon counts as that long.
pub fn ride_through(results: &Results) -> Vec<String> {
    let r = &results.ride_through_h;
    let end = results.horizon_h;
    let served = number::of_nights(&r.censored, results.trials);
    let to_end = format!("Served to the horizon of {} in {served}.", number::hours(end));
    if r.p5 >= end {
        return vec![to_end];
    }
    if results.exact {
        return vec![format!("Every night ends after {}.", number::hours(r.p50))];
    }
    let half = if r.p50 >= end {
        "more than half last to the horizon".to_string()
    } else {
        format!("half end before {}", number::hours(r.p50))
    };
    let p5 = number::hours(r.p5);
    vec![format!("5 % of nights end before {p5} ({}); {half}.", hours_interval(r.p5_interval)), to_end]
}

/// `10.9–11.5 h`
pub fn hours_interval([low, high]: [f64; 2]) -> String {
    if !(low.is_finite() && high.is_finite()) {
        return number::NONE.into();
    }
    format!("{}–{}", number::hours(low).trim_end_matches(" h"), number::hours(high))
}

/// What was wanted and what came: `served for at least 12 h with probability 0.99: 97.3 % of nights (…)`.
pub fn target(target: &TargetVerdict, trials: u64) -> String {
    format!("{}: {}", target.wanted, found(target, trials))
}

/// What came of a target; and where trials alone would decide it, why it is not decided.
pub fn found(target: &TargetVerdict, trials: u64) -> String {
    let found = number::frequency(&target.got, trials);
    if open_by_nights(target) { format!("{found}; {TOO_FEW_NIGHTS}") } else { found }
}

/// Why more trials would not help.
pub const TOO_FEW_NIGHTS: &str = "the record has too few nights to decide it";

/// Whether the trials decide a target and the calendar nights do not.
pub fn open_by_nights(target: &TargetVerdict) -> bool {
    let alone = target.got.by_trials();
    let by_trials = match target.length_h {
        Some(_) => alone.reaches(target.required),
        None => alone.stays_within(target.required),
    };
    target.verdict == Verdict::NotDecided && by_trials != Verdict::NotDecided
}

/// Why modules dropped out.
#[derive(Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// Whatever the cause.
    Any,
    /// The cells were too cold.
    Cold,
    /// A fault, a nuisance trip or the communication chain.
    Fault,
    /// Heat, cell voltage, over-current or a device.
    Other,
}

display_as_serialised!(Cause);

/// Causes of dropouts and how often each came.
pub fn dropouts(results: &Results) -> [(Cause, Estimate); 4] {
    let d = &results.dropout;
    [(Cause::Any, d.any), (Cause::Cold, d.cold), (Cause::Fault, d.fault), (Cause::Other, d.other)]
}

/// The target for overload, where there is one.
pub fn overload_target(results: &Results) -> Option<f64> {
    results.targets.iter().find(|t| t.target == Target::OverloadProbability).map(|t| t.required)
}

/// The length to be reached [h] and the probability, where that is a target.
pub fn ride_through_target(results: &Results) -> Option<(f64, f64)> {
    results.targets.iter().find_map(|t| Some((t.length_h?, t.required)))
}

/// `trial 4711 (2018-12-31): A.lead1+ over for 42 min, 2 modules out, served for 11.2 h`
pub fn worst_night(night: &WorstNight) -> String {
    let date = if night.date.is_empty() { String::new() } else { format!(" ({})", night.date) };
    let over = match &night.over {
        Some(id) => format!("{id} over for {}", number::duration(night.time_over_h)),
        None => "nothing over".into(),
    };
    format!(
        "trial {}{date}: {over}, {} out, served for {}",
        night.trial,
        number::counted(night.modules_out, "module", "modules"),
        number::hours(night.ride_through_h)
    )
}
