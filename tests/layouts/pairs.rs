//! Every pair counted anew, night by night.

use super::{TINY, candidates, checked, compared, nights};
use bankwright::engine::trial::Nobody;
use bankwright::summary::inference::Inference;

#[test]
fn the_counts_of_pairs_are_those_of_nights_one_by_one() {
    let checked = checked(TINY);
    let candidates = candidates(&checked);
    let found = nights(&candidates, 48);
    let trials = candidates.campaigns[0].model.trials.count;
    // By the engine that runs one trial at a time.
    let alone: Vec<Vec<(bool, f64)>> = candidates
        .campaigns
        .iter()
        .map(|campaign| {
            let night = |k| {
                let result = campaign.run_one(k, &mut Nobody).unwrap();
                let served = result.served_until.unwrap_or(campaign.model.trials.horizon);
                (result.any_over(), served.hours())
            };
            (0..trials).map(night).collect()
        })
        .collect();
    let mut decided = 0;
    for (i, first) in alone.iter().enumerate() {
        assert_eq!(found.counts[i].sum(|n| n.over), first.iter().filter(|n| n.0).count() as u64);
        for (j, second) in alone.iter().enumerate() {
            let pair = found.paired.pair(i, j);
            let count =
                |a: &[(bool, f64)], b: &[(bool, f64)]| a.iter().zip(b).filter(|(a, b)| a.0 && !b.0).count() as u64;
            assert_eq!(pair.over, [count(first, second), count(second, first)], "{i}, {j}");
            let longer = first.iter().zip(second).map(|(a, b)| a.1 - b.1).sum::<f64>() / trials as f64;
            assert!((pair.hours(Inference::new(true), 16.0).estimate - longer).abs() < 1e-6, "{i}, {j}");
            decided += pair.over[0];
        }
    }
    assert!(decided > 20, "the scenario tells its layouts hardly apart: {decided}");
}

#[test]
fn neither_blocks_nor_threads_change_a_count() {
    let checked = checked(TINY);
    let candidates = candidates(&checked);
    let one = nights(&candidates, 400);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(3).build().unwrap();
    let other = pool.install(|| nights(&candidates, 37));
    assert_eq!(one.paired, other.paired);
    let text = |found| serde_json::to_string(&compared(&candidates, found)).unwrap();
    assert_eq!(text(&one), text(&other));
}

/// A layout that differs in price alone goes through no nights; one with another rating goes through its own.
#[test]
fn what_the_nights_cannot_tell_apart_is_run_once() {
    let more = "[[layout]]\nname = \"dear\"\n[layout.module.box]\nprice = 1200\n\
                [[layout]]\nname = \"same cable, another name\"\n[layout.stack.A]\n\
                leads = [{ cable = \"twin\", positive = 3, negative = 1 }]\n\
                [cable.twin]\nresistance = \"1.2 mΩ\"\nrating = \"104 A\"\n\
                [[layout]]\nname = \"rated\"\n[layout.cable.thin]\nrating = \"103 A\"\n";
    let checked = checked(&TINY.replace("[layouts]\n", &format!("{more}[layouts]\n")));
    let candidates = candidates(&checked);
    let of = |name: &str| candidates.list.iter().position(|c| c.name == name).unwrap();
    assert_eq!([of("dear"), of("same cable, another name")].map(|k| candidates.stands_for(k)), [0, 0]);
    assert_eq!(candidates.stands_for(of("rated")), of("rated"));
    let comparison = compared(&candidates, &nights(&candidates, 400));
    let s = comparison.screening;
    // Eleven of the grid less the one as written, with itself and those three.
    assert_eq!((s.layouts, s.distinct), (14, 11));
    assert_eq!((s.nights_run, s.nights_spared), (11 * 400, 3 * 400));
}

#[test]
fn the_ranking_is_by_risk_and_its_differences_are_those_of_the_estimates() {
    let checked = checked(TINY);
    let candidates = candidates(&checked);
    let c = compared(&candidates, &nights(&candidates, 100));
    let risk = |k: usize| c.layouts[k].overload.estimate;
    assert!(c.ranking.windows(2).all(|two| risk(two[0]) <= risk(two[1])));
    for d in c.against_first.iter().chain(&c.neighbours).chain(&c.best_against_all) {
        assert!((d.overload.estimate - (risk(d.first) - risk(d.second))).abs() < 1e-12);
        assert!(d.overload.low <= d.overload.estimate && d.overload.estimate <= d.overload.high);
    }
    assert_eq!(c.neighbours.len(), c.layouts.len() - 1);
}
