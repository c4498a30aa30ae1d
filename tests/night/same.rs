//! One trial, one answer: alone or among others, observed or not, on one thread or two.

use super::{Campaign, SHORT, Watcher, campaign, module, single, trials};
use bankwright::engine::trial::Nobody;
use bankwright::progress::Progress;
use bankwright::summary::Merge;
use bankwright::summary::counts::Counts;
use bankwright::trials::Options;
use bankwright::trials::replay::replay;
use std::sync::atomic::AtomicBool;

fn bank() -> Campaign {
    let chance = "[faults]\nmodule_mtbf = \"10 h\"\nmodule_mttr = \"3 h\"\n[spread]\nresistance = \"5 %\"\n\
                  capacity = \"2 %\"\nload = \"10 %\"\n";
    let stacks = ["A", "B", "C"].map(|s| single(s, "m", "")).concat();
    let m = module("m", 15.0, "\"lfp\"", "discharge_limit = \"60 A\"");
    let trials = trials("8 h", "").replace("count = 1", "count = 40");
    campaign(&[&m, SHORT, &stacks, "[load]\npower = \"4 kW\"\n", chance, &trials])
}

#[test]
fn alone_among_others_watched_and_replayed() {
    let alone = format!("{:?}", bank().run_one(17, &mut Nobody).unwrap());
    let campaign = bank();
    for trial in [3, 17, 39, 17] {
        let again = format!("{:?}", campaign.run_one(trial, &mut Nobody).unwrap());
        assert_eq!(again == alone, trial == 17);
    }
    assert_eq!(format!("{:?}", campaign.run_one(17, &mut Watcher::default()).unwrap()), alone);
    let (record, result) = replay(&campaign, 17, &AtomicBool::new(false)).unwrap();
    assert_eq!(format!("{result:?}"), alone);
    assert_eq!(format!("{record:?}"), format!("{:?}", replay(&bank(), 17, &AtomicBool::new(false)).unwrap().0));
}

/// Blocks of 40, of 7 and of 1 on two threads merge to the same counts.
#[test]
fn blocks_and_threads_do_not_matter() {
    let campaign = bank();
    let two = Options { threads: Some(2), ..Options::default() };
    let counted = |size: usize| {
        let mut sum = Counts::new(&campaign.model);
        for first in (0..40).step_by(size) {
            let trials = first as u64..(first + size).min(40) as u64;
            let run = || campaign.run(trials, &(), &Progress::none());
            sum.merge(&two.on_threads(run).unwrap().unwrap());
        }
        serde_json::to_string(&sum).unwrap()
    };
    let whole = counted(40);
    assert_eq!(counted(7), whole);
    assert_eq!(counted(1), whole);
}
