//! What differs at random and what is asked: `[spread]`, `[trials]` and `[targets]`.

use super::defaults;
use crate::bounds;
use crate::diagnostic::{Fault, shortened};
use crate::scenario::document::{Limits, Section, Value, Written};
use crate::scenario::{DEFAULT_SOC, Distribution, LimitTarget, RideThroughTarget, Spread, Targets, Trials};
use crate::time::Time;
use crate::units::Kind;

const SPREAD_KEYS: &[&str] = &["capacity", "resistance", "joint", "start_charge", "load", "temperature", "sensor"];
const TRIAL_KEYS: &[&str] = &["count", "seed", "horizon", "step", "soc", "start", "hold", "cascade_window"];
const TARGET_KEYS: &[&str] =
    &["ride_through", "ride_through_probability", "overload_probability", "limit", "limit_outages"];

/// What a spread applies to.
#[derive(Clone, Copy, PartialEq)]
enum Spreads {
    /// A factor around 1.
    Factor,
    /// A share added to a share.
    Share,
    /// Kelvins added.
    Kelvin,
}

pub fn spread(value: Option<&Value<'_>>) -> Spread {
    let s = value.and_then(|v| v.section(SPREAD_KEYS));
    let read = |key, what| {
        let value = s.as_ref().and_then(|s| s.get(key));
        value.and_then(|v| distribution(&v, what)).unwrap_or(Distribution::None)
    };
    Spread {
        capacity: read("capacity", Spreads::Factor),
        resistance: read("resistance", Spreads::Factor),
        joint: read("joint", Spreads::Factor),
        start_charge: read("start_charge", Spreads::Share),
        load: read("load", Spreads::Factor),
        temperature: read("temperature", Spreads::Kelvin),
        sensor: read("sensor", Spreads::Kelvin),
    }
}

const DISTRIBUTIONS: &[&str] = &["normal", "lognormal", "uniform", "triangular"];

fn distribution(value: &Value<'_>, what: Spreads) -> Option<Distribution> {
    if !value.is_table() {
        return Some(sized("normal", width(value, "normal", what)?));
    }
    let s = value.section(DISTRIBUTIONS)?;
    let example = if what == Spreads::Kelvin { "normal = \"1.5 K\"" } else { "normal = \"4 %\"" };
    let widths: Vec<_> = DISTRIBUTIONS.iter().map(|key| s.get(key).and_then(|v| width(&v, key, what))).collect();
    let key = s.one_of(DISTRIBUTIONS, example)?;
    if key == "lognormal" && what != Spreads::Factor {
        s.refuse(&["lognormal"], "it applies to factors only, and this is added");
        return None;
    }
    Some(sized(key, widths.into_iter().flatten().next()?))
}

/// The distribution that `key` names, of this width; [`Distribution::None`] where the width is zero.
fn sized(key: &str, width: f64) -> Distribution {
    match key {
        _ if width == 0.0 => Distribution::None,
        "lognormal" => Distribution::LogNormal(width),
        "uniform" => Distribution::Uniform(width),
        "triangular" => Distribution::Triangular(width),
        _ => Distribution::Normal(width),
    }
}

fn width(value: &Value<'_>, key: &str, what: Spreads) -> Option<f64> {
    let (kind, limits) = match (what, key) {
        (Spreads::Kelvin, _) => (Kind::TemperatureDifference, Limits::between(0.0, 50.0)),
        // Four standard deviations, at which a normal factor is cut off, must stay above zero.
        (_, "normal") => (Kind::Ratio, Limits::between(0.0, 0.2)),
        (_, "lognormal") => (Kind::Ratio, Limits::SHARE),
        _ => (Kind::Ratio, Limits::SHARE.below(1.0)),
    };
    Some(value.quantity(kind, limits)?.value)
}

/// Trials without their nights, which depend on the profiles, and where to point when there is none.
pub struct Asked {
    pub trials: Trials,
    pub place: std::ops::Range<usize>,
    /// The place of the horizon.
    pub horizon: std::ops::Range<usize>,
}

pub fn trials(value: &Value<'_>) -> Option<Asked> {
    let s = value.section(TRIAL_KEYS)?;
    let count = s.need("count", "10000").and_then(|v| v.whole(1, bounds::TRIALS));
    let seed = s.get("seed").and_then(|v| v.whole(0, u64::MAX));
    let longest = Limits::between(1.0, defaults::LONGEST_HORIZON);
    let horizon = s.need_quantity("horizon", Kind::Time, longest);
    let step = s.quantity("step", Kind::Time, Limits::between(1e-3, 3600.0));
    let soc = s.quantity_or("soc", Kind::Ratio, Limits::SHARE, DEFAULT_SOC);
    let start = s.get("start").map(|v| clock(&v));
    let hold = s.quantity("hold", Kind::Time, Limits::NOT_NEGATIVE);
    let cascade_window = s.quantity_or("cascade_window", Kind::Time, defaults::DELAY, defaults::CASCADE_WINDOW);
    within(&s, "step", step.as_ref(), horizon.as_ref());
    within(&s, "hold", hold.as_ref(), horizon.as_ref());
    many_steps(&s, step.as_ref(), horizon.as_ref());
    if let Some(step) = step.clone().filter(|step| step.value > 300.0) {
        let message = format!("`step` is {}", Kind::Time.show(step.value));
        s.findings.unusual(step.span, message, "more than 5 min: loads and temperatures change within a step");
    }
    let (count, horizon) = (count?, horizon?);
    let place = s.get("start").map_or(horizon.span.clone(), |v| v.span);
    let trials = Trials {
        count: count.value,
        seed: seed.map_or(defaults::SEED, |w| w.value),
        horizon: Time::from_seconds(horizon.value),
        step: Time::from_seconds(step.map_or(defaults::STEP.min(horizon.value), |w| w.value)),
        soc,
        start: match start {
            Some(start) => Some(start?),
            None => None,
        },
        hold_time: Time::from_seconds(hold.map_or(defaults::HOLD.min(horizon.value), |w| w.value)),
        cascade_window: Time::from_seconds(cascade_window),
        nights: Vec::new(),
    };
    Some(Asked { trials, place, horizon: horizon.span })
}

fn within(s: &Section<'_>, key: &str, part: Option<&Written<f64>>, horizon: Option<&Written<f64>>) {
    let (Some(part), Some(horizon)) = (part, horizon) else {
        return;
    };
    if part.value > horizon.value {
        let message = format!("`{key}` is {}", Kind::Time.show(part.value));
        let label = format!("must not be longer than the horizon, {}", Kind::Time.show(horizon.value));
        s.findings.error(part.span.clone(), message, label, None);
    }
}

fn many_steps(s: &Section<'_>, step: Option<&Written<f64>>, horizon: Option<&Written<f64>>) {
    let (Some(step), Some(horizon)) = (step, horizon) else { return };
    let steps = (horizon.value / step.value).ceil();
    if steps > bounds::STEPS as f64 {
        let message = format!("`step` makes {} steps of a night", bounds::grouped(steps as u64));
        let label = format!("must be at most {} steps", bounds::grouped(bounds::STEPS));
        let help =
            format!("take {} or longer, or a shorter `horizon`", Kind::Time.show(horizon.value / bounds::STEPS as f64));
        s.findings.error_of(Fault::TooMuch, step.span.clone(), message, label, Some(help));
    }
}

/// Seconds after midnight.
fn clock(value: &Value<'_>) -> Option<i64> {
    let text = value.text("a clock time in quotes, as in \"17:00\"")?.value;
    let time = hours_and_minutes(text);
    if time.is_none() {
        let message = format!("{} is \"{}\"", value.name, shortened(text));
        value.refuse_of(
            Fault::Quantity,
            message,
            "must be a clock time from 00:00 to 23:59",
            Some("as in \"17:00\"".into()),
        );
    }
    time
}

fn hours_and_minutes(text: &str) -> Option<i64> {
    let (hours, minutes) = text.split_once(':')?;
    let two = |s: &str| s.len() == 2 && s.bytes().all(|b| b.is_ascii_digit());
    if !(two(hours) && two(minutes)) {
        return None;
    }
    let (hours, minutes): (i64, i64) = (hours.parse().ok()?, minutes.parse().ok()?);
    (hours < 24 && minutes < 60).then_some(hours * 3600 + minutes * 60)
}

pub fn targets(value: &Value<'_>, horizon: Option<Time>) -> Option<Targets> {
    let s = value.section(TARGET_KEYS)?;
    let length = s.quantity("ride_through", Kind::Time, Limits::POSITIVE);
    let wanted = s.get("ride_through_probability").and_then(|v| v.number(Limits::SHARE));
    let overload = s.get("overload_probability").and_then(|v| v.number(Limits::SHARE));
    let limit = limit(&s);
    if !s.has("ride_through") {
        s.refuse(&["ride_through_probability"], "it needs `ride_through`");
    }
    beyond(&s, length.as_ref(), horizon);
    unprovable(&s, "ride_through_probability", wanted.as_ref(), 1.0);
    unprovable(&s, "overload_probability", overload.as_ref(), 0.0);
    let probability = wanted.map_or(defaults::RIDE_THROUGH_PROBABILITY, |w| w.value);
    Some(Targets {
        ride_through: length.map(|w| RideThroughTarget { length: Time::from_seconds(w.value), probability }),
        overload_probability: overload.map(|w| w.value),
        limit: limit?,
    })
}

/// `Some(None)` where it is left out.
fn limit(s: &Section<'_>) -> Option<Option<LimitTarget>> {
    let outages = s.get("limit_outages").map(|v| v.whole(0, bounds::MODULES as u64));
    let Some(value) = s.get("limit") else {
        s.refuse(&["limit_outages"], "it needs `limit`");
        return Some(None);
    };
    let current = value.quantity(Kind::Current, Limits::POSITIVE)?.value;
    let outages = outages.map_or(Some(0), |w| usize::try_from(w?.value).ok())?;
    Some(Some(LimitTarget { current, outages }))
}

fn beyond(s: &Section<'_>, length: Option<&Written<f64>>, horizon: Option<Time>) {
    let (Some(length), Some(horizon)) = (length, horizon) else {
        return;
    };
    if Time::from_seconds(length.value) > horizon {
        let hours = |t: f64| format!("{} h", crate::units::plain(t / 3600.0));
        let message = format!("`ride_through` is {}", hours(length.value));
        let label = format!("must not be longer than the horizon, {}", hours(horizon.seconds()));
        s.findings.error(length.span.clone(), message, label, Some("raise `horizon` in [trials]".into()));
    }
}

fn unprovable(s: &Section<'_>, key: &str, wanted: Option<&Written<f64>>, end: f64) {
    if let Some(wanted) = wanted.filter(|w| w.value == end) {
        let message = format!("`{key}` is {end}");
        s.findings.unusual(wanted.span.clone(), message, "no number of random trials can show that it is met");
    }
}
