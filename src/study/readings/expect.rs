//! What is expected of a bank before anything is measured at it, and how surely.
//!
//! In: a scenario and the readings. Out: what is to be fitted (`Bench`), the standard deviations of its unknowns, and the
//! names of its elements and cases.

use super::circuit::What;
use super::error::ReadingsError;
use super::fit::{Bench, Point, Reading, Spread};
use crate::bounds::READING_ELEMENTS;
use crate::math;
use crate::network::Rail;
use crate::network::bank::{Bank, ConductorElement, ConductorRole};
use crate::network::solve::Solver;
use crate::profile::{SiteCell, SiteReading};
use crate::scenario::{ConductorResistance, Distribution, Scenario};
use crate::study::steady::Steady;
use nalgebra::DVector;
use std::collections::{BTreeMap, HashMap};

/// Standard deviation of a resistance that may be anything, and of one for which the scenario gives no spread [ln Ω]: a
/// factor of 4.5 either way.
pub const WIDE: f64 = 1.5;
/// Standard deviations of sound elements where the scenario gives none [ln Ω]: modules; the metal of a conductor that is
/// given by size and length; the metal of one that is given by its resistance; joints. These are assumptions, chosen so that
/// a conductor with half as much resistance again is suspected (ANSI/NETA: act on a joint that is 50 % above its like).
const ORDINARY_MODULE: f64 = 0.05;
const ORDINARY_COPPER: f64 = 0.05;
const ORDINARY_CONDUCTOR: f64 = 0.1;
const ORDINARY_JOINT: f64 = 0.5;
/// Standard deviation of a module's voltage at rest [V], and of a bank current before it is measured [A].
const EMF: f64 = 1.0;
const CURRENT: f64 = 1000.0;
/// Standard deviation of every resistance where the readings alone are to decide [ln Ω]: in effect unknown.
const NOTHING: f64 = 10.0;
/// Standard deviation of a module's voltage at rest in that case [V]: a module that is five times this off, 10 V, is not of
/// the scenario's kind.
const EMF_OF_ITS_KIND: f64 = 2.0;
/// Standard deviations of voltages [V] and bank currents [A] where nothing at all is assumed.
const ANY_EMF: f64 = 1000.0;
const ANY_CURRENT: f64 = 1e6;

/// A bank with its readings, and what was expected of it.
pub struct Study {
    pub bench: Bench,
    pub ids: Vec<String>,
    /// Names of the cases. A case is one state of the bank: all readings of a case were taken at the same bank current.
    pub cases: Vec<String>,
    /// Where each reading stands in the file: its row, from 0, and its cell.
    pub places: Vec<(usize, SiteCell)>,
    /// Standard deviation of each resistance by the scenario [ln Ω]; `None`: it gives none.
    given: Vec<Option<f64>>,
    /// Standard deviation of each resistance of a sound element [ln Ω], for those without one in the scenario.
    sound: Vec<f64>,
}

impl Study {
    pub fn new(scenario: &Scenario, readings: &[SiteReading], air: f64) -> Result<Study, ReadingsError> {
        let steady = Steady::new(scenario, None, air)?;
        let bank = &steady.bank;
        let ids: Vec<String> = (0..steady.elements.len()).map(|k| steady.id(k).to_string()).collect();
        if ids.len() > READING_ELEMENTS {
            return Err(ReadingsError::TooManyElements(ids.len()));
        }
        let devices: Vec<f64> = bank.modules.iter().map(|place| place.device).collect();
        // Its logarithm must exist: a conductor without resistance is given a nanoohm.
        let without_device =
            |steady: &Steady<'_>, k: usize| (steady.elements[k].resistance - devices.get(k).unwrap_or(&0.0)).max(1e-9);
        let mut ohms: Vec<f64> = (0..ids.len()).map(|k| without_device(&steady, k)).collect();
        let numbers: HashMap<&str, usize> = ids.iter().enumerate().map(|(k, id)| (id.as_str(), k)).collect();
        for (celsius, elements) in temperatures(readings, &numbers) {
            let there = Steady::new(scenario, None, f64::from_bits(celsius))?;
            elements.into_iter().for_each(|k| ohms[k] = without_device(&there, k));
        }
        let spread = &scenario.spread;
        let given = (0..ids.len()).map(|k| match bank.conductor(k) {
            None => deviation(&spread.resistance),
            Some(conductor) => deviation(&spread.joint).map(|joint| conductor_spread(conductor, joint, ohms[k])),
        });
        let given = given.collect();
        let sound = |k: usize| {
            bank.conductor(k).map_or(ORDINARY_MODULE, |conductor| conductor_spread(conductor, ORDINARY_JOINT, ohms[k]))
        };
        let sound = (0..ids.len()).map(sound).collect();
        let listed = Listed::of(readings, &numbers);
        let currents = (0..listed.cases.len()).map(|case| listed.first_guess(case, bank));
        let emf = steady.elements.iter().take(devices.len()).map(|element| element.emf);
        let shared = DVector::from_vec(ohms.iter().map(|ohm| math::ln(*ohm)).chain(emf).collect());
        let expected = Point { shared, currents: DVector::from_vec(currents.collect()) };
        let solver = Solver::new(bank.network.clone());
        let Listed { cases, readings, places } = listed;
        Ok(Study { bench: Bench::new(solver, devices, readings, expected), ids, cases, places, given, sound })
    }

    pub fn modules(&self) -> usize {
        self.bench.devices.len()
    }

    /// A module's expected voltage at rest [V].
    pub fn expected_emf(&self, module: usize) -> f64 {
        self.bench.expected.shared[self.ids.len() + module]
    }

    fn spread(&self, of: impl Fn(usize) -> f64, emf: f64, current: f64) -> Spread {
        let all = (0..self.ids.len()).map(of).chain(std::iter::repeat_n(emf, self.modules()));
        Spread { shared: DVector::from_vec(all.collect()), current }
    }

    /// Every element is sound but those in `free`, which may have any resistance.
    pub fn ordinary(&self, free: &[usize]) -> Spread {
        let of = |k: usize| if free.contains(&k) { WIDE } else { self.given[k].unwrap_or(self.sound[k]) };
        self.spread(of, EMF, CURRENT)
    }

    /// As the scenario says. Elements in `free`, and those for which it gives no spread, may have any resistance.
    pub fn as_given(&self, free: &[usize]) -> Spread {
        let of = |k: usize| if free.contains(&k) { WIDE } else { self.given[k].unwrap_or(WIDE) };
        self.spread(of, EMF, CURRENT)
    }

    /// Any bank of this wiring with modules of this kind: readings can then contradict nothing but each other.
    pub fn any_bank(&self) -> Spread {
        self.spread(|_| NOTHING, EMF_OF_ITS_KIND, CURRENT)
    }

    /// Nothing is assumed of resistances, voltages and currents.
    pub fn nothing(&self) -> Spread {
        self.spread(|_| NOTHING, ANY_EMF, ANY_CURRENT)
    }
}

/// Standard deviation of the logarithm of a factor, to first order; `None` for a factor that is always 1.
fn deviation(factor: &Distribution) -> Option<f64> {
    Some(factor.deviation()).filter(|deviation| *deviation > 0.0)
}

/// The elements whose temperature was read, grouped by that temperature, whose key is its bits. Where an element has several
/// readings the last counts.
fn temperatures(readings: &[SiteReading], numbers: &HashMap<&str, usize>) -> BTreeMap<u64, Vec<usize>> {
    let known = readings.iter().filter_map(|r| Some((*numbers.get(r.element.as_str())?, r.temperature?)));
    let last: BTreeMap<usize, f64> = known.collect();
    let mut by_temperature: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
    last.into_iter().for_each(|(k, celsius)| by_temperature.entry(celsius.to_bits()).or_default().push(k));
    by_temperature
}

/// The cases in the order of the file, and their readings.
struct Listed {
    cases: Vec<String>,
    readings: Vec<Reading>,
    places: Vec<(usize, SiteCell)>,
}

impl Listed {
    fn of(rows: &[SiteReading], numbers: &HashMap<&str, usize>) -> Listed {
        let mut listed = Listed { cases: Vec::new(), readings: Vec::new(), places: Vec::new() };
        let mut known: HashMap<&str, usize> = HashMap::new();
        for (row, site) in rows.iter().enumerate() {
            let case = *known.entry(site.case.as_str()).or_insert_with(|| {
                listed.cases.push(site.case.clone());
                listed.cases.len() - 1
            });
            let (current, drop) = match numbers.get(site.element.as_str()) {
                Some(&branch) => (What::Current(branch), What::Drop(branch)),
                None => (What::BusCurrent, What::BusVoltage),
            };
            let cells = [(SiteCell::Current, current, site.current), (SiteCell::Drop, drop, site.drop)];
            for (cell, what, read) in cells {
                let Some(m) = read else { continue };
                listed.readings.push(Reading { case, what, value: m.value, deviation: m.deviation });
                listed.places.push((row, cell));
            }
        }
        listed
    }

    /// A first value for the bank's current in a case: as read at the bus, else the sum of the positive leads, else the sum of
    /// the modules, else 0.
    fn first_guess(&self, case: usize, bank: &Bank) -> f64 {
        let sum = |is: &dyn Fn(What) -> bool| {
            let here = self.readings.iter().filter(|r| r.case == case && is(r.what));
            here.map(|r| r.value).reduce(|a, b| a + b)
        };
        let is_positive_lead = |c: &ConductorElement| c.role == ConductorRole::Lead && c.rail == Rail::Positive;
        let of_leads = |what| matches!(what, What::Current(k) if bank.conductor(k).is_some_and(is_positive_lead));
        let of_modules = |what| matches!(what, What::Current(k) if bank.conductor(k).is_none());
        let at_bus = self.readings.iter().find(|r| r.case == case && r.what == What::BusCurrent);
        at_bus.map(|r| r.value).or_else(|| sum(&of_leads)).or_else(|| sum(&of_modules)).unwrap_or(0.0)
    }
}

/// Standard deviation of a conductor's resistance [ln Ω]: that of its metal, and that of its two joints weighted by their
/// share of the resistance.
fn conductor_spread(conductor: &ConductorElement, joint: f64, ohm: f64) -> f64 {
    let metal = match conductor.conductor {
        ConductorResistance::Copper { .. } => ORDINARY_COPPER,
        ConductorResistance::Fixed(_) => ORDINARY_CONDUCTOR,
    };
    math::hypot(metal, joint * conductor.contact * std::f64::consts::SQRT_2 / ohm)
}
