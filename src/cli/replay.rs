//! `bankwright replay`: one night again from its number, as CSV, JSON, or files in a folder.

use super::run::progress::Progress;
use super::run::{Override, prepare};
use super::{Common, DONE, Failure, folder, print, print_json, read};
use crate::engine::record::Record;
use crate::engine::result::TrialResult;
use crate::output::kit::cautions::{Answer, Cautions};
use crate::output::kit::folder::Writer;
use crate::output::night::{chart, table};
use crate::trials::{Campaign, replay};
use clap::Args;
use serde::Serialize;
use std::path::PathBuf;

const JOULES_PER_WH: f64 = 3600.0;

#[derive(Debug, Args)]
pub struct ReplayArgs {
    #[command(flatten)]
    common: Common,
    /// Number of the trial, as the results give it; any number is a night, also beyond those of the run
    #[arg(long)]
    trial: u64,
    /// Seed of the run [default: the scenario's]
    #[arg(long)]
    seed: Option<u64>,
    /// Write night-NUMBER.csv and night-NUMBER.svg into this folder instead
    #[arg(long)]
    out: Option<PathBuf>,
    /// Write over an earlier replay of that night
    #[arg(long, requires = "out")]
    force: bool,
}

pub fn replay(args: &ReplayArgs) -> Result<u8, Failure> {
    let mut checked = read(&args.common)?;
    let overrides = Override { trials: None, seed: args.seed };
    let campaign = prepare(&mut checked, &overrides)?;
    let names = ["csv", "svg"].map(|ending| format!("night-{}.{ending}", args.trial));
    let names = names.each_ref().map(String::as_str);
    let opened = |dir: &PathBuf| folder::open(dir, Writer::Replay, args.force, &names, &args.common);
    let folder = args.out.as_ref().map(opened).transpose()?;
    let telling = Progress::meanwhile("running the night", args.common.quiet);
    let (record, result) = replay::replay(&campaign, args.trial).map_err(|e| Failure::Machine(e.to_string()))?;
    telling.finish();
    drop(telling);
    if let Some(folder) = &folder {
        let svg = chart::night(&record).map_err(|e| Failure::Machine(e.to_string()))?;
        let [table, picture] = names;
        let files = [(table, table::record_csv(&record).into_bytes()), (picture, svg.into_bytes())];
        folder::put(folder, &files, &args.common)?;
    }
    let cautions = Cautions::new(Answer::Replay, checked.scenario.from_memory());
    match (args.common.json, &args.out) {
        (true, _) => print_json(&document(&campaign, record, &result), &cautions)?,
        (false, None) => print(&table::record_csv(&record))?,
        (false, Some(_)) => {}
    }
    Ok(DONE)
}

/// One night: what it came to, in the words of the results document, and its course.
#[derive(Debug, Serialize)]
struct Replayed {
    ride_through_h: f64,
    unserved_wh: f64,
    /// Greatest number out at one moment.
    modules_out: u32,
    /// Elements over their limits, in the order of the record.
    over: Vec<Over>,
    #[serde(flatten)]
    record: Record,
}

#[derive(Debug, Serialize)]
struct Over {
    id: String,
    first_over_h: f64,
    time_over_h: f64,
    greatest_a: f64,
    greatest_at_h: f64,
}

fn document(campaign: &Campaign, record: Record, result: &TrialResult) -> Replayed {
    let ids = record.modules.iter().chain(&record.conductors);
    let over = ids.zip(&result.elements).filter_map(|(id, element)| {
        Some(Over {
            id: id.clone(),
            first_over_h: element.first_over?.hours(),
            time_over_h: element.time_over.hours(),
            greatest_a: element.greatest,
            greatest_at_h: element.greatest_at.hours(),
        })
    });
    Replayed {
        ride_through_h: result.served_until.unwrap_or(campaign.model.trials.horizon).hours(),
        unserved_wh: result.unserved / JOULES_PER_WH,
        modules_out: result.dropout.most,
        over: over.collect(),
        record,
    }
}
