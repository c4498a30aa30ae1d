//! The results folder as commands use it: where it is, what it says, and how its refusals end a command.

use super::arguments::{Common, StudyArguments};
use super::failure::Failure;
use super::screen::tell;
use crate::output::kit::folder::{Folder, Mode, Writer};
use std::path::{Path, PathBuf};

/// `--out`, or `output/` with the scenario's name and an ending.
pub fn path(out: Option<&PathBuf>, scenario: &Path, ending: &str) -> PathBuf {
    out.cloned().unwrap_or_else(|| {
        let mut stem = scenario.file_stem().unwrap_or_default().to_os_string();
        stem.push(ending);
        PathBuf::from("output").join(stem)
    })
}

/// Opens the folder of a study of several layouts before the work, `output/` with the scenario's name and that of the study
/// where no other is named.
pub fn of_study(of: &'static str, study: &StudyArguments, names: &[&str], common: &Common) -> Result<Folder, Failure> {
    let dir = path(study.out.as_ref(), &common.scenario, &format!("-{of}"));
    open(&dir, Writer::new(of), study.force, names, common)
}

/// Opens a folder before the work whose files it takes.
pub fn open(dir: &Path, writer: Writer, force: bool, names: &[&str], common: &Common) -> Result<Folder, Failure> {
    let mode = if force { Mode::Force } else { Mode::Fresh };
    let folder = Folder::open(dir, writer, mode, names)?;
    notes(&folder.notes(), common.quiet);
    Ok(folder)
}

/// Puts all files in their places.
pub fn put(folder: &Folder, files: &[(&str, Vec<u8>)], common: &Common) -> Result<(), Failure> {
    notes(&folder.put(files, None)?, common.quiet);
    Ok(())
}

/// Tells what the folder has to say.
pub fn notes(texts: &[String], quiet: bool) {
    for text in texts.iter().filter(|_| !quiet) {
        tell(&format!("warning: {text}\n"));
    }
}
