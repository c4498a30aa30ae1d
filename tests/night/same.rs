//! One trial, one answer: alone or among others, observed or not, on one thread or two.

use super::{Campaign, SHORT, Watcher, campaign, module, single, trials};
use bankwright::engine::observe::Nobody;
use bankwright::summary::counts::Counts;
use bankwright::trials::replay::replay;
use std::convert::Infallible;
use std::sync::Mutex;
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
    let (record, result) = replay(&campaign, 17).unwrap();
    assert_eq!(format!("{result:?}"), alone);
    assert_eq!(format!("{record:?}"), format!("{:?}", replay(&bank(), 17).unwrap().0));
}

/// Blocks of 40, of 7 and of 1 on two threads merge to the same counts.
#[test]
fn blocks_and_threads_do_not_matter() {
    let campaign = bank();
    let counted = |size: usize| {
        let blocks: Vec<_> = (0..40).step_by(size).map(|k| k as u64..(k + size).min(40) as u64).enumerate().collect();
        let sum = Mutex::new(Counts::new(&campaign.model));
        let sink = |_, counts: Counts| {
            sum.lock().unwrap().merge(&counts);
            Ok::<(), Infallible>(())
        };
        let pool = rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap();
        pool.install(|| campaign.run(&blocks, &AtomicBool::new(false), &|_| (), &sink)).unwrap();
        serde_json::to_string(&sum.into_inner().unwrap()).unwrap()
    };
    let whole = counted(40);
    assert_eq!(counted(7), whole);
    assert_eq!(counted(1), whole);
}
