//! How long the steps of a trial may be, and bounds of a step's error.
//!
//! In: the load, the trials, the controller; of a step both ends of each module. Out: the step of the grid, and whether
//! a step is good enough.
//!
//! A step of the scenario's length is taken as it is. Where nothing changes for longer, several are taken as one, as
//! long as the error that can be told from its ends is small. The grid is the same for every trial, so
//! that trials can go side by side.

use crate::profile::{Night, Series};
use crate::scenario::{Controller, Load, Trials};
use crate::time::Time;

/// At most so many of the scenario's steps are one, and no longer than this.
const FARTHEST: i64 = 15;
const LONGEST: Time = Time(900_000_000);

/// A step so short is good enough.
pub const SHORT: Time = Time(1_000_000);

/// Currents that stray by less from the straight line of a long step are not looked at [A].
pub const STRAY: f64 = 0.05;

/// Charge that a module may be off by after one long step, before it evens out again (0…1).
const SOC: f64 = 1e-3;

/// Temperature that it may be off by [K].
const TEMPERATURE: f64 = 0.02;

/// Charge by which a step may differ from the trapezoidal rule (0…1).
const COARSE: f64 = 1e-5;

/// Whether charge (0…1) and temperature [K] are off by so little that a long step passes.
#[inline(always)]
pub fn passes(soc: f64, kelvins: f64) -> bool {
    (soc <= SOC) & (kelvins <= TEMPERATURE)
}

/// Whether a step leans on its end so much that it is no longer of second order. `coulombs`: the change of the current
/// over the step, times its length, times how far the weight of the end is above ½. A step of at most 2·Q·R/E′ does not
/// lean at all.
#[inline(always)]
pub fn leans(coulombs: f64, capacity: f64) -> bool {
    coulombs > COARSE * capacity
}

/// Weight of the end of a step: the least of at least ½ that does not oscillate. `x` = h·E′/(Q·R).
#[inline(always)]
pub fn theta(x: f64) -> f64 {
    (1.0 - 1.0 / x).max(0.5)
}

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

/// E′/(Q·R) of a module [1/s]: the slope of its curve [V], 1/Q [1/C], and 1/R [S].
#[inline(always)]
pub fn stiffness(slope: f64, per_coulomb: f64, conductance: f64) -> f64 {
    slope * per_coulomb * conductance
}

/// A module at both ends of a step.
#[derive(Clone, Copy, Debug)]
pub struct StepEnds {
    /// Slope of its open-circuit curve at the start and at the end [V].
    pub slopes: (f64, f64),
    /// Change by the end of the step, of its state of charge (0…1) and of its current [A].
    pub soc: f64,
    pub current: f64,
    /// Half of the step by its capacity [1/A].
    pub half_per_ampere: f64,
    /// [S]
    pub conductance: f64,
}

impl StepEnds {
    /// How far its open-circuit voltage may stray from the straight line between the ends through a corner of its curve,
    /// with its sign, and how far by the decay of what it is out of balance, either way [V]: at most.
    ///
    /// Where the slope changes by Δs, τ(1−τ)·Δs·Δz at the share τ of the step: at most a quarter of Δs·Δz. A departure
    /// that decays with x = h·E′/(Q·R) lies below its chord by (x/8)·Δi.
    #[inline(always)]
    pub fn voltages(&self) -> (f64, f64) {
        let corner = (self.slopes.1 - self.slopes.0) * self.soc;
        let decay = (self.current * self.half_per_ampere * self.slopes.1).abs();
        (0.25 * corner, 0.25 * decay)
    }
}

/// How far the currents of a bank may stray from the straight line of a step, module by module added up.
#[derive(Clone, Copy, Debug)]
pub struct ChordError {
    /// Sum over all modules, each as if the rest of the bank kept its voltage constant [A].
    pub sum: f64,
    /// Greatest and least of the voltages [V].
    pub high: f64,
    pub low: f64,
    /// Sum of the conductances of all modules [S].
    pub conductance: f64,
}

impl ChordError {
    /// Adds a module; how far its own current may stray if the rest of the bank held the voltage [A].
    #[inline(always)]
    pub fn add(&mut self, ends: &StepEnds) -> f64 {
        let ((corner, decay), conductance) = (ends.voltages(), ends.conductance);
        let own = (corner.abs() + decay) * conductance;
        let (high, low) = (corner + decay, corner - decay);
        self.sum += own;
        self.high = if high > self.high { high } else { self.high };
        self.low = if low < self.low { low } else { self.low };
        self.conductance += conductance;
        own
    }

    /// How far any current of the bank may stray [A], where the bus stands at this voltage [V] and current [A].
    ///
    /// The load holds the sum of all. A part S of the modules, of the share s of their conductance G, then strays by
    /// Σ g·(e − ē) over S, at most s·(1−s)·G·W ≤ G·W/4 with W from the least to the greatest of all e; nor by more than
    /// what each does by itself. A load of constant power takes more by I·W/U where the voltage gives way by W.
    #[inline(always)]
    pub fn greatest(&self, volts: f64, amps: f64) -> f64 {
        let width = self.high - self.low;
        let between = 0.25 * width * self.conductance;
        let least = if between < self.sum { between } else { self.sum };
        least + (amps * width / volts).abs()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::Clock;

    #[test]
    fn theta_runs_from_a_half_to_one_and_never_oscillates() {
        assert_eq!((theta(0.0), theta(2.0)), (0.5, 0.5));
        assert!((theta(1e6) - 1.0).abs() < 1e-5);
        for k in 0..60 {
            let x = 1e-3 * 1.5_f64.powi(k);
            assert!((1.0 - theta(x)) * x <= 1.0 + x * f64::EPSILON, "at {x}");
        }
    }

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
