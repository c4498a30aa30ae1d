//! What all studies share: how a number looks, tables, axes and drawing, the frame of a page, cautions, the results folder.

pub mod assumptions;
pub mod cautions;
pub mod chart;
pub mod design;
pub mod folder;
pub mod number;
pub mod table;
