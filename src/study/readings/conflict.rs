//! Readings that contradict each other.
//!
//! In: the readings, and what is known of a bank. Out: how well the readings agree, or which of them are mistaken.
//!
//! Each reading is compared with all others. Nothing is assumed about the bank but its wiring (`Study::any_bank`): with every
//! resistance free, only Kirchhoff's and Ohm's laws and the readings themselves remain. If the errors of the readings are
//! as stated, each reading differs from what the others say by a standard normal deviate (`Bench::checked`), and the sum of
//! squares follows χ² with at most as many degrees of freedom as there is redundancy. The chance that honest readings agree
//! as poorly is bounded in two ways, each with half of the error probability: by the worst of n readings (Bonferroni), with
//! P(|Z| > z) ≤ 2φ(z)/z (Mills' ratio), and by χ², turned into a normal deviate with the cube root of E. B. Wilson and
//! M. M. Hilferty (1931, from memory).
//!
//! To find the wrong reading, the most deviant ones are left out in turn. The one without which the rest is explained best
//! is named, together with the value that it should have. A reading that a common slip would explain is preferred to one
//! that is merely off.

use super::circuit::What;
use super::error::ReadingsError;
use super::expect::Study;
use super::fit::{Checked, Fit, Point, Reading, Spread};
use super::mistaken::{Foretold, Mistaken, Slip};
use crate::diagnostic::shortened;
use crate::math;
use crate::progress::Progress;
use serde::Serialize;

/// Readings contradict each other where honest readings would agree as poorly with this probability or less. A warning is
/// given below the second probability.
const IMPOSSIBLE: f64 = 1e-4;
const DOUBTFUL: f64 = 1e-2;
/// How many readings are left out in turn to find a mistaken one, and how many mistaken ones are named, at most.
const TRIED: usize = 12;
const MOST_NAMED: usize = 5;
/// Where the costs without one reading and without another differ by less than this, it stays open which of them is wrong.
/// A cost is twice a logarithm of odds, so this is odds of 1 to 20. A common slip is taken to be 20 times as likely as any
/// other mistake: an assumption.
const TOO_CLOSE: f64 = 6.0;
const SLIP: f64 = 6.0;
/// A second fit counts as better only where its cost is below this multiple of the first, so that rounding decides nothing.
const SAME: f64 = 1.0 - 1e-6;
/// Least relative standard deviation of a reading whose slip has been undone: what was stated for the slipped value may not
/// hold for it.
const USUAL: f64 = 0.01;
/// Possible voltages of a module, as multiples of its voltage at rest. The drop along a conductor is less than the first.
const LEAST_VOLTAGE: f64 = 0.5;
const MOST_VOLTAGE: f64 = 1.5;

/// How well the readings agree with each other, whatever the bank.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Agreement {
    /// Sum of the squared residuals of the readings, each divided by its standard deviation.
    pub chi_square: f64,
    /// Redundancy: the mean of `chi_square` over honest sets of readings.
    pub degrees_of_freedom: f64,
    /// Greatest difference between a reading and what all others say of it, in standard deviations; null where no reading
    /// checks another.
    pub farthest: Option<f64>,
    /// Upper bound of the probability that honest readings agree as poorly as these.
    pub chance: f64,
    #[serde(skip)]
    which: Option<usize>,
}

impl Agreement {
    fn of(fit: &Fit, checked: &[Checked]) -> Agreement {
        let off: Vec<(usize, f64)> = checked.iter().enumerate().filter_map(|(k, c)| Some((k, c.off?.abs()))).collect();
        let worst = off.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1));
        let (chi_square, freedom) = (fit.misfit.norm_squared(), checked.iter().map(|c| c.redundancy).sum());
        let of_worst = worst.map_or(1.0, |(_, z)| 2.0 * off.len() as f64 * tail(z));
        let chance = (2.0 * of_worst.min(tail(deviations_of_chi_square(chi_square, freedom)))).min(1.0);
        let (which, farthest) = worst.unzip();
        Agreement { chi_square, degrees_of_freedom: freedom, farthest, chance, which }
    }

    fn is_impossible(&self) -> bool {
        self.chance < IMPOSSIBLE
    }

    /// A warning where the agreement is poor, yet not so poor that a reading must be wrong.
    pub fn doubt(&self, study: &Study) -> Option<String> {
        let (which, off) = self.which.zip(self.farthest).filter(|_| self.chance < DOUBTFUL)?;
        let reading = study.bench.readings[which];
        let of = match reading.what {
            What::Current(branch) => format!("current of {}", study.ids[branch]),
            What::Drop(branch) => format!("drop of {}", study.ids[branch]),
            What::BusCurrent => "current of the bus".to_string(),
            What::BusVoltage => "voltage of the bus".to_string(),
        };
        let case = match study.cases[reading.case].as_str() {
            "" => String::new(),
            name => format!(" in case {}", shortened(name)),
        };
        Some(format!(
            "the readings agree as poorly as one honest set in {:.0} does. The {of}{case} is {off:.1} standard deviations from \
             what all others say: read it again, and check the accuracies",
            1.0 / self.chance
        ))
    }
}

/// Upper bound of P(Z > z) for a standard normal Z.
fn tail(z: f64) -> f64 {
    let density = math::exp(-0.5 * z * z) / (2.0 * std::f64::consts::PI).sqrt();
    if z > 1.0 { density / z } else { 1.0 }
}

/// χ² as a standard normal deviate (Wilson and Hilferty); 0 where no reading checks another.
fn deviations_of_chi_square(chi_square: f64, freedom: f64) -> f64 {
    if freedom < 1.0 {
        return 0.0;
    }
    let spread = 2.0 / (9.0 * freedom);
    (math::powf(chi_square / freedom, 1.0 / 3.0) - 1.0 + spread) / spread.sqrt()
}

/// How well the readings agree. `found` is the fit in which all suspected elements were free; the search starts there.
///
/// # Errors
/// `Contradictory`, `Unexplained`, or an interruption.
pub fn agreement(study: &mut Study, found: &Point, progress: &Progress) -> Result<Agreement, ReadingsError> {
    let mut judged = Judged::of(study, found, progress)?;
    let mut mistaken: Vec<(usize, Mistaken)> = Vec::new();
    while judged.agreement.is_impossible() && mistaken.len() < MOST_NAMED {
        let Some((reading, named)) = most_mistaken(study, &judged, progress)? else { break };
        study.bench.readings[reading].deviation = f64::INFINITY;
        mistaken.push((reading, named));
        judged = Judged::of(study, &judged.fit.x, progress)?;
    }
    if mistaken.is_empty() {
        let believed = !judged.agreement.is_impossible() && is_carried(study, &judged.fit.x);
        return if believed { Ok(judged.agreement) } else { Err(ReadingsError::Unexplained) };
    }
    exchanged(study, &judged.fit, &mut mistaken);
    Err(ReadingsError::Contradictory(mistaken.into_iter().map(|(_, named)| named).collect()))
}

/// Whether the bus voltage is above zero in every case.
fn is_carried(study: &mut Study, x: &Point) -> bool {
    let circuit = study.bench.circuit(x);
    circuit.is_some_and(|circuit| x.currents.iter().all(|amps| circuit.bus_voltage(*amps) > 0.0))
}

/// A fit of the readings alone, and how each reading compares with all others in it.
struct Judged {
    fit: Fit,
    checked: Vec<Checked>,
    agreement: Agreement,
}

impl Judged {
    /// Fits from `start`. Where the readings contradict each other, it also fits from the expected values and keeps the better
    /// fit: a poor starting point must not look like a contradiction.
    fn of(study: &mut Study, start: &Point, progress: &Progress) -> Result<Judged, ReadingsError> {
        let first = study.bench.fit(start, &study.any_bank(), progress)?;
        let first = Judged::by(study, first);
        if !first.agreement.is_impossible() {
            return Ok(first);
        }
        let expected = study.bench.expected.clone();
        let second = study.bench.fit(&expected, &study.any_bank(), progress)?;
        Ok(if second.cost < first.fit.cost * SAME { Judged::by(study, second) } else { first })
    }

    fn by(study: &mut Study, fit: Fit) -> Judged {
        let checked = study.bench.checked(&fit);
        let agreement = Agreement::of(&fit, &checked);
        Judged { fit, checked, agreement }
    }
}

/// The fit without one reading: its score (less is better), and what it says that the reading should be, with its standard
/// deviation.
struct Without {
    reading: usize,
    score: f64,
    foretold: Option<(f64, f64)>,
    slip: Option<Slip>,
}

/// The reading without which the rest is explained best: by the spreads of the scenario, and where these leave several
/// candidates, by those of a bank without faults.
fn most_mistaken(
    study: &mut Study,
    judged: &Judged,
    progress: &Progress,
) -> Result<Option<(usize, Mistaken)>, ReadingsError> {
    let off = |k: usize| judged.checked[k].off.map_or(0.0, f64::abs);
    let heard = |k: &usize| study.bench.readings[*k].deviation.is_finite() && judged.checked[*k].off.is_some();
    let mut order: Vec<usize> = (0..judged.checked.len()).filter(heard).collect();
    order.sort_by(|a, b| off(*b).total_cmp(&off(*a)));
    order.truncate(TRIED);
    let mut best = left_out(study, &order, &judged.fit.x, &study.as_given(&[]), progress)?;
    if best.len() > 1 {
        let open: Vec<usize> = best.iter().map(|without| without.reading).collect();
        best = left_out(study, &open, &judged.fit.x, &study.ordinary(&[]), progress)?;
    }
    let Some(first) = best.first() else { return Ok(None) };
    let (row, cell) = study.places[first.reading];
    let read = study.bench.readings[first.reading];
    let apart = |(expected, error): (f64, f64)| (read.value - expected).abs() / math::hypot(read.deviation, error);
    let mistaken = Mistaken {
        row,
        cell,
        read: read.value,
        expected: first.foretold.map(|(value, error)| Foretold { value, error: Some(error) }),
        off: first.foretold.map(apart),
        slip: first.slip,
        instead: best[1..].iter().map(|other| study.places[other.reading]).collect(),
    };
    Ok(Some((first.reading, mistaken)))
}

/// Leaves out each of these readings in turn. Returns the best attempt and those that are about as good, best first.
fn left_out(
    study: &mut Study,
    readings: &[usize],
    start: &Point,
    spread: &Spread,
    progress: &Progress,
) -> Result<Vec<Without>, ReadingsError> {
    let mut tried: Vec<Without> = Vec::new();
    for &reading in readings {
        tried.extend(without(study, reading, start, spread, progress)?);
    }
    tried.sort_by(|a, b| a.score.total_cmp(&b.score));
    let least = tried.first().map_or(0.0, |without| without.score);
    tried.retain(|without| without.score - least < TOO_CLOSE);
    Ok(tried)
}

/// The best fit of all readings but this one; `None` where none was found.
fn without(
    study: &mut Study,
    reading: usize,
    start: &Point,
    spread: &Spread,
    progress: &Progress,
) -> Result<Option<Without>, ReadingsError> {
    let deviation = std::mem::replace(&mut study.bench.readings[reading].deviation, f64::INFINITY);
    let expected = study.bench.expected.clone();
    let mut best: Option<Fit> = None;
    for from in [start, &expected] {
        match study.bench.fit(from, spread, progress) {
            Ok(fit) if best.as_ref().is_none_or(|b| fit.cost < b.cost) => best = Some(fit),
            Ok(_) | Err(ReadingsError::Unexplained) => {}
            Err(halted) => return Err(halted),
        }
    }
    let foretold = best.as_ref().and_then(|fit| study.bench.foretold(fit, reading));
    study.bench.readings[reading].deviation = deviation;
    let value = study.bench.readings[reading].value;
    let slip = foretold.and_then(|foretold| slip(value, deviation, foretold));
    let bonus = if slip.is_some() { SLIP } else { 0.0 };
    Ok(best.map(|fit| Without { reading, score: fit.cost - bonus, foretold, slip }))
}

/// Slips that concern a single reading, each with the factor that undoes it.
const UNDONE: [(Slip, f64); 4] =
    [(Slip::Sign, -1.0), (Slip::Milli, 1e-3), (Slip::Factor(10.0), 10.0), (Slip::Factor(0.1), 0.1)];

/// The slip that turns the expected value into what was read; `None` where none fits or the expected value is too uncertain
/// to tell.
fn slip(read: f64, deviation: f64, (expected, error): (f64, f64)) -> Option<Slip> {
    let off = (read - expected).abs();
    let fits = |factor: f64| {
        let doubt = math::hypot((factor * deviation).abs().max(USUAL * (factor * read).abs()), error);
        // Where the other readings hardly determine the value, almost any factor would fit.
        let told = error < 0.1 * expected.abs() && doubt < 0.2 * off;
        told && (factor * read - expected).abs() < 3.0 * doubt
    };
    UNDONE.into_iter().find(|(_, factor)| fits(*factor)).map(|(slip, _)| slip)
}

/// Marks pairs of mistaken readings of the same kind and case that fit in each other's place.
fn exchanged(study: &mut Study, fit: &Fit, mistaken: &mut [(usize, Mistaken)]) {
    for a in 0..mistaken.len() {
        for b in a + 1..mistaken.len() {
            let (first, second) = (mistaken[a].0, mistaken[b].0);
            let (one, other) = (study.bench.readings[first], study.bench.readings[second]);
            if one.case != other.case || mistaken[a].1.cell != mistaken[b].1.cell {
                continue;
            }
            let foretold = [first, second].map(|reading| study.bench.foretold(fit, reading));
            let [Some(here), Some(there)] = foretold else { continue };
            let fits = |value: f64, (expected, error): (f64, f64)| {
                (value - expected).abs() < 3.0 * math::hypot(error, USUAL * value)
            };
            if fits(one.value, there) && fits(other.value, here) {
                let rows = [mistaken[a].1.row, mistaken[b].1.row];
                mistaken[a].1.slip = Some(Slip::Exchanged(rows[1]));
                mistaken[b].1.slip = Some(Slip::Exchanged(rows[0]));
            }
        }
    }
}

/// Readings that are impossible for a bank of such modules, whatever the other readings say.
pub fn absurd(study: &Study) -> Vec<Mistaken> {
    let modules = study.modules();
    let highest = (0..modules).map(|k| study.expected_emf(k)).fold(0.0, f64::max);
    let judge = |(k, reading): (usize, &Reading)| {
        let (read, (row, cell)) = (reading.value, study.places[k]);
        let at_rest = match reading.what {
            What::Drop(module) if module < modules => Some(study.expected_emf(module)),
            What::BusVoltage => Some(highest),
            _ => None,
        };
        let slip = match (reading.what, at_rest) {
            (_, Some(at_rest)) => {
                let possible = LEAST_VOLTAGE * at_rest..=MOST_VOLTAGE * at_rest;
                let undone = UNDONE.into_iter().find(|(_, factor)| possible.contains(&(factor * read)));
                let wrong = undone.map_or(Slip::NoVoltageOfAModule, |(slip, _)| slip);
                (!possible.contains(&read)).then_some(wrong)
            }
            (What::Drop(_), None) if read.abs() > MOST_VOLTAGE * highest => Some(Slip::Milli),
            (What::Drop(_), None) => (read.abs() > LEAST_VOLTAGE * highest).then_some(Slip::NoDropOfAConductor),
            _ => None,
        };
        let expected = at_rest.map(|volts| Foretold { value: volts, error: None });
        slip.map(|slip| Mistaken { row, cell, read, expected, off: None, slip: Some(slip), instead: Vec::new() })
    };
    let mut absurd: Vec<(usize, Mistaken)> =
        study.bench.readings.iter().enumerate().filter_map(|(k, reading)| Some((k, judge((k, reading))?))).collect();
    // One module's voltage and one conductor's drop in the same case, each in the other's row.
    let of = |slip: Slip| absurd.iter().filter(move |(_, m)| m.slip == Some(slip)).map(|(k, m)| (*k, m.row));
    let pairs: Vec<_> = of(Slip::NoVoltageOfAModule).zip(of(Slip::NoDropOfAConductor)).collect();
    if let [((one, row_of_one), (other, row_of_other))] = pairs[..]
        && study.bench.readings[one].case == study.bench.readings[other].case
    {
        for (k, mistaken) in &mut absurd {
            mistaken.slip = match *k {
                k if k == one => Some(Slip::Exchanged(row_of_other)),
                k if k == other => Some(Slip::Exchanged(row_of_one)),
                _ => mistaken.slip,
            };
        }
    }
    absurd.into_iter().map(|(_, mistaken)| mistaken).collect()
}
