//! Layouts under the same nights, against each run by itself.

mod inputs;
mod jointly;
mod obstacle;
mod page;
mod pairs;
mod proposed;
mod shipped;
mod shown;

use bankwright::progress::Progress;
use bankwright::scenario::check::{Checked, parse};
use bankwright::study::compare::{self, Candidates, Comparison};
use bankwright::trials::Options;
use bankwright::trials::blocks::Block;
use bankwright::trials::paired_trials::{self, PairedTrials};
use std::path::Path;

/// Three modules on one lead, faults and spreads, a few minutes long; invented.
const TINY: &str = include_str!("layouts/tiny.toml");

/// With targets and prices, without, and of one layout that no grid has, whose name is markup.
fn any_scenarios() -> [String; 3] {
    let bare: String = TINY.lines().filter(|l| !l.starts_with("price = ")).map(|l| format!("{l}\n")).collect();
    let (before, _) = bare.split_once("[targets]").unwrap();
    let odd = format!(
        "{before}\n[[layout]]\nname = \"<odd> & one\"\n[layout.stack.A]\n\
         leads = [{{ cable = \"thin\", positive = 2, negative = 1 }}]\n"
    );
    [TINY.to_owned(), before.to_owned() + "[[layout]]\nname = \"twin\"\n", odd]
}

fn checked(text: &str) -> Checked {
    parse(text, "tiny.toml", Path::new("")).unwrap_or_else(|f| panic!("{}", bankwright::diagnostic::render(&f, false)))
}

fn candidates(checked: &Checked) -> Candidates {
    Candidates::of(checked.scenario.clone(), &checked.layouts, Options::default()).unwrap()
}

/// All nights, in blocks of a length.
fn nights(candidates: &Candidates, block: u64) -> PairedTrials {
    let count = candidates.trials();
    let starts = (0..count).step_by(block as usize).enumerate();
    let blocks = starts.map(|(number, k)| Block { number, trials: k..(k + block).min(count) }).collect();
    paired_trials::run(&candidates.campaigns, blocks, &Progress::none()).unwrap()
}

/// What all layouts came to, with limits of at most one module out.
fn compared(candidates: &Candidates, found: &PairedTrials) -> Comparison {
    compare::compare(candidates, found, compare::at_rest(candidates, 1, &Progress::none()).unwrap())
}
