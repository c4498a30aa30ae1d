//! The parts list of a layout as a table.
//!
//! In: parts lists. Out: CSV, and a table of a page.

use crate::output::compare::tables::priced_in;
use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::study::parts::{Part, Parts};
use maud::{Markup, html};

/// A part, after the name of the layout that it belongs to.
type Row<'a> = (&'a str, &'a Part);

/// The parts list of each layout.
pub fn csv<'a>(layouts: impl Iterator<Item = (&'a str, &'a Parts)>, currency: Option<&'a str>) -> String {
    table(currency).to_csv(layouts.flat_map(|(layout, list)| list.parts.iter().map(move |part| (layout, part))))
}

/// What has to be bought for one layout; `number` of the table, empty where it has none.
pub fn parts(layout: &str, list: &Parts, currency: Option<&str>, number: &str) -> Markup {
    let sum = list.price.filter(|_| currency.is_some()).map_or_else(Markup::default, |sum| {
        html! { tr.sum { th scope="row" { "Sum" } td {} td {} td {} td {} td {} td.n { b { (price(Some(sum))) } } } }
    });
    let rows = list.parts.iter().map(|part| (layout, part));
    table(currency).foot(sum).to_page(&format!("Parts of \"{layout}\""), number, rows)
}

fn table<'a>(currency: Option<&'a str>) -> Table<'a, Row<'a>> {
    let or_none = |text: &'a str| if text.is_empty() { number::NONE } else { text };
    let metres = |m: f64| format!("{} m", number::significant(m, 3));
    Table::<Row<'a>>::new()
        .column(["layout"], |(layout, _)| layout)
        .column(["item"], |(_, p)| p.item.to_string())
        .page("Item", Look::Words, |(_, p)| p.item.to_string())
        .column(["type"], |(_, p)| &p.kind)
        .page("Type", Look::Words, move |(_, p)| or_none(&p.kind))
        .column(["size"], |(_, p)| &p.size)
        .page("Size", Look::Words, move |(_, p)| or_none(&p.size))
        .column(["length_m"], |(_, p)| p.length_m)
        .page("Length of one", Look::Number, move |(_, p)| p.length_m.map_or(number::NONE.to_owned(), metres))
        .column(["count"], |(_, p)| p.count)
        .page("Count", Look::Number, |(_, p)| number::count(p.count))
        .column(["total_length_m"], |(_, p)| p.length_m.map(|metres| metres * p.count as f64))
        .column(["unit_price"], |(_, p)| p.unit_price)
        .page(&priced_in("Price of one", currency), Look::Number, |(_, p)| price(p.unit_price))
        .page_if(currency.is_some())
        .column(["price"], |(_, p)| p.price())
        .page(&priced_in("Price of all", currency), Look::Number, |(_, p)| price(p.price()))
        .page_if(currency.is_some())
        .column(["currency"], move |(_, p)| currency.filter(|_| p.unit_price.is_some()))
}

/// A sum, cents where there are any; the currency stands in the heading.
fn price(sum: Option<f64>) -> String {
    match sum {
        Some(sum) if sum.fract() != 0.0 => format!("{sum:.2}"),
        sum => number::money(sum, None),
    }
}
