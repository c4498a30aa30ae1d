//! What readings on site say about joints and modules.
//!
//! In: a scenario, and currents and drops measured at the bank. Out: the resistance of every element with its standard
//! error, and which elements are likely not what the scenario says; or the readings that contradict the others.
//!
//! The network explains all readings at once (`fit`), so that a drop tells of a current that nobody measured, and the
//! other way round. To judge an element, two explanations of the same readings are compared. In the first, all elements
//! differ from the scenario by an ordinary spread. In the second, this one element may have any resistance. The second
//! explanation pays for its freedom (the Occam factor of the evidence), so noise alone raises no suspicion. A reading that
//! no resistance of any element explains is mistaken (`conflict`).

mod circuit;
mod conflict;
mod error;
mod expect;
mod fit;
mod mistaken;

use crate::math;
use crate::profile::SiteReading;
use crate::progress::{Progress, Work};
use crate::scenario::Scenario;
use crate::units::Kind;
pub use conflict::Agreement;
pub use error::ReadingsError;
use expect::{Study, WIDE};
use fit::{Fit, Point};
pub use mistaken::{Foretold, Mistaken, Slip};
use serde::Serialize;

/// Probability that an element is not sound, before anything is measured: an assumption.
const RARE: f64 = 0.01;
/// Probability from which a suspect is reported.
const TOLD: f64 = 0.05;
/// At most so many elements are taken as unsound, one after the other.
const MOST_FOUND: usize = 8;
/// Every element's gain in evidence is first estimated. Of those with at least the second number, at most the first number
/// are fitted in full.
const LOOKED_AT: usize = 12;
const LEAST_GAIN: f64 = 0.5;
/// A resistance is called determined where the readings alone give it to a quarter [ln Ω], and its standard deviation is at
/// most half of what it was before.
const KNOWN: f64 = 0.25;
const BETTER: f64 = 0.5;

/// The question: what was measured, and at which temperature.
#[derive(Clone, Copy, Debug)]
pub struct Question<'a> {
    /// What was measured.
    pub readings: &'a [SiteReading],
    /// Temperature of the elements for which the readings give none [°C].
    pub air: f64,
}

/// The answer, as the document has it.
#[derive(Clone, Debug, Serialize)]
pub struct SiteFindings {
    /// A resistance for each element, in the order of the network.
    pub estimates: Vec<ResistanceEstimate>,
    /// Elements that are likely not as the scenario says, likeliest first.
    pub suspects: Vec<Suspect>,
    /// Reasons to doubt the whole answer, in sentences.
    pub warnings: Vec<String>,
    /// How well the readings agree with each other.
    pub agreement: Agreement,
}

/// Resistance of an element at the temperature of its reading.
#[derive(Clone, Debug, Serialize)]
pub struct ResistanceEstimate {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Resistance by the scenario [Ω].
    pub expected_ohm: f64,
    /// Resistance by all readings [Ω].
    pub resistance_ohm: f64,
    /// Standard error of `resistance_ohm` [Ω].
    pub std_error_ohm: f64,
    /// Whether the readings alone determine it; if not, it rests on expected values.
    pub determined: bool,
}

/// An element that is likely not what the scenario says.
#[derive(Clone, Debug, Serialize)]
pub struct Suspect {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Its likely resistance and the likely cause, in words.
    pub why: String,
    /// Probability (0…1) that it is not as the scenario says; before any reading it was one in a hundred.
    pub probability: f64,
}

/// Explains the readings; `progress` is told of each fit.
///
/// # Errors
/// `TooManyElements`, `Contradictory`, `Unexplained`, or an interruption; none else for a legal scenario.
pub fn solve(scenario: &Scenario, question: &Question, progress: &Progress) -> Result<SiteFindings, ReadingsError> {
    progress.begin(Work::Explanations, None);
    let mut study = Study::new(scenario, question.readings, question.air)?;
    let absurd = conflict::absurd(&study);
    if !absurd.is_empty() {
        return Err(ReadingsError::Contradictory(absurd));
    }
    let suspicion = suspicion(&mut study, progress)?;
    let found = study.bench.fit(&suspicion.x, &study.as_given(&suspicion.free), progress)?;
    let agreement = conflict::agreement(&mut study, &found.x, progress)?;
    let estimates = estimates(&mut study, &found);
    Ok(SiteFindings {
        estimates,
        suspects: suspects(&study, &suspicion),
        warnings: agreement.doubt(&study).into_iter().collect(),
        agreement,
    })
}

/// The elements that are likely not sound, and the values found with them.
struct Suspicion {
    /// The elements taken as unsound, and the fit in which these may have any resistance.
    free: Vec<usize>,
    x: Point,
    /// For each element the probability that it is unsound, and the logarithm of the resistance that it then has [ln Ω].
    likely: Vec<f64>,
    then: Vec<Option<f64>>,
}

fn suspicion(study: &mut Study, progress: &Progress) -> Result<Suspicion, ReadingsError> {
    let mut free: Vec<usize> = Vec::new();
    let mut likely = vec![0.0_f64; study.ids.len()];
    let mut then: Vec<Option<f64>> = vec![None; study.ids.len()];
    let mut suspect = |shares: &[f64], odds: &Odds| {
        for k in 0..shares.len() {
            if shares[k] > likely[k] {
                (likely[k], then[k]) = (shares[k], odds.then[k].or(then[k]));
            }
        }
    };
    let start = study.bench.expected.clone();
    let mut plain = study.bench.fit(&start, &study.ordinary(&free), progress)?;
    let mut odds = Odds::of(study, &plain, &free, progress)?;
    while let Some(found) = odds.likeliest().filter(|k| odds.log[*k] > 0.0 && free.len() < MOST_FOUND) {
        free.push(found);
        plain = study.bench.fit(&plain.x, &study.ordinary(&free), progress)?;
        let after = Odds::of(study, &plain, &free, progress)?;
        suspect(&shares(found, &odds.log, &after.log), &odds);
        odds = after;
    }
    let alone: Vec<f64> = odds.log.iter().map(|odds| 1.0 / (1.0 + math::exp(-odds))).collect();
    suspect(&alone, &odds);
    // For the elements in `free`, the resistance of the last fit counts, in which all of them are free.
    free.iter().for_each(|k| then[*k] = Some(plain.x.shared[*k]));
    Ok(Suspicion { free, x: plain.x, likely, then })
}

/// For each element, the odds that it is unsound, so that it may have any resistance.
struct Odds {
    /// Logarithms of the odds; −∞ for elements that are free already.
    log: Vec<f64>,
    /// Logarithm of the resistance that the element has where it is free [ln Ω]; only for those that were fitted in full.
    then: Vec<Option<f64>>,
}

impl Odds {
    fn of(study: &mut Study, plain: &Fit, free: &[usize], progress: &Progress) -> Result<Odds, ReadingsError> {
        let mut gains = straight_gains(study, plain, free);
        let mut then = vec![None; gains.len()];
        let mut order: Vec<usize> = (0..gains.len()).filter(|k| gains[*k] > LEAST_GAIN).collect();
        order.sort_by(|a, b| gains[*b].total_cmp(&gains[*a]));
        for k in order.into_iter().take(LOOKED_AT) {
            match study.bench.fit(&plain.x, &study.ordinary(&[free, &[k]].concat()), progress) {
                Ok(fit) => (gains[k], then[k]) = (fit.evidence - plain.evidence, Some(fit.x.shared[k])),
                Err(ReadingsError::Unexplained) => {}
                Err(halted) => return Err(halted),
            }
        }
        Ok(Odds { log: gains.iter().map(|gain| gain + math::ln(RARE)).collect(), then })
    }

    fn likeliest(&self) -> Option<usize> {
        (0..self.log.len()).max_by(|a, b| self.log[*a].total_cmp(&self.log[*b]))
    }
}

/// For each element, the gain in evidence if it were free, in the linear approximation around `plain`. Let δ = 1/s′² − 1/s² be
/// the change of the weight on one unknown, C = A⁻¹, and d the distance of the unknown from x₀. Then A + δ·eeᵀ has the
/// determinant |A|·(1 + δ·C_kk), and the least cost grows by δ·d²/(1 + δ·C_kk) (W. W. Hager, Updating the Inverse of a
/// Matrix, 1989, from memory), so that nothing has to be factorised again.
fn straight_gains(study: &Study, plain: &Fit, free: &[usize]) -> Vec<f64> {
    let covariance = plain.covariance();
    let gain = |k: usize| {
        let spread = plain.spread.shared[k];
        let more = 1.0 / (WIDE * WIDE) - 1.0 / (spread * spread);
        let apart = plain.x.shared[k] - study.bench.expected.shared[k];
        let grown = 1.0 + more * covariance[(k, k)];
        -0.5 * (more * apart * apart / grown + math::ln(grown)) - math::ln(WIDE / spread)
    };
    let of = |k: usize| if free.contains(&k) { f64::NEG_INFINITY } else { gain(k) };
    (0..study.ids.len()).map(of).collect()
}

/// For each element, the probability that it is the cause of what `found` explains, from the logarithms of the odds before
/// and after `found` was set free. An element that explained the same has lost its odds afterwards; one with a fault of its
/// own keeps them, and they do not count here.
fn shares(found: usize, before: &[f64], after: &[f64]) -> Vec<f64> {
    // Relative to the odds of `found`, so that nothing overflows. Free elements have odds of zero.
    let weight = |odds: f64| math::exp(odds - before[found]);
    let shared = |k: usize| match k == found {
        true => 1.0,
        false => (weight(before[k]) - weight(after[k])).max(0.0),
    };
    let weights: Vec<f64> = (0..before.len()).map(shared).collect();
    let all = weight(0.0) + weights.iter().sum::<f64>();
    weights.into_iter().map(|weight| weight / all).collect()
}

fn suspects(study: &Study, suspicion: &Suspicion) -> Vec<Suspect> {
    let told = suspicion.likely.iter().enumerate().filter(|(_, p)| **p >= TOLD);
    let suspect = |(k, p): (usize, &f64)| Suspect {
        id: study.ids[k].clone(),
        why: why(study, k, math::exp(suspicion.then[k].unwrap_or(suspicion.x.shared[k]))),
        probability: *p,
    };
    let mut suspects: Vec<Suspect> = told.map(suspect).collect();
    suspects.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    suspects
}

/// `4.2 mΩ where 0.35 mΩ was expected, 3.85 mΩ more: a joint, or the conductor itself`
fn why(study: &Study, k: usize, ohm: f64) -> String {
    let expected = math::exp(study.bench.expected.shared[k]);
    let shown = |ohm: f64| Kind::Resistance.show(rounded(ohm));
    let cause = match (k < study.modules(), ohm > expected) {
        _ if (300.0..3000.0).contains(&(ohm / expected)) => "an open joint, or a drop in mV where V belong",
        (true, true) => "its cells, or a connection within it",
        (true, false) => "its cells, or a mistake in the scenario",
        (false, true) => "a joint, or the conductor itself",
        (false, false) => "another conductor than the scenario's, or a path beside it",
    };
    let (apart, way) = ((ohm - expected).abs(), if ohm > expected { "more" } else { "less" });
    format!("{} where {} was expected, {} {way}: {cause}", shown(ohm), shown(expected), shown(apart))
}

fn estimates(study: &mut Study, fit: &Fit) -> Vec<ResistanceEstimate> {
    let alone = study.bench.by_readings_alone(fit, &study.nothing());
    let covariance = fit.covariance();
    let estimate = |(k, id): (usize, &String)| {
        let (ohm, deviation) = (math::exp(fit.x.shared[k]), covariance[(k, k)].sqrt());
        ResistanceEstimate {
            id: id.clone(),
            expected_ohm: math::exp(study.bench.expected.shared[k]),
            resistance_ohm: ohm,
            std_error_ohm: ohm * deviation,
            determined: alone[k] <= KNOWN && deviation <= BETTER * fit.spread.shared[k],
        }
    };
    study.ids.iter().enumerate().map(estimate).collect()
}

/// Rounded to three significant digits.
fn rounded(x: f64) -> f64 {
    let unit = math::powf(10.0, math::log10(x.abs()).floor() - 2.0);
    if unit > 0.0 && unit.is_finite() { (x / unit).round() * unit } else { x }
}
