//! What stops a command, and the exit code that says so.

use crate::diagnostic::Diagnostic;
use crate::engine::result::TrialError;
use crate::network::NetworkError;
use crate::output::kit::chart::ChartError;
use crate::output::kit::folder::FolderError;
use crate::simulate::SimulateError;
use crate::study::compare::{CompareError, StaticError};
use crate::study::halt::Halt;
use crate::study::limit::LimitError;
use crate::study::point::PointError;
use crate::study::sensitivity::SensitivityError;
use crate::study::static_risk::RiskError;
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
    pub const MACHINE: u8 = 1;
    pub const INPUT: u8 = 2;
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

/// Errors for which the machine or the program is to blame, whatever they say.
macro_rules! of_the_machine {
    ($($error:ty),*) => {
        $(impl From<$error> for Failure {
            fn from(error: $error) -> Failure {
                Failure::machine(error)
            }
        })*
    };
}

of_the_machine!(ChartError, NetworkError, TrialError);

impl From<FolderError> for Failure {
    fn from(error: FolderError) -> Failure {
        if error.is_refusal() { Failure::usage(error) } else { Failure::machine(error) }
    }
}

impl From<RunError> for Failure {
    fn from(error: RunError) -> Failure {
        match error {
            RunError::Incomplete(missing) => Failure::Input(missing),
            RunError::OutOfRange(..) => Failure::usage(error),
            RunError::Interrupted(_) => Failure::Interrupted(String::new()),
            RunError::Checkpoint(error) => match error.downcast::<FolderError>() {
                Ok(error) => Failure::from(*error),
                Err(error) => Failure::machine(error),
            },
            RunError::Threads(_) | RunError::Network(_) | RunError::Trial(_) => Failure::machine(error),
        }
    }
}

impl From<SimulateError> for Failure {
    fn from(error: SimulateError) -> Failure {
        match error {
            SimulateError::Input(faults) => Failure::Input(faults),
            SimulateError::Run(error) => error.into(),
            SimulateError::Limit(error) => error.into(),
        }
    }
}

impl From<Halt> for Failure {
    fn from(halt: Halt) -> Failure {
        match halt {
            Halt::Interrupted(_) => Failure::Interrupted(String::new()),
            Halt::Unsolvable(error) => Failure::machine(error),
        }
    }
}

impl From<PointError> for Failure {
    fn from(error: PointError) -> Failure {
        match error {
            PointError::NoSuchModule(..) => Failure::usage(error),
            PointError::Network(_) | PointError::Unsolvable(_) => Failure::machine(error),
        }
    }
}

impl From<LimitError> for Failure {
    fn from(error: LimitError) -> Failure {
        match error {
            LimitError::TooManySets { .. } => Failure::usage(error),
            LimitError::Network(error) => error.into(),
            LimitError::Halted(halt) => halt.into(),
        }
    }
}

impl From<SensitivityError> for Failure {
    fn from(error: SensitivityError) -> Failure {
        match error {
            SensitivityError::TooManySets { .. } => Failure::usage(error),
            SensitivityError::Network(error) => error.into(),
            SensitivityError::Halted(halt) => halt.into(),
        }
    }
}

impl From<RiskError> for Failure {
    fn from(error: RiskError) -> Failure {
        match error {
            RiskError::Network(error) => error.into(),
            RiskError::Halted(halt) => halt.into(),
        }
    }
}

impl From<StaticError> for Failure {
    fn from(error: StaticError) -> Failure {
        match error {
            StaticError::Limit(error) => error.into(),
            // Nobody has named a module that should be out.
            StaticError::Point(error) => Failure::machine(error),
        }
    }
}

impl From<CompareError> for Failure {
    fn from(error: CompareError) -> Failure {
        match error {
            CompareError::NoLayouts(fault) => Failure::Input(vec![fault]),
            CompareError::Static(error) => error.into(),
            CompareError::Run(error) => error.into(),
        }
    }
}
