//! A comparison of layouts, as text and as CSV.

pub mod csv;
pub mod finding;
pub mod obstacle;
pub mod proposal;
pub mod text;
