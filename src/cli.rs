//! The command line: what each command takes, and what it prints.
//!
//! In: arguments. Out: results on standard output, everything else on standard error, an exit code.

mod check;
mod colour;
mod compare;
mod completions;
mod failure;
mod folder;
mod inputs;
mod limit;
mod origin;
mod point;
mod propose;
mod readings;
mod replay;
mod run;
mod screen;
mod verify;

pub use failure::Failure;

use crate::scenario::check::{Checked, load};
use clap::{Args, CommandFactory, FromArgMatches, Parser, Subcommand};
use screen::{complain, document, print, print_json, refuse, tell};
use std::ffi::OsString;
use std::path::PathBuf;

/// Done, and every target is met.
const DONE: u8 = 0;
/// Done, and a target is missed or not decided.
const TARGET_MISSED: u8 = 3;

#[derive(Debug, Parser)]
#[command(
    name = "bankwright",
    // Said, so that it is not taken from how the program was called.
    bin_name = "bankwright",
    version,
    propagate_version = true,
    about = "Finds what is overloaded in a stacked 48 V LFP battery bank when modules drop out.",
    after_help = EXAMPLES,
    arg_required_else_help = true,
    disable_help_subcommand = true,
    infer_subcommands = false
)]
struct Cli {
    #[command(subcommand)]
    command: Command,
    /// When to print in colour; auto is on a terminal, unless NO_COLOR is set
    #[arg(long, global = true, value_enum, value_name = "WHEN", default_value_t)]
    color: colour::When,
}

const EXAMPLES: &str = "\
Examples:
  bankwright check scenarios/refuge.toml
  bankwright limit scenarios/refuge.toml --outages 2
  bankwright run scenarios/refuge.toml

Exit codes: 0 done; 1 a failure of the program or the machine; 2 the input is wrong;
3 done, and a target is missed or not decided; 130 interrupted.";

#[derive(Debug, Subcommand)]
enum Command {
    /// Judge a scenario and tell what it holds, without running or writing anything
    Check(check::CheckArgs),
    /// Solve one operating point: every current, voltage and margin
    Point(point::PointArgs),
    /// Find the greatest bank current at which nothing is over its limit, with modules out
    Limit(limit::LimitArgs),
    /// Run the random nights and fill the results folder
    Run(run::RunArgs),
    /// Compare the layouts that a scenario proposes, under the same nights
    Compare(compare::CompareArgs),
    /// Propose the cheapest layout that meets the targets
    Propose(propose::ProposeArgs),
    /// Run one night again from its number, with every current
    Replay(replay::ReplayArgs),
    /// Tell from currents and drops measured on site what is not sound
    Readings(readings::ReadingsArgs),
    /// Check the program against independently known answers
    Verify(verify::VerifyArgs),
    /// Print what a shell needs to complete commands and options
    Completions(completions::CompletionsArgs),
}

/// What every command takes.
#[derive(Clone, Debug, Args)]
struct Common {
    /// The scenario file
    scenario: PathBuf,
    /// Print one JSON document on standard output and nothing else there
    #[arg(long)]
    json: bool,
    /// Say nothing but results and errors
    #[arg(long)]
    quiet: bool,
}

/// Parses the arguments and does what they say.
///
/// # Errors
/// Whatever stops the command; `Failure::code` is the exit code.
pub fn main() -> Result<u8, Failure> {
    let arguments: Vec<OsString> = std::env::args_os().collect();
    let command = Cli::command().color(colour::of_arguments(&arguments));
    let matches = command.clone().try_get_matches_from(&arguments);
    let cli = match matches.and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        Err(error) => {
            refuse(&error, command, &arguments)?;
            return Ok(u8::try_from(error.exit_code()).unwrap_or(Failure::INPUT));
        }
    };
    colour::ask(cli.color);
    match cli.command {
        Command::Check(args) => check::check(&args),
        Command::Point(args) => point::point(&args),
        Command::Limit(args) => limit::limit(&args),
        Command::Run(args) => run::run(&args),
        Command::Compare(args) => compare::compare(&args),
        Command::Propose(args) => propose::propose(&args),
        Command::Replay(args) => replay::replay(&args),
        Command::Readings(args) => readings::readings(&args),
        Command::Verify(args) => verify::verify(&args),
        Command::Completions(args) => completions::completions(&args),
    }
}

/// Reads a scenario; its warnings go to standard error.
fn read(common: &Common) -> Result<Checked, Failure> {
    let checked = load(&common.scenario).map_err(Failure::Input)?;
    if !common.quiet && !checked.warnings.is_empty() {
        complain(&checked.warnings);
    }
    Ok(checked)
}
