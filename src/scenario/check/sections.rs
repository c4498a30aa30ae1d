//! The sections of a scenario: which there are, and how each is found.

use crate::diagnostic::Fault;
use crate::scenario::document::{Section, Value};

/// The names of all sections, and the keys that stand above the sections.
pub const KEYS: &[&str] = &[
    "format",
    "title",
    "parts",
    "module",
    "cable",
    "device",
    "stack",
    "bar",
    "inverter",
    "controller",
    "load",
    "surge",
    "climate",
    "room",
    "floor",
    "faults",
    "spread",
    "trials",
    "targets",
    "prices",
    "communication",
    "earthing",
    "layout",
    "layouts",
];

/// A section of the file, called by its header in messages.
pub fn top<'a>(root: &Section<'a>, key: &'static str) -> Option<Value<'a>> {
    let header = if ["stack", "surge", "layout"].contains(&key) { format!("[[{key}]]") } else { format!("[{key}]") };
    root.get(key).map(|value| value.called(header))
}

/// `Some(None)` where the section is left out, `None` where it is at fault.
pub fn optional<'a, T>(
    root: &Section<'a>,
    key: &'static str,
    read: impl FnOnce(&Value<'a>) -> Option<T>,
) -> Option<Option<T>> {
    match top(root, key) {
        Some(value) => read(&value).map(Some),
        None => Some(None),
    }
}

/// A fault where a section is missing.
pub fn need(root: &Section<'_>, key: &'static str, header: &str) {
    if !root.has(key) {
        let message = format!("the scenario has no {header}");
        let label = format!("a section {header} is required");
        root.findings.error_of(Fault::Missing, root.span.clone(), message, label, None);
    }
}
