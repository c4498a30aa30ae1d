//! One check of the record, and what the checks share: scenarios, points, and how an answer is held against its source.

use crate::network::Demand;
use crate::scenario::Scenario;
use crate::scenario::check::parse;
use crate::study::point::{self, Point};
use serde::Serialize;
use std::path::Path;

/// One check. Other programs rely on its names: add, never rename.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Check {
    /// The part of the program that is checked.
    pub part: &'static str,
    /// The quantity that is checked.
    pub what: String,
    /// Source of the answer; it says so where the answer is from memory.
    pub source: &'static str,
    /// Unit of `expected`, `got` and `tolerance`.
    pub unit: &'static str,
    /// The answer of the source.
    pub expected: f64,
    /// The answer of the program; null where it finds none.
    pub got: Option<f64>,
    /// Greatest allowed difference between the two answers.
    pub tolerance: f64,
    /// Whether the two answers differ by no more than `tolerance`.
    pub pass: bool,
}

/// What the answer is: a number, how far off it may be, and its unit.
#[derive(Clone, Copy, Debug)]
pub struct Answer(pub f64, pub f64, pub &'static str);

impl Answer {
    /// Anything from `low` to `high`.
    pub fn between(low: f64, high: f64, unit: &'static str) -> Answer {
        Answer(0.5 * (low + high), 0.5 * (high - low), unit)
    }
}

/// The checks of a part of the program.
pub struct Part {
    name: &'static str,
    pub checks: Vec<Check>,
}

impl Part {
    pub fn new(name: &'static str) -> Part {
        Part { name, checks: Vec::new() }
    }

    pub fn check(
        &mut self,
        what: impl Into<String>,
        source: &'static str,
        answer: Answer,
        got: impl Into<Option<f64>>,
    ) {
        let (Answer(expected, tolerance, unit), got) = (answer, got.into().filter(|got| got.is_finite()));
        let pass = got.is_some_and(|got| (got - expected).abs() <= tolerance);
        self.checks.push(Check { part: self.name, what: what.into(), source, unit, expected, got, tolerance, pass });
    }
}

/// A scenario of these sections.
pub fn scenario(sections: &str) -> Option<Scenario> {
    let text = format!("format = 1\ntitle = \"check\"\n{sections}");
    parse(&text, "check.toml", Path::new(".")).ok().map(|checked| checked.scenario)
}

/// A module of 15 mΩ and 100 Ah in a stack of its own, with further keys of its type, on a pair of `lead`s.
pub fn one_module(keys: &str, lead: &str) -> String {
    format!(
        "[module.m]\ncells = 16\ncapacity = \"100 Ah\"\nresistance = \"15 mΩ\"\n{keys}\n[cable.lead]\n{lead}\n\
         [[stack]]\nname = \"A\"\nmodule = \"m\"\ncount = 1\n\
         leads = [{{ cable = \"lead\", positive = 1, negative = 1 }}]\n"
    )
}

/// A resistance too small to change any figure: 1 nΩ.
pub const SHORT: &str = "resistance = \"1e-06 mΩ\"";

pub fn point(scenario: &Scenario, amps: f64, air: f64, soc: Option<f64>) -> Option<Point> {
    let question = point::Question { demand: Demand::Current(amps), soc, air, without: Vec::new() };
    point::solve(scenario, &question).ok()
}

/// The greatest of some numbers, if all are known.
pub fn greatest(numbers: impl IntoIterator<Item = Option<f64>>) -> Option<f64> {
    numbers.into_iter().try_fold(0.0, |greatest: f64, x| Some(greatest.max(x?)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_check_fails_where_the_answer_is_another_or_none() {
        let mut part = Part::new("any");
        part.check("right", "by hand", Answer(2.0, 0.1, "A"), 2.05);
        part.check("wrong", "by hand", Answer(2.0, 0.1, "A"), 2.2);
        part.check("none", "by hand", Answer(2.0, 0.1, "A"), None);
        part.check("not a number", "by hand", Answer(2.0, 0.1, "A"), f64::NAN);
        part.check("within", "by hand", Answer::between(1.0, 3.0, "A"), 3.0);
        let passes: Vec<bool> = part.checks.iter().map(|check| check.pass).collect();
        assert_eq!(passes, [true, false, false, false, true]);
    }
}
