//! Charts: the results and one replayed night as SVG.
//!
//! In: the results document, one record. Out: one SVG text a figure, complete in itself, for light
//! and dark, with its finding as title, its conditions as subtitle, and a description for who cannot see it.

mod axis;
mod canvas;
mod cascade;
mod decimate;
mod ink;
mod label;
mod layouts;
mod mark;
mod night;
mod ride;
mod risk;

pub use cascade::cascade;
pub use layouts::{hours, leads, price};
pub use night::night;
pub use ride::ride_through;
pub use risk::overload;

/// Why a figure could not be drawn; only a damaged build can cause it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("cannot draw the figure: {0}")]
pub struct ChartError(pub String);
