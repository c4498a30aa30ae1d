//! Profiles: load and weather by time, read from CSV, ISD-Lite and EPW files.
//!
//! In: files as they are, gzipped or not. Out: a `Series`: whole seconds on one clock, values in
//! SI units, with what was missing filled by a stated rule and reported.

use crate::time::Time;

/// Which clock the times of a series are on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clock {
    /// Seconds after the start of a trial.
    Elapsed,
    /// Local civil time of the site, seconds since 1970-01-01 00:00 on that clock.
    Local,
}

/// A quantity by time. Times rise strictly; there is at least one value a reading.
#[derive(Clone, Debug)]
pub struct Series {
    clock: Clock,
    /// [s]
    times: Vec<i64>,
    values: Vec<f64>,
    /// The last value holds to here [s].
    end: i64,
    /// Stretches without readings that are too long to bridge [s]: no night may touch them.
    holes: Vec<(i64, i64)>,
    source: Source,
}

/// Where a series came from, for the report.
#[derive(Clone, Debug, Default)]
pub struct Source {
    /// File names as the scenario gives them, with the SHA-256 of each.
    pub files: Vec<(String, String)>,
    /// What was missing and how it was filled, one line each.
    pub gaps: Vec<String>,
}

impl Series {
    pub fn clock(&self) -> Clock {
        self.clock
    }
    pub fn source(&self) -> &Source {
        &self.source
    }
    /// Each value held until the next: (value at `t`, moment of the next change or `i64::MAX`).
    pub fn held(&self, t: Time, start: i64) -> (f64, Time) {
        let _ = (t, start);
        todo!()
    }
    /// Straight lines between values: (value at `t`, moment of the next reading).
    pub fn between(&self, t: Time, start: i64) -> (f64, Time) {
        let _ = (t, start);
        todo!()
    }
}

/// Why a profile could not be had.
#[derive(Debug)]
pub enum ProfileError {
    /// The file cannot be read at all; the caller points at the place that names it.
    Unreadable(String),
    /// Faults within the file, all of them (at most 20 are kept, and a count of the rest).
    Faults(Vec<crate::diagnostic::Diagnostic>),
}

/// Which columns of a CSV hold what.
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
