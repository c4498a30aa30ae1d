//! Paired differences, with the nights that decide them.

use crate::output::compare::tables::{Group, SHOWN, differences};
use crate::output::kit::number;
use crate::study::compare::{Comparison, Difference};
use maud::{Markup, html};

pub fn section(c: &Comparison) -> Markup {
    let best = c.ranking.first().and_then(|k| c.layouts.get(*k)).map_or("", |l| l.name.as_str());
    let (together, apart) = match c.exact {
        true => ("", ""),
        false => ("; all intervals together at 95 %", "; each interval by itself at 95 %"),
    };
    let of_best = format!("\"{best}\", the first of the ranking, less every other{together}");
    let of_each = format!("Each layout less the scenario as written{apart}");
    html! {
        p {
            "A layout less another, in the same nights. Below zero the first has the less risk. "
            "Of each pair the nights that decide: over in the first alone, and in the second alone; and where they do not, about \
             how many nights would, for two layouts alone."
        }
        (pairs(c, (Group::Best, &c.best_against_all), (&of_best, "2", "Less")))
        (pairs(c, (Group::AsWritten, &c.against_first), (&of_each, "3", "Layout")))
        p.note { "Each layout of the ranking against the next, and hours served: differences.csv." }
    }
}

/// One table; the rest of a long one is in the CSV.
fn pairs(c: &Comparison, (group, all): (Group, &[Difference]), (caption, number, heading): Heading<'_>) -> Markup {
    let shown = all.iter().take(SHOWN).map(|d| (group, d));
    let more = all.len().saturating_sub(SHOWN);
    html! {
        div.wide { (differences(c, heading).to_page(caption, number, shown)) }
        @if more > 0 { p.note { "And " (number::counted(more as u64, "more pair", "more pairs")) " in differences.csv." } }
    }
}

/// A table's caption and number, and the heading of its first column.
type Heading<'a> = (&'a str, &'a str, &'a str);
