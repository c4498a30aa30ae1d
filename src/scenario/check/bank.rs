//! What the stacks meet at: `[bar]` and `[inverter]`.

use super::device::{Devices, fitted};
use super::{defaults, points};
use crate::curve::Curve;
use crate::diagnostic::{Fault, shortened};
use crate::scenario::document::{Limits, Section, Value};
use crate::scenario::{Bar, CutOut, Fitted, Inverter};
use crate::time::Time;
use crate::units::Kind;

const BAR_KEYS: &[&str] = &["resistance", "load_at", "rating", "device", "poles"];
const INVERTER_KEYS: &[&str] =
    &["rated", "efficiency", "standing", "ripple", "cut_out", "cut_out_delay", "reconnect", "reconnect_delay"];

pub fn open_bar<'a>(value: &Value<'a>) -> Option<Section<'a>> {
    value.section(BAR_KEYS)
}

/// The bar, and the main device between it and the inverter.
pub fn bar(s: &Section<'_>, devices: Devices<'_>) -> Option<(Bar, Option<Fitted>)> {
    let main = main_device(s, devices);
    if !(s.has("resistance") || s.has("device")) {
        let label = "`resistance` or `device` is required here".to_owned();
        let help = "add `resistance = \"0.1 mΩ/m\"`, or leave [bar] out".to_owned();
        s.findings.error_of(Fault::Missing, s.span.clone(), format!("{} says nothing", s.name), label, Some(help));
        return None;
    }
    if !s.has("resistance") {
        s.refuse(&["load_at", "rating"], "without `resistance` the bar is one point a pole");
        return Some((Bar::Ideal, main?));
    }
    let per_metre = s.quantity("resistance", Kind::ResistancePerLength, defaults::RESISTANCE);
    let load_at = s.quantity_or("load_at", Kind::Length, Limits::between(0.0, 1e3), 0.0);
    let rating = s.quantity("rating", Kind::Current, Limits::POSITIVE).map(|q| q.value);
    Some((Bar::Tapped { per_metre: per_metre?.value, load_at, rating }, main?))
}

/// The main device is a branch of its own, so it must have a resistance that current can be calculated with.
fn main_device(s: &Section<'_>, devices: Devices<'_>) -> Option<Option<Fitted>> {
    let fitted = fitted(s, ["device", "poles"], devices)?;
    let Some(device) = fitted.and_then(|f| devices.get(f)) else {
        return Some(fitted);
    };
    if defaults::RESISTANCE.contain(device.resistance) {
        return Some(fitted);
    }
    if let Some(value) = s.get("device") {
        let name = shortened(&device.name);
        let message = format!("the main device \"{name}\" has no resistance");
        let help = format!("add `resistance = \"0.2 mΩ\"` to [device.{name}]");
        value.refuse(message, "must have a `resistance` above 0", Some(help));
    }
    None
}

pub fn inverter(value: &Value<'_>) -> Option<Inverter> {
    let s = value.section(INVERTER_KEYS)?;
    let rated = s.need_quantity("rated", Kind::Power, Limits::POSITIVE);
    let efficiency = s.get("efficiency").map(|v| efficiency(&v));
    let standing = s.quantity_or("standing", Kind::Power, Limits::NOT_NEGATIVE, 0.0);
    let ripple = s.quantity_or("ripple", Kind::Ratio, Limits::SHARE, 0.0);
    let cut_out = cut_out(&s);
    Some(Inverter {
        rated: rated?.value,
        efficiency: match efficiency {
            Some(efficiency) => Some(efficiency?),
            None => None,
        },
        standing,
        ripple,
        cut_out,
    })
}

/// The inverter's efficiency by its output as a share of the rated power.
fn efficiency(value: &Value<'_>) -> Option<Curve> {
    let efficient = |v: &Value<'_>| v.quantity(Kind::Ratio, Limits::POSITIVE.at_most(1.0));
    if value.as_text().is_some() {
        return Some(Curve::constant(efficient(value)?.value));
    }
    let example = "[[\"10 %\", \"90 %\"], [\"50 %\", \"94 %\"]]";
    let output = Limits::between(0.0, 2.0);
    let points = points::read(value, example, 1, |v| v.quantity(Kind::Ratio, output), efficient)?;
    points::curve(&points, 1.0)
}

fn cut_out(s: &Section<'_>) -> Option<CutOut> {
    let voltage = Limits::POSITIVE.at_most(1500.0);
    let trip = s.quantity("cut_out", Kind::Voltage, voltage);
    let reconnect = s.quantity("reconnect", Kind::Voltage, voltage);
    let delay = s.quantity_or("cut_out_delay", Kind::Time, defaults::DELAY, defaults::CUT_OUT_DELAY);
    let reconnect_delay = s.quantity_or("reconnect_delay", Kind::Time, defaults::DELAY, defaults::RECONNECT_DELAY);
    if !s.has("cut_out") {
        s.refuse(&["cut_out_delay", "reconnect", "reconnect_delay"], "it needs `cut_out`");
        return None;
    }
    s.need("reconnect", "\"50 V\"");
    let (trip, reconnect) = (trip?, reconnect?);
    if reconnect.value <= trip.value {
        let message = format!("`reconnect` is {}", Kind::Voltage.show(reconnect.value));
        let label = format!("must be above `cut_out`, {}", Kind::Voltage.show(trip.value));
        s.findings.error(reconnect.span, message, label, None);
        return None;
    }
    Some(CutOut {
        trip: trip.value,
        delay: Time::from_seconds(delay),
        reconnect: reconnect.value,
        reconnect_delay: Time::from_seconds(reconnect_delay),
    })
}
