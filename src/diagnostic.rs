//! What is wrong with an input, for people: file, line, caret, what was expected, how to mend it.
//!
//! In: faults, each with a place in a text. Out: one text for standard error. The drawing is
//! `annotate-snippets`'; it sees one line at a time, with everything in it that could steer a terminal or
//! flood it taken out.

use crate::escape;
use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

/// A text that faults can point into.
#[derive(Debug, PartialEq, Eq)]
pub struct SourceText {
    /// Name as the user gave it.
    pub name: String,
    /// All of it.
    pub text: String,
}

/// Whether a scenario can be run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity {
    /// Nothing runs.
    Error,
    /// Unusual, but possible.
    Warning,
}

/// What kind of slip it is, for machines: people read the message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// A file is not there, or is no text, or gives nothing.
    Unreadable,
    /// The text is not of its form: TOML, CSV, a weather file; or is cut off.
    Syntax,
    /// A key that no section has.
    UnknownKey,
    /// A key, section or column that is due is not there.
    Missing,
    /// A number where a text is due, a table where a list is due, a row of another length.
    WrongType,
    /// Not a number with a unit of the kind that is due, or a time, or a size.
    Quantity,
    /// A word that is none of those that may stand here.
    UnknownWord,
    /// What is due, and not possible.
    OutOfRange,
    /// A name, key, column or moment a second time.
    Duplicate,
    /// A name of something that is not defined.
    NotFound,
    /// Possible by itself, and not with what else is given.
    Conflict,
    /// More than there may be.
    TooMuch,
    /// A cell of a CSV that is not what its column wants.
    Cell,
}

/// One fault at one place.
#[derive(Clone, Debug)]
pub struct Diagnostic {
    /// Whether anything can be run.
    pub severity: Severity,
    /// What kind of slip it is.
    pub fault: Fault,
    /// One line, lower-case, with the value.
    pub message: String,
    /// The text that it is in.
    pub source: Arc<SourceText>,
    /// Bytes of `source.text` that the caret underlines.
    pub span: Range<usize>,
    /// What stands below the caret: what was expected. Empty, with an empty source, where there is
    /// no line to show.
    pub label: String,
    /// How to mend it.
    pub help: Option<String>,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Severity::Error => "error",
            Severity::Warning => "warning",
        })
    }
}

impl Diagnostic {
    /// An error of what a text lacks, shown at its end.
    pub fn at_end(source: &Arc<SourceText>, fault: Fault, message: String, label: String, help: String) -> Diagnostic {
        let (end, source) = (source.text.trim_end().len(), Arc::clone(source));
        Diagnostic { severity: Severity::Error, fault, message, source, span: end..end, label, help: Some(help) }
    }

    /// Line and column of the caret, both from 1; columns count characters.
    pub fn place(&self) -> (usize, usize) {
        let excerpt = Excerpt::of(self);
        (excerpt.line + 1, excerpt.column + 1)
    }

    fn drawn(&self, renderer: &Renderer) -> String {
        let level = match self.severity {
            Severity::Error => Level::ERROR,
            Severity::Warning => Level::WARNING,
        };
        let mut report = Group::with_title(level.primary_title(escape::line(&self.message)));
        // A file that could not be read has no line to show.
        if !(self.source.text.is_empty() && self.label.is_empty()) {
            let Excerpt { line, text, caret, .. } = Excerpt::of(self);
            let label = Some(escape::line(&self.label)).filter(|l| !l.is_empty());
            let caret = AnnotationKind::Primary.span(caret).label(label);
            let source = Snippet::source(text).path(escape::line(&self.source.name)).line_start(line + 1);
            report = report.element(source.annotation(caret));
        }
        let help = self.help.as_ref().map(|help| Level::HELP.message(escape::line(help)));
        renderer.render(&[report.elements(help)])
    }
}

/// So many faults are drawn; beyond, a text is wrong as a whole.
const MOST_DRAWN: usize = 200;

/// All faults as text, in the order given, with a count on the last line.
pub fn render(diagnostics: &[Diagnostic], colour: bool) -> String {
    // Wider than any line: `Excerpt` has cut it.
    const WIDE: usize = 10_000;
    let plain_or_styled = if colour { Renderer::styled() } else { Renderer::plain() };
    let renderer = plain_or_styled.decor_style(DecorStyle::Unicode).hyperlink(false).term_width(WIDE);
    let drawn = diagnostics.iter().take(MOST_DRAWN).map(|d| d.drawn(&renderer) + "\n\n");
    let mut text: String = drawn.collect();
    if diagnostics.len() > MOST_DRAWN {
        text.push_str(&format!("… and {} more\n", diagnostics.len() - MOST_DRAWN));
    }
    text.push_str(&count(diagnostics));
    text.push('\n');
    text
}

fn count(diagnostics: &[Diagnostic]) -> String {
    let of = |severity: Severity| {
        let n = diagnostics.iter().filter(|d| d.severity == severity).count();
        (n > 0).then(|| format!("{n} {severity}{}", if n == 1 { "" } else { "s" }))
    };
    let parts: Vec<String> = [of(Severity::Error), of(Severity::Warning)].into_iter().flatten().collect();
    if parts.is_empty() { "no fault".to_owned() } else { parts.join(" and ") }
}

/// A user's text for a message: one line, not longer than sixty characters, nothing invisible.
pub fn shortened(text: &str) -> String {
    const LONGEST: usize = 60;
    let short: String = text.chars().take(LONGEST).collect();
    let end = if short.len() < text.len() { "…" } else { "" };
    escape::line(&short) + end
}

/// The line that a fault points into, as it is drawn.
struct Excerpt {
    /// From 0.
    line: usize,
    /// Characters before the caret, from 0.
    column: usize,
    text: String,
    /// Bytes of `text` under the caret.
    caret: Range<usize>,
}

impl Excerpt {
    fn of(diagnostic: &Diagnostic) -> Excerpt {
        let text = diagnostic.source.text.as_str();
        let start = boundary(text, diagnostic.span.start);
        let end = boundary(text, diagnostic.span.end.max(start));
        let (before, after) = text.split_at(start);
        let line = before.bytes().filter(|b| *b == b'\n').count();
        let left = before.rsplit('\n').next().unwrap_or("");
        let right = after.split('\n').next().unwrap_or("").trim_end_matches('\r');
        let column = left.chars().count();
        let marked: String = right.chars().take(text[start..end].chars().count()).collect();
        let rest = &right[marked.len()..];
        Excerpt::drawn(line, column, left, &marked, rest)
    }

    /// Cuts what is far from the caret, so that a line of any length fits a screen.
    fn drawn(line: usize, column: usize, left: &str, marked: &str, rest: &str) -> Excerpt {
        const LEFT: usize = 90;
        const MARKED: usize = 120;
        const REST: usize = 60;
        let skip = left.chars().count().saturating_sub(LEFT);
        // Blanks in place of what is cut off on the left: the drawing counts the caret's column by them, and leaves them out.
        let mut text = " ".repeat(skip) + &harmless(left.chars().skip(skip));
        let from = text.len();
        text.push_str(&harmless(marked.chars().take(MARKED)));
        let caret = from..text.len();
        text.push_str(&harmless(rest.chars().take(REST)));
        // The drawing leaves out a caret beyond the last character.
        if caret.is_empty() && caret.end == text.len() {
            text.push(' ');
        }
        Excerpt { line, column, text, caret }
    }
}

/// One character for each, so that the caret stays under what it marks.
fn harmless(chars: impl Iterator<Item = char>) -> String {
    chars.map(|c| if c != '\t' && escape::is_hidden(c) { '\u{fffd}' } else { c }).collect()
}

/// The nearest place at or before `at` where `text` may be cut.
fn boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn fault(text: &str, span: Range<usize>) -> Diagnostic {
        Diagnostic {
            severity: Severity::Error,
            fault: Fault::OutOfRange,
            message: "a fault".into(),
            source: Arc::new(SourceText { name: "bank.toml".into(), text: text.into() }),
            span,
            label: "here".into(),
            help: None,
        }
    }

    #[test]
    fn columns_count_characters() {
        let text = "a = 1\nr = \"13 mΩ\" # Ω\r\n";
        let at = text.find('#').unwrap();
        assert_eq!(fault(text, at..at + 1).place(), (2, 13));
        assert!(render(&[fault(text, at..at + 1)], false).contains("bank.toml:2:13\n"));
    }

    #[test]
    fn a_line_of_any_length_fits_a_screen() {
        let text = format!("{}!{}", "x".repeat(100_000), "y".repeat(100_000));
        let shown = render(&[fault(&text, 100_000..100_001)], false);
        assert!(shown.contains("bank.toml:1:100001") && shown.len() < 2000, "{shown}");
    }

    #[test]
    fn nothing_in_a_line_steers_the_terminal() {
        let shown = render(&[fault("a\u{1b}[2Jb\u{202e}c\u{9b}", 0..4)], false);
        assert!(!shown.contains(['\u{1b}', '\u{202e}', '\u{9b}']), "{shown:?}");
        assert_eq!(shortened("a\u{1b}Ω"), "a\\u{1b}Ω");
    }

    #[test]
    fn colour_only_where_asked_for() {
        assert!(render(&[fault("a", 0..1)], true).contains('\u{1b}'));
        assert!(!render(&[fault("a", 0..1)], false).contains('\u{1b}'));
    }

    /// A document of nothing has no line to underline.
    #[test]
    fn an_empty_document_is_shown() {
        assert!(render(&[fault("", 0..0)], false).ends_with("1 error\n"));
    }

    proptest! {
        #[test]
        fn no_text_and_no_span_make_it_panic(text in any::<String>(), a in 0usize..80, b in 0usize..80) {
            let shown = render(&[fault(&text, a..b)], false);
            prop_assert!(shown.ends_with("1 error\n"));
        }
    }
}
