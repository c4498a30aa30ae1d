//! What readings on site say about joints and modules.
//!
//! In: a scenario, and currents and drops measured at the bank. Out: the resistance of every element with its standard
//! error, and which elements are likely not what the scenario says.
//!
//! All readings are explained at once by the network (`fit`), so that a drop tells of a current that nobody measured,
//! and the other way round. An element is suspected by comparing two explanations of the same readings: all elements differ
//! from the scenario by an ordinary spread; all but this one do, which may be anything. The second pays for its freedom
//! (Occam's factor in the evidence), so that noise alone raises no suspicion.

mod fit;

use super::steady::Steady;
use crate::math;
use crate::network::NetworkError;
use crate::network::bank::{Bank, ConductorElement};
use crate::network::solve::Solver;
use crate::profile::{BUS, SiteReading};
use crate::scenario::{ConductorResistance, Distribution, Scenario};
use crate::units::Kind;
use fit::{Bench, Fit, Reading, What};
use nalgebra::DVector;
use serde::Serialize;

/// Where a scenario gives no spread, and of an element that may be anything: a factor of 4.5 either way [ln Ω].
const WIDE: f64 = 1.5;
/// By which sound elements differ from what was expected, where the scenario does not say: modules, the metal of conductors
/// by size and length or by their resistance, and joints [ln Ω]: assumptions. A conductor of half as much again is then
/// suspected (ANSI/NETA: act on a joint that is 50 % above its like).
const ORDINARY_MODULE: f64 = 0.05;
const ORDINARY_COPPER: f64 = 0.05;
const ORDINARY_CONDUCTOR: f64 = 0.1;
const ORDINARY_JOINT: f64 = 0.5;
/// How well the voltage of a module at rest is known [V], and a current that nobody measured [A]: hardly.
const EMF: f64 = 1.0;
const CURRENT: f64 = 1000.0;
/// One element in a hundred is not what it should be, before anything is measured: an assumption.
const RARE: f64 = 0.01;
/// A suspect that is told.
const TOLD: f64 = 0.05;
/// Elements that are taken for what they are not, one after the other, while more are looked for.
const MOST_FOUND: usize = 8;
/// So many explanations are worked out in full after a first look at all.
const LOOKED_AT: usize = 12;
/// A reading so many standard deviations off is no accident.
const DOUBTFUL: f64 = 5.0;
/// A resistance is determined where it is known to a quarter, and twice as well as before.
const KNOWN: f64 = 0.25;
const BETTER: f64 = 0.5;

/// The answer. Other programs rely on its names: add, never rename.
#[derive(Clone, Debug, Serialize)]
pub struct SiteFindings {
    pub estimates: Vec<ResistanceEstimate>,
    /// The likeliest first.
    pub suspects: Vec<Suspect>,
    /// What makes all of it doubtful.
    pub warnings: Vec<String>,
}

/// Resistance of an element at the temperature of its reading.
#[derive(Clone, Debug, Serialize)]
pub struct ResistanceEstimate {
    pub id: String,
    /// By the scenario.
    pub expected_ohm: f64,
    pub resistance_ohm: f64,
    pub std_error_ohm: f64,
    /// Whether the readings tell it; else it is little more than what was expected.
    pub determined: bool,
}

/// An element that is likely not what the scenario says.
#[derive(Clone, Debug, Serialize)]
pub struct Suspect {
    pub id: String,
    pub why: String,
    /// That it is not, one in a hundred being so before anything was measured.
    pub probability: f64,
}

#[derive(Debug, thiserror::Error)]
pub enum ReadingsError {
    #[error(transparent)]
    Network(#[from] NetworkError),
    #[error("the readings contradict each other or the scenario so far that no currents explain them")]
    Unexplained,
}

/// Explains the readings.
///
/// # Errors
/// `Unexplained`; none of the network for a legal scenario.
pub fn explain(scenario: &Scenario, readings: &[SiteReading], air: f64) -> Result<SiteFindings, ReadingsError> {
    let mut study = Study::new(scenario, readings, air)?;
    let start = study.bench.expected.clone();
    let mut free: Vec<usize> = Vec::new();
    let mut likely = vec![0.0_f64; study.ids.len()];
    let mut plain = study.fit(&start, &study.ordinary(&free))?;
    let mut odds = study.odds(&plain, &free);
    while let Some(found) = likeliest(&odds).filter(|k| odds[*k] > 0.0 && free.len() < MOST_FOUND) {
        free.push(found);
        plain = study.fit(&plain.x, &study.ordinary(&free))?;
        let after = study.odds(&plain, &free);
        for (likely, share) in likely.iter_mut().zip(shares(found, &odds, &after)) {
            *likely = likely.max(share);
        }
        odds = after;
    }
    for (odds, likely) in odds.iter().zip(&mut likely) {
        *likely = likely.max(1.0 / (1.0 + math::exp(-odds)));
    }
    let found = study.fit(&plain.x, &study.as_given(&free))?;
    Ok(SiteFindings {
        estimates: study.estimates(&found, &free),
        suspects: study.suspects(&likely, &found),
        warnings: study.doubt(&found).into_iter().collect(),
    })
}

fn likeliest(odds: &[f64]) -> Option<usize> {
    (0..odds.len()).max_by(|a, b| odds[*a].total_cmp(&odds[*b]))
}

/// Probabilities that what `found` explains is due to it or to another: by the odds before it was let free, and after.
/// Another that would have explained the same explains nothing any more; one with a fault of its own still does.
fn shares(found: usize, before: &[f64], after: &[f64]) -> Vec<f64> {
    // Against the odds of `found`, so that nothing overflows. Those that are free have none.
    let weight = |odds: f64| math::exp(odds - before[found]);
    let shared = |k: usize| match k == found {
        true => 1.0,
        false => (weight(before[k]) - weight(after[k])).max(0.0),
    };
    let weights: Vec<f64> = (0..before.len()).map(shared).collect();
    let all = weight(0.0) + weights.iter().sum::<f64>();
    weights.into_iter().map(|weight| weight / all).collect()
}

struct Study {
    bench: Bench,
    ids: Vec<String>,
    /// Names of the cases.
    cases: Vec<String>,
    /// Spread of each resistance by the scenario [ln Ω]; `None`: it does not say. What is ordinary then.
    given: Vec<Option<f64>>,
    sound: Vec<f64>,
}

impl Study {
    fn new(scenario: &Scenario, readings: &[SiteReading], air: f64) -> Result<Study, ReadingsError> {
        let steady = Steady::new(scenario, None, air)?;
        let (bank, modules) = (&steady.bank, steady.modules.len());
        let ids: Vec<String> = (0..steady.elements.len()).map(|k| steady.id(k).to_string()).collect();
        let devices: Vec<f64> = bank.modules.iter().map(|place| place.device).collect();
        // A conductor without resistance is as good as one of a nanoohm.
        let without_device =
            |steady: &Steady<'_>, k: usize| (steady.elements[k].resistance - devices.get(k).unwrap_or(&0.0)).max(1e-9);
        let mut ohms: Vec<f64> = (0..ids.len()).map(|k| without_device(&steady, k)).collect();
        for (k, celsius) in temperatures(readings, &ids) {
            ohms[k] = without_device(&Steady::new(scenario, None, celsius)?, k);
        }
        let spread = &scenario.spread;
        let of_conductor = |k: usize, joint: f64| conductor_spread(&bank.conductors[k - modules], joint, ohms[k]);
        let given = (0..ids.len()).map(|k| match k < modules {
            true => deviation(&spread.resistance),
            false => deviation(&spread.joint).map(|joint| of_conductor(k, joint)),
        });
        let given = given.collect();
        let sound = |k: usize| if k < modules { ORDINARY_MODULE } else { of_conductor(k, ORDINARY_JOINT) };
        let sound = (0..ids.len()).map(sound).collect();
        let (cases, listed) = listed(readings, &ids);
        let currents = cases.iter().map(|case| first_guess(readings, case, bank));
        let emf = steady.elements[..modules].iter().map(|element| element.emf);
        let logs = ohms.iter().map(|ohm| math::ln(*ohm));
        let expected = DVector::from_vec(logs.chain(emf).chain(currents).collect());
        let solver = Solver::new(bank.network.clone());
        let bench = Bench { solver, devices, cases: cases.len(), readings: listed, expected };
        Ok(Study { bench, ids, cases, given, sound })
    }

    fn fit(&mut self, start: &DVector<f64>, deviations: &DVector<f64>) -> Result<Fit, ReadingsError> {
        self.bench.fit(start, deviations).ok_or(ReadingsError::Unexplained)
    }

    /// Standard deviations of all unknowns, of the resistances by `of`.
    fn deviations(&self, of: impl Fn(usize) -> f64) -> DVector<f64> {
        let (branches, modules) = (self.ids.len(), self.bench.devices.len());
        let all = (0..branches).map(of).chain(std::iter::repeat_n(EMF, modules));
        DVector::from_vec(all.chain(std::iter::repeat_n(CURRENT, self.bench.cases)).collect())
    }

    /// All elements sound but those that are free.
    fn ordinary(&self, free: &[usize]) -> DVector<f64> {
        self.deviations(|k| if free.contains(&k) { WIDE } else { self.given[k].unwrap_or(self.sound[k]) })
    }

    /// As the scenario says, and wide where it does not.
    fn as_given(&self, free: &[usize]) -> DVector<f64> {
        self.deviations(|k| if free.contains(&k) { WIDE } else { self.given[k].unwrap_or(WIDE) })
    }

    /// Logarithm of the odds that an element may be anything, against its being sound; nothing of those that are free.
    fn odds(&mut self, plain: &Fit, free: &[usize]) -> Vec<f64> {
        let with = |k: usize| [free, &[k]].concat();
        let mut odds: Vec<f64> = (0..self.ids.len())
            .map(|k| {
                let straight =
                    (!free.contains(&k)).then(|| self.bench.straight_evidence(plain, &self.ordinary(&with(k))));
                straight.flatten().map_or(f64::NEG_INFINITY, |evidence| evidence - plain.evidence)
            })
            .collect();
        let mut order: Vec<usize> = (0..odds.len()).filter(|k| odds[*k].is_finite()).collect();
        order.sort_by(|a, b| odds[*b].total_cmp(&odds[*a]));
        for k in order.into_iter().take(LOOKED_AT) {
            if let Some(fit) = self.bench.fit(&plain.x, &self.ordinary(&with(k))) {
                odds[k] = fit.evidence - plain.evidence;
            }
        }
        odds.iter().map(|gain| gain + math::ln(RARE)).collect()
    }

    fn suspects(&self, likely: &[f64], fit: &Fit) -> Vec<Suspect> {
        let told = likely.iter().enumerate().filter(|(_, p)| **p >= TOLD);
        let suspect = |(k, p): (usize, &f64)| Suspect {
            id: self.ids[k].clone(),
            why: self.why(k, math::exp(fit.x[k])),
            probability: *p,
        };
        let mut suspects: Vec<Suspect> = told.map(suspect).collect();
        suspects.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        suspects
    }

    /// `4.2 mΩ where 0.35 mΩ was expected, 3.85 mΩ more: a joint, or the conductor itself`
    fn why(&self, k: usize, ohm: f64) -> String {
        let expected = math::exp(self.bench.expected[k]);
        let shown = |ohm: f64| Kind::Resistance.show(rounded(ohm));
        let cause = match (k < self.bench.devices.len(), ohm > expected) {
            (true, true) => "its cells, or a connection within it",
            (true, false) => "its cells, or a mistake in the scenario",
            (false, true) => "a joint, or the conductor itself",
            (false, false) => "another conductor than the scenario's, or a path beside it",
        };
        let (apart, way) = ((ohm - expected).abs(), if ohm > expected { "more" } else { "less" });
        format!("{} where {} was expected, {} {way}: {cause}", shown(ohm), shown(expected), shown(apart))
    }

    /// A reading that nothing explains.
    fn doubt(&self, fit: &Fit) -> Option<String> {
        let (worst, off) = fit.worst().filter(|(_, off)| *off > DOUBTFUL)?;
        let Reading { case, what, .. } = self.bench.readings[worst];
        let of = match what {
            What::Current(branch) => format!("current of {}", self.ids[branch]),
            What::Drop(branch) => format!("drop of {}", self.ids[branch]),
            What::BusCurrent => "current of the bus".to_string(),
            What::BusVoltage => "voltage of the bus".to_string(),
        };
        let case = match self.cases[case].as_str() {
            "" => String::new(),
            name => format!(" in case {name}"),
        };
        Some(format!(
            "the {of}{case} is {off:.0} standard deviations from what all other readings allow: read it again, and check \
             its sign and the accuracies; until then nothing here is to be relied on"
        ))
    }

    fn estimates(&self, fit: &Fit, free: &[usize]) -> Vec<ResistanceEstimate> {
        let before = self.as_given(free);
        let estimate = |(k, id): (usize, &String)| {
            let (ohm, deviation) = (math::exp(fit.x[k]), fit.deviations[k]);
            ResistanceEstimate {
                id: id.clone(),
                expected_ohm: math::exp(self.bench.expected[k]),
                resistance_ohm: ohm,
                std_error_ohm: ohm * deviation,
                determined: deviation <= KNOWN.min(BETTER * before[k]),
            }
        };
        self.ids.iter().enumerate().map(estimate).collect()
    }
}

/// Three digits.
fn rounded(x: f64) -> f64 {
    let unit = math::powf(10.0, math::log10(x.abs()).floor() - 2.0);
    if unit > 0.0 && unit.is_finite() { (x / unit).round() * unit } else { x }
}

/// Standard deviation of the logarithm of a factor, to first order; `None` of what is always nominal.
fn deviation(factor: &Distribution) -> Option<f64> {
    Some(factor.deviation()).filter(|deviation| *deviation > 0.0)
}

/// Elements whose temperature was read.
fn temperatures<'a>(readings: &'a [SiteReading], ids: &'a [String]) -> impl Iterator<Item = (usize, f64)> + 'a {
    readings.iter().filter_map(|r| Some((ids.iter().position(|id| *id == r.element)?, r.temperature?)))
}

/// The cases in the order of the file, and all that was read in them.
fn listed(readings: &[SiteReading], ids: &[String]) -> (Vec<String>, Vec<Reading>) {
    let mut cases: Vec<String> = Vec::new();
    let mut listed = Vec::new();
    for row in readings {
        let case = cases.iter().position(|case| *case == row.case).unwrap_or_else(|| {
            cases.push(row.case.clone());
            cases.len() - 1
        });
        let (current, drop) = match ids.iter().position(|id| *id == row.element) {
            Some(branch) => (What::Current(branch), What::Drop(branch)),
            None => (What::BusCurrent, What::BusVoltage),
        };
        for (what, read) in [(current, row.current), (drop, row.drop)] {
            listed.extend(read.map(|m| Reading { case, what, value: m.value, deviation: m.deviation }));
        }
    }
    (cases, listed)
}

/// Spread of a conductor [ln Ω] by its metal and, as far as they are a part of it, its two joints.
fn conductor_spread(conductor: &ConductorElement, joint: f64, ohm: f64) -> f64 {
    let metal = match conductor.conductor {
        ConductorResistance::Copper { .. } => ORDINARY_COPPER,
        ConductorResistance::Fixed(_) => ORDINARY_CONDUCTOR,
    };
    math::hypot(metal, joint * conductor.contact * std::f64::consts::SQRT_2 / ohm)
}

/// The bank's current in a case: read, or by the positive leads, or by the modules.
fn first_guess(readings: &[SiteReading], case: &str, bank: &Bank) -> f64 {
    let here = || readings.iter().filter(|r| r.case == case);
    let current = |r: &SiteReading| r.current.map(|m| m.value);
    if let Some(amps) = here().filter(|r| r.element == BUS).find_map(current) {
        return amps;
    }
    let sum = |is: &dyn Fn(&str) -> bool| {
        let read: Vec<f64> = here().filter(|r| is(&r.element)).filter_map(current).collect();
        (!read.is_empty()).then(|| read.iter().sum())
    };
    let of_leads = |id: &str| bank.conductors.iter().any(|c| c.id == id && c.is_lead() && id.ends_with('+'));
    let of_modules = |id: &str| bank.modules.iter().any(|m| m.id == id);
    sum(&of_leads).or_else(|| sum(&of_modules)).unwrap_or(0.0)
}
