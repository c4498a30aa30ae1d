//! `bankwright verify`: the record of outside checks as tables or as JSON.

use super::{DONE, Failure, print, print_json};
use crate::output::kit::cautions::{Answer, Cautions};
use crate::output::verify as verify_table;
use crate::study::verify::record;
use clap::Args;

#[derive(Debug, Args)]
pub struct VerifyArgs {
    /// Print one JSON document on standard output and nothing else there
    #[arg(long)]
    json: bool,
}

pub fn verify(args: &VerifyArgs) -> Result<u8, Failure> {
    let record = record();
    let cautions = Cautions::new(Answer::Verify, Vec::new());
    if args.json {
        print_json(&record, &cautions)?;
    } else {
        print(&(verify_table::table(&record) + &cautions.text()))?;
    }
    match record.failed {
        0 => Ok(DONE),
        failed => Err(Failure::Machine(format!(
            "{failed} of {} checks do not pass: do not rely on this build",
            record.checks.len()
        ))),
    }
}
