//! What the page of a run is made of.

use crate::engine::record::Record;
use crate::output::kit::design::Provenance;
use crate::summary::Results;

/// What the page of a run is made of.
#[derive(Clone, Copy, Debug)]
pub struct PageInput<'a> {
    pub results: &'a Results,
    /// SVG texts of `chart`.
    pub figures: Figures<'a>,
    /// The night of figure 3; without moments it and its figure are left out.
    pub record: &'a Record,
    pub provenance: Provenance<'a>,
    /// The command that replays a night, but for the number of the trial.
    pub replay: &'a str,
}

#[derive(Clone, Copy, Debug)]
pub struct Figures<'a> {
    pub overload: &'a str,
    pub ride_through: &'a str,
    pub cascade: &'a str,
    pub night: &'a str,
}
