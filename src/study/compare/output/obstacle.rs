//! What stands in the way where no layout meets every target.
//!
//! In: how each layout was judged. Out: sentences: which target every layout misses, which comes nearest, whether lead
//! pairs have a part in it, and what ends service.

use crate::output::kit::number;
use crate::study::limit::output::words as limit_words;
use crate::summary::{Endings, LimitVerdict, Target, TargetVerdict, Verdict};

/// One layout as it was judged.
#[derive(Clone, Copy, Debug)]
pub struct Judgement<'a> {
    pub name: &'a str,
    /// That it went through.
    pub nights: u64,
    pub targets: &'a [TargetVerdict],
    pub limit: Option<&'a LimitVerdict>,
    pub ended: Endings,
    pub most_often_over: Option<&'a str>,
}

/// A second cause is told from this share of the nights on.
const WORTH_TELLING: f64 = 0.1;

/// Sentences, a target each; `same_nights`: whether all layouts miss this target in the very same nights.
pub fn obstacles(layouts: &[Judgement<'_>], same_nights: impl Fn(Target) -> bool) -> Vec<String> {
    let mut all: Vec<Target> = Vec::new();
    for judged in layouts.iter().flat_map(|l| l.targets) {
        if !all.contains(&judged.target) {
            all.push(judged.target);
        }
    }
    let by_nights = all.iter().filter_map(|&target| of_nights(layouts, target, same_nights(target)));
    let told: Vec<String> = by_nights.chain(of_limit(layouts)).collect();
    if told.is_empty() && layouts.len() > 1 {
        return vec![
            "No one target is shown to be missed by all of them: what one misses, another may meet.".to_owned(),
        ];
    }
    told
}

/// A target that every layout misses.
fn of_nights(layouts: &[Judgement<'_>], which: Target, same: bool) -> Option<String> {
    let judged =
        |l: &Judgement<'_>| l.targets.iter().find(|t| t.target == which && t.verdict == Verdict::Missed).cloned();
    let all: Vec<TargetVerdict> = layouts.iter().map(judged).collect::<Option<_>>()?;
    let served = which == Target::RideThrough;
    let better = |a: f64, b: f64| if served { a > b } else { a < b };
    let nearest = (0..all.len()).reduce(|a, b| if better(all[b].got.estimate, all[a].got.estimate) { b } else { a })?;
    let (layout, target) = (&layouts[nearest], &all[nearest]);
    let got = number::of_nights(&target.got, layout.nights);
    let one = all.iter().all(|t| t.got.estimate == target.got.estimate);
    let nearest = match (same, one) {
        (true, _) => format!("Each of them comes to {got}, by the very same nights: lead pairs have no part in it."),
        (false, true) => format!("Each of them comes to {got}."),
        (false, false) => format!("Nearest is \"{}\": {got}.", layout.name),
    };
    let why = match which {
        Target::RideThrough => endings(layout),
        Target::OverloadProbability => {
            layout.most_often_over.map(|id| format!("It is {id} that is over most often there."))
        }
        _ => None,
    };
    Some(format!("Every layout misses: {}. {nearest} {}", target.wanted, why.unwrap_or_default()).trim_end().to_owned())
}

/// How the bank was in the nights that ended, and what helps against that.
fn endings(layout: &Judgement<'_>) -> Option<String> {
    let (e, nights) = (&layout.ended, layout.ended.nights());
    let mut causes = [
        (
            e.charge,
            "with more than half of the modules in service or empty",
            "the charge, or the voltage that the load leaves, ends it: more modules, more charge at dusk or less load help",
        ),
        (
            e.limited,
            "while a limit that the controller announced held the load back",
            "more modules, a higher module limit or another rule of the controller help",
        ),
        (
            e.cold,
            "with half of the modules or more out, most of them too cold",
            "heaters, insulation or a warmer place help",
        ),
        (
            e.dropped,
            "with half of the modules or more out by faults or protection",
            "what was lost after what is told by `run`",
        ),
    ];
    causes.sort_by_key(|cause| std::cmp::Reverse(cause.0));
    let share = |k: u64| k as f64 / nights.max(1) as f64;
    let told = causes.iter().enumerate().filter(|(k, c)| c.0 > 0 && (*k == 0 || share(c.0) >= WORTH_TELLING));
    let told: Vec<String> = told
        .map(|(k, (n, how, help))| {
            let of = if k == 0 { format!(" of {}", number::counted(nights, "night", "nights")) } else { String::new() };
            format!("in {}{of} {how} ({help})", number::count(*n))
        })
        .collect();
    (!told.is_empty()).then(|| format!("Service ended {}.", told.join("; ")))
}

/// The target for the exact limit, where every layout misses it.
fn of_limit(layouts: &[Judgement<'_>]) -> Option<String> {
    let missed = |l: &Judgement<'_>| l.limit.filter(|t| t.verdict == Verdict::Missed).cloned();
    let all: Vec<LimitVerdict> = layouts.iter().map(missed).collect::<Option<_>>()?;
    let amps = |t: &LimitVerdict| t.got_a.unwrap_or(f64::INFINITY);
    let nearest = (0..all.len()).reduce(|a, b| if amps(&all[b]) > amps(&all[a]) { b } else { a })?;
    let target = &all[nearest];
    let got = format!("{} {}", limit_words::safe(target), limit_words::in_set(target));
    let nearest = match all.iter().all(|t| amps(t) == amps(target)) && all.len() > 1 {
        true => format!("Each of them comes to {got}: lead pairs have no part in it."),
        false => format!("Nearest is \"{}\": {got}.", layouts[nearest].name),
    };
    Some(format!("Every layout misses: {}. {nearest}", limit_words::wanted(target)))
}
