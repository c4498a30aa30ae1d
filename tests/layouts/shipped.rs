//! The shipped scenario with a grid tells the story that it is shipped for.

use super::{candidates, compared};
use bankwright::diagnostic::render;
use bankwright::progress::Progress;
use bankwright::scenario::check::{Checked, load};
use bankwright::scenario::{Layout, LimitTarget, TakeOff};
use bankwright::study::compare::{Candidates, limit_verdict, limits_within, question};
use bankwright::study::limit::{self, MOST_SETS};
use bankwright::summary::Verdict;
use bankwright::trials::{Options, blocks, paired_trials};
use std::path::Path;

fn shipped(file: &str) -> Checked {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(file);
    load(&path).unwrap_or_else(|faults| panic!("{}", render(&faults, false)))
}

/// Two kinds of lead by one to four pairs by five take-offs, less one pair at both ends, every module once; and a
/// controller.
#[test]
fn the_grid_is_complete() {
    let checked = shipped("polder_leads.toml");
    assert_eq!(checked.layouts.len(), 1 + 2 * (4 + 4 + 3 + 4 + 1));
    for layout in &checked.layouts {
        assert!(TakeOff::of_bank(&layout.design.stacks).is_some(), "{}", layout.name);
    }
    let candidates = candidates(&checked);
    assert!(candidates.list.iter().all(|c| c.parts.price.is_some() && c.parts.unpriced.is_empty()));
}

/// As written it is the polder; its one pair moved from the top to the middle serves more of the same nights, for the
/// same price.
#[test]
fn where_leads_take_off_decides() {
    let mut checked = shipped("polder_leads.toml");
    checked.layouts.retain(|l: &Layout| l.name == "1 pair, spread, thick");
    let candidates = candidates(&checked);
    let run = |all: &Candidates| paired_trials::run(&all.campaigns, blocks::divide(0..400), &Progress::none()).unwrap();
    let found = run(&candidates);
    let polder = shipped("polder.toml").scenario;
    let of_polder = run(&Candidates::of(polder, &[], Options::default()).unwrap());
    assert_eq!(found.counts[0].ended, of_polder.counts[0].ended);
    assert_eq!(found.counts[0].sum(|n| n.over), of_polder.counts[0].sum(|n| n.over));
    let short = found.paired.pair(0, 1).short;
    println!("not served as long as wanted as written alone and spread alone: {short:?}");
    assert!(short[0] > 12 && short[0] > 5 * short[1], "{short:?}");
    let c = compared(&candidates, &found);
    assert_eq!(c.layouts[0].price, c.layouts[1].price);
    let limit = |k: usize| c.layouts[k].at_rest.limits[1].current_a.unwrap();
    assert!(limit(0) < 500.0 && limit(1) > 500.0);
}

/// A limit that is known within a range alone is missed only where the whole range is below the target.
#[test]
fn a_bounded_limit_excludes_nothing_that_it_leaves_open() {
    let scenario = shipped("boat_house.toml").scenario;
    let of_two = |most_sets| {
        let question = limit::Question { most_sets, ..question(&scenario, 2) };
        limits_within(&scenario, &question, &Progress::none()).unwrap().pop().unwrap()
    };
    let (exact, bounded) = (of_two(MOST_SETS), of_two(1));
    assert!(exact.exact && exact.high_a == exact.current_a);
    let (low, high) = (bounded.current_a.unwrap(), bounded.high_a.unwrap());
    assert!(!bounded.exact && low < high && (low..=high).contains(&exact.current_a.unwrap()));
    let judged = |current| limit_verdict(LimitTarget { current, outages: 2 }, &bounded).verdict;
    assert_eq!(judged(low * 0.99), Verdict::Met);
    assert_eq!(judged((low + high) / 2.0), Verdict::NotDecided);
    assert_eq!(judged(high * 1.01), Verdict::Missed);
}
