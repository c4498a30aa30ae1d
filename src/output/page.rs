//! The report: one HTML page, complete in itself, for screen and paper.
//!
//! In: the results document, four figures, one record, and where the inputs came from.
//! Out: one text: the finding first, then figures, tables, and what the figures rest on. It loads
//! nothing from elsewhere and runs no script.

mod finding;
mod ground;
mod protection;
mod style;
mod tables;

use crate::engine::record::Record;
use crate::summary::Results;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// What a page is made of.
#[derive(Clone, Copy, Debug)]
pub struct PageInput<'a> {
    pub results: &'a Results,
    /// SVG texts of `chart`.
    pub figures: Figures<'a>,
    /// The night of the last figure; without moments it and its figure are left out.
    pub record: &'a Record,
    pub provenance: Provenance<'a>,
    /// How gaps in the profiles were filled, one line each.
    pub gaps: &'a [String],
    /// The command that replays a night, but for the number of the trial.
    pub replay: &'a str,
}

#[derive(Clone, Copy, Debug)]
pub struct Figures<'a> {
    pub overload: &'a str,
    pub ride_through: &'a str,
    pub cascade: &'a str,
    pub night: &'a str,
}

/// Where the results came from.
#[derive(Clone, Copy, Debug)]
pub struct Provenance<'a> {
    /// Of the program: `bankwright 0.1.0`.
    pub version: &'a str,
    /// As the user named it.
    pub scenario_file: &'a str,
    /// SHA-256 of the scenario and of what it names.
    pub digest: &'a str,
    /// Further files, with the SHA-256 of each.
    pub files: &'a [(String, String)],
}

/// The sections, in order: identifier and heading.
const SECTIONS: [(&str, &str); 9] = [
    ("finding", "Finding"),
    ("figures", "Figures"),
    ("tables", "Tables"),
    ("left-out", "What is not modelled"),
    ("definitions", "Definitions"),
    ("quality", "Numerical quality"),
    ("inputs", "Inputs"),
    ("cautions", "Cautions"),
    ("standards", "Where to look further"),
];

/// The whole page.
pub fn page(input: &PageInput) -> String {
    let title = name(input.results);
    let body = html! {
        a.skip href="#finding" { "Skip to the finding" }
        (header(input))
        main {
            (section(0, finding::finding(input)))
            (section(1, figures(input)))
            (section(2, tables::tables(input)))
            (section(3, ground::left_out(input)))
            (section(4, ground::definitions(input)))
            (section(5, ground::quality(input)))
            (section(6, ground::inputs(input)))
            (section(7, ground::cautions()))
            (section(8, ground::standards()))
        }
    };
    let document = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " – overload and ride-through" }
                style { (PreEscaped(style::sheet(title, input.provenance.version, input.provenance.digest))) }
            }
            body { (body) }
        }
    };
    // The sign of a per cent stays with its number at the end of a line.
    document.into_string().replace(" %", "\u{a0}%")
}

/// The scenario's title; a page needs a heading even where there is none.
fn name(results: &Results) -> &str {
    let title = results.scenario.trim();
    if title.is_empty() { "Scenario without a title" } else { title }
}

fn header(input: &PageInput) -> Markup {
    html! {
        header {
            p.kind { "Battery bank study: overload and ride-through" }
            h1 { (name(input.results)) }
            p { (ground::conditions(input.results)) }
            nav aria-label="Contents" {
                ul { @for (id, heading) in SECTIONS { li { a href={ "#" (id) } { (heading) } } } }
            }
        }
    }
}

fn section(k: usize, content: Markup) -> Markup {
    let (id, heading) = SECTIONS.get(k).copied().unwrap_or_default();
    html! {
        section id=(id) aria-labelledby={ (id) "-heading" } {
            h2 id={ (id) "-heading" } { (heading) }
            (content)
        }
    }
}

fn figures(input: &PageInput) -> Markup {
    let overload = "How often each element is over its rating. Crosses are over the target, discs are not; a dashed \
                    bracket is an upper bound where nothing was seen. Data: elements.csv.";
    let ride = "How long the demand is met. The line is the share of nights not yet ended, the shaded band what \
                chance in drawing the nights leaves open. Data: ride_through.csv.";
    let cascade = "What was lost after what, most frequent first: a name, and in brackets why it was lost. Where there is \
                   a second axis, it tells how soon after the first loss nothing was delivered any more. Data: \
                   cascades.csv.";
    let night = "One night as it was computed, from the same draws as in the run. It shows what happened, not how \
                 often; how often is in figure 1. A label with etc. stands for \
                 several elements with the same share of their ratings.";
    html! {
        (figure(1, input.figures.overload, overload))
        (figure(2, input.figures.ride_through, ride))
        (figure(3, input.figures.cascade, cascade))
        @if !input.record.moments.is_empty() {
            (figure(4, input.figures.night, night))
            (tables::events(input.record))
        }
    }
}

fn figure(number: usize, svg: &str, caption: &str) -> Markup {
    // Within HTML an SVG needs no namespace, and the page then names no address at all.
    let svg = svg.replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1);
    html! {
        figure id={ "figure-" (number) } {
            div.scroll tabindex="0" role="region" aria-label={ "Figure " (number) } { (PreEscaped(svg)) }
            figcaption { b { "Figure " (number) ". " } (caption) }
        }
    }
}
