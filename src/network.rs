//! The resistive network: nodes, branches, terminals. It knows nothing of stacks.
//!
//! In: a graph, and for each branch its electromotive force, resistance and law at one moment.
//! Out (`solve`): every branch current and the voltage at the terminals, for a current or a power.
//!
//! Kirchhoff's laws over branches i = (v_from − v_to + e)/r. A branch of a module runs from its
//! negative to its positive node, so that discharge is positive.

pub mod bank;
pub(crate) mod elimination;
pub mod fault_current;
pub mod lane;
pub mod linear;
mod piece;
mod plan;
pub mod response;
mod schedule;
pub mod solve;
pub mod thevenin;

use serde::Serialize;
use thiserror::Error;

/// Which rail a node belongs to. Both rails' potentials are kept relative to their own level, so
/// that the millivolts along a conductor are not lost beside the 50 V between the rails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rail {
    /// The minus side.
    Negative,
    /// The plus side.
    Positive,
}

/// One branch of the graph; its current is positive from `from` to `to`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Branch {
    /// Number of a node.
    pub from: usize,
    /// Number of a node.
    pub to: usize,
}

/// Nodes, branches, and the two nodes between which the load lies.
#[derive(Clone, Debug, PartialEq)]
pub struct Network {
    rails: Vec<Rail>,
    branches: Vec<Branch>,
    positive: usize,
    negative: usize,
}

/// Why a graph is not a network.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NetworkError {
    /// Number of the branch.
    #[error("branch {0} names a node that does not exist")]
    NoSuchNode(usize),
    /// Number of the branch.
    #[error("branch {0} joins a node to itself")]
    Loop(usize),
    /// The two nodes of the load.
    #[error("the load's two terminals are one node, or do not exist")]
    Terminals,
}

impl Network {
    /// # Errors
    /// A branch to a node that does not exist, from a node to itself, or terminals that are no
    /// two nodes.
    pub fn new(
        rails: Vec<Rail>,
        branches: Vec<Branch>,
        positive: usize,
        negative: usize,
    ) -> Result<Network, NetworkError> {
        let exists = |node: usize| node < rails.len();
        if positive == negative || !exists(positive) || !exists(negative) {
            return Err(NetworkError::Terminals);
        }
        for (k, branch) in branches.iter().enumerate() {
            if !exists(branch.from) || !exists(branch.to) {
                return Err(NetworkError::NoSuchNode(k));
            }
            if branch.from == branch.to {
                return Err(NetworkError::Loop(k));
            }
        }
        Ok(Network { rails, branches, positive, negative })
    }

    /// The rail of each node.
    pub fn rails(&self) -> &[Rail] {
        &self.rails
    }

    /// In order of their numbers.
    pub fn branches(&self) -> &[Branch] {
        &self.branches
    }

    /// Node of the positive terminal.
    pub fn positive(&self) -> usize {
        self.positive
    }

    /// Node of the negative terminal.
    pub fn negative(&self) -> usize {
        self.negative
    }
}

/// Which way a branch lets current through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Law {
    /// Both ways.
    Both,
    /// Only from `from` to `to`, with this voltage lost across the blocking switch [V].
    ForwardOnly {
        /// At least 0 [V].
        drop: f64,
    },
    /// Only from `to` to `from`, with this voltage lost [V].
    ReverseOnly {
        /// At least 0 [V].
        drop: f64,
    },
    /// Neither way.
    Open,
}

/// Where a branch whose electronics hold its own current does so [A]: a voltage behind a resistance up
/// to here, a constant current beyond.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SelfLimit {
    /// From `from` to `to`.
    pub forward: f64,
    /// From `to` to `from`.
    pub reverse: f64,
}

impl From<Option<crate::scenario::SelfLimit>> for SelfLimit {
    fn from(limit: Option<crate::scenario::SelfLimit>) -> SelfLimit {
        limit.map_or(SelfLimit::NONE, |l| SelfLimit { forward: l.discharge, reverse: l.charge })
    }
}

impl SelfLimit {
    /// A passive branch.
    pub const NONE: SelfLimit = SelfLimit { forward: f64::INFINITY, reverse: f64::INFINITY };
}

/// One branch at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Element {
    /// Electromotive force from `from` to `to` [V]; 0 for a conductor.
    pub emf: f64,
    /// [Ω], above zero.
    pub resistance: f64,
    /// Which way current may flow.
    pub law: Law,
    /// Where its own electronics hold its current.
    pub self_limit: SelfLimit,
}

impl Element {
    /// A passive branch of this resistance [Ω].
    pub fn conductor(resistance: f64) -> Element {
        Element::source(0.0, resistance)
    }

    /// An electromotive force [V] behind a resistance [Ω], both ways.
    pub fn source(emf: f64, resistance: f64) -> Element {
        Element { emf, resistance, law: Law::Both, self_limit: SelfLimit::NONE }
    }

    /// Whether its law passes current one way only.
    pub fn is_one_way(&self) -> bool {
        matches!(self.law, Law::ForwardOnly { .. } | Law::ReverseOnly { .. })
    }

    /// The electromotive force while the branch conducts: less what its switch takes.
    pub fn driving(&self) -> f64 {
        match self.law {
            Law::ForwardOnly { drop } => self.emf - drop,
            Law::ReverseOnly { drop } => self.emf + drop,
            Law::Both | Law::Open => self.emf,
        }
    }

    /// Whether its characteristic bends anywhere.
    pub fn has_pieces(&self) -> bool {
        self.law != Law::Open && (self.is_one_way() || self.self_limit != SelfLimit::NONE)
    }

    /// The drives at which it bends [V]: where a blocked direction begins, and where it holds itself.
    pub fn bends(&self) -> [Option<f64>; 3] {
        let held = |amps: f64| Some(amps * self.resistance).filter(|drive| drive.is_finite());
        [self.is_one_way().then_some(0.0), held(self.self_limit.forward), held(-self.self_limit.reverse)]
    }
}

/// What the load asks of the terminals; positive discharges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Demand {
    /// [A]
    Current(f64),
    /// [W]
    Power(f64),
}

impl Demand {
    /// Nothing is asked: no current.
    pub const NONE: Demand = Demand::Current(0.0);

    /// Whether it is above zero.
    pub fn is_discharge(self) -> bool {
        match self {
            Demand::Current(x) | Demand::Power(x) => x > 0.0,
        }
    }
}

/// Voltage and current at the terminals.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Terminals {
    /// [V]
    pub voltage: f64,
    /// [A], positive in discharge.
    pub current: f64,
}

/// Whether the demand can be met.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outcome {
    /// It is met, with this at the terminals.
    Carried(Terminals),
    /// No current of the bank meets the demand; the branches are left as they are at open
    /// circuit, with this voltage at the terminals (`None`: nothing connects them).
    NotCarried {
        /// [V]
        open_circuit: Option<f64>,
    },
}
