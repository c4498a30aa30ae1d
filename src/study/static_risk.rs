//! The chance of each element being over its limit at a moment.
//!
//! In: a scenario, a temperature of everything, loads. Out: for each load, by every set of modules that may be out,
//! the probability that an element is over. A module is out with its long-run unavailability MTTR/(MTBF + MTTR) of
//! its own failures and of openings without a cause (K. S. Trivedi, *Probability and Statistics with Reliability,
//! Queuing, and Computer Science Applications*, two-state availability), each independent; a stack's common cause
//! takes out all its modules at once, so that worlds are a set of stacks and a set of the other modules. Cold and
//! charge keep modules out for certain.
//!
//! Worlds are solved by how many causes they have. Where all are, the probabilities are exact; else the probability of the
//! rest is reported and added to every upper bound. One elimination serves all loads: currents are affine in the bank's while no
//! branch changes its piece. Kirchhoff's laws at rest, as in `point`: no time passes.

mod load;

pub use load::{LoadAt, quantiles};

use super::error::StudyError;
use super::limit::binding_current::Ratings;
use super::limit::{KeptOut, kept_out, sets};
use super::steady::Steady;
use crate::network::response::Response;
use crate::network::solve::{Solver, Unsolvable};
use crate::network::{Demand, Element, Law, Outcome};
use crate::progress::{Progress, Work};
use crate::scenario::{Faults, Scenario, Spread};
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use serde::Serialize;

/// Worlds that one task works through.
const RUN: u64 = 1024;
/// Number of worlds that are always solved: all sets of 16 modules, with common causes.
const ALWAYS: u64 = 1 << 17;
/// Once those are solved, further worlds with a total probability below this are left out.
const NEGLIGIBLE: f64 = 1e-12;

/// The question: state of charge, temperature and loads.
#[derive(Clone, Debug)]
pub struct Question {
    /// State of charge of every module (0…1); `None`: that of the scenario.
    pub soc: Option<f64>,
    /// Temperature of everything [°C].
    pub air: f64,
    /// Loads at the bus.
    pub loads: Vec<LoadAt>,
    /// Most worlds that are solved.
    pub most_sets: u64,
}

/// The answer for one temperature.
#[derive(Clone, Debug, Serialize)]
pub struct Chances {
    /// Temperature of everything [°C].
    pub air_c: f64,
    /// Modules that temperature or state of charge keeps from discharging or from charging.
    pub kept_out: Vec<KeptOut>,
    /// Long-run probability that one module is out by its own failures and by openings without a cause.
    pub module_unavailability: f64,
    /// Long-run probability that a common cause has all modules of a stack out.
    pub stack_unavailability: f64,
    /// Loads at the bus.
    pub loads: Vec<AtLoad>,
    /// Sets of causes that were solved.
    pub sets: u64,
    /// Probability of all others together: 0 where all were solved.
    pub remaining: f64,
    /// What the scenario has and these chances leave out.
    pub not_counted: Vec<&'static str>,
}

/// The chances at one load.
#[derive(Clone, Debug, Serialize)]
pub struct AtLoad {
    /// Share of the time for which the load is at most this; null: stated, or constant.
    pub load_share: Option<f64>,
    /// Power at the bus [W]; null where the load is a current.
    pub power_w: Option<f64>,
    /// Current at the bus, positive in discharge [A]; null where the load is a power.
    pub current_a: Option<f64>,
    /// Probability that any element is over its limit.
    pub any: Chance,
    /// Probability that the bank cannot carry the load; no element is then over its limit.
    pub not_carried: Chance,
    /// The probability for each element with a limit, in the order of the scenario.
    pub elements: Vec<ElementChance>,
}

/// The probability that one element is over its limit.
#[derive(Clone, Debug, Serialize)]
pub struct ElementChance {
    /// Its identifier, as `A2` or `A.lead1+`.
    pub id: String,
    /// Probability that it is over its limit.
    #[serde(flatten)]
    pub chance: Chance,
}

/// Bounds of a probability where not every world was solved.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Chance {
    /// Total probability of the solved worlds in which it happens (0…1).
    pub low: f64,
    /// `low` with the probability of all worlds that were not solved added (0…1).
    pub high: f64,
}

impl AtLoad {
    /// The load, as it is asked of the bank.
    pub fn demand(&self) -> Demand {
        match (self.power_w, self.current_a) {
            (_, Some(amps)) => Demand::Current(amps),
            (watts, None) => Demand::Power(watts.unwrap_or(0.0)),
        }
    }
}

/// Long-run probability of being down; 0 without repair, which has no long run.
fn unavailability(faults: Option<Faults>) -> f64 {
    faults.and_then(|f| Some(f.mttr? / (f.mtbf + f.mttr?))).unwrap_or(0.0)
}

/// Solves every world, or those of the fewest causes.
///
/// # Errors
/// An interruption; none else for a legal scenario.
pub fn solve(scenario: &Scenario, question: &Question, progress: &Progress<'_>) -> Result<Chances, StudyError> {
    progress.begin(Work::Sets, None);
    let steady = Steady::new(scenario, question.soc, question.air)?;
    let causes = Causes::new(scenario, &steady);
    let task = Task { steady: &steady, ratings: Ratings::of(&steady), loads: &question.loads, progress };
    let mut sum = Sum::new(&task);
    let mut all = false;
    for level in 0.. {
        let worlds = causes.level(level, progress)?;
        let count = worlds.iter().fold(0u64, |n, w| n.saturating_add(w.count));
        all = worlds.is_empty();
        let more = sum.sets.saturating_add(count);
        if all || more > question.most_sets.max(1) || (more > ALWAYS && 1.0 - sum.mass < NEGLIGIBLE) {
            break;
        }
        task.solve(&worlds, &mut sum)?;
    }
    let remaining = if all { 0.0 } else { (1.0 - sum.mass).max(0.0) + f64::EPSILON };
    Ok(Chances {
        air_c: question.air,
        kept_out: kept_out(&steady),
        module_unavailability: causes.of_a_module,
        stack_unavailability: unavailability(scenario.hazards.stack),
        loads: task.at_loads(&sum, remaining),
        sets: sum.sets,
        remaining,
        not_counted: not_counted(scenario),
    })
}

fn not_counted(scenario: &Scenario) -> Vec<&'static str> {
    let hazards = &scenario.hazards;
    let endless = |f: Option<Faults>| f.is_some_and(|f| f.mttr.is_none());
    let left_out = [
        (endless(scenario.faults) || endless(hazards.stack), "failures that are not repaired: they have no long run"),
        (hazards.chain.is_some(), "the communication chain"),
        (hazards.joint.is_some(), "joints"),
        (hazards.lead.is_some(), "open leads"),
        (!scenario.surges.is_empty(), "motor starts"),
        (scenario.spread != Spread::NONE, "spread"),
        (scenario.inverter.as_ref().is_some_and(|i| i.cut_out.is_some()), "the inverter's low-voltage cut-out"),
        (scenario.controller.is_some(), "limits that the controller announces"),
        (scenario.modules.iter().any(|m| !m.protection.stages.is_empty()), "over-current stages"),
        (!scenario.devices.is_empty(), "fuses and breakers that open"),
    ];
    left_out.into_iter().filter(|(is, _)| *is).map(|(_, what)| what).collect()
}

/// What may take modules out by chance.
struct Causes {
    /// Modules that may be out by themselves, and their probabilities.
    modules: Vec<(usize, f64)>,
    /// Modules of each stack that a common cause may take out, and its probability.
    stacks: Vec<(Vec<usize>, f64)>,
    of_a_module: f64,
}

/// The worlds with given stacks out, and every set of `size` of the other modules.
struct Worlds {
    /// Modules of the stacks that are out.
    out: Vec<usize>,
    /// Probability that exactly these stacks are out.
    probability: f64,
    others: Vec<(usize, f64)>,
    size: usize,
    count: u64,
}

impl Worlds {
    /// Probability of one set of the other modules, given by their indexes in rising order.
    fn probability_of(&self, set: &[usize]) -> f64 {
        let mut members = set.iter().peekable();
        self.others.iter().enumerate().fold(self.probability, |mass, (at, (_, q))| {
            mass * if members.next_if(|k| **k == at).is_some() { *q } else { 1.0 - q }
        })
    }
}

impl Causes {
    /// The causes that apply to the modules in service; in a stack of one module, a common cause counts as its own.
    fn new(scenario: &Scenario, steady: &Steady) -> Causes {
        let own = unavailability(scenario.faults);
        let of_a_module = 1.0 - (1.0 - own) * (1.0 - unavailability(scenario.hazards.nuisance));
        let common = unavailability(scenario.hazards.stack);
        let (mut modules, mut stacks) = (Vec::new(), Vec::new());
        for stack in 0..scenario.stacks.len() {
            let placed = steady.bank.modules.iter().enumerate().filter(|(_, m)| m.stack == stack);
            let live: Vec<usize> = placed.map(|(k, _)| k).filter(|&k| steady.elements[k].law != Law::Open).collect();
            let alone = live.len() == 1;
            let each = if alone { 1.0 - (1.0 - of_a_module) * (1.0 - common) } else { of_a_module };
            modules.extend(live.iter().map(|&k| (k, each)).filter(|m| m.1 > 0.0));
            if common > 0.0 && live.len() > 1 {
                stacks.push((live, common));
            }
        }
        Causes { modules, stacks, of_a_module }
    }

    /// All worlds with exactly `causes` causes; empty where no world has as many.
    fn level(&self, causes: usize, progress: &Progress<'_>) -> Result<Vec<Worlds>, StudyError> {
        let most = causes.min(self.stacks.len());
        let all: Vec<_> =
            (0..=most).map(|stacks| self.with_stacks(stacks, causes - stacks, progress)).collect::<Result<_, _>>()?;
        Ok(all.into_iter().flatten().collect())
    }

    fn with_stacks(&self, stacks: usize, size: usize, progress: &Progress<'_>) -> Result<Vec<Worlds>, StudyError> {
        let mut chosen: Vec<usize> = (0..stacks).collect();
        let mut all = Vec::new();
        for _ in 0..sets::number(self.stacks.len(), stacks) {
            progress.check()?;
            let is_out = |stack: usize| chosen.contains(&stack);
            let probability = self.stacks.iter().enumerate().map(|(k, s)| if is_out(k) { s.1 } else { 1.0 - s.1 });
            let out: Vec<usize> = chosen.iter().flat_map(|&k| self.stacks[k].0.iter().copied()).collect();
            let others: Vec<(usize, f64)> = self.modules.iter().copied().filter(|m| !out.contains(&m.0)).collect();
            let count = sets::number(others.len(), size);
            if count > 0 {
                all.push(Worlds { probability: probability.product(), out, others, size, count });
            }
            sets::advance(&mut chosen, self.stacks.len());
        }
        Ok(all)
    }
}

/// Probabilities summed over worlds, of each load: elements, then any, then not carried.
struct Sum {
    of: Vec<Vec<f64>>,
    mass: f64,
    sets: u64,
}

impl Sum {
    fn new(task: &Task) -> Sum {
        Sum { of: vec![vec![0.0; task.ratings.len() + 2]; task.loads.len()], mass: 0.0, sets: 0 }
    }

    fn add(&mut self, other: &Sum) {
        for (mine, its) in self.of.iter_mut().flatten().zip(other.of.iter().flatten()) {
            *mine += its;
        }
        self.mass += other.mass;
        self.sets += other.sets;
    }
}

struct Task<'a> {
    steady: &'a Steady<'a>,
    ratings: Vec<Ratings>,
    loads: &'a [LoadAt],
    progress: &'a Progress<'a>,
}

impl Task<'_> {
    /// Runs of fixed length, summed in their order: the same bits for any number of threads.
    fn solve(&self, worlds: &[Worlds], sum: &mut Sum) -> Result<(), StudyError> {
        let solver = Solver::new(self.steady.bank.network.clone());
        let runs = |w| (0..w).map(|k| k * RUN);
        let tasks: Vec<(&Worlds, u64)> =
            worlds.iter().flat_map(|w| runs(w.count.div_ceil(RUN)).map(move |rank| (w, rank))).collect();
        let parts = tasks.into_par_iter().map(|(w, rank)| self.run(solver.clone(), w, rank));
        let parts: Vec<Sum> = parts.collect::<Result<_, _>>()?;
        parts.iter().for_each(|part| sum.add(part));
        Ok(())
    }

    fn run(&self, mut solver: Solver, worlds: &Worlds, rank: u64) -> Result<Sum, StudyError> {
        let mut sum = Sum::new(self);
        let mut elements = self.steady.elements.clone();
        worlds.out.iter().for_each(|&k| elements[k].law = Law::Open);
        let mut set = sets::nth(worlds.others.len(), worlds.size, rank);
        for _ in 0..RUN.min(worlds.count - rank) {
            self.progress.check()?;
            let members = || set.iter().map(|&at| worlds.others[at]);
            let mass = worlds.probability_of(&set);
            members().for_each(|(k, _)| elements[k].law = Law::Open);
            self.weigh(&mut solver, &elements, mass, &mut sum)?;
            members().for_each(|(k, _)| elements[k].law = self.steady.elements[k].law);
            sum.mass += mass;
            sum.sets += 1;
            sets::advance(&mut set, worlds.others.len());
        }
        self.progress.advance(sum.sets);
        Ok(sum)
    }

    /// Adds a world's probability to all that is over in it.
    fn weigh(&self, solver: &mut Solver, elements: &[Element], mass: f64, sum: &mut Sum) -> Result<(), Unsolvable> {
        let count = self.ratings.len();
        let mut currents = Currents::new(solver, elements)?;
        for (load, of) in self.loads.iter().zip(&mut sum.of) {
            let Some(amps) = currents.at(solver, elements, load.demand)? else {
                of[count + 1] += mass;
                continue;
            };
            let mut any = false;
            for (k, rating) in self.ratings.iter().enumerate() {
                if rating.over(amps[k]) {
                    of[k] += mass;
                    any = true;
                }
            }
            of[count] += if any { mass } else { 0.0 };
        }
        Ok(())
    }

    fn at_loads(&self, sum: &Sum, remaining: f64) -> Vec<AtLoad> {
        let chance = |p: f64| Chance { low: p.min(1.0), high: (p + remaining).min(1.0) };
        let count = self.ratings.len();
        let rated = |k: &usize| self.ratings[*k].along.is_finite() || self.ratings[*k].against.is_finite();
        let element = |of: &[f64], k: usize| ElementChance { id: self.steady.id(k).into(), chance: chance(of[k]) };
        let at = |(load, of): (&LoadAt, &Vec<f64>)| AtLoad {
            load_share: load.share,
            power_w: if let Demand::Power(watts) = load.demand { Some(watts) } else { None },
            current_a: if let Demand::Current(amps) = load.demand { Some(amps) } else { None },
            any: chance(of[count]),
            not_carried: chance(of[count + 1]),
            elements: (0..count).filter(rated).map(|k| element(of, k)).collect(),
        };
        self.loads.iter().zip(&sum.of).map(at).collect()
    }
}

/// The currents of one set at any load.
struct Currents {
    response: Response,
    now: Vec<f64>,
}

impl Currents {
    fn new(solver: &mut Solver, elements: &[Element]) -> Result<Currents, Unsolvable> {
        Ok(Currents { response: Response::of(solver, elements)?, now: vec![0.0; elements.len()] })
    }

    /// The currents of all branches [A]; `None` where the load is not carried.
    fn at(&mut self, solver: &mut Solver, elements: &[Element], demand: Demand) -> Result<Option<&[f64]>, Unsolvable> {
        let carried = match &self.response {
            Response::Dead => false,
            Response::Bent => {
                let carried = matches!(solver.solve(elements, demand)?, Outcome::Carried(_));
                self.now.copy_from_slice(solver.currents());
                carried
            }
            Response::Affine(affine) => {
                let bank = affine.bank_current(demand);
                bank.inspect(|amps| affine.currents(*amps, &mut self.now)).is_some()
            }
        };
        Ok(carried.then_some(&self.now))
    }
}
