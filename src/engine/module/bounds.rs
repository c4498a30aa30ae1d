//! Within which values nothing about a module changes.
//!
//! In: its guards, heater and way back in. Out: a range for each quantity that they watch: as long as all are inside,
//! no guard has an excess.

use super::guards::Quantity;
use crate::engine::range::Range;

/// Ranges of what a module's guards watch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// State of charge, 0 to 1.
    pub soc: Range,
    /// As its sensor reads it [°C].
    pub temperature: Range,
    /// Mean of its cells [V].
    pub cell_voltage: Range,
    /// Positive in discharge [A].
    pub current: Range,
}

impl Bounds {
    /// No limits.
    pub const ANY: Bounds =
        Bounds { soc: Range::ANY, temperature: Range::ANY, cell_voltage: Range::ANY, current: Range::ANY };

    pub(super) fn narrow(&mut self, quantity: Quantity, range: Range) {
        let (of, range) = match quantity {
            Quantity::Soc => (&mut self.soc, range),
            Quantity::Temperature => (&mut self.temperature, range),
            Quantity::CellVoltage => (&mut self.cell_voltage, range),
            Quantity::Current => (&mut self.current, range),
            Quantity::ChargeCurrent => (&mut self.current, range.negated()),
        };
        *of = of.within(range);
    }
}
