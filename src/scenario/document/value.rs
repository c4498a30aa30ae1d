//! A value of the document, read as the kind that is due there.

use super::findings::{Findings, Written};
use super::limits::Limits;
use super::nearest::nearest;
use crate::bounds;
use crate::diagnostic::{Fault, shortened};
use crate::escape;
use crate::units::{self, Kind, in_words, plain};
use std::ops::Range;
use toml::de::{DeInteger, DeTable, DeValue};

/// A value with its name for messages and its place.
#[derive(Clone)]
pub struct Value<'a> {
    /// `` `capacity` ``, `` `soc` of position 2 ``.
    pub name: String,
    pub span: Range<usize>,
    pub(super) value: &'a DeValue<'a>,
    pub findings: &'a Findings,
}

impl<'a> Value<'a> {
    /// The same value, called by another name in messages.
    pub fn called(self, name: String) -> Value<'a> {
        Value { name, ..self }
    }

    /// Reports that this value is not possible.
    pub fn refuse(&self, message: String, label: &str, help: Option<String>) {
        self.refuse_of(Fault::OutOfRange, message, label, help);
    }

    pub fn refuse_of(&self, fault: Fault, message: String, label: &str, help: Option<String>) {
        self.findings.error_of(fault, self.span.clone(), message, label.to_owned(), help);
    }

    fn wrong_type(&self, due: &str, help: Option<String>) {
        let is = match self.value {
            DeValue::String(text) => format!("the text \"{}\"", shortened(text)),
            DeValue::Integer(number) => format!("the bare number {}", shortened(number.as_str())),
            DeValue::Float(number) => format!("the bare number {}", shortened(number.as_str())),
            DeValue::Boolean(truth) => truth.to_string(),
            DeValue::Datetime(_) => "a date or time without quotes".to_owned(),
            DeValue::Array(_) => "a list".to_owned(),
            DeValue::Table(_) => "a table".to_owned(),
        };
        self.refuse_of(Fault::WrongType, format!("{} is {is}", self.name), &format!("expected {due}"), help);
    }

    fn with<T>(&self, value: T) -> Written<T> {
        Written { value, span: self.span.clone() }
    }

    fn judge(&self, x: f64, limits: Limits, show: impl Fn(f64) -> String) -> Option<Written<f64>> {
        if limits.contain(x) {
            return Some(self.with(x));
        }
        self.refuse(format!("{} is {}", self.name, show(x)), &limits.describe(show), None);
        None
    }

    /// A text with a unit, in SI.
    pub fn quantity(&self, kind: Kind, limits: Limits) -> Option<Written<f64>> {
        let due = format!("a {} in {}, in quotes", kind.name(), kind.accepted());
        let DeValue::String(text) = self.value else {
            // No unit is guessed from a bare number: 0.9 may be 0.9 % or 90 %.
            let help = format!("write the number with its unit, as in \"{}\"", kind.example());
            self.wrong_type(&due, Some(help));
            return None;
        };
        match units::parse(text, kind) {
            Ok(si) => self.judge(si, limits, |x| kind.show(x)),
            Err(fault) => {
                let message = format!("{} is \"{}\": {fault}", self.name, shortened(text));
                let label = format!("expected a {} in {}", kind.name(), kind.accepted());
                self.refuse_of(Fault::Quantity, message, &label, Some(fault.help(kind)));
                None
            }
        }
    }

    /// A number without quotes or unit.
    pub fn number(&self, limits: Limits) -> Option<Written<f64>> {
        let text = match self.value {
            DeValue::Integer(number) if number.radix() == 10 => number.as_str(),
            DeValue::Float(number) => number.as_str(),
            _ => {
                self.wrong_type("a bare number, without quotes and unit", None);
                return None;
            }
        };
        match text.parse::<f64>() {
            Ok(x) if x.is_finite() => self.judge(x, limits, plain),
            _ => {
                let message = format!("{} is {}", self.name, shortened(text));
                self.refuse(message, "must be a finite number", None);
                None
            }
        }
    }

    /// A bare whole number from `low` to `high`.
    pub fn whole(&self, low: u64, high: u64) -> Option<Written<u64>> {
        let DeValue::Integer(number) = self.value else {
            let help = whole_float(self.value).map(|n| format!("write {n}"));
            self.wrong_type("a bare whole number", help);
            return None;
        };
        match digits(number) {
            Some(n) if (low..=high).contains(&n) => Some(self.with(n)),
            _ => {
                let message = format!("{} is {}", self.name, shortened(number.as_str()));
                self.refuse(message, &format!("must be a whole number from {low} to {high}"), None);
                None
            }
        }
    }

    /// `true` or `false`, without quotes.
    pub fn truth(&self) -> Option<bool> {
        let truth = self.value.as_bool();
        if truth.is_none() {
            self.wrong_type("true or false, without quotes", None);
        }
        truth
    }

    /// A text that is not blank and holds nothing invisible.
    pub fn text(&self, due: &str) -> Option<Written<&'a str>> {
        let DeValue::String(text) = self.value else {
            self.wrong_type(due, None);
            return None;
        };
        if text.trim().is_empty() {
            self.refuse(format!("{} is blank", self.name), &format!("expected {due}"), None);
            return None;
        }
        if text.chars().count() > bounds::TEXT {
            let label = format!("must be at most {} characters", bounds::grouped(bounds::TEXT as u64));
            self.refuse_of(Fault::TooMuch, format!("{} is too long", self.name), &label, Some("shorten it".into()));
            return None;
        }
        if let Some(hidden) = escape::hidden_in(text) {
            let message = format!("{} holds an invisible character, {hidden}", self.name);
            let help = "type it anew: control characters, direction marks and the like are not seen, and mislead";
            self.refuse(message, &format!("expected {due} that can be read, on one line"), Some(help.into()));
            return None;
        }
        Some(self.with(text.as_ref()))
    }

    /// The table, where it is one; no fault otherwise.
    pub fn as_table(&self) -> Option<&'a DeTable<'a>> {
        self.value.as_table()
    }

    /// The text, where it is one; no fault otherwise.
    pub fn as_text(&self) -> Option<&'a str> {
        self.value.as_str()
    }

    pub fn is_list(&self) -> bool {
        self.value.is_array()
    }

    pub fn is_table(&self) -> bool {
        self.value.is_table()
    }

    /// The meaning of a word that must be one of `choices`.
    pub fn choice<T: Copy>(&self, choices: &[(&'static str, T)]) -> Option<T> {
        let quoted: Vec<String> = choices.iter().map(|c| format!("\"{}\"", c.0)).collect();
        let due = in_words(&quoted.iter().map(String::as_str).collect::<Vec<_>>());
        let text = self.text(&due)?.value;
        if let Some(choice) = choices.iter().find(|c| c.0 == text) {
            return Some(choice.1);
        }
        let help = nearest(text, choices.iter().map(|c| c.0)).map(|n| format!("did you mean \"{n}\"?"));
        let message = format!("{} is \"{}\"", self.name, shortened(text));
        self.refuse_of(Fault::UnknownWord, message, &format!("must be {due}"), help);
        None
    }

    /// The index among `names` of a `kind` (`module`, `cable`) that is defined elsewhere.
    pub fn reference(&self, kind: &str, names: &[String]) -> Option<usize> {
        let text = self.text(&format!("the name of a {kind} type"))?.value;
        let found = names.iter().position(|n| n == text);
        if found.is_none() {
            let written = shortened(text);
            let message = format!("{} is \"{written}\", and no [{kind}.{written}] is defined", self.name);
            let known: Vec<String> = names.iter().map(|n| shortened(n)).collect();
            let help = match nearest(text, names.iter().map(String::as_str)) {
                Some(near) => format!("did you mean \"{}\"?", shortened(near)),
                None if known.is_empty() => format!("no {kind} type is defined"),
                None => format!("defined: {}", known.join(", ")),
            };
            self.refuse_of(Fault::NotFound, message, &format!("no such {kind} type"), Some(help));
        }
        found
    }

    /// The values of a list, each with its name from its number (from 1).
    pub fn list(&self, due: &str, name: impl Fn(usize) -> String) -> Option<Vec<Value<'a>>> {
        let DeValue::Array(values) = self.value else {
            self.wrong_type(due, None);
            return None;
        };
        let findings = self.findings;
        let value = |(k, v): (usize, &'a toml::Spanned<DeValue<'a>>)| Value {
            name: name(k + 1),
            span: v.span(),
            value: v.get_ref(),
            findings,
        };
        Some(values.iter().enumerate().map(value).collect())
    }

    /// As `list`, with at most `most` values; `mend` tells the user how to manage with fewer.
    pub fn few(&self, most: usize, mend: &str, due: &str, name: impl Fn(usize) -> String) -> Option<Vec<Value<'a>>> {
        let length = self.value.as_array().map_or(0, |values| values.len());
        if length <= most {
            return self.list(due, name);
        }
        let message = format!("{} is a list of {}", self.name, bounds::grouped(length as u64));
        let label = format!("must be at most {}", bounds::grouped(most as u64));
        self.refuse_of(Fault::TooMuch, message, &label, Some(mend.to_owned()));
        None
    }

    /// Rows of two values, such as `[["0 %", "2.90 V"], …]`; rows of another length are faults.
    pub fn pairs(&self, example: &str) -> Option<Vec<[Value<'a>; 2]>> {
        let due = format!("rows of two values, as in {example}");
        let mend = "leave out rows: between two of them the curve is straight";
        let rows = self.few(bounds::CURVE_ROWS, mend, &due, |k| format!("row {k} of {}", self.name))?;
        Some(rows.iter().filter_map(|row| row.pair(&due)).collect())
    }

    fn pair(&self, due: &str) -> Option<[Value<'a>; 2]> {
        let values = self.list(due, |k| format!("value {k} in {}", self.name))?;
        let count = values.len();
        let pair = values.try_into().ok();
        if pair.is_none() {
            let message = format!("{} is a list of {count}", self.name);
            self.refuse_of(Fault::WrongType, message, &format!("expected {due}"), None);
        }
        pair
    }

    pub(super) fn table(&self, due: &str) -> Option<&'a DeTable<'a>> {
        let table = self.value.as_table();
        if table.is_none() {
            self.wrong_type(due, None);
        }
        table
    }
}

fn digits(number: &DeInteger<'_>) -> Option<u64> {
    u64::from_str_radix(number.as_str(), number.radix()).ok()
}

/// `1e4` is not a whole number in TOML, though it is one.
fn whole_float(value: &DeValue<'_>) -> Option<u64> {
    let x: f64 = value.as_float()?.as_str().parse().ok()?;
    (x.fract() == 0.0 && (0.0..1e15).contains(&x)).then_some(x as u64)
}
