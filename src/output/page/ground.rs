//! What the figures rest on: definitions, what is left out, numerical quality, inputs, cautions.

use super::{PageInput, Provenance, tables};
use crate::output::{cautions, finding, number};
use crate::summary::{HalfStep, Results};
use maud::{Markup, html};

/// Kirchhoff's current law is to hold at every node to within so many amperes.
const KIRCHHOFF: f64 = 1e-9;

/// One line on how the results were had.
pub fn conditions(r: &Results) -> String {
    format!(
        "{} of {} each, drawn from {}; seed {}, step {}.",
        number::counted(r.trials, "trial", "trials"),
        number::hours(r.horizon_h),
        number::counted(r.nights.distinct, "calendar night", "different calendar nights"),
        r.seed,
        number::duration(r.step_s / 3600.0)
    )
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

pub fn definitions(input: &PageInput) -> Markup {
    let r = input.results;
    let hold = number::duration(r.hold_s / 3600.0);
    html! {
        dl {
            dt { "Overload" }
            dd {
                "The current of an element exceeds its rating by more than one part in a thousand million, without a \
                 break for longer than " (hold) ". The time of those " (hold) " counts as time over. Each element \
                 has one such clock, and it starts anew when the current falls back. An element without a rating is \
                 never over. It is a matter of current alone."
            }
            dt { "Over temperature" }
            dd {
                "A conductor with insulation data is hotter than the lesser of what its insulation and its terminals stand, \
                 without a break for longer than " (hold) ". This is counted apart from overload: a short overload may \
                 not heat a conductor that far, and poor joints or hot surroundings may do so within its rating."
            }
            dt { "Device opened" }
            dd {
                "A fuse or breaker has opened by its own time and current, and stays open for the rest of the night. This \
                 too is counted apart: a device may stand an overload for hours, or open before a conductor is hot."
            }
            dt { "Ride-through" }
            dd {
                "The time from the start until the demand is first not met in full for longer than " (hold)
                ", counted to the start of that shortfall. A night that never falls short is followed to the horizon of "
                (number::hours(r.horizon_h)) " and counted there: how long it would have lasted is not known."
            }
            dt { "Brief shortfall" }
            dd {
                "Demand that is not met for " (hold) " or less. It does not end the ride-through, and what it leaves out is \
                 counted apart."
            }
            dt { "Dropout" }
            dd {
                "A module leaves service by cold, heat, cell voltage, over-current, its device or a fault. One that is empty \
                 is not a dropout."
            }
            dt { "Cascade" }
            dd {
                "A dropout and what it triggered: " (finding::what_is_a_cascade(r)) ". Protection is over-current, cell \
                 voltage, a fuse or breaker, and the low-voltage stop of the inverter; whether it would have had cause is \
                 found by solving the same moment again with all that was lost within that time still in place. The first \
                 cascade of a night is told. The time until the bank was dead runs from the night's first dropout."
            }
            @if !r.exact { (interval()) }
            (names())
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

pub fn quality(input: &PageInput) -> Markup {
    let q = &input.results.quality;
    let u = &input.results.unserved_wh;
    let kept = q.kirchhoff_a <= KIRCHHOFF;
    let mut rows = vec![
        ("Trials that could not be finished", number::count(q.failed_trials), mark(q.failed_trials == 0)),
        (
            "Greatest departure from Kirchhoff's current law",
            format!("{} A (to be below {} A)", number::exponent(q.kirchhoff_a), number::exponent(KIRCHHOFF)),
            mark(kept),
        ),
        ("Greatest departure of power in from power out, relative", number::exponent(q.power_balance), ""),
        (
            "Steps, solutions of the network, events",
            format!("{}, {}, {}", number::count(q.steps), number::count(q.solves), number::count(q.events)),
            "",
        ),
        ("Mean energy not served in a night", mean_energy(input.results), ""),
        ("Mean energy not served in brief shortfalls in a night", number::energy(u.brief_mean), ""),
        ("Mean energy that the bank could not take up in a night", number::energy(u.curtailed_mean), ""),
    ];
    rows.extend(q.half_step.as_ref().map(half_step_row));
    let body = html! {
        thead { tr { th scope="col" { "Quantity" } th scope="col" { "Value" } th scope="col" { "Check" } } }
        tbody { @for (what, value, check) in rows { tr { th scope="row" { (what) } td { (value) } td { (check) } } } }
    };
    tables::table("How well the equations were solved", "9", body)
}

/// With its standard error, where it has one.
fn mean_energy(r: &Results) -> String {
    let (mean, error) = (number::energy(r.unserved_wh.mean), number::energy(r.unserved_wh.std_error));
    if r.exact { mean } else { format!("{mean} (standard error {error})") }
}

/// What half the step changes.
fn half_step_row(h: &HalfStep) -> (&'static str, String, &'static str) {
    let nights = number::counted(h.trials, "night", "nights");
    let value = format!(
        "{nights} again: {} instead of {} over a limit, {} otherwise with a dropout or without; ride-through moved by \
         {:.2} s in the mean, {:.1} s at most; no greatest current by more than {}",
        number::count(h.over_with_half),
        number::count(h.over),
        number::count(h.dropout_changed),
        // Adding nothing turns −0 into 0.
        (h.ride_through_mean_change_s * 100.0).round() / 100.0 + 0.0,
        h.ride_through_greatest_change_s,
        number::current(h.current_greatest_change_a)
    );
    ("The same with half the step, within the intervals of these nights", value, mark(h.within_intervals))
}

fn mark(good: bool) -> &'static str {
    if good { "✔ kept" } else { "✖ not kept" }
}

pub fn inputs(input: &PageInput) -> Markup {
    let r = input.results;
    let rows = [
        ("Seed", r.seed.to_string()),
        ("Trials", number::count(r.trials)),
        ("Horizon", number::hours(r.horizon_h)),
        ("Step at most", number::duration(r.step_s / 3600.0)),
        ("Hold time", number::duration(r.hold_s / 3600.0)),
    ];
    went_in(&r.scenario, &rows, &input.provenance, "10")
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
    let body = html! {
        thead { tr { th scope="col" { "Input" } th scope="col" { "Value" } } }
        tbody {
            @for (what, value) in rows { tr { th scope="row" { (what) } td.long { (value) } } }
            @for (name, hash) in p.files { tr { th scope="row" { (name) ", SHA-256" } td.long { code { (hash) } } } }
        }
    };
    html! {
        (tables::table("What went in: the same inputs and seed give the same results", number, body))
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
