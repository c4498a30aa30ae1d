//! What moves the nights: words and tables, chart.

pub mod chart;
pub mod words;
