//! Protective devices: how far each is on its way to opening.
//!
//! In: its type, and the current through it over a step. Out: the share of the way that is spent.
//!
//! An inverse curve is spent at 1/t(I), what the current takes alone, and forgets while the current is
//! under its pickup. A thermal memory follows its own equation (IEC 60255-149): its rise θ, as a share
//! of that of the rated current, relaxes to the square of the current over the rated one.

use crate::math;
use crate::scenario::{DeviceType, TripCurve};

/// A protective device at one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DeviceState {
    /// Share of the way to opening (0…1); a thermal memory's rise.
    pub spent: f64,
    /// It has opened.
    pub open: bool,
}

/// More than any bank drives [A]: keeps the straight line of a step finite.
const GREATEST: f64 = 1e12;

/// Gauss and Legendre's three places on a stretch, and their weights: exact for M⁴, and never at the ends,
/// where a curve may jump.
const PLACES: [(f64, f64); 3] =
    [(0.112_701_665_379_258_3, 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.887_298_334_620_741_7, 5.0 / 18.0)];

/// What is spent after a step of so many seconds, from `spent` before it, while the effective current [A]
/// runs straight from `amps.0` to `amps.1`. The device opens at 1; beyond, it runs on, so that the moment can
/// be sought.
pub fn spent_after(device: &DeviceType, spent: f64, amps: (f64, f64), seconds: f64) -> f64 {
    if seconds <= 0.0 {
        return spent;
    }
    let amps = (amps.0.abs().min(GREATEST), amps.1.abs().min(GREATEST));
    let after = match device.curve {
        TripCurve::Thermal { time_constant } => {
            relaxed(spent, mean_square(amps, device.rated), seconds / time_constant) + released(device, amps, seconds)
        }
        _ => along_the_line(device, spent, amps, seconds),
    };
    after.min(f64::MAX)
}

/// Mean square of a straight line, over the square of the rated current.
fn mean_square((a, b): (f64, f64), rated: f64) -> f64 {
    let (a, b) = (a / rated, b / rated);
    if a == b { a * a } else { (a * a + a * b + b * b) / 3.0 }
}

/// A thermal memory after so many time constants.
fn relaxed(rise: f64, target: f64, constants: f64) -> f64 {
    let after = rise - (target - rise) * math::exp_m1(-constants);
    // It nears the rise of the rated current for ever and never comes to it: rounding must not.
    if rise < 1.0 && target <= 1.0 { after.min(1.0 - f64::EPSILON) } else { after }
}

/// What a magnetic release adds to a thermal memory.
fn released(device: &DeviceType, amps: (f64, f64), seconds: f64) -> f64 {
    let Some(at) = device.instantaneous else { return 0.0 };
    let cut = crossing(amps, at);
    let above = match (amps.0 >= at, amps.1 >= at) {
        (true, true) => 1.0,
        (true, false) => cut,
        (false, true) => 1.0 - cut,
        (false, false) => 0.0,
    };
    above * seconds / DeviceType::OPENING
}

/// Follows the current through the stretches under the pickup, on the curve, and beyond the magnetic release,
/// in the order in which they come.
fn along_the_line(device: &DeviceType, spent: f64, amps: (f64, f64), seconds: f64) -> f64 {
    let release = device.instantaneous.unwrap_or(f64::INFINITY);
    let (first, second) = (crossing(amps, device.pickup()), crossing(amps, release));
    let cuts = [0.0, first.min(second), first.max(second), 1.0];
    let at = |share: f64| amps.0 + (amps.1 - amps.0) * share;
    let stretches = cuts.windows(2).filter(|w| w[1] > w[0]);
    stretches.fold(spent, |spent, w| stretch(device, spent, (at(w[0]), at(w[1])), seconds * (w[1] - w[0])))
}

/// The place (0…1) at which a straight line between two currents crosses a third; 0 or 1 where it does not.
fn crossing(amps: (f64, f64), at: f64) -> f64 {
    if amps.0 == amps.1 { 0.0 } else { ((at - amps.0) / (amps.1 - amps.0)).clamp(0.0, 1.0) }
}

/// One stretch that does not cross the pickup or the release.
fn stretch(device: &DeviceType, spent: f64, (a, b): (f64, f64), seconds: f64) -> f64 {
    let time = |share: f64| device.operating_time(a + (b - a) * share);
    let middle = time(0.5);
    if middle == f64::INFINITY {
        return spent * math::exp(-seconds / device.cooling);
    }
    if a == b {
        return spent + seconds / middle;
    }
    let rate: f64 = PLACES.iter().map(|(share, weight)| weight / time(*share)).sum();
    spent + seconds * rate
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::DeviceKind;

    fn device(curve: TripCurve) -> DeviceType {
        DeviceType {
            name: "x".into(),
            kind: DeviceKind::Breaker,
            rated: 100.0,
            curve,
            instantaneous: None,
            cooling: 300.0,
            resistance: 0.0,
            breaking_capacity: None,
            voltage: None,
            price: None,
        }
    }

    fn every_curve() -> [DeviceType; 4] {
        let points = TripCurve::Points(vec![(1.3, 1000.0), (5.0, 2.0), (10.0, 0.1)]);
        [
            device(TripCurve::FuseLink),
            device(TripCurve::Inverse { k: 80.0, alpha: 2.0, multiplier: 0.5 }),
            device(TripCurve::Thermal { time_constant: 600.0 }),
            device(points),
        ]
    }

    /// When a constant current opens it, found by halving.
    fn opens(device: &DeviceType, spent: f64, amps: f64) -> f64 {
        let (mut low, mut high) = (0.0, 1e6);
        for _ in 0..100 {
            let seconds = 0.5 * (low + high);
            let open = spent_after(device, spent, (amps, amps), seconds) >= 1.0;
            *(if open { &mut high } else { &mut low }) = seconds;
        }
        high
    }

    #[test]
    fn a_thermal_memory_opens_when_the_standard_says() {
        let memory = device(TripCurve::Thermal { time_constant: 600.0 });
        // IEC 60255-149: t = τ·ln((I² − Ip²)/(I² − Ib²)); cold, 2·Ib, τ 600 s: 172.6 s.
        assert!((opens(&memory, 0.0, 200.0) - 172.6).abs() < 0.05);
        let warm = spent_after(&memory, 0.0, (80.0, 80.0), 1e6);
        let expected = 600.0 * ((4.0 - 0.64) / (4.0 - 1.0f64)).ln();
        assert!((opens(&memory, warm, 200.0) - expected).abs() < 1e-6);
        // Never at its rated current.
        assert!(spent_after(&memory, 0.5, (100.0, 100.0), 1e9) < 1.0);
        let released = DeviceType { instantaneous: Some(900.0), ..memory };
        assert!(opens(&released, 0.0, 900.0) < DeviceType::OPENING);
        // Over the release for the last tenth of the line.
        let line = spent_after(&released, 0.0, (0.0, 1000.0), 0.05);
        assert!((line - 0.5).abs() < 0.01, "{line}");
    }

    #[test]
    fn constant_currents_open_when_their_curves_say() {
        // IEC 60255-151 at twice the setting, and the fuse-link's own curve.
        let inverse = |k, alpha| device(TripCurve::Inverse { k, alpha, multiplier: 1.0 });
        let fuse = || device(TripCurve::FuseLink);
        for (device, amps, time, within) in [
            (inverse(13.5, 1.0), 200.0, 13.5, 1e-9),
            (inverse(80.0, 2.0), 200.0, 26.667, 5e-4),
            (fuse(), 200.0, 200.0, 1e-9),
            (fuse(), 300.0, 31.2, 0.05),
            (fuse(), 500.0, 3.86, 0.005),
        ] {
            let found = opens(&device, 0.0, amps);
            assert!((found - time).abs() < within, "{device:?}: {found}");
            let spent = spent_after(&device, 0.25, (amps, amps), 1.7);
            assert_eq!(spent, 0.25 + 1.7 / device.operating_time(amps));
        }
    }

    #[test]
    fn pulses_add_up_and_rest_forgets() {
        let fuse = device(TripCurve::FuseLink);
        // 80 s of the 200 s at twice the rated current, a rest of two time constants, 80 s again.
        let first = spent_after(&fuse, 0.0, (200.0, 200.0), 80.0);
        let rested = spent_after(&fuse, first, (100.0, 100.0), 600.0);
        let second = spent_after(&fuse, rested, (200.0, 200.0), 80.0);
        assert!((first - 0.4).abs() < 1e-12);
        assert!((second - (0.4 * (-2.0f64).exp() + 0.4)).abs() < 1e-12);
        // At the rated current of a relay it does not open, and so forgets.
        let relay = device(TripCurve::Inverse { k: 80.0, alpha: 2.0, multiplier: 1.0 });
        assert!(spent_after(&relay, 0.4, (100.0, 100.0), 300.0) < 0.15);
    }

    #[test]
    fn a_sloping_current_is_as_many_small_steps() {
        for device in every_curve() {
            for release in [None, Some(450.0)] {
                let device = DeviceType { instantaneous: release, ..device.clone() };
                for amps in [(50.0, 350.0), (350.0, 50.0), (150.0, 400.0), (20.0, 90.0)] {
                    let whole = spent_after(&device, 0.3, amps, 20.0);
                    let at = |k: u32| amps.0 + (amps.1 - amps.0) * f64::from(k) / 4e4;
                    let fine = (0..40_000).fold(0.3, |spent, k| {
                        let middle = 0.5 * (at(k) + at(k + 1));
                        spent_after(&device, spent, (middle, middle), 20.0 / 4e4)
                    });
                    // Gauss's rule misses a little on points; a mean square, the order of what it heats.
                    let within = match device.curve {
                        TripCurve::Points(_) => 0.02,
                        TripCurve::Thermal { .. } => 0.03,
                        _ => 1e-4,
                    };
                    assert!((whole - fine).abs() < within * fine.max(0.1), "{device:?} {amps:?}: {whole} {fine}");
                }
            }
        }
    }

    #[test]
    fn a_step_through_the_release_spends_its_part_beyond_it() {
        let breaker = DeviceType { instantaneous: Some(150.0), ..device(TripCurve::FuseLink) };
        // A tenth of 20 ms beyond.
        let spent = spent_after(&breaker, 0.0, (60.0, 160.0), 0.02);
        assert!((spent - 0.002 / DeviceType::OPENING).abs() < 1e-3, "{spent}");
        assert!((spent_after(&breaker, 0.0, (160.0, 60.0), 0.02) - spent).abs() < 1e-4);
    }

    #[test]
    fn more_seconds_spend_more_and_nothing_is_not_a_number() {
        for device in every_curve() {
            for amps in [0.0, 99.0, 100.0, 142.0, 300.0, 1e4, 1e9, f64::INFINITY] {
                let spent = |s: f64| spent_after(&device, 0.2, (amps, amps), s);
                assert_eq!(spent(0.0), 0.2);
                let run: Vec<f64> = (-200..60).map(|k| spent(1.2f64.powi(k))).collect();
                let up = run.windows(2).all(|w| w[0] <= w[1]);
                let down = run.windows(2).all(|w| w[0] >= w[1]);
                assert!((up || down) && run.iter().all(|s| s.is_finite()), "{device:?} {amps}");
                assert!((run[0] - 0.2).abs() < 1e-3 || amps > 1e3, "{device:?} {amps}");
                for other in [0.0, 120.0, f64::INFINITY] {
                    for seconds in [1e-9, 1.0, 1e9] {
                        let there = spent_after(&device, 0.2, (amps, other), seconds);
                        assert!(there.is_finite() && there >= 0.0, "{device:?} {amps} {other}");
                        assert!(spent_after(&device, there, (0.0, 0.0), f64::MAX).is_finite());
                    }
                }
            }
        }
    }

    #[test]
    fn a_curve_that_takes_no_time_opens() {
        let sudden = device(TripCurve::Points(vec![(1.0, 0.0), (2.0, 0.0)]));
        assert!(spent_after(&sudden, 0.0, (150.0, 150.0), 1e-9) >= 1.0);
        assert!(spent_after(&sudden, 0.0, (50.0, 150.0), 1e-9) >= 1.0);
        assert_eq!(spent_after(&sudden, 0.0, (150.0, 150.0), 0.0), 0.0);
    }
}
