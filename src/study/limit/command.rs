//! `bankwright limit`: the greatest safe bank current with modules out, as a table or as JSON.

use crate::bounds;
use crate::cli::prelude::*;
use crate::engine::ambient::DEFAULT_AIR;
use crate::network::Demand;
use crate::output::kit::folder::Writer;
use crate::scenario::Scenario;
use crate::study::error::StudyError;
use crate::study::limit::{self, Limits, MOST_SETS, Question, output};
use crate::study::sensitivity::{self, Sensitivity};
use crate::study::static_risk::{self, Chances, LoadAt, quantiles};
use serde::Serialize;
use std::path::PathBuf;

const CAUTION: Caution = Caution::of_bank(
    "Steady currents, no surge, fuse or heating: local codes and the equipment's manual govern, and a qualified \
     person sets and checks the value.",
);

#[derive(Debug, Args)]
pub struct Arguments {
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

pub fn run(args: &Arguments) -> Result<u8, Failure> {
    few_enough(args)?;
    let checked = args.common.read()?;
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
    let opened = |dir: &PathBuf| folder::open(dir, Writer::new("limit"), args.force, &names, &args.common);
    let folder = args.out.as_ref().map(opened).transpose()?;
    let waiting = Waiting::new(args.common.quiet)?;
    let limits = waiting.end(limit::solve(&checked.scenario, &question, &waiting.progress()))?;
    let chance = if args.chance { chances(args, &checked.scenario, &waiting)? } else { Vec::new() };
    let sensitivity = if args.sensitivity { sensitivities(args, &checked.scenario, &waiting)? } else { Vec::new() };
    let document = Document { limits: &limits, chance: &chance, sensitivity: &sensitivity };
    if !args.common.quiet {
        limits.warnings.iter().for_each(|text| screen::tell(&format!("warning: {text}\n")));
    }
    let cautions = Cautions::new(CAUTION, checked.scenario.from_memory());
    if let Some(folder) = &folder {
        folder::put(folder, &files(&document, &cautions)?, &args.common)?;
    }
    let text = || {
        let told = output::text::table(&checked.scenario.title, &limits) + &static_risk::output::words::table(&chance);
        told + &sensitivity::output::words::text(&sensitivity)
    };
    screen::answer(args.common.json, &document, &cautions, text)?;
    Ok(DONE)
}

/// Each temperature and each load is a question of its own.
fn few_enough(args: &Arguments) -> Result<(), Failure> {
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

fn sensitivities(args: &Arguments, scenario: &Scenario, waiting: &Waiting) -> Result<Vec<Sensitivity>, Failure> {
    let air = chief_air(args);
    let question = sensitivity::Question { outages: args.outages, soc: args.soc, air, most_sets: args.most_sets };
    Ok(waiting.end(sensitivity::solve(scenario, &question, &waiting.progress()))?.into())
}

fn chief_air(args: &Arguments) -> f64 {
    args.air.first().map_or(DEFAULT_AIR, Airs::chief)
}

/// The chances at each temperature that was asked for; of a range at its chief.
fn chances(args: &Arguments, scenario: &Scenario, waiting: &Waiting) -> Result<Vec<Chances>, Failure> {
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
    let ask = |air| static_risk::Question { soc: args.soc, air, loads: loads.clone(), most_sets: args.most_sets };
    let progress = waiting.progress();
    let found: Result<Vec<Chances>, StudyError> =
        airs.map(|air| static_risk::solve(scenario, &ask(air), &progress)).collect();
    waiting.end(found)
}

/// Names of all files, the document last.
fn names(args: &Arguments, question: &Question) -> Vec<&'static str> {
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
    let mut files =
        vec![(TABLE, output::tables::csv(limits).into_bytes()), (FIGURE, output::chart::limits(limits)?.into_bytes())];
    if !limits.by_air.is_empty() {
        files.push((BY_AIR, output::chart_by_air::limits_by_air(limits)?.into_bytes()));
    }
    if let Some(first) = document.chance.first() {
        files.push((CHANCE_TABLE, static_risk::output::words::csv(document.chance).into_bytes()));
        files.push((CHANCE_FIGURE, static_risk::output::chart::chances(first)?.into_bytes()));
    }
    if !document.sensitivity.is_empty() {
        let figure = sensitivity::output::chart::sensitivity(document.sensitivity)?;
        files.push((SENSITIVITY_TABLE, sensitivity::output::words::csv(document.sensitivity).into_bytes()));
        files.push((SENSITIVITY_FIGURE, figure.into_bytes()));
    }
    files.push((DOCUMENT, screen::document(document, cautions)?.into_bytes()));
    Ok(files)
}
