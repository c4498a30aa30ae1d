//! Cautions: what every answer says of itself, on screen, in documents, in figures and on pages.
//!
//! In: what is answered, and what the scenario takes from tables recalled from memory. Out: sentences, each of which
//! defers to local codes. They follow from the scenario alone, so the same inputs give the same bytes.

use serde::{Serialize, Serializer};

/// Stands in every figure, which may be cut out of its page.
pub const FIGURE: &str = "A designer's aid, not an approval: local codes govern.";

/// In every document about a bank.
const LIVE: &str = "Nothing switches a battery off at its own terminals: treat them as live at all times, and work as \
                    local codes require.";

/// Heads the cautions of a page.
pub const PAGE_HEAD: &str = "This page is a designer's aid, not an approval.";
/// What goes before anything on a page.
pub const PAGE_GOVERNS: &str = "Local codes, the manuals of the equipment, and the judgement of licensed and qualified \
    persons go before anything printed here.";
/// The caution on a page, below its head.
pub const PAGE: [&str; 9] = [
    "Nothing switches a battery off at its own terminals: treat them as live at all times.",
    "Below 60 V direct current the main danger is not shock but burns, arc and fire.",
    "A fault can draw thousands of amperes, and a direct current has no zero crossing that would help to put an arc out.",
    "Isolate before a connection is made or broken. Never pull a connector that carries current.",
    "Before stacks or modules are paralleled, measure polarity and the difference in voltage.",
    "Protect each source close to its positive terminal, with a device rated for direct current and for more than the \
     fault current that can flow there.",
    "Tighten joints to their torque, cover them, and check them again after some time in use.",
    "Do not charge cells below the temperature that their maker permits.",
    "Ratings, resistances and joints are taken as the scenario gives them; measure them on site before they are relied \
     on.",
];

/// What one kind of answer says of itself; each sentence defers to local codes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// What ends its text.
    line: &'static str,
    /// Whether its document has that line too.
    line_in_document: bool,
    /// What else its document has.
    further: &'static [&'static str],
}

impl Caution {
    /// Of an answer about a bank: this line, and that batteries stay live.
    pub const fn of_bank(line: &'static str) -> Caution {
        Caution { line, line_in_document: true, further: &[LIVE] }
    }

    /// Of an answer about no bank.
    pub const fn of_program(line: &'static str) -> Caution {
        Caution { line, line_in_document: true, further: &[] }
    }

    /// Of an answer whose document has to say more than fits into a line.
    pub const fn of_work(line: &'static str, document: &'static [&'static str]) -> Caution {
        Caution { line, line_in_document: false, further: document }
    }

    /// For its document.
    fn list(self) -> impl Iterator<Item = &'static str> {
        let line = self.line_in_document.then_some(self.line);
        line.into_iter().chain(self.further.iter().copied())
    }
}

/// The cautions of one answer; as JSON a list of sentences.
#[derive(Clone, Debug)]
pub struct Cautions {
    caution: Caution,
    from_memory: Vec<String>,
}

impl Cautions {
    /// `from_memory`: what the answer takes from tables recalled from memory, as `Scenario::from_memory` names it.
    pub fn new(caution: Caution, from_memory: Vec<String>) -> Cautions {
        let mut said = caution.list().chain([caution.line]);
        debug_assert!(said.all(|text| text.contains("local codes")), "{caution:?}");
        Cautions { caution, from_memory }
    }

    /// What ends a text on screen: the answer's own caution is the last line.
    pub fn text(&self) -> String {
        let from_memory: String = self.recalled().map(|line| line + "\n").collect();
        format!("\n{from_memory}▲ {}\n", self.caution.line)
    }

    fn recalled(&self) -> impl Iterator<Item = String> {
        self.from_memory.iter().map(|what| recalled(what))
    }
}

/// One thing that is taken from memory, as it is told wherever it is used.
pub fn recalled(what: &str) -> String {
    format!("From memory, not seen in print: {what}. Check it against the table that local codes name.")
}

impl Serialize for Cautions {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let list = self.caution.list().map(str::to_string);
        serializer.collect_seq(list.chain(self.recalled()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn they_are_told_last_and_what_is_from_memory_before() {
        let line = "Computed, not measured: see local codes.";
        let from_memory = vec!["a row".to_owned()];
        let text = Cautions::new(Caution::of_bank(line), from_memory.clone()).text();
        let lines: Vec<&str> = text.lines().collect();
        assert!(lines.len() == 3 && lines[1].contains("a row") && lines[1].contains("local codes"), "{text}");
        assert_eq!(lines[2], format!("▲ {line}"));
        let list = |caution| serde_json::to_value(Cautions::new(caution, from_memory.clone())).unwrap();
        let row = recalled("a row");
        assert_eq!(list(Caution::of_bank(line)), serde_json::json!([line, LIVE, row]));
        assert_eq!(list(Caution::of_program(line)), serde_json::json!([line, row]));
        assert_eq!(list(Caution::of_work(line, &[LIVE])), serde_json::json!([LIVE, row]));
        assert!(PAGE_GOVERNS.contains("Local codes") && FIGURE.contains("local codes"));
    }
}
