//! Profiles: load and weather by time, read from CSV, ISD-Lite and EPW files.
//!
//! In: files as they are, gzipped or not. Out: a `Series`: whole seconds on one clock, values in
//! the quantity's unit, with what was missing filled by a stated rule (`fill`) and reported; and
//! the nights that such series cover (`night`).

mod calendar;
mod csv;
mod epw;
mod file;
mod fill;
mod isd;
mod load;
pub mod night;
mod record;
mod series;
mod site;
mod types;
mod weather;

pub use load::read_load;
pub use series::{Cursor, Piece, Series, SeriesError, line_value};
pub use site::{BUS, Measured, SiteCell, SiteReading, SiteSheet, read_readings};
pub use types::{Clock, Columns, Night, ProfileError, Source};
pub use weather::{Weather, read_weather};
