//! The words and figures of a safe limit that its table, chart and CSV share.
//!
//! In: the limits. Out: short texts. Limits are rounded down, never up.

use crate::output::kit::number;
use crate::output::kit::words::listed;
use crate::study::limit::{Bound, Direction, KeptOut, Limits, Why};
use crate::summary::{LimitVerdict, Verdict};

/// Under which conditions everything is.
pub fn conditions(limits: &Limits) -> String {
    let soc = limits
        .soc
        .map_or("the scenario's charge".to_string(), |s| format!("{} % charge", number::significant(s * 100.0, 4)));
    format!("at {} and {soc}", number::celsius_asked(limits.air_c))
}

/// What keeps modules from simply being in service.
pub fn kept_out(kept: &[KeptOut]) -> String {
    let told = |k: &KeptOut| format!("{} {}", k.id, k.state.word());
    kept.iter().map(told).collect::<Vec<_>>().join(", ")
}

/// `504.4 A`; what is only bounded is `at least 310.2 A`.
pub fn limit(bound: &Bound) -> String {
    let shown = |amps: f64| number::current(rounded_down(amps, 10.0));
    match (bound.bounds, bound.current_a) {
        (Some(range), _) => format!("at least {}", shown(range.low_a)),
        (None, amps) => amps.map_or("unbounded".to_string(), shown),
    }
}

/// To one part in `parts` of an ampere. A hair is forgiven, so that 300 A does not become 299.9 A.
pub fn rounded_down(amps: f64, parts: f64) -> f64 {
    (amps * parts * (1.0 + 1e-9)).floor() / parts
}

/// What binds: an element, or what else ends the current.
pub fn binds(bound: &Bound) -> String {
    let id = bound.binding.as_deref().unwrap_or(number::NONE);
    match bound.why {
        Why::Rating => id.to_string(),
        Why::AtRest => format!("{id}, at rest"),
        Why::NothingCarries => "nothing carries it".to_string(),
        Why::BusVoltage => "bus voltage".to_string(),
        Why::Unrated => "nothing is rated".to_string(),
    }
}

/// Which modules are out and which conductor is open.
pub fn set(bound: &Bound) -> String {
    let device = bound.open_device.as_ref().map_or(String::new(), |id| format!(" (as by {id})"));
    let open = bound.open.iter().map(|id| format!("{id} open{device}"));
    let out = (!bound.out.is_empty()).then(|| format!("{} out", bound.out.join(" ")));
    let parts: Vec<String> = open.chain(out).collect();
    if parts.is_empty() { "all in".to_string() } else { parts.join(", ") }
}

/// The worst bound with so many modules out or fewer; `None` where none is bounded.
pub fn least(limits: &Limits, side: Direction, out: usize) -> Option<&Bound> {
    let rows = limits.limits.iter().filter(|row| row.outages <= out).map(|row| row.side(side));
    let bounded = rows.filter_map(|bound| Some((bound.current_a?, bound)));
    bounded.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, bound)| bound)
}

/// `safe up to 400 A with any 2 modules out`
pub fn wanted(target: &LimitVerdict) -> String {
    let out = match target.outages {
        0 => "all modules in".to_owned(),
        1 => "any module out".to_owned(),
        n => format!("any {n} modules out"),
    };
    format!("safe up to {} with {out}", number::current(target.wanted_a))
}

/// `261.5 A`, `at least 261.5 A`
pub fn safe(target: &LimitVerdict) -> String {
    let at_least = if target.exact { "" } else { "at least " };
    let amps = target.got_a.map_or("any current".to_owned(), |amps| number::current(rounded_down(amps, 10.0)));
    format!("{at_least}{amps}")
}

/// `with A1 and A2 out, B.lead1+ binds`; where not every set was solved, the worst one that was, and what solves more.
pub fn in_set(target: &LimitVerdict) -> String {
    let out = match target.out.as_slice() {
        [] => "all in".to_owned(),
        out => format!("{} out", listed(out)),
    };
    let binds = target.binding.as_ref().map_or_else(String::new, |id| format!(", {id} binds"));
    if target.exact {
        return format!("with {out}{binds}");
    }
    let high = target.high_a.map_or("without a limit".to_owned(), number::current);
    let more = match target.verdict {
        Verdict::NotDecided => format!("; `limit --outages {} --most-sets` solves more sets", target.outages),
        Verdict::Met | Verdict::Missed => String::new(),
    };
    format!("(worst set found: {high} with {out}{binds}{more})")
}
