//! Where each lane is on a curve of straight lines, and in a range.

use crate::curve::{Curve, Segment};
use crate::engine::range::Range;
use crate::network::lane::{Lane, any_of, lanes};

/// The segment of a curve that each lane is on.
#[derive(Clone, Debug)]
pub struct Segments<const N: usize> {
    above: Lane<N>,
    to: Lane<N>,
    pub at_0: Lane<N>,
    pub slope: Lane<N>,
}

impl<const N: usize> Segments<N> {
    pub fn new() -> Segments<N> {
        // Is on none: the first look finds the segment.
        Segments { above: Lane::all(f64::INFINITY), to: Lane::ZERO, at_0: Lane::ZERO, slope: Lane::ZERO }
    }

    #[inline(always)]
    fn contains_of(&self, l: usize, x: f64) -> bool {
        (self.above[l] < x) & (x <= self.to[l])
    }

    #[inline(always)]
    pub fn contains(&self, x: &Lane<N>) -> bool {
        !any_of::<N>(|l| !self.contains_of(l, x[l]))
    }

    /// Goes to the segments that hold these.
    #[inline(always)]
    pub fn seek(&mut self, x: &Lane<N>, curve: &Curve) {
        if !self.contains(x) {
            self.seek_each(x, curve);
        }
    }

    #[cold]
    #[inline(never)]
    fn seek_each(&mut self, x: &Lane<N>, curve: &Curve) {
        for l in 0..N {
            if self.contains_of(l, x[l]) {
                continue;
            }
            let Segment { above, to, line } = curve.segment(x[l]);
            (self.above[l], self.to[l]) = (above, to);
            (self.at_0[l], self.slope[l]) = (line.at_0, line.slope);
        }
    }

    #[inline(always)]
    pub fn value(&self, x: &Lane<N>) -> Lane<N> {
        lanes(|l| self.at_0[l] + self.slope[l] * x[l])
    }
}

/// As `clamp`, of numbers: comparisons become one instruction each.
#[inline(always)]
pub fn within(x: f64, low: f64, high: f64) -> f64 {
    let x = if x < low { low } else { x };
    if x > high { high } else { x }
}

/// Ranges in every lane.
#[derive(Clone, Debug)]
pub struct LaneRange<const N: usize> {
    pub low: Lane<N>,
    pub high: Lane<N>,
}

impl<const N: usize> LaneRange<N> {
    pub fn any() -> LaneRange<N> {
        LaneRange { low: Lane::all(f64::NEG_INFINITY), high: Lane::all(f64::INFINITY) }
    }

    pub fn set(&mut self, l: usize, range: Range) {
        (self.low[l], self.high[l]) = (range.low, range.high);
    }

    #[inline(always)]
    pub fn contains(&self, l: usize, x: f64) -> bool {
        (self.low[l] <= x) & (x <= self.high[l])
    }
}
