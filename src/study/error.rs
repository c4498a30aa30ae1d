//! Why a question has no answer.

use crate::network::NetworkError;
use crate::network::solve::Unsolvable;
use crate::progress::Interrupted;
use crate::study::limit::sets::MOST_SETS;
use crate::trials::RunError;

/// Why a question has no answer.
#[derive(Debug, thiserror::Error)]
pub enum StudyError {
    /// No module has that identifier; the nearest that one has.
    #[error("there is no module `{0}` in this scenario{hint}", hint = nearest_hint(.1))]
    NoSuchModule(String, Option<String>),
    /// Not even bounds of the limit can be found in reasonable time.
    #[error(
        "{outages} of {modules} modules out make {sets} sets to solve even for bounds, more than {MOST_SETS}; \
         ask for fewer with --outages"
    )]
    TooManySets {
        /// Modules out, as asked for.
        outages: usize,
        /// Modules of the bank.
        modules: usize,
        /// Sets that would have to be solved.
        sets: u64,
    },
    /// The sensitivity of the limit takes more sets than were allowed.
    #[error(
        "the sensitivity of the limit with {outages} modules out takes {sets} sets, more than --most-sets allows; \
         ask for fewer with --outages"
    )]
    TooManyVariations {
        /// Modules out, as asked for.
        outages: usize,
        /// Sets that would have to be solved.
        sets: u64,
    },
    /// There is nothing that a layout could meet or miss.
    #[error("`propose` needs something to meet, and the scenario has no target of `limit`, overload or ride-through")]
    NoTargets,
    /// A layout none of whose parts has a price.
    #[error("layout \"{0}\" has no price, and `propose` looks for the cheapest")]
    NoPrice(String),
    /// A part that has no price, though others of its kind have one.
    #[error(
        "in layout \"{layout}\" {part} has no price, and other layouts have one for theirs: no sum tells the cheapest"
    )]
    HalfPriced {
        /// Name of the layout.
        layout: String,
        /// The kind of part, and its type.
        part: String,
    },
    /// The network has values that are not finite: none for a legal scenario.
    #[error(transparent)]
    Unsolvable(#[from] Unsolvable),
    /// The work was not done to its end, or the scenario lacks what it takes.
    #[error(transparent)]
    Run(#[from] RunError),
}

impl StudyError {
    /// Whether the flag to stop was raised.
    pub fn is_interruption(&self) -> bool {
        matches!(self, StudyError::Run(RunError::Interrupted(_)))
    }
}

impl From<Interrupted> for StudyError {
    fn from(error: Interrupted) -> StudyError {
        RunError::from(error).into()
    }
}

impl From<NetworkError> for StudyError {
    fn from(error: NetworkError) -> StudyError {
        RunError::from(error).into()
    }
}

fn nearest_hint(nearest: &Option<String>) -> String {
    nearest.as_ref().map_or(String::new(), |id| format!("; did you mean `{id}`?"))
}
