//! Colour of what is printed: on a terminal that wants it (no-color.org), or as `--color` says.
//!
//! In: the option, the environment, a text. Out: the text with its label or its verdicts in colour, or as it was.
//! Words and symbols say all that colour does.

use clap::{ColorChoice, ValueEnum};
use std::ffi::OsString;
use std::sync::OnceLock;

// Without comments that help would show one by one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum When {
    #[default]
    Auto,
    Always,
    Never,
}

const RED: &str = "\u{1b}[1;31m";
const YELLOW: &str = "\u{1b}[1;33m";
const GREEN: &str = "\u{1b}[1;32m";
const PLAIN: &str = "\u{1b}[0m";

static ASKED: OnceLock<When> = OnceLock::new();

/// Holds from now on; the first call counts.
pub fn ask(when: When) {
    let _ = ASKED.set(when);
}

/// What the arguments ask for, for messages about arguments that cannot be understood.
pub fn of_arguments(arguments: &[OsString]) -> ColorChoice {
    let all: Vec<&OsString> = arguments.iter().take_while(|a| *a != "--").collect();
    let asked = |word: &str| {
        all.iter().any(|a| **a == *format!("--color={word}"))
            || all.windows(2).any(|two| two[0] == "--color" && two[1] == word)
    };
    match (asked("never"), asked("always")) {
        (true, _) => ColorChoice::Never,
        (_, true) => ColorChoice::Always,
        _ => ColorChoice::Auto,
    }
}

/// Whether colour goes to an output that is a terminal or is none.
pub fn wanted(terminal: bool) -> bool {
    let set = |name: &str| std::env::var_os(name).is_some_and(|v| !v.is_empty());
    let dumb = || std::env::var_os("TERM").is_some_and(|t| t == "dumb");
    match ASKED.get().copied().unwrap_or_default() {
        When::Always => true,
        When::Never => false,
        When::Auto => terminal && !set("NO_COLOR") && !dumb(),
    }
}

const VERDICTS: [(&str, &str); 3] = [("✔ met", GREEN), ("✖ missed", RED), ("? not decided", YELLOW)];
const LABELS: [(&str, &str); 2] = [("bankwright:", RED), ("warning:", YELLOW)];

/// The verdict at the beginning of each line that has one.
pub fn verdicts(text: &str, terminal: bool) -> String {
    if wanted(terminal) {
        text.split_inclusive('\n').map(|line| begun(line, &VERDICTS)).collect()
    } else {
        text.to_owned()
    }
}

/// The word that a message begins with, where it tells what kind of message it is.
pub fn label(text: &str, terminal: bool) -> String {
    if wanted(terminal) { begun(text, &LABELS) } else { text.to_owned() }
}

/// A text with its first words in their colour.
fn begun(text: &str, words: &[(&str, &str)]) -> String {
    let found = words.iter().find_map(|(word, colour)| Some((paint(word, colour), text.strip_prefix(word)?)));
    found.map_or_else(|| text.to_owned(), |(word, rest)| word + rest)
}

fn paint(text: &str, colour: &str) -> String {
    format!("{colour}{text}{PLAIN}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verdicts_alone_are_painted_and_nothing_is_lost() {
        let text = "a bank\n✔ met          served\n✖ missed       over ✔ met\n? not decided  x\n✖ breaking\nend";
        let shown: String = text.split_inclusive('\n').map(|line| begun(line, &VERDICTS)).collect();
        assert_eq!(shown.matches(PLAIN).count(), 3);
        assert!(shown.contains(&format!("{RED}✖ missed{PLAIN}       over ✔ met\n")));
        let bare = [RED, YELLOW, GREEN, PLAIN].iter().fold(shown, |text, code| text.replace(code, ""));
        assert_eq!(bare, text);
    }

    #[test]
    fn the_arguments_say_what_is_asked_for() {
        let of = |text: &str| of_arguments(&text.split(' ').map(OsString::from).collect::<Vec<_>>());
        assert_eq!(of("check x --color never"), ColorChoice::Never);
        assert_eq!(of("--color=always check"), ColorChoice::Always);
        assert_eq!(of("check -- --color=always"), ColorChoice::Auto);
    }
}
