//! ISD-Lite: a station's hourly surface weather.
//!
//! In: lines of 12 whole numbers apart by blanks: year, month, day, hour (UTC), air temperature
//! [0.1 °C], dew point, pressure, wind direction, wind speed, sky, rain in 1 h and in 6 h; −9999 is
//! missing. Out: readings of air temperature [°C] in local time. Source of the format: NOAA,
//! Integrated Surface Database, "ISD-Lite format" note.

use super::calendar::{HOUR, midnight};
use super::file::{Faults, Text};
use super::types::{AIR_HIGH, AIR_LOW};
use super::types::{Clock, Part, Reading};
use crate::diagnostic::{Diagnostic, Fault};
use std::ops::Range;

const MISSING: i64 = -9999;
const COLUMNS: usize = 12;

/// Whether a line is of this kind, though it may be cut short: at least five whole numbers apart by
/// blanks.
pub(super) fn looks_like(line: &str) -> bool {
    line.split_whitespace().count() >= 5 && line.split_whitespace().all(|field| field.parse::<i64>().is_ok())
}

/// # Errors
/// Lines that are of another form, moments that do not exist or do not rise, impossible
/// temperatures; no `utc_offset` [s, east positive].
pub(super) fn read(text: &Text, utc_offset: Option<i64>, most_rows: usize) -> Result<Part, Vec<Diagnostic>> {
    let mut faults = text.faults();
    let Some(offset) = utc_offset else {
        let first = text.lines().find(|(_, line)| !line.trim().is_empty()).unwrap_or((0, ""));
        let help = "add the site's `utc_offset`, for example \"-9 h\"";
        let message = format!("`{}` is an ISD-Lite file, whose hours are in UTC", text.name());
        faults.add_of(Fault::Missing, first.0..first.0 + first.1.len(), message, "which local time is this?", help);
        return Err(faults.list());
    };
    let mut readings = Vec::new();
    for (at, line) in text.lines().filter(|(_, line)| !line.trim().is_empty()) {
        if readings.len() == most_rows {
            faults.too_many_rows(at..at + line.len());
            return Err(faults.list());
        }
        readings.extend(reading(at, line, offset, &mut faults));
    }
    faults.check_rising(&readings);
    let notes =
        vec![format!("`{}`: hours in UTC moved by {:+} h to local time", text.name(), offset as f64 / HOUR as f64)];
    faults.none_or(Part { clock: Clock::Local, readings, notes })
}

fn reading(at: usize, line: &str, offset: i64, faults: &mut Faults) -> Option<Reading> {
    let fields = fields(at, line);
    let numbers: Vec<i64> = fields.iter().filter_map(|field| field.1.parse().ok()).collect();
    let ([year, month, day, hour, tenths, ..], COLUMNS, COLUMNS) = (&numbers[..], numbers.len(), fields.len()) else {
        let span = at..at + line.len();
        let message = "not a row of an ISD-Lite file".to_owned();
        let (label, help) = ("expected 12 whole numbers apart by blanks", "is the file complete?");
        faults.add_of(Fault::Syntax, span, message, label, help);
        return None;
    };
    let span = fields[0].0.start..fields[3].0.end;
    let (Some(start), 0..24) = (midnight(*year, *month, *day), *hour) else {
        let message = format!("there is no hour {year}-{month:02}-{day:02} {hour:02}:00");
        faults.add(span, message, "expected year, month, day, hour 0 to 23, from 1900 to 2100", "");
        return None;
    };
    let air = *tenths as f64 / 10.0;
    let missing = *tenths == MISSING;
    if !missing && !(AIR_LOW..=AIR_HIGH).contains(&air) {
        let message = format!("air temperature of {air} °C is not possible");
        faults.add_of(
            Fault::OutOfRange,
            fields[4].0.clone(),
            message,
            "expected tenths of °C, or -9999 where missing",
            "",
        );
    }
    Some(Reading::new(start + hour * HOUR + offset, span, [(!missing).then_some(air), None]))
}

/// Each field of a line, and one more where there are too many, and its place in the file.
fn fields(at: usize, line: &str) -> Vec<(Range<usize>, &str)> {
    let mut from = 0;
    let mut found = Vec::new();
    for field in line.split_whitespace().take(COLUMNS + 1) {
        // The fields come in order, so each is found at or after the end of the one before.
        let start = from + line[from..].find(field).unwrap_or(0);
        from = start + field.len();
        found.push((at + start..at + from, field));
    }
    found
}
