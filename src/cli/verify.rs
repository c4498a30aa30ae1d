//! `bankwright verify`: the record of outside checks as tables or as JSON.

use super::arguments::DONE;
use super::failure::Failure;
use super::screen;
use crate::output::kit::cautions::{Answer, Cautions};
use crate::output::verify as verify_table;
use crate::study::verify::record;
use clap::Args;

#[derive(Debug, Args)]
pub struct Arguments {
    /// Print one JSON document on standard output and nothing else there
    #[arg(long)]
    json: bool,
}

pub fn run(args: &Arguments) -> Result<u8, Failure> {
    let record = record();
    let cautions = Cautions::new(Answer::Verify, Vec::new());
    screen::answer(args.json, &record, &cautions, || verify_table::table(&record))?;
    match record.failed {
        0 => Ok(DONE),
        failed => Err(Failure::Machine(format!(
            "{failed} of {} checks do not pass: do not rely on this build",
            record.checks.len()
        ))),
    }
}
