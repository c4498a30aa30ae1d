//! Fills the results folder of a finished run.
//!
//! All files are on disk before the first takes its place, `results.json` last; then the shards go.

use super::super::origin::Origin;
use super::super::{Failure, document, to_json};
use super::store::{MANIFEST, Store};
use crate::engine::record::Record;
use crate::engine::result::TrialError;
use crate::escape;
use crate::output::folder::{PAGE, RESULTS};
use crate::output::page::{Figures, PageInput, page};
use crate::output::{chart, table};
use crate::scenario::check::Checked;
use crate::summary::Results;
use crate::trials::{Campaign, replay};
use serde::Serialize;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::{SystemTime, UNIX_EPOCH};

/// Every file of a finished run, in the order in which they take their places.
pub const FILES: [&str; 16] = [
    "elements.csv",
    "chains.csv",
    "cascades.csv",
    "ride_through.csv",
    "dropouts.csv",
    "temperatures.csv",
    "devices.csv",
    "years.csv",
    "worst_nights.csv",
    NIGHT,
    OVERLOAD_FIGURE,
    RIDE_THROUGH_FIGURE,
    CASCADE_FIGURE,
    NIGHT_FIGURE,
    PAGE,
    MANIFEST,
];
const NIGHT: &str = "night.csv";
const OVERLOAD_FIGURE: &str = "overload.svg";
const RIDE_THROUGH_FIGURE: &str = "ride_through.svg";
const CASCADE_FIGURE: &str = "cascade.svg";
const NIGHT_FIGURE: &str = "night.svg";

/// What is written, and where it came from.
pub struct Written<'a> {
    pub checked: &'a Checked,
    pub results: &'a Results,
    pub store: &'a Store,
    pub scenario_file: &'a Path,
    pub started: SystemTime,
    pub threads: usize,
    /// The night that is shown moment by moment.
    pub record: &'a Record,
}

/// What differs from run to run.
#[derive(Serialize)]
struct Manifest<'a> {
    identity: &'a crate::trials::shard::Identity,
    scenario_file: String,
    files: &'a [(String, String)],
    threads: usize,
    system: String,
    started_unix_s: u64,
    finished_unix_s: u64,
}

pub fn write(w: &Written<'_>) -> Result<(), Failure> {
    let machine = |e: &dyn ToString| Failure::Machine(e.to_string());
    let record = w.record;
    let overload = chart::overload(w.results).map_err(|e| machine(&e))?;
    let ride_through = chart::ride_through(w.results).map_err(|e| machine(&e))?;
    let cascade = chart::cascade(w.results).map_err(|e| machine(&e))?;
    let night = chart::night(record).map_err(|e| machine(&e))?;
    let origin = Origin::of(w.scenario_file, w.checked);
    let html = page(&PageInput {
        results: w.results,
        figures: Figures { overload: &overload, ride_through: &ride_through, cascade: &cascade, night: &night },
        record,
        provenance: origin.provenance(),
        replay: &format!("bankwright replay {} --seed {} --trial", escape::shell(w.scenario_file), w.results.seed),
    });
    let tables = table::all(w.results).into_iter().map(|(name, text)| (name, text.into_bytes()));
    let mut files_of_run: Vec<(&str, Vec<u8>)> = tables.collect();
    files_of_run.extend([
        (NIGHT, table::record_csv(record).into_bytes()),
        (OVERLOAD_FIGURE, overload.into_bytes()),
        (RIDE_THROUGH_FIGURE, ride_through.into_bytes()),
        (CASCADE_FIGURE, cascade.into_bytes()),
        (NIGHT_FIGURE, night.into_bytes()),
        (PAGE, html.into_bytes()),
        (MANIFEST, to_json(&manifest(w, &origin.files))?.into_bytes()),
        (RESULTS, document(w.results, &super::cautions(w.checked))?.into_bytes()),
    ]);
    w.store.write_all(&files_of_run)?;
    w.store.remove_shards()
}

/// The worst night of the run, or its first where none was bad; `None` if `stop` was raised.
pub fn shown_night(campaign: &Campaign, results: &Results, stop: &AtomicBool) -> Result<Option<Record>, Failure> {
    let trial = results.worst.first().map_or(0, |night| night.trial);
    match replay::replay_until(campaign, trial, stop) {
        Ok((record, _)) => Ok(Some(record)),
        Err(TrialError::GivenUp { .. }) => Ok(None),
        Err(error) => Err(Failure::Machine(error.to_string())),
    }
}

fn manifest<'a>(w: &'a Written<'_>, files: &'a [(String, String)]) -> Manifest<'a> {
    let unix = |t: SystemTime| t.duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    Manifest {
        identity: &w.store.identity,
        scenario_file: escape::path(w.scenario_file),
        files,
        threads: w.threads,
        system: format!("{} {}", std::env::consts::OS, std::env::consts::ARCH),
        started_unix_s: unix(w.started),
        finished_unix_s: unix(SystemTime::now()),
    }
}
