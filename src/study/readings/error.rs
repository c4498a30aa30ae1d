//! Why readings are not explained.

use super::mistaken::Mistaken;
use crate::bounds::READING_ELEMENTS;
use crate::study::error::StudyError;

/// Why readings are not explained.
#[derive(Debug, thiserror::Error)]
pub enum ReadingsError {
    /// An error that every study may have.
    #[error(transparent)]
    Study(StudyError),
    #[error(
        "the bank has {0} elements (modules, jumpers, lead conductors, stretches of bar); `readings` takes {READING_ELEMENTS} \
         at most: describe the stacks that were measured in a scenario of their own"
    )]
    /// The bank has this number of elements, more than can be solved for at once.
    TooManyElements(usize),
    /// Nothing explains the readings.
    #[error("the readings are so far from the scenario that no currents explain them: is it this bank?")]
    Unexplained,
    /// Readings that contradict the others, the likeliest to be wrong first.
    #[error("the readings contradict each other")]
    Contradictory(Vec<Mistaken>),
}

impl<E: Into<StudyError>> From<E> for ReadingsError {
    fn from(error: E) -> ReadingsError {
        ReadingsError::Study(error.into())
    }
}
