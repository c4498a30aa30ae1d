//! The page of a proposal.
//!
//! In: the proposal, its chart, the parts of each layout, where the inputs came from. Out: one HTML text.

use crate::output::kit::design::{self, Frame, Provenance, figure};
use crate::output::kit::{assumptions, number};
use crate::study::compare::output::words as finding;
use crate::study::limit::output::words as limit_words;
use crate::study::parts::Parts;
use crate::study::parts::output as parts;
use crate::study::propose::Proposal;
use crate::study::propose::output::words;
use maud::{Markup, html};

/// What the page of a proposal is made of.
#[derive(Clone, Copy, Debug)]
pub struct ProposalInput<'a> {
    /// What is told.
    pub proposal: &'a Proposal,
    /// SVG text of `chart::proposal`.
    pub figure: &'a str,
    /// Name and parts of each layout.
    pub parts: &'a [(&'a str, &'a Parts)],
    /// What the scenario leaves out.
    pub not_modelled: &'a [String],
    /// Where it came from.
    pub provenance: Provenance<'a>,
}

/// The whole page.
pub fn proposal(input: &ProposalInput<'_>) -> String {
    let p = input.proposal;
    let figure_of = figure(1, input.figure, "The layouts by price, and what became of each. Data: proposal.csv.");
    design::page(&Frame {
        scenario: &p.scenario,
        kind: "Battery bank study: the cheapest layout that meets the targets",
        about: "proposal",
        conditions: format!(
            "{}, cheapest first; seed {}.",
            number::counted(p.layouts.len() as u64, "layout", "layouts"),
            p.seed
        ),
        sections: vec![
            ("finding", "Finding", found(p)),
            ("figures", "Figure", figure_of),
            ("layouts", "Layouts", layouts(p)),
            ("parts", "Parts", parts_list(input)),
            ("left-out", "What is not modelled", assumptions::left_out(input.not_modelled)),
            ("definitions", "Definitions", definitions(p)),
            ("inputs", "Inputs", inputs(input)),
            ("cautions", "Cautions", assumptions::cautions()),
            ("standards", "Where to look further", assumptions::standards()),
        ],
        provenance: input.provenance,
    })
}

fn found(p: &Proposal) -> Markup {
    let told = words::sentences(p);
    html! {
        (design::lead(&told))
        (targets(p))
    }
}

/// What was to be met; of the nights, as the first layout that went through any was judged by.
fn targets(p: &Proposal) -> Markup {
    let judged = p.layouts.iter().find(|l| !l.targets.is_empty());
    let of_nights = judged.iter().flat_map(|l| &l.targets).map(|t| t.wanted.clone());
    let limit = p.layouts.iter().find_map(|l| l.limit.as_ref()).map(limit_words::wanted);
    let wanted: Vec<String> = limit.into_iter().chain(of_nights).collect();
    html! {
        @if !wanted.is_empty() {
            p { "To be met:" }
            ul { @for target in &wanted { li { (target) } } }
        }
    }
}

fn layouts(p: &Proposal) -> Markup {
    html! { div.wide { (words::table(p).to_page("Layouts, cheapest first", "1", &p.layouts)) } }
}

/// The parts list of the proposed layout; empty where none is proposed.
fn parts_list(input: &ProposalInput<'_>) -> Markup {
    let p = input.proposal;
    let proposed = p.proposed.and_then(|k| p.layouts.get(k));
    let list = proposed.and_then(|l| input.parts.iter().find(|(name, _)| *name == l.name));
    html! {
        @match list {
            Some((name, list)) => {
                (parts::parts(name, list, p.currency.as_deref(), "2"))
                @if let Some(left_out) = finding::unpriced(&p.unpriced) { p.note { (left_out) } }
            }
            None => p { "Nothing is proposed." }
        }
        p.note {
            "Those of all layouts: parts.csv. Conductors are counted one by one, two a pair. Labour is not included."
        }
    }
}

fn definitions(p: &Proposal) -> Markup {
    html! {
        dl {
            dt { "Limit missed" }
            dd {
                "The greatest safe discharge current, solved exactly for every set of modules out at 25 °C and the charge at the \
                 start, is below the target. No night is needed to say so."
            }
            dt { "Target missed, not decided" }
            dd {
                "The interval lies beyond the target, or holds it. It is wider than one of 95 % alone, so that all verdicts hold \
                 together however often was looked."
            }
            dt { "Not run" }
            dd { "Dearer than those that were found to meet every target: it may meet them too." }
            @if !p.exact { (assumptions::interval()) }
            (assumptions::names())
        }
    }
}

fn inputs(input: &ProposalInput<'_>) -> Markup {
    let p = input.proposal;
    let looks: Vec<String> = p.looks.iter().map(|n| number::count(*n)).collect();
    let rows = [("Seed", p.seed.to_string()), ("Looked at after so many nights", looks.join("; "))];
    assumptions::went_in(&p.scenario, &rows, &input.provenance, "")
}
