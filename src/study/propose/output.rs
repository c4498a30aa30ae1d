//! The cheapest layout that meets the targets: words and tables, chart and page.

pub mod chart;
pub mod page;
pub mod words;
