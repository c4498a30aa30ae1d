//! The folder of a study that runs as a whole: its files are written together at the end, or not at all.

use super::Failure;
use crate::escape;
use crate::output::folder::{FolderError, Mode, RESULTS, ResultsFolder};
use std::path::{Path, PathBuf};

/// `--out`, or `output/` with the scenario's name and the study's.
pub fn of(out: Option<&PathBuf>, scenario: &Path, study: &str) -> PathBuf {
    out.cloned().unwrap_or_else(|| {
        let stem = scenario.file_stem().unwrap_or_default().to_string_lossy();
        PathBuf::from("output").join(format!("{stem}-{study}"))
    })
}

/// Refuses, before anything runs, a folder whose files would be written over without being asked to.
pub fn refuse_taken(dir: &Path, force: bool, files: &[&str]) -> Result<(), Failure> {
    if force {
        return Ok(());
    }
    if dir.join(RESULTS).exists() {
        return Err(Failure::Usage(format!(
            "{} holds results already; write over them by --force, or name another folder with --out",
            escape::path(dir)
        )));
    }
    match files.iter().map(|name| dir.join(name)).find(|path| path.exists()) {
        None => Ok(()),
        Some(path) => Err(Failure::Usage(format!(
            "{} is there already and is not of a study; name another folder with --out, or write over it by --force",
            escape::path(&path)
        ))),
    }
}

/// Puts all files in place.
pub fn write(dir: &Path, files: &[(&str, Vec<u8>)]) -> Result<(), Failure> {
    let machine = |error: FolderError| Failure::Machine(error.to_string());
    let folder = ResultsFolder::create(dir, Mode::Force).map_err(machine)?;
    let _lock = folder.lock().map_err(machine)?;
    folder.remove_unfinished().map_err(machine)?;
    folder.write_all(files).map_err(machine)
}
