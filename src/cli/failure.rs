//! What stops a command, and the exit code that says so.

use super::{complain, tell};
use crate::diagnostic::Diagnostic;
use crate::escape;

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

    pub fn code(&self) -> u8 {
        match self {
            Failure::Input(_) | Failure::Usage(_) => Failure::INPUT,
            Failure::Machine(_) => Failure::MACHINE,
            Failure::Interrupted(_) => Failure::INTERRUPTED,
        }
    }

    /// Tells standard error.
    pub fn print(&self) {
        match self {
            Failure::Input(faults) => complain(faults),
            Failure::Usage(text) | Failure::Machine(text) => {
                tell(&format!("bankwright: {}\n", escape::line(text)));
            }
            Failure::Interrupted(text) => tell(&format!("{text}\n")),
        }
    }
}
