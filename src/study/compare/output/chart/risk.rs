//! Risk on a logarithmic scale, and what marks it; prices on an axis.

use crate::math;
use crate::output::kit::chart::prelude::*;
use crate::study::compare::Comparison;
use crate::summary::{Estimate, Target};

/// The greatest chance a night that the scenario allows, where it is above zero.
pub fn target(c: &Comparison) -> Option<f64> {
    let all = c.layouts.iter().flat_map(|l| &l.targets);
    all.filter(|t| t.target == Target::OverloadProbability).map(|t| t.required).find(|p| *p > 0.0)
}

pub fn unseen(risk: &Estimate) -> bool {
    risk.estimate <= 0.0
}

/// All that the axis of risk must hold above its foot: estimates, upper ends where none was seen, the target.
pub fn risks(c: &Comparison) -> impl Iterator<Item = f64> {
    let drawn = c.layouts.iter().map(|l| if unseen(&l.overload) { l.overload.high } else { l.overload.estimate });
    drawn.chain(target(c)).filter(|p| *p > 0.0)
}

/// Where a risk is drawn: its estimate, or below all others where none was seen.
pub fn shown(c: &Comparison, risk: &Estimate) -> f64 {
    if unseen(risk) { risks(c).fold(1.0, f64::min) / 2.0 } else { risk.estimate }
}

/// A logarithmic axis that holds all risks, and the target.
pub fn risk_axis(c: &Comparison) -> Axis {
    let low = c.layouts.iter().map(|l| shown(c, &l.overload)).chain(target(c)).fold(1.0, f64::min);
    let high = risks(c).fold(low, f64::max);
    Axis::log_percent(low / 1.6, (high * 1.4).min(1.2), "")
}

/// An axis of prices in whole numbers: room beside both ends as a share of their range, and at most so many ticks.
pub fn price_axis(
    prices: impl Iterator<Item = f64> + Clone,
    currency: Option<&str>,
    (share, ticks): (f64, usize),
) -> Axis {
    let (low, high) = (prices.clone().fold(f64::INFINITY, f64::min), prices.fold(f64::NEG_INFINITY, f64::max));
    // So wide that whole numbers are apart, where all cost the same.
    let room = (share * (high - low)).max(2.0);
    let mut axis = Axis::linear(low - room, high + room, &format!("Price of parts K ({})", currency.unwrap_or("–")));
    axis.scale.ticks.retain(|tick| tick.fract() == 0.0);
    // Wide numbers need room.
    let every = axis.scale.ticks.len().div_ceil(ticks);
    axis.scale.ticks = axis.scale.ticks.iter().copied().step_by(every.max(1)).collect();
    axis.show = Box::new(|v| number::count(v.round().max(0.0) as u64));
    axis
}

/// What stands over an axis of risk.
pub fn risk_heading(sheet: &Sheet, top: f64) -> Drawn {
    let what = "Probability of overload in one night P (%)";
    write_bold(sheet, what, (6.0, top + 6.0), Ink::Text, Align::Start)
}

/// What a ring is, where there is one.
pub fn ring_note(c: &Comparison) -> Option<String> {
    let any = c.layouts.iter().any(|l| unseen(&l.overload));
    let told = match c.exact {
        true => "Ring at the foot: no overload.",
        false => "Ring at the foot: overload was not seen; its line ends at the upper end of its 95 % interval.",
    };
    any.then(|| told.to_owned())
}

/// A logarithm that a risk is drawn at.
pub fn at(risk: f64) -> f64 {
    math::log10(risk.max(1e-300))
}

/// A disc where overload was seen, a ring where it was not.
pub fn mark(sheet: &Sheet, at: (f64, f64), risk: &Estimate, ink: Ink) -> Drawn {
    disc(sheet, at, 5.5, Ink::Surface)?;
    if unseen(risk) { ring(sheet, at, 4.5, (ink, 2.0)) } else { disc(sheet, at, 4.5, ink) }
}

/// A 95 % interval, upright, from its low to its high end; cut at the end of the axis.
pub fn upright(sheet: &Sheet, x: f64, [low, high]: [f64; 2], ink: Ink) -> Drawn {
    line(sheet, &[(x, low), (x, high)], stroke(ink.colour(), 1.5))
}

/// Conditions under which all were run.
pub fn conditions(c: &Comparison) -> String {
    format!(
        "{} of {} that are the same for all {}; overload is a current over the rating for longer than {}.",
        number::counted(c.trials, "night", "nights"),
        number::hours(c.horizon_h),
        number::counted(c.layouts.len() as u64, "layout", "layouts"),
        number::duration(c.hold_s / 3600.0)
    )
}
