//! Tables for other programs: CSV as in RFC 4180, `.` decimals, units in the header, not rounded. And the frame of a
//! table on a page.
//!
//! An unknown number is an empty cell, never `NaN`.

use crate::escape;
use crate::summary::Estimate;
use maud::{Markup, html};

/// A table with its caption; `number` is empty where it needs none.
pub fn framed(caption: &str, number: &str, body: Markup) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(caption) {
            table {
                caption { @if !number.is_empty() { b { "Table " (number) ". " } } (caption) }
                (body)
            }
        }
    }
}

pub fn estimate(e: &Estimate) -> Vec<String> {
    vec![number(e.estimate), number(e.low), number(e.high)]
}

pub fn optional(x: Option<f64>) -> String {
    x.map(number).unwrap_or_default()
}

/// The shortest decimal that reads back as the same number; with an exponent where it would begin with zeros.
pub fn number(x: f64) -> String {
    match x {
        x if !x.is_finite() => String::new(),
        x if x != 0.0 && x.abs() < 1e-6 => format!("{x:e}"),
        // Zero has no sign.
        x => (x + 0.0).to_string(),
    }
}

/// The one writer of CSV.
pub fn text(header: &[&str], rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).flexible(true).from_writer(Vec::new());
    // Writing into memory does not fail, and rows of any length are taken.
    let _ = writer.write_record(header.iter().map(|cell| escape::spreadsheet(cell)));
    for row in rows {
        let _ = writer.write_record(row.iter().map(|cell| escape::spreadsheet(cell)));
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8(bytes).unwrap_or_default()
}
