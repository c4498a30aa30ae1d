//! What every page ends with: what is left out, what an interval and a name mean, what went in, cautions.

use crate::output::kit::design::Provenance;
use crate::output::kit::table::{Look, Table};
use crate::output::kit::{cautions, number};
use maud::{Markup, html};

/// Trials that the program could not finish; nothing where it finished all.
pub fn unfinished(failed: u64) -> Markup {
    html! {
        @if failed > 0 {
            p.warning {
                b { "✖ " (number::counted(failed, "trial", "trials")) " could not be finished by the program." }
                " Until that is understood, no figure here should be relied on."
            }
        }
    }
}

pub fn left_out(not_modelled: &[String]) -> Markup {
    html! {
        @if not_modelled.is_empty() {
            p { "The scenario leaves out no mechanism that the program knows." }
        } @else {
            p { "The scenario says nothing of these, and they therefore do not act:" }
            ul { @for line in not_modelled { li { (line) } } }
        }
        p {
            "Outside the program altogether: how a fault begins and is cleared (what a short would drive through a device is \
             worked out by resistance alone, and no night contains one), the arc, what ripple does other than heat, the ageing of \
             cells, mechanical and seismic loads."
        }
    }
}

/// What an interval holds, and what "none seen" is.
pub fn interval() -> Markup {
    html! {
        dt { "95 % interval" }
        dd {
            "By trials: exact bounds for a count (Clopper and Pearson, 1934). They cover the chance of drawing these nights \
             and not others. They do not cover errors of resistances, curves, profiles or of the model; those come on top."
        }
        dt { "By calendar nights" }
        dd {
            "A bound for the mean over all nights that there could be, of which those of the record are a sample (Gaffke, \
             2005): it allows for a kind of night that comes too seldom to be among them, so that more trials do not narrow it, \
             and a longer record does. Nights are taken as independent; those of one cold spell resemble each other, so that \
             even this is rather narrow. A target is met, or missed, where trials and calendar nights both say so."
        }
        dt { "None seen" }
        dd { "Nothing in all trials. The probability is not zero; the bound says how large it may still be." }
    }
}

pub fn names() -> Markup {
    html! {
        dt { "Element names" }
        dd {
            code { "A2" } " is the module in position 2 of stack A, counted from the floor; " code { "A.jumper1-2+" }
            " the positive jumper between positions 1 and 2; " code { "A.lead1-" } " the negative conductor of the first lead pair."
        }
    }
}

/// What went in, beside the digests of it.
pub fn went_in(scenario: &str, rows: &[(&str, String)], p: &Provenance<'_>, number: &str) -> Markup {
    let first = [
        ("Scenario", scenario),
        ("Scenario file", p.scenario_file),
        ("Digest of the scenario", p.digest),
        ("Program", p.version),
    ];
    let rows = first.into_iter().chain(rows.iter().map(|(what, value)| (*what, value.as_str())));
    let rows = rows.map(|(what, value)| (what.to_owned(), html! { (value) }));
    let files = p.files.iter().map(|(name, hash)| (format!("{name}, SHA-256"), html! { code { (hash) } }));
    let rows: Vec<(String, Markup)> = rows.chain(files).collect();
    let table = Table::<&(String, Markup)>::new().on_page("Input", Look::Words, |(what, _)| what).on_page(
        "Value",
        Look::Long,
        |(_, value)| value,
    );
    html! {
        (table.to_page("What went in: the same inputs and seed give the same results", number, &rows))
        @if p.gaps.is_empty() {
            p { "The profiles had no gaps, or none were reported." }
        } @else {
            p { "Gaps in the profiles:" }
            ul { @for gap in p.gaps { li { (with_names(gap)) } } }
        }
        @for what in p.from_memory { p { (cautions::recalled(what)) } }
    }
}

/// Names between grave accents set as code.
fn with_names(text: &str) -> Markup {
    html! {
        @for (k, piece) in text.split('`').enumerate() {
            @if k % 2 == 1 { code { (piece) } } @else { (piece) }
        }
    }
}

pub fn cautions() -> Markup {
    html! {
        p.warning {
            b { "▲ " (cautions::PAGE_HEAD) " " }
            (cautions::PAGE_GOVERNS)
        }
        ul {
            @for caution in cautions::PAGE { li { (caution) } }
        }
    }
}

/// Published standards that bear on such a bank, named by scope from memory, not quoted.
pub fn standards() -> Markup {
    let list = [
        ("NFPA 70", "wiring of buildings in the USA: conductors, overcurrent protection, batteries, energy storage"),
        ("NFPA 70E", "electrical safety in the workplace"),
        ("NFPA 855", "installation of stationary energy storage"),
        ("UL 1973, UL 9540", "safety of stationary batteries, and of energy storage systems"),
        ("IEC 62619, IEC 63056", "safety of lithium cells and batteries for industry and for energy storage"),
        ("IEC 62485-5", "safe operation of stationary lithium-ion batteries"),
        ("IEC 60364, BS 7671", "low-voltage installations"),
        ("AS/NZS 5139", "battery systems with power conversion in Australia and New Zealand"),
    ];
    html! {
        p { "Which of these apply, and in which edition, is for the place and for the authority there to say. Scopes are given from memory." }
        dl.short { @for (name, scope) in list { dt { (name) } dd { (scope) } } }
    }
}
