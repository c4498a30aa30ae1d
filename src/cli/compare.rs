//! `bankwright compare`: the layouts that a scenario proposes, under the same nights.

use super::origin::Origin;
use super::run::progress::Progress;
use super::run::signal::stop_on_signal;
use super::run::{Override, lacking, pool, prepare};
use super::{Common, DONE, Failure, TARGET_MISSED, folder, print, print_json, read};
use crate::bounds;
use crate::escape;
use crate::output::compare::page::{self, LayoutFigures, LayoutsInput};
use crate::output::compare::{chart, tables as csv, text, words as finding};
use crate::output::kit::cautions::{Answer, Cautions};
use crate::output::kit::chart::ChartError;
use crate::output::kit::folder::{PAGE, RESULTS, Writer};
use crate::output::parts;
use crate::scenario::check::Checked;
use crate::study::compare::{self, Comparison, Field, Still, StillError};
use crate::study::limit::LimitError;
use crate::study::pace::Pace;
use crate::summary::Verdict;
use crate::trials::Campaign;
use crate::trials::shard::Identity;
use crate::trials::side_by_side::{self, SideBySide};
use clap::Args;
use serde::Serialize;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

#[derive(Debug, Args)]
pub struct CompareArgs {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    study: StudyArgs,
    /// Instead of layouts: each input of the scenario as written alone a step lower and higher, and what buys most
    #[arg(long)]
    inputs: bool,
}

/// What `compare` and `propose` take beside a scenario.
#[derive(Debug, Args)]
pub struct StudyArgs {
    /// How many nights each layout goes through [default: the scenario's]
    #[arg(long, value_parser = clap::value_parser!(u64).range(1..=bounds::TRIALS))]
    pub trials: Option<u64>,
    /// Seed of every random draw [default: the scenario's, or 1]
    #[arg(long)]
    pub seed: Option<u64>,
    /// Threads [default: all that the machine offers]
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=bounds::THREADS as i64))]
    pub threads: Option<u16>,
    /// Folder of the results [default: output/<name of the scenario>-<command>]
    #[arg(long)]
    pub out: Option<PathBuf>,
    /// Write over earlier results
    #[arg(long)]
    pub force: bool,
}

/// Modules out, at most, for the limits.
const OUTAGES: usize = 2;

/// Every file, in the order in which they take their places.
const FILES: [&str; 8] =
    ["layouts.csv", "differences.csv", "parts.csv", "leads.svg", "price.svg", "hours.svg", PAGE, RESULTS];

/// Name and bytes.
type File = (&'static str, Vec<u8>);

/// The document with what it shows in words.
#[derive(Serialize)]
struct Document<'a> {
    finding: Vec<String>,
    #[serde(flatten)]
    comparison: &'a Comparison,
}

pub fn compare(args: &CompareArgs) -> Result<u8, Failure> {
    if args.inputs {
        return super::inputs::inputs(&args.common, &args.study);
    }
    let mut checked = read(&args.common)?;
    let field = field(&mut checked, &args.study)?;
    let dir = folder::of(args.study.out.as_ref(), &args.common.scenario, "-compare");
    let folder = folder::open(&dir, Writer::Compare, args.study.force, &FILES, &args.common)?;
    let stop = stop_on_signal()?;
    // First what needs no night: a limit that cannot be told must not cost the nights.
    let stills = stills(&field, args, &stop)?;
    let found = nights(&field.campaigns, &args.common, &args.study, &stop)?;
    let comparison = compare::compare(&field, &found, stills);
    let document = Document { finding: finding::sentences(&comparison), comparison: &comparison };
    let origin = Origin::of(&args.common.scenario, &checked);
    let cautions = Cautions::new(Answer::Compare, checked.from_memory());
    let results = super::document(&document, &cautions)?;
    let files = files(&field, &origin, (&comparison, results))?;
    folder::put(&folder, &files, &args.common)?;
    if args.common.json {
        print_json(&document, &cautions)?;
    } else {
        print(&format!("{}Full results: {}\n{}", text::text(&comparison), escape::path(&dir), cautions.text()))?;
    }
    // One layout that meets every target is enough: the comparison has found it.
    let met = comparison.layouts.iter().any(|l| l.verdict() == Verdict::Met);
    Ok(if met { DONE } else { TARGET_MISSED })
}

/// The layouts of a scenario, ready to run.
pub fn field(checked: &mut Checked, study: &StudyArgs) -> Result<Field, Failure> {
    prepare(checked, &Override { trials: study.trials, seed: study.seed })?;
    let scenario = &checked.scenario;
    let (Some(load), Some(trials)) = (&scenario.load, &scenario.trials) else {
        return Err(Failure::Machine("the scenario has lost its load or its trials".into()));
    };
    if checked.layouts.is_empty() {
        let message = "the scenario proposes no layout beside itself".to_owned();
        let label = "the file ends here, without [[layout]] or [layouts]".to_owned();
        let help = "add [[layout]] with a `name` and what differs, or [layouts] with `lead_pairs` and `take_off`";
        return Err(Failure::Input(vec![lacking(&checked.text, message, label, help.into())]));
    }
    Field::new(scenario, &checked.layouts, load, trials).map_err(|e| Failure::Machine(e.to_string()))
}

pub fn failure(error: StillError) -> Failure {
    match error {
        StillError::Limit(LimitError::TooManySets { .. }) => Failure::Usage(error.to_string()),
        _ => Failure::Machine(error.to_string()),
    }
}

/// The limits and losses of all layouts.
fn stills(field: &Field, args: &CompareArgs, stop: &AtomicBool) -> Result<Vec<Still>, Failure> {
    let sets = compare::sets_to_solve(field, OUTAGES).map_err(failure)?;
    let progress = Progress::of_sets(Some(sets), args.common.quiet);
    let pool = pool(args.study.threads)?;
    let found = pool.install(|| compare::stills(field, OUTAGES, &Pace { stop, done: &|n| progress.add(n) }));
    progress.finish();
    found.map_err(|error| if error.is_interruption() { progress.interrupted() } else { failure(error) })
}

/// All campaigns through the nights of the first.
pub fn nights(
    campaigns: &[Campaign],
    common: &Common,
    study: &StudyArgs,
    stop: &AtomicBool,
) -> Result<SideBySide, Failure> {
    let trials = campaigns[0].model.trials.count;
    let blocks = Identity::new("", 0, trials).blocks();
    let pool = pool(study.threads)?;
    let progress = Progress::of_nights(trials * campaigns.len() as u64, 0, common.quiet);
    let found = pool.install(|| side_by_side::run(campaigns, &blocks, stop, &|n| progress.add(n)));
    progress.finish();
    found.ok_or_else(|| progress.interrupted())
}

fn files(field: &Field, origin: &Origin, (comparison, document): (&Comparison, String)) -> Result<Vec<File>, Failure> {
    let parts = field.candidates.iter().map(|c| (c.name.as_str(), &c.parts));
    let [layouts, differences, parts_list, leads, price, hours, overview, results] = FILES;
    let drawn = |figure: Result<String, ChartError>| figure.map_err(|e| Failure::Machine(e.to_string()));
    let figures = [chart::leads(comparison), chart::price(comparison), chart::hours(comparison)];
    let [of_leads, of_price, of_hours] = figures.map(drawn);
    let (of_leads, of_price, of_hours) = (of_leads?, of_price?, of_hours?);
    let html = page::layouts(&LayoutsInput {
        comparison,
        figures: LayoutFigures { leads: &of_leads, price: &of_price, hours: &of_hours },
        parts: &field.candidates.iter().map(|c| &c.parts).collect::<Vec<_>>(),
        not_modelled: &field.candidates[0].scenario.left_out(),
        provenance: origin.provenance(),
    });
    Ok(vec![
        (layouts, csv::layouts_csv(comparison).into_bytes()),
        (differences, csv::differences_csv(comparison).into_bytes()),
        (parts_list, parts::csv(parts, comparison.currency.as_deref()).into_bytes()),
        (leads, of_leads.into_bytes()),
        (price, of_price.into_bytes()),
        (hours, of_hours.into_bytes()),
        (overview, html.into_bytes()),
        (results, document.into_bytes()),
    ])
}
