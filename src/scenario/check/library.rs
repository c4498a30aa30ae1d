//! A file of parts that many scenarios share: `parts = "FILE"`.
//!
//! In: the scenario's table, its folder. Out: the same table with the types of the file among its own. The findings
//! keep the file's text after the scenario's, so that each fault is reported in the file that has it.

use super::text::{format, read};
use crate::diagnostic::{Fault, SourceText, shortened};
use crate::escape;
use crate::scenario::document::{self, Findings, Section, overlay};
use std::path::Path;
use std::sync::Arc;
use toml::de::{DeTable, DeValue};

const LIBRARY_KEYS: &[&str] = &["format", "title", "module", "cable", "device", "prices"];

/// The file and where it begins among all texts.
pub struct Library {
    pub text: Arc<SourceText>,
    begins: usize,
}

/// The file that a scenario names; `Some(None)` where it names none, `None` where it cannot be had.
pub fn find(table: &DeTable<'_>, folder: &Path, findings: &mut Findings) -> Option<Option<Library>> {
    let Some(value) = table.get("parts") else { return Some(None) };
    let Some(name) = value.get_ref().as_str().filter(|name| !name.trim().is_empty()) else {
        let label = "expected the path of a parts file, in quotes".to_owned();
        findings.error_of(Fault::WrongType, value.span(), "`parts` is no path".into(), label, None);
        return None;
    };
    let path = folder.join(name);
    let same = |text: &Arc<SourceText>| Some(Path::new(&text.name).canonicalize().ok()? == path.canonicalize().ok()?);
    if findings.texts().first().and_then(same) == Some(true) {
        let help = "types that only this scenario has need no parts file: leave `parts` out".to_owned();
        let label = "the file that it stands in".to_owned();
        findings.error_of(
            Fault::Conflict,
            value.span(),
            "`parts` names this scenario itself".into(),
            label,
            Some(help),
        );
        return None;
    }
    let shown = escape::path(&path);
    match read(&shown, &path) {
        Ok(text) => {
            let text = text.strip_prefix('\u{feff}').unwrap_or(&text).replace("\r\n", "\n");
            let text = Arc::new(SourceText { name: shown, text });
            let begins = findings.behind(text.clone());
            Some(Some(Library { text, begins }))
        }
        Err(fault) => {
            let help = "paths are relative to the scenario file".to_owned();
            findings.error_of(Fault::Unreadable, value.span(), fault.message, "this file is needed".into(), Some(help));
            None
        }
    }
}

/// Puts the types of the library among those of the scenario; `None` where it is not a library.
pub fn join<'a>(table: &mut DeTable<'a>, library: &'a Library, findings: &Findings) -> Option<()> {
    let parts = document::parse_at(&library.text.text, library.begins, findings)?;
    if !format(&parts, findings) {
        return None;
    }
    // Opened for its unknown keys.
    Section::open("the parts file".into(), library.begins..library.begins, &parts, LIBRARY_KEYS, findings);
    for kind in ["module", "cable", "device"] {
        if let Some(types) = parts.get(kind) {
            types_of(table, kind, types, findings);
        }
    }
    if let Some(prices) = parts.get("prices") {
        match table.get("prices") {
            Some(own) => {
                twice(findings, own.span(), "[prices]", "prices have one currency: leave it out of one of the two")
            }
            None => overlay::set(table, "prices", prices.clone()),
        }
    }
    Some(())
}

fn types_of<'a>(table: &mut DeTable<'a>, kind: &'static str, types: &overlay::Placed<'a>, findings: &Findings) {
    let (Some(shared), true) = (types.get_ref().as_table(), table.contains_key(kind)) else {
        // What is no table is told where types are read.
        return overlay::set(table, kind, types.clone());
    };
    let Some(DeValue::Table(own)) = table.get_mut(kind).map(|v| v.get_mut()) else { return };
    for (name, value) in shared {
        match own.get_key_value(name.get_ref().as_ref()) {
            Some((there, _)) => {
                let what = format!("[{kind}.{}]", shortened(name.get_ref()));
                twice(findings, there.span(), &what, "give it another name, or leave it out here");
            }
            None => drop(own.insert(name.clone(), value.clone())),
        }
    }
}

fn twice(findings: &Findings, span: std::ops::Range<usize>, what: &str, label: &str) {
    findings.error_of(Fault::Duplicate, span, format!("{what} is in the parts file too"), label.to_owned(), None);
}
