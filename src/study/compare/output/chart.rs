//! Layouts side by side: risk against lead pairs, price against risk, and how long each is served.
//!
//! In: the comparison. Out: a figure each. On the logarithmic scale of risk a layout that was never seen over stands
//! at the foot, below all that were seen, as an open mark with a line up to the end of its interval: zero seen is not
//! zero.

mod hours;
mod leads;
mod price;
pub(crate) mod risk;

pub use hours::hours;
pub use leads::leads;
pub use price::price;
