//! The safe current of a bank, as tables and as sentences of what to set.
//!
//! In: the limits. Out: plain text. Limits are rounded down, never up.

use super::tables::{by_air, rows};
use crate::output::kit::number;
use crate::output::limit::steps::steps;
use crate::output::limit::words::{binds, conditions, kept_out, least, rounded_down};
use crate::study::limit::{Bound, Device, Direction, Limits, OpenedIs, Why};
use std::fmt::Write;

/// Sentences of what to set are printed for at most so many modules out.
const MOST_TOLD: usize = 2;

const BOUNDED: &str = "\
\"at least\": too many sets to solve all (--most-sets). So much is proven safe for every one of them; the limit of the
worst set found stands beside that set, and the limit is not above it.
";

/// Everything.
pub fn table(title: &str, limits: &Limits) -> String {
    let mut text = format!("{title}\nGreatest bank current with nothing over its limit, {}\n", conditions(limits));
    if !limits.kept_out.is_empty() {
        let _ = writeln!(text, "not simply in service at this temperature and charge: {}", kept_out(&limits.kept_out));
    }
    for (side, name) in [(Direction::Discharge, "Discharge"), (Direction::Charge, "Charge")] {
        let _ = writeln!(text, "\n{name}: worst case for each number of modules out");
        let _ = writeln!(text, "{}", rows(&limits.limits, side));
        if limits.limits.iter().any(|row| row.side(side).bounds.is_some()) {
            text.push_str(BOUNDED);
        }
    }
    if !limits.one_lead_open.is_empty() {
        let _ = writeln!(text, "\nThe same with one lead conductor (one pole) open, the worst of them:");
        for side in Direction::BOTH {
            let _ = writeln!(text, "in {}\n{}", side, rows(&limits.one_lead_open, side));
        }
    }
    if !limits.by_air.is_empty() {
        let _ = writeln!(text, "\nBy temperature of everything:\n{}", by_air(limits));
        Direction::BOTH.into_iter().for_each(|side| text.push_str(&changes(limits, side)));
    }
    text.push_str(&devices(limits));
    let _ = writeln!(text, "\n{}", by_hand(limits));
    (0..=MOST_TOLD).for_each(|out| text.push_str(&to_set(limits, out)));
    text
}

/// Where the limit by temperature changes its course, and why.
fn changes(limits: &Limits, side: Direction) -> String {
    let told = steps(limits, side).into_iter().map(|s| {
        let (below, above) = (number::celsius(s.below), number::celsius(s.above));
        format!("In {}, between {below} and {above}: {}.\n", side, s.why)
    });
    told.collect()
}

/// What an opened fuse or breaker is in these tables, and which does not carry a limit for good.
fn devices(limits: &Limits) -> String {
    let ids = |is: OpenedIs| limits.devices.iter().filter(move |d| d.opened_is == is).map(|d| d.id.as_str());
    let told = |is: OpenedIs, what: &str| {
        let ids: Vec<&str> = ids(is).collect();
        match ids.len() {
            0 => String::new(),
            n if n > 4 => format!("{what}: {} and {} more.\n", ids[..3].join(", "), n - 3),
            _ => format!("{what}: {}.\n", ids.join(", ")),
        }
    };
    let opened = told(OpenedIs::ModuleOut, "A device that has opened is its module out")
        + &told(OpenedIs::LeadOpen, "A device that has opened is its lead conductor open")
        + &told(OpenedIs::BankOff, "A device that has opened is the whole bank off");
    let weak = limits.devices.iter().filter(|d| d.current_a > d.rated_a * (1.0 + 1e-9)).map(overloaded);
    let text = opened + &weak.collect::<String>();
    if text.is_empty() { text } else { format!("\n{text}") }
}

/// A device that a limit drives beyond what it is rated for.
fn overloaded(device: &Device) -> String {
    let opens = device
        .opens_after_s
        .map_or("never opens by its curve".to_string(), |s| format!("opens after {} from cold", number::seconds(s)));
    format!(
        "{} {opens} at the {} limit with {} out: it carries {} there, rated {}.\n",
        device.id,
        device.direction,
        device.outages,
        number::current(device.current_a),
        number::current(device.rated_a)
    )
}

fn by_hand(limits: &Limits) -> String {
    let Some(rule) = limits.by_hand_a else {
        return "What equal sharing would allow is not known: no stack has rated leads only.".to_string();
    };
    let rule_text = format!("Assuming equal sharing: {}", number::current(rule));
    match limits.by_hand_gap_a {
        Some(gap) if gap > 1e-6 * rule => {
            format!("{rule_text}, which is {} too much with all modules in.", number::current(gap))
        }
        Some(gap) if gap < -1e-6 * rule => {
            format!("{rule_text}, which is {} less than the limit with all modules in.", number::current(-gap))
        }
        Some(_) => format!("{rule_text}, the same as the limit with all modules in."),
        None => format!("{rule_text}."),
    }
}

/// What to set in the inverter so that it holds with up to so many modules out.
fn to_set(limits: &Limits, out: usize) -> String {
    if !limits.limits.iter().any(|row| row.outages == out) {
        return String::new();
    }
    let with = match out {
        0 => "with all modules in".to_string(),
        1 => "with any 1 module out, or none".to_string(),
        n => format!("with any {n} modules out, or fewer"),
    };
    let condition = format!("({with}, {})", conditions(limits));
    let sentences = Direction::BOTH
        .into_iter()
        .filter_map(|side| least(limits, side, out).map(|bound| sentence(side, &condition, bound)));
    sentences.collect()
}

fn sentence(name: Direction, condition: &str, bound: &Bound) -> String {
    let amps = bound.current_a.unwrap_or(0.0);
    let whole = if amps < 10.0 { rounded_down(amps, 10.0) } else { rounded_down(amps, 1.0) };
    let binds = binds(bound);
    match bound.why {
        Why::NothingCarries if whole <= 0.0 => format!("The bank carries no {name} current {condition}.\n"),
        _ if whole <= 0.0 => format!("No {name} current is safe {condition}: {binds}.\n"),
        Why::Rating => format!("Set the inverter's {name} limit to at most {whole} A {condition}; {binds} binds.\n"),
        _ => format!("The bank's {name} current ends at {whole} A {condition}: {binds}.\n"),
    }
}
