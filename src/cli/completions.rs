//! `bankwright completions`: what a shell needs to complete commands, options and file names.

use super::{Cli, DONE, Failure, print};
use clap::{Args, CommandFactory};
use clap_complete::{Shell, generate};

#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// The shell
    shell: Shell,
}

pub fn completions(args: &CompletionsArgs) -> Result<u8, Failure> {
    let mut script = Vec::new();
    generate(args.shell, &mut Cli::command(), "bankwright", &mut script);
    print(&String::from_utf8_lossy(&script))?;
    Ok(DONE)
}
