//! What one trial came to.

use super::cascade::{Blackout, Cascade};
use super::module::Reason;
use crate::time::Time;
use serde::{Deserialize, Serialize};

/// The result of one trial: exact times, counts and energies.
#[derive(Clone, Debug)]
pub struct TrialResult {
    /// Number of the trial, from 0.
    pub trial: u64,
    /// Index into the scenario's nights.
    pub night: usize,
    /// The start of the first shortfall longer than the hold; `None`: served to the horizon.
    pub served_until: Option<Time>,
    /// How the bank was then.
    pub ending: Option<Ending>,
    /// Demand not met, in shortfalls longer than the hold [J].
    pub unserved: f64,
    /// Demand not met in shorter ones [J].
    pub brief: f64,
    /// Charge on offer and not taken [J].
    pub curtailed: f64,
    /// The result of every module, then that of every conductor.
    pub elements: Vec<ElementResult>,
    /// When each of the bank's protective devices opened.
    pub opened: Vec<Option<Time>>,
    /// How many modules were out, and by what.
    pub dropout: DropoutResult,
    /// Each different (modules not delivering, element) once.
    pub chains: Vec<ChainResult>,
    /// Protection that an earlier loss triggered within the scenario's window.
    pub cascade: Option<Cascade>,
    /// Whether nothing delivered after a loss other than by an end of charge, and when first.
    pub blackout: Option<Blackout>,
    /// The greatest current with which a module rejoined, and which; `None`: none did.
    pub rejoined: Option<Rejoined>,
    /// What it took to compute, and how exact it is.
    pub work: Work,
}

/// How the bank was when a shortfall began.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// More than half of its modules were in service or empty: the charge, or the voltage that the load left.
    Charge,
    /// The same, and a limit that the controller announced held the load back.
    Limited,
    /// Half of them or more had dropped out, most of them by cold.
    Cold,
    /// Half of them or more had dropped out, most of them otherwise.
    Dropped,
}

/// The greatest current with which a module rejoined.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rejoined {
    /// Number of the module.
    pub module: usize,
    /// Positive in discharge [A].
    pub current: f64,
    /// When it rejoined.
    pub at: Time,
}

/// One element in one trial.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ElementResult {
    /// Sum of the stretches over its limit of at least the hold time.
    pub time_over: Time,
    /// Start of the first of these stretches.
    pub first_over: Option<Time>,
    /// Greatest magnitude of current [A].
    pub greatest: f64,
    /// When the greatest current first came.
    pub greatest_at: Time,
    /// Sum of the stretches of at least the hold time in which a conductor was over its temperature rating.
    pub time_hot: Time,
    /// Start of the first of these stretches.
    pub first_hot: Option<Time>,
    /// Its greatest temperature [°C], where it has insulation data.
    pub hottest: Option<f64>,
}

/// Dropouts of one trial.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DropoutResult {
    /// Greatest number of modules out at one moment; empty ones do not count.
    pub most: u32,
    /// Whether any was out by cold.
    pub cold: bool,
    /// Whether any was out by chance.
    pub fault: bool,
    /// Whether any was out for another reason.
    pub other: bool,
}

/// A defect of a conductor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Defect {
    /// It is open, or a device in it is.
    Open,
    /// One of its joints has a higher resistance.
    BadJoint,
}

/// Which modules were out, and which conductors had a defect, when an element went over its limit.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ChainResult {
    /// Modules that did not deliver when the overload began, and why.
    pub out: Vec<(usize, Reason)>,
    /// Conductors with a defect then, by number of the bank's conductors.
    pub amiss: Vec<(usize, Defect)>,
    /// Number of the element: modules first, then conductors.
    pub over: usize,
}

/// Work and numerical quality of one trial.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Work {
    /// Steps taken.
    pub steps: u64,
    /// Networks solved.
    pub solves: u64,
    /// Events of the night.
    pub events: u64,
    /// Greatest departure from Kirchhoff's current law at a node [A].
    pub kirchhoff: f64,
    /// Greatest departure of power in from power out, relative.
    pub power_balance: f64,
}

/// A trial that the engine did not finish. One that it could not finish is counted, never dropped.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TrialError {
    /// The network could not be solved.
    #[error("trial {trial} at {at}: {source}")]
    Unsolvable {
        /// Number of the trial, from 0.
        trial: u64,
        /// Moment of the night.
        at: Time,
        /// Why the network has no solution.
        source: crate::network::solve::Unsolvable,
    },
    /// There were so many events that the trial would not end.
    #[error("trial {trial} at {at}: more than {limit} events; two guards may be chasing each other")]
    TooManyEvents {
        /// Number of the trial, from 0.
        trial: u64,
        /// Moment of the night.
        at: Time,
        /// Most events that a trial may have.
        limit: u64,
    },
    /// Whoever watches wanted no more of it: it says nothing about the bank and is not counted.
    #[error("trial {trial} was given up at {at}")]
    GivenUp {
        /// Number of the trial, from 0.
        trial: u64,
        /// Moment of the night.
        at: Time,
    },
}

impl TrialResult {
    /// Whether a conductor was over its temperature rating for the hold time.
    pub fn any_hot(&self) -> bool {
        self.elements.iter().any(|e| e.first_hot.is_some())
    }

    /// Whether a protective device opened.
    pub fn any_opened(&self) -> bool {
        self.opened.iter().any(Option::is_some)
    }

    /// Whether an element was over its limit, for the hold time.
    pub fn any_over(&self) -> bool {
        self.elements.iter().any(|e| e.first_over.is_some())
    }

    /// Greatest time over its limit of any element, and which.
    pub fn longest_over(&self) -> Option<(usize, Time)> {
        let over = self.elements.iter().enumerate().filter(|(_, e)| e.first_over.is_some());
        // The first of equals.
        over.map(|(k, e)| (k, e.time_over)).reduce(|a, b| if b.1 > a.1 { b } else { a })
    }
}
