//! `bankwright check`: judges a scenario and tells what it holds; runs and writes nothing.

use crate::cli::prelude::*;
use crate::network::bank::Bank;
use crate::output::kit::number;
use crate::scenario::Scenario;
use serde::Serialize;
use std::fmt::Write;

const CAUTION: Caution = Caution::of_bank(
    "This says nothing of local codes: they, the equipment's manuals and qualified persons decide what may be built.",
);

#[derive(Debug, Args)]
pub struct Arguments {
    #[command(flatten)]
    common: Common,
}

/// What a scenario without faults holds.
#[derive(Debug, Serialize)]
struct Contents {
    scenario: String,
    modules: usize,
    stacks: usize,
    lead_pairs: usize,
    nodes: usize,
    branches: usize,
    /// Null without `[trials]`.
    trials: Option<u64>,
    seed: Option<u64>,
    nights: Option<usize>,
    /// Proposed beside the scenario as written.
    layouts: usize,
    profiles: Vec<String>,
    not_modelled: Vec<String>,
    digest: String,
}

pub fn run(args: &Arguments) -> Result<u8, Failure> {
    let checked = args.common.read()?;
    let layouts = checked.layouts.len();
    let cautions = Cautions::new(CAUTION, checked.from_memory());
    let contents = Contents { layouts, ..contents(&checked.scenario, checked.digest)? };
    screen::answer(args.common.json, &contents, &cautions, || tell(&contents))?;
    Ok(DONE)
}

fn contents(scenario: &Scenario, digest: String) -> Result<Contents, Failure> {
    let bank = Bank::new(scenario)?;
    Ok(Contents {
        scenario: scenario.title.clone(),
        modules: scenario.module_count(),
        stacks: scenario.stacks.len(),
        lead_pairs: scenario.stacks.iter().map(|s| s.leads.len()).sum(),
        nodes: bank.network.rails().len(),
        branches: bank.network.branches().len(),
        trials: scenario.trials.as_ref().map(|t| t.count),
        seed: scenario.trials.as_ref().map(|t| t.seed),
        nights: scenario.trials.as_ref().map(|t| t.nights.len()),
        layouts: 0,
        profiles: scenario.sources().flat_map(|s| s.gaps.iter().cloned()).collect(),
        not_modelled: scenario.left_out(),
        digest,
    })
}

fn counted(n: usize, one: &str, many: &str) -> String {
    number::counted(n as u64, one, many)
}

fn tell(c: &Contents) -> String {
    let mut text = format!(
        "{}\n{} in {} on {}: {} nodes, {} branches\n",
        c.scenario,
        counted(c.modules, "module", "modules"),
        counted(c.stacks, "stack", "stacks"),
        counted(c.lead_pairs, "lead pair", "lead pairs"),
        c.nodes,
        c.branches
    );
    if let (Some(trials), Some(seed), Some(nights)) = (c.trials, c.seed, c.nights) {
        let _ = writeln!(
            text,
            "{} from {}, seed {seed}",
            number::counted(trials, "trial", "trials"),
            counted(nights, "calendar night", "calendar nights")
        );
    }
    if c.layouts > 0 {
        let _ = writeln!(text, "{} proposed beside it", counted(c.layouts, "layout", "layouts"));
    }
    for gap in &c.profiles {
        let _ = writeln!(text, "profile: {gap}");
    }
    for what in &c.not_modelled {
        let _ = writeln!(text, "not modelled: {what}");
    }
    text + "The scenario is complete and can be run.\n"
}
