//! The limits that a bank announces, and the link over which it does.

use super::chance::Faults;
use crate::curve::Curve;
use crate::time::Time;

/// The bank's controller: announces limits of current to the inverter over a link.
#[derive(Clone, Debug, PartialEq)]
pub struct Controller {
    /// How the bank's limit follows from the limits of its modules.
    pub rule: LimitRule,
    /// A changed limit is sent at the next whole multiple of this time after the start of the night.
    pub period: Time,
    /// Time from the sending of a message to its arrival.
    pub delay: Time,
    /// Time from the arrival of a message to the inverter's action.
    pub reaction: Time,
    /// Share of the discharge limit (0…1) by the temperature of the coldest module [°C]; `None`: always all of it.
    pub discharge_by_temperature: Option<Curve>,
    /// Share of the charge limit (0…1) by the temperature of the coldest module [°C]; `None`: always all of it.
    pub charge_by_temperature: Option<Curve>,
    /// Share of the discharge limit (0…1) by the lowest cell voltage [V]; `None`: always all of it.
    pub discharge_by_cell_voltage: Option<Curve>,
    /// Share of the charge limit (0…1) by the highest cell voltage [V]; `None`: always all of it.
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

/// How the bank's limit follows from the limits of its modules.
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
    /// The inverter keeps to the last limits that it received.
    Hold,
    /// The inverter keeps to these limits.
    Default {
        /// Greatest discharge current [A].
        discharge: f64,
        /// Greatest charge current, positive [A].
        charge: f64,
    },
}
