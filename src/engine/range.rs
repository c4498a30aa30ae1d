//! A range of values within which nothing changes.

/// The values from `low` to `high`, both included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    pub low: f64,
    pub high: f64,
}

impl Range {
    pub const ANY: Range = Range { low: f64::NEG_INFINITY, high: f64::INFINITY };

    /// Up to so much either way.
    pub fn about_zero(most: f64) -> Range {
        Range { low: -most, high: most }
    }

    pub fn within(self, other: Range) -> Range {
        Range { low: self.low.max(other.low), high: self.high.min(other.high) }
    }

    pub fn contains(self, x: f64) -> bool {
        self.low <= x && x <= self.high
    }

    /// The same of the negative quantity.
    pub fn negated(self) -> Range {
        Range { low: -self.high, high: -self.low }
    }
}
