//! Protective devices: their types, `[device.NAME]`, and where they are fitted.

use super::parts::price;
use super::{defaults, points};
use crate::diagnostic::Fault;
use crate::scenario::document::{Limits, Section, Value, Written};
use crate::scenario::{DeviceKind, DeviceType, Fitted, Poles, TripCurve};
use crate::units::{Kind, plain};

const KEYS: &[&str] = &[
    "kind",
    "rated",
    "curve",
    "multiplier",
    "time_constant",
    "instantaneous",
    "cooling",
    "resistance",
    "breaking_capacity",
    "voltage",
    "price",
];

/// A curve that has a name.
#[derive(Clone, Copy, PartialEq)]
enum Named {
    FuseLink,
    VeryInverse,
    ExtremelyInverse,
    Thermal,
}

const CURVES: [(&str, Named); 4] = [
    ("fuse-link", Named::FuseLink),
    ("very inverse", Named::VeryInverse),
    ("extremely inverse", Named::ExtremelyInverse),
    ("thermal", Named::Thermal),
];

/// A curve as it is asked for, before the keys that belong to it are read.
enum Asked {
    Named(Named),
    Points(Vec<(f64, f64)>),
}

/// One type of protective device; `None` where any of it is at fault.
pub fn device(name: &str, value: &Value<'_>) -> Option<DeviceType> {
    let s = value.section(KEYS)?;
    let kinds = [("fuse", DeviceKind::Fuse), ("breaker", DeviceKind::Breaker)];
    let kind = s.need("kind", "\"fuse\"").and_then(|v| v.choice(&kinds));
    let rated = s.need_quantity("rated", Kind::Current, Limits::POSITIVE);
    let curve = curve(&s, kind);
    let thermal = matches!(curve, Some(TripCurve::Thermal { .. }));
    let cooling = s.quantity_or("cooling", Kind::Time, defaults::TIME_CONSTANT, defaults::COOLING);
    if thermal {
        s.refuse(&["cooling"], "a thermal curve cools with its `time_constant`");
    }
    if kind == Some(DeviceKind::Fuse) {
        s.refuse(&["instantaneous"], "it belongs to a breaker");
    }
    let instantaneous = above_rated(&s, "instantaneous", rated.as_ref());
    let breaking_capacity = above_rated(&s, "breaking_capacity", rated.as_ref());
    // The main device must have one: a fault here must not become a second one there.
    let resistance =
        s.get("resistance").map_or(Some(0.0), |v| v.quantity(Kind::Resistance, Limits::NOT_NEGATIVE).map(|q| q.value));
    let voltage = s.quantity("voltage", Kind::Voltage, Limits::POSITIVE);
    if let (Some(TripCurve::FuseLink), Some(rated)) = (&curve, &rated) {
        unusual_link(&s, rated);
    }
    without_rating(&s);
    let curve = curve?;
    Some(DeviceType {
        name: name.to_owned(),
        kind: kind?,
        rated: rated?.value,
        cooling: match curve {
            TripCurve::Thermal { time_constant } => time_constant,
            _ => cooling,
        },
        curve,
        instantaneous,
        resistance: resistance?,
        breaking_capacity,
        voltage: voltage.map(|q| q.value),
        price: price(&s, "price"),
    })
}

/// A current that only means something above the rated one.
fn above_rated(s: &Section<'_>, key: &'static str, rated: Option<&Written<f64>>) -> Option<f64> {
    let current = s.quantity(key, Kind::Current, Limits::POSITIVE)?;
    let rated = rated?.value;
    if current.value > rated {
        return Some(current.value);
    }
    let message = format!("`{key}` is {}", Kind::Current.show(current.value));
    let label = format!("must be above `rated`, {}", Kind::Current.show(rated));
    s.findings.error(current.span, message, label, None);
    None
}

/// The curve with the keys that belong to it; those that do not are faults.
fn curve(s: &Section<'_>, kind: Option<DeviceKind>) -> Option<TripCurve> {
    let multiplier = s.get("multiplier").map(|v| v.number(Limits::POSITIVE.at_most(1e3)));
    let time_constant = s.quantity("time_constant", Kind::Time, defaults::TIME_CONSTANT);
    let asked = asked(s, kind)?;
    if !matches!(asked, Asked::Named(Named::VeryInverse | Named::ExtremelyInverse)) {
        s.refuse(&["multiplier"], "it belongs to \"very inverse\" and \"extremely inverse\"");
    }
    if !matches!(asked, Asked::Named(Named::Thermal)) {
        s.refuse(&["time_constant"], "it belongs to `curve = \"thermal\"`");
    }
    let inverse = |k, alpha| {
        let multiplier = multiplier.unwrap_or(Some(Written { value: 1.0, span: 0..0 }))?.value;
        Some(TripCurve::Inverse { k, alpha, multiplier })
    };
    match asked {
        Asked::Points(points) => Some(TripCurve::Points(points)),
        Asked::Named(Named::FuseLink) => Some(TripCurve::FuseLink),
        // IEC 60255-151, Table A.1, curves B and C.
        Asked::Named(Named::VeryInverse) => inverse(13.5, 1.0),
        Asked::Named(Named::ExtremelyInverse) => inverse(80.0, 2.0),
        Asked::Named(Named::Thermal) => {
            s.need("time_constant", "\"5 min\"");
            Some(TripCurve::Thermal { time_constant: time_constant?.value })
        }
    }
}

/// Reads the trip curve. A fuse may leave it out; breakers differ too much for a default.
fn asked(s: &Section<'_>, kind: Option<DeviceKind>) -> Option<Asked> {
    let Some(value) = s.get("curve") else {
        if kind? == DeviceKind::Fuse {
            return Some(Asked::Named(Named::FuseLink));
        }
        s.need("curve", "[[1.35, \"1 h\"], [2, \"100 s\"], [10, \"1 s\"]]");
        return None;
    };
    if value.is_list() {
        return table(&value).map(Asked::Points);
    }
    let named = value.choice(&CURVES)?;
    if named == Named::FuseLink && kind? == DeviceKind::Breaker {
        let help = "write another curve, or rows from its data sheet".to_owned();
        let message = "a breaker has the curve of a fuse-link".into();
        value.refuse_of(Fault::Conflict, message, "belongs to a fuse", Some(help));
        return None;
    }
    Some(Asked::Named(named))
}

/// Rows of current, as a multiple of the rated one, and time [s].
fn table(value: &Value<'_>) -> Option<Vec<(f64, f64)>> {
    let example = "[[1.35, \"1 h\"], [2, \"100 s\"]]";
    let multiple = |v: &Value<'_>| v.number(Limits::POSITIVE.at_most(1e3));
    let points = points::read(value, example, 2, multiple, |v| v.quantity(Kind::Time, Limits::POSITIVE))?;
    if let Some((first, _)) = points.first().filter(|(multiple, _)| multiple.value < 1.0) {
        let message = format!("the first row of `curve` is for {} of `rated`", plain(first.value));
        value.findings.unusual(first.span.clone(), message, "below 1 it opens at less than its rated current");
    }
    let mut falls = true;
    for two in points.windows(2) {
        let [(_, before), (_, here)] = two else { continue };
        if here.value > before.value {
            falls = false;
            let message = format!("`curve` rises to {}", Kind::Time.show(here.value));
            let label = "a greater current must not take longer".to_owned();
            value.findings.error(here.span.clone(), message, label, None);
        }
    }
    falls.then(|| points.iter().map(|(m, t)| (m.value, t.value)).collect())
}

fn unusual_link(s: &Section<'_>, rated: &Written<f64>) {
    if !(63.0..=400.0).contains(&rated.value) {
        let message = format!("the built-in fuse-link is rated {}", Kind::Current.show(rated.value));
        let why = "its curve is inside the gates of IEC 60269-1 from 63 to 400 A only; give `curve` by rows";
        s.findings.unusual(rated.span.clone(), message, why);
    }
}

fn without_rating(s: &Section<'_>) {
    let keys = ["breaking_capacity", "voltage"].into_iter().filter(|key| !s.has(key));
    let missing: Vec<String> = keys.map(|key| format!("`{key}`")).collect();
    if !missing.is_empty() {
        let message = format!("{} has no {}", s.name, missing.join(" and no "));
        s.findings.unusual(s.span.clone(), message, "a rating for direct current belongs to every device");
    }
}

/// Device types to refer to, and themselves where all are sound.
#[derive(Clone, Copy)]
pub struct Devices<'a> {
    pub names: &'a [String],
    pub types: Option<&'a [DeviceType]>,
}

impl Devices<'_> {
    /// The type that is fitted, where all types are sound.
    pub fn get(&self, fitted: Fitted) -> Option<&DeviceType> {
        self.types?.get(fitted.device)
    }
}

/// The devices fitted in a place, by the keys of their type and poles; `Some(None)`: none is fitted, `None`: a fault.
pub fn fitted(s: &Section<'_>, [device, poles]: [&'static str; 2], devices: Devices<'_>) -> Option<Option<Fitted>> {
    let words = [("positive", Poles::Positive), ("negative", Poles::Negative), ("both", Poles::Both)];
    let at = s.get(poles).map(|v| v.choice(&words));
    let Some(value) = s.get(device) else {
        s.refuse(&[poles], &format!("it needs `{device}`"));
        return Some(None);
    };
    let device = value.reference("device", devices.names);
    let poles = at.unwrap_or(Some(Poles::Positive));
    Some(Some(Fitted { device: device?, poles: poles? }))
}
