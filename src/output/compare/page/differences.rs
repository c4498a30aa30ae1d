//! Paired differences, with the nights that decide them.

use crate::output::compare::page::SHOWN;
use crate::output::compare::page::layouts::in_two;
use crate::output::kit::number;
use crate::output::kit::table::framed;
use crate::study::compare::{Comparison, Difference};
use maud::{Markup, html};

pub fn differences(c: &Comparison) -> Markup {
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
        (pairs(c, &c.best_against_all, true, (&of_best, "2", "Less")))
        (pairs(c, &c.against_first, false, (&of_each, "3", "Layout")))
        p.note { "Each layout of the ranking against the next, and hours served: differences.csv." }
    }
}

/// One table; `together`: of the best, intervals all together.
fn pairs(c: &Comparison, all: &[Difference], together: bool, (caption, number, heading): (&str, &str, &str)) -> Markup {
    // Of the best its partner, else the layout itself.
    let named = |d: &Difference| if together { d.second } else { d.first };
    let body = html! {
        thead { tr {
            th scope="col" { (heading) }
            th scope="col" { "Nights over, difference" }
            th.n scope="col" { "First alone" }
            th.n scope="col" { "Second alone" }
            th scope="col" { "Decided" }
            th scope="col" { "Nights not served, difference" }
        } }
        tbody { @for d in all.iter().take(SHOWN) { tr {
            th.name scope="row" { (c.layouts.get(named(d)).map_or("", |l| l.name.as_str())) }
            @if d.same_nights {
                td colspan="5" { "the nights see no difference" }
            } @else {
                td { (in_two(&number::points(&d.overload))) }
                td.n { (number::count(d.overload_first_alone)) }
                td.n { (number::count(d.overload_second_alone)) }
                td { (decided(c, d, together)) }
                td { (in_two(&number::points(&d.short))) }
            }
        } } }
    };
    let more = all.len().saturating_sub(SHOWN);
    html! {
        div.wide { (framed(caption, number, body)) }
        @if more > 0 { p.note { "And " (number::counted(more as u64, "more pair", "more pairs")) " in differences.csv." } }
    }
}

/// Whether; where not, how many nights would do it for two layouts alone, if they are more than were run.
fn decided(c: &Comparison, d: &Difference, together: bool) -> String {
    let more = d.nights_to_decide.filter(|n| *n > c.trials && !together);
    match (d.decided, more) {
        (true, _) => "✔ yes".to_owned(),
        (false, Some(n)) => format!("? no: about {} nights", number::count(number::rounded_up(n as f64) as u64)),
        (false, None) => "? no".to_owned(),
    }
}
