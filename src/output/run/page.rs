//! The page of a run: one HTML text, complete in itself, for screen and paper.
//!
//! In: the document of a run, its figures, and where the inputs came from.
//! Out: one text: the finding first, then figures, tables, and what the figures rest on. It loads
//! nothing from elsewhere and runs no script.

mod assumptions;
mod finding;
mod input;
mod tables;

pub use input::{Figures, PageInput};

use crate::output::kit;
use crate::output::kit::design::{self, Frame, figure};
use maud::{Markup, html};

/// The page of a run.
pub fn page(input: &PageInput) -> String {
    design::page(&Frame {
        scenario: &input.results.scenario,
        kind: "Battery bank study: overload and ride-through",
        about: "overload and ride-through",
        conditions: assumptions::conditions(input.results),
        sections: vec![
            ("finding", "Finding", finding::finding(input)),
            ("figures", "Figures", figures(input)),
            ("tables", "Tables", tables::tables(input)),
            ("left-out", "What is not modelled", kit::assumptions::left_out(&input.results.not_modelled)),
            ("definitions", "Definitions", assumptions::definitions(input)),
            ("quality", "Numerical quality", assumptions::quality(input)),
            ("inputs", "Inputs", assumptions::inputs(input)),
            ("cautions", "Cautions", kit::assumptions::cautions()),
            ("standards", "Where to look further", kit::assumptions::standards()),
        ],
        provenance: input.provenance,
    })
}

fn figures(input: &PageInput) -> Markup {
    let overload = "How often each element is over its rating. Crosses are over the target, discs are not; a dashed \
                    bracket is an upper bound where nothing was seen. Data: elements.csv.";
    let ride = "How long the demand is met. The line is the share of nights not yet ended, the shaded band what \
                chance in drawing the nights leaves open. Data: ride_through.csv.";
    let seen = !input.record.moments.is_empty();
    let cascade = "What was lost after what, most frequent first: a name, and in brackets why it was lost. Where there is \
                   a second axis, it tells how soon after the first dropout the bank was dead. Data: cascades.csv.";
    let night = "One night as it was computed, from the same draws as in the run. It shows what happened, not how \
                 often; how often is in figure 1. A label with etc. stands for \
                 several elements with the same share of their ratings.";
    html! {
        (figure(1, input.figures.overload, overload))
        (figure(2, input.figures.ride_through, ride))
        @if seen {
            (figure(3, input.figures.night, night))
            (tables::events(input.record, 3))
        }
        (figure(if seen { 4 } else { 3 }, input.figures.cascade, cascade))
    }
}
