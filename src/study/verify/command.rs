//! `bankwright verify`: the record of outside checks as tables or as JSON.

use crate::cli::prelude::*;
use crate::study::verify::output as verify_table;
use crate::study::verify::record;

const CAUTION: Caution = Caution::of_program(
    "This tells how the program computes, not that a bank is safe: for that see local codes, manuals and a qualified \
     person.",
);

#[derive(Debug, Args)]
pub struct Arguments {
    /// Print one JSON document on standard output and nothing else there
    #[arg(long)]
    json: bool,
}

pub fn run(args: &Arguments) -> Result<u8, Failure> {
    let record = record();
    let cautions = Cautions::new(CAUTION, Vec::new());
    screen::answer(args.json, &record, &cautions, || verify_table::table(&record))?;
    match record.failed {
        0 => Ok(DONE),
        failed => Err(Failure::Machine(format!(
            "{failed} of {} checks do not pass: do not rely on this build",
            record.checks.len()
        ))),
    }
}
