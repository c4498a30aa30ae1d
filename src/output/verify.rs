//! The record of outside checks, part by part, with its sources below.
//!
//! In: the record. Out: plain text.

use crate::math;
use crate::output::kit::number;
use crate::study::verify::{Check, Record};
use comfy_table::{CellAlignment, Table, presets};
use std::fmt::Write;

/// All parts, then the sources that they refer to by number.
pub fn table(record: &Record) -> String {
    let mut text = format!("{}\n", heading(record));
    let mut sources: Vec<&str> = Vec::new();
    for part in record.checks.chunk_by(|a, b| a.part == b.part) {
        let _ = write!(text, "\n{}\n{}\n", part[0].part, rows(part, &mut sources));
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

fn rows(part: &[Check], sources: &mut Vec<&'static str>) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header(["", "what", "answer", "within", "bankwright", "unit", "source"]);
    for check in part {
        let source = sources.iter().position(|s| *s == check.source).unwrap_or_else(|| {
            sources.push(check.source);
            sources.len() - 1
        });
        let mark = if check.pass { "✔" } else { "✖" };
        let tolerance = match check.tolerance {
            0.0 => "exact".to_string(),
            t if t < 1e-3 => number::exponent(t),
            t => number::significant(t, 2),
        };
        table.add_row([
            mark.to_string(),
            check.what.clone(),
            figure(check.expected, check.tolerance),
            tolerance,
            check.got.map_or(number::NONE.into(), |got| figure(got, check.tolerance)),
            check.unit.to_string(),
            format!("[{}]", source + 1),
        ]);
    }
    for column in table.column_iter_mut().skip(2).take(3) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    table
}

/// So many decimals that a tenth of the tolerance shows, ten at most.
fn figure(x: f64, tolerance: f64) -> String {
    let decimals = if tolerance > 0.0 { (1.0 - math::log10(tolerance)).ceil().clamp(0.0, 10.0) as usize } else { 4 };
    let text = format!("{x:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}
