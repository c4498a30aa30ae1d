//! Bankwright.
pub mod curve;
pub mod diagnostic;
pub mod engine;
pub mod output;
pub mod profile;
pub mod scenario;
pub mod summary;
pub mod time;
