//! The record of outside checks, part by part, with its sources below.
//!
//! In: the record. Out: plain text.

use crate::math;
use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::study::verify::{Check, Record};
use std::fmt::Write;

/// All parts, then the sources that they refer to by number.
pub fn table(record: &Record) -> String {
    let mut text = format!("{}\n", heading(record));
    let mut sources: Vec<&str> = Vec::new();
    for check in &record.checks {
        if !sources.contains(&check.source) {
            sources.push(check.source);
        }
    }
    let table = checks(&sources);
    for part in record.checks.chunk_by(|a, b| a.part == b.part) {
        let _ = write!(text, "\n{}\n{}\n", part[0].part, table.to_terminal(part));
    }
    text += "\nSources\n";
    for (k, source) in sources.iter().enumerate() {
        let _ = writeln!(text, "  [{}] {source}", k + 1);
    }
    text
}

fn heading(record: &Record) -> String {
    let all = record.checks.len();
    match record.failed {
        0 => format!("All {all} checks pass: the program computes what independently known answers say"),
        failed => format!("✖ {failed} of {all} checks do not pass: the program does not compute what is known"),
    }
}

/// What there is to tell of a check; sources by their place in the list.
fn checks<'a>(sources: &'a [&str]) -> Table<'a, &'a Check> {
    let within = |tolerance: f64| match tolerance {
        0.0 => "exact".to_string(),
        t if t < 1e-3 => number::exponent(t),
        t => number::significant(t, 2),
    };
    let got = |c: &Check| c.got.map_or(number::NONE.into(), |got| figure(got, c.tolerance));
    let source = |c: &Check| sources.iter().position(|s| *s == c.source).unwrap_or_default() + 1;
    Table::<&Check>::new()
        .shown("", Look::Words, |c| if c.pass { "✔" } else { "✖" }.to_owned())
        .shown("what", Look::Words, |c| c.what.clone())
        .shown("answer", Look::Number, |c| figure(c.expected, c.tolerance))
        .shown("within", Look::Number, move |c| within(c.tolerance))
        .shown("bankwright", Look::Number, got)
        .shown("unit", Look::Words, |c| c.unit.to_string())
        .shown("source", Look::Words, move |c| format!("[{}]", source(c)))
}

/// The number with enough decimals to show a tenth of the tolerance, ten at most.
fn figure(x: f64, tolerance: f64) -> String {
    let decimals = if tolerance > 0.0 { (1.0 - math::log10(tolerance)).ceil().clamp(0.0, 10.0) as usize } else { 4 };
    let text = format!("{x:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}
