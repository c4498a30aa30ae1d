//! Watching a trial from outside.

use super::controller::Limits;
use super::module::{Reason, State};
use super::trial::Trial;
use crate::time::Time;
use std::sync::atomic::{AtomicBool, Ordering};

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
    /// A conductor came to be hotter than it stands.
    HotBegan {
        conductor: usize,
    },
    /// Number of the bank's devices.
    DeviceOpened {
        device: usize,
    },
    /// By chance, or mended.
    Conductor {
        conductor: usize,
        open: bool,
    },
    Joint {
        conductor: usize,
        bad: bool,
    },
    Surge {
        surge: usize,
        begins: bool,
    },
    InverterOff,
    InverterOn,
    /// The inverter obeys these limits from now on.
    Limits(Limits),
    /// The bank could no longer meet the demand, or could again.
    Short,
    Served,
}

/// Who watches a trial. The default watches nothing, at no cost.
pub trait Observer {
    /// The state of the trial at its `now`; at a discontinuity before it and after it.
    fn moment(&mut self, _trial: &Trial<'_>) {}
    fn event(&mut self, _at: Time, _event: Event) {}
    /// Whether to give the trial up; asked before every step.
    fn gives_up(&self) -> bool {
        false
    }
}

/// Watches nothing.
pub struct Nobody;

impl Observer for Nobody {}

/// Watches nothing, and gives the trial up when the flag is raised.
pub struct Until<'a>(pub &'a AtomicBool);

impl Observer for Until<'_> {
    fn gives_up(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}
