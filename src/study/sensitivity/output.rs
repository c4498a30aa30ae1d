//! What moves the limit: words and tables, chart.

pub mod chart;
pub mod words;
