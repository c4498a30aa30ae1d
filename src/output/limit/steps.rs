//! Where and why the limit by temperature changes its course.
//!
//! In: the limits at several temperatures. Out: for each direction, where between two temperatures modules are kept
//! out, or where another element or another property of it begins to bind, with all modules in.

use crate::engine::module::State;
use crate::output::kit::number;
use crate::output::limit::words::binds;
use crate::study::limit::{AtAir, Bound, Direction, LimitedBy, Limits};

/// A change between two temperatures that were solved, in words.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// [°C]
    pub below: f64,
    /// The warmer of the two [°C].
    pub above: f64,
    /// What changes between them.
    pub why: String,
}

/// The temperatures that were solved, coldest first, each once.
pub fn by_air(limits: &Limits) -> Vec<&AtAir> {
    let mut all: Vec<&AtAir> = limits.by_air.iter().collect();
    all.sort_by(|a, b| a.air_c.total_cmp(&b.air_c));
    all.dedup_by(|a, b| a.air_c == b.air_c);
    all
}

/// Coldest first.
pub fn steps(limits: &Limits, side: Direction) -> Vec<Step> {
    let all = by_air(limits);
    let pairs = all.windows(2).map(|pair| (pair[0], pair[1]));
    let step = |(cold, warm): (&AtAir, &AtAir)| {
        let why = blocked(cold, warm, side).or_else(|| binding(cold, warm, side))?;
        Some(Step { below: cold.air_c, above: warm.air_c, why })
    };
    pairs.filter_map(step).collect()
}

/// Whether modules are kept out at one of two temperatures only: the limit then jumps between them.
pub fn jumps(cold: &AtAir, warm: &AtAir, side: Direction) -> bool {
    blocked(cold, warm, side).is_some()
}

/// Modules that carry nothing this way.
fn kept(at: &AtAir, side: Direction) -> Vec<&str> {
    let carries = |state: State| match side {
        Direction::Discharge => state.delivers(),
        Direction::Charge => state.takes_charge(),
    };
    at.kept_out.iter().filter(|k| !carries(k.state)).map(|k| k.id.as_str()).collect()
}

fn blocked(cold: &AtAir, warm: &AtAir, side: Direction) -> Option<String> {
    let (below, above) = (kept(cold, side), kept(warm, side));
    let only = |a: &[&str], b: &[&str]| a.iter().filter(|id| !b.contains(id)).map(|id| id.to_string()).collect();
    let (cold_only, warm_only): (Vec<String>, Vec<String>) = (only(&below, &above), only(&above, &below));
    let told = |ids: &[String], celsius: f64, way: &str| {
        (!ids.is_empty()).then(|| {
            let (who, carry) = if ids.len() <= 4 {
                (ids.join(" "), if ids.len() == 1 { "carries" } else { "carry" })
            } else {
                (format!("{} modules ({} to {})", ids.len(), ids[0], ids[ids.len() - 1]), "carry")
            };
            format!("at {} and {way} {who} {carry} no {} current", number::celsius(celsius), side)
        })
    };
    let parts = [told(&cold_only, cold.air_c, "colder"), told(&warm_only, warm.air_c, "warmer")];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join("; "))
}

fn binding(cold: &AtAir, warm: &AtAir, side: Direction) -> Option<String> {
    let (a, b) = (cold.limits.first()?.side(side), warm.limits.first()?.side(side));
    let same = (a.why, &a.binding, a.limited_by) == (b.why, &b.binding, b.limited_by);
    (!same).then(|| format!("below it {} binds, above it {}", by(a), by(b)))
}

/// What binds, and which property of it: `B.lead1+ by its insulation`.
fn by(bound: &Bound) -> String {
    match bound.limited_by {
        Some(LimitedBy::Ampacity) => format!("{} by its insulation or terminals", binds(bound)),
        Some(LimitedBy::Rating) => format!("{} by its rating", binds(bound)),
        _ => binds(bound),
    }
}
