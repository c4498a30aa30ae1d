//! What all studies share: how a number looks, tables, axes and drawing, the frame of a page, cautions, the results folder.

pub(crate) mod assumptions;
pub mod cautions;
pub(crate) mod chart;
pub mod design;
pub mod folder;
pub mod number;
pub(crate) mod table;
pub(crate) mod words;
