//! Layouts under the same nights: words, tables, charts and page.

pub mod chart;
pub(crate) mod obstacle;
pub mod page;
pub mod tables;
pub mod text;
pub mod words;
