//! Axes: a range, at most seven round ticks, and how a tick is written.

use crate::math;
use crate::output::kit::number;
use plotters::coord::ranged1d::{DefaultFormatting, KeyPointHint, Ranged};
use std::ops::Range;

/// Ticks at most.
const MOST: usize = 7;

/// A linear range with ticks of its own choice.
#[derive(Clone, Debug)]
pub struct Scale {
    pub low: f64,
    pub high: f64,
    pub ticks: Vec<f64>,
}

impl Ranged for Scale {
    type FormatOption = DefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, (from, to): (i32, i32)) -> i32 {
        // Far outside is as good as just outside, and whole numbers end somewhere.
        let share = ((value - self.low) / (self.high - self.low)).clamp(-1.0, 2.0);
        from + (share * f64::from(to - from)).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, _: Hint) -> Vec<f64> {
        self.ticks.clone()
    }

    fn range(&self) -> Range<f64> {
        self.low..self.high
    }
}

pub struct Axis {
    pub scale: Scale,
    pub show: Box<dyn Fn(f64) -> String>,
    /// Quantity, symbol and unit; empty where a heading says it.
    pub name: String,
}

impl Axis {
    /// A linear axis over at least `low..high`, with room of its own where both are equal.
    pub fn linear(low: f64, high: f64, name: &str) -> Axis {
        let (low, high) = sound(low, high);
        let ticks = round_ticks(low, high, MOST - 1);
        let show = Box::new(signed);
        Axis { scale: Scale { low, high, ticks }, show, name: name.into() }
    }

    /// A linear axis for probabilities, written in percent; the name tells the unit.
    pub fn percent(low: f64, high: f64, name: &str) -> Axis {
        let mut axis = Axis::linear(low, high, name);
        axis.show = Box::new(|v| signed(v * 100.0));
        axis
    }

    /// A logarithmic axis for probabilities: data are their decimal logarithms.
    pub fn log_percent(low: f64, high: f64, name: &str) -> Axis {
        let (low, high) = sound(math::log10(low), math::log10(high));
        let show = Box::new(|v: f64| number::significant(math::powf(10.0, v) * 100.0, 2));
        Axis { scale: Scale { low, high, ticks: log_ticks(low, high) }, show, name: name.into() }
    }

    /// Changes of probabilities on both sides of zero, on a scale of square roots, written in percent: data are their
    /// `root`. On `width` ticks are at least `apart`.
    pub fn root_percent(low: f64, high: f64, (width, apart): (f64, f64)) -> Axis {
        let (low, high) = sound(root(low.min(0.0)), root(high.max(0.0)));
        let near = apart / width * (high - low);
        let show = Box::new(|v: f64| signed(100.0 * v * v.abs()));
        Axis { scale: Scale { low, high, ticks: root_ticks(low, high, near) }, show, name: String::new() }
    }

    /// An axis without ticks or labels.
    pub fn bare(low: f64, high: f64) -> Axis {
        let (low, high) = sound(low, high);
        let scale = Scale { low, high, ticks: Vec::new() };
        Axis { scale, show: Box::new(|_| String::new()), name: String::new() }
    }

    /// Hours after the start of a night, written on the clock where the start is known [h after midnight].
    pub fn clock(hours: f64, start: Option<f64>) -> Axis {
        let (low, high) = sound(0.0, hours);
        // A label that names the day takes more room.
        let most = if start.is_some() && hours > DAY { 4.5 } else { MOST as f64 - 1.0 };
        let step = [0.25, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 12.0, 24.0, 48.0, 96.0, 168.0]
            .into_iter()
            .find(|s| hours / s <= most)
            .unwrap_or(hours / 6.0);
        let Some(start) = start else {
            let ticks = (0..MOST).map(|k| k as f64 * step).filter(|t| *t <= high).collect();
            return Axis {
                scale: Scale { low, high, ticks },
                show: Box::new(signed),
                name: "Time after the start t (h)".into(),
            };
        };
        let first = ((start + low) / step).ceil() * step - start;
        let ticks = (0..MOST).map(|k| first + k as f64 * step).filter(|t| *t <= high).collect();
        let show = Box::new(move |t| moment(t, Some(start), hours));
        let name =
            if hours > DAY { "Day, from the start on, and local clock time t" } else { "Local clock time t (hh:mm)" };
        Axis { scale: Scale { low, high, ticks }, show, name: name.into() }
    }
}

/// Hours of a day.
const DAY: f64 = 24.0;

/// A moment of a night that is so long [h]: `03:12` where its start is known [h after midnight], `day 2 03:12` where the
/// clock passes more than once, else `10.20 h`.
pub fn moment(at: f64, start: Option<f64>, hours: f64) -> String {
    let Some(start) = start else { return format!("{at:.2} h") };
    let minutes = ((start + at) * 60.0).round().max(0.0);
    let day = if hours > DAY { format!("day {} ", (minutes / 60.0 / DAY).floor() + 1.0) } else { String::new() };
    day + &clock(start + at)
}

/// `03:12`, of hours after some midnight.
fn clock(hours: f64) -> String {
    let minutes = (hours * 60.0).round().max(0.0) as u64;
    format!("{:02}:{:02}", minutes / 60 % 24, minutes % 60)
}

/// Finite, rising, and not a point.
fn sound(low: f64, high: f64) -> (f64, f64) {
    let low = if low.is_finite() { low } else { 0.0 };
    let high = if high.is_finite() { high } else { low + 1.0 };
    if high - low > 1e-12 * low.abs().max(1e-9) { (low, high) } else { (low, low + low.abs().max(1.0)) }
}

/// Four digits at most, a true minus sign, and nothing of what representation adds near zero.
fn signed(v: f64) -> String {
    if v.abs() < 1e-12 { "0".into() } else { number::significant(v, 4).replace('-', "−") }
}

/// Multiples of 1, 2 or 5 times a power of ten.
fn round_ticks(low: f64, high: f64, most: usize) -> Vec<f64> {
    let rough = (high - low) / most as f64;
    let decade = math::powf(10.0, math::log10(rough).floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * decade).into_iter().find(|s| *s >= rough * 0.999_999);
    let step = step.unwrap_or(10.0 * decade);
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    (first..=last).take(MOST).map(|k| k as f64 * step).collect()
}

/// Whole decades; 1, 2 and 5, or 1 and 3, of each where few decades are shown; every second or third where many are.
fn log_ticks(low: f64, high: f64) -> Vec<f64> {
    let (first, last) = ((low - 1e-9).ceil() as i32, (high + 1e-9).floor() as i32);
    let decades: Vec<f64> = (first..=last).map(f64::from).collect();
    if decades.len() >= 3 {
        return decades.iter().copied().step_by(decades.len().div_ceil(MOST)).collect();
    }
    let finer = |steps: &[f64]| -> Vec<f64> {
        let all = (first - 1..=last + 1).flat_map(|d| steps.iter().map(move |m| math::log10(*m) + f64::from(d)));
        all.filter(|t| *t >= low - 1e-9 && *t <= high + 1e-9).collect()
    };
    let candidates = [finer(&[1.0, 2.0, 5.0]), finer(&[1.0, 3.0]), decades];
    candidates.into_iter().find(|ticks| ticks.len() <= MOST).unwrap_or_default()
}

/// The square root of the magnitude, with the sign.
pub fn root(x: f64) -> f64 {
    x.signum() * x.abs().sqrt()
}

/// Zero, and 1, 2 and 5 times powers of ten on both sides of it, the greatest first, none nearer to another than `near`.
fn root_ticks(low: f64, high: f64, near: f64) -> Vec<f64> {
    let steps = (-12..=6).rev().flat_map(|decade| [5.0, 2.0, 1.0].map(|m| m * math::powi(10.0, decade)));
    let sides = steps.flat_map(|step: f64| [-step.sqrt(), step.sqrt()]).filter(|v| (low..=high).contains(v));
    let mut ticks = vec![0.0];
    for tick in sides {
        if ticks.len() < MOST && ticks.iter().all(|t: &f64| (t - tick).abs() >= near) {
            ticks.push(tick);
        }
    }
    ticks.sort_by(f64::total_cmp);
    ticks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_few() {
        assert_eq!(round_ticks(0.0, 100.0, 6), [0.0, 20.0, 40.0, 60.0, 80.0, 100.0]);
        for high in [0.003, 0.7, 1.1, 9.0, 17.3, 230.0, 1e6] {
            let n = Axis::linear(0.0, high, "").scale.ticks.len();
            assert!((3..=MOST).contains(&n), "{n} ticks up to {high}");
        }
    }

    #[test]
    fn ticks_of_a_night_fall_on_the_clock() {
        let axis = Axis::clock(16.0, Some(17.0));
        let shown: Vec<_> = axis.scale.ticks.iter().map(|t| (axis.show)(*t)).collect();
        assert_eq!(shown, ["18:00", "21:00", "00:00", "03:00", "06:00", "09:00"]);
    }

    #[test]
    fn ticks_of_roots_are_round_and_apart() {
        let axis = Axis::root_percent(-0.02, 0.6, (140.0, 34.0));
        let shown: Vec<_> = axis.scale.ticks.iter().map(|t| (axis.show)(*t)).collect();
        // By hand: √0.5, √0.2, √0.05 and 0 are 0.224 apart at least, 34 of 140 are 0.2225; √0.1 is too near.
        assert_eq!(shown, ["0", "5", "20", "50"]);
        let axis = Axis::root_percent(-1.6, 0.19, (140.0, 34.0));
        let shown: Vec<_> = axis.scale.ticks.iter().map(|t| (axis.show)(*t)).collect();
        assert_eq!(shown, ["−100", "−20", "0"]);
        assert_eq!(root(-0.25), -0.5);
    }

    #[test]
    fn logarithmic_ticks_are_few() {
        for (low, high) in [(-5.0, 0.0), (-2.3, -1.6), (-12.0, -1.0), (-3.0, -2.9)] {
            assert!(log_ticks(low, high).len() <= MOST);
        }
        assert_eq!(log_ticks(-3.0, -1.0), [-3.0, -2.0, -1.0]);
    }

    #[test]
    fn a_range_that_is_a_point_gets_room() {
        let axis = Axis::linear(f64::NAN, f64::NAN, "");
        assert!(axis.scale.high > axis.scale.low);
        assert!(Axis::linear(5.0, 5.0, "").scale.high > 5.0);
    }
}
