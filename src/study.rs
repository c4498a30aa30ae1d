//! Questions asked of the stages: each a function from a scenario to a document.
//!
//! A study is a folder with all that is its own. `mod.rs` and the files beside it have question, answer and `solve`; `output`
//! tells the answer (words, tables, charts, page); `command` is what it takes on the command line, which files it fills a
//! folder with, and what it cautions of. Of the order of stages `output` and `command` stand where the stages of those names do:
//! `solve` knows nothing of them, and without the features `charts` and `cli` they are not there.

pub mod compare;
pub mod error;
pub mod inputs;
pub mod limit;
pub mod parts;
pub mod point;
pub mod propose;
pub mod readings;
pub mod sensitivity;
pub mod static_risk;
pub mod steady;
pub mod verify;
