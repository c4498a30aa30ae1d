//! What a cable's insulation, terminals and surroundings let it carry: the second half of `[cable.NAME]`.

use super::defaults;
use crate::diagnostic::Fault;
use crate::scenario::ampacity::{self, Loaded};
use crate::scenario::document::{Limits, Section, Value, Written};
use crate::scenario::tables::Conductor;
use crate::scenario::{Ampacity, Terminal};
use crate::units::Kind;

/// Conductors that lie in one bundle.
const MOST_BUNDLED: u64 = 1000;

/// What belongs to `insulation`; `Some(None)` where it is left out. `size` is the conductor's, where it has one.
pub fn ampacity(s: &Section<'_>, size: Option<&Conductor>) -> Option<Option<Ampacity>> {
    let insulation = s.quantity("insulation", Kind::Temperature, defaults::INSULATION);
    let base = s.quantity("base", Kind::Temperature, defaults::TEMPERATURE);
    let terminal = s.quantity("terminals", Kind::Temperature, defaults::TEMPERATURE);
    let bundled = s.get("bundled").map_or(Some(1), |v| v.whole(1, MOST_BUNDLED).map(|w| w.value));
    let above_base = s.get("above_base").map_or(Some(false), |v| v.truth());
    let time_constant = s.quantity("time_constant", Kind::Time, defaults::TIME_CONSTANT);
    let loaded = loaded(s, size);
    if !(s.has("insulation") || s.has("ampacity")) {
        let keys = ["loaded", "base", "terminals", "bundled", "above_base", "time_constant"];
        s.refuse(&keys, "it needs `insulation` and `ampacity`");
        return Some(None);
    }
    let (by_insulation, by_ampacity) = (s.need("insulation", "\"90 °C\""), s.need("ampacity", "\"160 A\""));
    let (_, way) = (by_insulation?, by_ampacity?);
    let air = base.as_ref().map_or(defaults::BASE, |b| b.value);
    let hotter = [("insulation", &insulation), ("terminals", &terminal)]
        .map(|(key, stands)| stands.as_ref().is_none_or(|stands| above_air(s, key, stands, air)));
    let current = match way.as_text() {
        Some("table") => by_table(s, &way, insulation.as_ref().map(|i| i.value), size, loaded?),
        _ => {
            s.refuse(&["loaded"], "it belongs to `ampacity = \"table\"`");
            way.quantity(Kind::Current, Limits::POSITIVE).map(|q| q.value)
        }
    };
    if hotter != [true; 2] || (s.has("base") && base.is_none()) || (s.has("terminals") && terminal.is_none()) {
        return None;
    }
    let (insulation, current, loaded) = (insulation?.value, current?, loaded?);
    let terminal = terminal.map(|t| {
        let size = size.map(|c| c.size.as_str());
        let current = ampacity::at_terminal(size, current, insulation, air, t.value, loaded);
        Terminal { temperature: t.value, current }
    });
    let bundling = ampacity::bundling(bundled?);
    let time_constant = match (time_constant, size) {
        (Some(written), _) => written.value,
        (None, Some(c)) => ampacity::time_constant(c.section, c.ohm_per_metre, current * bundling, insulation, air),
        (None, None) => s.need_quantity("time_constant", Kind::Time, defaults::TIME_CONSTANT)?.value,
    };
    Some(Some(Ampacity { current, insulation, base: air, terminal, bundling, above_base: above_base?, time_constant }))
}

/// What of a cable is from tables recalled from memory, in words.
pub fn from_memory(s: &Section<'_>, size: Option<&Conductor>, ampacity: Option<&Ampacity>) -> Vec<String> {
    let resistance =
        size.filter(|c| c.from_memory).map(|c| format!("resistance of {}, class 2 or 5 (IEC 60228)", c.size));
    // `loaded` is legal with the table alone, and no size carries the same with two loaded as with three.
    let of_a_pair =
        |a: &Ampacity, c: &Conductor| ampacity::by_table(&c.size, a.insulation, Loaded::Two) == Some(a.current);
    let pair = ampacity.zip(size).filter(|(a, c)| s.has("loaded") && of_a_pair(a, c));
    let pair = pair.map(|(_, c)| format!("ampacity of {} with two loaded conductors (IEC 60364-5-52)", c.size));
    let bundled = ampacity.filter(|a| a.bundling < ampacity::LEAST_BUNDLING_SEEN);
    let bundled = bundled.map(|a| format!("bundling factor {} (NFPA 70, 310.15(C)(1))", a.bundling));
    [resistance, pair, bundled].into_iter().flatten().collect()
}

/// How many conductors are loaded, which only the tables of sections ask.
fn loaded(s: &Section<'_>, size: Option<&Conductor>) -> Option<Loaded> {
    let Some(value) = s.get("loaded") else { return Some(Loaded::Three) };
    let loaded = value.whole(2, 3)?.value;
    if size.is_some_and(|c| !c.metric) {
        value.refuse_of(
            Fault::Conflict,
            "`loaded` has no meaning here".into(),
            "the table of sizes in AWG is for up to three",
            None,
        );
    }
    Some(if loaded == 2 { Loaded::Two } else { Loaded::Three })
}

fn above_air(s: &Section<'_>, key: &str, stands: &Written<f64>, air: f64) -> bool {
    let above = stands.value > air;
    if !above {
        let message = format!("`{key}` is {}", Kind::Temperature.show(stands.value));
        let label = format!("must be above the air of `base`, {}", Kind::Temperature.show(air));
        s.findings.error(stands.span.clone(), message, label, None);
    }
    above
}

fn by_table(
    s: &Section<'_>,
    value: &Value<'_>,
    insulation: Option<f64>,
    size: Option<&Conductor>,
    loaded: Loaded,
) -> Option<f64> {
    s.refuse(&["base"], "the tables are for air of 30 °C");
    if !s.has("size") {
        let help = "give `size` and `length`, or write a current".to_owned();
        value.refuse_of(Fault::Conflict, "`ampacity` is \"table\"".into(), "needs `size`", Some(help));
        return None;
    }
    let (insulation, size) = (insulation?, size?);
    let found = ampacity::by_table(&size.size, insulation, loaded);
    if found.is_none() {
        let celsius = Kind::Temperature.show(insulation);
        let pair = if loaded == Loaded::Two { ", two loaded" } else { "" };
        let message = format!("no table has {} with insulation of {celsius}{pair}", size.size);
        let help = match loaded {
            Loaded::Two => "two loaded conductors are in the tables from 25 to 95 mm² at 90 °C only".to_owned(),
            Loaded::Three => format!("in the tables: {}", ampacity::sizes_in_tables()),
        };
        value.refuse(message, "give the maker's current instead", Some(help));
    }
    found
}

/// A rating that the insulation does not bear is not a rating.
pub fn unusual_rating(s: &Section<'_>, rating: Option<&Written<f64>>, ampacity: Option<&Ampacity>) {
    let (Some(rating), Some(ampacity)) = (rating, ampacity) else {
        return;
    };
    let limit = ampacity.limit(ampacity.base);
    if rating.value > limit {
        let (written, limit) = (Kind::Current.show(rating.value), Kind::Current.show(limit));
        let message = format!("`rating` is {written}, its ampacity {limit}");
        let air = Kind::Temperature.show(ampacity.base);
        let why = format!("insulation and terminals allow less than this in air of {air}");
        s.findings.unusual(rating.span.clone(), message, &why);
    }
}
