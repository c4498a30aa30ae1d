//! The command line: what each command takes, and what it prints.
//!
//! In: arguments. Out: results on standard output, everything else on standard error, an exit code. Each command is one
//! file, with its arguments and what it does, that of a study in the folder of the study, and stands in the list of commands
//! below.

mod arguments;
mod check;
mod colour;
mod completions;
mod failure;
pub(crate) mod folder;
mod origin;
pub(crate) mod prelude;
mod progress;
mod replay;
mod run;
pub(crate) mod screen;
mod signal;

pub use failure::Failure;

use crate::study::{compare, limit, point, propose, readings, verify};
use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use std::ffi::OsString;

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

/// The commands: for each its name, its file, and what it does as the help has it.
macro_rules! commands {
    ($($(#[doc = $help:literal])* $name:ident: $($module:ident)::+,)*) => {
        #[derive(Debug, Subcommand)]
        enum Command {
            $($(#[doc = $help])* $name($($module)::+::Arguments),)*
            /// Print what a shell needs to complete commands and options
            Completions(completions::Arguments),
        }

        impl Command {
            fn run(&self) -> Result<u8, Failure> {
                match self {
                    $(Command::$name(arguments) => $($module)::+::run(arguments),)*
                    // It completes all the others.
                    Command::Completions(arguments) => completions::run(arguments, &mut Cli::command()),
                }
            }
        }
    };
}

commands! {
    /// Judge a scenario and tell what it holds, without running or writing anything
    Check: check,
    /// Solve one operating point: every current, voltage and margin
    Point: point::command,
    /// Find the greatest bank current at which nothing is over its limit, with modules out
    Limit: limit::command,
    /// Run the random nights and fill the results folder
    Run: run,
    /// Compare the layouts that a scenario proposes, under the same nights
    Compare: compare::command,
    /// Propose the cheapest layout that meets the targets
    Propose: propose::command,
    /// Run one night again from its number, with every current
    Replay: replay,
    /// Tell from currents and drops measured on site what is not sound
    Readings: readings::command,
    /// Check the program against independently known answers
    Verify: verify::command,
}

/// Parses the arguments, does what they say, and tells what stopped it. Gives the exit code.
pub fn main() -> u8 {
    let done = act();
    done.unwrap_or_else(|failure| {
        screen::tell_failure(&failure);
        failure.code()
    })
}

fn act() -> Result<u8, Failure> {
    let arguments: Vec<OsString> = std::env::args_os().collect();
    let command = Cli::command().color(colour::of_arguments(&arguments));
    let matches = command.clone().try_get_matches_from(&arguments);
    let cli = match matches.and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        Err(error) => {
            screen::refuse(&error, command, &arguments)?;
            return Ok(u8::try_from(error.exit_code()).unwrap_or(Failure::INPUT));
        }
    };
    colour::ask(cli.color);
    cli.command.run()
}
