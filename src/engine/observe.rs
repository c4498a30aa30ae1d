//! Watching a trial from outside.

use super::instant::Instant;
use super::module::{Reason, State};
use super::trial::Trial;
use crate::time::Time;

/// Something that happened in a trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// A module came to be in this state, for this reason.
    Module {
        module: usize,
        state: State,
        reason: Option<Reason>,
    },
    /// An element began a stretch over its limit.
    OverBegan {
        element: usize,
    },
    InverterOff,
    InverterOn,
    /// The bank could no longer meet the demand, or could again.
    Short,
    Served,
}

/// Who watches a trial. The default watches nothing, at no cost.
pub trait Observer {
    /// The state of the trial at its `now`; at a discontinuity before it and after it.
    fn moment(&mut self, _trial: &Trial<'_>, _instant: &Instant) {}
    fn event(&mut self, _at: Time, _event: Event) {}
}

/// Watches nothing.
pub struct Nobody;

impl Observer for Nobody {}
