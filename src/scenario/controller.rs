//! The limits that a bank announces, and the link over which it does.

use super::chance::Faults;
use crate::curve::Curve;
use crate::time::Time;

/// The bank's controller: announces limits of current to the inverter over a link.
#[derive(Clone, Debug, PartialEq)]
pub struct Controller {
    /// How limits of modules make that of the bank.
    pub rule: LimitRule,
    /// Limits are sent at whole multiples of this.
    pub period: Time,
    /// From sending to arrival.
    pub delay: Time,
    /// From arrival to the inverter's action.
    pub reaction: Time,
    /// Share of the limit by the temperature of the coldest module for discharge and for charge.
    pub discharge_by_temperature: Option<Curve>,
    /// The same for charge.
    pub charge_by_temperature: Option<Curve>,
    /// Share of the limit by the lowest cell voltage in discharge, the highest in charge [V].
    pub discharge_by_cell_voltage: Option<Curve>,
    /// The same in charge, by the highest cell voltage [V].
    pub charge_by_cell_voltage: Option<Curve>,
    /// The link to the inverter.
    pub link: Link,
}

impl Controller {
    /// Whether what it announces follows temperature or voltage, and not only which modules are in service.
    pub fn derates(&self) -> bool {
        let by_temperature = [&self.discharge_by_temperature, &self.charge_by_temperature];
        let by_voltage = [&self.discharge_by_cell_voltage, &self.charge_by_cell_voltage];
        by_temperature.into_iter().chain(by_voltage).any(Option::is_some)
    }
}

/// How limits of modules make that of the bank.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LimitRule {
    /// The sum of the limits of the modules in service.
    Sum,
    /// The least limit of a module in service, times their number.
    Least,
}

/// The link between controller and inverter, and what its loss does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Link {
    /// Mean time between failures and mean time to repair [s]; `None`: it never fails.
    pub faults: Option<Faults>,
    /// How long without a message before the inverter acts.
    pub lost_after: Time,
    /// What the inverter does then.
    pub on_loss: OnLoss,
}

/// What the inverter does when the link is lost.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum OnLoss {
    /// The inverter stops.
    Stop,
    /// It goes on with the last limits.
    Hold,
    /// It goes on with these [A].
    Default {
        /// Magnitude [A].
        discharge: f64,
        /// Magnitude [A].
        charge: f64,
    },
}
