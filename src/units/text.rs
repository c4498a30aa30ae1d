//! Numbers and lists of names as text for people.

use std::fmt::Write;

/// `a`, `a or b`, `a, b or c`.
pub fn in_words(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}

/// A number to twelve significant digits, without an exponent where that stays short.
pub fn plain(number: f64) -> String {
    let rounded: f64 = format!("{number:.11e}").parse().unwrap_or(number);
    let size = rounded.abs();
    let mut text = String::new();
    let written = if size != 0.0 && !(1e-4..1e7).contains(&size) {
        write!(text, "{rounded:e}")
    } else {
        write!(text, "{rounded}")
    };
    debug_assert!(written.is_ok());
    text
}
