//! The random nights: words, tables, charts, the page and the verdict.

pub mod chart;
pub mod page;
pub mod tables;
pub mod verdict;
pub mod words;
