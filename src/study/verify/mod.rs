//! Checks of the program against answers that are known from elsewhere.
//!
//! In: nothing. Out: a `Record`: for each check its subject, the source of the answer, the answer, what the program
//! finds, and how far the two may differ. The program is asked as its commands ask it: a scenario is read, a point
//! solved, a limit searched, a night run. Answers are typed from their source or follow from a closed form that stands
//! here; none is taken from the tables and formulas that are checked.

mod case;
#[cfg(feature = "cli")]
pub(crate) mod command;
mod conductors;
mod devices;
mod modules;
mod networks;
mod nights;
#[cfg(feature = "charts")]
pub mod output;
mod statistics;

pub use case::Check;

use serde::Serialize;

/// All checks.
#[derive(Clone, Debug, Serialize)]
pub struct Record {
    /// In the order of the parts of the program.
    pub checks: Vec<Check>,
    /// Number of checks that do not pass.
    pub failed: usize,
}

/// Works out every check.
pub fn record() -> Record {
    let parts =
        [conductors::part(), devices::part(), networks::part(), modules::part(), nights::part(), statistics::part()];
    let checks: Vec<Check> = parts.into_iter().flat_map(|part| part.checks).collect();
    let failed = checks.iter().filter(|check| !check.pass).count();
    Record { checks, failed }
}
