//! `bankwright run`: the random nights, the results folder, and the verdict.
//!
//! The phases: read, open the folder, run what is missing, merge, write, tell.

pub mod progress;
pub mod signal;
mod write;

use super::{Common, DONE, Failure, TARGET_MISSED, folder, print, print_json, read};
use crate::bounds;
use crate::diagnostic::{Diagnostic, Fault, Severity, SourceText};
use crate::escape;
use crate::output::kit::cautions::{Answer, Cautions};
use crate::output::kit::folder::{Mode, PAGE, RunFolder};
use crate::output::run::verdict;
use crate::scenario::check::Checked;
use crate::study::compare;
use crate::study::pace::Pace;
use crate::summary::counts::Counts;
use crate::summary::{HalfStep, LimitVerdict, Results, Verdict, assemble};
use crate::trials::shard::Identity;
use crate::trials::{Campaign, half_step};
use clap::{Args, ValueEnum};
use progress::Progress;
use signal::stop_on_signal;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};

#[derive(Debug, Args)]
pub struct RunArgs {
    #[command(flatten)]
    common: Common,
    /// How many nights [default: the scenario's]
    #[arg(long, value_parser = clap::value_parser!(u64).range(1..=bounds::TRIALS))]
    trials: Option<u64>,
    /// Seed of every random draw [default: the scenario's, or 1]
    #[arg(long)]
    seed: Option<u64>,
    /// Threads [default: all that the machine offers]
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=bounds::THREADS as i64))]
    threads: Option<u16>,
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

/// What the command line changes in a scenario.
pub struct Override {
    pub trials: Option<u64>,
    pub seed: Option<u64>,
}

pub fn run(args: &RunArgs) -> Result<u8, Failure> {
    let mut checked = read(&args.common)?;
    let campaign = prepare(&mut checked, &Override { trials: args.trials, seed: args.seed })?;
    let trials = &campaign.model.trials;
    let identity = Identity::new(&checked.digest, trials.seed, trials.count);
    let dir = folder::of(args.out.as_ref(), &args.common.scenario, "");
    let store = RunFolder::open(&dir, mode(args), identity, &write::FILES)?;
    folder::notes(&store.notes(), args.common.quiet);
    let results = match store.finished() {
        Some(found) => write::mended(&args.common, &checked, &campaign, (&store, found))?,
        None => fill(args, &checked, &campaign, &store)?,
    };
    tell(args, &store, (&results, &cautions(&checked)))?;
    Ok(if results.verdict() == Verdict::Met { DONE } else { TARGET_MISSED })
}

/// Runs what is missing and fills the folder.
fn fill(args: &RunArgs, checked: &Checked, campaign: &Campaign, store: &RunFolder) -> Result<Results, Failure> {
    let started = std::time::SystemTime::now();
    let stop = stop_on_signal()?;
    store.begin()?;
    let pool = pool(args.threads)?;
    let limit_target = limit_target(args, checked, &stop, (&pool, store))?;
    let counts = pool.install(|| counts(args, campaign, store, &stop))?;
    if counts.trials < store.trials() {
        return Err(interrupted(args, store));
    }
    let telling = Progress::meanwhile("trying nights with half the step", args.common.quiet);
    let halved = pool.install(|| half_step::check(&checked.scenario, campaign, &stop));
    let Some(half_step) = halved.map_err(|e| Failure::Machine(e.to_string()))? else {
        return Err(interrupted(args, store));
    };
    let results = Results { limit_target, ..results(checked, campaign, &counts, half_step) };
    let Some(record) = write::shown_night(campaign, &results, &stop)? else {
        return Err(interrupted(args, store));
    };
    telling.finish();
    drop(telling);
    let scenario_file: &Path = &args.common.scenario;
    let files = write::files(&write::Written { checked, results: &results, record: &record, scenario_file })?;
    let details = write::details((checked, scenario_file), store, started, threads(args.threads));
    folder::notes(&store.finish(&files, details)?, args.common.quiet);
    Ok(results)
}

fn mode(args: &RunArgs) -> Mode {
    match (args.resume, args.force) {
        (true, _) => Mode::Resume,
        (_, true) => Mode::Force,
        _ => Mode::Fresh,
    }
}

/// So many threads, or all that the machine offers.
pub fn threads(asked: Option<u16>) -> usize {
    let all = || std::thread::available_parallelism().map_or(1, usize::from).min(bounds::THREADS as usize);
    asked.map_or_else(all, usize::from)
}

/// Makes a scenario ready to run, with the changes of the command line.
pub fn prepare(checked: &mut Checked, changes: &Override) -> Result<Campaign, Failure> {
    let scenario = &mut checked.scenario;
    let (Some(load), Some(trials)) = (&scenario.load, &mut scenario.trials) else {
        return Err(Failure::Input(missing_sections(checked)));
    };
    trials.count = changes.trials.unwrap_or(trials.count);
    trials.seed = changes.seed.unwrap_or(trials.seed);
    let (load, trials) = (load.clone(), trials.clone());
    Campaign::new(scenario, &load, &trials).map_err(|e| Failure::Machine(e.to_string()))
}

/// What a scenario that is legal by itself lacks for a run; shown where it is to be added.
fn missing_sections(checked: &Checked) -> Vec<Diagnostic> {
    let missing = |section: &str, example: &str| {
        let message = format!("a run needs [{section}], and the scenario has none");
        let label = format!("the file ends here, without [{section}]");
        lacking(&checked.text, message, label, format!("add [{section}], with {example}"))
    };
    let load = missing("load", "`power = \"2 kW\"`, `current = \"40 A\"` or `profile = \"load.csv\"`");
    let trials = missing("trials", "`count = 10000` and `horizon = \"16 h\"`");
    let scenario = &checked.scenario;
    let sections = [(scenario.load.is_none(), load), (scenario.trials.is_none(), trials)];
    sections.into_iter().filter(|(absent, _)| *absent).map(|(_, fault)| fault).collect()
}

/// A fault of what is not in a legal scenario, shown at its end.
pub fn lacking(text: &Arc<SourceText>, message: String, label: String, help: String) -> Diagnostic {
    let end = text.text.trim_end().len();
    let source = Arc::clone(text);
    let (severity, fault) = (Severity::Error, Fault::Missing);
    Diagnostic { severity, fault, message, source, span: end..end, label, help: Some(help) }
}

/// A pool of so many threads, or of all that the machine offers.
pub fn pool(wanted: Option<u16>) -> Result<rayon::ThreadPool, Failure> {
    rayon::ThreadPoolBuilder::new()
        .num_threads(threads(wanted))
        .build()
        .map_err(|e| Failure::Machine(format!("cannot start the threads: {e}")))
}

/// Runs the blocks that are missing, on rayon's current pool, and merges all; fewer trials than wanted if `stop` was raised.
fn counts(args: &RunArgs, campaign: &Campaign, store: &RunFolder, stop: &AtomicBool) -> Result<Counts, Failure> {
    let total = Mutex::new(Counts::new(&campaign.model));
    let merge = |counts: &Counts| {
        let mut total = total.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        total.merge(counts);
    };
    let missing = store.load_shards(&merge)?;
    let left: u64 = missing.iter().map(|(_, b)| b.end - b.start).sum();
    let progress = Progress::of_nights(store.trials(), store.trials() - left, args.common.quiet);
    let ran = campaign.run(&missing, stop, &|n| progress.add(n), &|block, counts| {
        // A disk that is full ends the other threads too, not after their blocks.
        store.save_shard(block, &counts).inspect_err(|_| stop.store(true, Ordering::Relaxed))?;
        merge(&counts);
        Ok::<(), Failure>(())
    });
    progress.finish();
    ran?;
    Ok(total.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner))
}

/// Whether the safe limit is as wanted: no night decides that.
fn limit_target(
    args: &RunArgs,
    checked: &Checked,
    stop: &AtomicBool,
    (pool, store): (&rayon::ThreadPool, &RunFolder),
) -> Result<Option<LimitVerdict>, Failure> {
    let scenario = &checked.scenario;
    let sets = scenario.targets.limit.map_or(Ok(0), |_| compare::sets_of_one(scenario, 0));
    let progress = Progress::of_sets(Some(sets.map_err(super::compare::failure)?), args.common.quiet);
    let pace = Pace { stop, done: &|n| progress.add(n) };
    let judged = pool.install(|| compare::limit_target(scenario, &pace));
    progress.finish();
    judged.map_err(|e| if e.is_interruption() { interrupted(args, store) } else { super::compare::failure(e) })
}

fn interrupted(args: &RunArgs, store: &RunFolder) -> Failure {
    let folder = store.dir();
    let mut command =
        format!("bankwright run {} --out {}", escape::shell(&args.common.scenario), escape::shell(folder));
    let numbers = [("trials", args.trials), ("seed", args.seed), ("threads", args.threads.map(u64::from))];
    for (option, value) in numbers {
        command += &value.map_or(String::new(), |n| format!(" --{option} {n}"));
    }
    for (option, given) in [("json", args.common.json), ("quiet", args.common.quiet), ("resume", true)] {
        command += &if given { format!(" --{option}") } else { String::new() };
    }
    let kept = escape::path(folder);
    Failure::Interrupted(format!("interrupted; what is done is kept in {kept}. Go on with:\n  {command}"))
}

fn results(checked: &Checked, campaign: &Campaign, counts: &Counts, half_step: HalfStep) -> Results {
    let warnings = checked.warnings.iter().map(|w| w.message.clone()).collect();
    assemble::results(&checked.scenario, &campaign.model, counts, Some(half_step), warnings)
}

fn cautions(checked: &Checked) -> Cautions {
    Cautions::new(Answer::Run, checked.scenario.from_memory())
}

fn tell(args: &RunArgs, store: &RunFolder, (results, cautions): (&Results, &Cautions)) -> Result<(), Failure> {
    if args.common.json {
        return print_json(results, cautions);
    }
    let seed = args.seed.map_or(String::new(), |s| format!(" --seed {s}"));
    let replay = format!("bankwright replay {}{seed} --trial", escape::shell(&args.common.scenario));
    let page = store.dir().join(PAGE);
    let told = verdict::verdict(results, &replay);
    print(&format!("{told}\nFull report: {}\n{}", escape::path(&page), cautions.text()))
}
