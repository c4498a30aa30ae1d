//! The scenario as written: values with their places, read kind by kind.
//!
//! In: the table that the TOML parser made of the text. Out: each value that was asked for, or a
//! fault in `Findings`. A section names its keys when it is opened, so that every key that it does
//! not know is reported at once; nothing stops at the first fault. What values mean together is
//! judged by `check`.

mod findings;
mod limits;
mod nearest;
pub mod overlay;
mod section;
mod syntax;
mod value;

pub use findings::{Findings, Written};
pub use limits::Limits;
pub use nearest::nearest;
pub use section::Section;
pub use value::Value;

use crate::diagnostic::Fault;
use std::ops::Range;
use toml::de::DeTable;

/// The table of a text; syntax faults and repeated keys go to `findings`.
///
/// `None` where the text is not TOML, so that what it means cannot be judged. A repeated key
/// leaves the rest of the text sound: the table holds its first value.
pub fn parse<'a>(text: &'a str, findings: &Findings) -> Option<DeTable<'a>> {
    parse_at(text, 0, findings)
}

/// As [`parse`], for a text whose places count from byte `begins`.
pub fn parse_at<'a>(text: &'a str, begins: usize, findings: &Findings) -> Option<DeTable<'a>> {
    const MOST: usize = 20;
    let (table, mut faults) = DeTable::parse_recoverable(text);
    faults.sort_by_key(|fault| fault.span().map(|span| span.start));
    let mut sound = true;
    let mut line = None;
    for fault in faults.iter().take(MOST) {
        let repeated = fault.message() == "duplicate key";
        sound &= repeated;
        let span = fault.span().unwrap_or_else(|| syntax::deepest(text));
        // What follows a fault of syntax on its line is its echo.
        let here = text.as_bytes().iter().take(span.start).filter(|b| **b == b'\n').count();
        if line.replace(here) == Some(here) && !repeated {
            continue;
        }
        if let Some(open) = syntax::open_bracket(text, span.start).filter(|_| !repeated) {
            let message = format!("this is not TOML: `{}` is not closed", &text[open..=open]);
            let help = Some("close it behind its last value".to_owned());
            let label = "it begins here".to_owned();
            findings.error_of(Fault::Syntax, begins + open..begins + open + 1, message, label, help);
            // What follows was read as if it stood between the brackets.
            return None;
        }
        let (message, label) = match repeated {
            true => (format!("`{}` is given twice", slice(text, &span)), "a second time here".to_owned()),
            false => (format!("this is not TOML: {}", fault.message()), "not understood".to_owned()),
        };
        let fault = if repeated { Fault::Duplicate } else { Fault::Syntax };
        findings.error_of(fault, begins + span.start..begins + span.end, message, label, None);
    }
    sound.then(|| if begins > 0 { overlay::moved(table.get_ref(), begins) } else { table.into_inner() })
}

fn slice(text: &str, span: &Range<usize>) -> String {
    crate::diagnostic::shortened(text.get(span.clone()).unwrap_or(""))
}
