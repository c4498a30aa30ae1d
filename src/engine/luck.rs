//! What chance gives one trial: the engine itself draws nothing.

use crate::draw::faults::Timeline;

/// The luck of one trial.
#[derive(Clone, Debug)]
pub struct Luck {
    pub trial: u64,
    /// Index into the scenario's nights.
    pub night: usize,
    /// Factor on the load.
    pub load: f64,
    /// Added to the outdoor air [K].
    pub temperature: f64,
    pub modules: Vec<ModuleLuck>,
    /// When the link between controller and inverter is down.
    pub link: Timeline,
    /// Factors on the two joints of each conductor.
    pub joints: Vec<[f64; 2]>,
}

/// The luck of one module.
#[derive(Clone, Debug)]
pub struct ModuleLuck {
    /// Factor on capacity.
    pub capacity: f64,
    /// Factor on resistance.
    pub resistance: f64,
    /// Added to the start charge (0…1).
    pub start_charge: f64,
    /// Added to what its temperature sensor reads [K].
    pub sensor: f64,
    pub faults: Timeline,
}

impl Luck {
    /// Everything as nominal: nothing fails, nothing spreads.
    pub fn nominal(modules: usize, conductors: usize) -> Luck {
        let module = ModuleLuck {
            capacity: 1.0,
            resistance: 1.0,
            start_charge: 0.0,
            sensor: 0.0,
            faults: Timeline { down_at_start: false, changes: Vec::new() },
        };
        Luck {
            trial: 0,
            night: 0,
            load: 1.0,
            temperature: 0.0,
            modules: vec![module; modules],
            link: Timeline { down_at_start: false, changes: Vec::new() },
            joints: vec![[1.0; 2]; conductors],
        }
    }
}
