//! Bankwright.
pub mod curve;
pub mod diagnostic;
pub mod draw;
pub mod engine;
pub mod output;
pub mod profile;
pub mod scenario;
pub mod study;
pub mod summary;
pub mod time;
pub mod units;
