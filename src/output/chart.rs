//! Charts: the results and one replayed night as SVG.
//!
//! In: the results document, one record, or the limits. Out: one SVG text a figure, complete in itself, for light
//! and dark, with its finding as title, its conditions as subtitle, and a description for who cannot see it.

mod axis;
mod canvas;
mod cascade;
mod chance;
mod decimate;
mod ink;
mod inputs;
mod label;
mod layouts;
mod limit;
mod limit_air;
mod mark;
mod night;
mod ride;
mod risk;
mod sensitivity;

pub use cascade::cascade;
pub use chance::chances;
pub use inputs::inputs;
pub use layouts::{hours, leads, price, proposal};
pub use limit::limits;
pub use limit_air::limits_by_air;
pub use night::night;
pub use ride::ride_through;
pub use risk::overload;
pub use sensitivity::sensitivity;

/// Why a figure could not be drawn; only a damaged build can cause it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("cannot draw the figure: {0}")]
pub struct ChartError(pub String);
