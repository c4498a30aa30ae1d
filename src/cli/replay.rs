//! `bankwright replay`: one night again from its number, as CSV, JSON, or files in a folder.

use crate::cli::prelude::*;
use crate::engine::record::Record;
use crate::engine::result::TrialResult;
use crate::output::kit::folder::Writer;
use crate::output::night::{chart, table};
use crate::simulate::Simulation;
use crate::trials::Options;
use serde::Serialize;
use std::path::PathBuf;

const CAUTION: Caution = Caution::of_bank(
    "One computed night, not a record of a real one: for the real bank local codes and the equipment's manuals govern.",
);

const JOULES_PER_WH: f64 = 3600.0;

#[derive(Debug, Args)]
pub struct Arguments {
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

pub fn run(args: &Arguments) -> Result<u8, Failure> {
    let checked = args.common.read()?;
    let simulation = Simulation::new(&checked, Options { seed: args.seed, ..Options::default() })?;
    let names = ["csv", "svg"].map(|ending| format!("night-{}.{ending}", args.trial));
    let names = names.each_ref().map(String::as_str);
    let opened = |dir: &PathBuf| folder::open(dir, Writer::REPLAY, args.force, &names, &args.common);
    let folder = args.out.as_ref().map(opened).transpose()?;
    let waiting = Waiting::new(args.common.quiet)?;
    let (record, result) = waiting.end(simulation.replay(args.trial, &waiting.progress()))?;
    if let Some(folder) = &folder {
        let svg = chart::night(&record)?;
        let [table, picture] = names;
        let files = [(table, table::record_csv(&record).into_bytes()), (picture, svg.into_bytes())];
        folder::put(folder, &files, &args.common)?;
    }
    let cautions = Cautions::new(CAUTION, checked.scenario.from_memory());
    match (args.common.json, &args.out) {
        (true, _) => screen::print_json(&document(&simulation, record, &result), &cautions)?,
        (false, None) => screen::print(&table::record_csv(&record))?,
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

fn document(simulation: &Simulation, record: Record, result: &TrialResult) -> Replayed {
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
        ride_through_h: result.served_until.unwrap_or(simulation.campaign().model.trials.horizon).hours(),
        unserved_wh: result.unserved / JOULES_PER_WH,
        modules_out: result.dropout.most,
        over: over.collect(),
        record,
    }
}
