//! `bankwright propose`: the cheapest layout that meets the targets.

use super::compare::{StudyArgs, failure, field};
use super::origin::Origin;
use super::run::progress::Progress;
use super::run::signal::stop_on_signal;
use super::run::{lacking, pool};
use super::{Common, DONE, Failure, TARGET_MISSED, folder, print, print_json, read};
use crate::diagnostic::Diagnostic;
use crate::escape;
use crate::output::kit::cautions::{Answer, Cautions};
use crate::output::kit::folder::{PAGE, RESULTS, Writer};
use crate::output::parts;
use crate::output::propose::page::{self, ProposalInput};
use crate::output::propose::{chart, words};
use crate::scenario::check::Checked;
use crate::study::compare::Field;
use crate::study::pace::Pace;
use crate::study::propose::{Proposal, ProposeError, propose as find, sets_to_solve};
use crate::summary::counts::Counts;
use crate::trials::shard::Identity;
use clap::Args;
use serde::Serialize;
use std::cell::OnceCell;
use std::ops::Range;
use std::sync::atomic::AtomicBool;
use std::sync::{Mutex, PoisonError};

#[derive(Debug, Args)]
pub struct ProposeArgs {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    study: StudyArgs,
}

/// Every file, in the order in which they take their places.
const FILES: [&str; 5] = ["proposal.csv", "parts.csv", "proposal.svg", PAGE, RESULTS];

/// The document with what it says in words.
#[derive(Serialize)]
struct Document<'a> {
    finding: Vec<String>,
    #[serde(flatten)]
    proposal: &'a Proposal,
}

pub fn propose(args: &ProposeArgs) -> Result<u8, Failure> {
    let mut checked = read(&args.common)?;
    let field = field(&mut checked, &args.study)?;
    let dir = folder::of(args.study.out.as_ref(), &args.common.scenario, "-propose");
    let folder = folder::open(&dir, Writer::Propose, args.study.force, &FILES, &args.common)?;
    let proposal = search(&field, args, &checked)?;
    let document = Document { finding: words::sentences(&proposal), proposal: &proposal };
    let cautions = Cautions::new(Answer::Propose, checked.from_memory());
    let figure = chart::proposal(&proposal).map_err(|e| Failure::Machine(e.to_string()))?;
    let parts: Vec<_> = field.candidates.iter().map(|c| (c.name.as_str(), &c.parts)).collect();
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
        (FILES[4], super::document(&document, &cautions)?.into_bytes()),
    ];
    folder::put(&folder, &files, &args.common)?;
    if args.common.json {
        print_json(&document, &cautions)?;
    } else {
        print(&format!("{}\nFull results: {}\n{}", words::text(&proposal), escape::path(&dir), cautions.text()))?;
    }
    // A cheaper one that is not decided leaves open which is the cheapest.
    let done = proposal.proposed.is_some() && words::cheaper_and_open(&proposal) == 0;
    Ok(if done { DONE } else { TARGET_MISSED })
}

fn search(field: &Field, args: &ProposeArgs, checked: &Checked) -> Result<Proposal, Failure> {
    let stop = stop_on_signal()?;
    let pool = pool(args.study.threads)?;
    let trials = field.campaigns[0].model.trials.count;
    let sets = Progress::of_sets(Some(sets_to_solve(field).map_err(failure)?), args.common.quiet);
    let nights = OnceCell::new();
    let run = |campaign: usize, of: Range<u64>| {
        sets.finish();
        let nights =
            nights.get_or_init(|| Progress::of_nights(trials * field.campaigns.len() as u64, 0, args.common.quiet));
        pool.install(|| nights_of(field, (campaign, of), &stop, nights))
    };
    let pace = Pace { stop: &stop, done: &|n| sets.add(n) };
    let found = find(field, &pace, &run);
    let progress = nights.get().unwrap_or(&sets);
    progress.finish();
    found.map_err(|error| match error {
        ProposeError::Interrupted => progress.interrupted(),
        ProposeError::Still(error) => failure(error),
        ProposeError::NoTargets | ProposeError::NoPrice(_) | ProposeError::HalfPriced { .. } => {
            Failure::Input(vec![missing(&error, checked)])
        }
    })
}

/// What a scenario that is legal by itself lacks for a proposal; shown where it is to be added.
fn missing(error: &ProposeError, checked: &Checked) -> Diagnostic {
    let (label, help) = match error {
        ProposeError::NoTargets => (
            "the file ends here, and nothing is to be met",
            "add [targets] with `limit`, `overload_probability` or `ride_through`",
        ),
        _ => ("the file ends here", "give `price` to every type that a layout has, and [prices] with `currency`"),
    };
    lacking(&checked.text, error.to_string(), label.to_owned(), help.to_owned())
}

/// So many nights of a campaign; `None` if `stop` was raised.
fn nights_of(
    field: &Field,
    (campaign, nights): (usize, Range<u64>),
    stop: &AtomicBool,
    progress: &Progress,
) -> Option<Counts> {
    let campaign = &field.campaigns[campaign];
    let blocks = Identity::new("", 0, nights.end - nights.start).blocks().into_iter().enumerate();
    let blocks: Vec<_> = blocks.map(|(k, b)| (k, nights.start + b.start..nights.start + b.end)).collect();
    let total = Mutex::new(Counts::new(&campaign.model));
    let merge = |_, counts: Counts| {
        total.lock().unwrap_or_else(PoisonError::into_inner).merge(&counts);
        Ok::<(), ()>(())
    };
    campaign.run(&blocks, stop, &|n| progress.add(n), &merge).ok()?;
    let counts = total.into_inner().unwrap_or_else(PoisonError::into_inner);
    (counts.trials == nights.end - nights.start).then_some(counts)
}
