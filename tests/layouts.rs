//! Layouts under the same nights, against each run by itself.

mod inputs;
mod jointly;
mod obstacle;
mod page;
mod pairs;
mod proposed;
mod shipped;
mod shown;

use bankwright::scenario::check::{Checked, parse};
use bankwright::study::compare::{self, Comparison, Field};
use bankwright::study::pace::Pace;
use bankwright::trials::side_by_side::{self, SideBySide};
use std::path::Path;
use std::sync::atomic::AtomicBool;

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

fn field(checked: &Checked) -> Field {
    let s = &checked.scenario;
    Field::new(s, &checked.layouts, s.load.as_ref().unwrap(), s.trials.as_ref().unwrap()).unwrap()
}

/// All nights, in blocks of a length.
fn nights(field: &Field, block: u64) -> SideBySide {
    let count = field.campaigns[0].model.trials.count;
    let blocks: Vec<_> = (0..count).step_by(block as usize).map(|k| k..(k + block).min(count)).collect();
    side_by_side::run(&field.campaigns, &blocks, &AtomicBool::new(false), &|_| ()).unwrap()
}

/// What all layouts came to, with limits of at most one module out.
fn compared(field: &Field, found: &SideBySide) -> Comparison {
    compare::compare(field, found, compare::stills(field, 1, &Pace::alone()).unwrap())
}
