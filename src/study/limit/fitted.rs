//! Protective devices at the limit: what is lost when one has opened, and whether it stays closed at that current.
//!
//! In: the bank, the limits. Out: for each device what is lost when it opens, the greatest current through it at any
//! of the limits, and how long it carries that current. The limits follow from ratings of modules and conductors alone, so a
//! fuse rated for less than its conductor may open below them.

use super::answer::{Device, OpenedIs, Row};
use super::binding_current::Direction;
use crate::network::bank::{ConductorRole, DeviceElement};
use crate::network::solve::Solver;
use crate::network::{Demand, Law};
use crate::scenario::Scenario;
use crate::study::error::StudyError;
use crate::study::steady::Steady;

/// Every device, each at the limit that drives the greatest current through it.
///
/// # Errors
/// Elements that are not finite.
pub fn devices(scenario: &Scenario, steady: &Steady, rows: &[Row]) -> Result<Vec<Device>, StudyError> {
    let mut devices: Vec<Device> = steady.bank.devices.iter().map(|d| closed(scenario, steady, d)).collect();
    if devices.is_empty() {
        return Ok(devices);
    }
    let mut solver = Solver::new(steady.bank.network.clone());
    for (row, side) in rows.iter().flat_map(|row| Direction::BOTH.map(|side| (row, side))) {
        let bound = row.side(side);
        let Some(amps) = bound.current_a else { continue };
        let mut elements = steady.elements.clone();
        for (k, element) in elements.iter_mut().take(steady.modules.len()).enumerate() {
            if bound.out.iter().any(|id| id == steady.id(k)) {
                element.law = Law::Open;
            }
        }
        solver.solve(&elements, Demand::Current(side.sign() * amps))?;
        for (device, fitted) in devices.iter_mut().zip(&steady.bank.devices) {
            let through = solver.currents()[fitted.branch].abs();
            // A hair more is rounding, as in a set that mirrors another.
            if through > device.current_a * (1.0 + 1e-9) {
                (device.current_a, device.outages, device.direction) = (through, row.outages, side);
            }
        }
    }
    for (device, fitted) in devices.iter_mut().zip(&steady.bank.devices) {
        let time = scenario.devices[fitted.device].operating_time(device.current_a);
        device.opens_after_s = Some(time).filter(|t| t.is_finite());
    }
    Ok(devices)
}

fn closed(scenario: &Scenario, steady: &Steady, fitted: &DeviceElement) -> Device {
    let opened_is = match steady.bank.conductor(fitted.branch).map(|conductor| conductor.role) {
        None => OpenedIs::ModuleOut,
        Some(ConductorRole::Lead) => OpenedIs::LeadOpen,
        Some(_) => OpenedIs::BankOff,
    };
    Device {
        id: fitted.id.clone(),
        stands_in: steady.id(fitted.branch).to_string(),
        opened_is,
        rated_a: scenario.devices[fitted.device].rated,
        current_a: 0.0,
        outages: 0,
        direction: Direction::Discharge,
        opens_after_s: None,
    }
}
