//! The layouts in a table, least risk first, and how many meet each target.

use crate::output::compare::page::SHOWN;
use crate::output::compare::{text, words as finding};
use crate::output::kit::design::class;
use crate::output::kit::number;
use crate::output::kit::table::framed;
use crate::output::limit::words as limit_words;
use crate::output::run::words;
use crate::study::compare::{Comparison, LayoutResult};
use crate::summary::Verdict;
use maud::{Markup, html};

pub fn layouts(c: &Comparison) -> Markup {
    let body = html! {
        thead { tr {
            th scope="col" { "Layout" }
            th scope="col" { "Nights over" }
            th scope="col" { "Served" }
            th.n scope="col" { "Limit (A)" }
            th.n scope="col" { "One out (A)" }
            th.n scope="col" { "Loss (W)" }
            th.n scope="col" { "Drop (mV)" }
            @if let Some(currency) = &c.currency { th.n scope="col" { "Price (" (currency) ")" } }
            @if finding::has_targets(c) { th scope="col" { "Targets" } }
        } }
        tbody { @for &k in c.ranking.iter().take(SHOWN) { (row(c, &c.layouts[k])) } }
    };
    let more = c.ranking.len().saturating_sub(SHOWN);
    let caption = if c.exact { "Layouts, least risk first" } else { "Layouts, least risk first, with 95 % intervals" };
    html! {
        div.wide { (framed(caption, "1", body)) }
        @if more > 0 { p.note { "And " (number::counted(more as u64, "more layout", "more layouts")) " in layouts.csv." } }
        p.note {
            "Limit: greatest safe discharge current with all modules in, and with the worst one out. Loss and drop: at the \
             greatest load. Beside a verdict: what is missed, or not decided."
        }
    }
}

fn row(c: &Comparison, l: &LayoutResult) -> Markup {
    let at = &l.at_rest.at_load;
    let carried = |x: f64| if at.carried { number::significant(x, 3) } else { "not carried".to_owned() };
    let (symbol, word) = words::verdict_mark(l.verdict());
    html! {
        tr {
            th.name scope="row" { (l.name) }
            td { (in_two(&number::frequency_short(&l.overload))) }
            td { (in_two(&number::served_short(&l.ride_through_met))) }
            td.n { (text::limit(l, 0).trim_end_matches(" A")) }
            td.n { (text::limit(l, 1).trim_end_matches(" A")) }
            td.n { (carried(at.loss_w)) }
            td.n { (carried(at.drop_v * 1e3)) }
            @if c.currency.is_some() { td.n { (number::money(l.price, None)) } }
            @if finding::has_targets(c) {
                td {
                    span.status.(class(l.verdict())) { (symbol) "\u{a0}" (word.replace(' ', "\u{a0}")) }
                    @for (k, target) in finding::fallen_short(l).into_iter().enumerate() {
                        (if k == 0 { ": " } else { ", " }) span.w { (target) }
                    }
                }
            }
        }
    }
}

/// An estimate, and its interval on the next line where both do not fit.
pub fn in_two(text: &str) -> Markup {
    match text.split_once(" (") {
        Some((estimate, interval)) => html! { span.w { (estimate) } " " span.w { "(" (interval) } },
        None => html! { span.w { (text) } },
    }
}

/// Each target, and how many layouts are shown to meet or to miss it.
pub fn targets(c: &Comparison) -> Markup {
    let Some(first) = c.layouts.first().filter(|_| finding::has_targets(c)) else {
        return html! { p { "The scenario sets no targets: nothing is judged." } };
    };
    let of_nights = first.targets.iter().enumerate().map(|(k, target)| {
        let verdicts: Vec<Verdict> = c.layouts.iter().filter_map(|l| Some(l.targets.get(k)?.verdict)).collect();
        (target.wanted.clone(), verdicts)
    });
    let limit = first.at_rest.limit_target.as_ref().map(|target| {
        let verdicts = c.layouts.iter().filter_map(|l| Some(l.at_rest.limit_target.as_ref()?.verdict)).collect();
        (limit_words::wanted(target), verdicts)
    });
    let all = std::iter::once(("all together".to_owned(), c.layouts.iter().map(LayoutResult::verdict).collect()));
    let rows: Vec<(String, Vec<Verdict>)> = of_nights.chain(limit).chain(all).collect();
    let body = html! {
        thead { tr {
            th scope="col" { "Target" }
            @for verdict in [Verdict::Met, Verdict::NotDecided, Verdict::Missed] {
                @let (symbol, word) = words::verdict_mark(verdict);
                th.n scope="col" { (symbol) " " (word) }
            }
        } }
        tbody { @for (wanted, verdicts) in &rows { tr {
            th scope="row" { (wanted) }
            @for verdict in [Verdict::Met, Verdict::NotDecided, Verdict::Missed] {
                td.n { (verdicts.iter().filter(|v| **v == verdict).count()) }
            }
        } } }
    };
    html! { div.tight { (framed("How many layouts meet each target", "", body)) } }
}
