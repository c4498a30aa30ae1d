//! What all pages have in common: the document, its head and contents, sections, figures.
//!
//! In: a title, sections in their order, who made it. Out: one HTML text that loads nothing and runs no script.

mod style;

use crate::escape;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// What the results were made from.
#[derive(Clone, Copy, Debug)]
pub struct Provenance<'a> {
    /// Name and version of the program: `bankwright 0.1.0`.
    pub version: &'a str,
    /// The scenario file, as the user named it.
    pub scenario_file: &'a str,
    /// SHA-256 of the scenario and of what it names.
    pub digest: &'a str,
    /// Further files, with the SHA-256 of each.
    pub files: &'a [(String, String)],
    /// How gaps in the profiles were filled, one line each.
    pub gaps: &'a [String],
    /// What is taken from tables recalled from memory (`Scenario::from_memory`).
    pub from_memory: &'a [String],
}

/// A section: identifier, heading, content.
pub(crate) type Section = (&'static str, &'static str, Markup);

/// A page before it is text.
pub(crate) struct Frame<'a> {
    /// The scenario's title; a page needs a heading even where there is none.
    pub scenario: &'a str,
    /// What kind of study it is.
    pub kind: &'a str,
    /// Behind the title in the name of the document.
    pub about: &'a str,
    /// One line on how the results were had.
    pub conditions: String,
    pub sections: Vec<Section>,
    pub provenance: Provenance<'a>,
}

pub(crate) fn page(frame: &Frame<'_>) -> String {
    let title = match frame.scenario.trim() {
        "" => "Scenario without a title",
        title => title,
    };
    let first = frame.sections.first().map_or("", |(id, ..)| id);
    let document = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " – " (frame.about) }
                style { (PreEscaped(style::sheet(title, frame.provenance.version, frame.provenance.digest))) }
            }
            body {
                a.skip href={ "#" (first) } { "Skip to the finding" }
                header {
                    p.kind { (frame.kind) }
                    h1 { (title) }
                    p { (frame.conditions) }
                    nav aria-label="Contents" {
                        ul { @for (id, heading, _) in &frame.sections { li { a href={ "#" (id) } { (heading) } } } }
                    }
                }
                main { @for part in &frame.sections { (section(part)) } }
            }
        }
    };
    // The sign of a per cent stays with its number at the end of a line.
    escape::document(document.into_string().replace(" %", "\u{a0}%"))
}

fn section((id, heading, content): &Section) -> Markup {
    html! {
        section id=(id) aria-labelledby={ (id) "-heading" } {
            h2 id={ (id) "-heading" } { (heading) }
            (content)
        }
    }
}

/// Sentences, the first of which is the finding.
pub(crate) fn lead(told: &[String]) -> Markup {
    html! {
        @if let Some((first, rest)) = told.split_first() {
            p.lead { (first) }
            @for sentence in rest { p { (sentence) } }
        }
    }
}

/// A chart in its box.
pub(crate) fn figure(number: usize, svg: &str, caption: &str) -> Markup {
    // Within HTML an SVG needs no namespace, and the page then names no address at all.
    let svg = svg.replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1);
    html! {
        figure id={ "figure-" (number) } {
            div.scroll tabindex="0" role="region" aria-label={ "Figure " (number) } { (PreEscaped(svg)) }
            figcaption { b { "Figure " (number) ". " } (caption) }
        }
    }
}
