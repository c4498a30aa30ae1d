//! What stops a command, and the exit code that says so.

use crate::diagnostic::Diagnostic;
use crate::network::NetworkError;
use crate::output::kit::chart::canvas::ChartError;
use crate::output::kit::folder::FolderError;
use crate::study::error::StudyError;
use crate::trials::RunError;

/// Why a command did not do what it was asked.
#[derive(Debug)]
pub enum Failure {
    /// The scenario or a file that it names is wrong.
    Input(Vec<Diagnostic>),
    /// The arguments are wrong.
    Usage(String),
    /// The program or the machine failed.
    Machine(String),
    /// Stopped by the user; what was done is kept. The text says how to go on.
    Interrupted(String),
}

impl Failure {
    /// Exit code: the program or the machine failed.
    pub const MACHINE: u8 = 1;
    /// Exit code: the scenario or the arguments are wrong.
    pub const INPUT: u8 = 2;
    /// Exit code: the user stopped it.
    pub const INTERRUPTED: u8 = 130;

    /// The exit code.
    pub fn code(&self) -> u8 {
        match self {
            Failure::Input(_) | Failure::Usage(_) => Failure::INPUT,
            Failure::Machine(_) => Failure::MACHINE,
            Failure::Interrupted(_) => Failure::INTERRUPTED,
        }
    }

    fn machine(error: impl ToString) -> Failure {
        Failure::Machine(error.to_string())
    }

    fn usage(error: impl ToString) -> Failure {
        Failure::Usage(error.to_string())
    }
}

impl From<FolderError> for Failure {
    fn from(error: FolderError) -> Failure {
        if error.is_refusal() { Failure::usage(error) } else { Failure::machine(error) }
    }
}

impl From<RunError> for Failure {
    fn from(error: RunError) -> Failure {
        match error {
            RunError::Input(faults) => Failure::Input(faults),
            RunError::OutOfRange(..) => Failure::usage(error),
            RunError::Interrupted(_) => Failure::Interrupted("interrupted; nothing was written".to_owned()),
            RunError::Checkpoint(error) => match error.downcast::<FolderError>() {
                Ok(error) => Failure::from(*error),
                Err(error) => Failure::machine(error),
            },
            RunError::Threads(_) | RunError::Network(_) | RunError::Trial(_) => Failure::machine(error),
        }
    }
}

impl From<StudyError> for Failure {
    fn from(error: StudyError) -> Failure {
        match error {
            StudyError::Run(error) => error.into(),
            StudyError::Unsolvable(_) => Failure::machine(error),
            _ => Failure::usage(error),
        }
    }
}

impl From<ChartError> for Failure {
    fn from(error: ChartError) -> Failure {
        Failure::machine(error)
    }
}

impl From<NetworkError> for Failure {
    fn from(error: NetworkError) -> Failure {
        Failure::machine(error)
    }
}
