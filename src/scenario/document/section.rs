//! A table of the document, with the keys that it may have.

use super::findings::{Findings, Written};
use super::limits::Limits;
use super::nearest::nearest;
use super::value::Value;
use crate::diagnostic::{Fault, shortened};
use crate::units::{Kind, in_words};
use std::ops::Range;
use toml::de::DeTable;

/// A table and its known keys. Opening it reports every other key.
pub struct Section<'a> {
    /// Its name in messages: `[load]`, `[[stack]] A`, `lead pair 1`.
    pub name: String,
    /// The place of its header, or of its braces.
    pub span: Range<usize>,
    table: &'a DeTable<'a>,
    known: &'static [&'static str],
    pub findings: &'a Findings,
}

impl<'a> Section<'a> {
    pub fn open(
        name: String,
        span: Range<usize>,
        table: &'a DeTable<'a>,
        known: &'static [&'static str],
        findings: &'a Findings,
    ) -> Section<'a> {
        let section = Section { name, span, table, known, findings };
        section.report_unknown();
        section
    }

    /// The value of a key, if it is given.
    pub fn get(&self, key: &'static str) -> Option<Value<'a>> {
        debug_assert!(self.known.contains(&key), "{key} is not among the keys of {}", self.name);
        let value = self.table.get(key)?;
        let name = format!("`{key}`");
        Some(Value { name, span: value.span(), value: value.get_ref(), findings: self.findings })
    }

    /// The value of a key that must be given; its absence is a fault, mended by `example`.
    pub fn need(&self, key: &'static str, example: &str) -> Option<Value<'a>> {
        let value = self.get(key);
        if value.is_none() {
            self.findings.error_of(
                Fault::Missing,
                self.span.clone(),
                format!("{} has no `{key}`", self.name),
                format!("`{key}` is required here"),
                Some(format!("add `{key} = {example}`")),
            );
        }
        value
    }

    /// A quantity, in SI, if it is given.
    pub fn quantity(&self, key: &'static str, kind: Kind, limits: Limits) -> Option<Written<f64>> {
        self.get(key)?.quantity(kind, limits)
    }

    /// A quantity, in SI, or `default` where it is left out.
    pub fn quantity_or(&self, key: &'static str, kind: Kind, limits: Limits, default: f64) -> f64 {
        self.quantity(key, kind, limits).map_or(default, |q| q.value)
    }

    /// A quantity, in SI, that must be given.
    pub fn need_quantity(&self, key: &'static str, kind: Kind, limits: Limits) -> Option<Written<f64>> {
        self.need(key, &format!("\"{}\"", kind.example()))?.quantity(kind, limits)
    }

    /// Its entries as the parser gave them, known keys or not.
    pub fn table(&self) -> &'a DeTable<'a> {
        self.table
    }

    pub fn has(&self, key: &'static str) -> bool {
        self.get(key).is_some()
    }

    /// Reports each of `keys` that is given, though it has no meaning here.
    pub fn refuse(&self, keys: &[&'static str], why: &str) {
        for value in keys.iter().filter_map(|key| self.get(key)) {
            value.refuse_of(Fault::Conflict, format!("{} has no meaning here", value.name), why, None);
        }
    }

    /// Exactly one of `keys` must be given: says which, or reports none or several.
    pub fn one_of(&self, keys: &[&'static str], example: &str) -> Option<&'static str> {
        let mut given: Vec<&'static str> = keys.iter().copied().filter(|key| self.has(key)).collect();
        // The first that is written counts as meant.
        given.sort_by_key(|key| self.get(key).map(|value| value.span.start));
        let quoted: Vec<String> = keys.iter().map(|key| format!("`{key}`")).collect();
        let words = in_words(&quoted.iter().map(String::as_str).collect::<Vec<_>>());
        match given.as_slice() {
            [one] => Some(one),
            [] => {
                let message = format!("{} has neither {}", self.name, words.replace(" or ", " nor "));
                let label = format!("exactly one of {words} is required here");
                let help = Some(format!("add `{example}`"));
                self.findings.error_of(Fault::Missing, self.span.clone(), message, label, help);
                None
            }
            [_, others @ ..] => {
                for value in others.iter().filter_map(|key| self.get(key)) {
                    let message = format!("{} has more than one of {words}", self.name);
                    let help = Some("keep the one that is meant".into());
                    value.refuse_of(Fault::Conflict, message, "one of them is enough", help);
                }
                None
            }
        }
    }

    fn report_unknown(&self) {
        for (key, _) in self.table {
            if self.known.contains(&key.get_ref().as_ref()) {
                continue;
            }
            if self.findings.full() {
                let (message, label) = (String::new(), String::new());
                self.findings.error_of(Fault::UnknownKey, key.span(), message, label, None);
                continue;
            }
            let written = shortened(key.get_ref());
            let message = format!("{} has an unknown key `{written}`", self.name);
            let (label, help) = match nearest(key.get_ref(), self.known.iter().copied()) {
                Some(near) => (format!("did you mean `{near}`?"), self.keys()),
                None => ("not a key of this section".to_owned(), self.keys()),
            };
            self.findings.error_of(Fault::UnknownKey, key.span(), message, label, Some(help));
        }
    }

    fn keys(&self) -> String {
        format!("keys here: {}", self.known.join(", "))
    }
}

impl<'a> Value<'a> {
    /// A table with known keys.
    pub fn section(&self, known: &'static [&'static str]) -> Option<Section<'a>> {
        let table = self.table(&format!("a table with the keys {}", known.join(", ")))?;
        let (name, span) = (self.name.clone(), self.span.clone());
        Some(Section::open(name, span, table, known, self.findings))
    }

    /// The entries of a table whose keys are free names.
    pub fn named(&self, kind: &str) -> Vec<(Written<String>, Value<'a>)> {
        let table = self.table(&format!("tables with names, as in [{kind}.NAME]"));
        table.map_or_else(Vec::new, |t| named(kind, t, self.findings))
    }
}

/// The entries of a table whose keys are free names, such as `[module.NAME]`, in the file's order.
fn named<'a>(kind: &str, table: &'a DeTable<'a>, findings: &'a Findings) -> Vec<(Written<String>, Value<'a>)> {
    let mut entries: Vec<_> = table
        .iter()
        .map(|(key, value)| {
            let name = Written { value: key.get_ref().to_string(), span: key.span() };
            let shown = format!("[{kind}.{}]", shortened(key.get_ref()));
            (name, Value { name: shown, span: value.span(), value: value.get_ref(), findings })
        })
        .collect();
    entries.sort_by_key(|(name, _)| name.span.start);
    entries
}
