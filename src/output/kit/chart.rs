//! Drawing: axes, the sheet, colours and textures, marks and labels, of which studies make their charts.
//!
//! A chart is one SVG text, complete in itself, for light and dark, with its finding as title, its conditions as
//! subtitle, and a description for who cannot see it.

pub mod axis;
pub mod canvas;
pub mod decimate;
pub mod label;
pub mod mark;
pub mod palette;

/// Why a figure could not be drawn; only a damaged build can cause it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("cannot draw the figure: {0}")]
pub struct ChartError(pub String);
