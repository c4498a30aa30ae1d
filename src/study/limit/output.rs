//! The greatest safe current: words, tables and charts.

pub mod chart;
pub mod chart_by_air;
pub mod steps;
pub mod tables;
pub mod text;
pub mod words;
