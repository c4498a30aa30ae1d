//! The greatest bank current at which nothing is over its limit, with modules out.
//!
//! In: a scenario, how many modules out, a state of charge, air temperatures. Out: `Limits`: for exactly 0, 1, … K modules
//! out the worst of all sets, in discharge and in charge, with the element that binds; the same with one lead
//! conductor open; beside them the one-division rule and the sum of module limits that a controller would announce.
//!
//! The limit in a direction is the greatest I such that nothing is over its limit at any bank current from 0 to I
//! (`binding_current`). Sets are of all modules: one that its temperature or state of charge keeps out of service is out as well.
//! Ratings are those of the scenario, the same at every temperature; nothing here has a duration.

mod answer;
pub(super) mod binding_current;
mod bounds;
mod fitted;
mod hand_rule;
pub(super) mod sets;
pub(super) mod worst;

pub use answer::{AtAir, Bound, Device, KeptOut, LimitedBy, Limits, OpenedIs, Range, Row};
pub use binding_current::{Direction, Why};
pub use sets::MOST_SETS;

use super::error::StudyError;
use super::steady::Steady;
use crate::engine::module::State;
use crate::network::bank::ConductorRole;
use crate::progress::{Progress, Work};
use crate::scenario::Scenario;
use binding_current::BindingCurrent;
use bounds::SafeCurrent;
use worst::{Found, Search, Worst};

/// Most modules taken out together with one open lead conductor.
const MOST_OUT_WITH_ONE_OPEN: usize = 2;

/// The question: modules out, state of charge and temperatures.
#[derive(Clone, Debug)]
pub struct Question {
    /// Most modules taken out; a number above that of the bank means all of them.
    pub outages: usize,
    /// State of charge of every module (0…1); `None`: that of the scenario.
    pub soc: Option<f64>,
    /// Temperature of everything [°C].
    pub air: f64,
    /// Further temperatures, for the limit by ambient [°C].
    pub also_air: Vec<f64>,
    /// Most sets that are solved for an exact limit; where there are more, the limit is only bounded.
    pub most_sets: u64,
}

/// How many sets `solve` works through.
///
/// # Errors
/// More than can be solved in reasonable time.
pub fn sets_to_solve(scenario: &Scenario, question: &Question) -> Result<u64, StudyError> {
    let affordable = Affordable::new(scenario.module_count(), question)?;
    let lead_conductors = scenario.stacks.iter().map(|s| 2 * s.leads.len()).sum();
    Ok(affordable.in_rows() + affordable.with_one_open(lead_conductors).1)
}

/// Solves every set.
///
/// # Errors
/// More sets than can be solved in reasonable time, or an interruption.
pub fn solve(scenario: &Scenario, question: &Question, progress: &Progress<'_>) -> Result<Limits, StudyError> {
    progress.begin(Work::Sets, Some(sets_to_solve(scenario, question)?));
    let steady = Steady::new(scenario, question.soc, question.air)?;
    let affordable = Affordable::new(steady.modules.len(), question)?;
    let mut work = Solving::new(progress);
    let limits = work.rows(&steady, &affordable)?;
    let one_lead_open = work.one_lead_open(&steady, &affordable)?;
    let by_hand_a = hand_rule::one_division(scenario);
    let all_in = limits.first().and_then(|r| r.discharge.current_a);
    Ok(Limits {
        by_hand_a,
        by_hand_gap_a: by_hand_a.zip(all_in).map(|(rule, exact)| rule - exact),
        by_air: by_air(scenario, question, (&steady, &limits), &mut work, &affordable)?,
        soc: one_soc(&steady),
        air_c: question.air,
        kept_out: kept_out(&steady),
        devices: fitted::devices(scenario, &steady, &limits)?,
        warnings: warnings(&limits),
        limits,
        one_lead_open,
        sets: work.sets,
        factorisations: work.factorisations,
    })
}

/// The rows alone, without leads open and other temperatures. Whoever asks says how many sets that takes
/// (`sets_in_rows`), of one scenario or of many.
///
/// # Errors
/// As `solve`.
pub fn rows(scenario: &Scenario, question: &Question, progress: &Progress<'_>) -> Result<Vec<Row>, StudyError> {
    let steady = Steady::new(scenario, question.soc, question.air)?;
    Solving::new(progress).rows(&steady, &Affordable::new(steady.modules.len(), question)?)
}

/// How many sets `rows` works through.
///
/// # Errors
/// More than can be solved in reasonable time.
pub fn sets_in_rows(scenario: &Scenario, question: &Question) -> Result<u64, StudyError> {
    Ok(Affordable::new(scenario.module_count(), question)?.in_rows())
}

/// How much can be solved within the allowed number of sets.
struct Affordable {
    modules: usize,
    airs: u64,
    outages: usize,
    /// Most modules out for which the limit is exact; with more it is bounded.
    exact: usize,
    most_sets: u64,
}

impl Affordable {
    fn new(modules: usize, question: &Question) -> Result<Affordable, StudyError> {
        let (outages, most) = (question.outages.min(modules), question.most_sets);
        let airs = 1 + question.also_air.len() as u64;
        let mut sets = 0u64;
        let affords = |&out: &usize| {
            sets = sets.saturating_add(sets::number(modules, out).saturating_mul(airs));
            sets <= most
        };
        let exact = (0..=outages).take_while(affords).last().unwrap_or(0);
        let for_bounds = ((outages - exact) as u64).saturating_mul(2 * modules as u64).saturating_mul(airs);
        if for_bounds > MOST_SETS {
            return Err(StudyError::TooManySets { outages, modules, sets: for_bounds });
        }
        Ok(Affordable { modules, airs, outages, exact, most_sets: most })
    }

    /// Sets of every number of modules out, at every temperature: those solved all, and beyond those with one module
    /// more than the worst in each direction.
    fn in_rows(&self) -> u64 {
        let exact: u64 = (0..=self.exact).map(|out| sets::number(self.modules, out)).sum();
        let beyond: usize = (self.exact + 1..=self.outages).map(|out| 2 * (self.modules + 1 - out)).sum();
        self.airs * (exact + beyond as u64)
    }

    /// With each of `conductors` open in turn: the most modules out that can be solved (`None`: not even 0), and the sets.
    fn with_one_open(&self, conductors: usize) -> (Option<usize>, u64) {
        let (mut most, mut all) = (None, 0u64);
        for out in 0..=self.outages.min(MOST_OUT_WITH_ONE_OPEN) {
            let more = sets::number(self.modules, out).saturating_mul(conductors as u64);
            if all.saturating_add(more) > self.most_sets {
                break;
            }
            (most, all) = (Some(out), all + more);
        }
        (most, all)
    }
}

/// Branches of the conductors of all lead pairs.
fn lead_branches(steady: &Steady) -> Vec<usize> {
    let conductors = steady.bank.conductors.iter().enumerate();
    conductors.filter(|(_, c)| c.role == ConductorRole::Lead).map(|(k, _)| steady.bank.conductor_branch(k)).collect()
}

fn one_soc(steady: &Steady) -> Option<f64> {
    let first = steady.modules.first()?.soc;
    steady.modules.iter().all(|m| m.soc == first).then_some(first)
}

/// Modules that temperature or state of charge keeps from discharging or from charging.
pub(super) fn kept_out(steady: &Steady) -> Vec<KeptOut> {
    let modules = steady.modules.iter().enumerate().filter(|(_, m)| m.state != State::InService);
    modules.map(|(k, m)| KeptOut { id: steady.id(k).to_string(), state: m.state }).collect()
}

fn by_air(
    scenario: &Scenario,
    question: &Question,
    (steady, limits): (&Steady, &[Row]),
    work: &mut Solving<'_>,
    affordable: &Affordable,
) -> Result<Vec<AtAir>, StudyError> {
    if question.also_air.is_empty() {
        return Ok(Vec::new());
    }
    let mut all = vec![AtAir { air_c: question.air, limits: limits.to_vec(), kept_out: kept_out(steady) }];
    for &air in &question.also_air {
        let steady = Steady::new(scenario, question.soc, air)?;
        let limits = work.rows(&steady, affordable)?;
        all.push(AtAir { air_c: air, limits, kept_out: kept_out(&steady) });
    }
    Ok(all)
}

fn warnings(limits: &[Row]) -> Vec<String> {
    let mut warnings = Vec::new();
    for direction in Direction::BOTH {
        let any = |why: Why| limits.iter().any(|row| row.side(direction).why == why);
        if any(Why::Unrated) {
            warnings.push(format!(
                "in {direction} nothing that carries current has a limit: the limit is unbounded (null in JSON); \
                 give modules and cables their ratings"
            ));
        }
        if any(Why::AtRest) {
            warnings.push(format!(
                "in {direction} something is over its limit without any current of the bank: modules of unequal charge \
                 or voltage drive current through each other"
            ));
        }
        if any(Why::BusVoltage) {
            warnings
                .push(format!("in {direction} the voltage at the bus falls to zero before anything reaches its limit"));
        }
    }
    warnings
}

type Exact = Result<(Vec<Row>, Option<[Vec<usize>; 2]>), StudyError>;

/// What was solved so far.
struct Solving<'a> {
    progress: &'a Progress<'a>,
    sets: u64,
    factorisations: u64,
}

impl<'a> Solving<'a> {
    fn new(progress: &'a Progress<'a>) -> Solving<'a> {
        Solving { progress, sets: 0, factorisations: 0 }
    }

    /// For exactly 0, 1, … modules out, the worst set; where there are too many, bounds.
    fn rows(&mut self, steady: &Steady, affordable: &Affordable) -> Result<Vec<Row>, StudyError> {
        let search = Search::new(steady, self.progress);
        let (mut rows, mut worst) = self.exact(steady, &search, affordable.exact, &[None])?;
        if affordable.exact == affordable.outages {
            return Ok(rows);
        }
        let safe = SafeCurrent::new(steady, search.ratings());
        for out in affordable.exact + 1..=affordable.outages {
            self.progress.check()?;
            let Some([discharge, charge]) = &worst else { break };
            let Some(found) = search.one_more([discharge, charge])? else { break };
            worst = Some(found.worst.clone().map(|w| w.out));
            let mut row = self.row(steady, out, found);
            row.discharge.widen(safe.of(out, Direction::Discharge));
            row.charge.widen(safe.of(out, Direction::Charge));
            rows.push(row);
        }
        Ok(rows)
    }

    /// The limits with one lead conductor open, for as many modules out as can be solved.
    fn one_lead_open(&mut self, steady: &Steady, affordable: &Affordable) -> Result<Vec<Row>, StudyError> {
        let open: Vec<Option<usize>> = lead_branches(steady).into_iter().map(Some).collect();
        let Some(most) = affordable.with_one_open(open.len()).0 else { return Ok(Vec::new()) };
        Ok(self.exact(steady, &Search::new(steady, self.progress), most, &open)?.0)
    }

    /// For exactly 0, 1, … `outages` modules out, the worst set with each of `open` in turn; and the last of these
    /// sets, in discharge and in charge.
    fn exact(&mut self, steady: &Steady, search: &Search<'_>, outages: usize, open: &[Option<usize>]) -> Exact {
        let (mut rows, mut last) = (Vec::with_capacity(outages + 1), None);
        for out in 0..=outages {
            let Some(found) = search.worst(out, open)? else { continue };
            last = Some(found.worst.clone().map(|w| w.out));
            rows.push(self.row(steady, out, found));
        }
        Ok((rows, last))
    }

    fn row(&mut self, steady: &Steady, out: usize, found: Found) -> Row {
        self.sets += found.sets;
        self.factorisations += found.factorisations;
        let [discharge, charge] = found.worst;
        let announced = |side| hand_rule::announced(steady, side).and_then(|a| a.get(out).copied());
        Row {
            outages: out,
            discharge: bound(steady, discharge, announced(Direction::Discharge)),
            charge: bound(steady, charge, announced(Direction::Charge)),
        }
    }
}

/// A conductor whose rating and ampacity are one is limited by its rating.
fn limited_by(steady: &Steady, branch: usize) -> LimitedBy {
    let Some(conductor) = steady.bank.conductor(branch) else { return LimitedBy::ModuleLimit };
    match conductor.rating {
        Some(rating) if conductor.limit(steady.air).is_some_and(|limit| limit >= rating) => LimitedBy::Rating,
        _ => LimitedBy::Ampacity,
    }
}

/// The identifier of the protective device in a branch.
fn device_in(steady: &Steady, branch: usize) -> Option<String> {
    steady.bank.devices.iter().find(|d| d.branch == branch).map(|d| d.id.clone())
}

fn bound(steady: &Steady, worst: Worst, announced_a: Option<f64>) -> Bound {
    let id = |branch: usize| steady.id(branch).to_string();
    let BindingCurrent { current, binding, why } = worst.limit;
    Bound {
        current_a: current.is_finite().then_some(current),
        bounds: None,
        binding: binding.map(id),
        why,
        limited_by: binding.map(|branch| limited_by(steady, branch)),
        out: worst.out.into_iter().map(id).collect(),
        open: worst.open.map(id),
        open_device: worst.open.and_then(|branch| device_in(steady, branch)),
        announced_a,
    }
}
