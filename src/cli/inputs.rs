//! `bankwright compare --inputs`: what moves the nights of the scenario as written.

use super::compare::{StudyArgs, nights};
use super::run::signal::stop_on_signal;
use super::run::{Override, prepare};
use super::{Common, DONE, Failure, folder, print, print_json, read};
use crate::escape;
use crate::output::inputs::{chart, words};
use crate::output::kit::cautions::{Answer, Cautions};
use crate::output::kit::folder::{RESULTS, Writer};
use crate::study::inputs::{self, Inputs, Plan};
use serde::Serialize;

/// Every file, in the order in which they take their places.
const FILES: [&str; 3] = ["inputs.csv", "inputs.svg", RESULTS];

/// The document with what it shows in words.
#[derive(Serialize)]
struct Document<'a> {
    finding: Vec<String>,
    #[serde(flatten)]
    inputs: &'a Inputs,
}

pub fn inputs(common: &Common, study: &StudyArgs) -> Result<u8, Failure> {
    let mut checked = read(common)?;
    prepare(&mut checked, &Override { trials: study.trials, seed: study.seed })?;
    let machine = |error: &dyn ToString| Failure::Machine(error.to_string());
    let plan = Plan::new(&checked.scenario).map_err(|e| machine(&e))?;
    let plan = plan.ok_or_else(|| machine(&"the scenario has lost its load or its trials"))?;
    let dir = folder::of(study.out.as_ref(), &common.scenario, "-inputs");
    let folder = folder::open(&dir, Writer::Inputs, study.force, &FILES, common)?;
    let stop = stop_on_signal()?;
    let all = inputs::solve(&plan, &nights(&plan.campaigns, common, study, &stop)?);
    let document = Document { finding: words::sentences(&all), inputs: &all };
    let cautions = Cautions::new(Answer::Inputs, checked.scenario.from_memory());
    let figure = chart::inputs(&all).map_err(|e| machine(&e))?;
    let [table, picture, results] = FILES;
    let files = [
        (table, words::csv(&all).into_bytes()),
        (picture, figure.into_bytes()),
        (results, super::document(&document, &cautions)?.into_bytes()),
    ];
    folder::put(&folder, &files, common)?;
    if common.json {
        print_json(&document, &cautions)?;
    } else {
        print(&format!("{}\nFull results: {}\n{}", words::text(&all), escape::path(&dir), cautions.text()))?;
    }
    Ok(DONE)
}
