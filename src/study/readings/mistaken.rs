//! A reading that is likely wrong, and what may have happened to it.

use crate::profile::SiteCell;

/// A reading that contradicts the others, or sense.
#[derive(Clone, Debug, PartialEq)]
pub struct Mistaken {
    /// Row of the readings, from 0.
    pub row: usize,
    /// Which of its cells.
    pub cell: SiteCell,
    /// What was read [A or V].
    pub read: f64,
    /// What it should be; `None` where nothing tells.
    pub expected: Option<Foretold>,
    /// Standard deviations between the two.
    pub off: Option<f64>,
    /// What would explain it; `None` where nothing does.
    pub slip: Option<Slip>,
    /// Readings that may be wrong instead: row and cell.
    pub instead: Vec<(usize, SiteCell)>,
}

/// What a reading should be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foretold {
    /// [A or V]
    pub value: f64,
    /// Standard deviation by all other readings; `None`: by the scenario alone, roughly.
    pub error: Option<f64>,
}

/// What would explain a mistaken reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Slip {
    /// Its sign turned fits.
    Sign,
    /// So many times as much fits: a decimal place.
    Factor(f64),
    /// A thousandth fits: millivolts or milliamperes.
    Milli,
    /// It fits at the element of this row, and that one's here.
    Exchanged(usize),
    /// A drop where a module's voltage belongs; the voltage between the poles, or millivolts, where a drop belongs.
    NoVoltageOfAModule,
    /// The voltage between the poles, or millivolts, where a drop belongs.
    NoDropOfAConductor,
}
