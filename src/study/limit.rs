//! The greatest bank current at which nothing is over its limit, with modules out.
//!
//! In: a scenario, how many modules out, a charge, air temperatures. Out: `Limits`: for exactly 0, 1, … K modules
//! out the worst of all sets, in discharge and in charge, with the element that binds; the same with one lead
//! conductor open; beside them the one-division rule and the sum of module limits that a controller would announce.
//!
//! The limit in a direction is the greatest I such that nothing is over its limit at any bank current from 0 to I
//! (`first`). Sets are of all modules: one that its temperature or its charge keeps out of service is out besides.
//! Ratings are those of the scenario, the same at every temperature; nothing here has a duration.

mod first;
mod fitted;
mod rule;
mod sets;
mod worst;

pub use first::{Direction, Why};
pub use fitted::{Device, OpenedIs};

use super::steady::Steady;
use crate::engine::module::State;
use crate::network::NetworkError;
use crate::network::solve::Unsolvable;
use crate::scenario::Scenario;
use first::First;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use worst::{Found, Search, Worst};

/// Beyond so many sets the question is refused: each takes some microseconds.
pub const MOST_SETS: u64 = 50_000_000;

/// With a lead conductor open besides, at most so many modules are taken out.
const MOST_OUT_WITH_ONE_OPEN: usize = 2;

/// What is asked.
#[derive(Clone, Debug)]
pub struct Question {
    /// At most so many modules out; more than the bank has is all of them.
    pub outages: usize,
    /// Charge of every module (0…1); `None`: the scenario's.
    pub soc: Option<f64>,
    /// [°C]
    pub air: f64,
    /// Further temperatures, for the limit by ambient [°C].
    pub also_air: Vec<f64>,
}

/// The answer; names of the contract.
#[derive(Clone, Debug, Serialize)]
pub struct Limits {
    /// For each number of modules out, the worst set.
    pub limits: Vec<Row>,
    /// The one-division rule; null where no stack has rated leads only.
    pub by_hand_a: Option<f64>,
    /// By how much the rule is above the limit with all modules in.
    pub by_hand_gap_a: Option<f64>,
    /// The same as `limits` with one lead conductor open, the worst of all.
    pub one_lead_open: Vec<Row>,
    /// By ambient, where more than one temperature is asked for.
    pub by_air: Vec<AtAir>,
    /// Charge of the modules (0…1); null where they differ.
    pub soc: Option<f64>,
    pub air_c: f64,
    /// Modules that temperature or charge keep from discharging or from charging, at `air_c`.
    pub kept_out: Vec<KeptOut>,
    /// Protective devices: what is lost when one has opened, and whether it stays closed at these limits.
    pub devices: Vec<Device>,
    /// How many sets were solved.
    pub sets: u64,
    pub warnings: Vec<String>,
    /// Work done, to be told apart from time.
    #[serde(skip)]
    pub factorisations: u64,
}

/// A module that is not simply in service, without having failed.
#[derive(Clone, Debug, Serialize)]
pub struct KeptOut {
    pub id: String,
    pub state: &'static str,
}

/// The limit at one temperature.
#[derive(Clone, Debug, Serialize)]
pub struct AtAir {
    pub air_c: f64,
    pub limits: Vec<Row>,
    /// Modules that temperature or charge keep from discharging or from charging there.
    pub kept_out: Vec<KeptOut>,
}

/// Exactly so many modules out, in both directions.
#[derive(Clone, Debug)]
pub struct Row {
    pub outages: usize,
    pub discharge: Bound,
    pub charge: Bound,
}

/// The worst set in one direction.
#[derive(Clone, Debug)]
pub struct Bound {
    /// Magnitude; `None`: nothing bounds it. Where the sets are too many to solve, what is proven to be safe.
    pub current_a: Option<f64>,
    /// Where the limit lies, if not every set was solved; `None`: `current_a` is exact.
    pub bounds: Option<Range>,
    /// `None` where no element binds; `why` says what does.
    pub binding: Option<String>,
    pub why: Why,
    /// Which of its limits it reaches.
    pub limited_by: Option<LimitedBy>,
    /// The worst set.
    pub out: Vec<String>,
    /// The open lead conductor.
    pub open: Option<String>,
    /// The protective device in it, which may be what opened.
    pub open_device: Option<String>,
    /// What a controller that adds up module limits would announce with so many out, at least; `None` where a
    /// module is unrated.
    pub announced_a: Option<f64>,
}

/// Which limit an element reaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitedBy {
    /// A module's own limit in that direction.
    ModuleLimit,
    /// The rating of a conductor's assembly, the same in any air.
    Rating,
    /// What a conductor's insulation and terminals allow in this air.
    Ampacity,
}

impl LimitedBy {
    /// As it stands in JSON and CSV.
    pub fn tag(self) -> &'static str {
        match self {
            LimitedBy::ModuleLimit => "module_limit",
            LimitedBy::Rating => "rating",
            LimitedBy::Ampacity => "ampacity",
        }
    }
}

/// Between what is proven safe and the worst set found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    pub low_a: f64,
    /// `None`: no set that was solved has a limit.
    pub high_a: Option<f64>,
}

impl Row {
    /// Whether either limit is bounded and not exact.
    pub fn is_bounded(&self) -> bool {
        self.discharge.bounds.is_some() || self.charge.bounds.is_some()
    }

    pub fn side(&self, direction: Direction) -> &Bound {
        match direction {
            Direction::Discharge => &self.discharge,
            Direction::Charge => &self.charge,
        }
    }
}

impl Bound {
    /// By how much the announced sum is above the limit [A].
    pub fn gap_a(&self) -> Option<f64> {
        Some(self.announced_a? - self.current_a?)
    }
}

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub enum LimitError {
    #[error(
        "{outages} of {modules} modules out make {sets} sets to solve, more than {MOST_SETS}; \
         ask for fewer with --outages"
    )]
    TooManySets { outages: usize, modules: usize, sets: String },
    #[error(transparent)]
    Network(#[from] NetworkError),
    #[error(transparent)]
    Unsolvable(#[from] Unsolvable),
}

/// Solves every set.
///
/// # Errors
/// More sets than can be solved in reasonable time.
pub fn solve(scenario: &Scenario, question: &Question) -> Result<Limits, LimitError> {
    let steady = Steady::new(scenario, question.soc, question.air)?;
    let outages = question.outages.min(steady.modules.len());
    let leads = lead_branches(&steady);
    affordable(steady.modules.len(), outages, leads.len(), 1 + question.also_air.len())?;
    let mut work = Work::default();
    let limits = work.rows(&steady, outages, &[None])?;
    let with_one_open = outages.min(MOST_OUT_WITH_ONE_OPEN);
    let open: Vec<Option<usize>> = leads.into_iter().map(Some).collect();
    let one_lead_open = work.rows(&steady, with_one_open, &open)?;
    let by_hand_a = rule::one_division(scenario);
    let all_in = limits.first().and_then(|r| r.discharge.current_a);
    Ok(Limits {
        by_hand_a,
        by_hand_gap_a: by_hand_a.zip(all_in).map(|(rule, exact)| rule - exact),
        by_air: by_air(scenario, question, (&steady, &limits), outages, &mut work)?,
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

fn affordable(modules: usize, outages: usize, leads: usize, airs: usize) -> Result<(), LimitError> {
    let sets = |most: usize| (0..=most).fold(0u64, |sum, k| sum.saturating_add(sets::number(modules, k)));
    let with_one_open = sets(outages.min(MOST_OUT_WITH_ONE_OPEN)).saturating_mul(leads as u64);
    let all = sets(outages).saturating_mul(airs as u64).saturating_add(with_one_open);
    if all <= MOST_SETS {
        return Ok(());
    }
    let sets = if all == u64::MAX { "more than 1e19".to_string() } else { all.to_string() };
    Err(LimitError::TooManySets { outages, modules, sets })
}

/// Branches of the conductors of all lead pairs.
fn lead_branches(steady: &Steady) -> Vec<usize> {
    let conductors = steady.bank.conductors.iter().enumerate();
    conductors.filter(|(_, c)| c.is_lead()).map(|(k, _)| steady.bank.conductor_branch(k)).collect()
}

fn one_soc(steady: &Steady) -> Option<f64> {
    let first = steady.modules.first()?.soc;
    steady.modules.iter().all(|m| m.soc == first).then_some(first)
}

fn kept_out(steady: &Steady) -> Vec<KeptOut> {
    let modules = steady.modules.iter().enumerate().filter(|(_, m)| m.state != State::InService);
    modules.map(|(k, m)| KeptOut { id: steady.id(k).to_string(), state: m.state.tag() }).collect()
}

fn by_air(
    scenario: &Scenario,
    question: &Question,
    (steady, limits): (&Steady, &[Row]),
    outages: usize,
    work: &mut Work,
) -> Result<Vec<AtAir>, LimitError> {
    if question.also_air.is_empty() {
        return Ok(Vec::new());
    }
    let mut all = vec![AtAir { air_c: question.air, limits: limits.to_vec(), kept_out: kept_out(steady) }];
    for &air in &question.also_air {
        let steady = Steady::new(scenario, question.soc, air)?;
        let limits = work.rows(&steady, outages, &[None])?;
        all.push(AtAir { air_c: air, limits, kept_out: kept_out(&steady) });
    }
    Ok(all)
}

fn warnings(limits: &[Row]) -> Vec<String> {
    let mut warnings = Vec::new();
    for direction in Direction::BOTH {
        let name = direction.name();
        let any = |why: Why| limits.iter().any(|row| row.side(direction).why == why);
        if any(Why::Unrated) {
            warnings.push(format!(
                "in {name} nothing that carries current has a limit: the limit is unbounded (null in JSON); \
                 give modules and cables their ratings"
            ));
        }
        if any(Why::AtRest) {
            warnings.push(format!(
                "in {name} something is over its limit without any current of the bank: modules of unequal charge \
                 or voltage drive current through each other"
            ));
        }
        if any(Why::BusVoltage) {
            warnings.push(format!("in {name} the voltage at the bus falls to zero before anything reaches its limit"));
        }
    }
    warnings
}

/// What was solved so far.
#[derive(Default)]
struct Work {
    sets: u64,
    factorisations: u64,
}

impl Work {
    /// For exactly 0, 1, … `outages` modules out, the worst set, with each of `open` in turn.
    fn rows(&mut self, steady: &Steady, outages: usize, open: &[Option<usize>]) -> Result<Vec<Row>, LimitError> {
        let search = Search::new(steady);
        let announced = Direction::BOTH.map(|direction| rule::announced(steady, direction));
        let mut rows = Vec::with_capacity(outages + 1);
        for out in 0..=outages {
            let Some(Found { worst: [discharge, charge], sets, factorisations }) = search.worst(out, open)? else {
                continue;
            };
            self.sets += sets;
            self.factorisations += factorisations;
            let announced = |k: usize| announced[k].as_ref().and_then(|a| a.get(out).copied());
            rows.push(Row {
                outages: out,
                discharge: bound(steady, discharge, announced(0)),
                charge: bound(steady, charge, announced(1)),
            });
        }
        Ok(rows)
    }
}

/// A conductor whose rating and ampacity are one is limited by its rating.
fn limited_by(steady: &Steady, branch: usize) -> LimitedBy {
    let Some(k) = branch.checked_sub(steady.modules.len()) else { return LimitedBy::ModuleLimit };
    let conductor = &steady.bank.conductors[k];
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
    let First { current, binding, why } = worst.first;
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

/// One flat row: names of the contract for discharge, the same with `charge_` before them for charge.
impl Serialize for Row {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("outages", &self.outages)?;
        for (bound, before) in [(&self.discharge, ""), (&self.charge, "charge_")] {
            let name = |field: &str| format!("{before}{field}");
            map.serialize_entry(&name("current_a"), &bound.current_a)?;
            map.serialize_entry(&name("binding"), &bound.binding)?;
            map.serialize_entry(&name("why"), &bound.why)?;
            map.serialize_entry(&name("limited_by"), &bound.limited_by)?;
            map.serialize_entry(&name("out"), &bound.out)?;
            map.serialize_entry(&name("exact"), &bound.bounds.is_none())?;
            if let Some(range) = &bound.bounds {
                map.serialize_entry(&name("low_a"), &range.low_a)?;
                map.serialize_entry(&name("high_a"), &range.high_a)?;
            }
            if let Some(open) = &bound.open {
                map.serialize_entry(&name("open"), open)?;
                map.serialize_entry(&name("open_device"), &bound.open_device)?;
            }
            map.serialize_entry(&name("announced_a"), &bound.announced_a)?;
            map.serialize_entry(&name("gap_a"), &bound.gap_a())?;
        }
        map.end()
    }
}
