//! A CSV with a header (RFC 4180, commas) as readings.
//!
//! In: text and which columns hold what. Out: readings in the order of the file, or every fault at
//! the bytes of its cell.

use super::calendar::{HOUR, stamp};
use super::file::{Faults, Text};
use super::record::{Record, Records, unquoted};
use super::types::{Clock, Part, Reading};
use crate::bounds;
use crate::diagnostic::{Diagnostic, Fault, shortened};
use std::borrow::Cow;
use std::ops::Range;

/// Which columns are wanted.
pub(super) struct Layout<'a> {
    /// `None`: `time`, else `hours`.
    pub time: Option<&'a str>,
    /// The columns of numbers: one or two.
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
/// that do not rise; more rows than `most_rows`.
pub(super) fn read(text: &Text, layout: &Layout, most_rows: usize) -> Result<Part, Vec<Diagnostic>> {
    let mut rows = Rows::of(text);
    let header = rows.header()?;
    let mut reader = Reader::new(text, layout);
    let first = rows.next();
    rows.flaw()?;
    if !reader.find_columns(&header) || !reader.find_clock(&header, first.as_ref()) {
        return Err(reader.faults.list());
    }
    let mut readings = Vec::new();
    for row in first.into_iter().chain(&mut rows) {
        if readings.len() == most_rows {
            reader.faults.too_many_rows(row.span());
            return Err(reader.faults.list());
        }
        readings.extend(reader.reading(&row));
    }
    rows.flaw()?;
    reader.faults.check_rising(&readings);
    let part = Part { clock: reader.clock, readings, notes: Vec::new() };
    reader.faults.none_or(part)
}

/// The header of a short file, and the rows that are not blank.
///
/// # Errors
/// A quote that is not closed; more cells or rows than there may be.
pub(super) fn table(text: &Text) -> Result<(Record, Vec<Record>), Vec<Diagnostic>> {
    let mut all = Rows::of(text);
    let header = all.header()?;
    let mut rows = Vec::new();
    for row in &mut all {
        if rows.len() == bounds::READING_ROWS {
            let message = format!("more than {} rows", bounds::grouped(bounds::READING_ROWS as u64));
            let help = "keep the readings of the loads that tell most, or explain them in parts";
            let fault = text.fault(Fault::TooMuch, row.span(), message, "the first row too many", help);
            return Err(vec![fault]);
        }
        rows.push(row);
    }
    all.flaw()?;
    Ok((header, rows))
}

/// The rows of a CSV that are not blank, one after the other.
struct Rows<'a> {
    text: &'a Text,
    records: Records<'a>,
}

impl<'a> Rows<'a> {
    fn of(text: &'a Text) -> Rows<'a> {
        Rows { text, records: Records::of(text.as_str()) }
    }

    /// The first of them.
    fn header(&mut self) -> Result<Record, Vec<Diagnostic>> {
        let header = self.next().unwrap_or_default();
        self.flaw().map(|()| header)
    }

    /// What the rows so far ended at, where it is not the end of the text.
    ///
    /// # Errors
    /// A quote that is not closed, or a row of too many cells.
    fn flaw(&self) -> Result<(), Vec<Diagnostic>> {
        if let Some(at) = self.records.open_quote {
            let help = "close the quote, or double it where it belongs to the text";
            let message = "this quote is not closed".into();
            return Err(vec![self.text.fault(Fault::Syntax, at..at + 1, message, "it begins here", help)]);
        }
        let Some(at) = self.records.too_wide else { return Ok(()) };
        let message = format!("a row of more than {} cells", bounds::grouped(bounds::COLUMNS as u64));
        let help = "leave out columns that are not needed; is the line end of each row there?";
        Err(vec![self.text.fault(Fault::TooMuch, at..at, message, "the first cell too many", help)])
    }
}

impl Iterator for Rows<'_> {
    type Item = Record;

    fn next(&mut self) -> Option<Record> {
        let text = self.text.as_str();
        self.records.by_ref().find(|record| !record.is_blank(text))
    }
}

/// What is known of a file while its rows are read.
struct Reader<'a> {
    file: &'a Text,
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
            file: text,
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
            self.faults.add_of(
                Fault::Syntax,
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
        let quantities = layout.quantities.iter().filter_map(|q| self.column(header, &[q.column])).collect();
        self.quantities = quantities;
        self.time = time.unwrap_or(0);
        time.is_some() && self.quantities.len() == layout.quantities.len()
    }

    /// Number of the column with the first of these names that the header has: as it is written, or
    /// else in other letter case.
    fn column(&mut self, header: &Record, names: &[&str]) -> Option<usize> {
        let cells: Vec<Cow<str>> = header.cells.iter().map(|cell| unquoted(self.text, cell).1).collect();
        let find = |same: fn(&str, &str) -> bool| {
            let place = |name: &&str| cells.iter().position(|cell| same(cell, name));
            names.iter().find_map(place)
        };
        let Some(found) = find(|a, b| a == b).or_else(|| find(str::eq_ignore_ascii_case)) else {
            let message = format!("no column `{}` in the header", names.join("` or `"));
            let have = shortened(&cells.join(", "));
            let help = format!("the first row names the columns; this one has: {have}");
            let label = "expected the names of the columns";
            self.faults.add_of(Fault::Missing, header.span(), message, label, &help);
            return None;
        };
        if let Some(twice) = (found + 1..cells.len()).find(|&k| cells[k] == cells[found]) {
            let message = format!("two columns are named `{}`", cells[found]);
            let (span, help) = (header.cells[twice].clone(), "give each its own name");
            self.faults.add_of(Fault::Duplicate, span, message, "the second of them", help);
        }
        Some(found)
    }

    /// Which clock the times are on, by the column's name or, where that is the user's own, by the
    /// first row.
    fn find_clock(&mut self, header: &Record, first: Option<&Record>) -> bool {
        let Some(first) = first else {
            let message = "a header and no rows".to_owned();
            self.faults.add_of(Fault::Missing, header.span(), message, "expected rows below it", "");
            return false;
        };
        let name = self.time_cell(header).1.to_ascii_lowercase();
        self.clock = match name.as_str() {
            "hours" => Clock::Elapsed,
            "time" => Clock::Local,
            _ if self.time_cell(first).1.parse::<f64>().is_ok() => Clock::Elapsed,
            _ => Clock::Local,
        };
        self.clock == Clock::Elapsed || self.find_zone()
    }

    /// Whether times carry an offset, by the first of them; then the site's own must be known.
    fn find_zone(&mut self) -> bool {
        let mut times = Rows::of(self.file).skip(1).map(|row| self.time_cell(&row));
        let zoned = |cell: &str| stamp(cell).ok().map(|stamp| stamp.offset.is_some());
        let first = times.find_map(|(span, cell)| zoned(&cell).map(|zoned| (zoned, span, cell)));
        let Some((true, span, cell)) = first else {
            return true;
        };
        self.zoned = true;
        if self.layout.utc_offset.is_some() {
            return true;
        }
        let cell = shortened(&cell);
        let message = format!("`{cell}` has an offset from UTC, and the site's own is not given");
        let help = "add `utc_offset`, for example \"-9 h\", so that it becomes local time";
        let label = "which local time is this?";
        self.faults.add_of(Fault::Missing, span, message, label, help);
        false
    }

    /// The cell that says when, and its place.
    fn time_cell(&self, row: &Record) -> (Range<usize>, Cow<'a, str>) {
        match row.cells.get(self.time) {
            Some(cell) => unquoted(self.text, cell),
            None => (row.span(), Cow::Borrowed("")),
        }
    }

    /// A row's reading; a cell at fault counts as empty, and a row without a time is left out.
    fn reading(&mut self, row: &Record) -> Option<Reading> {
        let mut extra = row.cells.iter().skip(self.width);
        let blank = |cell: &Range<usize>| self.text[cell.clone()].trim().is_empty();
        if row.cells.len() < self.width || !extra.all(blank) {
            let (here, header) = (row.cells.len(), self.width);
            let message = format!("the header has {header} cells, this row {here}");
            let help = "write decimals with a point, and put text with a comma between quotes";
            let label = "expected a cell for each column";
            self.faults.add_of(Fault::Syntax, row.span(), message, label, help);
            return None;
        }
        let (span, cell) = self.time_cell(row);
        let time = match self.clock {
            _ if cell.is_empty() => self.no_time(&span),
            Clock::Elapsed => self.hours(&span, &cell),
            Clock::Local => self.civil(&span, &cell),
        }?;
        let mut values = [None; 2];
        for (k, value) in values.iter_mut().enumerate() {
            *value = self.value(row, k);
        }
        Some(Reading::new(time, span, values))
    }

    fn no_time(&mut self, span: &Range<usize>) -> Option<i64> {
        let message = "a row without a time".to_owned();
        let label = "expected a time here";
        self.faults.add(span.clone(), message, label, "");
        None
    }

    fn hours(&mut self, span: &Range<usize>, cell: &str) -> Option<i64> {
        let hours = cell.parse::<f64>().ok().filter(|h| (0.0..=MAX_HOURS).contains(h));
        if hours.is_none() {
            let message = format!("`{}` is not a number of hours", shortened(cell));
            let help = "for dates, name the column `time`";
            self.faults.add(span.clone(), message, "expected hours from the start, 0 to 1000000", help);
        }
        hours.map(|h| (h * HOUR as f64).round() as i64)
    }

    fn civil(&mut self, span: &Range<usize>, cell: &str) -> Option<i64> {
        let stamp = match stamp(cell) {
            Ok(stamp) => stamp,
            Err(why) => {
                let message = format!("`{}` is not a time", shortened(cell));
                let help = if cell.parse::<f64>().is_ok() { "for bare hours, name the column `hours`" } else { "" };
                self.faults.add(span.clone(), message, &why.to_string(), help);
                return None;
            }
        };
        if stamp.offset.is_some() != self.zoned {
            let (has, had) = if self.zoned { ("no offset", "one") } else { ("an offset", "none") };
            let message = format!("`{}` has {has} from UTC, and the first time has {had}", shortened(cell));
            self.faults.add_of(Fault::Conflict, span.clone(), message, "expected all times alike", "");
            return None;
        }
        let shift = stamp.offset.map_or(0, |offset| self.layout.utc_offset.unwrap_or(0) - offset);
        Some(stamp.civil + shift)
    }

    /// The value of quantity `k` in a row; `None` where it is empty, at fault, or not asked for.
    fn value(&mut self, row: &Record, k: usize) -> Option<f64> {
        let quantity = self.layout.quantities.get(k)?;
        let (span, cell) = unquoted(self.text, row.cells.get(*self.quantities.get(k)?)?);
        if cell.is_empty() {
            return None;
        }
        let (what, unit) = (quantity.what, quantity.unit);
        let Some(number) = cell.parse::<f64>().ok().filter(|n| n.is_finite()) else {
            let message = format!("`{}` in column `{}` is not a number", shortened(&cell), quantity.column);
            let help = "write decimals with a point; leave the cell empty where there is no reading";
            self.faults.add(span, message, &format!("expected {what} in {unit}"), help);
            return None;
        };
        let value = number * quantity.scale;
        if !(quantity.low..=quantity.high).contains(&value) {
            let message = format!("{what} of {value} {unit} is not possible");
            let label = format!("expected {} to {} {unit}", quantity.low, quantity.high);
            self.faults.add_of(Fault::OutOfRange, span, message, &label, "is it in another unit?");
            return None;
        }
        Some(value)
    }
}

/// Hours of an `hours` file beyond this are no trial's.
const MAX_HOURS: f64 = 1e6;
