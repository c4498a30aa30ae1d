//! What the page of a run is made of.

use crate::engine::record::Record;
use crate::output::kit::design::Provenance;
use crate::summary::Results;

/// What the page of a run is made of.
#[derive(Clone, Copy, Debug)]
pub struct PageInput<'a> {
    /// What is told.
    pub results: &'a Results,
    /// SVG texts of `chart`.
    pub figures: Figures<'a>,
    /// The night of figure 3; without moments it and its figure are left out.
    pub record: &'a Record,
    /// Where it came from.
    pub provenance: Provenance<'a>,
    /// The command that replays a night, but for the number of the trial.
    pub replay: &'a str,
}

/// SVG texts of `run::chart` and `night::chart`.
#[derive(Clone, Copy, Debug)]
pub struct Figures<'a> {
    /// How often each element is over its rating.
    pub overload: &'a str,
    /// How long the demand is met.
    pub ride_through: &'a str,
    /// What was lost after what.
    pub cascade: &'a str,
    /// One night.
    pub night: &'a str,
}
