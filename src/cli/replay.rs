//! `bankwright replay`: one night again from its number, as CSV, JSON, or files in a folder.

use super::run::{Override, prepare};
use super::{Common, DONE, Failure, print, print_json, read};
use crate::output::folder::{Mode, ResultsFolder};
use crate::output::{chart, table};
use crate::trials::replay;
use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
pub struct ReplayArgs {
    #[command(flatten)]
    common: Common,
    /// Number of the night, as the results give it
    #[arg(long)]
    trial: u64,
    /// Seed of the run [default: the scenario's]
    #[arg(long)]
    seed: Option<u64>,
    /// Write night-NUMBER.csv and night-NUMBER.svg into this folder instead
    #[arg(long)]
    out: Option<PathBuf>,
}

pub fn replay(args: &ReplayArgs) -> Result<u8, Failure> {
    let mut checked = read(&args.common)?;
    let overrides = Override { trials: None, seed: args.seed };
    let campaign = prepare(&mut checked, &overrides)?;
    let (record, _) = replay::replay(&campaign, args.trial).map_err(|e| Failure::Machine(e.to_string()))?;
    if let Some(dir) = &args.out {
        let machine = |e: &dyn ToString| Failure::Machine(e.to_string());
        let folder = ResultsFolder::create(dir, Mode::Resume).map_err(|e| machine(&e))?;
        let svg = chart::night(&record).map_err(|e| machine(&e))?;
        let name = |ending: &str| format!("night-{}.{ending}", args.trial);
        folder.write(&name("csv"), table::record_csv(&record).as_bytes()).map_err(|e| machine(&e))?;
        folder.write(&name("svg"), svg.as_bytes()).map_err(|e| machine(&e))?;
    }
    match (args.common.json, &args.out) {
        (true, _) => print_json(&record)?,
        (false, None) => print(&table::record_csv(&record))?,
        (false, Some(_)) => {}
    }
    Ok(DONE)
}
