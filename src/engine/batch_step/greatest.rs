//! The greatest current of a branch so far, and when, in every lane.

use crate::network::lane::{Lane, lanes, mask, select};
use crate::time::Time;

/// A current is the greatest so far beyond this many times the one before: more than rounding, so that the first of
/// equals is kept.
const GREATER: f64 = 1.0 + 1e-12;

/// Magnitudes and times.
#[derive(Clone, Copy, Debug)]
pub struct Greatest<const N: usize> {
    /// [A]
    amps: Lane<N>,
    /// [µs]: whole numbers, exact for 285 years.
    at: Lane<N>,
}

impl<const N: usize> Greatest<N> {
    /// Before any current.
    pub const NONE: Greatest<N> = Greatest { amps: Lane::ZERO, at: Lane::ZERO };

    /// Takes a current of one lane.
    pub fn take_one(&mut self, amps: f64, lane: usize, at: Time) {
        if amps.abs() > self.amps[lane] * GREATER {
            (self.amps[lane], self.at[lane]) = (amps.abs(), at.0 as f64);
        }
    }

    /// Takes the currents of the lanes of `takes`, each at its own time [µs].
    #[inline(always)]
    pub fn take(&mut self, end: &Lane<N>, takes: &Lane<N>, to: &Lane<N>) {
        let (amps, at) = (self.amps, self.at);
        let more: Lane<N> = mask(|l| (end[l].abs() > amps[l] * GREATER) & (takes[l] > 0.0));
        self.amps = select(&more, lanes(|l| end[l].abs()), amps);
        self.at = select(&more, *to, at);
    }

    /// The greatest current in one lane [A], and its time.
    pub fn of(&self, lane: usize) -> (f64, Time) {
        (self.amps[lane], Time(self.at[lane] as i64))
    }

    /// Takes over a lane of another.
    pub fn copy_lane<const M: usize>(&mut self, l: usize, from: &Greatest<M>, m: usize) {
        (self.amps[l], self.at[l]) = (from.amps[m], from.at[m]);
    }
}
