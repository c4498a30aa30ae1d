//! Results into text: tables, charts, pages, what the terminal prints; and the only place that writes files.
//!
//! In: what a study found. Out: strings; `kit::folder` alone puts them on disk. One module a study, with its words,
//! tables, charts and page, over `kit`, which knows of no study.

pub mod compare;
pub mod inputs;
pub mod kit;
pub mod limit;
pub mod night;
pub mod parts;
pub mod point;
pub mod propose;
pub mod readings;
pub mod run;
pub mod sensitivity;
pub mod static_risk;
pub mod verify;
