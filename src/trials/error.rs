//! Why nights were not run to their end.

use crate::diagnostic::{self, Diagnostic};
use crate::engine::result::TrialError;
use crate::network::NetworkError;
use crate::progress::Interrupted;

/// Why a block could not be kept or read again.
pub type CheckpointError = Box<dyn std::error::Error + Send + Sync>;

/// Why nights were not run to their end.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// The scenario is wrong, or lacks what the nights take: what, where, and how to mend it.
    #[error("{}", diagnostic::render(.0, false))]
    Input(Vec<Diagnostic>),
    /// An option that is out of its range: its name, and the most that it may be.
    #[error("{0} must be from 1 to {1}")]
    OutOfRange(&'static str, u64),
    /// The flag to stop was raised.
    #[error(transparent)]
    Interrupted(#[from] Interrupted),
    /// The system gives no threads.
    #[error("cannot start the threads: {0}")]
    Threads(String),
    /// A block could not be kept or read again.
    #[error(transparent)]
    Checkpoint(CheckpointError),
    /// None for a legal scenario.
    #[error(transparent)]
    Network(#[from] NetworkError),
    /// The engine could not finish a night that was asked for by its number.
    #[error(transparent)]
    Trial(TrialError),
}

impl From<TrialError> for RunError {
    fn from(error: TrialError) -> RunError {
        match error {
            TrialError::GivenUp { .. } => RunError::Interrupted(Interrupted),
            error => RunError::Trial(error),
        }
    }
}
