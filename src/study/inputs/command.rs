//! `bankwright compare --inputs`: what moves the nights of the scenario as written.

use crate::cli::prelude::*;
use crate::escape;
use crate::output::kit::folder::RESULTS;
use crate::study::inputs::output::{chart, words};
use crate::study::inputs::{self, Plan};

const CAUTION: Caution = Caution::of_bank(
    "What would help may not be allowed: before a bank is changed, local codes, manuals and a qualified person decide.",
);

/// Every file, in the order in which they take their places.
const FILES: [&str; 3] = ["inputs.csv", "inputs.svg", RESULTS];

pub fn run(common: &Common, study: &StudyArguments) -> Result<u8, Failure> {
    let checked = common.read()?;
    let plan = Plan::new(&checked, study.options())?;
    let folder = folder::of_study("inputs", study, &FILES, common)?;
    let waiting = Waiting::new(common.quiet)?;
    let all = waiting.end(inputs::solve(&plan, &waiting.progress()))?;
    let document = Told { finding: words::sentences(&all), answer: &all };
    let cautions = Cautions::new(CAUTION, checked.scenario.from_memory());
    let [table, picture, results] = FILES;
    let files = [
        (table, words::csv(&all).into_bytes()),
        (picture, chart::inputs(&all)?.into_bytes()),
        (results, screen::document(&document, &cautions)?.into_bytes()),
    ];
    folder::put(&folder, &files, common)?;
    let text = || format!("{}\nFull results: {}\n", words::text(&all), escape::path(folder.dir()));
    screen::answer(common.json, &document, &cautions, text)?;
    Ok(DONE)
}
