//! `bankwright compare --inputs`: what moves the nights of the scenario as written.

use super::compare::{StudyArgs, nights};
use super::run::signal::stop_on_signal;
use super::run::{Override, prepare};
use super::{Common, DONE, Failure, print, print_json, read, study_folder};
use crate::escape;
use crate::output::cautions::{Answer, Cautions};
use crate::output::folder::RESULTS;
use crate::output::{chart, inputs_words};
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
    let dir = study_folder::of(study.out.as_ref(), &common.scenario, "inputs");
    study_folder::refuse_taken(&dir, study.force, &FILES)?;
    let stop = stop_on_signal()?;
    let all = inputs::solve(&plan, &nights(&plan.campaigns, common, study, &stop)?);
    let document = Document { finding: inputs_words::sentences(&all), inputs: &all };
    let cautions = Cautions::new(Answer::Inputs, checked.scenario.from_memory());
    let figure = chart::inputs(&all).map_err(|e| machine(&e))?;
    let [table, picture, results] = FILES;
    let files = [
        (table, inputs_words::csv(&all).into_bytes()),
        (picture, figure.into_bytes()),
        (results, super::document(&document, &cautions)?.into_bytes()),
    ];
    study_folder::write(&dir, &files)?;
    if common.json {
        print_json(&document, &cautions)?;
    } else {
        print(&format!("{}\nFull results: {}\n{}", inputs_words::text(&all), escape::path(&dir), cautions.text()))?;
    }
    Ok(DONE)
}
