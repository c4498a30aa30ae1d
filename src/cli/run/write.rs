//! Fills the results folder of a finished run.
//!
//! `results.json` is written last but for the clearing of shards: a folder that has it is whole.

use super::super::{Failure, to_json};
use super::store::{MANIFEST, Store};
use crate::engine::record::Record;
use crate::output::folder::RESULTS;
use crate::output::page::{Figures, PageInput, Provenance, page};
use crate::output::{chart, table};
use crate::scenario::check::Checked;
use crate::summary::Results;
use crate::trials::{Campaign, replay};
use serde::Serialize;
use std::time::{SystemTime, UNIX_EPOCH};

/// The page that a person opens.
pub const PAGE: &str = "overview.html";

/// What is written, and where it came from.
pub struct Written<'a> {
    pub checked: &'a Checked,
    pub campaign: &'a Campaign,
    pub results: &'a Results,
    pub store: &'a Store,
    pub scenario_file: &'a str,
    pub started: SystemTime,
    pub threads: usize,
}

/// What differs from run to run.
#[derive(Serialize)]
struct Manifest<'a> {
    identity: &'a crate::trials::shard::Identity,
    scenario_file: &'a str,
    files: &'a [(String, String)],
    threads: usize,
    system: String,
    started_unix_s: u64,
    finished_unix_s: u64,
}

pub fn write(w: &Written<'_>) -> Result<(), Failure> {
    let machine = |e: &dyn ToString| Failure::Machine(e.to_string());
    let record = shown_night(w)?;
    let overload = chart::overload(w.results).map_err(|e| machine(&e))?;
    let ride_through = chart::ride_through(w.results).map_err(|e| machine(&e))?;
    let night = chart::night(&record).map_err(|e| machine(&e))?;
    let sources = || w.checked.scenario.sources();
    let files: Vec<(String, String)> = sources().flat_map(|s| s.files.iter().cloned()).collect();
    let gaps: Vec<String> = sources().flat_map(|s| s.gaps.iter().cloned()).collect();
    let html = page(&PageInput {
        results: w.results,
        figures: Figures { overload: &overload, ride_through: &ride_through, night: &night },
        record: &record,
        provenance: Provenance {
            version: concat!("bankwright ", env!("CARGO_PKG_VERSION")),
            scenario_file: w.scenario_file,
            digest: &w.checked.digest,
            files: &files,
        },
        gaps: &gaps,
        replay: &format!("bankwright replay {} --seed {} --trial", w.scenario_file, w.results.seed),
    });
    for (name, text) in table::all(w.results) {
        w.store.write(name, text.as_bytes())?;
    }
    w.store.write("night.csv", table::record_csv(&record).as_bytes())?;
    w.store.write("overload.svg", overload.as_bytes())?;
    w.store.write("ride_through.svg", ride_through.as_bytes())?;
    w.store.write("night.svg", night.as_bytes())?;
    w.store.write(PAGE, html.as_bytes())?;
    w.store.write(MANIFEST, to_json(&manifest(w, &files))?.as_bytes())?;
    w.store.write(RESULTS, to_json(w.results)?.as_bytes())?;
    w.store.remove_shards()
}

/// The worst night of the run, or its first where none was bad.
fn shown_night(w: &Written<'_>) -> Result<Record, Failure> {
    let trial = w.results.worst.first().map_or(0, |night| night.trial);
    let (record, _) = replay::replay(w.campaign, trial).map_err(|e| Failure::Machine(e.to_string()))?;
    Ok(record)
}

fn manifest<'a>(w: &'a Written<'_>, files: &'a [(String, String)]) -> Manifest<'a> {
    let unix = |t: SystemTime| t.duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    Manifest {
        identity: &w.store.identity,
        scenario_file: w.scenario_file,
        files,
        threads: w.threads,
        system: format!("{} {}", std::env::consts::OS, std::env::consts::ARCH),
        started_unix_s: unix(w.started),
        finished_unix_s: unix(SystemTime::now()),
    }
}
