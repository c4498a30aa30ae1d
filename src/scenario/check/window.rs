//! The windows of a module: where temperature or voltage stops its current.

use super::{defaults, lint};
use crate::diagnostic::Fault;
use crate::scenario::document::{Limits, Section, Written};
use crate::scenario::{Guard, Window};
use crate::time::Time;
use crate::units::Kind;

const KEYS: &[&str] = &["low", "low_release", "high", "high_release", "delay"];

/// The three windows of a module.
pub struct Windows {
    pub charge_temperature: Window,
    pub discharge_temperature: Window,
    pub cell_voltage: Window,
}

/// What a window is about.
struct Rule {
    kind: Kind,
    limits: Limits,
    /// Default distance from trip to release; `None`: the scenario must give the release.
    release: Option<f64>,
}

pub fn windows(module: &Section<'_>) -> Windows {
    let temperature = |release| Rule { kind: Kind::Temperature, limits: defaults::TEMPERATURE, release: Some(release) };
    let voltage = Rule { kind: Kind::Voltage, limits: defaults::CELL_VOLTAGE, release: None };
    Windows {
        charge_temperature: window(module, "charge_temperature", &temperature(defaults::CHARGE_RELEASE)),
        discharge_temperature: window(module, "discharge_temperature", &temperature(defaults::DISCHARGE_RELEASE)),
        cell_voltage: window(module, "cell_voltage", &voltage),
    }
}

fn window(module: &Section<'_>, key: &'static str, rule: &Rule) -> Window {
    let Some(w) = module.get(key).and_then(|v| v.section(KEYS)) else {
        return Window::default();
    };
    let delay = w.quantity("delay", Kind::Time, defaults::DELAY);
    if matches!(rule.kind, Kind::Voltage) {
        lint::no_delay(&w, delay.as_ref());
    }
    let delay = delay.map_or(defaults::GUARD_DELAY, |delay| delay.value);
    if !(w.has("low") || w.has("high")) {
        let message = format!("{} has neither `low` nor `high`", w.name);
        let help = format!("add `low = \"{}\"`", rule.kind.example());
        w.findings.error_of(Fault::Missing, w.span.clone(), message, "guards nothing like this".into(), Some(help));
    }
    let low = guard(&w, rule, LOW, delay);
    let high = guard(&w, rule, HIGH, delay);
    together(&w, rule, low.as_ref(), high.as_ref());
    Window { low: low.map(|g| g.value), high: high.map(|g| g.value) }
}

/// One end of a window: its keys, and the sign of the direction towards its inside.
#[derive(Clone, Copy)]
struct End {
    trip: &'static str,
    release: &'static str,
    inside: f64,
}

const LOW: End = End { trip: "low", release: "low_release", inside: 1.0 };
const HIGH: End = End { trip: "high", release: "high_release", inside: -1.0 };

fn guard(w: &Section<'_>, rule: &Rule, end: End, delay: f64) -> Option<Written<Guard>> {
    let trip = w.quantity(end.trip, rule.kind, rule.limits);
    let given = w.quantity(end.release, rule.kind, rule.limits);
    if !w.has(end.trip) {
        w.refuse(&[end.release], &format!("it needs `{}`", end.trip));
        return None;
    }
    if !w.has(end.release) && rule.release.is_none() {
        w.need(end.release, &format!("\"{}\"", rule.kind.example()));
    }
    let trip = trip?;
    let release = match given {
        Some(release) => release,
        None if w.has(end.release) => return None,
        None => Written { value: trip.value + end.inside * rule.release?, span: trip.span.clone() },
    };
    if (release.value - trip.value) * end.inside <= 0.0 {
        let side = if end.inside > 0.0 { "above" } else { "below" };
        let message = format!("`{}` is {}", end.release, rule.kind.show(release.value));
        let label = format!("must be {side} `{}`, {}", end.trip, rule.kind.show(trip.value));
        w.findings.error(release.span, message, label, None);
        return None;
    }
    let guard = Guard { trip: trip.value, release: release.value, delay: Time::from_seconds(delay) };
    Some(Written { value: guard, span: release.span })
}

fn together(w: &Section<'_>, rule: &Rule, low: Option<&Written<Guard>>, high: Option<&Written<Guard>>) {
    let (Some(low), Some(high)) = (low, high) else {
        return;
    };
    let show = |x| rule.kind.show(x);
    if low.value.trip >= high.value.trip {
        let (low, high) = (show(low.value.trip), show(high.value.trip));
        let message = format!("{}: `low` is {low} and `high` is {high}", w.name);
        w.findings.error(w.span.clone(), message, "`low` must be below `high`".into(), None);
        return;
    }
    if low.value.release >= high.value.trip {
        never(w, rule, LOW, low, &format!("below `high`, {}", show(high.value.trip)));
    }
    if high.value.release <= low.value.trip {
        never(w, rule, HIGH, high, &format!("above `low`, {}", show(low.value.trip)));
    }
}

/// A release that lies beyond the trip at the other end.
fn never(w: &Section<'_>, rule: &Rule, end: End, guard: &Written<Guard>, due: &str) {
    let release = rule.kind.show(guard.value.release);
    let message = format!("`{}` is {release}: it would never release", end.release);
    let help = Some(format!("give `{}`", end.release));
    w.findings.error(guard.span.clone(), message, format!("must be {due}"), help);
}
