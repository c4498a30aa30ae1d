//! What a comparison shows, and whether the data suffice to say it.
//!
//! In: the comparison. Out: sentences that terminal, charts and document share.

use crate::output::kit::number;
use crate::output::kit::words::EXACT;
use crate::study::compare::output::obstacle::{self, Judgement};
use crate::study::compare::{Comparison, Difference, LayoutResult};
use crate::study::parts::{self, Item};
use crate::summary::{Target, Verdict};

/// Names that a sentence lists.
const LISTED: usize = 3;

/// All sentences.
pub fn sentences(c: &Comparison) -> Vec<String> {
    let mut told = vec![least_risk(c)];
    if c.exact {
        told.push(EXACT.to_owned());
    } else {
        told.extend(against_as_written(c));
        told.extend(sufficiency(c));
    }
    told.extend(cheapest(c));
    told.extend(obstacles(c));
    told.extend(together(c).filter(|_| !c.exact));
    if c.layouts.iter().any(|l| l.price.is_some()) {
        told.extend(unpriced_in_any(c));
    }
    told
}

fn of(c: &Comparison, k: usize) -> &LayoutResult {
    &c.layouts[k]
}

/// The layout of least risk.
pub fn least_risk(c: &Comparison) -> String {
    let best = of(c, c.ranking[0]);
    let seen = number::of_nights(&best.overload, c.trials);
    let alike = c.layouts.iter().filter(|l| l.overload.estimate == best.overload.estimate).count();
    match alike {
        1 => format!("Least risk: \"{}\", overload in {seen}.", best.name),
        _ if alike == c.layouts.len() => format!("All {alike} layouts alike: overload in {seen}."),
        _ => {
            let others = number::counted(alike as u64 - 1, "other", "others");
            format!("Least risk: \"{}\" and {others} alike, overload in {seen}.", best.name)
        }
    }
}

/// The best against the scenario as written, at the confidence of all against the best: it was picked from them.
fn against_as_written(c: &Comparison) -> Option<String> {
    let d = c.best_against_all.iter().find(|d| d.second == 0)?;
    let apart = d.overload_first_alone + d.overload_second_alone;
    let nights = number::counted(apart, "night", "nights");
    if d.same_nights {
        return Some("Nothing that acts in a night differs between it and the scenario as written.".to_owned());
    }
    let difference = format!("{} against the scenario as written", number::points(&d.overload));
    Some(match (d.decided, apart) {
        (true, _) => format!("That is {difference}, decided by {nights} that differ."),
        (false, 0) => format!("No night differs from the scenario as written: {difference}."),
        (false, n) => {
            let differ = if n == 1 { "differs" } else { "differ" };
            format!("That is {difference}: too close to call, only {nights} {differ}{}.", needed(d))
        }
    })
}

/// `; about 40,000 nights would decide it`
fn needed(d: &Difference) -> String {
    d.nights_to_decide.map_or_else(String::new, |n| {
        format!("; about {} nights would decide it between two layouts alone", number::count(rounded(n)))
    })
}

/// Two digits, rounded up.
fn rounded(n: u64) -> u64 {
    number::rounded_up(n as f64) as u64
}

/// Whether the best is told apart from the others.
pub fn sufficiency(c: &Comparison) -> Option<String> {
    let best = &of(c, c.ranking[0]).name;
    let same = c.best_against_all.iter().filter(|d| d.same_nights).count() as u64;
    let others = c.best_against_all.len() as u64 - same;
    let same = match same {
        0 => String::new(),
        n => {
            let layouts = number::counted(n, "other layout", "other layouts");
            format!(" Nothing that acts in a night differs between \"{best}\" and {layouts}.")
        }
    };
    if others == 0 {
        return Some(same.trim().to_owned()).filter(|s| !s.is_empty());
    }
    let open: Vec<&Difference> = c.best_against_all.iter().filter(|d| !d.decided && !d.same_nights).collect();
    if open.is_empty() {
        let others = number::counted(others, "other layout", "other layouts");
        return Some(format!(
            "The nights suffice to put \"{best}\" first: {others} told apart from it, all together at 95 %.{same}"
        ));
    }
    if open.len() as u64 == others && open.iter().all(|d| d.overload_first_alone + d.overload_second_alone == 0) {
        return Some(format!("No night has an overload in one of them and none in another.{same}"));
    }
    let names: Vec<String> = open.iter().take(LISTED).map(|d| format!("\"{}\"", of(c, d.second).name)).collect();
    let more = open.len().saturating_sub(LISTED);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    let from = match (open.len(), others) {
        (1, 1) => "the other".to_owned(),
        (n, _) if n as u64 == others => format!("any of the {others} others"),
        (n, _) => format!("{n} of the {others} others"),
    };
    Some(format!("The nights do not suffice to tell \"{best}\" from {from}: {}{more}.{same}", names.join(", ")))
}

/// The cheapest layout that is shown to meet every target.
fn cheapest(c: &Comparison) -> Option<String> {
    if !has_targets(c) {
        return None;
    }
    let Some(k) = cheapest_met(c) else {
        let open = c.layouts.iter().filter(|l| l.verdict() == Verdict::NotDecided).count() as u64;
        return Some(none_meets_every_target(c.layouts.len() as u64, open));
    };
    let best = of(c, k);
    if !c.prices_comparable {
        return Some(format!(
            "\"{}\" meets every target. Which is the cheapest cannot be said: some parts have a price in some layouts \
             and none in others.",
            best.name
        ));
    }
    let price =
        best.price.map_or_else(String::new, |_| format!(", {}", number::money(best.price, c.currency.as_deref())));
    let cheaper = |l: &&LayoutResult| l.verdict() == Verdict::NotDecided && l.price < best.price;
    let open = c.layouts.iter().filter(cheaper).count() as u64;
    let open = match open {
        0 => String::new(),
        n => format!("; {} not decided", number::counted(n, "cheaper one is", "cheaper ones are")),
    };
    let which = if best.price.is_some() { "Cheapest that meets every target" } else { "Meets every target" };
    Some(format!("{which}: \"{}\"{price}{open}.", best.name))
}

/// The sentence where no layout is shown to meet every target; `open` of them are not decided.
pub fn none_meets_every_target(layouts: u64, open: u64) -> String {
    match open {
        0 => "No layout meets every target.".to_owned(),
        n if n == layouts => "The nights do not suffice to show that any layout meets every target.".to_owned(),
        n => {
            let open = number::counted(n, "is", "are");
            format!("No layout is shown to meet every target; {open} not decided, the others miss one.")
        }
    }
}

/// What stands in the way, where it is sure that no layout meets every target.
fn obstacles(c: &Comparison) -> Vec<String> {
    if !has_targets(c) || c.layouts.iter().any(|l| l.verdict() != Verdict::Missed) {
        return Vec::new();
    }
    let judged: Vec<Judgement<'_>> = c.layouts.iter().map(|l| judgement(c, l)).collect();
    obstacle::obstacles(&judged, |target| {
        c.layouts.len() > 1
            && c.against_first.iter().all(|d| match target {
                Target::RideThrough => d.short_first_alone + d.short_second_alone == 0,
                Target::OverloadProbability => d.overload_first_alone + d.overload_second_alone == 0,
                _ => false,
            })
    })
}

fn judgement<'a>(c: &Comparison, l: &'a LayoutResult) -> Judgement<'a> {
    Judgement {
        name: &l.name,
        nights: c.trials,
        targets: &l.targets,
        limit: l.at_rest.limit_target.as_ref(),
        ended: l.ride_through_h.ended,
        most_often_over: l.most_often_over.as_deref(),
    }
}

/// How the targets were judged: whoever looks for one among many layouts finds it by chance alone.
fn together(c: &Comparison) -> Option<String> {
    (c.intervals > 1).then(|| {
        format!(
            "Targets are judged by intervals that are widened so that all {} hold together at {} %.",
            c.intervals,
            number::significant((1.0 - c.error) * 100.0, 3)
        )
    })
}

/// Whether anything is judged.
pub fn has_targets(c: &Comparison) -> bool {
    c.layouts.iter().any(|l| !l.targets.is_empty() || l.at_rest.limit_target.is_some())
}

/// What a layout misses; where it misses nothing, what is not decided of it.
pub fn fallen_short(l: &LayoutResult) -> Vec<&'static str> {
    let word = |target: Target| match target {
        Target::RideThrough => "ride-through",
        Target::OverloadProbability => "overload",
        Target::OverTemperature => "temperature",
        Target::DeviceOpened => "device",
    };
    let nights = l.targets.iter().map(|t| (word(t.target), t.verdict));
    let limit = l.at_rest.limit_target.iter().map(|t| ("limit", t.verdict));
    let verdict = l.verdict();
    nights.chain(limit).filter(|(_, of)| *of == verdict && *of != Verdict::Met).map(|(word, _)| word).collect()
}

/// Its number; the first of the ranking among those without a price, or where prices cannot be compared.
pub fn cheapest_met(c: &Comparison) -> Option<usize> {
    let met = c.ranking.iter().copied().filter(|&k| of(c, k).verdict() == Verdict::Met);
    let price = |k: usize| of(c, k).price.filter(|_| c.prices_comparable).unwrap_or(f64::INFINITY);
    met.reduce(|a, b| if price(b) < price(a) { b } else { a })
}

/// Layouts that no other one beats in both price and risk, cheapest first; none where prices cannot be compared.
pub fn efficient(c: &Comparison) -> Vec<usize> {
    if !c.prices_comparable {
        return Vec::new();
    }
    let mut priced: Vec<(f64, f64, usize)> =
        (0..c.layouts.len()).filter_map(|k| Some((of(c, k).price?, of(c, k).overload.estimate, k))).collect();
    priced.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
    let mut least = f64::INFINITY;
    let mut edge = Vec::new();
    for (_, risk, k) in priced {
        if risk < least {
            least = risk;
            edge.push(k);
        }
    }
    edge
}

/// Layouts of the same price and risk as this one.
pub fn alike(c: &Comparison, k: usize) -> usize {
    let of = |l: &LayoutResult| (l.price, l.overload.estimate);
    c.layouts.iter().filter(|l| of(l) == of(&c.layouts[k])).count() - 1
}

/// What the sums of all layouts leave out.
pub fn unpriced_in_any(c: &Comparison) -> Option<String> {
    unpriced(&parts::unpriced(c.layouts.iter().map(|l| l.unpriced.as_slice())))
}

/// What all sums leave out.
pub fn unpriced(items: &[Item]) -> Option<String> {
    let items: Vec<String> = items.iter().map(Item::to_string).collect();
    (!items.is_empty()).then(|| format!("Without a price, and left out of the sums: {}.", items.join(", ")))
}

/// What was spared.
pub fn screening(c: &Comparison) -> String {
    let s = &c.screening;
    if s.nights_spared == 0 {
        return format!(
            "{} nights were run: all {} layouts went through each.",
            number::count(s.nights_run),
            s.layouts
        );
    }
    format!(
        "{} of {} nights were needed: of {} layouts {} differ in something that acts in a night.",
        number::count(s.nights_run),
        number::count(s.nights_run + s.nights_spared),
        s.layouts,
        s.distinct
    )
}
