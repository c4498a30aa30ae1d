//! What readings on site say, for those who go back to the bank with a spanner.
//!
//! In: the findings. Out: plain text: suspects first, then every element.

use super::number;
use crate::study::readings::{ResistanceEstimate, SiteFindings};
use comfy_table::{CellAlignment, Table, presets};
use std::fmt::Write;

pub fn table(title: &str, findings: &SiteFindings) -> String {
    let warnings: String = findings.warnings.iter().map(|warning| format!("✖ {warning}\n\n")).collect();
    let mut text = format!("{title}\n\n{warnings}{}\n{}\n", suspects(findings), elements(&findings.estimates));
    let open = findings.estimates.iter().filter(|e| !e.determined).count();
    if open > 0 {
        let _ = writeln!(
            text,
            "{}: the readings say little there, and the figures are mostly what was expected.\n\
             Measure drop and current, of a module at two loads.",
            number::counted(open as u64, "element is not determined", "elements are not determined")
        );
    }
    text
}

fn suspects(findings: &SiteFindings) -> String {
    if findings.suspects.is_empty() {
        return "No element is suspected: ordinary spreads explain the readings\n".into();
    }
    let mut text = "Suspected\n".to_string();
    for s in &findings.suspects {
        let _ = writeln!(text, "  ▲ {} ({:.0} %): {}", s.id, s.probability * 100.0, s.why);
    }
    text
}

fn elements(estimates: &[ResistanceEstimate]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header(["element", "expected", "resistance", "standard error", "determined"]);
    for e in estimates {
        let milliohm = |ohm: f64| format!("{} mΩ", number::significant(ohm * 1e3, 3));
        let [expected, ohm, error] = [e.expected_ohm, e.resistance_ohm, e.std_error_ohm].map(milliohm);
        let determined = if e.determined { "yes" } else { "no" };
        table.add_row([e.id.clone(), expected, ohm, error, determined.into()]);
    }
    for column in table.column_iter_mut().skip(1).take(3) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    table
}
