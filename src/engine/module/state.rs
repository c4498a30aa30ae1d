//! What a module may do, and why it may not do more.

use crate::network::Law;
use serde::{Deserialize, Serialize};

/// Why a direction is blocked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Reason {
    /// It dropped out by chance, for some time.
    Fault,
    /// Below the lowest temperature of this direction.
    Cold,
    /// Above the highest temperature of this direction.
    Hot,
    /// The voltage of its cells is below the permitted range.
    LowVoltage,
    /// The voltage of its cells is above the permitted range.
    HighVoltage,
    /// No charge left that it may give.
    Empty,
    /// It cannot take more charge.
    Full,
    /// A stage of its over-current protection tripped.
    OverCurrent,
    /// All of its stack is out at once.
    StackFault,
    /// Its protection opened without a cause.
    Nuisance,
    /// Cut off in the communication chain.
    Chain,
    /// A fuse or breaker has opened.
    Device,
    /// A conductor has opened by itself.
    Broken,
    /// Nothing blocks it any more; it waits, compares voltages or pre-charges before it closes.
    Rejoining,
}

impl Reason {
    /// As screen, JSON and CSV name it.
    pub fn word(self) -> &'static str {
        match self {
            Reason::Fault => "fault",
            Reason::Cold => "cold",
            Reason::Hot => "hot",
            Reason::LowVoltage => "low voltage",
            Reason::HighVoltage => "high voltage",
            Reason::Empty => "empty",
            Reason::Full => "full",
            Reason::OverCurrent => "over-current",
            Reason::StackFault => "stack fault",
            Reason::Nuisance => "nuisance trip",
            Reason::Chain => "chain link",
            Reason::Device => "device opened",
            Reason::Broken => "broken",
            Reason::Rejoining => "rejoining",
        }
    }

    /// Whether it is the end of the charge, and not a dropout.
    pub fn is_exhaustion(self) -> bool {
        matches!(self, Reason::Empty | Reason::LowVoltage)
    }

    /// Whether protection took it out, for a cause.
    pub fn is_protection(self) -> bool {
        matches!(self, Reason::OverCurrent | Reason::LowVoltage | Reason::HighVoltage | Reason::Device)
    }

    /// Whether chance took it out.
    pub fn is_fault(self) -> bool {
        matches!(self, Reason::Fault | Reason::StackFault | Reason::Nuisance | Reason::Chain)
    }
}

/// What a module may do. Its words are the same on screen, in JSON and in CSV.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(into = "&'static str")]
pub enum State {
    /// Both ways.
    InService,
    /// It delivers, and takes no charge.
    DischargeOnly,
    /// It takes charge, and does not deliver.
    ChargeOnly,
    /// Neither way.
    Open,
}

impl From<State> for &'static str {
    fn from(state: State) -> Self {
        state.word()
    }
}

impl State {
    /// As screen, JSON and CSV name it.
    pub fn word(self) -> &'static str {
        match self {
            State::InService => "in service",
            State::DischargeOnly => "discharge only",
            State::ChargeOnly => "charge only",
            State::Open => "open",
        }
    }

    /// Whether it may discharge.
    pub fn delivers(self) -> bool {
        matches!(self, State::InService | State::DischargeOnly)
    }

    /// Whether it may be charged.
    pub fn takes_charge(self) -> bool {
        matches!(self, State::InService | State::ChargeOnly)
    }

    /// What a switch that takes `drop` [V] takes off the electromotive force; negative in reverse.
    pub fn drop(self, drop: f64) -> f64 {
        match self {
            State::DischargeOnly => drop,
            State::ChargeOnly => -drop,
            State::InService | State::Open => 0.0,
        }
    }

    /// The sign by which a voltage keeps it from passing current where it may one way: 1 where it may be charged, −1 where
    /// it may discharge, 0 where it may both or neither.
    pub fn blocked(self) -> f64 {
        match self {
            State::DischargeOnly => -1.0,
            State::ChargeOnly => 1.0,
            State::InService | State::Open => 0.0,
        }
    }

    /// Which way its branch lets current through; one way only, with `drop` [V] lost across its switch.
    pub fn law(self, drop: f64) -> Law {
        match self {
            State::InService => Law::Both,
            State::DischargeOnly => Law::ForwardOnly { drop },
            State::ChargeOnly => Law::ReverseOnly { drop },
            State::Open => Law::Open,
        }
    }
}
