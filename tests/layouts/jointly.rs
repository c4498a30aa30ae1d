//! Targets of many layouts are judged together.

use super::{TINY, candidates, checked, compared, nights};
use bankwright::study::compare::Comparison;
use bankwright::study::compare::output::{text, words as finding};
use bankwright::summary::Verdict;
use bankwright::summary::interval::clopper_pearson;
use std::collections::BTreeSet;

/// With another target for overload and for the limit with one module out.
fn comparison(overload: f64, limit: &str) -> Comparison {
    let text = TINY.replace("overload_probability = 0.4", &format!("overload_probability = {overload}"));
    let checked = checked(&text.replace("limit = \"70 A\"", &format!("limit = \"{limit}\"")));
    let candidates = candidates(&checked);
    compared(&candidates, &nights(&candidates, 100))
}

/// P(at most `k` of `n`) by the sum of binomial terms, each from the one before.
fn at_most(k: u64, n: u64, p: f64) -> f64 {
    let mut term = (1.0 - p).powi(n as i32);
    let mut sum = term;
    for i in 0..k {
        term *= (n - i) as f64 / (i + 1) as f64 * p / (1.0 - p);
        sum += term;
    }
    sum
}

/// Eleven layouts, ten that the nights can tell apart; of those 100 A with one module out leaves some. One look and one
/// target: each end of an interval leaves 5 % / n / 2 beyond it (C. E. Bonferroni; C. J. Clopper and E. S. Pearson).
#[test]
fn the_error_is_spread_over_the_layouts_that_the_limit_leaves() {
    for (limit, all) in [("70 A", true), ("110 A", false)] {
        let c = comparison(0.4, limit);
        let left: BTreeSet<&str> = (c.layouts.iter())
            .filter(|l| l.at_rest.limit_target.as_ref().unwrap().met)
            .map(|l| l.same_nights_as.as_deref().unwrap_or(&l.name))
            .collect();
        let distinct = c.screening.distinct as usize;
        assert_eq!((c.intervals, c.intervals == distinct), (left.len(), all), "{limit}");
        assert!(c.intervals > 1 && (c.confidence_each - (1.0 - 0.05 / left.len() as f64)).abs() < 1e-15);
        let tail = 0.05 / left.len() as f64 / 2.0;
        let mut seen = 0;
        for l in &c.layouts {
            let got = l.targets[0].got;
            let hits = (got.estimate * 400.0).round() as u64;
            assert_eq!(l.overload, clopper_pearson(hits, 400), "the risk itself stands alone");
            if 0 < hits && hits < 400 {
                let beyond = [at_most(hits, 400, got.high), 1.0 - at_most(hits - 1, 400, got.low)];
                assert!(beyond.iter().all(|p| (p / tail - 1.0).abs() < 1e-6), "{beyond:?} instead of {tail}");
                seen += 1;
            }
        }
        assert!(seen > 2);
        let told = text::text(&c);
        let words = format!("widened so that all {} hold together at 95 %.", c.intervals);
        assert!(told.contains(&words), "{told}");
    }
}

/// A target between the two upper ends is met by a layout alone, and not decided among many.
#[test]
fn a_layout_that_meets_its_target_alone_may_not_do_so_among_many() {
    let before = comparison(0.4, "70 A");
    let one = before.layouts.iter().find(|l| l.overload.estimate > 0.0 && l.overload.high < 0.9).unwrap();
    let (alone, jointly) = (one.overload.high, one.targets[0].got.high);
    assert!(alone + 1e-3 < jointly, "{alone} {jointly}");
    let between = (alone + jointly) / 2.0;
    let c = comparison(between, "70 A");
    let same = c.layouts.iter().find(|l| l.name == one.name).unwrap();
    assert!(same.overload.high < between && same.verdict() == Verdict::NotDecided);
    let cheapest = finding::cheapest_met(&c).map(|k| c.layouts[k].name.as_str());
    assert_ne!(cheapest, Some(one.name.as_str()));
}

/// Without a target of the nights there is no interval to judge by, and nothing is told of any.
#[test]
fn the_limit_alone_needs_no_interval() {
    let checked = checked(&TINY.replace("overload_probability = 0.4\n", ""));
    let candidates = candidates(&checked);
    let c = compared(&candidates, &nights(&candidates, 400));
    assert_eq!((c.intervals, c.confidence_each), (0, 0.95));
    assert!(!text::text(&c).contains("hold together"));
}
