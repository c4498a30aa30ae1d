//! Results into text: tables, charts, pages, what the terminal prints; and the only place that writes files.
//!
//! In: what nights came to. Out: strings; `kit::folder` alone puts them on disk. `run` tells the results of many nights,
//! `night` the course of one; a study tells its answer in its own folder. All do it over `kit`, which knows of none of them.

pub mod kit;
pub mod night;
pub mod run;
