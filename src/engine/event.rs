//! What happens in a trial, for whoever watches it.

use super::controller::Limits;
use super::module::{Reason, State};

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
