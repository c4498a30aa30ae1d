//! The first section: verdict in sentences, targets, and the elements that matter.

use crate::output::kit::assumptions::unfinished;
use crate::output::kit::number;
use crate::output::kit::table::{Cell, Look, Table};
use crate::output::kit::words::{EXACT, capital, class, verdict_mark};
use crate::output::run::page::input::PageInput;
use crate::output::run::{tables, words};
use crate::study::limit::output::words as limit_words;
use crate::summary::{Results, Verdict};
use maud::{Markup, html};

/// Elements in the first table.
const SHOWN: usize = 5;

pub fn finding(input: &PageInput) -> Markup {
    let r = input.results;
    let brief = words::brief_shortfalls(r);
    html! {
        p.lead { (words::headline(r)) "." }
        @if r.exact { p { (EXACT) } }
        @if let Some(first) = words::sequences(r).first() {
            p { "Most often: " (words::sequence(first)) "." }
        }
        p { "Any element over its rating: " (number::frequency(&r.overload.any, r.trials)) ". " (by_night(r)) }
        p { b { "Ride-through. " } (words::ride_through(r).join(" ")) @if let Some(brief) = &brief { " " (brief) "." } }
        (cascades(r))
        @if let Some(text) = words::over_temperature(r) { p { b { "Conductors. " } (capital(&text)) "." } }
        @if let Some(text) = words::devices_opened(r) { p { b { "Protective devices. " } (capital(&text)) "." } }
        @for fault in words::device_faults(r) { p.warning { b { "✖ " } (capital(&fault)) "." } }
        (targets(r))
        (worst(r))
        (unfinished(r.quality.failed_trials))
        @for warning in &r.warnings { p.warning { b { "▲ Note. " } (warning) } }
    }
}

/// How often a dropout triggered more, and how often and how soon the bank was dead.
fn cascades(r: &Results) -> Markup {
    html! {
        p {
            b { "Cascades. " } (words::triggered(r))
            @if let Some(first) = r.cascade.sequences.first() { ", most often " (words::cascade(first)) }
            ". " (capital(&words::dark(r))) "."
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

/// A verdict, what was wanted, and what was found.
type Judged = (Verdict, String, String);

fn targets(r: &Results) -> Markup {
    let of_nights = r.targets.iter().map(|t| (t.verdict, t.wanted.clone(), words::found(t, r.trials)));
    let found = |t| format!("{} {}", limit_words::safe(t), limit_words::in_set(t));
    let limit = r.limit_target.iter().map(|t| (t.verdict, limit_words::wanted(t), found(t)));
    let rows: Vec<Judged> = of_nights.chain(limit).collect();
    if rows.is_empty() {
        return html! { p { "The scenario sets no targets: nothing is judged." } };
    }
    let table = Table::<&Judged>::new()
        .on_page("Verdict", Look::Words, |(verdict, ..)| {
            let (symbol, word) = verdict_mark(*verdict);
            Cell::looking(format!("status {}", class(*verdict)), html! { (symbol) " " (word) })
        })
        .on_page("Wanted", Look::Heading, |(_, wanted, _)| wanted)
        .on_page("Found", Look::Words, |(.., found)| found);
    let undecided = r.targets.iter().any(|t| t.verdict == Verdict::NotDecided);
    html! {
        div.tight { (table.to_page("Targets", "", &rows)) }
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
    let most_often = "Elements most often over their rating";
    let rest = over.len().saturating_sub(SHOWN);
    let never = words::never_over(r);
    html! {
        (tables::worst_elements(r).to_page(most_often, "", over.iter().take(SHOWN).copied()))
        @if rest > 0 { p.note { "And " (number::counted(rest as u64, "more element", "more elements")) ", in table 1." } }
        @if !never.is_empty() {
            p.note {
                (number::counted(never.len() as u64, "other element", "other elements")) ": none seen over in "
                (number::counted(r.trials, "night", "nights")) (words::each_below(&never)) "."
            }
        }
    }
}
