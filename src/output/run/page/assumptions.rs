//! What the figures rest on: definitions, what is left out, numerical quality, inputs, cautions.

use crate::output::kit::assumptions::{interval, names, went_in};
use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::output::run::page::input::PageInput;
use crate::output::run::words;
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
                "A dropout and what it triggered: " (words::what_is_a_cascade(r)) ". Protection is over-current, cell \
                 voltage, a fuse or breaker, and the low-voltage stop of the inverter; whether it would have had cause is \
                 found by solving the same moment again with all that was lost within that time still in place. The first \
                 cascade of a night is told. The time until the bank was dead runs from the night's first dropout."
            }
            @if !r.exact { (interval()) }
            (names())
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
    Table::<&(&str, String, &str)>::new()
        .on_page("Quantity", Look::Words, |(what, ..)| what)
        .on_page("Value", Look::Words, |(_, value, _)| value)
        .on_page("Check", Look::Words, |(.., check)| check)
        .to_page("How well the equations were solved", "9", &rows)
}

/// The mean energy not served, with its standard error where there is one.
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
