//! The chance of being over at a moment: words and tables, chart.

pub mod chart;
pub mod words;
