//! Whether a step is good enough.
//!
//! In: a trial with a step worked out ahead. Out: whether it is to be shortened: where a current that strays from the
//! straight line between the step's ends might come over a limit and back, and nobody would see it; or, where the step
//! is longer than the scenario's, a charge or a temperature may be off by more than `stride` lets it.

use super::Trial;
use crate::engine::model::Model;
use crate::engine::module::{Range, State};
use crate::engine::stride::{CHARGE, STRAY, Stray, TEMPERATURE, Way};
use crate::network::bank::{ConductorElement, DeviceElement};
use crate::time::Time;

/// A step so short is good enough.
pub(super) const SHORT: Time = Time(1_000_000);

/// Ranges of what rounding could tell otherwise end so much, relatively, inside their limit.
pub(super) const INSIDE: f64 = 1.0 - 1e-12;

impl Trial<'_> {
    /// Step of the grid now: the scenario's own where the bank gives less than it is asked for, which is looked at again
    /// after each.
    pub(super) fn stride(&self) -> Time {
        let in_full = self.start.carried && !self.start.limited;
        if in_full { self.model.grid } else { self.model.trials.step }
    }

    pub(super) fn is_rough(&self) -> bool {
        let width = self.ahead.at - self.now;
        if width <= SHORT {
            return false;
        }
        let (long, seconds) = (width > self.model.trials.step, width.seconds());
        let mut all = Stray::NONE;
        for k in (0..self.modules.len()).filter(|k| self.states[*k] != State::Open) {
            let stray = all.add(&self.way(k, seconds));
            if long && stray * (seconds / self.capacity(k)) > CHARGE {
                return true;
            }
        }
        let stray = all.greatest(self.end.bus.voltage, self.end.bus.current);
        let warm = long && self.heating.unsettled(&self.ahead.temperatures) > TEMPERATURE;
        warm || (stray > STRAY && self.may_be_over(stray))
    }

    fn way(&self, k: usize, seconds: f64) -> Way {
        Way {
            slopes: (self.slopes[k], self.ahead.tangents[k].slope),
            charge: self.ahead.charges[k] - self.modules[k].charge,
            current: self.end.currents[k] - self.start.currents[k],
            half_per_ampere: 0.5 * seconds / self.capacity(k),
            conductance: 1.0 / self.ahead.resistance[k],
        }
    }

    /// Whether any current, astray by so much, would leave the range in which nothing looks at it.
    fn may_be_over(&self, stray: f64) -> bool {
        let modules = self.modules.len();
        let crosses = |branch: usize, range: Range| {
            let (start, end) = (self.start.currents[branch], self.end.currents[branch]);
            let (least, most) = (start.min(end), start.max(end));
            let outside = most + stray < range.low || least - stray > range.high;
            let inside = range.holds(least - stray) && range.holds(most + stray);
            !(inside || outside)
        };
        let over = |k: usize| {
            let guards = self.modules[k].bounds().map_or(Range::ANY, |b| b.current);
            self.states[k] != State::Open && (crosses(k, module_range(self.model, k)) || crosses(k, guards))
        };
        let air = (self.around.room + self.own_warmth).max(self.ahead.around.room + self.ahead.own_warmth);
        let hot = |(k, conductor): (usize, &ConductorElement)| {
            let (limit, spends) = (conductor.limit(air).unwrap_or(f64::INFINITY), spends_from(self.model, modules + k));
            crosses(modules + k, Range::about_zero(limit)) || crosses(modules + k, Range::about_zero(spends))
        };
        (0..modules).any(over) || self.model.bank.conductors.iter().enumerate().any(hot)
    }
}

/// Currents of a module that are not over its rating, and spend nothing of its device.
pub(super) fn module_range(model: &Model, k: usize) -> Range {
    let most = |limit: Option<f64>| limit.map_or(f64::INFINITY, |limit| limit * INSIDE);
    let (limits, quiet) = (&model.limits[k], spends_from(model, k));
    Range { low: -most(limits.charge).min(quiet), high: most(limits.discharge).min(quiet) }
}

/// The current from which a device in a branch is spent; infinite where there is none.
pub(super) fn spends_from(model: &Model, branch: usize) -> f64 {
    let fitted = model.bank.devices.iter().filter(|d| d.branch == branch);
    fitted.map(|d| quiet_current(model, d)).fold(f64::INFINITY, f64::min)
}

/// The greatest mean current that spends nothing of a device, ripple included [A].
pub(super) fn quiet_current(model: &Model, fitted: &DeviceElement) -> f64 {
    model.device_types[fitted.device].pickup() / model.heating().sqrt() * INSIDE
}
