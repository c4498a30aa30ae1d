//! `bankwright propose`: the cheapest layout that meets the targets.

use crate::cli::prelude::*;
use crate::diagnostic::{Diagnostic, Fault};
use crate::escape;
use crate::output::kit::folder::{PAGE, RESULTS};
use crate::scenario::check::Checked;
use crate::study::compare::Candidates;
use crate::study::error::StudyError;
use crate::study::parts::output as parts;
use crate::study::propose::output::page::{self, ProposalInput};
use crate::study::propose::output::{chart, words};
use crate::study::propose::solve;

const CAUTION: Caution = Caution::of_bank(
    "A proposal, not an approval: before it is bought or built, local codes, manuals and a qualified person decide.",
);

#[derive(Debug, Args)]
pub struct Arguments {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    study: StudyArguments,
}

/// Every file, in the order in which they take their places.
const FILES: [&str; 5] = ["proposal.csv", "parts.csv", "proposal.svg", PAGE, RESULTS];

pub fn run(args: &Arguments) -> Result<u8, Failure> {
    let checked = args.common.read()?;
    let candidates = Candidates::new(&checked, args.study.options())?;
    let folder = folder::of_study("propose", &args.study, &FILES, &args.common)?;
    let waiting = Waiting::new(args.common.quiet)?;
    let found = solve(&candidates, &waiting.progress());
    let proposal = waiting.end(found.map_err(|error| failure(error, &checked)))?;
    let document = Told { finding: words::sentences(&proposal), answer: &proposal };
    let cautions = Cautions::new(CAUTION, checked.from_memory());
    let figure = chart::proposal(&proposal)?;
    let parts: Vec<_> = candidates.list.iter().map(|c| (c.name.as_str(), &c.parts)).collect();
    let html = page::proposal(&ProposalInput {
        proposal: &proposal,
        figure: &figure,
        parts: &parts,
        not_modelled: &checked.scenario.left_out(),
        provenance: Origin::of(&args.common.scenario, &checked).provenance(),
    });
    let files = [
        (FILES[0], words::csv(&proposal).into_bytes()),
        (FILES[1], parts::csv(parts.into_iter(), proposal.currency.as_deref()).into_bytes()),
        (FILES[2], figure.into_bytes()),
        (FILES[3], html.into_bytes()),
        (FILES[4], screen::document(&document, &cautions)?.into_bytes()),
    ];
    folder::put(&folder, &files, &args.common)?;
    let text = || format!("{}\nFull results: {}\n", words::text(&proposal), escape::path(folder.dir()));
    screen::answer(args.common.json, &document, &cautions, text)?;
    // A cheaper one that is not decided leaves open which is the cheapest.
    let done = proposal.proposed.is_some() && words::cheaper_and_open(&proposal) == 0;
    Ok(if done { DONE } else { TARGET_MISSED })
}

fn failure(error: StudyError, checked: &Checked) -> Failure {
    match error {
        StudyError::NoTargets | StudyError::NoPrice(_) | StudyError::HalfPriced { .. } => {
            Failure::Input(vec![missing(&error, checked)])
        }
        _ => error.into(),
    }
}

/// What a scenario that is legal by itself lacks for a proposal; shown where it is to be added.
fn missing(error: &StudyError, checked: &Checked) -> Diagnostic {
    let (label, help) = match error {
        StudyError::NoTargets => (
            "the file ends here, and nothing is to be met",
            "add [targets] with `limit`, `overload_probability` or `ride_through`",
        ),
        _ => ("the file ends here", "give `price` to every type that a layout has, and [prices] with `currency`"),
    };
    Diagnostic::at_end(&checked.text, Fault::Missing, error.to_string(), label.to_owned(), help.to_owned())
}
