//! What thousands of nights say: counts, exact intervals, and the results document.

pub mod assemble;
pub mod by_night;
pub mod counts;
pub mod difference;
pub mod element;
mod estimate;
pub mod fixed_sum;
pub mod inference;
pub mod interval;
pub mod margin;
pub mod means;
pub mod merge;
pub mod normal;
pub mod paired;
mod pairs;
pub mod protection;
pub mod quantile;
mod results;
mod targets;
mod verdict;

pub use element::ElementResult;
pub use estimate::Estimate;
pub use merge::Merge;
pub use results::*;
pub use targets::{LimitVerdict, Target, TargetVerdict};
pub use verdict::Verdict;
