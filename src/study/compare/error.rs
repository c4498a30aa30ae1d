//! Why layouts are not compared.

use crate::diagnostic::Diagnostic;
use crate::study::halt::Halt;
use crate::study::limit::LimitError;
use crate::study::point::PointError;
use crate::trials::RunError;

/// Why there is no limit, or no operating point at the greatest load.
#[derive(Debug, thiserror::Error)]
pub enum StaticError {
    #[error(transparent)]
    Limit(#[from] LimitError),
    #[error(transparent)]
    Point(#[from] PointError),
}

impl StaticError {
    /// Whether somebody has raised the flag to stop.
    pub fn is_interruption(&self) -> bool {
        matches!(self, StaticError::Limit(LimitError::Halted(Halt::Interrupted(_))))
    }
}

/// Why there is no comparison.
#[derive(Debug, thiserror::Error)]
pub enum CompareError {
    /// The scenario proposes no layout beside itself: where one is to be added.
    #[error("the scenario proposes no layout beside itself")]
    NoLayouts(Diagnostic),
    #[error(transparent)]
    Static(#[from] StaticError),
    #[error(transparent)]
    Run(#[from] RunError),
}
