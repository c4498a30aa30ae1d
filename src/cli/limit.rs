//! `bankwright limit`: the greatest safe bank current with modules out, as a table or as JSON.

use super::point::{celsius, finite, share};
use super::run::progress::Progress;
use super::run::signal::stop_on_signal;
use super::{Common, DONE, Failure, folder, print, print_json, read, tell};
use crate::bounds;
use crate::engine::ambient::DEFAULT_AIR;
use crate::network::Demand;
use crate::output;
use crate::output::kit::cautions::{Answer, Cautions};
use crate::output::kit::folder::Writer;
use crate::scenario::Scenario;
use crate::study::limit::{LimitError, Limits, MOST_SETS, Question, sets_to_solve, solve_until};
use crate::study::moment::{self, Chances, LoadAt, MomentError, quantiles};
use crate::study::pace::{Halt, Pace};
use crate::study::sensitivity::{self, Sensitivity, SensitivityError};
use clap::Args;
use serde::Serialize;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

#[derive(Debug, Args)]
pub struct LimitArgs {
    #[command(flatten)]
    common: Common,
    /// The greatest number of modules out
    #[arg(long, default_value_t = 2)]
    outages: usize,
    /// Charge of every module, 0 to 1 [default: the scenario's]
    #[arg(long, value_parser = share)]
    soc: Option<f64>,
    /// Temperature of everything [°C]; several, separated by commas, or a range by the degree, as -20..50, tell the
    /// limit by ambient. The rest of the answer is for the first; of a range for that nearest to 25 °C
    #[arg(long, default_value = "25", value_delimiter = ',', allow_negative_numbers = true,
          allow_hyphen_values = true, value_parser = airs)]
    air: Vec<Airs>,
    /// At most so many sets of modules are solved; for more modules out than these allow the limit is bounded
    #[arg(long, default_value_t = MOST_SETS, value_parser = clap::value_parser!(u64).range(1..=bounds::SETS))]
    most_sets: u64,
    /// Tell the chance of each element being over at a moment, by every set of modules that may be out
    #[arg(long)]
    chance: bool,
    /// Currents at the bus for --chance [A] [default: the scenario's load]
    #[arg(long, requires = "chance", value_delimiter = ',', allow_negative_numbers = true, value_parser = finite)]
    current: Vec<f64>,
    /// Powers at the bus for --chance [W] [default: the scenario's load]
    #[arg(long, requires = "chance", value_delimiter = ',', allow_negative_numbers = true, value_parser = finite)]
    power: Vec<f64>,
    /// Tell what moves the limit with --outages modules out, and what buys most
    #[arg(long)]
    sensitivity: bool,
    /// Folder for the document, a table and charts [default: none is written]
    #[arg(long)]
    out: Option<PathBuf>,
    /// Write over earlier results
    #[arg(long, requires = "out")]
    force: bool,
}

/// One temperature, or each of a range [°C].
#[derive(Clone, Debug)]
struct Airs(Vec<f64>);

impl Airs {
    /// What the rest of the answer is for.
    fn chief(&self) -> f64 {
        let from_default = |air: &f64| (air - DEFAULT_AIR).abs();
        self.0.iter().copied().min_by(|a, b| from_default(a).total_cmp(&from_default(b))).unwrap_or(DEFAULT_AIR)
    }
}

/// `-5`, or `-20..50`: every degree from the first on, and the last.
fn airs(text: &str) -> Result<Airs, String> {
    let Some((from, to)) = text.split_once("..") else { return Ok(Airs(vec![celsius(text)?])) };
    let (from, to) = (celsius(from)?, celsius(to)?);
    if from >= to {
        return Err("a range goes from the colder to the warmer, as -20..50".to_string());
    }
    let degrees = (0..).map(|k| from + f64::from(k)).take_while(|at| *at < to);
    Ok(Airs(degrees.chain([to]).collect()))
}

const TABLE: &str = "limit.csv";
const FIGURE: &str = "limit.svg";
const DOCUMENT: &str = "limit.json";
const BY_AIR: &str = "limit_by_air.svg";
const CHANCE_TABLE: &str = "chance.csv";
const CHANCE_FIGURE: &str = "chance.svg";
const SENSITIVITY_TABLE: &str = "sensitivity.csv";
const SENSITIVITY_FIGURE: &str = "sensitivity.svg";

pub fn limit(args: &LimitArgs) -> Result<u8, Failure> {
    few_enough(args)?;
    let checked = read(&args.common)?;
    let air = chief_air(args);
    let airs = args.air.iter().flat_map(|airs| airs.0.iter().copied());
    let question = Question {
        outages: args.outages,
        soc: args.soc,
        air,
        also_air: airs.filter(|other| *other != air).collect(),
        most_sets: args.most_sets,
    };
    let names = names(args, &question);
    let opened = |dir: &PathBuf| folder::open(dir, Writer::Limit, args.force, &names, &args.common);
    let folder = args.out.as_ref().map(opened).transpose()?;
    let stop = stop_on_signal()?;
    let limits = limits(args, &checked.scenario, &question, &stop)?;
    let chance = if args.chance { chances(args, &checked.scenario, &stop)? } else { Vec::new() };
    let sensitivity = if args.sensitivity { sensitivities(args, &checked.scenario, &stop)? } else { Vec::new() };
    let document = Document { limits: &limits, chance: &chance, sensitivity: &sensitivity };
    if !args.common.quiet {
        limits.warnings.iter().for_each(|text| tell(&format!("warning: {text}\n")));
    }
    let cautions = Cautions::new(Answer::Limit, checked.scenario.from_memory());
    if let Some(folder) = &folder {
        folder::put(folder, &files(&document, &cautions)?, &args.common)?;
    }
    if args.common.json {
        print_json(&document, &cautions)?;
    } else {
        let told =
            output::limit::text::table(&checked.scenario.title, &limits) + &output::static_risk::words::table(&chance);
        print(&(told + &output::sensitivity::words::text(&sensitivity) + &cautions.text()))?;
    }
    Ok(DONE)
}

/// Each temperature and each load is a question of its own.
fn few_enough(args: &LimitArgs) -> Result<(), Failure> {
    let airs: usize = args.air.iter().map(|airs| airs.0.len()).sum();
    let loads = args.current.len() + args.power.len();
    let asked = [("--air", airs, bounds::TEMPERATURES), ("--current and --power", loads, bounds::LOADS)];
    match asked.into_iter().find(|(_, asked, most)| asked > most) {
        Some((what, asked, most)) => {
            Err(Failure::Usage(format!("{what} give {asked} values, and at most {most} are answered: leave some out")))
        }
        None => Ok(()),
    }
}

/// What is printed and written.
#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    limits: &'a Limits,
    /// One a temperature, where asked for.
    #[serde(skip_serializing_if = "<[Chances]>::is_empty")]
    chance: &'a [Chances],
    /// In discharge and in charge, where asked for.
    #[serde(skip_serializing_if = "<[Sensitivity]>::is_empty")]
    sensitivity: &'a [Sensitivity],
}

fn limits(args: &LimitArgs, scenario: &Scenario, question: &Question, stop: &AtomicBool) -> Result<Limits, Failure> {
    let failure = |progress: Option<&Progress>, error: LimitError| match (progress, error) {
        (Some(progress), LimitError::Halted(Halt::Interrupted)) => progress.interrupted(),
        (_, error @ LimitError::TooManySets { .. }) => Failure::Usage(error.to_string()),
        (_, error) => machine(error),
    };
    let sets = sets_to_solve(scenario, question).map_err(|error| failure(None, error))?;
    let progress = Progress::of_sets(Some(sets), args.common.quiet);
    let found = solve_until(scenario, question, &Pace { stop, done: &|n| progress.add(n) });
    progress.finish();
    found.map_err(|error| failure(Some(&progress), error))
}

fn sensitivities(args: &LimitArgs, scenario: &Scenario, stop: &AtomicBool) -> Result<Vec<Sensitivity>, Failure> {
    let air = chief_air(args);
    let question = sensitivity::Question { outages: args.outages, soc: args.soc, air, most_sets: args.most_sets };
    let sets = sensitivity::sets_to_solve(scenario, &question).map_err(|error| Failure::Usage(error.to_string()))?;
    let progress = Progress::of_sets(Some(sets), args.common.quiet);
    let found = sensitivity::solve_until(scenario, &question, &Pace { stop, done: &|n| progress.add(n) });
    progress.finish();
    found.map(Vec::from).map_err(|error| match error {
        SensitivityError::Halted(Halt::Interrupted) => progress.interrupted(),
        _ => machine(error),
    })
}

fn chief_air(args: &LimitArgs) -> f64 {
    args.air.first().map_or(DEFAULT_AIR, Airs::chief)
}

/// The chances at each temperature that was asked for; of a range at its chief.
fn chances(args: &LimitArgs, scenario: &Scenario, stop: &AtomicBool) -> Result<Vec<Chances>, Failure> {
    let stated = |demand| LoadAt { share: None, demand };
    let currents = args.current.iter().map(|&amps| stated(Demand::Current(amps)));
    let mut loads: Vec<LoadAt> = currents.chain(args.power.iter().map(|&watts| stated(Demand::Power(watts)))).collect();
    if loads.is_empty() {
        loads = quantiles(scenario);
    }
    if loads.is_empty() {
        let text = "--chance needs a load: give the scenario a [load], or name one by --current or --power";
        return Err(Failure::Usage(text.to_string()));
    }
    let airs = args.air.iter().map(Airs::chief);
    let ask = |air| moment::Question { soc: args.soc, air, loads: loads.clone(), most_sets: args.most_sets };
    let progress = Progress::of_sets(None, args.common.quiet);
    let pace = Pace { stop, done: &|n| progress.add(n) };
    let found: Result<Vec<Chances>, MomentError> =
        airs.map(|air| moment::solve_until(scenario, &ask(air), &pace)).collect();
    progress.finish();
    found.map_err(|error| match error {
        MomentError::Halted(Halt::Interrupted) => progress.interrupted(),
        _ => machine(error),
    })
}

fn machine(error: impl ToString) -> Failure {
    Failure::Machine(error.to_string())
}

/// Names of all files, the document last.
fn names(args: &LimitArgs, question: &Question) -> Vec<&'static str> {
    let asked = |is: bool, names: &[&'static str]| if is { names.to_vec() } else { Vec::new() };
    let mut names = vec![TABLE, FIGURE];
    names.extend(asked(!question.also_air.is_empty(), &[BY_AIR]));
    names.extend(asked(args.chance, &[CHANCE_TABLE, CHANCE_FIGURE]));
    names.extend(asked(args.sensitivity, &[SENSITIVITY_TABLE, SENSITIVITY_FIGURE]));
    names.push(DOCUMENT);
    names
}

/// All files, the document last.
fn files(document: &Document, cautions: &Cautions) -> Result<Vec<(&'static str, Vec<u8>)>, Failure> {
    let limits = document.limits;
    let mut files = vec![
        (TABLE, output::limit::tables::csv(limits).into_bytes()),
        (FIGURE, output::limit::chart::limits(limits).map_err(machine)?.into_bytes()),
    ];
    if !limits.by_air.is_empty() {
        files.push((BY_AIR, output::limit::chart_by_air::limits_by_air(limits).map_err(machine)?.into_bytes()));
    }
    if let Some(first) = document.chance.first() {
        files.push((CHANCE_TABLE, output::static_risk::words::csv(document.chance).into_bytes()));
        files.push((CHANCE_FIGURE, output::static_risk::chart::chances(first).map_err(machine)?.into_bytes()));
    }
    if !document.sensitivity.is_empty() {
        let figure = output::sensitivity::chart::sensitivity(document.sensitivity).map_err(machine)?;
        files.push((SENSITIVITY_TABLE, output::sensitivity::words::csv(document.sensitivity).into_bytes()));
        files.push((SENSITIVITY_FIGURE, figure.into_bytes()));
    }
    files.push((DOCUMENT, super::document(document, cautions)?.into_bytes()));
    Ok(files)
}
