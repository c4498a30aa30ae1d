//! The parts list of a layout as a table.

use crate::output::kit::number;
use crate::output::kit::table::framed;
use crate::study::parts::{Part, Parts};
use maud::{Markup, html};

/// What has to be bought for one layout; `number` of the table, empty where it has none.
pub fn parts(layout: &str, list: &Parts, currency: Option<&str>, number: &str) -> Markup {
    let body = html! {
        thead { tr {
            th scope="col" { "Item" }
            th scope="col" { "Type" }
            th scope="col" { "Size" }
            th.n scope="col" { "Length of one" }
            th.n scope="col" { "Count" }
            @if let Some(currency) = currency {
                th.n scope="col" { "Price of one (" (currency) ")" }
                th.n scope="col" { "Price of all (" (currency) ")" }
            }
        } }
        tbody {
            @for part in &list.parts { (row(part, currency.is_some())) }
            @if let Some(sum) = list.price.filter(|_| currency.is_some()) {
                tr.sum {
                    th scope="row" { "Sum" } td {} td {} td {} td {} td {}
                    td.n { b { (price(Some(sum))) } }
                }
            }
        }
    };
    framed(&format!("Parts of \"{layout}\""), number, body)
}

fn row(part: &Part, priced: bool) -> Markup {
    let or_none = |text: &str| if text.is_empty() { number::NONE.to_owned() } else { text.to_owned() };
    let metres = |m: f64| format!("{} m", number::significant(m, 3));
    html! {
        tr {
            th scope="row" { (part.item) }
            td { (or_none(&part.kind)) }
            td { (or_none(&part.size)) }
            td.n { (part.length_m.map_or(number::NONE.to_owned(), metres)) }
            td.n { (number::count(part.count)) }
            @if priced {
                td.n { (price(part.unit_price)) }
                td.n { (price(part.price())) }
            }
        }
    }
}

/// A sum, cents where there are any; the currency stands in the heading.
fn price(sum: Option<f64>) -> String {
    match sum {
        Some(sum) if sum.fract() != 0.0 => format!("{sum:.2}"),
        sum => number::money(sum, None),
    }
}
