//! The input side: what a scenario says becomes numbers, and what is wrong with it is said at once.
//!
//! Values of tables are checked against their sources in `scenario::tables`.

mod any;
mod failing;
mod files;
mod fitted;
mod insulated;
mod layouts;
mod library;
mod limits;
mod names;
mod quantities;
mod shown;
mod sound;
mod together;
mod traps;
mod unequal_soc;

use bankwright::diagnostic::{Diagnostic, Severity, render};
use bankwright::scenario::check::{Checked, parse};
use std::path::Path;

/// The least that is a scenario; values invented.
const SMALL: &str = include_str!("input/small.toml");
/// Every section and every key, or nearly; values invented.
const WHOLE: &str = include_str!("input/whole.toml");

/// A layout with another rating of its cable.
const LAYOUT_OF_CABLE: &str = "[[layout]]\nname = \"other\"\n[layout.cable.link]\nrating = \"150 A\"\n";

fn judge(text: &str) -> Result<Checked, Vec<Diagnostic>> {
    parse(text, "bank.toml", Path::new("/nowhere"))
}

fn good(text: &str) -> Checked {
    judge(text).unwrap_or_else(|faults| panic!("{}", render(&faults, false)))
}

fn faults(text: &str) -> Vec<Diagnostic> {
    judge(text).expect_err("a fault")
}

/// The text with one piece replaced; the piece must be there, once.
fn with(text: &str, piece: &str, other: &str) -> String {
    assert_eq!(text.matches(piece).count(), 1, "{piece}");
    text.replacen(piece, other, 1)
}

/// The text with a piece at its end.
fn and(text: &str, more: &str) -> String {
    format!("{text}\n{more}\n")
}

fn line_of(text: &str, piece: &str) -> usize {
    let at = text.lines().position(|line| line.contains(piece));
    at.unwrap_or_else(|| panic!("no {piece:?}")) + 1
}

/// Exactly one error, at the first line that holds `at`, whose drawing holds every fragment.
fn refused(text: &str, at: &str, fragments: &[&str]) {
    let found = faults(text);
    let shown = render(&found, false);
    let errors: Vec<_> = found.iter().filter(|d| d.severity == Severity::Error).collect();
    assert_eq!(errors.len(), 1, "{shown}");
    assert_eq!(errors[0].place().0, line_of(text, at), "{shown}");
    for fragment in fragments {
        assert!(shown.contains(fragment), "no {fragment:?} in\n{shown}");
    }
}
