//! Why a question to a bank at rest has no answer.

use crate::network::solve::Unsolvable;
use crate::progress::Interrupted;

/// Why there is none.
#[derive(Debug, thiserror::Error)]
pub enum Halt {
    /// The flag to stop was raised.
    #[error(transparent)]
    Interrupted(#[from] Interrupted),
    /// The network has values that are not finite.
    #[error(transparent)]
    Unsolvable(#[from] Unsolvable),
}
