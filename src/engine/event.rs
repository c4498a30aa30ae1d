//! What happens in a trial, for whoever watches it.

use super::controller::Limits;
use super::module::{Reason, State};

/// Something that happened in a trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// A module came to be in this state, for this reason.
    Module {
        /// Number of the module.
        module: usize,
        /// What it may do from now on.
        state: State,
        /// Why it may not do more; `None`: it is in service.
        reason: Option<Reason>,
    },
    /// An element began a stretch over its limit.
    OverBegan {
        /// Number of the element: modules first, then conductors.
        element: usize,
    },
    /// A conductor rose above its temperature rating.
    HotBegan {
        /// Number of the conductor.
        conductor: usize,
    },
    /// A protective device opened.
    DeviceOpened {
        /// Number of the device.
        device: usize,
    },
    /// A conductor opens by chance, or is mended.
    Conductor {
        /// Number of the conductor.
        conductor: usize,
        /// Whether it is open from now on.
        open: bool,
    },
    /// A joint went bad by chance, or was mended.
    Joint {
        /// Number of the conductor.
        conductor: usize,
        /// Whether its joint is bad from now on.
        bad: bool,
    },
    /// A surge of the load began or ended.
    Surge {
        /// Number of the surge in the scenario.
        surge: usize,
        /// Whether it begins.
        begins: bool,
    },
    /// The inverter's low-voltage cut-out opened.
    InverterOff,
    /// The inverter came back after its cut-out.
    InverterOn,
    /// The inverter obeys these limits from now on.
    Limits(Limits),
    /// The bank could no longer meet the demand.
    Short,
    /// The bank meets the demand again.
    Served,
}
