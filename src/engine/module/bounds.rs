//! Within which values nothing about a module changes.
//!
//! In: its guards, heater and way back in. Out: a range for each quantity that they watch: as long as all are inside,
//! no guard has an excess.

use super::guards::Quantity;
use super::{Joining, ModuleState};
use crate::engine::guard::GuardState;

/// From the least to the greatest, both inside.
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
    fn negated(self) -> Range {
        Range { low: -self.high, high: -self.low }
    }
}

/// Ranges of what a module's guards watch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    pub charge: Range,
    /// As its sensor reads it [°C].
    pub temperature: Range,
    pub cell_voltage: Range,
    /// Positive in discharge [A].
    pub current: Range,
}

impl Bounds {
    pub const ANY: Bounds =
        Bounds { charge: Range::ANY, temperature: Range::ANY, cell_voltage: Range::ANY, current: Range::ANY };

    fn narrow(&mut self, quantity: Quantity, range: Range) {
        let (of, range) = match quantity {
            Quantity::Charge => (&mut self.charge, range),
            Quantity::Temperature => (&mut self.temperature, range),
            Quantity::CellVoltage => (&mut self.cell_voltage, range),
            Quantity::Current => (&mut self.current, range),
            Quantity::ChargeCurrent => (&mut self.current, range.negated()),
        };
        *of = of.within(range);
    }
}

impl ModuleState {
    /// `None` where it compares voltages to rejoin, which depends on its neighbours.
    pub fn bounds(&self) -> Option<Bounds> {
        if self.joining == Joining::Comparing {
            return None;
        }
        let mut bounds = Bounds::ANY;
        for guard in &self.guards {
            bounds.narrow(guard.quantity, guard.state.range());
        }
        bounds.narrow(Quantity::Temperature, self.heater.as_ref().map_or(Range::ANY, GuardState::range));
        Some(bounds)
    }
}
