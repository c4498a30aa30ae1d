//! A CSV with a header (RFC 4180, commas) as readings.
//!
//! In: text and which columns hold what. Out: readings in the order of the file, or every fault at
//! the bytes of its cell. The `csv` crate tells where a record begins but not where a cell lies,
//! which a caret needs; hence the splitting here.

use super::calendar::{HOUR, stamp};
use super::file::{Faults, Text};
use super::{Clock, Part, Reading};
use crate::diagnostic::Diagnostic;
use std::borrow::Cow;
use std::ops::Range;

/// Which columns are wanted.
pub(super) struct Layout<'a> {
    /// `None`: `time`, else `hours`.
    pub time: Option<&'a str>,
    /// One or two.
    pub quantities: Vec<Quantity<'a>>,
    /// Seconds east of UTC of the site.
    pub utc_offset: Option<i64>,
}

/// A column of numbers.
pub(super) struct Quantity<'a> {
    pub column: &'a str,
    /// What it is, for messages: `power`.
    pub what: &'a str,
    pub unit: &'a str,
    /// Least and greatest possible value, in the unit.
    pub low: f64,
    pub high: f64,
    /// Multiplies what is written.
    pub scale: f64,
}

/// # Errors
/// Every fault of the file: columns that are not there, cells that are no time or number, times
/// that do not rise.
pub(super) fn read(text: &Text, layout: &Layout) -> Result<Part, Vec<Diagnostic>> {
    let mut records = Records {
        text: text.as_str(),
        at: 0,
        open_quote: None,
    };
    let mut filled = records
        .by_ref()
        .filter(|record| !record.is_blank(text.as_str()));
    let header = filled.next().unwrap_or_default();
    let rows: Vec<Record> = filled.collect();
    let mut reader = Reader::new(text, layout);
    if let Some(at) = records.open_quote {
        let help = "close the quote, or double it where it belongs to the text";
        reader.faults.add(
            at..at + 1,
            "this quote is not closed".into(),
            "it begins here",
            help,
        );
        return Err(reader.faults.list());
    }
    if !reader.find_columns(&header) || !reader.find_clock(&header, &rows) {
        return Err(reader.faults.list());
    }
    let readings: Vec<Reading> = rows.iter().filter_map(|row| reader.reading(row)).collect();
    reader.faults.check_rising(&readings);
    let part = Part {
        clock: reader.clock,
        readings,
        notes: Vec::new(),
    };
    reader.faults.none_or(part)
}

/// What is known of a file while its rows are read.
struct Reader<'a> {
    text: &'a str,
    layout: &'a Layout<'a>,
    /// Cells of the header.
    width: usize,
    /// Number of the time's column, from 0.
    time: usize,
    /// Numbers of the quantities' columns.
    quantities: Vec<usize>,
    clock: Clock,
    /// Whether the times carry an offset from UTC.
    zoned: bool,
    faults: Faults,
}

impl<'a> Reader<'a> {
    fn new(text: &'a Text, layout: &'a Layout<'a>) -> Reader<'a> {
        Reader {
            text: text.as_str(),
            layout,
            width: 0,
            time: 0,
            quantities: Vec::new(),
            clock: Clock::Elapsed,
            zoned: false,
            faults: text.faults(),
        }
    }

    /// Finds every wanted column in the header, or says which are not there.
    fn find_columns(&mut self, header: &Record) -> bool {
        self.width = header.cells.len();
        if self.width == 1 && self.text[header.span()].contains([';', '\t']) {
            let help = "separate the columns by commas, and write decimals with a point";
            self.faults.add(
                header.span(),
                "no comma in the header".into(),
                "expected columns separated by commas",
                help,
            );
            return false;
        }
        let layout = self.layout;
        let time = match layout.time {
            Some(name) => self.column(header, &[name]),
            None => self.column(header, &["time", "hours"]),
        };
        let quantities = layout
            .quantities
            .iter()
            .filter_map(|q| self.column(header, &[q.column]))
            .collect();
        self.quantities = quantities;
        self.time = time.unwrap_or(0);
        time.is_some() && self.quantities.len() == layout.quantities.len()
    }

    /// Number of the column with the first of these names that the header has: as it is written, or
    /// else in other letter case.
    fn column(&mut self, header: &Record, names: &[&str]) -> Option<usize> {
        let cells: Vec<Cow<str>> = header.cells.iter().map(|cell| self.cell(cell).1).collect();
        let exact = names
            .iter()
            .find_map(|name| cells.iter().position(|cell| cell == name));
        let found = exact.or_else(|| {
            names.iter().find_map(|name| {
                cells
                    .iter()
                    .position(|cell| cell.eq_ignore_ascii_case(name))
            })
        });
        let name = names.join("` or `");
        let Some(found) = found else {
            let message = format!("no column `{name}` in the header");
            let have = cells.join(", ");
            let help = format!(
                "the first row names the columns; this one has: {}",
                shorten(&have)
            );
            self.faults.add(
                header.span(),
                message,
                "expected the names of the columns",
                &help,
            );
            return None;
        };
        if let Some(twice) = (found + 1..cells.len()).find(|&k| cells[k] == cells[found]) {
            let message = format!("two columns are named `{}`", cells[found]);
            self.faults.add(
                header.cells[twice].clone(),
                message,
                "the second of them",
                "give each its own name",
            );
        }
        Some(found)
    }

    /// Which clock the times are on, by the column's name or, where that is the user's own, by the
    /// first row; and whether they need the site's offset.
    fn find_clock(&mut self, header: &Record, rows: &[Record]) -> bool {
        let Some(first) = rows.first() else {
            self.faults.add(
                header.span(),
                "a header and no rows".into(),
                "expected rows below it",
                "",
            );
            return false;
        };
        let name = header
            .cells
            .get(self.time)
            .map(|cell| self.cell(cell).1.to_ascii_lowercase());
        let (span, cell) = first
            .cells
            .get(self.time)
            .map_or((first.span(), Cow::Borrowed("")), |c| self.cell(c));
        self.clock = match name.as_deref() {
            Some("hours") => Clock::Elapsed,
            Some("time") => Clock::Local,
            _ if cell.parse::<f64>().is_ok() => Clock::Elapsed,
            _ => Clock::Local,
        };
        self.zoned =
            self.clock == Clock::Local && stamp(&cell).is_ok_and(|stamp| stamp.offset.is_some());
        if self.zoned && self.layout.utc_offset.is_none() {
            let message = format!(
                "`{}` carries an offset from UTC, and the site's own is not given",
                shorten(&cell)
            );
            let help = "add `utc_offset`, for example \"-9 h\", so that it becomes local time";
            self.faults
                .add(span, message, "which local time is this?", help);
            return false;
        }
        true
    }

    /// A row's reading; a cell at fault counts as empty, and a row without a time is left out.
    fn reading(&mut self, row: &Record) -> Option<Reading> {
        let extra = row.cells.get(self.width..).unwrap_or_default();
        if row.cells.len() < self.width
            || extra
                .iter()
                .any(|cell| !self.text[cell.clone()].trim().is_empty())
        {
            let message = format!(
                "{} cells in this row, {} in the header",
                row.cells.len(),
                self.width
            );
            let help = "write decimals with a point, and put text with a comma between quotes";
            self.faults
                .add(row.span(), message, "expected a cell for each column", help);
            return None;
        }
        let (span, cell) = self.cell(row.cells.get(self.time)?);
        let time = match self.clock {
            Clock::Elapsed => self.hours(&span, &cell),
            Clock::Local => self.civil(&span, &cell),
        }?;
        let mut values = [None; 2];
        for (k, value) in values.iter_mut().enumerate() {
            *value = self.value(row, k);
        }
        Some(Reading { time, span, values })
    }

    fn hours(&mut self, span: &Range<usize>, cell: &str) -> Option<i64> {
        let hours = cell
            .parse::<f64>()
            .ok()
            .filter(|h| (0.0..=MAX_HOURS).contains(h));
        if hours.is_none() {
            let message = format!("`{}` is not a number of hours", shorten(cell));
            let help = "for dates, name the column `time`";
            self.faults.add(
                span.clone(),
                message,
                "expected hours from the start, 0 to 1000000",
                help,
            );
        }
        hours.map(|h| (h * HOUR as f64).round() as i64)
    }

    fn civil(&mut self, span: &Range<usize>, cell: &str) -> Option<i64> {
        let stamp = match stamp(cell) {
            Ok(stamp) => stamp,
            Err(why) => {
                let message = format!("`{}` is not a time", shorten(cell));
                let help = if cell.parse::<f64>().is_ok() {
                    "for bare hours, name the column `hours`"
                } else {
                    ""
                };
                self.faults
                    .add(span.clone(), message, &why.to_string(), help);
                return None;
            }
        };
        if stamp.offset.is_some() != self.zoned {
            let (has, had) = if self.zoned {
                ("no offset", "one")
            } else {
                ("an offset", "none")
            };
            let message = format!(
                "`{}` has {has} from UTC, and the first row has {had}",
                shorten(cell)
            );
            self.faults
                .add(span.clone(), message, "expected all times alike", "");
            return None;
        }
        let shift = stamp
            .offset
            .map_or(0, |offset| self.layout.utc_offset.unwrap_or(0) - offset);
        Some(stamp.civil + shift)
    }

    /// The value of quantity `k` in a row; `None` where it is empty, at fault, or not asked for.
    fn value(&mut self, row: &Record, k: usize) -> Option<f64> {
        let quantity = self.layout.quantities.get(k)?;
        let (span, cell) = self.cell(row.cells.get(*self.quantities.get(k)?)?);
        if cell.is_empty() {
            return None;
        }
        let (what, unit) = (quantity.what, quantity.unit);
        let Some(number) = cell.parse::<f64>().ok().filter(|n| n.is_finite()) else {
            let message = format!(
                "`{}` in column `{}` is not a number",
                shorten(&cell),
                quantity.column
            );
            let help =
                "write decimals with a point; leave the cell empty where there is no reading";
            self.faults
                .add(span, message, &format!("expected {what} in {unit}"), help);
            return None;
        };
        let value = number * quantity.scale;
        if !(quantity.low..=quantity.high).contains(&value) {
            let message = format!("{what} of {value} {unit} is not possible");
            let label = format!("expected {} to {} {unit}", quantity.low, quantity.high);
            self.faults
                .add(span, message, &label, "is it in another unit?");
            return None;
        }
        Some(value)
    }

    /// A cell without blanks and quotes around it, and its place.
    fn cell(&self, cell: &Range<usize>) -> (Range<usize>, Cow<'a, str>) {
        let (span, inner) = trimmed(self.text, cell);
        match inner
            .strip_prefix('"')
            .and_then(|rest| rest.strip_suffix('"'))
        {
            Some(quoted) => (
                span,
                Cow::Owned(quoted.replace("\"\"", "\"").trim().to_owned()),
            ),
            None => (span, Cow::Borrowed(inner)),
        }
    }
}

/// Hours of an `hours` file beyond this are no trial's.
const MAX_HOURS: f64 = 1e6;

/// Text of a file as it fits in a message.
fn shorten(text: &str) -> String {
    let mut short: String = text
        .chars()
        .take(60)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if short.len() < text.len() {
        short.push('…');
    }
    short
}

fn trimmed<'a>(text: &'a str, cell: &Range<usize>) -> (Range<usize>, &'a str) {
    let whole = &text[cell.clone()];
    let start = cell.start + (whole.len() - whole.trim_start().len());
    let inner = whole.trim();
    (start..start + inner.len(), inner)
}

/// The places of a row's cells.
#[derive(Debug, Default)]
struct Record {
    cells: Vec<Range<usize>>,
}

impl Record {
    fn span(&self) -> Range<usize> {
        match (self.cells.first(), self.cells.last()) {
            (Some(first), Some(last)) => first.start..last.end,
            _ => 0..0,
        }
    }

    fn is_blank(&self, text: &str) -> bool {
        self.cells
            .iter()
            .all(|cell| text[cell.clone()].trim().is_empty())
    }
}

/// Splits a text into records and cells. A comma or line end between quotes belongs to the cell.
struct Records<'a> {
    text: &'a str,
    at: usize,
    /// Place of a quote that is never closed.
    open_quote: Option<usize>,
}

impl Iterator for Records<'_> {
    type Item = Record;

    fn next(&mut self) -> Option<Record> {
        let rest = self
            .text
            .as_bytes()
            .get(self.at..)
            .filter(|rest| !rest.is_empty())?;
        let (start, mut cell) = (self.at, self.at);
        let mut record = Record::default();
        let (mut quote, mut closed) = (None, None);
        for (k, &byte) in rest.iter().enumerate() {
            let here = start + k;
            self.at = here + 1;
            match byte {
                b'"' if quote.is_some() => (quote, closed) = (None, Some(here + 1)),
                // A doubled quote closes and opens again.
                b'"' if closed == Some(here) || self.text[cell..here].trim_start().is_empty() => {
                    quote = Some(here)
                }
                b',' | b'\n' if quote.is_none() => {
                    record.cells.push(cell..here);
                    cell = here + 1;
                    if byte == b'\n' {
                        return Some(self.without_return(record));
                    }
                }
                _ => {}
            }
        }
        self.open_quote = quote;
        record.cells.push(cell..self.at);
        Some(self.without_return(record))
    }
}

impl Records<'_> {
    /// Takes a carriage return off the last cell, so that no caret stands below it.
    fn without_return(&self, mut record: Record) -> Record {
        if let Some(last) = record.cells.last_mut() {
            last.end = last.start + self.text[last.clone()].trim_end_matches('\r').len();
        }
        record
    }
}
