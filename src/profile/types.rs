//! What the readers of profiles have in common: clocks, readings, and why there is no profile.

use crate::diagnostic::Diagnostic;
use std::ops::Range;

/// Air beyond these is a mistake of unit: −89.2 and 56.7 °C are the records on Earth [°C].
pub(super) const AIR_LOW: f64 = -100.0;
pub(super) const AIR_HIGH: f64 = 100.0;

/// Which clock the times of a series are on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clock {
    /// Seconds after the start of a trial.
    Elapsed,
    /// Local civil time of the site, seconds since 1970-01-01 00:00 on that clock.
    Local,
}

/// Where a series came from, for the report.
#[derive(Clone, Debug, Default)]
pub struct Source {
    /// File names as the scenario gives them, with the SHA-256 of each.
    pub files: Vec<(String, String)>,
    /// What was missing and how it was filled, and how times became local; one line each.
    pub gaps: Vec<String>,
}

/// Why a profile could not be had.
#[derive(Debug)]
pub enum ProfileError {
    /// A file cannot be read at all; the caller points at the place that names it.
    Unreadable {
        /// Number of the file among those that were named, from 0.
        file: usize,
        /// What the system said, for people.
        why: String,
    },
    /// Faults within the file, all of them (at most 20 are kept, and a count of the rest).
    Faults(Vec<Diagnostic>),
}

/// The columns of a CSV file and what they hold.
#[derive(Clone, Debug, Default)]
pub struct Columns {
    /// Column of the quantity; `None`: the default name.
    pub value: Option<String>,
    /// Column of the time; `None`: `time` or `hours`.
    pub time: Option<String>,
    /// Multiplies every value.
    pub scale: Option<f64>,
}

/// One night that a trial may draw: where it starts in each profile.
#[derive(Clone, Debug, PartialEq)]
pub struct Night {
    /// Local start in the weather's clock, or 0 where it has none [s].
    pub air_start: i64,
    /// Start in the load's clock, or 0 [s].
    pub load_start: i64,
    /// `2018-12-31`, or empty where there is no calendar.
    pub date: String,
    /// The winter or year that it is counted in: `2018/19`, `2019`, or empty.
    pub year: String,
}

/// One row of a file: a moment and what was read then. There may be millions of them, so it is small.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reading {
    /// On the clock of its file [s].
    pub(super) time: i64,
    /// Bytes of the file's text that say when.
    pub(super) span: (u32, u32),
    /// The quantity, and a second one where it was asked for; not a number where there is none.
    pub(super) values: [f64; 2],
}

impl Reading {
    pub(super) fn new(time: i64, span: Range<usize>, values: [Option<f64>; 2]) -> Reading {
        let place = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
        Reading { time, span: (place(span.start), place(span.end)), values: values.map(|v| v.unwrap_or(f64::NAN)) }
    }

    pub(super) fn span(&self) -> Range<usize> {
        self.span.0 as usize..self.span.1 as usize
    }

    /// The quantity of a number; `None` where it is missing.
    pub(super) fn value(&self, number: usize) -> Option<f64> {
        self.values.get(number).copied().filter(|value| !value.is_nan())
    }

    /// Fills missing values with those of `other`.
    pub(super) fn complete(&mut self, other: &Reading) {
        for (value, more) in self.values.iter_mut().zip(other.values) {
            *value = if value.is_nan() { more } else { *value };
        }
    }

    /// Whether no value differs that both have.
    pub(super) fn agrees(&self, other: &Reading) -> bool {
        self.values.iter().zip(other.values).all(|(a, b)| a.is_nan() || b.is_nan() || *a == b)
    }
}

/// The readings of one file, in the order of the file.
#[derive(Debug)]
pub(super) struct Part {
    pub(super) clock: Clock,
    pub(super) readings: Vec<Reading>,
    /// What was done to the times, for the report.
    pub(super) notes: Vec<String>,
}
