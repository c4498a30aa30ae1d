//! What the load gets of the bank at one moment.
//!
//! In: branch elements, a demand, and limits. Out: an `OperatingPoint`, the currents being the solver's.

use super::controller::Limits;
use super::inverter::Asked;
use crate::network::solve::{Solver, Unsolvable};
use crate::network::{Demand, Element, Outcome, Terminals};

/// The bus at one moment.
#[derive(Clone, Copy, Debug)]
pub struct OperatingPoint {
    pub bus: Terminals,
    /// Whether the demand is met.
    pub carried: bool,
    /// Whether no source that is left reaches the terminals, so that no demand could be met.
    pub dead: bool,
    /// What the bank current would be without announced limits [A]; infinite where no current would do.
    pub unlimited: f64,
    /// Whether an announced limit holds the bank current, and which share of the demand it leaves.
    pub limited: bool,
    pub share: f64,
}

impl OperatingPoint {
    /// A demand that is met in full.
    pub fn carried(bus: Terminals) -> OperatingPoint {
        OperatingPoint { bus, carried: true, dead: false, unlimited: bus.current, limited: false, share: 1.0 }
    }

    /// Solves for a demand, or for as much of it as the limits allow. A demand that cannot be met leaves
    /// the bank at open circuit.
    ///
    /// # Errors
    /// `Unsolvable` for elements that are not numbers.
    pub fn solve(
        solver: &mut Solver,
        elements: &[Element],
        demand: Demand,
        limits: Limits,
    ) -> Result<OperatingPoint, Unsolvable> {
        let mut outcome = solver.solve(elements, demand)?;
        let unlimited = match outcome {
            Outcome::Carried(terminals) => terminals.current,
            Outcome::NotCarried { .. } if demand.is_discharge() => f64::INFINITY,
            Outcome::NotCarried { .. } => f64::NEG_INFINITY,
        };
        let limited = limits.are_exceeded_by(unlimited);
        if limited {
            let most = unlimited.clamp(-limits.charge, limits.discharge);
            outcome = solver.solve(elements, Demand::Current(most))?;
        }
        let (bus, carried) = match outcome {
            Outcome::Carried(terminals) => (terminals, true),
            Outcome::NotCarried { open_circuit } => {
                (Terminals { voltage: open_circuit.unwrap_or(0.0), current: 0.0 }, false)
            }
        };
        let dead = matches!(outcome, Outcome::NotCarried { open_circuit: None });
        let share = if carried && limited { share_of(demand, bus) } else { 1.0 };
        Ok(OperatingPoint { bus, carried, dead, unlimited, limited, share })
    }

    /// How far the bank current without limits is beyond what a limit allows, or, while one holds it,
    /// how far within [A]: positive where a limit begins or ceases to act.
    pub fn limit_excess(&self, limits: Limits, limited: bool) -> f64 {
        let beyond = (self.unlimited - limits.discharge).max(-limits.charge - self.unlimited);
        if limited { -beyond } else { beyond }
    }

    /// The bus as an inverter's cut-out sees it: a demand that is not met pulls it down.
    pub fn bus_under(&self, demand: Demand) -> f64 {
        if self.carried || !demand.is_discharge() { self.bus.voltage } else { 0.0 }
    }

    /// Power that the load gets or gives [W].
    pub fn power_of(&self, asked: Asked) -> f64 {
        match asked {
            Asked::Power(watts) => watts,
            Asked::Current(amps) => amps * self.bus.voltage,
        }
    }
}

/// Which share of a demand these terminals meet.
fn share_of(demand: Demand, terminals: Terminals) -> f64 {
    let share = match demand {
        Demand::Power(watts) => terminals.voltage * terminals.current / watts,
        Demand::Current(amps) => terminals.current / amps,
    };
    share.clamp(0.0, 1.0)
}
