//! `bankwright readings`: what readings on site say, as a table or as JSON.

use super::point::celsius;
use super::run::progress::Progress;
use super::run::signal::stop_on_signal;
use super::{Common, DONE, Failure, print, print_json, read};
use crate::engine::ambient::DEFAULT_AIR;
use crate::network::bank::Bank;
use crate::output::kit::cautions::{Answer, Cautions};
use crate::output::readings as readings_table;
use crate::profile::{ProfileError, read_readings};
use crate::scenario::document::nearest;
use crate::study::pace::{Halt, Pace};
use crate::study::readings::{ReadingsError, explain_until};
use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
pub struct ReadingsArgs {
    #[command(flatten)]
    common: Common,
    /// The readings: a CSV of element,current_a,drop_v
    readings: PathBuf,
    /// Temperature of what has none in the readings [°C]
    #[arg(long, default_value_t = DEFAULT_AIR, allow_negative_numbers = true, value_parser = celsius)]
    air: f64,
}

pub fn readings(args: &ReadingsArgs) -> Result<u8, Failure> {
    let checked = read(&args.common)?;
    let bank = Bank::new(&checked.scenario).map_err(|error| Failure::Machine(error.to_string()))?;
    let known: Vec<&str> = (0..bank.network.branches().len()).map(|k| bank.branch_id(k)).collect();
    let meant = |id: &str| nearest(id, known.iter().copied()).map(str::to_string);
    let sheet = read_readings(&args.readings, &known, meant).map_err(|error| match error {
        ProfileError::Unreadable { why, .. } => Failure::Usage(why),
        ProfileError::Faults(faults) => Failure::Input(faults),
    })?;
    let stop = stop_on_signal()?;
    let progress = Progress::of_explanations(args.common.quiet);
    let pace = Pace { stop: &stop, done: &|n| progress.add(n) };
    let found = explain_until(&checked.scenario, &sheet.readings, args.air, &pace);
    progress.finish();
    let findings = found.map_err(|error| match error {
        ReadingsError::Contradictory(all) => {
            Failure::Input(all.iter().map(|mistaken| readings_table::fault(&sheet, mistaken)).collect())
        }
        ReadingsError::Halted(Halt::Interrupted) => progress.interrupted(),
        ReadingsError::Network(_) | ReadingsError::Halted(_) => Failure::Machine(error.to_string()),
        ReadingsError::TooManyElements(_) | ReadingsError::Unexplained => Failure::Usage(error.to_string()),
    })?;
    let cautions = Cautions::new(Answer::Readings, checked.scenario.from_memory());
    if args.common.json {
        print_json(&findings, &cautions)?;
    } else {
        print(&(readings_table::table(&checked.scenario.title, &findings) + &cautions.text()))?;
    }
    Ok(DONE)
}
