//! Conductors and protective devices in a trial: which are open, which have a bad joint.
//!
//! In: what chance opens or makes bad, and what devices have spent. Out: what is left of the bank's conductors. How warm
//! they are and how far devices are on their way goes with the step (`batch_step`).

use super::model::Model;
use super::result::Defect;

/// The conductors and devices of a bank.
#[derive(Clone, Debug)]
pub struct Conductors {
    conductors: Vec<ConductorState>,
    opened: Vec<bool>,
}

#[derive(Clone, Copy, Debug, Default)]
struct ConductorState {
    open: bool,
    bad_joint: bool,
}

impl Conductors {
    pub fn new(model: &Model) -> Conductors {
        let (conductors, devices) = (model.bank.conductors.len(), model.bank.devices.len());
        Conductors { conductors: vec![ConductorState::default(); conductors], opened: vec![false; devices] }
    }

    /// The greatest of what is spent of the devices that are closed, beyond what opens them: positive where one opens.
    pub fn excess(&self, spent: impl Iterator<Item = f64>) -> f64 {
        let closed = spent.zip(&self.opened).filter(|(_, opened)| !**opened);
        closed.map(|(spent, _)| spent - 1.0).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Opens the next device that has come to its end, for good: its number.
    pub fn open_next_device(&mut self, model: &Model, mut spent: impl Iterator<Item = f64>) -> Option<usize> {
        let opened = &self.opened;
        let k = (0..opened.len()).find(|k| spent.next().is_some_and(|spent| !opened[*k] && spent > 1.0))?;
        self.opened[k] = true;
        if let Some(conductor) = model.bank.conductor_of(model.bank.devices[k].branch) {
            self.conductors[conductor].open = true;
        }
        Some(k)
    }

    /// A conductor opens by chance, or is mended; one whose device has opened stays open.
    pub fn turn_conductor(&mut self, model: &Model, k: usize, open: bool) {
        let branch = model.bank.conductor_branch(k);
        let mut fitted = model.bank.devices.iter().zip(&self.opened);
        let device_open = fitted.any(|(fitted, opened)| fitted.branch == branch && *opened);
        self.conductors[k].open = open || device_open;
    }

    pub fn turn_joint(&mut self, k: usize, bad: bool) {
        self.conductors[k].bad_joint = bad;
    }

    /// Both joints of a conductor, with these factors, the first worse where it has gone bad [Ω].
    pub fn joints(&self, model: &Model, k: usize, [first, second]: [f64; 2]) -> f64 {
        let worse = if self.conductors[k].bad_joint { model.joint_factor } else { 1.0 };
        model.bank.conductors[k].contact * (first * worse + second)
    }

    /// The conductors that are not whole.
    pub fn defects(&self) -> impl Iterator<Item = (usize, Defect)> {
        self.conductors.iter().enumerate().filter_map(|(k, conductor)| match conductor {
            ConductorState { open: true, .. } => Some((k, Defect::Open)),
            ConductorState { bad_joint: true, .. } => Some((k, Defect::BadJoint)),
            _ => None,
        })
    }

    pub fn is_open(&self, conductor: usize) -> bool {
        self.conductors[conductor].open
    }
}
