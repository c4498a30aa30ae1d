//! A reading that is likely wrong, and what may have happened to it.

use crate::profile::SiteCell;

/// A reading that contradicts the others, or is impossible by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Mistaken {
    /// Row of the readings, from 0.
    pub row: usize,
    /// The cell of that row.
    pub cell: SiteCell,
    /// What was read [A or V].
    pub read: f64,
    /// What it should be; `None` where neither the other readings nor the scenario tell.
    pub expected: Option<Foretold>,
    /// Difference between `read` and `expected`, in standard deviations.
    pub off: Option<f64>,
    /// The slip that would explain it; `None`: no known slip does.
    pub slip: Option<Slip>,
    /// Other readings that may be the wrong one instead: row, from 0, and cell.
    pub instead: Vec<(usize, SiteCell)>,
}

/// What a reading should be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foretold {
    /// Expected value [A or V].
    pub value: f64,
    /// Its standard deviation by all other readings [A or V]; `None`: the value is a rough one from the scenario alone.
    pub error: Option<f64>,
}

/// A slip that would explain a mistaken reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Slip {
    /// It fits with the opposite sign.
    Sign,
    /// It fits when multiplied by this power of ten: a misplaced decimal point.
    Factor(f64),
    /// A thousandth of it fits: it was read in millivolts or milliamperes.
    Milli,
    /// It was exchanged with the reading of this row: each fits in the other's place.
    Exchanged(usize),
    /// A drop was written where a module's voltage belongs.
    NoVoltageOfAModule,
    /// The voltage between the poles, or a number of millivolts, was written where a drop belongs.
    NoDropOfAConductor,
}
