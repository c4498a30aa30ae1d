//! Readings that contradict each other.
//!
//! In: the readings, and what is known of a bank. Out: how well they agree, or which of them are mistaken.
//!
//! Each reading is held against all others as any bank of this wiring would have them (`Study::any_bank`): resistances may be
//! anything, so that what is left are Kirchhoff's and Ohm's laws and the readings themselves. Where its error is as
//! stated, a reading is off by its own standard deviation (`Bench::checked`), and the sum of squares follows χ² of as many
//! degrees of freedom as there is redundancy, or less. The chance that honest readings agree as poorly is bounded by that of the
//! worst of n readings (Bonferroni) and that of χ², each with half the error; P(|Z| > z) ≤ 2φ(z)/z (Mills' ratio), and χ² is told
//! in standard deviations by the cube root of E. B. Wilson and M. M. Hilferty (1931, from memory).
//!
//! Which reading is wrong is asked of the most deviant ones: each is left out in turn, and the one without which the rest is
//! explained best is named, with what it should be. One that a common slip would explain goes before one that is just off.

use super::circuit::What;
use super::error::ReadingsError;
use super::expect::Study;
use super::fit::{Checked, Fit, Point, Reading, Spread};
use super::mistaken::{Foretold, Mistaken, Slip};
use crate::diagnostic::shortened;
use crate::math;
use crate::progress::Progress;
use serde::Serialize;

/// Readings that chance explains once in ten thousand contradict each other; once in a hundred, a warning is given.
const IMPOSSIBLE: f64 = 1e-4;
const DOUBTFUL: f64 = 1e-2;
/// Most readings that are left out in turn to find the mistaken one.
const TRIED: usize = 12;
const MOST_NAMED: usize = 5;
/// Costs that differ by less leave open which of two readings is wrong: odds of 1 to 20 (twice its logarithm). A slip that
/// everybody makes is as much likelier than another mistake: an assumption.
const TOO_CLOSE: f64 = 6.0;
const SLIP: f64 = 6.0;
/// A cost that is less by more than rounding.
const SAME: f64 = 1.0 - 1e-6;
/// Of a reading: how exact it is once its slip is undone, whatever was said of it as it stood.
const USUAL: f64 = 0.01;
/// Where a module's voltage lies, as a share of its voltage at rest; a conductor has less than the least of it.
const LEAST_VOLTAGE: f64 = 0.5;
const MOST_VOLTAGE: f64 = 1.5;

/// How well the readings agree with each other, whatever the bank.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Agreement {
    /// Squares of what is left of the readings by their accuracies.
    pub chi_square: f64,
    /// Readings that check each other: what the sum of squares is in the mean.
    pub degrees_of_freedom: f64,
    /// The reading that is farthest from what all others say of it, in standard deviations; `None`: none checks another.
    pub farthest: Option<f64>,
    /// The share of honest sets of readings that agree as poorly, at most.
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

    /// What an accident might still explain.
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

/// P(Z > z) at most.
fn tail(z: f64) -> f64 {
    let density = math::exp(-0.5 * z * z) / (2.0 * std::f64::consts::PI).sqrt();
    if z > 1.0 { density / z } else { 1.0 }
}

/// 0 where nothing checks anything.
fn deviations_of_chi_square(chi_square: f64, freedom: f64) -> f64 {
    if freedom < 1.0 {
        return 0.0;
    }
    let spread = 2.0 / (9.0 * freedom);
    (math::powf(chi_square / freedom, 1.0 / 3.0) - 1.0 + spread) / spread.sqrt()
}

/// How well the readings agree. `found` are the values with all suspects free.
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

/// Whether the bus has a voltage in every case.
fn is_carried(study: &mut Study, x: &Point) -> bool {
    let circuit = study.bench.circuit(x);
    circuit.is_some_and(|circuit| x.currents.iter().all(|amps| circuit.bus_voltage(*amps) > 0.0))
}

/// The readings held against each other.
struct Judged {
    fit: Fit,
    checked: Vec<Checked>,
    agreement: Agreement,
}

impl Judged {
    /// From `start`; where they contradict each other there, also from what was expected: a contradiction is not to be
    /// one of where the search began.
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

/// A reading left out, and how well the rest is explained then.
struct Without {
    reading: usize,
    score: f64,
    foretold: Option<(f64, f64)>,
    slip: Option<Slip>,
}

/// The reading whose removal explains most: of any bank, and where that leaves it open, of a sound one.
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

/// Each of these readings left out; those that explain the rest best, and about as well as each other.
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

/// The best explanation of all but one reading.
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

/// The slips that change a reading alone, by the factor that undoes each.
const UNDONE: [(Slip, f64); 4] =
    [(Slip::Sign, -1.0), (Slip::Milli, 1e-3), (Slip::Factor(10.0), 10.0), (Slip::Factor(0.1), 0.1)];

/// What would turn a reading into what it should be, if that is known well enough to tell.
fn slip(read: f64, deviation: f64, (expected, error): (f64, f64)) -> Option<Slip> {
    let off = (read - expected).abs();
    let fits = |factor: f64| {
        let doubt = math::hypot((factor * deviation).abs().max(USUAL * (factor * read).abs()), error);
        // Where the others hardly tell what it should be, almost anything would fit.
        let told = error < 0.1 * expected.abs() && doubt < 0.2 * off;
        told && (factor * read - expected).abs() < 3.0 * doubt
    };
    UNDONE.into_iter().find(|(_, factor)| fits(*factor)).map(|(slip, _)| slip)
}

/// Two mistaken readings of one kind and case that fit in each other's place.
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

/// Readings that no bank of such modules has, whatever the others say.
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
    // A module's voltage in the row of a conductor, and that one's drop in the module's.
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
