//! One step of a trial: predict its end, shorten it to the first event, make its end the present.
//!
//! In: a trial at its `now`. Out: the same trial at the step's end.
//!
//! The step from t to t + h solves the network once, at its end. Each module's charge follows
//! z₁ = z₀ − h/Q·((1−θ)·i₀ + θ·i₁), so that its voltage at the end, E(z₁) − R·i₁, is that of a
//! source E(z₀ − (1−θ)·h·i₀/Q) behind R + θ·h·E′/Q: the implicit part costs nothing. E is the segment of the curve on
//! which the end would lie with i₀; where it lies on another, or asks for another weight, it is solved again (Newton's
//! method, finite on a monotone curve of straight lines but for a cap on the attempts). The weight θ is one for all
//! modules, so that together they give up exactly what the load takes. It is ½, the trapezoidal rule, second order,
//! unless a module is at a steep end of its curve, before the step or after it. With x = h·E′/(Q·R), the step multiplies a
//! departure from balance by (1 − (1−θ)·x)/(1 + θ·x), which stays above zero, so that nothing oscillates, for
//! θ ≥ 1 − 1/x.

use super::Trial;
use super::pace::Pace;
use crate::engine::ambient::Surroundings;
use crate::engine::bracket::Bracket;
use crate::engine::inverter::{Asked, InverterState};
use crate::engine::module::{ModuleState, Watched};
use crate::engine::observe::Observer;
use crate::engine::result::TrialError;
use crate::engine::tally::Taken;
use crate::engine::wiring::Strain;
use crate::math;
use crate::time::Time;

/// Segments that a step's end is looked for on. A module crosses one or two; the steps that are tried
/// before an event is located may cross all.
pub(super) const MOST_ATTEMPTS: u32 = 12;

/// A tangent holds at a charge where it is this near to the curve [V].
pub(super) const SAME_VOLTAGE: f64 = 1e-6;

/// Charge by which a step may differ from the trapezoidal rule (0…1).
pub(super) const COARSE: f64 = 1e-5;

impl Trial<'_> {
    /// Where the next step must end at the latest.
    pub(super) fn boundary(&mut self) -> Time {
        let grid = self.now.next_multiple(self.stride());
        let load = self.load.at(self.now).1;
        let air = self.air.next_reading(self.now);
        let timers = self.modules.iter().map(ModuleState::due);
        let soonest = timers.min().unwrap_or(Time::NEVER).min(self.next_change_due());
        let fixed = grid.min(load).min(air).min(self.model.trials.horizon);
        let devices = self.inverter.due().min(self.controller_due());
        fixed.min(soonest).min(devices).max(self.now + Time(1))
    }

    pub(super) fn is_on_grid(&self) -> bool {
        self.now.0 % self.model.grid.0 == 0
    }

    /// Works out the next step: to the boundary, or as much of the way there as is fine enough.
    pub(super) fn look_ahead(&mut self) -> Result<(), TrialError> {
        let most = self.boundary() - self.now;
        let mut width = Some(self.pace.first(most));
        while let Some(tried) = width {
            self.predict(self.now + tried)?;
            width = if self.fails() {
                self.pace.halve()
            } else if self.is_coarse() {
                self.pace.narrow()
            } else {
                None
            };
        }
        Ok(())
    }

    /// Whether the step ahead found no end; or its voltage collapses, which is approached by halves, because a long step
    /// is a poor judge of when.
    fn fails(&self) -> bool {
        !self.ahead.settled || (self.start.carried && !self.end.carried)
    }

    /// Whether the step ahead is too long for its error. It is long and `is_rough`; or it leans on its end by more than
    /// `COARSE`, which costs it the second order (a step of at most 2·Q·R/E′ does not lean at all).
    fn is_coarse(&self) -> bool {
        let lean = (self.ahead.theta - 0.5) * (self.ahead.at - self.now).seconds();
        let leans = |k: usize| {
            let change = self.end.currents[k] - self.start.currents[k];
            lean * change.abs() > COARSE * self.capacity(k)
        };
        !self.turns() && ((0..self.modules.len()).any(leans) || self.is_rough())
    }

    /// Works out where a step to `at` would end, into `ahead` and `end`. It depends on the present
    /// and on `at` alone, not on what was predicted before.
    pub(super) fn predict(&mut self, at: Time) -> Result<(), TrialError> {
        let seconds = (at - self.now).seconds();
        self.ahead.at = at;
        self.ahead.around = self.air.at(at, self.luck.temperature);
        self.ahead.own_warmth = self.own_warmth_after(seconds);
        self.predict_temperatures(seconds, false);
        self.predict_wiring(seconds, false);
        self.ahead.settled = false;
        let mut stiffness = self.stiffness;
        for attempt in 0..MOST_ATTEMPTS {
            self.ahead.theta = theta(seconds * stiffness);
            self.take_charge_of_start(seconds);
            if attempt == 0 {
                self.lay_tangents(seconds);
            }
            self.load_elements(seconds);
            self.solve_end()?;
            self.take_charge_of_end(seconds);
            if self.turns() {
                self.ahead.settled = true;
                break;
            }
            let moved = self.relay_tangents();
            stiffness = stiffness.max(self.stiffness_by(&self.end.currents));
            if !moved && theta(seconds * stiffness) == self.ahead.theta {
                self.ahead.settled = true;
                break;
            }
        }
        self.predict_temperatures(seconds, true);
        self.predict_wiring(seconds, true);
        Ok(())
    }

    /// Conductors and devices at the end: with the currents of the start, or of both ends.
    fn predict_wiring(&mut self, seconds: f64, with_end: bool) {
        let start = &self.start.currents;
        let end = if with_end && !self.turns() { &self.end.currents } else { start };
        let air_at_end = self.ahead.around.room + self.ahead.own_warmth;
        let air = 0.5 * (self.around.room + self.own_warmth + air_at_end);
        let strain = Strain { seconds, start, end, air, heating: self.heating() };
        if with_end {
            self.wiring.predict(self.model, &strain);
        } else {
            self.wiring.foresee(self.model, &strain);
        }
    }

    fn take_charge_of_start(&mut self, seconds: f64) {
        for k in 0..self.modules.len() {
            let gone = (1.0 - self.ahead.theta) * self.start.currents[k] + self.standing_current(k);
            self.ahead.charges[k] = self.modules[k].charge - seconds / self.capacity(k) * gone;
        }
    }

    fn take_charge_of_end(&mut self, seconds: f64) {
        // A voltage that collapses or recovers does so at the end: until then currents were as before.
        let until_end = if self.turns() { &self.start } else { &self.end };
        for k in 0..self.modules.len() {
            let gone = self.ahead.theta * until_end.currents[k];
            self.ahead.charges[k] -= seconds / self.capacity(k) * gone;
        }
    }

    /// Where the end would lie with the currents of the start.
    fn lay_tangents(&mut self, seconds: f64) {
        for k in 0..self.modules.len() {
            let foreseen = self.ahead.charges[k] - self.implicit(k, seconds) * self.start.currents[k];
            self.ahead.tangents[k] = self.model.modules[k].tangent(foreseen);
        }
    }

    /// Charge that an ampere at the end of a step takes [1/A].
    pub(super) fn implicit(&self, k: usize, seconds: f64) -> f64 {
        self.ahead.theta * seconds / self.capacity(k)
    }

    /// Lays a new tangent where a module has come to another segment of its curve than was taken for its end; whether
    /// any has.
    fn relay_tangents(&mut self) -> bool {
        let mut moved = false;
        for k in 0..self.modules.len() {
            let charge = self.ahead.charges[k];
            let right = self.model.modules[k].tangent(charge);
            if (right.value(charge) - self.ahead.tangents[k].value(charge)).abs() > SAME_VOLTAGE {
                self.ahead.tangents[k] = right;
                moved = true;
            }
        }
        moved
    }

    /// Whether the demand can be met at one end of the step and not at the other. One that could not be
    /// met is tried again at the end of each step, and not located within it: the load would come and
    /// go without end where its going lets the voltage recover.
    fn turns(&self) -> bool {
        self.end.carried != self.start.carried
    }

    /// Temperatures at the end: with the losses of the start, then with the mean of both ends.
    fn predict_temperatures(&mut self, seconds: f64, with_end: bool) {
        for (k, module) in self.modules.iter().enumerate() {
            self.temperatures[k] = module.temperature;
            let start = self.start.losses[k];
            self.losses[k] = if with_end { 0.5 * (self.end.losses[k] - start) } else { start };
        }
        let (from, to) = (&self.temperatures, &mut self.ahead.temperatures);
        if with_end {
            return self.heating.correct(from, &self.losses, to);
        }
        let before = self.around.warmed(self.own_warmth);
        let after = self.ahead.around.warmed(self.ahead.own_warmth);
        let around = (&Surroundings::mean(&before, &after), &after);
        self.heating.foresee(seconds, from, &self.losses, around, to);
    }

    /// The room is warmed by the bank and the inverter: C·dΔ/dt = heat − loss·Δ.
    fn own_warmth_after(&self, seconds: f64) -> f64 {
        let Some((loss, capacity)) = self.model.ambient.room_heat else {
            return 0.0;
        };
        let air = self.around.warmed(self.own_warmth);
        let modules = self.modules.iter().enumerate();
        let modules = modules.map(|(k, m)| self.heating.to_air(k, m.temperature, self.start.losses[k], &air));
        let inverter = if self.served() { InverterState::loss(self.asked, self.demand()) } else { 0.0 };
        let settled = (modules.sum::<f64>() + self.start.conductor_loss + inverter) / loss;
        settled + (self.own_warmth - settled) * math::exp(-loss * seconds / capacity)
    }

    /// Greatest excess of any guard at the end ahead: positive where the step crosses an event.
    pub(super) fn excess_ahead(&self) -> f64 {
        let bus = self.end.bus_under(self.demand());
        let guards = self.modules.iter().enumerate().map(|(k, module)| {
            module.excess(&Watched {
                charge: self.ahead.charges[k],
                temperature: self.ahead.temperatures[k] + self.luck.modules[k].sensor,
                cell_voltage: self.end.cell_voltages[k],
                current: self.end.currents[k],
                across_switch: self.ahead.tangents[k].value(self.ahead.charges[k]) - self.end.terminal_voltages[k],
            })
        });
        let limit = self.end.limit_excess(self.limits(), self.start.limited);
        let others = self.inverter.excess(bus).max(limit).max(self.wiring.excess_ahead());
        guards.fold(others, f64::max)
    }

    pub(super) fn excess_now(&self) -> f64 {
        let bus = self.start.bus_under(self.demand());
        let guards = self.modules.iter().enumerate();
        let guards = guards.map(|(k, module)| module.excess(&self.watched(k, &self.start)));
        guards.fold(self.inverter.excess(bus).max(self.wiring.excess_now()), f64::max)
    }

    /// Shortens the step to the first microsecond at which an event has happened.
    pub(super) fn locate(&mut self) -> Result<(), TrialError> {
        self.count_event()?;
        let mut bracket = Bracket::new((self.now, self.excess_now()), (self.ahead.at, self.excess_ahead()));
        while let Some(at) = bracket.guess() {
            self.predict(at)?;
            bracket.narrow(at, self.excess_ahead());
        }
        if self.ahead.at != bracket.high() {
            self.predict(bracket.high())?;
        }
        Ok(())
    }

    /// Makes the end ahead the present.
    pub(super) fn commit(&mut self, observer: &mut impl Observer) -> Result<(), TrialError> {
        let turns = self.turns();
        let delivers = self.start.carried && (self.inverter.runs() || self.asked.is_charge());
        let delivered = if delivers { self.start.share } else { 0.0 };
        let taken = Taken {
            from: self.now,
            to: self.ahead.at,
            start: &self.start,
            end: if turns { &self.start } else { &self.end },
            short: if self.served() { 0.0 } else { self.power_asked() * (1.0 - delivered) },
            curtailed: if self.asked.is_charge() { -self.power_asked() * (1.0 - delivered) } else { 0.0 },
            air: (self.around.room + self.own_warmth, self.ahead.around.room + self.ahead.own_warmth),
            wiring: &self.wiring,
        };
        self.tally.add(self.model, &taken, observer);
        self.work.steps += 1;
        self.now = self.ahead.at;
        self.pace.take(self.is_on_grid());
        self.around = self.ahead.around;
        self.own_warmth = self.ahead.own_warmth;
        self.wiring.commit();
        for (k, module) in self.modules.iter_mut().enumerate() {
            // A trace beyond the end is kept: it is what tells a guard that the end has been reached.
            module.charge = self.ahead.charges[k].clamp(-1e-9, 1.0 + 1e-9);
            module.temperature = self.ahead.temperatures[k];
        }
        if turns {
            // What the step was shortened for is over.
            self.pace = Pace::new();
            return self.resolve(observer);
        }
        std::mem::swap(&mut self.start, &mut self.end);
        self.note_start();
        self.tell_service(observer);
        Ok(())
    }

    fn power_asked(&self) -> f64 {
        match self.asked {
            Asked::Power(watts) => watts,
            Asked::Current(amps) => amps * self.served_voltage,
        }
    }
}

/// Weight of the end of a step: the least of at least ½ that does not oscillate.
#[inline(always)]
pub(super) fn theta(x: f64) -> f64 {
    (1.0 - 1.0 / x).max(0.5)
}

#[cfg(test)]
mod tests {
    use super::theta;

    #[test]
    fn theta_runs_from_a_half_to_one_and_never_oscillates() {
        assert_eq!((theta(0.0), theta(2.0)), (0.5, 0.5));
        assert!((theta(1e6) - 1.0).abs() < 1e-5);
        for k in 0..60 {
            let x = 1e-3 * 1.5_f64.powi(k);
            assert!((1.0 - theta(x)) * x <= 1.0 + x * f64::EPSILON, "at {x}");
        }
    }
}
