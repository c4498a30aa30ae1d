//! The tables of the page, numbered, each scrolling in its own box on a narrow screen.

use crate::engine::record::Record;
use crate::output::kit::number;
use crate::output::kit::table::framed;
use crate::output::run::page::{PageInput, protection};
use crate::output::run::words;
use crate::summary::{ElementResult, Results};
use maud::{Markup, html};

/// Events of the night that are listed.
const EVENTS: usize = 40;

pub fn tables(input: &PageInput) -> Markup {
    let r = input.results;
    html! {
        (elements(r))
        (chains(r))
        (dropouts(r))
        (cascades(r))
        (protection::devices(r))
        (protection::temperatures(r))
        (years(r))
        (worst_nights(input))
    }
}

fn elements(r: &Results) -> Markup {
    let body = html! {
        thead { tr {
            th scope="col" { "Element" }
            th.n scope="col" { "Rated" }
            th scope="col" { (words::with_interval(r, "Nights over")) }
            th.n scope="col" { "Nights" }
            th.n scope="col" { "Mean time over" }
            th.n scope="col" { "Greatest" }
            th.n scope="col" { "in trial, after" }
        } }
        tbody { @for e in words::elements(r) { (element(e)) } }
    };
    framed(
        "Every module and conductor, worst first; a module is rated for discharge, and for charge where two are given",
        "1",
        body,
    )
}

fn element(e: &ElementResult) -> Markup {
    let probability =
        if words::rated(e) { number::frequency_short(&words::probability(e)) } else { "not judged".into() };
    html! {
        tr {
            th.id scope="row" { (e.id) }
            td.n {
                (number::rating(e.rating_a))
                @if let Some(charge) = e.charge_rating_a { " / " (number::current(charge)) }
            }
            td.p { (probability) }
            td.n { (number::count(e.nights)) }
            td.n { @if e.nights > 0 { (number::duration(e.mean_time_over_h)) } @else { (number::NONE) } }
            td.n { (number::current(e.greatest_a)) }
            td.n { (e.greatest_trial) ", " (number::duration(e.greatest_at_h)) }
        }
    }
}

fn chains(r: &Results) -> Markup {
    if r.chains.is_empty() {
        return html! { p { b { "Table 2. " } "No overload, and so nothing that led to one." } };
    }
    let body = html! {
        thead { tr {
            th scope="col" { "Modules out and conductors not whole when it began" }
            th scope="col" { "Over its rating" }
            th.n scope="col" { "Nights" }
            th scope="col" { (words::with_interval(r, "Share of nights")) }
        } }
        tbody { @for c in &r.chains {
            @let e = crate::summary::Estimate::new(c.estimate, c.low, c.high);
            tr {
                th scope="row" { (words::out_and_amiss(c, "none")) }
                td { (c.over) }
                td.n { (number::count(c.nights)) }
                td.p { (number::frequency_short(&e)) }
            }
        } }
    };
    framed("What was out when an element went over its rating, most frequent first", "2", body)
}

fn dropouts(r: &Results) -> Markup {
    let causes = [
        "Any module out of service",
        "by cold",
        "by a fault, a nuisance trip or the communication chain",
        "by heat, cell voltage, over-current or its device",
    ];
    let body = html! {
        thead { tr { th scope="col" { "Dropout in a night" } th scope="col" { (words::with_interval(r, "Share of nights")) } } }
        tbody {
            @for (words, (_, e)) in causes.iter().zip(words::dropouts(r)) {
                tr { th scope="row" { (words) } td.p { (number::frequency_short(&e)) } }
            }
            @for a in &r.dropout.at_least {
                @let e = crate::summary::Estimate::new(a.estimate, a.low, a.high);
                tr {
                    th scope="row" { "at least " (number::counted(a.modules, "module", "modules")) " out at one moment" }
                    td.p { (number::frequency_short(&e)) }
                }
            }
        }
    };
    framed("Modules that dropped out; one that is empty is not counted", "3", body)
}

/// "First this, then that"; a note where nothing followed.
fn cascades(r: &Results) -> Markup {
    let c = &r.cascade;
    if c.sequences.is_empty() {
        return html! {
            p { b { "Table 4. " } (words::triggered(r)) "." }
        };
    }
    let body = html! {
        thead { tr {
            th scope="col" { "First this, then that" }
            th.n scope="col" { "Nights" }
            th scope="col" { (words::with_interval(r, "Share of nights")) }
        } }
        tbody { @for s in &c.sequences {
            @let e = words::following(s);
            tr {
                th scope="row" { (s.losses.join(", then ")) }
                td.n { (number::count(s.nights)) }
                td.p { (number::frequency_short(&e)) }
            }
        } }
    };
    html! {
        (framed("Cascades: what was lost in the nights in which one dropout triggered further trips", "4", body))
        p { "A cascade is " (words::what_is_a_cascade(r)) "." }
    }
}

fn years(r: &Results) -> Markup {
    if r.nights.years.is_empty() {
        return html! { p { b { "Table 7. " } "The profiles have no calendar: there are no years to set apart." } };
    }
    let body = html! {
        thead { tr {
            th scope="col" { "Year" }
            th.n scope="col" { "Trials" }
            th scope="col" { (words::with_interval(r, "Any overload")) }
            th scope="col" { (words::with_interval(r, "Any dropout")) }
        } }
        tbody { @for y in &r.nights.years {
            @let worst = r.nights.worst_year.as_deref() == Some(y.year.as_str());
            tr {
                th scope="row" { (y.year) @if worst { " ▲ worst" } }
                td.n { (number::count(y.trials)) }
                td.p { (number::frequency_short(&y.overload)) }
                td.p { (number::frequency_short(&y.dropout)) }
            }
        } }
    };
    framed("Each winter or year apart", "7", body)
}

fn worst_nights(input: &PageInput) -> Markup {
    if input.results.worst.is_empty() {
        return html! { p { b { "Table 8. " } "No night stands out: nothing was over, and none ended early." } };
    }
    let body = html! {
        thead { tr {
            th scope="col" { "Trial" }
            th scope="col" { "Night of" }
            th.n scope="col" { "Time over" }
            th scope="col" { "Longest over" }
            th.n scope="col" { "Modules out" }
            th.n scope="col" { "Served for" }
            th scope="col" { "To replay it" }
        } }
        tbody { @for w in &input.results.worst { tr {
            th scope="row" { (w.trial) }
            td.p { @if w.date.is_empty() { (number::NONE) } @else { (w.date) } }
            td.n { (number::duration(w.time_over_h)) }
            td { (w.over.as_deref().unwrap_or(number::NONE)) }
            td.n { (w.modules_out) }
            td.n { (number::hours(w.ride_through_h)) }
            td { code { (input.replay) " " (w.trial) } }
        } } }
    };
    framed("The worst nights, and how to see each again", "8", body)
}

/// What happened in the night of a figure.
pub fn events(record: &Record, figure: usize) -> Markup {
    if record.events.is_empty() {
        return html! { p.note { "No event was recorded in this night." } };
    }
    let rest = record.events.len().saturating_sub(EVENTS);
    let body = html! {
        thead { tr { th scope="col" { "After the start (h:mm:ss)" } th scope="col" { "Event" } } }
        tbody { @for (time, text) in record.events.iter().take(EVENTS) {
            tr { th scope="row" { (time) } td { (text) } }
        } }
    };
    html! {
        (framed(&format!("Events of trial {}, the night of figure {figure}", record.trial), "", body))
        @if rest > 0 { p.note { "And " (number::counted(rest as u64, "later event", "later events")) "." } }
    }
}
