//! What readings on site say, for those who go back to the bank with a spanner.
//!
//! In: the findings, or readings that contradict each other. Out: plain text: suspects first, then every element; or what is
//! wrong with each reading, at its place in the file.

use crate::diagnostic::{Diagnostic, shortened};
use crate::math;
use crate::output::kit::number;
use crate::output::kit::table::{Look, Table};
use crate::profile::{BUS, SiteCell, SiteSheet};
use crate::study::readings::{Mistaken, ResistanceEstimate, SiteFindings, Slip};
use std::fmt::Write;

/// What readings on site say, suspects first.
pub fn table(title: &str, findings: &SiteFindings) -> String {
    let warnings: String = findings.warnings.iter().map(|warning| format!("✖ {warning}\n\n")).collect();
    let mut text = format!("{title}\n\n{warnings}{}\n{}\n", suspects(findings), elements(&findings.estimates));
    let open = findings.estimates.iter().filter(|e| !e.determined).count();
    if open > 0 {
        let _ = writeln!(
            text,
            "{}: the readings by themselves do not tell their resistance, and the figures lean on what was expected.\n\
             Measure drop and current, of a module at two loads; currents alone tell how resistances compare, not how great \
             they are.",
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

fn elements(estimates: &[ResistanceEstimate]) -> String {
    let milliohm = |ohm: f64| format!("{} mΩ", number::significant(ohm * 1e3, 3));
    Table::<&ResistanceEstimate>::new()
        .shown("element", Look::Id, |e| e.id.clone())
        .shown("expected", Look::Number, move |e| milliohm(e.expected_ohm))
        .shown("resistance", Look::Number, move |e| milliohm(e.resistance_ohm))
        .shown("standard error", Look::Number, move |e| milliohm(e.std_error_ohm))
        .shown("determined", Look::Words, |e| if e.determined { "yes" } else { "no" }.to_owned())
        .to_terminal(estimates)
}

/// A mistaken reading as a fault at its cell.
pub fn fault(sheet: &SiteSheet, mistaken: &Mistaken) -> Diagnostic {
    let reading = &sheet.readings[mistaken.row];
    let unit = match mistaken.cell {
        SiteCell::Current => "A",
        SiteCell::Drop => "V",
    };
    let what = match (mistaken.cell, reading.element.as_str()) {
        (SiteCell::Current, _) => "current",
        (SiteCell::Drop, BUS) => "voltage",
        (SiteCell::Drop, _) => "drop",
    };
    let case = match reading.case.as_str() {
        "" => String::new(),
        case => format!(" in case `{}`", shortened(case)),
    };
    let against = if mistaken.off.is_some() { "contradicts the other readings" } else { "is not possible" };
    let message = format!("the {what} of `{}`{case} {against}", shortened(&reading.element));
    sheet.fault(mistaken.row, mistaken.cell, message, &apart(mistaken, unit), &mend(sheet, mistaken))
}

/// `-53.5 A; 53.4 A within 0.6 A by all others: 178 standard deviations off`
fn apart(mistaken: &Mistaken, unit: &str) -> String {
    let Some(expected) = mistaken.expected else { return format!("{} {unit} read", plain(mistaken.read)) };
    // As many decimals as the error has to one digit.
    let decimals = |error: f64| (-math::log10(error).floor()).clamp(0.0, 6.0) as usize;
    let value = match expected.error {
        Some(error) if error > 0.0 => {
            let decimals = decimals(error);
            format!("{:.decimals$} {unit} ± {error:.decimals$} {unit} expected by the others", expected.value)
        }
        Some(_) => format!("{} {unit} expected by the others", plain(expected.value)),
        None => format!("some {:.0} {unit} expected", expected.value),
    };
    let off = mistaken.off.map_or_else(String::new, |off| format!(": {off:.0} standard deviations off"));
    format!("{} {unit} read, {value}{off}", plain(mistaken.read))
}

/// The number as it was read: six decimals at most, without zeros at the end.
fn plain(x: f64) -> String {
    let text = format!("{x:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

fn mend(sheet: &SiteSheet, mistaken: &Mistaken) -> String {
    let how = match mistaken.slip {
        Some(Slip::Sign) if mistaken.cell == SiteCell::Current => {
            "its sign turned would fit: was the clamp the other way round?".to_string()
        }
        Some(Slip::Sign) => "its sign turned would fit: were the leads of the meter exchanged?".to_string(),
        Some(Slip::Factor(factor)) if factor > 1.0 => "ten times as much would fit: is the point at its place?".to_string(),
        Some(Slip::Factor(_)) => "a tenth of it would fit: is the point at its place?".to_string(),
        Some(Slip::Milli) => "a thousandth of it would fit: the columns are in A and V, not in mA and mV.".to_string(),
        Some(Slip::Exchanged(row)) => {
            let line = sheet.line(row, mistaken.cell);
            format!("it would fit in line {line}, and what is there would fit here: are the two exchanged?")
        }
        Some(Slip::NoVoltageOfAModule) => {
            "here belongs the voltage between the terminals; is this the drop of a conductor?".to_string()
        }
        Some(Slip::NoDropOfAConductor) => {
            "here belongs the voltage from one end of the conductor to its other end; is this a voltage between the poles, or in mV?"
                .to_string()
        }
        None => "read it again, and check its sign, its element and its accuracy.".to_string(),
    };
    let lines: Vec<String> = mistaken
        .instead
        .iter()
        .map(|(row, cell)| {
            let column = if *cell == SiteCell::Current { "current_a" } else { "drop_v" };
            format!("line {} ({column})", sheet.line(*row, *cell))
        })
        .collect();
    match lines.is_empty() {
        true => how,
        false => format!("{how} Or it is right, and another is wrong instead: {}", lines.join(", ")),
    }
}
