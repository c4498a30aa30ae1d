//! EPW: a year of hourly weather for building simulation.
//!
//! In: eight header lines, the first beginning `LOCATION`, then rows of year, month, day, hour
//! (1 to 24), minute, flags, dry-bulb temperature [°C] and more, in the site's standard time; 99.9
//! is missing. Out: readings of air temperature in local time. Hour 1 is the interval that ends at
//! 01:00, and its reading is put there; a minute other than 0 and 60 lies within that interval.
//!
//! A typical year is made of months of several years. Its days are put on one nominal year: 2001,
//! or 2004 if it has a 29 February. Source of the format: US Department of Energy, EnergyPlus,
//! "Auxiliary Programs", the chapter on the EPW file.

use super::calendar::{HOUR, MINUTE, midnight};
use super::file::{Faults, Text};
use super::types::{AIR_HIGH, AIR_LOW};
use super::types::{Clock, Part, Reading};
use crate::diagnostic::{Diagnostic, Fault};
use std::ops::Range;

const HEADER_LINES: usize = 8;
/// Place of the zone [h east of UTC] in the `LOCATION` line, counted from 0.
const ZONE_FIELD: usize = 8;
/// Place of the dry-bulb temperature in a row.
const AIR_FIELD: usize = 6;
const MISSING: f64 = 99.9;

/// Whether a file that begins with this line is of this kind.
pub(super) fn looks_like(first_line: &str) -> bool {
    first_line.get(..9).is_some_and(|start| start.eq_ignore_ascii_case("location,"))
}

/// The file's clock is the site's standard time already. Where `utc_offset` [s, east positive] is
/// another one, times go by the header's zone to UTC and from there to it.
///
/// # Errors
/// A header or rows of another form, a row that was cut off, moments that do not exist or do not rise, impossible
/// temperatures; more rows than `most_rows`.
pub(super) fn read(text: &Text, utc_offset: Option<i64>, most_rows: usize) -> Result<Part, Vec<Diagnostic>> {
    let mut faults = text.faults();
    let zone = zone(&text.lines().next().unwrap_or((0, "")), &mut faults);
    let rows = rows(text, most_rows, &mut faults);
    if !faults.is_empty() {
        return Err(faults.list());
    }
    let mut notes = Vec::new();
    let nominal = nominal_year(&rows);
    if let Some(year) = nominal {
        notes.push(format!(
            "`{}` is a typical year of months of several years: its days are put on {year}",
            text.name()
        ));
    }
    notes.extend(ends_early(text, &rows));
    let shift = utc_offset.map_or(0, |offset| offset - zone);
    if shift != 0 {
        notes.push(format!("`{}`: its standard time moved by {:+} h", text.name(), shift as f64 / HOUR as f64));
    }
    let readings: Vec<Reading> = rows.iter().filter_map(|row| row.reading(nominal, shift, &mut faults)).collect();
    faults.check_rising(&readings);
    faults.none_or(Part { clock: Clock::Local, readings, notes })
}

/// The rows below the header. A row with another number of fields than the first is one that was cut off.
fn rows(text: &Text, most_rows: usize, faults: &mut Faults) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut width = None;
    for (at, line) in text.lines().skip(HEADER_LINES).filter(|(_, line)| !line.trim().is_empty()) {
        if rows.len() == most_rows {
            faults.too_many_rows(at..at + line.len());
            return rows;
        }
        let Some(row) = row(at, line, faults) else { continue };
        let (here, first) = (line.split(',').count(), *width.get_or_insert_with(|| line.split(',').count()));
        if here != first {
            let message = format!("the first row has {first} fields, this one {here}");
            let (label, help) = ("expected as many as in the first row", "is the file complete?");
            faults.add_of(Fault::Syntax, at..at + line.len(), message, label, help);
        }
        rows.push(row);
    }
    if rows.is_empty() && faults.is_empty() {
        let end = text.as_str().trim_end().len();
        let label = "expected eight lines of header, then rows";
        faults.add_of(Fault::Missing, end..end, "a header and no rows".into(), label, "is the file complete?");
    }
    rows
}

/// That a file whose header declares one period of data ends before the last day of it, as one that was cut off between
/// two rows does. Told and not refused: a part of a year is of use too.
fn ends_early(text: &Text, rows: &[Row]) -> Option<String> {
    let (at, line) = text.lines().nth(HEADER_LINES - 1)?;
    let fields: Vec<&str> = cells(at, line).map(|(_, field)| field).collect();
    let declared = fields.get(6).filter(|_| fields[0].eq_ignore_ascii_case("data periods") && fields[1] == "1")?;
    let (month, day) = declared.split_once('/')?;
    let end: (i32, i32) = (month.trim().parse().ok()?, day.trim().parse().ok()?);
    let last = rows.last()?;
    ((last.month, last.day) < end).then(|| {
        format!(
            "`{}`: its header declares data to {}/{}, its last row is of {}/{}: is the file complete?",
            text.name(),
            end.0,
            end.1,
            last.month,
            last.day
        )
    })
}

/// Seconds east of UTC of the site.
fn zone(line: &(usize, &str), faults: &mut Faults) -> i64 {
    let field = cells(line.0, line.1).nth(ZONE_FIELD);
    let hours = field.as_ref().and_then(|f| f.1.parse::<f64>().ok()).filter(|h| (-18.0..=18.0).contains(h));
    if hours.is_none() {
        let span = field.map_or(line.0..line.0 + line.1.len(), |f| f.0);
        let label = "expected hours east of UTC as the ninth field of LOCATION";
        faults.add_of(Fault::Missing, span, "the header gives no time zone".into(), label, "");
    }
    (hours.unwrap_or(0.0) * HOUR as f64).round() as i64
}

/// A row as it is written.
struct Row {
    year: i32,
    month: i32,
    day: i32,
    /// Its moment is counted from the midnight that the day begins with.
    after_midnight: Reading,
}

impl Row {
    fn reading(&self, nominal: Option<i64>, shift: i64, faults: &mut Faults) -> Option<Reading> {
        let year = nominal.unwrap_or(i64::from(self.year));
        let Some(start) = midnight(year, i64::from(self.month), i64::from(self.day)) else {
            let message = format!("there is no day {year}-{:02}-{:02}", self.month, self.day);
            faults.add(self.after_midnight.span(), message, "expected year, month and day, from 1900 to 2100", "");
            return None;
        };
        Some(Reading { time: start + self.after_midnight.time + shift, ..self.after_midnight })
    }

    fn within_year(&self) -> (i32, i32, i64) {
        (self.month, self.day, self.after_midnight.time)
    }
}

fn row(at: usize, line: &str, faults: &mut Faults) -> Option<Row> {
    let fields: Vec<(Range<usize>, &str)> = cells(at, line).take(AIR_FIELD + 1).collect();
    let number = |k: usize| fields.get(k).and_then(|field| field.1.parse::<f64>().ok());
    let whole = |k: usize| number(k).filter(|n| n.fract() == 0.0 && n.abs() < 1e6).map(|n| n as i32);
    let (Some(year), Some(month), Some(day), Some(hour @ 1..=24), Some(minute @ 0..=60), Some(air)) =
        (whole(0), whole(1), whole(2), whole(3), whole(4), number(AIR_FIELD).filter(|n| n.is_finite()))
    else {
        let label = "expected year, month, day, hour 1 to 24, minute, flags, dry bulb in °C";
        let message = "not a row of an EPW file".into();
        faults.add_of(Fault::Syntax, at..at + line.len(), message, label, "is the file complete?");
        return None;
    };
    let missing = air == MISSING;
    if !missing && !(AIR_LOW..=AIR_HIGH).contains(&air) {
        let message = format!("air temperature of {air} °C is not possible");
        faults.add_of(
            Fault::OutOfRange,
            fields[AIR_FIELD].0.clone(),
            message,
            "expected °C, or 99.9 where missing",
            "",
        );
    }
    let minute = if minute == 0 { 60 } else { minute };
    let second = i64::from(hour - 1) * HOUR + i64::from(minute) * MINUTE;
    let span = fields[0].0.start..fields[4].0.end;
    Some(Row { year, month, day, after_midnight: Reading::new(second, span, [(!missing).then_some(air), None]) })
}

/// Each field of a line apart by commas, without blanks, and its place in the file.
fn cells(at: usize, line: &str) -> impl Iterator<Item = (Range<usize>, &str)> {
    let mut start = at;
    line.split(',').map(move |cell| {
        let from = start + (cell.len() - cell.trim_start().len());
        start += cell.len() + 1;
        (from..from + cell.trim().len(), cell.trim())
    })
}

/// The year to put a typical year on: one whose years go back, or whose rows go once through the
/// calendar while their years change. `None` where the years are real.
fn nominal_year(rows: &[Row]) -> Option<i64> {
    let mut pairs = rows.windows(2).map(|pair| (&pair[0], &pair[1]));
    let back = rows.windows(2).any(|pair| pair[1].year < pair[0].year);
    let several = pairs.clone().any(|(a, b)| a.year != b.year);
    let once_through = pairs.all(|(a, b)| a.within_year() < b.within_year());
    let leap = rows.iter().any(|row| (row.month, row.day) == (2, 29));
    (back || several && once_through).then_some(if leap { 2004 } else { 2001 })
}
