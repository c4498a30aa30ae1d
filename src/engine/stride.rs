//! How far the grid of a trial's steps lets one go, and how good a long step is.
//!
//! In: the load, the trials, the controller; of a step both ends of each module. Out: the grid's step, and bounds of the
//! step's error.
//!
//! A step of the scenario's length is taken as it is. Where nothing changes for longer, several are taken as one, as
//! long as the error that can be told from its ends is small (`trial::step`). The grid is the same for every trial, so
//! that trials can ride abreast.

use crate::profile::{Night, Series};
use crate::scenario::{Controller, Load, Trials};
use crate::time::Time;

/// At most so many of the scenario's steps are one, and no longer than this.
const FARTHEST: i64 = 15;
const LONGEST: Time = Time(900_000_000);

/// Currents that stray by less from the straight line of a long step are not looked at [A].
pub const STRAY: f64 = 0.05;

/// Charge that a module may be off by after one long step, before it evens out again (0…1).
pub const CHARGE: f64 = 1e-3;

/// Temperature that it may be off by [K].
pub const TEMPERATURE: f64 = 0.02;

/// The step of the grid: the most of the scenario's steps that end wherever the load profile changes. A constant load is
/// an exact calculation and keeps its step; so does a bank whose controller follows voltage or temperature.
pub fn grid(load: &Load, controller: Option<&Controller>, trials: &Trials) -> Time {
    let follows = controller.is_some_and(Controller::derates);
    match load {
        Load::Profile(series) if !follows => {
            let spacing = spacing(series, &trials.nights).saturating_mul(1_000_000);
            let longer = (2..=FARTHEST).rev().map(|k| Time(trials.step.0.saturating_mul(k)));
            let mut fit = longer.filter(|step| *step <= LONGEST && spacing % step.0 == 0);
            fit.next().unwrap_or(trials.step)
        }
        _ => trials.step,
    }
}

/// The longest time of which all readings are a multiple, from the start of any night [s].
fn spacing(series: &Series, nights: &[Night]) -> i64 {
    let between = series.times().windows(2).map(|pair| pair[1].saturating_sub(pair[0]));
    let before = nights.iter().map(|night| series.first().saturating_sub(night.load_start));
    between.chain(before).fold(0, common_divisor)
}

fn common_divisor(a: i64, b: i64) -> i64 {
    let (mut a, mut b) = (a.unsigned_abs(), b.unsigned_abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    i64::try_from(a).unwrap_or(1)
}

/// A module's way through a step.
#[derive(Clone, Copy, Debug)]
pub struct Way {
    /// Slope of its open-circuit curve at the start and at the end [V].
    pub slopes: (f64, f64),
    /// By the end, of its charge (0…1) and of its current [A].
    pub charge: f64,
    pub current: f64,
    /// Half of the step by its capacity [1/A].
    pub half_per_ampere: f64,
    /// [Ω]
    pub resistance: f64,
}

impl Way {
    /// How far the current may stray from the straight line between the ends [A]: at most.
    ///
    /// Through a corner of the open-circuit curve, where its slope changes by Δs, the current's own slope changes by
    /// Δs·ż/R, if the rest of the bank held the voltage; that bends it by τ(1−τ)·|Δs·Δz|/R at the share τ of the step,
    /// at most a quarter. A departure from balance that decays with x = h·E′/(Q·R) lies below its chord by (x/8)·Δi.
    #[inline(always)]
    pub fn stray(&self) -> f64 {
        let corner = ((self.slopes.1 - self.slopes.0) * self.charge).abs();
        let decay = (self.current * self.half_per_ampere * self.slopes.1).abs();
        (corner + decay) / (4.0 * self.resistance)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::Clock;

    #[test]
    fn readings_of_a_quarter_hour_from_a_whole_minute() {
        let series = |first| Series::from_parts(Clock::Local, vec![first, first + 900, first + 2700], vec![1.0; 3]);
        let night = |load_start| Night { air_start: 0, load_start, date: String::new(), year: String::new() };
        assert_eq!(spacing(&series(0).unwrap(), &[night(900), night(1800)]), 900);
        assert_eq!(spacing(&series(0).unwrap(), &[night(0), night(300)]), 300);
        assert_eq!(spacing(&series(60).unwrap(), &[night(0)]), 60);
        assert_eq!(spacing(&series(-7).unwrap(), &[night(0)]), 1);
    }
}
