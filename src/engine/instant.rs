//! The bank at one moment: solved currents and voltages.
//!
//! In: branch elements and a demand. Out: an `Instant`, with how well Kirchhoff's law and the power
//! balance hold.

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
            cell_voltages: vec![0.0; modules],
            losses: vec![0.0; modules],
            conductor_loss: 0.0,
        }
    }

    /// Solves for a demand. A demand that cannot be met leaves the bank at open circuit.
    ///
    /// # Errors
    /// `Unsolvable` for elements that are not numbers.
    pub fn solve(&mut self, solver: &mut Solver, elements: &[Element], demand: Demand) -> Result<Residual, Unsolvable> {
        match solver.solve(elements, demand)? {
            Outcome::Carried(terminals) => {
                self.bus = terminals;
                self.carried = true;
            }
            Outcome::NotCarried { open_circuit } => {
                self.bus = Terminals { voltage: open_circuit.unwrap_or(0.0), current: 0.0 };
                self.carried = false;
            }
        }
        self.currents.copy_from_slice(solver.currents());
        Ok(Residual { kirchhoff: solver.kirchhoff(), power: self.imbalance(elements) })
    }

    /// Power of the sources, less what the resistances and the load take.
    fn imbalance(&self, elements: &[Element]) -> f64 {
        let (mut net, mut turned_over) = (-self.bus.voltage * self.bus.current, 1.0_f64);
        for (e, i) in elements.iter().zip(&self.currents) {
            net += (e.driving() - e.resistance * i) * i;
            turned_over += (e.driving() * i).abs();
        }
        net.abs() / turned_over
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
