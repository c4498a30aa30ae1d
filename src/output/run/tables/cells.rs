//! Cells that several tables of a run share.

use crate::output::kit::number;
use crate::summary::Estimate;

/// The names of an estimate's three columns.
pub const ESTIMATE: [&str; 3] = ["probability", "low", "high"];

/// An estimate in a narrow column.
pub fn short(often: Estimate) -> String {
    number::frequency_short(&often)
}

/// `A length of time` where there is one to tell; of what never happened there is no mean.
pub fn mean_time(nights: u64, hours: f64) -> String {
    if nights > 0 { number::duration(hours) } else { number::NONE.into() }
}
