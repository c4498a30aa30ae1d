//! The scenario as written: values with their places, read kind by kind.
//!
//! In: the table that the TOML parser made of the text. Out: each value that was asked for, or a
//! fault in `Findings`. A section names its keys when it is opened, so that every key that it does
//! not know is reported at once; nothing stops at the first fault. What values mean together is
//! judged by `check`.

pub mod graft;
mod limits;
mod section;
mod value;

pub use limits::Limits;
pub use section::Section;
pub use value::Value;

use crate::diagnostic::{Diagnostic, Severity, SourceText};
use std::cell::RefCell;
use std::ops::Range;
use std::sync::Arc;
use toml::de::DeTable;

/// A value and the bytes of the text that hold it.
#[derive(Clone, Debug, PartialEq)]
pub struct Written<T> {
    pub value: T,
    pub span: Range<usize>,
}

/// Every fault found so far in one text, and in those that stand behind it.
pub struct Findings {
    /// Each text with the place at which it begins among all.
    texts: Vec<(usize, Arc<SourceText>)>,
    list: RefCell<Vec<Diagnostic>>,
}

impl Findings {
    pub fn new(source: Arc<SourceText>) -> Findings {
        Findings { texts: vec![(0, source)], list: RefCell::default() }
    }

    /// Takes another text behind those that are there: the place at which it begins.
    pub fn behind(&mut self, source: Arc<SourceText>) -> usize {
        // A place at the very end of a text is still in it.
        let begins = self.texts.last().map_or(0, |(at, text)| at + text.text.len() + 1);
        self.texts.push((begins, source));
        begins
    }

    /// Of the same texts, and empty.
    pub fn another(&self) -> Findings {
        Findings { texts: self.texts.clone(), list: RefCell::default() }
    }

    /// Takes over what is not yet known, each with words before it.
    pub fn adopt(&self, others: Findings, before: &str) {
        let mut list = self.list.borrow_mut();
        for mut other in others.list.into_inner() {
            let same = |d: &Diagnostic| Arc::ptr_eq(&d.source, &other.source) && d.span == other.span;
            if !list.iter().any(|d| same(d) && d.label == other.label) {
                other.message = format!("{before}{}", other.message);
                list.push(other);
            }
        }
    }

    pub fn error(&self, span: Range<usize>, message: String, label: String, help: Option<String>) {
        self.add(Severity::Error, span, message, label, help);
    }

    /// Possible, but not what is usual; `why` says what is.
    pub fn unusual(&self, span: Range<usize>, message: String, why: &str) {
        self.add(Severity::Warning, span, message, why.to_owned(), None);
    }

    /// Possible, and not likely what was wanted; `why` says what comes of it, `help` what to do.
    pub fn trap(&self, span: Range<usize>, message: String, why: String, help: String) {
        self.add(Severity::Warning, span, message, why, Some(help));
    }

    /// Faults of another text, as they are.
    pub fn extend(&self, others: Vec<Diagnostic>) {
        self.list.borrow_mut().extend(others);
    }

    /// Every text, in the order in which they stand.
    pub fn texts(&self) -> Vec<Arc<SourceText>> {
        self.texts.iter().map(|(_, text)| text.clone()).collect()
    }

    pub fn failures(&self) -> usize {
        self.list.borrow().iter().filter(|d| d.severity == Severity::Error).count()
    }

    pub fn failed(&self) -> bool {
        self.list.borrow().iter().any(|d| d.severity == Severity::Error)
    }

    /// In the order of the texts; faults of other texts after them, in their own order.
    pub fn into_sorted(self) -> Vec<Diagnostic> {
        let mut list = self.list.into_inner();
        list.sort_by_key(|d| match self.texts.iter().position(|(_, text)| Arc::ptr_eq(&d.source, text)) {
            Some(text) => (text, d.span.start),
            None => (usize::MAX, 0),
        });
        list
    }

    fn add(&self, severity: Severity, span: Range<usize>, message: String, label: String, help: Option<String>) {
        let text = self.texts.iter().rev().find(|(begins, _)| *begins <= span.start);
        let Some((begins, source)) = text.or(self.texts.first()) else { return };
        let (source, span) = (source.clone(), span.start - begins..span.end.max(span.start) - begins);
        self.list.borrow_mut().push(Diagnostic { severity, message, source, span, label, help });
    }
}

/// The table of a text; syntax faults and repeated keys go to `findings`.
///
/// `None` where the text is not TOML, so that what it means cannot be judged. A repeated key
/// leaves the rest of the text sound: the table holds its first value.
pub fn parse<'a>(text: &'a str, findings: &Findings) -> Option<DeTable<'a>> {
    parse_at(text, 0, findings)
}

/// The same of a text that begins so far behind the first.
pub fn parse_at<'a>(text: &'a str, begins: usize, findings: &Findings) -> Option<DeTable<'a>> {
    const MOST: usize = 20;
    let (table, faults) = DeTable::parse_recoverable(text);
    let mut sound = true;
    let mut line = None;
    for fault in faults.iter().take(MOST) {
        let repeated = fault.message() == "duplicate key";
        sound &= repeated;
        let span = fault.span().unwrap_or(0..0);
        // What follows a fault of syntax on its line is its echo.
        let here = text.as_bytes().iter().take(span.start).filter(|b| **b == b'\n').count();
        if line.replace(here) == Some(here) && !repeated {
            continue;
        }
        let (message, label) = match repeated {
            true => (format!("`{}` is given twice", slice(text, &span)), "a second time here".to_owned()),
            false => (format!("this is not TOML: {}", fault.message()), "not understood".to_owned()),
        };
        findings.error(begins + span.start..begins + span.end, message, label, None);
    }
    sound.then(|| if begins > 0 { graft::moved(table.get_ref(), begins) } else { table.into_inner() })
}

fn slice(text: &str, span: &Range<usize>) -> String {
    crate::diagnostic::shortened(text.get(span.clone()).unwrap_or(""))
}

/// The name among `known` that `name` was most likely meant to be.
pub fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    const ALIKE: f64 = 0.75;
    let lower = name.to_lowercase();
    let scored = known.into_iter().map(|k| (strsim::jaro_winkler(&lower, &k.to_lowercase()), k));
    let best = scored.max_by(|a, b| a.0.total_cmp(&b.0))?;
    (best.0 >= ALIKE).then_some(best.1)
}
