//! Tables for other programs: CSV as in RFC 4180, `.` decimals, units in the header, not rounded.
//!
//! In: the results document, or one replayed night. Out: one text a table. An unknown number is an
//! empty cell, never `NaN`.

use crate::output::kit::table::{estimate, number, optional, text};
use crate::output::run::words;
use crate::summary::{ElementResult, Results};

/// Every table of a run: file name and text.
pub fn all(results: &Results) -> Vec<(&'static str, String)> {
    vec![
        ("elements.csv", elements(results)),
        ("ride_through.csv", ride_through(results)),
        ("dropouts.csv", dropouts(results)),
        ("temperatures.csv", temperatures(results)),
        ("devices.csv", devices(results)),
        ("chains.csv", chains(results)),
        ("cascades.csv", cascades(results)),
        ("years.csv", years(results)),
        ("worst_nights.csv", worst_nights(results)),
    ]
}

/// Every module and conductor: how often it was over, and its greatest current.
pub fn elements(results: &Results) -> String {
    let header = [
        "id",
        "kind",
        "rating_a",
        "charge_rating_a",
        "probability",
        "low",
        "high",
        "nights",
        "mean_time_over_h",
        "greatest_a",
        "trial",
        "at_h",
        "low_by_night",
        "high_by_night",
    ];
    let modules = results.overload.modules.iter().map(|e| element(e, "module"));
    let conductors = results.overload.conductors.iter().map(|e| element(e, "conductor"));
    text(&header, modules.chain(conductors))
}

fn element(e: &ElementResult, kind: &str) -> Vec<String> {
    vec![
        e.id.clone(),
        kind.into(),
        optional(e.rating_a),
        optional(e.charge_rating_a),
        number(e.estimate),
        number(e.low),
        number(e.high),
        e.nights.to_string(),
        number(e.mean_time_over_h),
        number(e.greatest_a),
        e.greatest_trial.to_string(),
        number(e.greatest_at_h),
        optional(e.by_night.map(|ends| ends[0])),
        optional(e.by_night.map(|ends| ends[1])),
    ]
}

/// By the quarter hour: nights whose service ended in it, and the share still served at its end.
pub fn ride_through(results: &Results) -> String {
    let mut ended = 0u64;
    let rows = results.ride_through_h.histogram.iter().map(|&(hours, nights)| {
        ended = ended.saturating_add(nights);
        vec![number(hours), nights.to_string(), number(share_left(results.trials, ended))]
    });
    text(&["hours", "nights_ending", "share_surviving"], rows)
}

/// The share of nights still served when so many have ended; not a number without trials.
pub fn share_left(trials: u64, ended: u64) -> f64 {
    trials.saturating_sub(ended) as f64 / trials as f64
}

/// How often modules dropped out, by cause and by how many at one moment.
pub fn dropouts(results: &Results) -> String {
    let causes =
        words::dropouts(results).map(|(cause, e)| [vec![cause.to_string(), String::new()], estimate(&e)].concat());
    let counts = results
        .dropout
        .at_least
        .iter()
        .map(|a| vec!["at_least".into(), a.modules.to_string(), number(a.estimate), number(a.low), number(a.high)]);
    text(&["cause", "modules", "probability", "low", "high"], causes.into_iter().chain(counts))
}

/// Every conductor with insulation data: how often it was over temperature, and how hot it became.
pub fn temperatures(results: &Results) -> String {
    let header =
        ["id", "stands_degc", "hottest_degc", "probability", "low", "high", "nights", "mean_time_over_temperature_h"];
    let rows = results.over_temperature.iter().flat_map(|o| &o.conductors).map(|c| {
        let cells = [vec![c.id.clone(), number(c.stands_c), number(c.hottest_c)], estimate(&words::heat(c))];
        [cells.concat(), vec![c.nights.to_string(), number(c.mean_time_hot_h)]].concat()
    });
    text(&header, rows)
}

/// Every protective device: how often it opened, and what it is to break against what it can.
pub fn devices(results: &Results) -> String {
    let header = [
        "id",
        "rated_a",
        "probability",
        "low",
        "high",
        "nights",
        "prospective_a",
        "breaking_capacity_a",
        "highest_v",
        "voltage_v",
        "breaks",
        "opens_after_s",
        "conductor_stands_s",
    ];
    let rows = results.device_opened.iter().flat_map(|opened| {
        opened.devices.iter().map(|d| {
            let cells = [vec![d.id.clone(), number(d.rated_a)], estimate(&words::opening(d))].concat();
            let fault = vec![
                d.nights.to_string(),
                number(d.prospective_a),
                optional(d.breaking_capacity_a),
                number(opened.highest_v),
                optional(d.voltage_v),
                d.breaks.to_string(),
                optional(d.opens_after_s),
                optional(d.conductor_stands_s),
            ];
            [cells, fault].concat()
        })
    });
    text(&header, rows)
}

/// Which modules were out when which element went over.
pub fn chains(results: &Results) -> String {
    let rows = results.chains.iter().map(|c| {
        let [p, low, high] = [c.estimate, c.low, c.high].map(number);
        vec![c.out.join(" "), c.over.clone(), c.nights.to_string(), p, low, high, c.why.join(", "), c.amiss.join(", ")]
    });
    text(&["out", "over", "nights", "probability", "low", "high", "why", "amiss"], rows)
}

/// What was lost in cascades, in order.
pub fn cascades(results: &Results) -> String {
    let rows =
        results.cascade.sequences.iter().map(|s| {
            vec![s.losses.join(", "), s.nights.to_string(), number(s.estimate), number(s.low), number(s.high)]
        });
    text(&["sequence", "nights", "probability", "low", "high"], rows)
}

/// Each winter or year apart.
pub fn years(results: &Results) -> String {
    let header =
        ["year", "trials", "overload", "overload_low", "overload_high", "dropout", "dropout_low", "dropout_high"];
    let rows =
        results.nights.years.iter().map(|y| {
            [vec![y.year.clone(), y.trials.to_string()], estimate(&y.overload), estimate(&y.dropout)].concat()
        });
    text(&header, rows)
}

/// The nights to look at first.
pub fn worst_nights(results: &Results) -> String {
    let rows = results.worst.iter().map(|w| {
        vec![
            w.trial.to_string(),
            w.date.clone(),
            number(w.time_over_h),
            number(w.ride_through_h),
            w.modules_out.to_string(),
            w.over.clone().unwrap_or_default(),
        ]
    });
    text(&["trial", "date", "time_over_h", "ride_through_h", "modules_out", "over"], rows)
}
