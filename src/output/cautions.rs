//! What whoever acts on a figure must know beside it: one place for terminal, documents and pages.
//!
//! Out: for each command a list for its JSON document, of which each sentence defers to local codes, and one line that
//! stands last on a terminal; the list of the pages.

use serde::Serialize;

/// What a command says of the danger of acting on its figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cautions {
    /// The last line on a terminal.
    pub line: &'static str,
    /// For the JSON document; each defers to local codes.
    pub list: &'static [&'static str],
}

/// `readings`: its readers measure at a live bank, and then open joints.
pub const READINGS: Cautions = Cautions {
    line: "▲ Modules stay live at their terminals: nothing switches a battery off. Before a joint is opened a qualified \
           person isolates it, proves it dead and uses insulated tools; local codes govern.",
    list: &[
        "Modules stay live at their terminals, whatever is switched off: before a joint is opened, isolate it and prove \
         it dead, and use insulated tools, as local codes require.",
        "Measuring at a live bank, and opening its joints, is work for a qualified person, under local codes and the \
         equipment's manual.",
        "An element that is suspected is a reason to look, and one that is not suspected is not approved: inspection \
         and test by local codes govern.",
    ],
};

/// Heads the cautions of a page.
pub const PAGE_HEAD: &str = "This page is a designer's aid, not an approval.";
pub const PAGE_GOVERNS: &str = "Local codes, the manuals of the equipment, and the judgement of licensed and qualified \
    persons go before anything printed here.";
/// Of a page, below its head.
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

/// A JSON document with its cautions, last.
#[derive(Debug, Serialize)]
pub struct Cautioned<'a, T: Serialize> {
    #[serde(flatten)]
    document: &'a T,
    cautions: &'static [&'static str],
}

impl Cautions {
    /// The document of a command, with its list.
    pub fn beside<'a, T: Serialize>(&self, document: &'a T) -> Cautioned<'a, T> {
        Cautioned { document, cautions: self.list }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every command's; add a new one here.
    const ALL: [Cautions; 1] = [READINGS];

    #[test]
    fn each_defers_to_local_codes() {
        for cautions in ALL {
            assert!(!cautions.list.is_empty());
            let sentences = cautions.list.iter().chain([&cautions.line]);
            sentences.for_each(|said| assert!(said.contains("local codes") && !said.contains("  "), "{said}"));
            assert!(!cautions.line.contains('\n'));
        }
        assert!(PAGE_GOVERNS.contains("Local codes"));
    }

    #[test]
    fn a_document_keeps_its_numbers_and_ends_with_its_cautions() {
        #[derive(Serialize)]
        struct Document {
            x: f64,
        }
        let text = serde_json::to_string(&READINGS.beside(&Document { x: 0.1 + 0.2 })).unwrap();
        assert!(text.starts_with(r#"{"x":0.30000000000000004,"cautions":["#), "{text}");
    }
}
