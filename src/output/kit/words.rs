//! Words that all studies share.

use crate::summary::Verdict;

/// A verdict as a symbol and a word, so that neither colour nor shape stands alone.
pub fn verdict_mark(verdict: Verdict) -> (&'static str, &'static str) {
    match verdict {
        Verdict::Met => ("✔", "met"),
        Verdict::Missed => ("✖", "missed"),
        Verdict::NotDecided => ("?", "not decided"),
    }
}

/// What is told where chance has no part: no figure has an interval then.
pub const EXACT: &str = "Nothing in this scenario is random: every night is the same, and each figure is exact.";

/// The text with a capital letter first, as a sentence begins.
pub fn capital(text: &str) -> String {
    let mut rest = text.chars();
    rest.next().map_or_else(String::new, |first| first.to_uppercase().chain(rest).collect())
}

/// `A1`, `A1 and B2`, `A1, A2 and B2`
pub fn listed(names: &[String]) -> String {
    match names {
        [] => "none".into(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}

/// The style class of a verdict.
pub fn class(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Met => "met",
        Verdict::Missed => "missed",
        Verdict::NotDecided => "open",
    }
}
