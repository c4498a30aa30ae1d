//! The text of a scenario or parts file: read, and refused where it is not text or has another format.

use crate::bounds;
use crate::diagnostic::{Diagnostic, Fault, Severity, SourceText};
use crate::intake;
use crate::scenario::document::Findings;
use std::path::Path;
use std::sync::Arc;

/// The format of scenario files that this program reads.
const FORMAT: u64 = 1;

/// Reads a file that is called `name` in messages.
///
/// # Errors
/// It cannot be read, is too large, or is no text in UTF-8.
pub fn read(name: &str, path: &Path) -> Result<String, Diagnostic> {
    let read = intake::open(path).and_then(|file| intake::text_up_to(bounds::SCENARIO_BYTES, file));
    let bytes = read.map_err(|why| {
        let message = format!("cannot read {name}: {why}");
        no_text(name, message, String::new(), 0, "give the path of a scenario file")
    })?;
    if bytes.len() as u64 > bounds::SCENARIO_BYTES {
        let message = format!("{name} is larger than {} MiB", bounds::SCENARIO_BYTES >> 20);
        return Err(no_text(
            name,
            message,
            String::new(),
            0,
            "a scenario is a short TOML text; loads and weather are CSV",
        ));
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        let message = format!("{name} is in UTF-16");
        return Err(no_text(name, message, String::new(), 0, "save the file as UTF-8"));
    }
    if bytes.contains(&0) {
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let at = text.find('\0').unwrap_or(0);
        let message = format!("{name} is not a text but binary");
        return Err(no_text(name, message, text, at, "a scenario is a TOML text in UTF-8"));
    }
    String::from_utf8(bytes).map_err(|fault| {
        let at = fault.utf8_error().valid_up_to();
        let text = String::from_utf8_lossy(fault.as_bytes()).into_owned();
        no_text(name, format!("{name} is not in UTF-8"), text, at, "save the file as UTF-8")
    })
}

/// Why a scenario file is not a text; without `text` there is no line to show.
fn no_text(name: &str, message: String, text: String, at: usize, help: &str) -> Diagnostic {
    let label = if text.is_empty() { "" } else { "not a character" };
    Diagnostic {
        severity: Severity::Error,
        fault: Fault::Unreadable,
        message,
        source: Arc::new(SourceText { name: name.to_owned(), text }),
        span: at..at + 1,
        label: label.to_owned(),
        help: Some(help.to_owned()),
    }
}

/// Whether the file is of this program's format; of another, no key would mean what it says.
pub fn format(table: &toml::de::DeTable<'_>, findings: &Findings) -> bool {
    let Some(value) = table.get("format") else {
        return true;
    };
    let number = value.get_ref().as_integer().filter(|n| n.as_str().parse() == Ok(FORMAT));
    if number.is_none() {
        let label = format!("this program reads `format = {FORMAT}`");
        findings.error(value.span(), "this file is of another format".into(), label, None);
    }
    number.is_some()
}
