//! The page of a comparison of layouts.
//!
//! In: the comparison, its figures, the parts of each layout, where the inputs came from. Out: one HTML text.

mod differences;
mod layouts;

use crate::output::kit::design::{self, Frame, Provenance, figure};
use crate::output::kit::{assumptions, number};
use crate::study::compare::Comparison;
use crate::study::compare::output::tables::SHOWN;
use crate::study::compare::output::words;
use crate::study::parts::Parts;
use crate::study::parts::output as parts;
use maud::{Markup, html};

/// What the page of a comparison is made of.
#[derive(Clone, Copy, Debug)]
pub struct LayoutsInput<'a> {
    /// What is told.
    pub comparison: &'a Comparison,
    /// SVG texts of `chart`.
    pub figures: LayoutFigures<'a>,
    /// The parts list of each layout, in the order of the comparison.
    pub parts: &'a [&'a Parts],
    /// What the scenario leaves out.
    pub not_modelled: &'a [String],
    /// Where it came from.
    pub provenance: Provenance<'a>,
}

/// SVG texts of `compare::chart`.
#[derive(Clone, Copy, Debug)]
pub struct LayoutFigures<'a> {
    /// Risk against lead pairs.
    pub leads: &'a str,
    /// Price against risk.
    pub price: &'a str,
    /// How long each is served.
    pub hours: &'a str,
}

/// The whole page.
pub fn layouts(input: &LayoutsInput<'_>) -> String {
    let c = input.comparison;
    design::page(&Frame {
        scenario: &c.scenario,
        kind: "Battery bank study: layouts under the same nights",
        about: "layouts compared",
        conditions: conditions(c),
        sections: vec![
            ("finding", "Finding", found(c)),
            ("figures", "Figures", figures(input)),
            ("layouts", "Layouts", layouts::section(c)),
            ("differences", "Differences", differences::section(c)),
            ("parts", "Parts", parts_lists(input)),
            ("screened", "What was not run", screened(c)),
            ("left-out", "What is not modelled", assumptions::left_out(input.not_modelled)),
            ("definitions", "Definitions", definitions(c)),
            ("inputs", "Inputs", inputs(input)),
            ("cautions", "Cautions", assumptions::cautions()),
            ("standards", "Where to look further", assumptions::standards()),
        ],
        provenance: input.provenance,
    })
}

fn conditions(c: &Comparison) -> String {
    format!(
        "{} under the same {}; seed {}.",
        number::counted(c.layouts.len() as u64, "layout", "layouts"),
        number::nights(c.trials, c.horizon_h, c.distinct_nights),
        c.seed
    )
}

fn found(c: &Comparison) -> Markup {
    let told = words::sentences(c);
    let failed: u64 = c.layouts.iter().map(|l| l.failed_trials).sum();
    html! {
        (design::lead(&told))
        (layouts::targets(c))
        (assumptions::unfinished(failed))
    }
}

fn figures(input: &LayoutsInput<'_>) -> Markup {
    let leads = "Risk against lead pairs: a line a take-off, a panel a kind of lead and number of modules. On this \
                 scale an open mark at the foot stands for none seen, with a line up to the end of its interval. Data: \
                 layouts.csv.";
    let price = "Price against risk. The line joins the layouts that none beats in both. Data: layouts.csv.";
    let hours = "How long each layout is served; layouts that do not differ share a panel. Data: layouts.csv.";
    html! {
        (figure(1, input.figures.leads, leads))
        (figure(2, input.figures.price, price))
        (figure(3, input.figures.hours, hours))
    }
}

/// The parts lists of the scenario as written, of the layout of least risk, and of the cheapest that meets the targets.
fn parts_lists(input: &LayoutsInput<'_>) -> Markup {
    let c = input.comparison;
    let mut told = vec![0];
    for k in c.ranking.first().copied().into_iter().chain(words::cheapest_met(c)) {
        if !told.contains(&k) {
            told.push(k);
        }
    }
    let lists = told.iter().filter_map(|&k| Some((&c.layouts.get(k)?.name, *input.parts.get(k)?)));
    html! {
        @for (k, (name, list)) in lists.enumerate() {
            (parts::parts(name, list, c.currency.as_deref(), &(k + 4).to_string()))
        }
        @if let Some(left_out) = words::unpriced_in_any(c).filter(|_| c.currency.is_some()) {
            p.note { (left_out) }
        }
        p.note {
            "The scenario as written, the layout of least risk, and the cheapest that is shown to meet every target; those of \
             all layouts: parts.csv. Conductors are counted one by one, two a pair. Labour is not included."
        }
    }
}

/// Layouts that another stands for, and why.
fn screened(c: &Comparison) -> Markup {
    let spared: Vec<_> = c.layouts.iter().filter_map(|l| Some((&l.name, l.same_nights_as.as_ref()?))).collect();
    html! {
        p { (words::screening(c)) }
        @if !spared.is_empty() {
            p { "Nothing that acts in a night differs between these, so the first stands for the second:" }
            ul {
                @for (name, other) in spared.iter().take(SHOWN) { li { "\"" (other) "\" for \"" (name) "\"" } }
                @if spared.len() > SHOWN { li { (spared.len() - SHOWN) " more: see layouts.csv" } }
            }
        }
        p.note { "No layout is left out for its price, its limit or its risk: that is done by propose." }
    }
}

fn definitions(c: &Comparison) -> Markup {
    let hold = number::duration(c.hold_s / 3600.0);
    html! {
        dl {
            dt { "Nights over" }
            dd {
                "Share of the nights in which any module or conductor is over its rating without a break for longer than "
                (hold) "."
            }
            dt { "Served" }
            dd {
                "Share of the nights in which the demand is met in full for as long as the target asks, or to the horizon of "
                (number::hours(c.horizon_h)) " where there is none; shortfalls of " (hold) " or less are not counted."
            }
            dt { "Safe limit" }
            dd {
                "Greatest discharge current of the bank up to which nothing is over its rating, solved exactly for every set of \
                 modules out; the worst set counts. At 25 °C and the charge at the start. Rounded down; ≥: what is proven, where \
                 the sets are too many."
            }
            dt { "Loss and drop" }
            dd {
                "At the greatest load without surges, with all modules in, at 25 °C: what the conductors lose, and from the \
                 highest module terminal voltage to the bus."
            }
            dt { "Difference and nights that decide" }
            dd {
                "All layouts go through the same nights, and what they share has the same luck. A night in which both or neither \
                 are over says nothing of their difference; those in which one alone is over decide. The interval is \
                 guaranteed for any number of nights."
            }
            @if !c.exact { (assumptions::interval()) }
            (assumptions::names())
        }
    }
}

fn inputs(input: &LayoutsInput<'_>) -> Markup {
    let c = input.comparison;
    let rows = [
        ("Seed", c.seed.to_string()),
        ("Nights a layout", number::count(c.trials)),
        ("Horizon", number::hours(c.horizon_h)),
        ("Hold time", number::duration(c.hold_s / 3600.0)),
    ];
    assumptions::went_in(&c.scenario, &rows, &input.provenance, "")
}
