//! Conductors that ran hot and devices that opened: how often, and whether the devices can break what a
//! short would drive through them.
//!
//! In: the model and the counts. Out: `OverTemperature` and `DeviceOpened`.

use super::counts::Counts;
use super::inference::Inference;
use super::results::{DeviceOpened, DeviceResult, HotConductor, OverTemperature};
use crate::engine::model::Model;
use crate::network::Element;
use crate::network::bank::ConductorElement;
use crate::network::fault_current;
use crate::scenario::ampacity::adiabatic_time;

/// Prospective fault currents are the greatest where cells are warm and copper is cold. Of a module without a guard
/// against heat, and of conductors [°C].
const WARMEST_CELLS: f64 = 60.0;
const COLD_COPPER: f64 = 20.0;

/// `None` where no conductor has insulation data.
pub fn over_temperature(model: &Model, counts: &Counts) -> Option<OverTemperature> {
    let inference = Inference::new(model.random);
    let hot = |(k, conductor): (usize, &ConductorElement)| {
        let (ampacity, seen) = (conductor.ampacity?, &counts.elements[model.bank.conductor_branch(k)]);
        Some(HotConductor {
            id: conductor.id.clone(),
            chance: inference.probability(seen.hot_nights, counts.trials),
            nights: seen.hot_nights,
            stands_c: ampacity.temperature_rating(),
            mean_time_hot_h: seen.time_hot as f64 * 1e-6 / 3600.0 / seen.hot_nights.max(1) as f64,
            hottest_c: seen.hottest?,
        })
    };
    let conductors: Vec<HotConductor> = model.bank.conductors.iter().enumerate().filter_map(hot).collect();
    let any = inference.of_nights(counts.by_night(|n| n.hot));
    (!conductors.is_empty()).then_some(OverTemperature { any, conductors })
}

/// `None` where there is no device.
pub fn device_opened(model: &Model, counts: &Counts) -> Option<DeviceOpened> {
    let prospective = fault_current::prospective(&model.bank, &full_and_in_service(model)).ok()?;
    let inference = Inference::new(model.random);
    let highest_v = model.modules.iter().map(|m| m.emf(1.0)).fold(0.0, f64::max);
    let device = |fault: &fault_current::Prospective| {
        let fitted = &model.bank.devices[fault.device];
        let kind = &model.device_types[fitted.device];
        let nights = counts.opened[fault.device];
        let suffices = |stated: Option<f64>, least: f64| stated.is_some_and(|most| most >= least);
        DeviceResult {
            id: fitted.id.clone(),
            chance: inference.probability(nights, counts.trials),
            nights,
            rated_a: kind.rated,
            prospective_a: fault.amps,
            breaking_capacity_a: kind.breaking_capacity,
            voltage_v: kind.voltage,
            breaks: suffices(kind.breaking_capacity, fault.amps) && suffices(kind.voltage, highest_v),
            opens_after_s: Some(kind.operating_time(fault.amps)).filter(|t| t.is_finite()),
            conductor_stands_s: conductor_stands(model, fitted.branch, fault.amps),
        }
    };
    let devices: Vec<DeviceResult> = prospective.iter().map(device).collect();
    let any = inference.of_nights(counts.by_night(|n| n.opened));
    (!devices.is_empty()).then_some(DeviceOpened { any, highest_v, devices })
}

/// Every module full, in service, as nominal and as warm as it may be; its electronics hold nothing back.
fn full_and_in_service(model: &Model) -> Vec<Element> {
    let modules = model.modules.iter().zip(&model.bank.modules).map(|(module, place)| {
        let warmest = module.kind.discharge_temperature.high.map_or(WARMEST_CELLS, |guard| guard.trip);
        let (_, ohm) = module.resistance(1.0, warmest);
        Element::source(module.emf(1.0), ohm + place.device)
    });
    let conductors = model.bank.conductors.iter().map(|c| Element::conductor(c.resistance(COLD_COPPER, [1.0; 2])));
    modules.chain(conductors).collect()
}

fn conductor_stands(model: &Model, branch: usize, amps: f64) -> Option<f64> {
    let conductor = model.bank.conductor(branch)?;
    Some(adiabatic_time(conductor.section?, conductor.ampacity?.insulation, amps))
}
