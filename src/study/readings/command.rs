//! `bankwright readings`: what readings on site say, as a table or as JSON.

use crate::cli::prelude::*;
use crate::engine::ambient::DEFAULT_AIR;
use crate::network::bank::Bank;
use crate::profile::{ProfileError, read_readings};
use crate::scenario::document::nearest;
use crate::study::readings::output as readings_table;
use crate::study::readings::{Question, ReadingsError, solve};
use std::path::PathBuf;

const CAUTION: Caution = Caution::of_work(
    "Modules stay live at their terminals: nothing switches a battery off. Before a joint is opened a qualified \
     person isolates it, proves it dead and uses insulated tools; local codes govern.",
    // Its readers measure at a live bank, and then open joints.
    &[
        "Modules stay live at their terminals, whatever is switched off: before a joint is opened, isolate it and prove \
         it dead, and use insulated tools, as local codes require.",
        "Measuring at a live bank, and opening its joints, is work for a qualified person, under local codes and the \
         equipment's manual.",
        "An element that is suspected is a reason to look, and one that is not suspected is not approved: inspection and \
         test by local codes govern.",
    ],
);

#[derive(Debug, Args)]
pub struct Arguments {
    #[command(flatten)]
    common: Common,
    /// The readings: a CSV of element,current_a,drop_v
    readings: PathBuf,
    /// Temperature of what has none in the readings [°C]
    #[arg(long, default_value_t = DEFAULT_AIR, allow_negative_numbers = true, value_parser = celsius)]
    air: f64,
}

pub fn run(args: &Arguments) -> Result<u8, Failure> {
    let checked = args.common.read()?;
    let bank = Bank::new(&checked.scenario)?;
    let known: Vec<&str> = (0..bank.network.branches().len()).map(|k| bank.branch_id(k)).collect();
    let meant = |id: &str| nearest(id, known.iter().copied()).map(str::to_string);
    let sheet = read_readings(&args.readings, &known, meant).map_err(|error| match error {
        ProfileError::Unreadable { why, .. } => Failure::Usage(why),
        ProfileError::Faults(faults) => Failure::Input(faults),
    })?;
    let waiting = Waiting::new(args.common.quiet)?;
    let question = Question { readings: &sheet.readings, air: args.air };
    let found = solve(&checked.scenario, &question, &waiting.progress());
    let findings = waiting.end(found.map_err(|error| match error {
        ReadingsError::Contradictory(all) => {
            Failure::Input(all.iter().map(|mistaken| readings_table::fault(&sheet, mistaken)).collect())
        }
        ReadingsError::Study(error) => error.into(),
        error => Failure::Usage(error.to_string()),
    }))?;
    let cautions = Cautions::new(CAUTION, checked.scenario.from_memory());
    let text = || readings_table::table(&checked.scenario.title, &findings);
    screen::answer(args.common.json, &findings, &cautions, text)?;
    Ok(DONE)
}
