//! The bank at one moment: solved currents and voltages.
//!
//! In: branch elements and a demand. Out: an `Instant`, with how well Kirchhoff's law and the power
//! balance hold.

use super::controller::Limits;
use super::inverter::Asked;
use crate::network::solve::{Solver, Unsolvable};
use crate::network::{Demand, Element, Outcome, Terminals};

/// Currents and voltages at one moment.
#[derive(Clone, Debug)]
pub struct Instant {
    /// Of every branch: modules first, then conductors [A].
    pub currents: Vec<f64>,
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
    /// Between the terminals of each module [V].
    pub terminal_voltages: Vec<f64>,
    /// Of each module's cells [V].
    pub cell_voltages: Vec<f64>,
    /// What each module turns to heat [W].
    pub losses: Vec<f64>,
    /// What all conductors together turn to heat [W].
    pub conductor_loss: f64,
}

/// How exactly a moment was solved.
#[derive(Clone, Copy, Debug, Default)]
pub struct Residual {
    /// Greatest departure from Kirchhoff's current law [A].
    pub kirchhoff: f64,
    /// |power in − power out| as a share of what the sources turn over (at least 1 W).
    pub power: f64,
}

impl Instant {
    pub fn new(modules: usize, branches: usize) -> Instant {
        Instant {
            currents: vec![0.0; branches],
            bus: Terminals::default(),
            carried: true,
            dead: false,
            unlimited: 0.0,
            limited: false,
            share: 1.0,
            terminal_voltages: vec![0.0; modules],
            cell_voltages: vec![0.0; modules],
            losses: vec![0.0; modules],
            conductor_loss: 0.0,
        }
    }

    /// Solves for a demand, or for as much of it as the limits allow. A demand that cannot be met leaves
    /// the bank at open circuit.
    ///
    /// # Errors
    /// `Unsolvable` for elements that are not numbers.
    pub fn solve(
        &mut self,
        solver: &mut Solver,
        elements: &[Element],
        demand: Demand,
        limits: Limits,
    ) -> Result<Residual, Unsolvable> {
        let mut outcome = solver.solve(elements, demand)?;
        self.unlimited = match outcome {
            Outcome::Carried(terminals) => terminals.current,
            Outcome::NotCarried { .. } if demand.is_discharge() => f64::INFINITY,
            Outcome::NotCarried { .. } => f64::NEG_INFINITY,
        };
        self.limited = limits.hold(self.unlimited);
        if self.limited {
            let most = self.unlimited.clamp(-limits.charge, limits.discharge);
            outcome = solver.solve(elements, Demand::Current(most))?;
        }
        self.share = 1.0;
        self.dead = matches!(outcome, Outcome::NotCarried { open_circuit: None });
        match outcome {
            Outcome::Carried(terminals) => {
                self.bus = terminals;
                self.carried = true;
                if self.limited {
                    self.share = share_of(demand, terminals);
                }
            }
            Outcome::NotCarried { open_circuit } => {
                self.bus = Terminals { voltage: open_circuit.unwrap_or(0.0), current: 0.0 };
                self.carried = false;
            }
        }
        self.currents.copy_from_slice(solver.currents());
        for (k, voltage) in self.terminal_voltages.iter_mut().enumerate() {
            *voltage = -solver.voltage_along(k);
        }
        Ok(Residual { kirchhoff: solver.kirchhoff(), power: self.imbalance(solver, elements) })
    }

    /// Power of the sources, less what the resistances and the load take.
    fn imbalance(&self, solver: &Solver, elements: &[Element]) -> f64 {
        let (mut net, mut turned_over) = (-self.bus.voltage * self.bus.current, 1.0_f64);
        for (k, (e, i)) in elements.iter().zip(&self.currents).enumerate() {
            // What a module that holds its current does not pass on becomes heat in its electronics.
            let delivered = if solver.is_held(k) { -solver.voltage_along(k) } else { e.driving() - e.resistance * i };
            net += delivered * i;
            turned_over += (e.driving() * i).abs();
        }
        net.abs() / turned_over
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
