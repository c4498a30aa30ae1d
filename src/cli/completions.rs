//! `bankwright completions`: what a shell needs to complete commands, options and file names.

use super::arguments::DONE;
use super::failure::Failure;
use super::screen;
use clap::Args;
use clap_complete::{Shell, generate};

#[derive(Debug, Args)]
pub struct Arguments {
    /// The shell
    shell: Shell,
}

pub fn run(args: &Arguments, command: &mut clap::Command) -> Result<u8, Failure> {
    let mut script = Vec::new();
    generate(args.shell, command, "bankwright", &mut script);
    screen::print(&String::from_utf8_lossy(&script))?;
    Ok(DONE)
}
