//! The layouts in a table, least risk first, and how many meet each target.

use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::output::kit::words::verdict_mark;
use crate::study::compare::output::tables;
use crate::study::compare::output::tables::SHOWN;
use crate::study::compare::output::words::has_targets;
use crate::study::compare::{Comparison, LayoutResult};
use crate::study::limit::output::words as limit_words;
use crate::summary::Verdict;
use maud::{Markup, html};

pub fn section(c: &Comparison) -> Markup {
    let more = c.ranking.len().saturating_sub(SHOWN);
    let caption = if c.exact { "Layouts, least risk first" } else { "Layouts, least risk first, with 95 % intervals" };
    html! {
        div.wide { (tables::layouts(c).to_page(caption, "1", tables::ranked(c).take(SHOWN))) }
        @if more > 0 { p.note { "And " (number::counted(more as u64, "more layout", "more layouts")) " in layouts.csv." } }
        p.note {
            "Limit: greatest safe discharge current with all modules in, and with the worst one out. Loss and drop: at the \
             greatest load. Beside a verdict: what is missed, or not decided."
        }
    }
}

/// Each target, and how many layouts are shown to meet or to miss it.
pub fn targets(c: &Comparison) -> Markup {
    let Some(first) = c.layouts.first().filter(|_| has_targets(c)) else {
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
    let rows: Vec<Row> = of_nights.chain(limit).chain(all).collect();
    let table = Table::new().on_page("Target", Look::Words, |(wanted, _): &Row| wanted);
    let table = [Verdict::Met, Verdict::NotDecided, Verdict::Missed].into_iter().fold(table, |table, verdict| {
        let (symbol, word) = verdict_mark(verdict);
        table.on_page(&format!("{symbol} {word}"), Look::Number, move |(_, all)| {
            all.iter().filter(|v| **v == verdict).count()
        })
    });
    html! { div.tight { (table.to_page("How many layouts meet each target", "", &rows)) } }
}

/// A target, and how each layout was judged by it.
type Row = (String, Vec<Verdict>);
