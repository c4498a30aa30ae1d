//! What a module does by itself: over-current stages, coming back, heater, holding its own current.

use super::defaults;
use crate::bounds;
use crate::scenario::document::{Limits, Section, Value};
use crate::scenario::{Direction, Heater, Protection, SelfLimit, Stage};
use crate::time::Time;
use crate::units::Kind;

const STAGE_KEYS: &[&str] = &["discharge", "charge", "delay"];
const HEATER_KEYS: &[&str] = &["power", "on", "off"];
const SELF_LIMIT_KEYS: &[&str] = &["discharge", "charge"];
const MOST_RETRIES: u64 = 1000;

/// What trips on current, and how the module comes back.
pub fn protection(s: &Section<'_>) -> Protection {
    let time = |key, default| Time::from_seconds(s.quantity_or(key, Kind::Time, defaults::DELAY, default));
    let stages: Vec<Stage> = s.get("over_current").and_then(|v| stages(&v)).unwrap_or_default();
    if !s.has("over_current") {
        s.refuse(&["retry_after", "retries"], "it belongs to `over_current`");
    }
    Protection {
        stages,
        retry_after: time("retry_after", defaults::RETRY_AFTER),
        retries: s.get("retries").and_then(|v| v.whole(0, MOST_RETRIES)).map_or(0, |w| w.value as u32),
        rejoin_wait: time("rejoin_wait", 0.0),
        rejoin_difference: s.quantity("rejoin_difference", Kind::Voltage, Limits::POSITIVE).map(|q| q.value),
        pre_charge: time("pre_charge", 0.0),
    }
}

fn stages(value: &Value<'_>) -> Option<Vec<Stage>> {
    let example = "[{ discharge = \"150 A\", delay = \"0.5 s\" }]";
    let (due, mend) = (format!("a list of stages, as in {example}"), "leave out those that others act before");
    let list = value.few(bounds::STAGES, mend, &due, |k| format!("over-current stage {k}"))?;
    list.iter().map(stage).collect()
}

fn stage(value: &Value<'_>) -> Option<Stage> {
    let s = value.section(STAGE_KEYS)?;
    let current = |key| s.quantity(key, Kind::Current, Limits::POSITIVE).map(|q| q.value);
    let (discharge, charge) = (current("discharge"), current("charge"));
    let delay = s.need_quantity("delay", Kind::Time, defaults::DELAY);
    let (direction, current) = match s.one_of(&["discharge", "charge"], "discharge = \"150 A\"")? {
        "discharge" => (Direction::Discharge, discharge?),
        _ => (Direction::Charge, charge?),
    };
    Some(Stage { direction, current, delay: Time::from_seconds(delay?.value) })
}

/// The heater, which needs room between on and off.
pub fn heater(s: &Section<'_>) -> Option<Heater> {
    let value = s.get("heater")?;
    let h = value.section(HEATER_KEYS)?;
    let power = h.need_quantity("power", Kind::Power, Limits::POSITIVE.at_most(1e4));
    let on = h.need_quantity("on", Kind::Temperature, defaults::TEMPERATURE);
    let off = h.need_quantity("off", Kind::Temperature, defaults::TEMPERATURE);
    if !s.has("heat_capacity") {
        let help = "give `heat_capacity` and `heat_to_air`";
        value.refuse(
            "there is a heater, and the module has no heat".into(),
            "heats nothing like this",
            Some(help.into()),
        );
    }
    let (power, on, off) = (power?, on?, off?);
    if off.value <= on.value {
        let message = format!("the heater turns off at {}", Kind::Temperature.show(off.value));
        let label = format!("must be above `on`, {}", Kind::Temperature.show(on.value));
        h.findings.error(off.span, message, label, None);
        return None;
    }
    Some(Heater { power: power.value, on: on.value, off: off.value })
}

/// The currents at which a module limits itself; a direction that is left out is not limited.
pub fn self_limit(s: &Section<'_>) -> Option<SelfLimit> {
    let value = s.get("self_limit")?;
    let l = value.section(SELF_LIMIT_KEYS)?;
    if !(l.has("discharge") || l.has("charge")) {
        let help = "write `self_limit = { discharge = \"70 A\" }`";
        value.refuse("`self_limit` names no current".into(), "limits nothing like this", Some(help.into()));
    }
    let current = |key| l.quantity(key, Kind::Current, Limits::POSITIVE).map_or(f64::INFINITY, |q| q.value);
    Some(SelfLimit { discharge: current("discharge"), charge: current("charge") })
}
