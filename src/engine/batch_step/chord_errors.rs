//! How far currents may stray from the chord of a step, in every lane.
//!
//! In: what each module adds to it. Out: the greatest of each lane.

use crate::engine::step_error::ChordError;
use crate::network::lane::{Lane, lanes};

/// `ChordError` in every lane.
#[derive(Clone, Copy, Debug)]
pub struct ChordErrors<const N: usize> {
    pub sum: Lane<N>,
    pub high: Lane<N>,
    pub low: Lane<N>,
    pub conductance: Lane<N>,
}

impl<const N: usize> ChordErrors<N> {
    pub const NONE: ChordErrors<N> =
        ChordErrors { sum: Lane::ZERO, high: Lane::ZERO, low: Lane::ZERO, conductance: Lane::ZERO };

    #[inline(always)]
    pub fn of(&self, l: usize) -> ChordError {
        ChordError { sum: self.sum[l], high: self.high[l], low: self.low[l], conductance: self.conductance[l] }
    }

    /// `ChordError::greatest` at these voltages and currents of the bus.
    #[inline(always)]
    pub fn greatest(&self, volts: &Lane<N>, amps: &Lane<N>) -> Lane<N> {
        lanes(|l| self.of(l).greatest(volts[l], amps[l]))
    }
}
