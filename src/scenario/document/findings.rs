//! The faults found in a scenario, each with its text and its place in it.

use crate::bounds;
use crate::diagnostic::{Diagnostic, Fault, Severity, SourceText};
use std::cell::RefCell;
use std::ops::Range;
use std::sync::Arc;

/// A value and the bytes of the text that hold it.
#[derive(Clone, Debug, PartialEq)]
pub struct Written<T> {
    pub value: T,
    pub span: Range<usize>,
}

/// Every fault found so far in a scenario's text, and in the texts that it includes.
pub struct Findings {
    /// Each text with the byte at which it begins, all texts laid one behind the other.
    texts: Vec<(usize, Arc<SourceText>)>,
    list: RefCell<Vec<Diagnostic>>,
    /// The first error that no longer fits in the list, and the number of those that did not.
    more: RefCell<Option<(Diagnostic, usize)>>,
}

impl Findings {
    pub fn new(source: Arc<SourceText>) -> Findings {
        Findings { texts: vec![(0, source)], list: RefCell::default(), more: RefCell::default() }
    }

    /// Adds a text behind the others, and returns the byte at which it begins.
    pub fn behind(&mut self, source: Arc<SourceText>) -> usize {
        // A place at the very end of a text is still in it.
        let begins = self.texts.last().map_or(0, |(at, text)| at + text.text.len() + 1);
        self.texts.push((begins, source));
        begins
    }

    /// An empty list for the same texts.
    pub fn another(&self) -> Findings {
        Findings { texts: self.texts.clone(), list: RefCell::default(), more: RefCell::default() }
    }

    /// Adds those of `others` that are not in the list yet, with `before` put before each message.
    pub fn adopt(&self, others: Findings, before: &str) {
        for mut other in others.list.into_inner() {
            let same = |d: &Diagnostic| Arc::ptr_eq(&d.source, &other.source) && d.span == other.span;
            if !self.list.borrow().iter().any(|d| same(d) && d.label == other.label) {
                other.message = format!("{before}{}", other.message);
                self.push(other);
            }
        }
    }

    /// A value that is not possible.
    pub fn error(&self, span: Range<usize>, message: String, label: String, help: Option<String>) {
        self.error_of(Fault::OutOfRange, span, message, label, help);
    }

    pub fn error_of(&self, fault: Fault, span: Range<usize>, message: String, label: String, help: Option<String>) {
        self.add((Severity::Error, fault), span, message, label, help);
    }

    /// Possible, but not what is usual; `why` says what is.
    pub fn unusual(&self, span: Range<usize>, message: String, why: &str) {
        self.add((Severity::Warning, Fault::OutOfRange), span, message, why.to_owned(), None);
    }

    /// Possible, and not likely what was wanted; `why` says what comes of it, `help` what to do.
    pub fn lint(&self, span: Range<usize>, message: String, why: String, help: String) {
        self.add((Severity::Warning, Fault::Conflict), span, message, why, Some(help));
    }

    /// Adds faults of another text without change.
    pub fn extend(&self, others: Vec<Diagnostic>) {
        self.list.borrow_mut().extend(others);
    }

    /// All texts, in the order in which they were added.
    pub fn texts(&self) -> Vec<Arc<SourceText>> {
        self.texts.iter().map(|(_, text)| text.clone()).collect()
    }

    pub fn failures(&self) -> usize {
        let more = self.more.borrow().as_ref().map_or(0, |(_, more)| *more);
        more + self.list.borrow().iter().filter(|d| d.severity == Severity::Error).count()
    }

    /// Whether there are so many faults that further ones are only counted.
    pub fn full(&self) -> bool {
        self.list.borrow().len() >= bounds::FAULTS
    }

    pub fn failed(&self) -> bool {
        self.more.borrow().is_some() || self.list.borrow().iter().any(|d| d.severity == Severity::Error)
    }

    /// All faults in the order of the texts and of the places in them; those of unknown texts last.
    pub fn into_sorted(self) -> Vec<Diagnostic> {
        let mut list = self.list.into_inner();
        list.sort_by_key(|d| match self.texts.iter().position(|(_, text)| Arc::ptr_eq(&d.source, text)) {
            Some(text) => (text, d.span.start),
            None => (usize::MAX, 0),
        });
        if let Some((first, count)) = self.more.into_inner() {
            let message = format!("{} more faults", bounds::grouped(count as u64));
            let help = Some("mend those above first: one slip may make many faults".to_owned());
            let label = "the first of them".to_owned();
            list.push(Diagnostic { fault: Fault::TooMuch, message, label, help, ..first });
        }
        list
    }

    fn add(
        &self,
        (severity, fault): (Severity, Fault),
        span: Range<usize>,
        message: String,
        label: String,
        help: Option<String>,
    ) {
        let text = self.texts.iter().rev().find(|(begins, _)| *begins <= span.start);
        let Some((begins, source)) = text.or(self.texts.first()) else { return };
        let (source, span) = (source.clone(), span.start - begins..span.end.max(span.start) - begins);
        self.push(Diagnostic { severity, fault, message, source, span, label, help });
    }

    /// Adds one to the list; once the list is full, warnings are dropped and errors only counted.
    fn push(&self, diagnostic: Diagnostic) {
        if !self.full() {
            return self.list.borrow_mut().push(diagnostic);
        }
        if diagnostic.severity == Severity::Error {
            let mut more = self.more.borrow_mut();
            *more = Some(more.take().map_or_else(|| (diagnostic, 1), |(first, count)| (first, count + 1)));
        }
    }
}
