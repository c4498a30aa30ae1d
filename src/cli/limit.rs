//! `bankwright limit`: the greatest safe bank current with modules out, as a table or as JSON.

use super::point::{celsius, share};
use super::{Common, DONE, Failure, print, print_json, read};
use crate::engine::ambient::DEFAULT_AIR;
use crate::output::limit_table;
use crate::study::limit::{LimitError, Question, solve};
use clap::Args;

#[derive(Debug, Args)]
pub struct LimitArgs {
    #[command(flatten)]
    common: Common,
    /// The greatest number of modules out
    #[arg(long, default_value_t = 2)]
    outages: usize,
    /// Charge of every module, 0 to 1 [default: the scenario's]
    #[arg(long, value_parser = share)]
    soc: Option<f64>,
    /// Temperature of everything [°C]; several, separated by commas, tell the limit by ambient, and the first is
    /// the one that the rest of the answer is for
    #[arg(long, default_values_t = [DEFAULT_AIR], value_delimiter = ',', allow_negative_numbers = true,
          allow_hyphen_values = true, value_parser = celsius)]
    air: Vec<f64>,
}

pub fn limit(args: &LimitArgs) -> Result<u8, Failure> {
    let checked = read(&args.common)?;
    let mut airs = args.air.iter().copied();
    let question = Question {
        outages: args.outages,
        soc: args.soc,
        air: airs.next().unwrap_or(DEFAULT_AIR),
        also_air: airs.collect(),
    };
    let limits = solve(&checked.scenario, &question).map_err(|error| match error {
        LimitError::TooManySets { .. } => Failure::Usage(error.to_string()),
        _ => Failure::Machine(error.to_string()),
    })?;
    if !args.common.quiet {
        limits.warnings.iter().for_each(|warning| eprintln!("warning: {warning}"));
    }
    if args.common.json {
        print_json(&limits)?;
    } else {
        print(&limit_table::table(&checked.scenario.title, &limits))?;
    }
    Ok(DONE)
}
