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
pub mod survival;

/// What every chart draws with.
pub mod prelude {
    pub use super::axis::Axis;
    pub use super::canvas::{
        self, Align, ChartError, Drawn, Figure, Frame, LINE, Panel, SMALL, Sheet, WIDTH, area, curve, line, place,
        shorten, stroke, text_width, wrap, write, write_bold,
    };
    pub use super::mark::{bracket, disc, interval, ring};
    pub use super::palette::{Ink, LOOKS, Texture};
    pub use crate::output::kit::number;
}
