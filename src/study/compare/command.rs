//! `bankwright compare`: the layouts that a scenario proposes, under the same nights.

use crate::cli::prelude::*;
use crate::escape;
use crate::output::kit::folder::{PAGE, RESULTS};
use crate::study::compare::output::page::{self, LayoutFigures, LayoutsInput};
use crate::study::compare::output::{chart, tables as csv, text, words as finding};
use crate::study::compare::{Candidates, Comparison, solve};
use crate::study::inputs::command as inputs;
use crate::study::parts::output as parts;
use crate::summary::Verdict;

const CAUTION: Caution = Caution::of_bank(
    "A comparison, not an approval: before a layout is built, local codes, manuals and a qualified person decide.",
);

#[derive(Debug, Args)]
pub struct Arguments {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    study: StudyArguments,
    /// Instead of layouts: each input of the scenario as written alone a step lower and higher, and what buys most
    #[arg(long)]
    inputs: bool,
}

/// Every file, in the order in which they take their places.
const FILES: [&str; 8] =
    ["layouts.csv", "differences.csv", "parts.csv", "leads.svg", "price.svg", "hours.svg", PAGE, RESULTS];

/// Name and bytes.
type File = (&'static str, Vec<u8>);

pub fn run(args: &Arguments) -> Result<u8, Failure> {
    if args.inputs {
        return inputs::run(&args.common, &args.study);
    }
    let checked = args.common.read()?;
    let candidates = Candidates::new(&checked, args.study.options())?;
    let folder = folder::of_study("compare", &args.study, &FILES, &args.common)?;
    let waiting = Waiting::new(args.common.quiet)?;
    let comparison = waiting.end(solve(&candidates, &waiting.progress()))?;
    let document = Told { finding: finding::sentences(&comparison), answer: &comparison };
    let origin = Origin::of(&args.common.scenario, &checked);
    let cautions = Cautions::new(CAUTION, checked.from_memory());
    let results = screen::document(&document, &cautions)?;
    folder::put(&folder, &files(&candidates, &origin, (&comparison, results))?, &args.common)?;
    let text = || format!("{}Full results: {}\n", text::text(&comparison), escape::path(folder.dir()));
    screen::answer(args.common.json, &document, &cautions, text)?;
    // One layout that meets every target is enough: the comparison has found it.
    let met = comparison.layouts.iter().any(|l| l.verdict() == Verdict::Met);
    Ok(if met { DONE } else { TARGET_MISSED })
}

fn files(
    candidates: &Candidates,
    origin: &Origin,
    (comparison, document): (&Comparison, String),
) -> Result<Vec<File>, Failure> {
    let parts = candidates.list.iter().map(|c| (c.name.as_str(), &c.parts));
    let [layouts, differences, parts_list, leads, price, hours, overview, results] = FILES;
    let (of_leads, of_price, of_hours) =
        (chart::leads(comparison)?, chart::price(comparison)?, chart::hours(comparison)?);
    let html = page::layouts(&LayoutsInput {
        comparison,
        figures: LayoutFigures { leads: &of_leads, price: &of_price, hours: &of_hours },
        parts: &candidates.list.iter().map(|c| &c.parts).collect::<Vec<_>>(),
        not_modelled: &candidates.list[0].scenario.left_out(),
        provenance: origin.provenance(),
    });
    Ok(vec![
        (layouts, csv::layouts_csv(comparison).into_bytes()),
        (differences, csv::differences_csv(comparison).into_bytes()),
        (parts_list, parts::csv(parts, comparison.currency.as_deref()).into_bytes()),
        (leads, of_leads.into_bytes()),
        (price, of_price.into_bytes()),
        (hours, of_hours.into_bytes()),
        (overview, html.into_bytes()),
        (results, document.into_bytes()),
    ])
}
