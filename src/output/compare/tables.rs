//! The tables of a comparison: what each column is called, what it says to programs and what to people.
//!
//! In: the comparison, the parts lists. Out: tables, and the CSV files made of them.

use super::words::{fallen_short, has_targets};
use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::output::kit::words::{class, verdict_mark};
use crate::output::limit::words::rounded_down;
use crate::scenario::TakeOff;
use crate::study::compare::{Comparison, Difference, LayoutResult};
use maud::{Markup, html};

/// Rows of a page's table of layouts or pairs; the rest is in the CSV.
pub const SHOWN: usize = 40;

/// Characters of a name on the terminal.
const NAME: usize = 44;

/// A layout of the comparison, by its number.
pub type Layout<'a> = (usize, &'a LayoutResult);

/// Layouts in the order of the ranking, least risk first.
pub fn ranked(c: &Comparison) -> impl Iterator<Item = Layout<'_>> {
    c.ranking.iter().map(|&k| (k, &c.layouts[k]))
}

/// One row a layout, in the order of the scenario.
pub fn layouts_csv(c: &Comparison) -> String {
    layouts(c).to_csv(c.layouts.iter().enumerate())
}

/// What there is to tell of a layout.
pub fn layouts(c: &Comparison) -> Table<'_, Layout<'_>> {
    let rank = move |k: usize| c.ranking.iter().position(|&r| r == k).map(|r| r + 1);
    let over = if c.exact { "nights over" } else { "nights over (95 % interval)" };
    let (price, currency) = (priced_in("Price", c.currency.as_deref()), c.currency.as_deref());
    let table = Table::<Layout<'_>>::new()
        .for_people()
        .terminal("", Look::Words, move |(k, _)| rank(k).map_or_else(String::new, |rank| format!("{rank}.")))
        .column(["layout"], |(_, l)| &l.name)
        .terminal("layout", Look::Name, |(_, l)| shortened(&l.name))
        .page("Layout", Look::Name, |(_, l)| &l.name)
        .column(["rank"], move |(k, _)| rank(k))
        .column(["same_nights_as"], |(_, l)| l.same_nights_as.as_deref())
        .column(["modules"], |(_, l)| l.modules)
        .column(["lead_pairs"], |(_, l)| l.lead_pairs)
        .column(["take_off"], |(_, l)| l.take_off.map(TakeOff::word))
        .column(["leads"], |(_, l)| l.leads.join(" "))
        .column(["lead_devices"], |(_, l)| l.lead_devices.join(" "))
        .column(["overload", "overload_low", "overload_high"], |(_, l)| l.overload)
        .terminal(over, Look::Whole, |(_, l)| number::frequency_short(&l.overload))
        .page("Nights over", Look::Words, |(_, l)| in_two(&number::frequency_short(&l.overload)))
        .column(["most_often_over"], |(_, l)| l.most_often_over.as_deref())
        .column(["ride_through_met", "ride_through_met_low", "ride_through_met_high"], |(_, l)| l.ride_through_met)
        .terminal("served", Look::Whole, |(_, l)| number::served_short(&l.ride_through_met))
        .page("Served", Look::Words, |(_, l)| in_two(&number::served_short(&l.ride_through_met)))
        .column(["ride_through_p5_h", "ride_through_p50_h", "ride_through_p95_h", "ride_through_mean_h"], |(_, l)| {
            let h = &l.ride_through_h;
            [h.p5, h.p50, h.p95, h.mean]
        });
    steady(table)
        .column(["price"], |(_, l)| l.price)
        .terminal("price", Look::Number, move |(_, l)| number::money(l.price, currency))
        .page(&price, Look::Number, |(_, l)| number::money(l.price, None))
        .page_if(currency.is_some())
        .column(["currency"], move |_| currency)
        .column(["targets"], |(_, l)| verdict_mark(l.verdict()).1)
        .terminal("targets", Look::Number, |(_, l)| verdict_mark(l.verdict()).1)
        .page("Targets", Look::Words, |(_, l)| judged(l))
        .page_if(has_targets(c))
}

/// What holds of a layout in every night: its limit, and loss and drop at the greatest load.
fn steady<'a>(table: Table<'a, Layout<'a>>) -> Table<'a, Layout<'a>> {
    let row = |l: &'a LayoutResult, outages: usize| l.at_rest.limits.iter().find(|row| row.outages == outages);
    let amps = move |l, outages| row(l, outages).and_then(|row| row.current_a);
    let at = |l: &'a LayoutResult| Some(&l.at_rest.at_load).filter(|at| at.carried);
    let digits = |x: Option<f64>, none: &str, unit: &str| {
        x.map_or_else(|| none.to_owned(), |x| number::significant(x, 3) + unit)
    };
    let milli = move |l| at(l).map(|at| at.drop_v * 1e3);
    let loss = move |l| at(l).map(|at| at.loss_w);
    table
        .column(["limit_a"], move |(_, l)| amps(l, 0))
        .terminal("limit", Look::Number, |(_, l)| limit(l, 0))
        .page("Limit (A)", Look::Number, |(_, l)| bare_limit(l, 0))
        .column(["limit_binding"], move |(_, l)| row(l, 0).and_then(|row| row.binding.as_deref()))
        .column(["limit_one_out_a"], move |(_, l)| amps(l, 1))
        .terminal("one out", Look::Number, |(_, l)| limit(l, 1))
        .page("One out (A)", Look::Number, |(_, l)| bare_limit(l, 1))
        .column(["load_a"], move |(_, l)| at(l).map(|at| at.current_a))
        .column(["loss_w"], move |(_, l)| loss(l))
        .terminal("loss", Look::Number, move |(_, l)| digits(loss(l), number::NONE, " W"))
        .page("Loss (W)", Look::Number, move |(_, l)| digits(loss(l), "not carried", ""))
        .column(["drop_v"], move |(_, l)| at(l).map(|at| at.drop_v))
        .terminal("drop", Look::Number, move |(_, l)| digits(milli(l), number::NONE, " mV"))
        .page("Drop (mV)", Look::Number, move |(_, l)| digits(milli(l), "not carried", ""))
}

/// `Price (EUR)`
pub fn priced_in(heading: &str, currency: Option<&str>) -> String {
    currency.map_or_else(|| heading.to_owned(), |currency| format!("{heading} ({currency})"))
}

/// The greatest safe discharge current with exactly so many modules out, never told higher than it is.
pub fn limit(l: &LayoutResult, outages: usize) -> String {
    let Some(row) = l.at_rest.limits.iter().find(|row| row.outages == outages) else { return number::NONE.to_owned() };
    let at_least = if row.exact { "" } else { "≥ " };
    let shown = |amps: f64| format!("{at_least}{}", number::current(rounded_down(amps, 10.0)));
    row.current_a.map_or(number::NONE.to_owned(), shown)
}

fn bare_limit(l: &LayoutResult, outages: usize) -> String {
    limit(l, outages).trim_end_matches(" A").to_owned()
}

fn shortened(name: &str) -> String {
    match name.char_indices().nth(NAME) {
        Some((at, _)) => format!("{}…", &name[..at]),
        None => name.to_owned(),
    }
}

/// A verdict, and what is missed, or not decided.
fn judged(l: &LayoutResult) -> Markup {
    let (symbol, word) = verdict_mark(l.verdict());
    html! {
        span.status.(class(l.verdict())) { (symbol) "\u{a0}" (word.replace(' ', "\u{a0}")) }
        @for (k, target) in fallen_short(l).into_iter().enumerate() {
            (if k == 0 { ": " } else { ", " }) span.w { (target) }
        }
    }
}

/// An estimate, and its interval on the next line where both do not fit.
fn in_two(text: &str) -> Markup {
    match text.split_once(" (") {
        Some((estimate, interval)) => html! { span.w { (estimate) } " " span.w { "(" (interval) } },
        None => html! { span.w { (text) } },
    }
}

/// A difference, and the group of pairs that it belongs to.
pub type Pair<'a> = (Group, &'a Difference);

/// Which pairs of layouts are held against each other.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Group {
    /// Each layout less the scenario as written.
    AsWritten,
    /// Each layout of the ranking less the next.
    Neighbours,
    /// The best less every other, all intervals together.
    Best,
}

/// One row a pair that the ranking rests on.
pub fn differences_csv(c: &Comparison) -> String {
    let groups =
        [(Group::AsWritten, &c.against_first), (Group::Neighbours, &c.neighbours), (Group::Best, &c.best_against_all)];
    let rows = groups.into_iter().flat_map(|(group, all)| all.iter().map(move |d| (group, d)));
    differences(c, "").to_csv(rows)
}

/// What there is to tell of a pair; `heading` of the layout that a page names: of the best its partner, else the first.
pub fn differences<'a>(c: &'a Comparison, heading: &str) -> Table<'a, Pair<'a>> {
    let name = move |k: usize| c.layouts.get(k).map_or("", |l| l.name.as_str());
    Table::<Pair<'a>>::new()
        .column(["pairs"], |(group, _)| match group {
            Group::AsWritten => "as written",
            Group::Neighbours => "neighbours",
            Group::Best => "best",
        })
        .page(heading, Look::Name, move |(group, d)| name(if group == Group::Best { d.second } else { d.first }))
        .column(["first", "second"], move |(_, d)| [name(d.first), name(d.second)])
        .column(["overload", "overload_low", "overload_high"], |(_, d)| d.overload)
        .page("Nights over, difference", Look::Words, |(_, d)| in_two(&number::points(&d.overload)))
        .column(["first_alone"], |(_, d)| d.overload_first_alone)
        .page("First alone", Look::Number, |(_, d)| number::count(d.overload_first_alone))
        .column(["second_alone"], |(_, d)| d.overload_second_alone)
        .page("Second alone", Look::Number, |(_, d)| number::count(d.overload_second_alone))
        .column(["decided"], |(_, d)| d.decided)
        .page("Decided", Look::Words, |(group, d)| decided(c, d, group == Group::Best))
        .column(["nights_to_decide"], |(_, d)| d.nights_to_decide)
        .column(["short", "short_low", "short_high"], |(_, d)| d.short)
        .page("Nights not served, difference", Look::Words, |(_, d)| in_two(&number::points(&d.short)))
        .column(["ride_through_h", "ride_through_low_h", "ride_through_high_h"], |(_, d)| d.ride_through_h)
        .merged(|(_, d)| d.same_nights.then_some("the nights see no difference"))
}

/// Whether; where not, how many nights would do it for two layouts alone, if they are more than were run.
fn decided(c: &Comparison, d: &Difference, together: bool) -> String {
    let more = d.nights_to_decide.filter(|n| *n > c.trials && !together);
    match (d.decided, more) {
        (true, _) => "✔ yes".to_owned(),
        (false, Some(n)) => format!("? no: about {} nights", number::count(number::rounded_up(n as f64) as u64)),
        (false, None) => "? no".to_owned(),
    }
}
