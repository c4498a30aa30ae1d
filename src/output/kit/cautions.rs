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

/// What is answered: each is acted on in its own way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// A scenario, judged without running it.
    Check,
    /// One operating point.
    Point,
    /// The greatest safe current.
    Limit,
    /// Random nights.
    Run,
    /// Layouts under the same nights.
    Compare,
    /// Each input moved alone.
    Inputs,
    /// The cheapest layout that meets the targets.
    Propose,
    /// One night again.
    Replay,
    /// Measurements on site.
    Readings,
    /// The program itself, against known answers.
    Verify,
}

/// The caution with site readings: readers measure at a live bank, and then open joints.
const READINGS: [&str; 3] = [
    "Modules stay live at their terminals, whatever is switched off: before a joint is opened, isolate it and prove it \
     dead, and use insulated tools, as local codes require.",
    "Measuring at a live bank, and opening its joints, is work for a qualified person, under local codes and the \
     equipment's manual.",
    "An element that is suspected is a reason to look, and one that is not suspected is not approved: inspection and \
     test by local codes govern.",
];

impl Answer {
    #[cfg(test)]
    const ALL: [Answer; 10] = [
        Answer::Check,
        Answer::Point,
        Answer::Limit,
        Answer::Run,
        Answer::Compare,
        Answer::Inputs,
        Answer::Propose,
        Answer::Replay,
        Answer::Readings,
        Answer::Verify,
    ];

    /// For its document; each defers to local codes.
    fn list(self) -> Vec<&'static str> {
        match self {
            Answer::Readings => READINGS.to_vec(),
            Answer::Verify => vec![self.line()],
            _ => vec![self.line(), LIVE],
        }
    }

    /// What ends its text.
    pub fn line(self) -> &'static str {
        match self {
            Answer::Check => {
                "This says nothing of local codes: they, the equipment's manuals and qualified persons decide what may be built."
            }
            Answer::Point => {
                "Computed, not measured. Modules are live at their terminals: measure and work as local codes and manuals require."
            }
            Answer::Limit => {
                "Steady currents, no surge, fuse or heating: local codes and the equipment's manual govern, and a qualified \
                 person sets and checks the value."
            }
            Answer::Run => {
                "Computed nights of the bank as the scenario describes it, not an approval: local codes and the equipment's \
                 manuals govern."
            }
            Answer::Compare => {
                "A comparison, not an approval: before a layout is built, local codes, manuals and a qualified person decide."
            }
            Answer::Inputs => {
                "What would help may not be allowed: before a bank is changed, local codes, manuals and a qualified person decide."
            }
            Answer::Propose => {
                "A proposal, not an approval: before it is bought or built, local codes, manuals and a qualified person decide."
            }
            Answer::Replay => {
                "One computed night, not a record of a real one: for the real bank local codes and the equipment's manuals govern."
            }
            Answer::Readings => {
                "Modules stay live at their terminals: nothing switches a battery off. Before a joint is opened a qualified \
                 person isolates it, proves it dead and uses insulated tools; local codes govern."
            }
            Answer::Verify => {
                "This tells how the program computes, not that a bank is safe: for that see local codes, manuals and a qualified \
                 person."
            }
        }
    }
}

/// The cautions of one answer; as JSON a list of sentences.
#[derive(Clone, Debug)]
pub struct Cautions {
    answer: Answer,
    from_memory: Vec<String>,
}

impl Cautions {
    /// `from_memory`: what the answer takes from tables recalled from memory, as `Scenario::from_memory` names it.
    pub fn new(answer: Answer, from_memory: Vec<String>) -> Cautions {
        Cautions { answer, from_memory }
    }

    /// What ends a text on screen: the answer's own caution is the last line.
    pub fn text(&self) -> String {
        let from_memory: String = self.recalled().map(|line| line + "\n").collect();
        format!("\n{from_memory}▲ {}\n", self.answer.line())
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
        let list = self.answer.list().into_iter().map(str::to_string);
        serializer.collect_seq(list.chain(self.recalled()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_defers_to_local_codes() {
        for answer in Answer::ALL {
            let sentences = answer.list().into_iter().chain([answer.line()]);
            sentences.for_each(|said| assert!(said.contains("local codes") && !said.contains("  "), "{said}"));
            let text = Cautions::new(answer, vec!["a row".into()]).text();
            let lines: Vec<&str> = text.lines().collect();
            assert!(lines.len() == 3 && lines[1].contains("a row") && lines[1].contains("local codes"), "{text}");
            assert_eq!(lines[2], format!("▲ {}", answer.line()));
        }
        assert!(PAGE_GOVERNS.contains("Local codes") && FIGURE.contains("local codes"));
    }
}
