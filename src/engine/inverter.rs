//! The inverter: what the load asks of the bus, and the low-voltage cut-out.
//!
//! In: power at the load. Out: power at the bus, and whether the inverter runs.
//! Discharge: P_dc = P/η(P) + standing. Charge (P < 0): P_dc = P·η(|P|) + standing.

use super::guard::{GuardState, Side};
use super::range::Range;
use crate::network::Demand;
use crate::scenario::{Guard, Inverter};
use crate::time::Time;

/// What the load asks for; positive discharges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Asked {
    /// At the load [W].
    Power(f64),
    /// At the bus [A]; an inverter does not convert it.
    Current(f64),
}

impl Asked {
    pub fn is_demand(self) -> bool {
        match self {
            Asked::Power(x) | Asked::Current(x) => x > 0.0,
        }
    }

    pub fn is_charge(self) -> bool {
        match self {
            Asked::Power(x) | Asked::Current(x) => x < 0.0,
        }
    }
}

/// The inverter in a trial; without one the load stands at the bus.
#[derive(Clone, Debug)]
pub struct InverterState {
    model: Option<Inverter>,
    cut_out: Option<GuardState>,
}

impl InverterState {
    pub fn new(model: Option<&Inverter>) -> InverterState {
        let cut_out = model.and_then(|m| m.cut_out).map(|c| {
            let guard = Guard { trip: c.trip, release: c.reconnect, delay: c.delay };
            GuardState::new(guard, Side::Low).with_release_delay(c.reconnect_delay)
        });
        InverterState { model: model.cloned(), cut_out }
    }

    /// Whether it serves a load; it takes charge either way.
    pub fn runs(&self) -> bool {
        !self.cut_out.is_some_and(|g| g.tripped())
    }

    pub fn guard(&mut self) -> Option<&mut GuardState> {
        self.cut_out.as_mut()
    }

    /// Positive where this bus voltage changes the cut-out's phase.
    pub fn excess(&self, bus: f64) -> f64 {
        self.cut_out.map_or(f64::NEG_INFINITY, |g| g.excess(bus))
    }

    /// The bus voltages that change nothing.
    pub fn range(&self) -> Range {
        self.cut_out.as_ref().map_or(Range::ANY, GuardState::range)
    }

    pub fn due(&self) -> Time {
        self.cut_out.map_or(Time::NEVER, |g| g.due())
    }

    /// Whether its cut-out has cause to act at this bus voltage.
    pub fn is_low(&self, bus: f64) -> bool {
        self.cut_out.is_some_and(|g| g.is_beyond(bus))
    }

    /// What the bus sees.
    pub fn demand(&self, asked: Asked) -> Demand {
        self.demand_if(self.runs(), asked)
    }

    /// The same whether it runs or not.
    pub fn demand_if(&self, runs: bool, asked: Asked) -> Demand {
        if !runs && !asked.is_charge() {
            return Demand::NONE;
        }
        match asked {
            Asked::Current(amps) => Demand::Current(amps),
            Asked::Power(watts) => Demand::Power(self.at_bus(runs, watts)),
        }
    }

    fn at_bus(&self, runs: bool, watts: f64) -> f64 {
        let Some(model) = &self.model else {
            return watts;
        };
        let share = watts.abs() / model.rated;
        let efficiency = model.efficiency.as_ref().map_or(1.0, |curve| curve.value(share));
        let converted = if watts > 0.0 { watts / efficiency } else { watts * efficiency };
        let standing = if runs { model.standing } else { 0.0 };
        converted + standing
    }

    /// What the inverter turns to heat while it serves `asked` by what it takes from the bus [W].
    pub fn loss(asked: Asked, demand: Demand) -> f64 {
        match (asked, demand) {
            (Asked::Power(load), Demand::Power(bus)) => bus - load,
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curve::Curve;
    use crate::scenario::CutOut;

    fn inverter() -> Inverter {
        let efficiency = Curve::new(vec![(0.1, 0.90), (0.5, 0.95)]).unwrap();
        let second = Time::from_seconds(1.0);
        let cut_out = CutOut { trip: 44.0, delay: second, reconnect: 50.0, reconnect_delay: Time::from_seconds(60.0) };
        Inverter { rated: 5000.0, efficiency: Some(efficiency), standing: 30.0, ripple: 0.0, cut_out: Some(cut_out) }
    }

    #[test]
    fn converts_by_its_curve_and_adds_its_standing_draw() {
        let s = InverterState::new(Some(&inverter()));
        assert_eq!(s.demand(Asked::Power(2500.0)), Demand::Power(2500.0 / 0.95 + 30.0));
        assert_eq!(s.demand(Asked::Power(-500.0)), Demand::Power(-450.0 + 30.0));
        assert_eq!(s.demand(Asked::Power(0.0)), Demand::Power(30.0));
        assert_eq!(InverterState::new(None).demand(Asked::Power(700.0)), Demand::Power(700.0));
    }

    #[test]
    fn cuts_out_after_its_delay_and_still_takes_charge() {
        let mut s = InverterState::new(Some(&inverter()));
        assert!(s.excess(43.9) > 0.0);
        let guard = s.guard().unwrap();
        guard.flip(Time(0));
        assert!(guard.expire(Time::from_seconds(1.0)));
        assert_eq!(s.demand(Asked::Power(2500.0)), Demand::NONE);
        assert_eq!(s.demand(Asked::Power(-500.0)), Demand::Power(-450.0));
        let guard = s.guard().unwrap();
        guard.flip(Time::from_seconds(100.0));
        assert_eq!(guard.due(), Time::from_seconds(160.0));
    }
}
