//! Conductors and protective devices in a trial: how warm they are, what they have been through, what
//! has opened.
//!
//! In: currents at both ends of a step, and the air. Out: temperatures and wear at its end, the branch
//! elements of conductors, and which device opens.
//!
//! A conductor with insulation data warms by its own loss (`Ampacity::temperature_after`) with the mean
//! square of its current, and its resistance follows its temperature; any other is at the temperature of
//! the air. An inverter's ripple heats by 1 + ripple² beyond the mean current.

use super::device::{DeviceState, spent_after};
use super::model::Model;
use super::result::Amiss;
use crate::network::{Element, Law};
use crate::scenario::ampacity::Foreseen;

/// The conductors and devices of a bank.
#[derive(Clone, Debug)]
pub struct Wiring {
    conductors: Vec<ConductorState>,
    devices: Vec<DeviceState>,
    /// `DeviceState::spent` at the end of the step ahead.
    spent_ahead: Vec<f64>,
    /// Whether anything in it changes by itself.
    acts: bool,
}

#[derive(Clone, Copy, Debug)]
struct ConductorState {
    /// [°C]
    celsius: f64,
    celsius_ahead: f64,
    /// `Foreseen::per_square` of the step ahead [K/A²].
    per_square: f64,
    open: bool,
    bad_joint: bool,
}

/// What currents do to conductors and devices over a step.
#[derive(Clone, Copy, Debug)]
pub struct Strain<'a> {
    pub seconds: f64,
    /// Of every branch at the start and at the end [A].
    pub start: &'a [f64],
    pub end: &'a [f64],
    /// Mean of the step [°C].
    pub air: f64,
    /// Mean square of the current over the square of its mean: 1 without ripple.
    pub heating: f64,
}

impl Wiring {
    pub fn new(model: &Model, air: f64) -> Wiring {
        let conductor =
            ConductorState { celsius: air, celsius_ahead: air, per_square: 0.0, open: false, bad_joint: false };
        let (conductors, devices) = (&model.bank.conductors, model.bank.devices.len());
        Wiring {
            acts: devices > 0 || conductors.iter().any(|c| c.ampacity.is_some()),
            conductors: vec![conductor; conductors.len()],
            devices: vec![DeviceState::default(); devices],
            spent_ahead: vec![0.0; devices],
        }
    }

    /// The branch of conductor k at the end of the step ahead, in air of `air` [°C].
    pub fn element(&self, model: &Model, k: usize, air: f64, joints: [f64; 2]) -> Element {
        let (conductor, state) = (&model.bank.conductors[k], &self.conductors[k]);
        let celsius = if conductor.ampacity.is_some() { state.celsius_ahead } else { air };
        let element = Element::conductor(conductor.resistance(celsius, self.worn(model, k, joints)));
        if state.open { Element { law: Law::Open, ..element } } else { element }
    }

    /// Temperature of a conductor with insulation data [°C].
    pub fn temperature(&self, k: usize) -> f64 {
        self.conductors[k].celsius
    }

    /// The same at the end of the step ahead.
    pub fn temperature_ahead(&self, k: usize) -> f64 {
        self.conductors[k].celsius_ahead
    }

    /// Takes the present for the end ahead: no step.
    pub fn stay(&mut self) {
        for c in &mut self.conductors {
            c.celsius_ahead = c.celsius;
        }
        for (ahead, device) in self.spent_ahead.iter_mut().zip(&self.devices) {
            *ahead = device.spent;
        }
    }

    /// Where the temperatures are going with the currents of the start: what the resistances of the step's end are
    /// taken at.
    pub fn foresee(&mut self, model: &Model, strain: &Strain<'_>) {
        if !self.acts {
            return;
        }
        let modules = model.modules.len();
        for (k, state) in self.conductors.iter_mut().enumerate() {
            let Some(warming) = &model.warming[k] else { continue };
            let start = strain.start[modules + k];
            let mean_square = strain.heating * (start * start);
            let foreseen = warming.foresee(state.celsius, strain.seconds, mean_square, strain.air);
            (state.celsius_ahead, state.per_square) = (foreseen.celsius, foreseen.per_square);
        }
    }

    /// Works out the end of a step that was foreseen.
    pub fn predict(&mut self, model: &Model, strain: &Strain<'_>) {
        if !self.acts {
            return;
        }
        let modules = model.modules.len();
        for (k, state) in self.conductors.iter_mut().enumerate() {
            if model.warming[k].is_none() {
                continue;
            }
            let foreseen = Foreseen { celsius: state.celsius_ahead, per_square: state.per_square };
            let (start, end) = (strain.start[modules + k], strain.end[modules + k]);
            state.celsius_ahead = foreseen.after(start, end, strain.heating);
        }
        let effective = strain.heating.sqrt();
        for (k, fitted) in model.bank.devices.iter().enumerate() {
            let amps = (effective * strain.start[fitted.branch], effective * strain.end[fitted.branch]);
            let kind = &model.device_types[fitted.device];
            self.spent_ahead[k] = spent_after(kind, self.devices[k].spent, amps, strain.seconds);
        }
    }

    /// Makes the end ahead the present.
    pub fn commit(&mut self) {
        for c in &mut self.conductors {
            c.celsius = c.celsius_ahead;
        }
        for (device, ahead) in self.devices.iter_mut().zip(&self.spent_ahead) {
            device.spent = *ahead;
        }
    }

    /// Positive where a device opens within the step ahead.
    pub fn excess_ahead(&self) -> f64 {
        let closed = self.devices.iter().zip(&self.spent_ahead).filter(|(device, _)| !device.open);
        closed.map(|(_, spent)| spent - 1.0).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Positive where a device opens now.
    pub fn excess_now(&self) -> f64 {
        let closed = self.devices.iter().filter(|device| !device.open);
        closed.map(|device| device.spent - 1.0).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Opens the next device that has come to its end, for good: its number.
    pub fn open_next_device(&mut self, model: &Model) -> Option<usize> {
        let k = self.devices.iter().position(|device| !device.open && device.spent > 1.0)?;
        self.devices[k].open = true;
        if let Some(conductor) = model.bank.devices[k].branch.checked_sub(model.modules.len()) {
            self.conductors[conductor].open = true;
        }
        Some(k)
    }

    /// A conductor opens by chance, or is mended; one whose device has opened stays open.
    pub fn turn_conductor(&mut self, model: &Model, k: usize, open: bool) {
        let branch = model.bank.conductor_branch(k);
        let mut fitted = model.bank.devices.iter().zip(&self.devices);
        let device_open = fitted.any(|(fitted, device)| fitted.branch == branch && device.open);
        self.conductors[k].open = open || device_open;
    }

    pub fn turn_joint(&mut self, k: usize, bad: bool) {
        self.conductors[k].bad_joint = bad;
    }

    /// Both joints of a conductor, with these factors and what has gone bad [Ω].
    pub fn joints(&self, model: &Model, k: usize, joints: [f64; 2]) -> f64 {
        let [first, second] = self.worn(model, k, joints);
        model.bank.conductors[k].contact * (first + second)
    }

    /// Factors on the joints of a conductor, the first worse where it has gone bad.
    fn worn(&self, model: &Model, k: usize, [first, second]: [f64; 2]) -> [f64; 2] {
        let worse = if self.conductors[k].bad_joint { model.joint_factor } else { 1.0 };
        [first * worse, second]
    }

    pub fn spent(&self, device: usize) -> f64 {
        self.devices[device].spent
    }

    /// What was worked out elsewhere for the present.
    pub fn set_temperature(&mut self, k: usize, celsius: f64) {
        self.conductors[k].celsius = celsius;
    }

    pub fn set_spent(&mut self, device: usize, spent: f64) {
        self.devices[device].spent = spent;
    }

    /// The conductors that are not whole.
    pub fn amiss(&self) -> impl Iterator<Item = (usize, Amiss)> {
        self.conductors.iter().enumerate().filter_map(|(k, conductor)| match conductor {
            ConductorState { open: true, .. } => Some((k, Amiss::Open)),
            ConductorState { bad_joint: true, .. } => Some((k, Amiss::BadJoint)),
            _ => None,
        })
    }

    pub fn is_open(&self, conductor: usize) -> bool {
        self.conductors[conductor].open
    }
}
