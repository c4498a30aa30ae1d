//! The tables of the page, numbered, each with its caption; a sentence where there is nothing to tell.

use crate::engine::record::Record;
use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::output::run::page::input::PageInput;
use crate::output::run::{tables, words};
use crate::summary::Results;
use crate::time::Time;
use maud::{Markup, html};

/// Events of the night that are listed.
const EVENTS: usize = 40;

pub fn tables(input: &PageInput) -> Markup {
    let r = input.results;
    let elements = "Every module and conductor, worst first; a module is rated for discharge, and for charge where two are \
                    given";
    let dropouts = "Modules that dropped out; one that is empty is not counted";
    html! {
        (tables::elements(r).to_page(elements, "1", words::elements(r).into_iter().map(|e| ("", e))))
        (chains(r))
        (tables::dropouts(r).to_page(dropouts, "3", tables::dropped(r)))
        (cascades(r))
        (devices(r))
        (temperatures(r))
        (years(r))
        (worst_nights(input))
    }
}

/// What stands in the place of a table without rows.
fn none(number: &str, words: &str) -> Markup {
    html! { p { b { "Table " (number) ". " } (words) } }
}

fn chains(r: &Results) -> Markup {
    if r.chains.is_empty() {
        return none("2", "No overload, and so nothing that led to one.");
    }
    let caption = "What was out when an element went over its rating, most frequent first";
    tables::chains(r).to_page(caption, "2", &r.chains)
}

/// "First this, then that"; a note where nothing followed.
fn cascades(r: &Results) -> Markup {
    let all = &r.cascade.sequences;
    if all.is_empty() {
        return none("4", &(words::triggered(r) + "."));
    }
    let caption = "Cascades: what was lost in the nights in which one dropout triggered further trips";
    html! {
        (tables::cascades(r).to_page(caption, "4", all))
        p { "A cascade is " (words::what_is_a_cascade(r)) "." }
    }
}

fn devices(r: &Results) -> Markup {
    let Some(opened) = &r.device_opened else {
        return none("5", "The scenario has no protective device: none opens, and none is judged.");
    };
    let highest = number::voltage(number::rounded_up(opened.highest_v));
    let caption = format!("Protective devices; the highest voltage of the bank, which each must break, is {highest}");
    html! {
        div.wide { (tables::devices(r).to_page(&caption, "5", words::devices(opened))) }
        p {
            "The prospective fault current is what a bolted short beside the device would drive through it by resistance \
             alone, with all modules full, in service, as nominal and as warm as their guards allow (60 °C without one), and \
             conductors at 20 °C. Inductance, the arc and the electronics of the modules are left out, each of which would \
             lessen it: it is an upper figure, against which to hold the breaking capacity. It is not what every fault \
             draws: one further away, with an arc or with fewer modules draws less, and a device then takes longer to open, \
             or does not open at all. The two times in the table are for the prospective current, the device cold and the \
             conductor at its full temperature. The device's own data and local codes govern."
        }
    }
}

fn temperatures(r: &Results) -> Markup {
    let Some(over) = &r.over_temperature else {
        return none("6", "No conductor has insulation data: how hot each becomes is not known.");
    };
    let caption = "Conductors with insulation data: the lesser of what insulation and terminals stand, and what came";
    tables::temperatures(r).to_page(caption, "6", words::hot_conductors(over))
}

fn years(r: &Results) -> Markup {
    if r.nights.years.is_empty() {
        return none("7", "The profiles have no calendar: there are no years to set apart.");
    }
    tables::years(r).to_page("Each winter or year apart", "7", &r.nights.years)
}

fn worst_nights(input: &PageInput) -> Markup {
    if input.results.worst.is_empty() {
        return none("8", "No night stands out: nothing was over, and none ended early.");
    }
    let caption = "The worst nights, and how to see each again";
    tables::worst_nights(input.replay).to_page(caption, "8", &input.results.worst)
}

/// What happened in the night of a figure.
pub fn events(record: &Record, figure: usize) -> Markup {
    if record.events.is_empty() {
        return html! { p.note { "No event was recorded in this night." } };
    }
    let rest = record.events.len().saturating_sub(EVENTS);
    let caption = format!("Events of trial {}, the night of figure {figure}", record.trial);
    let table = Table::<&(Time, String)>::new()
        .on_page("After the start (h:mm:ss)", Look::Words, |(time, _)| time.to_string())
        .on_page("Event", Look::Words, |(_, text)| text);
    html! {
        (table.to_page(&caption, "", record.events.iter().take(EVENTS)))
        @if rest > 0 { p.note { "And " (number::counted(rest as u64, "later event", "later events")) "." } }
    }
}
