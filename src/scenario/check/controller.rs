//! `[controller]`: the limits that the bank announces, and the link to the inverter.

use super::{defaults, lint, points};
use crate::curve::Curve;
use crate::scenario::document::{Limits, Section, Value};
use crate::scenario::{Controller, FaultStart, Faults, LimitRule, Link, ModuleType, OnLoss};
use crate::time::Time;
use crate::units::Kind;

const KEYS: &[&str] = &[
    "rule",
    "period",
    "delay",
    "reaction",
    "discharge_by_temperature",
    "charge_by_temperature",
    "discharge_by_cell_voltage",
    "charge_by_cell_voltage",
    "lost_link",
    "lost_after",
    "default_discharge",
    "default_charge",
    "link_mtbf",
    "link_mttr",
];

/// Between two messages: often enough to be a controller's, seldom enough to be simulated.
const PERIOD: Limits = Limits::between(1e-3, 3600.0);

pub fn controller(value: &Value<'_>, modules: Option<&[ModuleType]>) -> Option<Controller> {
    let s = value.section(KEYS)?;
    let rule = s.get("rule").map(|v| v.choice(&[("sum", LimitRule::Sum), ("least", LimitRule::Least)]));
    let time = |key, limits, default| Time::from_seconds(s.quantity_or(key, Kind::Time, limits, default));
    let share = |key: &'static str, kind| s.get(key).map(|v| by(&v, kind));
    let discharge_by_temperature = share("discharge_by_temperature", Kind::Temperature);
    let charge_by_temperature = share("charge_by_temperature", Kind::Temperature);
    let discharge_by_cell_voltage = share("discharge_by_cell_voltage", Kind::Voltage);
    let charge_by_cell_voltage = share("charge_by_cell_voltage", Kind::Voltage);
    let link = link(&s);
    let controller = Controller {
        rule: rule.unwrap_or(Some(LimitRule::Sum))?,
        period: time("period", PERIOD, defaults::PERIOD),
        delay: time("delay", defaults::DELAY, 0.0),
        reaction: time("reaction", defaults::DELAY, 0.0),
        discharge_by_temperature: discharge_by_temperature.map_or(Some(None), |c| c.map(Some))?,
        charge_by_temperature: charge_by_temperature.map_or(Some(None), |c| c.map(Some))?,
        discharge_by_cell_voltage: discharge_by_cell_voltage.map_or(Some(None), |c| c.map(Some))?,
        charge_by_cell_voltage: charge_by_cell_voltage.map_or(Some(None), |c| c.map(Some))?,
        link: link?,
    };
    lint::controller(&s, &controller, modules);
    Some(controller)
}

/// A share of the limit (0…1) by a quantity.
fn by(value: &Value<'_>, kind: Kind) -> Option<Curve> {
    let example = format!("[[\"{}\", \"50 %\"], …]", kind.example());
    let x = |v: &Value<'_>| v.quantity(kind, Limits::ANY);
    let points = points::read(value, &example, 1, x, |v| v.quantity(Kind::Ratio, Limits::SHARE))?;
    points::curve(&points, 1.0)
}

fn link(s: &Section<'_>) -> Option<Link> {
    let positive = |key| s.quantity(key, Kind::Time, Limits::at_least(1.0)).map(|q| q.value);
    let (mtbf, mttr) = (positive("link_mtbf"), positive("link_mttr"));
    let lost_after = s.quantity_or("lost_after", Kind::Time, defaults::DELAY, defaults::LOST_AFTER);
    let current = |key| s.quantity(key, Kind::Current, Limits::NOT_NEGATIVE).map_or(0.0, |q| q.value);
    let default = OnLoss::Default { discharge: current("default_discharge"), charge: current("default_charge") };
    let choices = [("stop", OnLoss::Stop), ("hold", OnLoss::Hold), ("default", default)];
    let on_loss = s.get("lost_link").map_or(Some(OnLoss::Stop), |v| v.choice(&choices))?;
    if !matches!(on_loss, OnLoss::Default { .. }) {
        s.refuse(&["default_discharge", "default_charge"], "it belongs to `lost_link = \"default\"`");
    }
    if !s.has("link_mtbf") {
        s.refuse(&["link_mttr"], "it needs `link_mtbf`");
    }
    let start = if mttr.is_some() { FaultStart::Stationary } else { FaultStart::InService };
    let faults = mtbf.map(|mtbf| Faults { mtbf, mttr, start });
    Some(Link { faults, lost_after: Time::from_seconds(lost_after), on_loss })
}
