//! Modules that come back into service.

use super::*;
use bankwright::summary::counts::Counts;
use bankwright::summary::merge::Merge;

/// Three modules of one constant voltage, of 10, 10 and 20 mΩ, share 120 A as their conductances: 48, 48 and 24 A (Ohm's law). Each
/// but the first is out for a while and comes back with its share. The greatest counts, whether it came first or last.
#[test]
fn the_greatest_current_of_those_that_rejoin_counts() {
    let kind = |name: &str, milliohm: f64| {
        module(name, &format!("capacity = \"1000 Ah\"\nresistance = \"{milliohm} mΩ\"\nopen_circuit = \"52 V\""))
    };
    let stacks = [single("A", "m", ""), single("B", "m", ""), single("C", "n", "")].concat();
    let more = "[load]\ncurrent = \"120 A\"\n[trials]\ncount = 1\nhorizon = \"20 min\"\n";
    let c = campaign(&[&kind("m", 10.0), &kind("n", 20.0), SHORT, &stacks, more]);
    let outages = |first: usize, second: usize| {
        let mut realization = c.realization(0);
        at(&mut realization, RandomEvent::Module(first), &[100.0, 200.0]);
        at(&mut realization, RandomEvent::Module(second), &[300.0, 400.0]);
        realization
    };
    for (realization, back) in [(outages(1, 2), 200.0), (outages(2, 1), 400.0)] {
        each_way(&c, &realization, |r| {
            let rejoined = r.rejoined.expect("both came back");
            assert_eq!(rejoined.module, 1);
            near(rejoined.current, 48.0, 1e-6);
            near(rejoined.at.seconds(), back, 1e-6);
        });
    }
    // Over all trials it is the greatest of theirs, in any order.
    let small = |trial: u64| {
        let mut realization = c.realization(trial);
        at(&mut realization, RandomEvent::Module(2), &[300.0, 400.0]);
        realization
    };
    let large = Realization { trial: 1, ..outages(1, 2) };
    for realizations in
        [[small(0), large.clone(), small(2)], [large.clone(), small(0), small(2)], [small(0), small(2), large]]
    {
        let mut counts = Counts::new(&c.model);
        for realization in &realizations {
            let mut one = Counts::new(&c.model);
            one.add(&trial::run(&c.model, realization, &mut Nobody).unwrap());
            counts.merge(&one);
        }
        let greatest = counts.cascades.rejoined.expect("some came back");
        assert_eq!((greatest.module, greatest.trial), (1, 1));
        near(greatest.current, 48.0, 1e-6);
    }
}
