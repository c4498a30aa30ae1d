//! Arguments that several commands take, and what becomes of them.

use super::failure::Failure;
use super::screen;
use crate::bounds;
use crate::scenario::check::{Checked, load};
use crate::trials::Options;
use clap::Args;
use std::path::PathBuf;

/// Exit code: done, and every target is met.
pub const DONE: u8 = 0;
/// Exit code: done, and a target is missed or not decided.
pub const TARGET_MISSED: u8 = 3;

/// What every command takes.
#[derive(Clone, Debug, Args)]
pub struct Common {
    /// The scenario file
    pub scenario: PathBuf,
    /// Print one JSON document on standard output and nothing else there
    #[arg(long)]
    pub json: bool,
    /// Say nothing but results and errors
    #[arg(long)]
    pub quiet: bool,
}

impl Common {
    /// Reads the scenario; its warnings go to standard error.
    pub fn read(&self) -> Result<Checked, Failure> {
        let checked = load(&self.scenario).map_err(Failure::Input)?;
        if !self.quiet && !checked.warnings.is_empty() {
            screen::complain(&checked.warnings);
        }
        Ok(checked)
    }
}

/// What every command that runs many nights takes.
#[derive(Debug, Args)]
pub struct NightArguments {
    /// Seed of every random draw [default: the scenario's, or 1]
    #[arg(long)]
    pub seed: Option<u64>,
    /// Threads [default: all that the machine offers]
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=bounds::THREADS as i64))]
    pub threads: Option<u16>,
}

impl NightArguments {
    /// These arguments with this number of trials.
    pub fn options(&self, trials: Option<u64>) -> Options {
        Options { trials, seed: self.seed, threads: self.threads.map(usize::from) }
    }
}

/// What a study of several layouts takes beside a scenario.
#[derive(Debug, Args)]
pub struct StudyArguments {
    /// How many nights each layout goes through [default: the scenario's]
    #[arg(long, value_parser = clap::value_parser!(u64).range(1..=bounds::TRIALS))]
    trials: Option<u64>,
    #[command(flatten)]
    nights: NightArguments,
    /// Folder of the results [default: output/<name of the scenario>-<command>]
    #[arg(long)]
    pub out: Option<PathBuf>,
    /// Write over earlier results
    #[arg(long)]
    pub force: bool,
}

impl StudyArguments {
    /// Those that change the nights.
    pub fn options(&self) -> Options {
        self.nights.options(self.trials)
    }
}

/// A current or a power.
pub fn finite(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if x.is_finite() && x.abs() < 1e9 => Ok(x),
        _ => Err("a number between -1e9 and 1e9 is wanted, without a unit".to_string()),
    }
}

/// A state of charge.
pub fn share(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if (0.0..=1.0).contains(&x) => Ok(x),
        _ => Err("a number from 0 to 1 is wanted, as 0.9 for 90 %".to_string()),
    }
}

/// A temperature [°C].
pub fn celsius(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if (-100.0..=150.0).contains(&x) => Ok(x),
        _ => Err("a temperature from -100 to 150 °C is wanted, without a unit".to_string()),
    }
}
