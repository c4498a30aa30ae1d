//! Results into text: tables, charts, one page, the printed verdict; and the only place that writes files.
//!
//! In: the results document and one replayed night. Out: strings; `folder` alone puts them on disk.
//! How a number looks is decided in `number`, what the results say in `finding`.

pub mod cautions;
pub mod chance_words;
pub mod chart;
pub mod compare;
pub mod finding;
pub mod folder;
pub mod inputs_words;
pub mod limit_csv;
pub mod limit_steps;
pub mod limit_table;
pub mod limit_words;
pub mod number;
pub mod page;
pub mod point_table;
pub mod readings_table;
pub mod sensitivity_words;
pub mod table;
pub mod verdict;
pub mod verify_table;
