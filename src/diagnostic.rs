//! What is wrong with an input, for people: file, line, caret, what was expected, how to mend it.

use std::ops::Range;
use std::sync::Arc;

/// A text that faults can point into.
#[derive(Debug, PartialEq, Eq)]
pub struct SourceText {
    /// Name as the user gave it.
    pub name: String,
    pub text: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity {
    /// Nothing runs.
    Error,
    /// Unusual, but possible.
    Warning,
}

/// One fault at one place.
#[derive(Clone, Debug)]
pub struct Diagnostic {
    pub severity: Severity,
    /// One line, lower-case, with the value.
    pub message: String,
    pub source: Arc<SourceText>,
    /// Bytes of `source.text` that the caret underlines.
    pub span: Range<usize>,
    /// What stands below the caret: what was expected.
    pub label: String,
    /// How to mend it.
    pub help: Option<String>,
}
