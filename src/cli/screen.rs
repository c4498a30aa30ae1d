//! The one place that prints: results on standard output, everything else on standard error.
//!
//! In: text in which nothing is coloured. Out: that text with what is hidden in it spelled out, and only then in colour, so
//! that nothing that a file, a path or an argument holds can steer the terminal.

use super::colour;
use super::failure::Failure;
use crate::diagnostic::{self, Diagnostic};
use crate::escape;
use crate::output::kit::cautions::Cautions;
use std::ffi::OsString;
use std::io::{IsTerminal, Write};

/// An answer with what it says in words.
#[derive(serde::Serialize)]
pub struct Told<'a, T> {
    /// Sentences.
    pub finding: Vec<String>,
    /// The answer itself.
    #[serde(flatten)]
    pub answer: &'a T,
}

/// Prints a result. A reader that has gone away is no failure.
pub fn print(text: &str) -> Result<(), Failure> {
    write(&colour::verdicts(&escape::terminal(text), on_output()))
}

/// Prints an answer: one document of JSON where that is asked for, else a text; its cautions last.
pub fn answer(
    json: bool,
    content: &impl serde::Serialize,
    cautions: &Cautions,
    text: impl FnOnce() -> String,
) -> Result<(), Failure> {
    if json { print_json(content, cautions) } else { print(&(text() + &cautions.text())) }
}

/// Prints a document as JSON, its cautions last.
pub fn print_json(content: &impl serde::Serialize, cautions: &Cautions) -> Result<(), Failure> {
    write(&(document(content, cautions)? + "\n"))
}

/// A document as JSON, numbers not rounded, its cautions last.
pub fn document(content: &impl serde::Serialize, cautions: &Cautions) -> Result<String, Failure> {
    #[derive(serde::Serialize)]
    struct Document<'a, T> {
        #[serde(flatten)]
        content: &'a T,
        cautions: &'a Cautions,
    }
    to_json(&Document { content, cautions })
}

/// The document as it is printed and written into files.
fn to_json(document: &impl serde::Serialize) -> Result<String, Failure> {
    let text = serde_json::to_string_pretty(document);
    text.map(escape::json).map_err(|e| Failure::Machine(format!("cannot write the document: {e}")))
}

fn write(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).or_else(unprinted)
}

fn unprinted(error: std::io::Error) -> Result<(), Failure> {
    if error.kind() == std::io::ErrorKind::BrokenPipe {
        return Ok(());
    }
    Err(Failure::Machine(format!("cannot write to standard output: {error}")))
}

/// Says something on standard error. Where nobody listens, there is nobody to tell so.
pub fn tell(text: &str) {
    say(&colour::label(&escape::terminal(text), on_error()));
}

/// Says what stopped a command.
pub fn tell_failure(failure: &Failure) {
    match failure {
        Failure::Input(faults) => complain(faults),
        Failure::Usage(text) | Failure::Machine(text) => tell(&format!("bankwright: {}\n", escape::line(text))),
        Failure::Interrupted(text) => tell(&format!("{text}\n")),
    }
}

/// Prints faults or warnings to standard error; the drawing spells out what is hidden, part by part.
pub fn complain(diagnostics: &[Diagnostic]) {
    say(&diagnostic::render(diagnostics, colour::wanted(on_error())));
}

fn say(text: &str) {
    let _ = std::io::stderr().lock().write_all(text.as_bytes());
}

/// Says what is wrong with arguments, or shows the help that they ask for.
///
/// The messages of the library hold arguments as they were given; it is therefore asked again with each spelled out.
pub fn refuse(error: &clap::Error, mut command: clap::Command, arguments: &[OsString]) -> Result<(), Failure> {
    let spelled = arguments.iter().map(|a| escape::line(&a.to_string_lossy()));
    match command.try_get_matches_from_mut(spelled) {
        Err(again) if again.kind() == error.kind() => match again.print() {
            Err(e) if !again.use_stderr() => unprinted(e),
            _ => Ok(()),
        },
        _ => {
            tell(&error.render().to_string());
            Ok(())
        }
    }
}

pub fn on_error() -> bool {
    std::io::stderr().is_terminal()
}

fn on_output() -> bool {
    std::io::stdout().is_terminal()
}
