//! Sensitivity of the limit: the effect of each input, changed by a tenth or by one piece, and the most effective change.
//!
//! In: a scenario, a number of modules out, a state of charge, an air temperature. Out, in discharge and in charge: the change
//! of the limit (the worst of all sets with exactly that many modules out) for each input a tenth less and a tenth more, and
//! for one lead pair or one module more; and at the worst set the exact derivatives by every resistance.
//!
//! *Derivatives.* Let element m bind, i_m(I, R) = L. A resistance of dR more in branch k is an electromotive force of
//! −i_k·dR in series with it, so ∂i_m/∂R_k = −i_k·T_mk, where T_mk is the current in m by one volt in k with the
//! terminals open. By reciprocity T_mk = T_km: one volt in m gives all of them at once (S. W. Director and R. A.
//! Rohrer, "The generalized adjoint network and network sensitivities", IEEE Trans. Circuit Theory 16, 1969). Hence
//! dI/dR_k = i_k·T_km/(∂i_m/∂I), and by the limit itself dI/dL = 1/(∂i_m/∂I). They hold while m alone binds; where
//! several bind at once, as in a bank of equal halves, relieving one of them gains nothing. The changes by a tenth are
//! solved anew over all sets, so they include this.

pub(super) mod input;

use super::error::StudyError;
use super::limit::binding_current::{self, Direction, Why};
use super::limit::worst::{Found, Search, Worst};
use super::steady::Steady;
use crate::network::solve::{Solver, Unsolvable};
use crate::network::{Demand, Element, Law};
use crate::progress::{Progress, Work};
use crate::scenario::Scenario;
use input::inputs;
use serde::Serialize;

pub use input::Kind;

/// What an input is multiplied by.
const LESS: f64 = 0.9;
const MORE: f64 = 1.1;

/// The question: modules out, state of charge and temperature.
#[derive(Clone, Copy, Debug)]
pub struct Question {
    /// Number of modules out.
    pub outages: usize,
    /// State of charge of every module (0…1); `None`: that of the scenario.
    pub soc: Option<f64>,
    /// Temperature of the air [°C].
    pub air: f64,
    /// Most sets that are solved.
    pub most_sets: u64,
}

/// What moves the limit in one direction.
#[derive(Clone, Debug, Serialize)]
pub struct Sensitivity {
    /// `discharge` or `charge`.
    pub direction: Direction,
    /// Modules out.
    pub outages: usize,
    /// The limit [A]; null: nothing limits the current, and no input changes that.
    pub limit_a: Option<f64>,
    /// The element that reaches its limit first; null where none does.
    pub binding: Option<String>,
    /// Identifiers of the modules that are out in the worst set.
    pub out: Vec<String>,
    /// The change of the limit with each input, greatest first.
    pub inputs: Vec<Change>,
    /// The derivatives at the worst set; empty where no rating binds.
    pub elements: Vec<Derivative>,
}

/// The change of the limit with one input.
#[derive(Clone, Debug, Serialize)]
pub struct Change {
    /// `lead`, `A`: the type or the stack.
    pub of: String,
    /// The property that is changed.
    pub what: Kind,
    /// Number of pieces added to the bank; 0 where a property changes by a tenth.
    pub pieces: usize,
    /// Change of the limit with a tenth less [A]; null where the input is a number of pieces.
    pub less_a: Option<f64>,
    /// Change of the limit with a tenth more, or one more [A]; null where the limit then vanishes.
    pub more_a: Option<f64>,
}

impl Change {
    /// The greatest gain of the limit by this input [A].
    pub fn gain(&self) -> f64 {
        self.less_a.into_iter().chain(self.more_a).fold(0.0, f64::max)
    }

    /// The greatest gain of the limit by this input, divided by the number of pieces that are added [A].
    pub fn gain_a_piece(&self) -> f64 {
        self.gain() / self.pieces.max(1) as f64
    }

    fn reach(&self) -> f64 {
        self.less_a.into_iter().chain(self.more_a).fold(0.0, |reach, change| reach.max(change.abs()))
    }
}

/// The exact derivative by one resistance.
#[derive(Clone, Debug, Serialize)]
pub struct Derivative {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Its resistance [Ω].
    pub resistance_ohm: f64,
    /// Change of the limit by the element's resistance [A/Ω].
    pub by_resistance: f64,
    /// Change of the limit by the element's own limit [A/A]; 0 for all but the binding element.
    pub by_limit: f64,
}

/// Upper bound of the number of sets that `solve` works through: an added module makes more sets.
///
/// # Errors
/// More than allowed.
pub fn sets_to_solve(scenario: &Scenario, question: &Question) -> Result<u64, StudyError> {
    let outages = question.outages.min(scenario.module_count());
    let each = super::limit::sets::number(scenario.module_count(), outages);
    let sets = each.saturating_mul(1 + 2 * inputs(scenario).len() as u64);
    if sets > question.most_sets {
        return Err(StudyError::TooManyVariations { outages, sets });
    }
    Ok(sets)
}

/// The sensitivities of the limits in discharge and in charge.
///
/// # Errors
/// More sets than allowed, or an interruption.
pub fn solve(
    scenario: &Scenario,
    question: &Question,
    progress: &Progress<'_>,
) -> Result<[Sensitivity; 2], StudyError> {
    progress.begin(Work::Sets, Some(sets_to_solve(scenario, question)?));
    let inputs = inputs(scenario);
    let outages = question.outages.min(scenario.module_count());
    let question = Question { outages, ..*question };
    let steady = Steady::new(scenario, question.soc, question.air)?;
    let nominal = worst(&steady, outages, progress)?;
    let mut changes: [Vec<Change>; 2] = [Vec::new(), Vec::new()];
    for input in &inputs {
        let at = |factor: f64| limits(&input.changed(scenario, factor), &question, progress);
        let less = if input.kind().is_count() { None } else { Some(at(LESS)?) };
        let more = at(MORE)?;
        for (side, changes) in changes.iter_mut().enumerate() {
            let change = |new: [f64; 2]| Some(new[side] - nominal[side].limit.current).filter(|c| c.is_finite());
            let (less_a, more_a) = (less.and_then(change), change(more));
            let (of, what, pieces) = (input.of(scenario), input.kind(), input.pieces(scenario));
            changes.push(Change { of, what, pieces, less_a, more_a });
        }
    }
    let [mut discharge, mut charge] = changes;
    [&mut discharge, &mut charge].into_iter().for_each(|all| all.sort_by(|a, b| b.reach().total_cmp(&a.reach())));
    let [first, second] = nominal;
    Ok([
        tell(&steady, outages, Direction::Discharge, (first, discharge))?,
        tell(&steady, outages, Direction::Charge, (second, charge))?,
    ])
}

/// The worst set in each direction. A bank with fewer modules than `outages` counts as one without modules.
fn worst(steady: &Steady, outages: usize, progress: &Progress<'_>) -> Result<[Worst; 2], StudyError> {
    let found = Search::new(steady, progress).worst(outages, &[None])?;
    let nothing = Worst { limit: binding_current::nothing_carries(0.0), out: Vec::new(), open: None };
    Ok(found.map_or([nothing.clone(), nothing], |Found { worst, .. }| worst))
}

fn limits(scenario: &Scenario, question: &Question, progress: &Progress<'_>) -> Result<[f64; 2], StudyError> {
    let steady = Steady::new(scenario, question.soc, question.air)?;
    Ok(worst(&steady, question.outages, progress)?.map(|w| w.limit.current))
}

fn tell(
    steady: &Steady,
    outages: usize,
    direction: Direction,
    (worst, inputs): (Worst, Vec<Change>),
) -> Result<Sensitivity, StudyError> {
    let id = |branch: usize| steady.id(branch).to_string();
    Ok(Sensitivity {
        direction,
        outages,
        limit_a: Some(worst.limit.current).filter(|amps| amps.is_finite()),
        binding: worst.limit.binding.map(id),
        elements: derivatives(steady, direction, &worst)?,
        out: worst.out.into_iter().map(id).collect(),
        inputs,
    })
}

/// Derivatives of the limit by the resistance of every branch that carries current [A/Ω].
fn derivatives(steady: &Steady, direction: Direction, worst: &Worst) -> Result<Vec<Derivative>, Unsolvable> {
    let (Why::Rating, Some(binding)) = (worst.limit.why, worst.limit.binding) else { return Ok(Vec::new()) };
    let mut elements = steady.elements.clone();
    worst.out.iter().for_each(|&k| elements[k].law = Law::Open);
    let mut solver = Solver::new(steady.bank.network.clone());
    // A hair before the limit: where the limit is a corner, the piece that leads to it.
    let amps = direction.sign() * worst.limit.current * (1.0 - 1e-9);
    solver.solve(&elements, Demand::Current(amps))?;
    let currents = solver.currents().to_vec();
    let small = small_signal(&elements, &solver);
    let by_bank = response(&small, steady, None)?[binding];
    let by_volt = response(&small, steady, Some(binding))?;
    // The limit is a magnitude: of the bank's current and of the element's.
    let per_limit = currents[binding].signum() * direction.sign() / by_bank;
    let derivative = |k: usize| Derivative {
        id: steady.id(k).to_string(),
        resistance_ohm: elements[k].resistance,
        by_resistance: direction.sign() * currents[k] * by_volt[k] / by_bank,
        by_limit: if k == binding { per_limit } else { 0.0 },
    };
    let live = (0..elements.len()).filter(|&k| small[k].law != Law::Open);
    Ok(live.map(derivative).collect())
}

/// What is left for a small change: resistances. A branch that is blocked or holds its current lets none through.
fn small_signal(elements: &[Element], solver: &Solver) -> Vec<Element> {
    let small = |(k, element): (usize, &Element)| {
        let blocked = element.is_one_way() && solver.currents()[k] == 0.0;
        let law = if element.law == Law::Open || blocked || solver.is_self_limited(k) { Law::Open } else { Law::Both };
        Element { law, ..Element::conductor(element.resistance) }
    };
    elements.iter().enumerate().map(small).collect()
}

/// The change of every current by one ampere more of the bank, or by one volt in a branch.
fn response(small: &[Element], steady: &Steady, volt_in: Option<usize>) -> Result<Vec<f64>, Unsolvable> {
    let mut elements = small.to_vec();
    if let Some(branch) = volt_in {
        elements[branch].emf = 1.0;
    }
    let mut solver = Solver::new(steady.bank.network.clone());
    let Some(piece) = solver.segment(&elements, 0.0, 1.0)? else { return Ok(vec![0.0; small.len()]) };
    let amps = if volt_in.is_some() { 0.0 } else { 1.0 };
    Ok(solver.along(&elements, &piece, amps).to_vec())
}
