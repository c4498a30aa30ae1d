//! The bank's controller: limits that are announced, sent, and acted upon later.
//!
//! In: what the modules in service allow at a moment. Out: the limits that the inverter obeys, and
//! when they next change.
//!
//! A limit that has changed is sent at the next whole multiple of the period, arrives after the
//! delay, and the inverter acts after its reaction. In between it goes on as before: that is the
//! race after a dropout. While the link is down nothing arrives, and after `lost_after` the
//! inverter does what it is set to do about it.

use super::module::Bounds;
use super::range::Range;
use crate::scenario::{Controller, LimitRule, OnLoss};
use crate::time::Time;
use std::collections::VecDeque;

/// A limit counts as changed beyond this share of it.
const CHANGED_BY: f64 = 1e-9;

/// Greatest currents of the bank [A]; infinite where nothing limits them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// In discharge, from 0.
    pub discharge: f64,
    /// In charge, from 0: a magnitude.
    pub charge: f64,
}

impl Limits {
    /// Nothing limits the current.
    pub const NONE: Limits = Limits { discharge: f64::INFINITY, charge: f64::INFINITY };

    /// Whether they hold back a current (positive in discharge).
    pub fn are_exceeded_by(self, amps: f64) -> bool {
        amps > self.discharge || amps < -self.charge
    }

    fn differs(self, other: Limits) -> bool {
        let differs = |a: f64, b: f64| a != b && (a - b).abs() > CHANGED_BY * a.abs().min(b.abs());
        differs(self.discharge, other.discharge) || differs(self.charge, other.charge)
    }
}

/// What one module allows.
#[derive(Clone, Copy, Debug)]
pub struct Allowed {
    /// Whether it may discharge.
    pub delivers: bool,
    /// Whether it may be charged.
    pub takes_charge: bool,
    /// Its own limits [A]; infinite: unrated.
    pub limits: Limits,
    /// Temperature as its sensor reads it [°C].
    pub temperature: f64,
    /// Mean voltage of its cells [V].
    pub cell_voltage: f64,
}

/// The limits that a controller announces for these modules.
pub fn announced(controller: &Controller, modules: impl Iterator<Item = Allowed> + Clone) -> Limits {
    let delivering = modules.clone().filter(|m| m.delivers);
    let charging = modules.filter(|m| m.takes_charge);
    let discharge = combine(controller.rule, delivering.clone().map(|m| m.limits.discharge));
    let charge = combine(controller.rule, charging.clone().map(|m| m.limits.charge));
    let share = |curve: &Option<crate::curve::Curve>, x: f64| match curve {
        Some(curve) if x.is_finite() => curve.value(x),
        _ => 1.0,
    };
    let coldest =
        |modules: &mut dyn Iterator<Item = Allowed>| modules.map(|m| m.temperature).fold(f64::INFINITY, f64::min);
    let lowest = delivering.clone().map(|m| m.cell_voltage).fold(f64::INFINITY, f64::min);
    let highest = charging.clone().map(|m| m.cell_voltage).fold(f64::NEG_INFINITY, f64::max);
    let discharge_share = share(&controller.discharge_by_temperature, coldest(&mut delivering.clone()))
        * share(&controller.discharge_by_cell_voltage, lowest);
    let charge_share = share(&controller.charge_by_temperature, coldest(&mut charging.clone()))
        * share(&controller.charge_by_cell_voltage, highest);
    // Nothing of what is unrated is nothing.
    let part = |limit: f64, share: f64| if share == 0.0 { 0.0 } else { limit * share };
    Limits { discharge: part(discharge, discharge_share), charge: part(charge, charge_share) }
}

/// The ranges of temperature and cell voltage of every module within which the announced limits stay the same; `None` where
/// the limits change with one of them.
pub fn flat_about(controller: &Controller, modules: impl Iterator<Item = Allowed> + Clone) -> Option<Bounds> {
    let (mut temperature, mut cell_voltage) = (Range::ANY, Range::ANY);
    let delivering = modules.clone().filter(|m| m.delivers);
    let charging = modules.filter(|m| m.takes_charge);
    let coldest = |m: &mut dyn Iterator<Item = Allowed>| m.map(|m| m.temperature).fold(f64::INFINITY, f64::min);
    let lowest = delivering.clone().map(|m| m.cell_voltage).fold(f64::INFINITY, f64::min);
    let highest = charging.clone().map(|m| m.cell_voltage).fold(f64::NEG_INFINITY, f64::max);
    for (curve, x) in [
        (&controller.discharge_by_temperature, coldest(&mut delivering.clone())),
        (&controller.charge_by_temperature, coldest(&mut charging.clone())),
    ] {
        temperature = temperature.within(flat(curve, x)?);
    }
    for (curve, x) in [(&controller.discharge_by_cell_voltage, lowest), (&controller.charge_by_cell_voltage, highest)] {
        cell_voltage = cell_voltage.within(flat(curve, x)?);
    }
    Some(Bounds { temperature, cell_voltage, ..Bounds::ANY })
}

fn flat(curve: &Option<crate::curve::Curve>, x: f64) -> Option<Range> {
    let Some(curve) = curve.as_ref().filter(|_| x.is_finite()) else { return Some(Range::ANY) };
    curve.flat_about(x).map(|(low, high)| Range { low, high })
}

fn combine(rule: LimitRule, limits: impl Iterator<Item = f64>) -> f64 {
    match rule {
        LimitRule::Sum => limits.sum(),
        LimitRule::Least => {
            let (count, least) = limits.fold((0, f64::INFINITY), |(n, least), l| (n + 1, least.min(l)));
            if count == 0 { 0.0 } else { f64::from(count) * least }
        }
    }
}

/// The link and the inverter's side of it in a trial.
#[derive(Clone, Debug)]
pub struct ControllerState {
    model: Controller,
    /// What was last sent, and what the inverter obeys.
    sent: Limits,
    obeyed: Limits,
    /// When what has changed is sent.
    next_send: Time,
    on_the_way: VecDeque<(Time, Limits)>,
    link_up: bool,
    /// When the inverter takes the link for lost.
    lost_at: Time,
    lost: bool,
}

impl ControllerState {
    /// At rest: what is announced now has long been obeyed.
    pub fn new(model: &Controller, now: Limits, link_up: bool) -> ControllerState {
        ControllerState {
            model: model.clone(),
            sent: now,
            obeyed: now,
            next_send: Time::NEVER,
            on_the_way: VecDeque::new(),
            link_up,
            lost_at: Time::NEVER,
            lost: !link_up,
        }
    }

    /// The controller of the scenario.
    pub fn model(&self) -> &Controller {
        &self.model
    }

    /// What the inverter obeys at this moment.
    pub fn limits(&self) -> Limits {
        match self.model.link.on_loss {
            OnLoss::Stop if self.lost => Limits { discharge: 0.0, charge: 0.0 },
            OnLoss::Default { discharge, charge } if self.lost => Limits { discharge, charge },
            _ => self.obeyed,
        }
    }

    /// When something next happens on the link.
    pub fn due(&self) -> Time {
        let arrival = self.on_the_way.front().map_or(Time::NEVER, |m| m.0);
        self.next_send.min(arrival).min(self.lost_at)
    }

    /// Takes note of what the modules allow now: a change is sent at the next tick.
    pub fn note(&mut self, now: Time, allowed: Limits) {
        if self.next_send == Time::NEVER && allowed.differs(self.sent) {
            let period = self.model.period.0;
            self.next_send = Time((now.0 + period - 1).div_euclid(period) * period);
        }
    }

    /// Whether what the modules allow is what was last sent.
    pub fn has_told(&self, allowed: Limits) -> bool {
        !allowed.differs(self.sent)
    }

    /// The link fails or is repaired.
    pub fn turn_link(&mut self, now: Time) {
        self.link_up = !self.link_up;
        if self.link_up {
            self.lost_at = Time::NEVER;
            let period = self.model.period.0;
            self.next_send = Time((now.0 + period - 1).div_euclid(period) * period);
        } else {
            self.lost_at = now.after(self.model.link.lost_after);
        }
    }

    /// Sends and receives what is due; true if the inverter's limits changed.
    pub fn take_due(&mut self, now: Time, allowed: Limits) -> bool {
        let before = (self.limits(), self.lost);
        if self.next_send <= now {
            self.next_send = Time::NEVER;
            if self.link_up {
                self.sent = allowed;
                let acts = now.after(self.model.delay).after(self.model.reaction);
                self.on_the_way.push_back((acts, allowed));
            }
        }
        if self.lost_at <= now {
            self.lost_at = Time::NEVER;
            self.lost = true;
        }
        while self.on_the_way.front().is_some_and(|m| m.0 <= now) {
            let Some((_, limits)) = self.on_the_way.pop_front() else { break };
            self.obeyed = limits;
            self.lost = self.lost && !self.link_up;
        }
        before != (self.limits(), self.lost)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Link;

    fn controller() -> Controller {
        Controller {
            rule: LimitRule::Sum,
            period: Time::from_seconds(1.0),
            delay: Time::from_seconds(0.2),
            reaction: Time::from_seconds(0.3),
            discharge_by_temperature: None,
            charge_by_temperature: None,
            discharge_by_cell_voltage: None,
            charge_by_cell_voltage: None,
            link: Link { faults: None, lost_after: Time::from_seconds(10.0), on_loss: OnLoss::Stop },
        }
    }

    fn limits(discharge: f64) -> Limits {
        Limits { discharge, charge: 0.0 }
    }

    #[test]
    fn a_change_is_sent_at_the_tick_and_obeyed_after_delay_and_reaction() {
        let mut c = ControllerState::new(&controller(), limits(800.0), true);
        c.note(Time::from_seconds(3.4), limits(400.0));
        assert_eq!(c.due(), Time::from_seconds(4.0));
        assert!(!c.take_due(Time::from_seconds(4.0), limits(400.0)));
        assert_eq!(c.due(), Time::from_seconds(4.5));
        assert_eq!(c.limits().discharge, 800.0);
        assert!(c.take_due(Time::from_seconds(4.5), limits(400.0)));
        assert_eq!(c.limits().discharge, 400.0);
        assert_eq!(c.due(), Time::NEVER);
    }

    #[test]
    fn a_lost_link_stops_the_inverter_until_the_next_message() {
        let mut c = ControllerState::new(&controller(), limits(800.0), true);
        c.turn_link(Time::from_seconds(5.0));
        assert_eq!(c.due(), Time::from_seconds(15.0));
        assert!(c.take_due(Time::from_seconds(15.0), limits(800.0)));
        assert_eq!(c.limits().discharge, 0.0);
        c.turn_link(Time::from_seconds(20.0));
        c.take_due(Time::from_seconds(20.0), limits(800.0));
        assert!(c.take_due(Time::from_seconds(20.5), limits(800.0)));
        assert_eq!(c.limits().discharge, 800.0);
    }

    #[test]
    fn rules_of_the_limit() {
        let module = |amps: f64, delivers| Allowed {
            delivers,
            takes_charge: delivers,
            limits: Limits { discharge: amps, charge: amps / 2.0 },
            temperature: 20.0,
            cell_voltage: 3.3,
        };
        let modules = [module(100.0, true), module(80.0, true), module(100.0, false)];
        let sum = announced(&controller(), modules.into_iter());
        assert_eq!(sum, Limits { discharge: 180.0, charge: 90.0 });
        let least = Controller { rule: LimitRule::Least, ..controller() };
        assert_eq!(announced(&least, modules.into_iter()).discharge, 160.0);
    }
}
