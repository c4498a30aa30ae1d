//! Every file of a finished run, from its results; also those that have been lost since.

use crate::cli::prelude::*;
use crate::engine::record::Record;
use crate::escape;
use crate::output::kit::folder::{Finished, PAGE, RESULTS, RunDetails, RunFolder};
use crate::output::night;
use crate::output::run::page::{Figures, PageInput, page};
use crate::output::run::{chart, tables};
use crate::progress::Progress;
use crate::scenario::check::Checked;
use crate::simulate::Simulation;
use crate::summary::Results;
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

const CAUTION: Caution = Caution::of_bank(
    "Computed nights of the bank as the scenario describes it, not an approval: local codes and the equipment's \
     manuals govern.",
);

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
    RESULTS,
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
    pub scenario_file: &'a Path,
    /// The night that is shown moment by moment.
    pub record: &'a Record,
}

/// Name and bytes of every file.
pub fn files(w: &Written<'_>) -> Result<Vec<(&'static str, Vec<u8>)>, Failure> {
    let record = w.record;
    let overload = chart::overload(w.results)?;
    let ride_through = chart::ride_through(w.results)?;
    let cascade = chart::cascade(w.results)?;
    let night = night::chart::night(record)?;
    let origin = Origin::of(w.scenario_file, w.checked);
    let html = page(&PageInput {
        results: w.results,
        figures: Figures { overload: &overload, ride_through: &ride_through, cascade: &cascade, night: &night },
        record,
        provenance: origin.provenance(),
        replay: &format!("bankwright replay {} --seed {} --trial", escape::shell(w.scenario_file), w.results.seed),
    });
    let tables = tables::all(w.results).into_iter().map(|(name, text)| (name, text.into_bytes()));
    let mut files: Vec<(&str, Vec<u8>)> = tables.collect();
    files.extend([
        (NIGHT, night::table::record_csv(record).into_bytes()),
        (OVERLOAD_FIGURE, overload.into_bytes()),
        (RIDE_THROUGH_FIGURE, ride_through.into_bytes()),
        (CASCADE_FIGURE, cascade.into_bytes()),
        (NIGHT_FIGURE, night.into_bytes()),
        (PAGE, html.into_bytes()),
        (RESULTS, screen::document(w.results, &cautions(w.checked))?.into_bytes()),
    ]);
    Ok(files)
}

/// What every document of a run says of itself.
pub fn cautions(checked: &Checked) -> Cautions {
    Cautions::new(CAUTION, checked.scenario.from_memory())
}

/// What differs from run to run.
pub fn details(
    (checked, scenario_file): (&Checked, &Path),
    store: &RunFolder,
    started: SystemTime,
    threads: usize,
) -> RunDetails {
    let unix = |t: SystemTime| t.duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    RunDetails {
        identity: store.identity.clone(),
        scenario_file: scenario_file.to_string_lossy().into_owned(),
        inputs: Origin::of(scenario_file, checked).files,
        threads,
        system: format!("{} {}", std::env::consts::OS, std::env::consts::ARCH),
        started_unix_s: unix(started),
        finished_unix_s: unix(SystemTime::now()),
    }
}

/// The results of a run that was finished before. Files that are gone since are made again; files that somebody has
/// changed are named and left alone.
pub fn mended(
    common: &Common,
    checked: &Checked,
    simulation: &Simulation,
    (store, found): (&RunFolder, &Finished),
) -> Result<Results, Failure> {
    let results = found.results.clone();
    let mut lost = Vec::new();
    if !found.missing.is_empty() {
        let record = simulation.shown_night(&results, &Progress::none())?;
        // As it was named then, since the page names it.
        let scenario_file = Path::new(&found.details.scenario_file);
        lost = store.mend(found, &files(&Written { checked, results: &results, record: &record, scenario_file })?)?;
    }
    folder::notes(&store.tidy()?, common.quiet);
    let dir = escape::path(store.dir());
    let again: Vec<&str> = found.missing.iter().filter(|name| !lost.contains(name)).map(String::as_str).collect();
    if !again.is_empty() && !common.quiet {
        screen::tell(&format!("in {dir}, missing and made again to the byte: {}\n", escape::line(&again.join(", "))));
    }
    // Also where only results and errors are asked for: the folder is not what it was.
    for (names, what) in [
        (&lost, "missing, and not to be made again as it was"),
        (&found.changed, "changed since written, and left alone"),
    ] {
        if !names.is_empty() {
            screen::tell(&format!(
                "in {dir}, {what}: {}; --force makes all anew, but for what is no longer a plain file\n",
                escape::line(&names.join(", "))
            ));
        }
    }
    Ok(results)
}
