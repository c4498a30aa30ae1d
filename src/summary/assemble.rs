//! From counts to the results document: here, once, whole numbers become probabilities.
//!
//! In: the scenario, its model, and the counts of all trials. Out: `Results`.

use super::counts::{Counts, NightCounts, Worst};
use super::estimate::Estimate;
use super::inference::Inference;
use super::merge::Merge;
use super::protection;
use super::quantile::quantile;
use super::results::{
    AtLeast, CascadeSize, Cascades, Chain, Dropout, ElementResult, HalfStep, Nights, Overload, Quality, Rejoining,
    Results, RideThrough, Sequence, Unserved, WorstNight, YearResult,
};
use super::targets::{Target, TargetVerdict};
use crate::engine::cascade::{Loss, Lost};
use crate::engine::model::Model;
use crate::engine::result::{ChainResult, Defect};
use crate::scenario::Scenario;
use crate::time::Time;
use std::collections::BTreeMap;

/// Version of the results document: a change of meaning takes a new number.
pub const SCHEMA_VERSION: u32 = 1;

/// Width of a bar of the ride-through histogram [h].
const BAR: f64 = 0.25;

/// Chains that are told one by one; rarer ones are in the counts of their elements.
const CHAINS: usize = 100;

/// Makes the results document.
pub fn results(
    scenario: &Scenario,
    model: &Model,
    counts: &Counts,
    half_step: Option<HalfStep>,
    warnings: Vec<String>,
) -> Results {
    let inference = Inference::new(model.random);
    let trials = &model.trials;
    let any = inference.of_nights(counts.by_night(|n| n.over));
    let modules = model.modules.len();
    Results {
        schema_version: SCHEMA_VERSION,
        scenario: scenario.title.clone(),
        seed: trials.seed,
        trials: counts.trials,
        exact: !model.random,
        horizon_h: trials.horizon.hours(),
        step_s: trials.step.seconds(),
        hold_s: trials.hold_time.seconds(),
        ride_through_h: ride_through(model, counts),
        ride_through_met: served(inference, counts),
        overload: Overload {
            any,
            any_by_night: any.by_night,
            conductors: (modules..counts.elements.len()).map(|k| element(model, counts, k)).collect(),
            modules: (0..modules).map(|k| element(model, counts, k)).collect(),
        },
        over_temperature: protection::over_temperature(model, counts),
        device_opened: protection::device_opened(model, counts),
        dropout: dropout(inference, counts),
        unserved_wh: Unserved {
            mean: counts.unserved.mean().unwrap_or(0.0),
            std_error: counts.unserved.std_error().unwrap_or(0.0),
            brief_mean: counts.brief.mean().unwrap_or(0.0),
            curtailed_mean: counts.curtailed.mean().unwrap_or(0.0),
        },
        chains: chains(model, counts),
        cascade: cascades(model, counts),
        nights: nights_by_year(model, counts),
        worst: counts.worst.iter().map(|w| worst(model, w)).collect(),
        targets: targets(scenario, counts, inference),
        limit_target: None,
        quality: Quality {
            kirchhoff_a: counts.work.kirchhoff,
            power_balance: counts.work.power_balance,
            steps: counts.work.steps,
            solves: counts.work.solves,
            events: counts.work.events,
            failed_trials: counts.failed,
            half_step,
        },
        not_modelled: scenario.left_out(),
        warnings: warnings.into_iter().chain(failures(counts)).collect(),
    }
}

fn failures(counts: &Counts) -> impl Iterator<Item = String> + '_ {
    counts.failures.iter().map(|(trial, why)| {
        format!("trial {trial} could not be finished and counts as overloaded and not served: {why}")
    })
}

/// The chance to be served for as long as is wanted.
fn served(inference: Inference, counts: &Counts) -> Estimate {
    inference.of_nights(counts.by_night(|n| n.trials - n.short))
}

fn ride_through(model: &Model, counts: &Counts) -> RideThrough {
    let (horizon, inference) = (model.trials.horizon, Inference::new(model.random));
    let mut all = counts.ended.clone();
    if counts.served > 0 {
        *all.entry(horizon).or_default() += counts.served;
    }
    let sorted: Vec<(i64, u64)> = all.iter().map(|(t, n)| (t.0, *n)).collect();
    let at = |percent| {
        let q = quantile(&sorted, percent, [0, horizon.0]);
        let hours = |micros: i64| Time(micros).hours();
        q.map(|q| inference.quantile(q))
            .map_or((0.0, [0.0, horizon.hours()]), |q| (hours(q.value), [hours(q.low), hours(q.high)]))
    };
    let ((p5, p5_interval), (p50, p50_interval), (p95, p95_interval)) = (at(5), at(50), at(95));
    let sum: i128 = sorted.iter().map(|&(t, n)| i128::from(t) * i128::from(n)).sum();
    RideThrough {
        p5,
        p50,
        p95,
        mean: sum as f64 * 1e-6 / 3600.0 / (counts.trials.max(1) as f64),
        p5_interval,
        p50_interval,
        p95_interval,
        censored: inference.of_nights(counts.by_night(|n| n.trials - n.ended)),
        ended: counts.endings,
        histogram: histogram(counts),
    }
}

fn histogram(counts: &Counts) -> Vec<(f64, u64)> {
    let mut bars: BTreeMap<u64, u64> = BTreeMap::new();
    for (end, nights) in &counts.ended {
        *bars.entry((end.hours() / BAR).ceil().max(1.0) as u64).or_default() += nights;
    }
    bars.into_iter().map(|(bar, nights)| (bar as f64 * BAR, nights)).collect()
}

fn element(model: &Model, counts: &Counts, k: usize) -> ElementResult {
    let seen = &counts.elements[k];
    let over = counts.by_night(|n| n.over_by_element.get(&k).copied().unwrap_or(0));
    let Estimate { estimate, low, high, by_night } = Inference::new(model.random).of_nights(over);
    let (rating_a, charge_rating_a) = match model.bank.conductor(k) {
        Some(conductor) => (conductor.nominal_limit(), None),
        None => (model.limits[k].discharge, model.limits[k].charge),
    };
    ElementResult {
        id: model.bank.branch_id(k).to_string(),
        estimate,
        low,
        high,
        by_night,
        nights: seen.nights,
        rating_a,
        charge_rating_a,
        mean_time_over_h: seen.time_over as f64 * 1e-6 / 3600.0 / seen.nights.max(1) as f64,
        greatest_a: seen.greatest,
        greatest_trial: seen.greatest_trial,
        greatest_at_h: seen.greatest_at.hours(),
    }
}

fn dropout(inference: Inference, counts: &Counts) -> Dropout {
    let of = |k: u64| inference.probability(k, counts.trials);
    let seen = &counts.dropout;
    let at_least = |modules: usize| AtLeast { modules: modules as u64, chance: of(seen.at_least(modules)) };
    Dropout {
        any: inference.of_nights(counts.by_night(|n| n.dropout)),
        cold: of(seen.cold),
        fault: of(seen.fault),
        other: of(seen.other),
        at_least: (1..seen.most.len()).map(at_least).collect(),
    }
}

fn chains(model: &Model, counts: &Counts) -> Vec<Chain> {
    let inference = Inference::new(model.random);
    let mut all: Vec<(&ChainResult, u64)> = counts.chains.iter().map(|(c, n)| (c, *n)).collect();
    all.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    let chain = |(chain, nights): (&ChainResult, u64)| {
        let chance = inference.probability(nights, counts.trials);
        let out = chain.out.iter().map(|(module, _)| model.bank.branch_id(*module).to_string()).collect();
        let why = chain.out.iter().map(|(_, reason)| reason.word().to_string()).collect();
        let amiss = chain.amiss.iter().map(|(k, amiss)| {
            let id = &model.bank.conductors[*k].id;
            match amiss {
                Defect::Open => format!("{id} open"),
                Defect::BadJoint => format!("{id} with a bad joint"),
            }
        });
        let amiss = amiss.collect();
        Chain { out, why, amiss, over: model.bank.branch_id(chain.over).to_string(), nights, chance }
    };
    all.into_iter().take(CHAINS).map(chain).collect()
}

fn cascades(model: &Model, counts: &Counts) -> Cascades {
    let (seen, inference) = (&counts.cascades, Inference::new(model.random));
    let dark: Vec<(i64, u64)> = seen.dark.iter().map(|(t, n)| (t.0, *n)).collect();
    let after = |percent| quantile(&dark, percent, [0, i64::MAX]).map(|q| Time(q.value).seconds());
    let mut sequences: Vec<(&Vec<Loss>, u64)> = seen.sequences.iter().map(|(s, n)| (s, *n)).collect();
    sequences.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    let sequence = |(losses, nights): (&Vec<Loss>, u64)| {
        let chance = inference.probability(nights, counts.trials);
        let losses = losses.iter().map(|loss| tell_loss(model, loss)).collect();
        Sequence { losses, nights, chance }
    };
    Cascades {
        window_s: model.trials.cascade_window.seconds(),
        any: inference.of_nights(counts.by_night(|n| n.cascade)),
        sizes: seen.sizes.iter().map(|(&losses, &nights)| CascadeSize { losses, nights }).collect(),
        sequences: sequences.into_iter().take(CHAINS).map(sequence).collect(),
        dark: inference.of_nights(counts.by_night(|n| n.dark)),
        dark_from_start: inference.probability(seen.dark_from_start, counts.trials),
        dark_after_s: after(5).zip(after(50)).zip(after(95)).map(|((a, b), c)| [a, b, c]),
        rejoining: seen.rejoined.map(|r| Rejoining {
            id: model.bank.branch_id(r.module).to_string(),
            current_a: r.current,
            trial: r.trial,
            at_h: r.at.hours(),
        }),
    }
}

fn tell_loss(model: &Model, &(lost, reason): &Loss) -> String {
    let what = match lost {
        Lost::Module(k) => model.bank.branch_id(k).to_string(),
        Lost::Inverter => "inverter".to_string(),
        Lost::Conductor(k) => model.bank.conductors[k].id.clone(),
        Lost::Device(k) => model.bank.devices[k].id.clone(),
    };
    format!("{what} ({})", reason.word())
}

fn nights_by_year(model: &Model, counts: &Counts) -> Nights {
    let inference = Inference::new(model.random);
    let mut years: BTreeMap<&str, NightCounts> = BTreeMap::new();
    for (&night, seen) in &counts.nights {
        let year = model.trials.nights[night].year.as_str();
        years.entry(year).or_default().merge(seen);
    }
    let worst = years.iter().max_by(|a, b| {
        let share = |n: &NightCounts| n.over as f64 / n.trials.max(1) as f64;
        share(a.1).total_cmp(&share(b.1))
    });
    let worst_year = worst.filter(|w| w.1.over > 0 && !w.0.is_empty()).map(|w| w.0.to_string());
    let year = |(year, seen): (&str, NightCounts)| YearResult {
        year: year.to_string(),
        trials: seen.trials,
        overload: inference.probability(seen.over, seen.trials),
        dropout: inference.probability(seen.dropout, seen.trials),
    };
    Nights {
        distinct: model.trials.nights.len() as u64,
        years: years.into_iter().filter(|y| !y.0.is_empty()).map(year).collect(),
        worst_year,
    }
}

fn worst(model: &Model, worst: &Worst) -> WorstNight {
    WorstNight {
        trial: worst.trial,
        date: model.trials.nights[worst.night].date.clone(),
        time_over_h: worst.time_over.hours(),
        ride_through_h: worst.served_until.min(model.trials.horizon).hours(),
        modules_out: u64::from(worst.most_out),
        over: worst.element.map(|k| model.bank.branch_id(k).to_string()),
    }
}

/// The targets that nights are judged by; each with the interval of this inference.
pub fn targets(scenario: &Scenario, counts: &Counts, inference: Inference) -> Vec<TargetVerdict> {
    let ride_through = scenario.targets.ride_through.map(|t| {
        let got = served(inference, counts);
        TargetVerdict {
            target: Target::RideThrough,
            wanted: format!("served for {} h with a probability of {}", t.length.hours(), t.probability),
            length_h: Some(t.length.hours()),
            required: t.probability,
            got,
            verdict: got.reaches(t.probability),
        }
    });
    // What is asked of overload is asked of what it leads to as well, each apart.
    let insulated = scenario.cables.iter().any(|c| c.ampacity.is_some());
    type Asked = (bool, Target, &'static str, fn(&NightCounts) -> u64);
    let asked: [Asked; 3] = [
        (true, Target::OverloadProbability, "overload of any element", |n| n.over),
        (insulated, Target::OverTemperature, "a conductor above its temperature rating", |n| n.hot),
        (!scenario.devices.is_empty(), Target::DeviceOpened, "a protective device open", |n| n.opened),
    ];
    let most = scenario.targets.overload_probability;
    let at_most = asked.into_iter().filter(|a| a.0).filter_map(|(_, target, what, which)| {
        let (p, got) = (most?, inference.of_nights(counts.by_night(which)));
        Some(TargetVerdict {
            target,
            wanted: format!("{what} in at most {p} of nights"),
            length_h: None,
            required: p,
            got,
            verdict: got.stays_within(p),
        })
    });
    ride_through.into_iter().chain(at_most).collect()
}
