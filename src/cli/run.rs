//! `bankwright run`: the random nights, the results folder, and the verdict.
//!
//! The phases: read, open the folder, simulate, write, tell.

mod write;

use crate::bounds;
use crate::cli::prelude::*;
use crate::engine::record::Record;
use crate::escape;
use crate::output::kit::folder::{Mode, PAGE, RunFolder};
use crate::output::run::verdict;
use crate::scenario::check::Checked;
use crate::simulate::Simulation;
use crate::study::error::StudyError;
use crate::summary::{Results, Verdict};
use crate::trials::Options;
use clap::ValueEnum;
use std::path::PathBuf;

#[derive(Debug, Args)]
pub struct Arguments {
    #[command(flatten)]
    common: Common,
    /// How many nights [default: the scenario's]
    #[arg(long, value_parser = clap::value_parser!(u64).range(1..=bounds::TRIALS))]
    trials: Option<u64>,
    #[command(flatten)]
    nights: NightArguments,
    /// How nights are drawn
    #[arg(long, value_enum, default_value = "plain")]
    sampling: Sampling,
    /// Folder of the results [default: output/<name of the scenario>]
    #[arg(long)]
    out: Option<PathBuf>,
    /// Go on with an interrupted run
    #[arg(long, conflicts_with = "force")]
    resume: bool,
    /// Write over earlier results
    #[arg(long)]
    force: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Sampling {
    /// Every night with its own chance
    Plain,
}

pub fn run(args: &Arguments) -> Result<u8, Failure> {
    let checked = args.common.read()?;
    let simulation = Simulation::new(&checked, options(args))?;
    let dir = folder::path(args.out.as_ref(), &args.common.scenario, "");
    let store = RunFolder::open(&dir, mode(args), simulation.identity().clone(), &write::FILES)?;
    folder::notes(&store.notes(), args.common.quiet);
    let results = match store.finished() {
        Some(found) => write::mended(&args.common, &checked, &simulation, (&store, found))?,
        None => fill(args, &checked, &simulation, &store)?,
    };
    tell(args, &checked, &store, &results)?;
    Ok(if results.verdict() == Verdict::Met { DONE } else { TARGET_MISSED })
}

fn options(args: &Arguments) -> Options {
    args.nights.options(args.trials)
}

/// Runs what is missing and fills the folder.
fn fill(args: &Arguments, checked: &Checked, simulation: &Simulation, store: &RunFolder) -> Result<Results, Failure> {
    let started = std::time::SystemTime::now();
    let waiting = Waiting::new(args.common.quiet)?;
    store.begin()?;
    let simulated = waiting.end(simulate(simulation, store, &waiting));
    let (results, record) = simulated.map_err(|failure| match failure {
        Failure::Interrupted(_) => interrupted(args, store),
        failure => failure,
    })?;
    let scenario_file = &args.common.scenario;
    let files = write::files(&write::Written { checked, results: &results, record: &record, scenario_file })?;
    let details = write::details((checked, scenario_file), store, started, options(args).thread_count());
    folder::notes(&store.finish(&files, details)?, args.common.quiet);
    Ok(results)
}

/// The results, and the night that is shown moment by moment.
fn simulate(simulation: &Simulation, store: &RunFolder, waiting: &Waiting) -> Result<(Results, Record), StudyError> {
    let progress = waiting.progress();
    let results = simulation.run_with(&progress, store)?;
    let record = simulation.shown_night(&results, &progress)?;
    Ok((results, record))
}

fn mode(args: &Arguments) -> Mode {
    match (args.resume, args.force) {
        (true, _) => Mode::Resume,
        (_, true) => Mode::Force,
        _ => Mode::Fresh,
    }
}

fn interrupted(args: &Arguments, store: &RunFolder) -> Failure {
    let folder = store.dir();
    let mut command =
        format!("bankwright run {} --out {}", escape::shell(&args.common.scenario), escape::shell(folder));
    let numbers =
        [("trials", args.trials), ("seed", args.nights.seed), ("threads", args.nights.threads.map(u64::from))];
    for (option, value) in numbers {
        command += &value.map_or(String::new(), |n| format!(" --{option} {n}"));
    }
    for (option, given) in [("json", args.common.json), ("quiet", args.common.quiet), ("resume", true)] {
        command += &if given { format!(" --{option}") } else { String::new() };
    }
    let kept = escape::path(folder);
    Failure::Interrupted(format!("interrupted; what is done is kept in {kept}. Go on with:\n  {command}"))
}

fn tell(args: &Arguments, checked: &Checked, store: &RunFolder, results: &Results) -> Result<(), Failure> {
    let seed = args.nights.seed.map_or(String::new(), |s| format!(" --seed {s}"));
    let replay = format!("bankwright replay {}{seed} --trial", escape::shell(&args.common.scenario));
    let page = escape::path(&store.dir().join(PAGE));
    let text = || format!("{}\nFull report: {page}\n", verdict::verdict(results, &replay));
    screen::answer(args.common.json, results, &write::cautions(checked), text)
}
