//! An invented bank of two stacks, A and B, and what an invented run said of it.

use bankwright::summary::*;
use statrs::function::beta::inv_beta_reg;

/// Clopper-Pearson, so that the samples look like a run's.
pub fn share(k: u64, n: u64) -> Estimate {
    let (kf, nf) = (k as f64, n as f64);
    let low = if k == 0 { 0.0 } else { inv_beta_reg(kf, nf - kf + 1.0, 0.025) };
    let high = if k >= n { 1.0 } else { inv_beta_reg(kf + 1.0, nf - kf, 0.975) };
    Estimate::new(if n == 0 { 0.0 } else { kf / nf }, low, high)
}

fn element(id: &str, rating: Option<f64>, nights: u64, trials: u64) -> ElementResult {
    let e = share(nights, trials);
    let reached = if nights > 0 { 1.08 } else { 0.86 };
    ElementResult {
        id: id.into(),
        estimate: e.estimate,
        low: e.low,
        high: e.high,
        by_night: None,
        nights,
        rating_a: rating,
        charge_rating_a: if id.contains('.') { None } else { Some(40.0) },
        mean_time_over_h: if nights > 0 { 0.21 } else { 0.0 },
        greatest_a: rating.unwrap_or(100.0) * reached,
        greatest_trial: 4711,
        greatest_at_h: 9.35,
    }
}

pub fn conductor_ids(stack: &str, modules: usize) -> Vec<String> {
    let jumpers = (1..modules).flat_map(|k| ["+", "-"].map(|s| format!("{stack}.jumper{k}-{}{s}", k + 1)));
    jumpers.chain(["+", "-"].map(|s| format!("{stack}.lead1{s}"))).collect()
}

pub fn results() -> Results {
    let n = 10_000;
    let mut conductors = vec![
        element("A.lead1+", Some(160.0), 123, n),
        element("A.lead1-", Some(160.0), 119, n),
        element("B.lead1+", Some(160.0), 41, n),
        element("B.lead1-", Some(160.0), 38, n),
        element("A.jumper3-4+", Some(140.0), 3, n),
    ];
    for stack in ["A", "B"] {
        for id in conductor_ids(stack, 4) {
            if conductors.iter().all(|c| c.id != id) {
                conductors.push(element(&id, Some(140.0), 0, n));
            }
        }
    }
    let mut modules: Vec<_> =
        ["A", "B"].iter().flat_map(|s| (1..=4).map(move |k| element(&format!("{s}{k}"), Some(85.0), 0, n))).collect();
    modules[1] = element("A2", Some(85.0), 27, n);
    Results {
        schema_version: 1,
        scenario: "Hut on the pass: two stacks of four on one bus bar (invented)".into(),
        seed: 1,
        trials: n,
        exact: false,
        horizon_h: 16.0,
        step_s: 60.0,
        hold_s: 10.0,
        ride_through_h: ride(n),
        ride_through_met: share(9_731, n),
        overload: Overload { any: share(171, n), any_by_night: Some([0.0119, 0.0231]), conductors, modules },
        over_temperature: Some(over_temperature(n)),
        device_opened: Some(device_opened(n)),
        dropout: Dropout {
            any: share(842, n),
            cold: share(815, n),
            fault: share(29, n),
            other: share(0, n),
            at_least: [(1, 842), (2, 310), (3, 42), (4, 0)].map(at_least).into(),
        },
        unserved_wh: Unserved { mean: 412.7, std_error: 18.2, brief_mean: 3.4, curtailed_mean: 0.0 },
        chains: chains(n),
        cascade: cascades(n),
        nights: nights(),
        worst: worst(),
        targets: targets(n),
        limit_target: Some(limit_target()),
        quality: Quality {
            kirchhoff_a: 3.1e-12,
            power_balance: 8.8e-14,
            steps: 9_600_000,
            solves: 9_731_204,
            events: 12_877,
            failed_trials: 0,
            half_step: Some(HalfStep {
                trials: 208,
                over: 2,
                over_with_half: 2,
                ride_through_mean_change_s: -0.03,
                ride_through_greatest_change_s: 1.4,
                current_greatest_change_a: 1.6,
                within_intervals: true,
                ..HalfStep::default()
            }),
        },
        not_modelled: vec![
            "inverter: no section, the power is direct current at the bus".into(),
            "controller link: no section, the inverter follows no limit".into(),
            "thermal data of conductors: a rating is the same at every ambient".into(),
        ],
        warnings: vec!["the profiles cover 3 winters only: a rarer one is not among them".into()],
    }
}

fn hot(id: &str, stands_c: f64, hottest_c: f64, nights: u64, trials: u64) -> HotConductor {
    let chance = share(nights, trials);
    let mean_time_hot_h = if nights > 0 { 0.4 } else { 0.0 };
    HotConductor { id: id.into(), chance, nights, stands_c, mean_time_hot_h, hottest_c }
}

fn over_temperature(n: u64) -> OverTemperature {
    let conductors = vec![
        hot("A.jumper1-2+", 90.0, 61.25, 0, n),
        hot("A.lead1+", 75.0, 78.64, 31, n),
        hot("A.lead1-", 75.0, 74.1, 0, n),
    ];
    OverTemperature { any: share(31, n), conductors }
}

/// A fuse that suffices.
pub fn device(id: &str, nights: u64, trials: u64) -> DeviceResult {
    let chance = share(nights, trials);
    DeviceResult {
        id: id.into(),
        chance,
        nights,
        rated_a: 125.0,
        prospective_a: 9_123.4,
        breaking_capacity_a: Some(20_000.0),
        voltage_v: Some(80.0),
        breaks: true,
        opens_after_s: Some(0.0042),
        conductor_stands_s: Some(0.31),
    }
}

fn device_opened(n: u64) -> DeviceOpened {
    let main = DeviceResult { breaking_capacity_a: Some(6_000.0), breaks: false, ..device("main.breaker", 0, n) };
    let module = |id: &str| DeviceResult { conductor_stands_s: None, ..device(id, 2, n) };
    let devices = vec![module("A1.fuse"), device("A.lead1+.fuse", 17, n), main];
    DeviceOpened { any: share(19, n), highest_v: 54.32, devices }
}

fn at_least((modules, nights): (u64, u64)) -> AtLeast {
    AtLeast { modules, chance: share(nights, 10_000) }
}

/// Nights end from 8 h on, more and more of them.
fn ride(n: u64) -> RideThrough {
    let histogram: Vec<_> = (32..=64u64).map(|q| (q as f64 * 0.25, (q - 31).pow(2) / 4)).collect();
    let ended: u64 = histogram.iter().map(|h| h.1).sum();
    RideThrough {
        p5: 12.6,
        p50: 16.0,
        p95: 16.0,
        mean: 15.4,
        p5_interval: [12.5, 12.8],
        p50_interval: [16.0, 16.0],
        p95_interval: [16.0, 16.0],
        censored: share(n - ended, n),
        ended: Endings { charge: ended, ..Endings::default() },
        histogram,
    }
}

fn chains(n: u64) -> Vec<Chain> {
    let rows: [(&[&str], &str, u64); 4] =
        [(&["A1"], "A.lead1+", 37), (&["A1", "B1"], "A.lead1-", 22), (&[], "A.lead1+", 9), (&["B1"], "B.lead1+", 4)];
    rows.map(|(out, over, nights)| {
        let chance = share(nights, n);
        let why = out.iter().map(|id| if *id == "A1" { "cold".into() } else { "fault".into() }).collect();
        let out = out.iter().map(|s| (*s).into()).collect();
        Chain { out, why, amiss: Vec::new(), over: over.into(), nights, chance }
    })
    .into()
}

fn nights() -> Nights {
    let year = |year: &str, trials, over, out| YearResult {
        year: year.into(),
        trials,
        overload: share(over, trials),
        dropout: share(out, trials),
    };
    Nights {
        distinct: 540,
        years: vec![year("2016/17", 3300, 20, 190), year("2017/18", 3400, 31, 220), year("2018/19", 3300, 120, 432)],
        worst_year: Some("2018/19".into()),
    }
}

fn worst() -> Vec<WorstNight> {
    let night = |trial, date: &str, over, ride, out, id: Option<&str>| WorstNight {
        trial,
        date: date.into(),
        time_over_h: over,
        ride_through_h: ride,
        modules_out: out,
        over: id.map(String::from),
    };
    vec![
        night(4711, "2018-12-31", 0.7, 11.2, 3, Some("A.lead1+")),
        night(81, "2019-01-20", 0.42, 11.9, 2, Some("A.lead1-")),
        night(9050, "2018-01-06", 0.0, 8.1, 4, None),
    ]
}

fn cascades(n: u64) -> Cascades {
    let chance = share(12, n);
    let losses = ["A1 (cold)", "A2 (over-current)", "A3 (over-current)"].map(String::from).into();
    Cascades {
        window_s: 60.0,
        any: share(12, n),
        sizes: vec![CascadeSize { losses: 2, nights: 12 }],
        sequences: vec![Sequence { losses, nights: 12, chance }],
        dark: share(3, n),
        dark_from_start: share(0, n),
        dark_after_s: Some([0.5, 11.0, 38.0]),
        rejoining: None,
    }
}

fn limit_target() -> LimitVerdict {
    LimitVerdict {
        outages: 2,
        wanted_a: 120.0,
        got_a: Some(116.27),
        exact: true,
        high_a: Some(116.27),
        binding: Some("B.lead1+".into()),
        out: vec!["A1".into(), "A2".into()],
        met: false,
        verdict: Verdict::Missed,
    }
}

fn targets(n: u64) -> Vec<TargetVerdict> {
    let target = |target, wanted: &str, required, got, verdict| TargetVerdict {
        target,
        wanted: wanted.into(),
        length_h: (target == Target::RideThrough).then_some(12.0),
        required,
        got,
        verdict,
    };
    vec![
        target(
            Target::RideThrough,
            "served for at least 12 h with probability 0.95",
            0.95,
            share(9_731, n),
            Verdict::Met,
        ),
        target(
            Target::OverloadProbability,
            "any element over its rating with probability 0.001 at most",
            0.001,
            share(171, n),
            Verdict::Missed,
        ),
    ]
}

/// Nothing was ever over, and every night was served to the end.
pub fn nothing_seen() -> Results {
    let mut r = results();
    let none = share(0, r.trials);
    for e in r.overload.conductors.iter_mut().chain(&mut r.overload.modules) {
        *e = element(&e.id, e.rating_a, 0, r.trials);
    }
    r.overload.any = none;
    r.overload.any_by_night = None;
    r.ride_through_met = share(r.trials, r.trials);
    r.ride_through_h = RideThrough {
        p5: 16.0,
        p50: 16.0,
        p95: 16.0,
        mean: 16.0,
        p5_interval: [16.0; 2],
        p50_interval: [16.0; 2],
        p95_interval: [16.0; 2],
        censored: share(r.trials, r.trials),
        ended: Endings::default(),
        histogram: vec![],
    };
    r.over_temperature = None;
    r.device_opened = None;
    r.unserved_wh.brief_mean = 0.0;
    r.cascade = Cascades { any: none, sizes: vec![], sequences: vec![], dark: none, dark_after_s: None, ..r.cascade };
    r.cascade.dark_from_start = none;
    r.dropout = Dropout { any: none, cold: none, fault: none, other: none, at_least: vec![] };
    r.chains.clear();
    r.worst.clear();
    r.warnings.clear();
    r.limit_target = None;
    r.nights = Nights { distinct: 1, years: vec![], worst_year: None };
    for t in &mut r.targets {
        t.got = if t.target == Target::RideThrough { r.ride_through_met } else { none };
        t.verdict = Verdict::Met;
    }
    r
}

/// No night lasts to the horizon.
pub fn all_ended() -> Results {
    let mut r = results();
    r.ride_through_h.histogram = (20..=40u64).map(|q| (q as f64 * 0.25, if q == 40 { 1000 } else { 450 })).collect();
    r.ride_through_h.p5 = 5.2;
    r.ride_through_h.p50 = 7.6;
    r.ride_through_h.p95 = 9.8;
    r.ride_through_h.censored = share(0, r.trials);
    r.ride_through_met = share(0, r.trials);
    r.targets[0].got = r.ride_through_met;
    r.targets[0].verdict = Verdict::Missed;
    r.targets[1].verdict = Verdict::NotDecided;
    let bounded = LimitVerdict { exact: false, high_a: Some(131.0), verdict: Verdict::NotDecided, ..limit_target() };
    r.limit_target = Some(bounded);
    r
}

pub fn single_module() -> Results {
    let mut r = nothing_seen();
    r.scenario = "one module".into();
    r.trials = 1;
    let one = |id: &str, rating| element(id, rating, 0, 1);
    r.overload.conductors = vec![one("A.lead1+", None), one("A.lead1-", None)];
    r.overload.modules = vec![one("A1", Some(85.0))];
    r.overload.any = share(0, 1);
    r.ride_through_h.censored = share(1, 1);
    r.targets.clear();
    r.not_modelled.clear();
    r
}

/// Sixty-four modules in two stacks.
pub fn many() -> Results {
    let mut r = results();
    let n = r.trials;
    r.overload.modules = ["A", "B"]
        .iter()
        .flat_map(|s| (1..=32).map(move |k| element(&format!("{s}{k}"), Some(85.0), (33 - k) / 4, n)))
        .collect();
    r.overload.conductors = ["A", "B"]
        .iter()
        .flat_map(|s| conductor_ids(s, 32))
        .enumerate()
        .map(|(k, id)| element(&id, Some(140.0), if k % 16 == 0 { 700 >> (k / 16) } else { 0 }, n))
        .collect();
    let long = |k: u64| (0..8).map(move |j| format!("North cellar, left {k}{} (over-current)", j + 1));
    r.cascade.sequences = (1..=20u64)
        .map(|k| {
            let nights = 400 / k;
            let chance = share(nights, n);
            let losses = std::iter::once("A1 (cold)".into()).chain(long(k).take(1 + k as usize % 7)).collect();
            Sequence { losses, nights, chance }
        })
        .collect();
    r.cascade.any = share(1_439, n);
    r.cascade.dark_after_s = Some([31.0, 2_900.0, 21_700.0]);
    r.device_opened = Some(DeviceOpened {
        any: share(40, n),
        highest_v: 54.32,
        devices: r.overload.modules.iter().map(|m| device(&format!("{}.fuse", m.id), m.nights, n)).collect(),
    });
    r
}

/// Devices that lack everything that a device can lack.
pub fn weak_devices() -> Results {
    let mut r = results();
    let n = r.trials;
    let fuse = |id: &str| DeviceResult { breaks: false, ..device(id, 0, n) };
    let unstated = |id: &str| DeviceResult { breaking_capacity_a: None, voltage_v: None, ..fuse(id) };
    r.device_opened = Some(DeviceOpened {
        any: share(0, n),
        highest_v: 54.32,
        devices: vec![
            unstated("A1.fuse"),
            unstated("A2.fuse"),
            unstated("A3.fuse"),
            unstated("A4.fuse"),
            DeviceResult { prospective_a: 10_040.0, ..unstated("B1.fuse") },
            DeviceResult { breaking_capacity_a: Some(6_000.0), ..fuse("main.breaker") },
            DeviceResult { breaking_capacity_a: Some(9_123.0), ..fuse("B.lead1+.fuse") },
            DeviceResult { voltage_v: Some(48.0), ..fuse("A.lead1+.fuse") },
            DeviceResult { opens_after_s: None, ..fuse("A.lead1-.fuse") },
            DeviceResult { opens_after_s: Some(2.1), ..fuse("B.lead1-.fuse") },
        ],
    });
    r
}

/// Cascades are more frequent than overload.
pub fn dark() -> Results {
    let mut results = results();
    results.cascade.any = share(750, results.trials);
    results
}

pub fn no_trials() -> Results {
    let mut r = nothing_seen();
    r.scenario = String::new();
    r.trials = 0;
    r.cascade.any = share(0, 0);
    r.cascade.dark = share(0, 0);
    r.cascade.dark_from_start = share(0, 0);
    r.horizon_h = 0.0;
    r.overload.conductors.clear();
    r.overload.modules.clear();
    r.targets.clear();
    r
}

pub fn not_numbers() -> Results {
    let nan = f64::NAN;
    let e = Estimate::new(nan, nan, nan);
    let mut r = results();
    r.overload.any = e;
    r.overload.any_by_night = None;
    r.overload.conductors[0].estimate = nan;
    r.overload.conductors[1].greatest_a = f64::INFINITY;
    r.overload.conductors[1].mean_time_over_h = nan;
    r.ride_through_met = e;
    r.ride_through_h.p5 = nan;
    r.ride_through_h.p5_interval = [nan; 2];
    r.ride_through_h.censored = e;
    r.ride_through_h.histogram.push((nan, 3));
    r.dropout.any = e;
    r.dropout.cold = e;
    r.unserved_wh.mean = nan;
    r.unserved_wh.brief_mean = nan;
    r.cascade.any = e;
    r.cascade.dark = e;
    r.cascade.dark_from_start = e;
    r.cascade.dark_after_s = Some([nan; 3]);
    r.cascade.sequences[0].chance.high = nan;
    if let Some(over) = &mut r.over_temperature {
        over.conductors[0].hottest_c = nan;
        over.any = e;
    }
    if let Some(opened) = &mut r.device_opened {
        opened.highest_v = nan;
        opened.devices[0].prospective_a = nan;
        opened.devices[1].opens_after_s = Some(f64::INFINITY);
        opened.devices[2].conductor_stands_s = Some(f64::INFINITY);
    }
    r.targets[0].required = nan;
    r.targets[0].got = e;
    r.chains[0].chance.estimate = nan;
    r.worst[0].time_over_h = nan;
    r.quality.kirchhoff_a = nan;
    r.horizon_h = 16.0;
    r
}
