//! Whether protection acted because of what had been lost before it.
//!
//! In: a trial at a moment at which something is lost, before it is solved anew. Out: each loss noted, with whether it
//! was triggered: by protection that would have had no cause to act, had everything that was lost within the window
//! before still been in place. For that the same moment is solved once more with those losses taken back.
//!
//! A guard has cause to act where its quantity is beyond its threshold, a fuse or breaker where its current would open
//! it from cold within the window. An inverter's low-voltage stop counts only while modules deliver: what stops with
//! the bank was triggered by nothing.

use super::{Trial, Watched};
use crate::engine::cascade::{Loss, Lost};
use crate::engine::inverter::Asked;
use crate::engine::module::{Reason, State};
use crate::engine::operating_point::OperatingPoint;
use crate::engine::result::TrialError;
use crate::network::{Demand, Law};

/// The present moment with what was lately lost still in place.
struct Intact {
    point: OperatingPoint,
    /// Of every branch [A].
    currents: Vec<f64>,
    demand: Demand,
}

impl Trial<'_> {
    /// Takes note of what is lost now; `before` and `asked` are states and load as they were just before.
    pub(super) fn note_losses(&mut self, lost: &[Loss], before: &[State], asked: Asked) -> Result<(), TrialError> {
        let recent: Vec<Lost> = match lost.iter().any(is_protection) {
            true => self.tally.recent_losses(self.now).collect(),
            false => Vec::new(),
        };
        let intact = match recent.is_empty() {
            true => None,
            // A load that it could not carry either is no sign of a cause.
            false => Some(self.solve_intact(&recent, lost, before, asked)?).filter(|i| i.point.carried),
        };
        for loss in lost {
            let triggered = intact.as_ref().is_some_and(|i| is_protection(loss) && !self.has_cause(loss, i));
            self.tally.note_loss(self.now, loss.0, loss.1, triggered);
        }
        Ok(())
    }

    fn solve_intact(
        &mut self,
        recent: &[Lost],
        lost: &[Loss],
        before: &[State],
        asked: Asked,
    ) -> Result<Intact, TrialError> {
        let states = std::mem::replace(&mut self.states, before.to_vec());
        for what in recent {
            if let Lost::Module(k) = what {
                self.states[*k] = State::InService;
            }
        }
        let (mut network, lane) = self.network(true);
        lane.load_present(network.model);
        network.load_elements(lane);
        self.states = states;
        let bank = &self.model.bank;
        let mut inverter_runs = self.inverter.runs();
        for what in recent.iter().chain(lost.iter().map(|(what, _)| what)) {
            let branch = match what {
                Lost::Conductor(k) => bank.conductor_branch(*k),
                Lost::Device(k) => bank.devices[*k].branch,
                Lost::Module(_) => continue,
                Lost::Inverter => {
                    inverter_runs = true;
                    continue;
                }
            };
            // A module's own device is part of its state.
            if bank.conductor_of(branch).is_some() {
                self.elements[branch].law = Law::Both;
            }
        }
        let demand = self.inverter.demand_if(inverter_runs, asked);
        // A solver of its own: what the trial's remembers stays as it was.
        let mut solver = self.model.solver.clone();
        let point = OperatingPoint::solve(&mut solver, &self.elements, demand, self.limits())
            .map_err(|source| TrialError::Unsolvable { trial: self.realization.trial, at: self.now, source })?;
        Ok(Intact { point, currents: solver.currents().to_vec(), demand })
    }

    /// Whether protection that has acted would have had cause to in any case.
    fn has_cause(&self, &(what, reason): &Loss, Intact { point, currents, demand }: &Intact) -> bool {
        match (what, reason) {
            (Lost::Inverter, _) => {
                let goes_on = !self.start.dead && self.states.iter().any(|s| s.delivers());
                !goes_on || self.inverter.is_low(point.bus_under(*demand))
            }
            (Lost::Module(k), Reason::Device) => self.would_open(k, currents),
            (Lost::Device(k), _) => self.would_open(self.model.bank.devices[k].branch, currents),
            (Lost::Module(k), reason) => {
                let amps = currents[k];
                let across_cells = self.elements[k].emf - self.lane.modules[k].cell_resistance[0] * amps;
                let cells = f64::from(self.model.modules[k].kind.cells);
                let cell_voltage = across_cells / cells;
                self.modules[k].has_cause(reason, &Watched { cell_voltage, current: amps, ..self.watched(k) })
            }
            (Lost::Conductor(_), _) => false,
        }
    }

    /// Whether a device in a branch would open within the window.
    fn would_open(&self, branch: usize, currents: &[f64]) -> bool {
        let amps = self.ripple_factor().sqrt() * currents[branch];
        let mut fitted = self.model.bank.devices.iter().filter(|d| d.branch == branch);
        let within = self.model.trials.cascade_window.seconds();
        fitted.any(|d| self.model.device_types[d.device].operating_time(amps) <= within)
    }
}

/// Whether protection did it, or a device.
fn is_protection(&(what, reason): &Loss) -> bool {
    what == Lost::Inverter || reason.is_protection()
}
