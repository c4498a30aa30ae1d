//! The first section: verdict in sentences, targets, and the elements that matter.

use crate::output::kit::design::class;
use crate::output::kit::number;
use crate::output::kit::table::framed;
use crate::output::limit::words as limit_words;
use crate::output::run::page::PageInput;
use crate::output::run::words;
use crate::summary::{ElementResult, Results, Verdict};
use maud::{Markup, html};

/// Elements in the first table.
const SHOWN: usize = 5;

pub fn finding(input: &PageInput) -> Markup {
    let r = input.results;
    let brief = words::brief_shortfalls(r);
    html! {
        p.lead { (words::headline(r)) "." }
        @if r.exact { p { (words::EXACT) } }
        @if let Some(first) = words::sequences(r).first() {
            p { "Most often: " (words::sequence(first)) "." }
        }
        p { "Any element over its rating: " (number::frequency(&r.overload.any, r.trials)) ". " (by_night(r)) }
        p { b { "Ride-through. " } (words::ride_through(r).join(" ")) @if let Some(brief) = &brief { " " (brief) "." } }
        (cascades(r))
        @if let Some(text) = words::over_temperature(r) { p { b { "Conductors. " } (words::capital(&text)) "." } }
        @if let Some(text) = words::devices_opened(r) { p { b { "Protective devices. " } (words::capital(&text)) "." } }
        @for fault in words::device_faults(r) { p.warning { b { "✖ " } (words::capital(&fault)) "." } }
        (targets(r))
        (worst(r))
        @if r.quality.failed_trials > 0 {
            p.warning {
                b { "✖ " (number::counted(r.quality.failed_trials, "trial", "trials")) " could not be finished by the program." }
                " Until that is understood, no figure here should be relied on."
            }
        }
        @for warning in &r.warnings { p.warning { b { "▲ Note. " } (warning) } }
    }
}

/// How often a dropout triggered more, and how often and how soon the bank was dead.
fn cascades(r: &Results) -> Markup {
    html! {
        p {
            b { "Cascades. " } (words::triggered(r))
            @if let Some(first) = r.cascade.sequences.first() { ", most often " (words::cascade(first)) }
            ". " (words::capital(&words::dark(r))) "."
        }
    }
}

/// That more trials do not narrow what the calendar nights leave open.
fn by_night(r: &Results) -> String {
    if r.overload.any_by_night.is_none() {
        return String::new();
    }
    format!(
        "The record has {} different calendar nights; more trials do not add any.",
        number::count(r.nights.distinct)
    )
}

fn targets(r: &Results) -> Markup {
    if r.targets.is_empty() && r.limit_target.is_none() {
        return html! { p { "The scenario sets no targets: nothing is judged." } };
    }
    let body = html! {
        thead { tr { th scope="col" { "Verdict" } th scope="col" { "Wanted" } th scope="col" { "Found" } } }
        tbody {
            @for target in &r.targets {
                @let (symbol, word) = words::verdict_mark(target.verdict);
                tr {
                    td.status.(class(target.verdict)) { (symbol) " " (word) }
                    th scope="row" { (target.wanted) }
                    td { (words::found(target, r.trials)) }
                }
            }
            @if let Some(target) = &r.limit_target {
                @let (symbol, word) = words::verdict_mark(target.verdict);
                tr {
                    td.status.(class(target.verdict)) { (symbol) " " (word) }
                    th scope="row" { (limit_words::wanted(target)) }
                    td { (limit_words::safe(target)) " " (limit_words::in_set(target)) }
                }
            }
        }
    };
    let undecided = r.targets.iter().any(|t| t.verdict == Verdict::NotDecided);
    html! {
        div.tight { (framed("Targets", "", body)) }
        @if undecided {
            p.note {
                "Not decided: a 95 % interval holds the target. More trials narrow the one by trials; that by calendar nights \
                 asks for a longer record."
            }
        }
        @if r.limit_target.is_some() {
            p.note {
                "The safe limit is that of the worst set of modules out, at 25 °C and the charge at the start: steady state, not from the \
                 simulated nights."
            }
        }
    }
}

fn worst(r: &Results) -> Markup {
    let over = words::overloaded(r);
    if over.is_empty() {
        return html! {};
    }
    let body = html! {
        thead { tr {
            th scope="col" { "Element" }
            th.n scope="col" { "Rated" }
            th scope="col" { (words::with_interval(r, "Nights over")) }
            th scope="col" { "Most often with these out" }
            th.n scope="col" { "Greatest current" }
        } }
        tbody { @for e in over.iter().take(SHOWN) { (worst_row(r, e)) } }
    };
    let rest = over.len().saturating_sub(SHOWN);
    let never = words::never_over(r);
    html! {
        (framed("Elements most often over their rating", "", body))
        @if rest > 0 { p.note { "And " (number::counted(rest as u64, "more element", "more elements")) ", in table 1." } }
        @if !never.is_empty() {
            p.note {
                (number::counted(never.len() as u64, "other element", "other elements")) ": none seen over in "
                (number::counted(r.trials, "night", "nights")) (words::each_below(&never)) "."
            }
        }
    }
}

fn worst_row(r: &Results, e: &ElementResult) -> Markup {
    let chain = r.chains.iter().find(|c| c.over == e.id);
    let after = chain.map_or("–".into(), |c| {
        let out = words::out_and_amiss(c, "no module");
        format!("{out}: {}", number::counted(c.nights, "night", "nights"))
    });
    html! {
        tr {
            th.id scope="row" { (e.id) }
            td.n { (number::rating(e.rating_a)) }
            td.p { (number::frequency_short(&words::probability(e))) }
            td { (after) }
            td.n { (number::current(e.greatest_a)) }
        }
    }
}
