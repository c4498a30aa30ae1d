//! Intervals, quantiles, and what chance does to modules.

use super::case::{Answer, Part};
use crate::draw::faults::timeline;
use crate::draw::{Purpose, Source};
use crate::scenario::{FaultStart, Faults};
use crate::summary::interval::{binomial_at_least, clopper_pearson, clopper_pearson_at};
use crate::summary::quantile::bounding_ranks;
use crate::time::Time;

pub fn part() -> Part {
    let mut part = Part::new("statistics");
    intervals(&mut part);
    quantiles(&mut part);
    failures(&mut part);
    part
}

fn intervals(part: &mut Part) {
    const SCIPY: &str = "SciPy manual, example of `scipy.stats.binomtest`, `proportion_ci`";
    const NEWCOMBE: &str = "by hand, with 60 digits: where a tail of the binomial sum is 2.5 %; counts of R. G. Newcombe, Two-sided \
                            confidence intervals for the single proportion, Statistics in Medicine 17 (1998) 857";
    for (k, n, low, high, source) in [
        (7, 50, 0.05819170, 0.26739600, SCIPY),
        (81, 263, 0.25273675, 0.36762192, NEWCOMBE),
        (1, 29, 0.00087265, 0.17764430, NEWCOMBE),
        (0, 20, 0.0, 0.16843347, NEWCOMBE),
    ] {
        let got = clopper_pearson(k, n);
        for (end, wanted, got) in [("low", low, got.low), ("high", high, got.high)] {
            let what = format!("{k} of {n}: {end} end of the 95 % interval of Clopper and Pearson");
            part.check(what, source, Answer(wanted, 6e-9, ""), got);
        }
    }
    part.check(
        "at least 3 of 16 out, each with 0.01: a bank that needs 14",
        "by hand: 1 − Σ C(16,k)·0.01^k·0.99^(16−k), k = 0, 1, 2",
        Answer(5.079424e-4, 6e-11, ""),
        binomial_at_least(3, 16, 0.01),
    );
}

fn quantiles(part: &mut Part) {
    let (low, high) = bounding_ranks(20, 50, 0.025);
    for (end, rank, got) in [("low", 6.0, low), ("high", 15.0, high)] {
        part.check(
            format!("median of 20: rank of the {end} end of its 95 % interval"),
            "by hand: of 20 tosses at most 5 are heads with 21700/2²⁰ = 2.07 %, at most 6 with 5.8 %",
            Answer(rank, 0.0, ""),
            got.map(|rank| rank as f64),
        );
    }
    // The least n of which the greatest bounds the 95 % quantile from above.
    let least = (1..200).find(|&n| bounding_ranks(n, 95, 0.05).1.is_some());
    part.check(
        "nights of which the greatest bounds 95 % of all, with 95 % confidence",
        "by hand: ln 0.05/ln 0.95 = 58.4 (S. S. Wilks, Determination of sample sizes for setting tolerance limits, Annals \
         of Mathematical Statistics 12 (1941) 91, from memory)",
        Answer(59.0, 0.0, ""),
        least.map(|n| n as f64),
    );
}

/// Modules that fail every 2000 h on average and take 24 h to repair, drawn for many nights of 14 h.
fn failures(part: &mut Part) {
    const TRIALS: u64 = 200_000;
    const SOURCE: &str = "by hand, two states: A(t) = μ/(λ+μ) + λ/(λ+μ)·e^(−(λ+μ)t) (K. S. Trivedi, Probability and Statistics \
                          with Reliability, Queuing, and Computer Science Applications, 2nd ed., Wiley 2002, from memory); \
                          tolerance: the 99.99 % interval of 200,000 draws";
    let night = Time::from_seconds(14.0 * 3600.0);
    let share_down = |start, seed| {
        let faults = Faults { mtbf: 2000.0 * 3600.0, mttr: Some(24.0 * 3600.0), start };
        let source = Source::new(seed, Purpose::Fault, "A1");
        let horizon = Time(night.0 + 1);
        (0..TRIALS).filter(|&trial| timeline(&source, trial, &faults, horizon).down_at(night)).count() as u64
    };
    for (start, what, in_service) in [
        (FaultStart::InService, "in service after 14 h from new", 0.99471315),
        (FaultStart::Stationary, "in service in the long run", 0.98814229),
    ] {
        let down = share_down(start, 1);
        let drawn = clopper_pearson_at(down, TRIALS, 0.9999);
        let answer = Answer(in_service, 0.5 * (drawn.high - drawn.low), "");
        part.check(format!("share of modules {what}, drawn"), SOURCE, answer, 1.0 - drawn.estimate);
    }
}
