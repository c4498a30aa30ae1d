//! Protective devices: fuse-links and breakers, and where they are fitted.

use crate::math;

/// A type of protective device.
#[derive(Clone, Debug, PartialEq)]
pub struct DeviceType {
    /// Name of the type in the scenario.
    pub name: String,
    /// Fuse or breaker.
    pub kind: DeviceKind,
    /// Rated current [A].
    pub rated: f64,
    /// How long it carries which current before it opens.
    pub curve: TripCurve,
    /// Current at and above which it opens at once [A]; `None`: it has no instantaneous release.
    pub instantaneous: Option<f64>,
    /// Time constant with which what it has been through is forgotten while it carries less than it opens
    /// at [s]; a thermal memory has its own.
    pub cooling: f64,
    /// Resistance of one device [Ω].
    pub resistance: f64,
    /// Greatest direct current that it can break [A]; `None`: not stated.
    pub breaking_capacity: Option<f64>,
    /// Greatest direct voltage that it can break [V]; `None`: not stated.
    pub voltage: Option<f64>,
    /// Price of one device, in the scenario's currency; `None`: not stated.
    pub price: Option<f64>,
}

/// What opens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DeviceKind {
    /// A fuse-link.
    Fuse,
    /// A circuit breaker.
    Breaker,
}

impl DeviceKind {
    /// The word for it in sentences.
    pub fn word(self) -> &'static str {
        match self {
            DeviceKind::Fuse => "fuse",
            DeviceKind::Breaker => "breaker",
        }
    }
}

/// How long a device carries a constant current, from cold; M is the current over the rated one.
#[derive(Clone, Debug, PartialEq)]
pub enum TripCurve {
    /// A gG fuse-link: t = 2400/(M⁴ − 4) s, never at M ≤ √2; below 10 ms a constant I²t.
    FuseLink,
    /// t = multiplier·k/(M^alpha − 1) s (IEC 60255-151), never at M ≤ 1.
    Inverse {
        /// [s]
        k: f64,
        /// Exponent of M.
        alpha: f64,
        /// Time multiplier.
        multiplier: f64,
    },
    /// Thermal memory with this time constant [s] (IEC 60255-149): opens where its temperature rise
    /// comes to that of the rated current.
    Thermal {
        /// [s]
        time_constant: f64,
    },
    /// (M, t [s]) with M rising and t not; straight on logarithmic scales, never below the first,
    /// with a constant I²t above the last.
    Points(Vec<(f64, f64)>),
}

/// A gG fuse-link heats without loss below this time, its I²t the same for every current [s].
const FUSE_ADIABATIC: f64 = 0.01;

impl DeviceType {
    /// Time in which a magnetic release opens at and above `instantaneous` [s]. From memory: order of magnitude.
    pub const OPENING: f64 = 0.01;
    /// What of it is from memory, in words.
    pub const OPENING_FROM_MEMORY: &str = "10 ms until a magnetic release has opened";

    /// How long it carries this constant current [A], from cold [s]; infinite: it never opens.
    pub fn operating_time(&self, amps: f64) -> f64 {
        let amps = amps.abs();
        let by_curve = if amps < self.curve.least() * self.rated {
            f64::INFINITY
        } else {
            self.curve.operating_time(amps / self.rated)
        };
        match self.instantaneous {
            Some(at) if amps >= at => by_curve.min(Self::OPENING),
            _ => by_curve,
        }
    }

    /// Below this current it never opens [A].
    pub fn pickup(&self) -> f64 {
        (self.curve.least() * self.rated).min(self.instantaneous.unwrap_or(f64::INFINITY))
    }
}

impl TripCurve {
    /// The multiple of the rated current below which it never opens.
    fn least(&self) -> f64 {
        match self {
            TripCurve::FuseLink => std::f64::consts::SQRT_2,
            TripCurve::Inverse { .. } | TripCurve::Thermal { .. } => 1.0,
            TripCurve::Points(points) => points.first().map_or(f64::INFINITY, |p| p.0),
        }
    }

    /// [s], at a multiple of the rated current that is not under `least`.
    fn operating_time(&self, multiple: f64) -> f64 {
        let beyond = multiple > self.least();
        match self {
            TripCurve::FuseLink if beyond => fuse_link_time(multiple),
            TripCurve::Inverse { k, alpha, multiplier } if beyond => {
                multiplier * k / (math::powf(multiple, *alpha) - 1.0)
            }
            TripCurve::Thermal { time_constant } if beyond => {
                -time_constant * math::ln_1p(-1.0 / (multiple * multiple))
            }
            TripCurve::Points(points) => time_by_points(points, multiple),
            _ => f64::INFINITY,
        }
    }
}

/// Of the two branches the slower, which is the second below 10 ms.
fn fuse_link_time(multiple: f64) -> f64 {
    let square = multiple * multiple;
    // M² where the first branch takes 10 ms.
    let bend = (2400.0 / FUSE_ADIABATIC + 4.0).sqrt();
    // As a product, M⁴ − 4 is above zero wherever M² is above 2 …
    let excess = (square - 2.0) * (square + 2.0);
    // … which rounding may deny a trace beyond √2.
    if excess > 0.0 { (2400.0 / excess).max(FUSE_ADIABATIC * bend / square) } else { f64::INFINITY }
}

fn time_by_points(points: &[(f64, f64)], multiple: f64) -> f64 {
    let Some(&last) = points.last() else { return f64::INFINITY };
    let next = points.partition_point(|p| p.0 <= multiple).max(1);
    let (Some(&below), Some(&above)) = (points.get(next - 1), points.get(next)) else {
        return last.1 * math::powi(last.0 / multiple, 2);
    };
    if below.1 <= 0.0 {
        return 0.0;
    }
    let share = math::ln(multiple / below.0) / math::ln(above.0 / below.0);
    below.1 * math::powf(above.1 / below.1, share.clamp(0.0, 1.0))
}

/// Protective devices fitted in one place of the bank.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fitted {
    /// Index into `Scenario::devices`.
    pub device: usize,
    /// The poles that have one.
    pub poles: Poles,
}

/// The poles in which a protective device is fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Poles {
    /// One in the positive pole only.
    Positive,
    /// One in the negative pole only.
    Negative,
    /// One in each pole.
    Both,
}

impl Poles {
    /// Whether the positive (or the negative) pole has one.
    pub fn has(self, positive: bool) -> bool {
        self != if positive { Poles::Negative } else { Poles::Positive }
    }

    /// Number of devices: 1 or 2.
    pub fn count(self) -> u32 {
        if self == Poles::Both { 2 } else { 1 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn device(rated: f64, curve: TripCurve) -> DeviceType {
        DeviceType {
            name: "x".into(),
            kind: DeviceKind::Fuse,
            rated,
            curve,
            instantaneous: None,
            cooling: 600.0,
            resistance: 0.0,
            breaking_capacity: None,
            voltage: None,
            price: None,
        }
    }

    #[test]
    fn fuse_link_lies_in_the_published_band_at_10_ms() {
        // IEC 60269-1, Table 7: pre-arcing I²t at 10 ms, gG, least and most [A²s].
        for (rated, least, most) in [
            (100.0, 27e3, 86e3),
            (125.0, 46e3, 140e3),
            (160.0, 86e3, 250e3),
            (200.0, 140e3, 400e3),
            (250.0, 250e3, 760e3),
        ] {
            let fuse = device(rated, TripCurve::FuseLink);
            let (mut low, mut high) = (rated, 1e5);
            for _ in 0..100 {
                let amps = 0.5 * (low + high);
                *(if fuse.operating_time(amps) > 0.01 { &mut low } else { &mut high }) = amps;
            }
            let heat = 0.01 * low * low;
            assert!(least < heat && heat < most, "{rated} A: {heat}");
            // The same I²t beyond.
            assert!((fuse.operating_time(4.0 * low) * 16.0 * low * low / heat - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn fuse_link_passes_its_gates() {
        // gG gates of IEC 60269-1, from memory: not before 10 s, by 5 s, not before 0.1 s, by 0.1 s [A].
        for (rated, gates) in [
            (100.0, [290.0, 580.0, 820.0, 1450.0]),
            (125.0, [355.0, 715.0, 1100.0, 1910.0]),
            (160.0, [460.0, 950.0, 1450.0, 2590.0]),
            (200.0, [610.0, 1250.0, 1910.0, 3420.0]),
        ] {
            let fuse = device(rated, TripCurve::FuseLink);
            let [a, b, c, d] = gates.map(|amps| fuse.operating_time(amps));
            assert!(a >= 10.0 && b <= 5.0 && c >= 0.1 && d <= 0.1, "{rated} A: {a} {b} {c} {d}");
            // Conventional non-fusing and fusing currents; from memory 2 h to 160 A, 3 h to 400 A.
            assert_eq!(fuse.operating_time(1.25 * rated), f64::INFINITY);
            assert!(fuse.operating_time(1.6 * rated) < 7200.0);
            assert_eq!(fuse.operating_time(-1.6 * rated), fuse.operating_time(1.6 * rated));
        }
    }

    #[test]
    fn relay_curves_of_the_standard() {
        // IEC 60255-151 at twice the setting: very inverse 13.5 s, extremely inverse 26.667 s.
        for (k, alpha, time) in [(13.5, 1.0, 13.5), (80.0, 2.0, 26.667)] {
            let relay = device(50.0, TripCurve::Inverse { k, alpha, multiplier: 1.0 });
            assert!((relay.operating_time(100.0) - time).abs() < 5e-4, "{k}");
            assert_eq!((relay.operating_time(50.0), relay.pickup()), (f64::INFINITY, 50.0));
        }
        // IEC 60255-149, time constant 600 s, cold, twice the rated current: 172.6 s.
        let memory = device(50.0, TripCurve::Thermal { time_constant: 600.0 });
        assert!((memory.operating_time(100.0) - 172.6).abs() < 0.05);
        assert_eq!(memory.operating_time(50.0), f64::INFINITY);
    }

    #[test]
    fn points_are_straight_on_logarithmic_scales() {
        let points = device(10.0, TripCurve::Points(vec![(2.0, 100.0), (4.0, 25.0), (8.0, 25.0)]));
        // Over the first stretch t·M² = 400.
        assert!((points.operating_time(30.0) - 400.0 / 9.0).abs() < 1e-12);
        assert_eq!([20.0, 40.0, 60.0, 160.0].map(|i| points.operating_time(i)), [100.0, 25.0, 25.0, 6.25]);
        assert_eq!((points.operating_time(19.99), points.pickup()), (f64::INFINITY, 20.0));
        assert_eq!(device(10.0, TripCurve::Points(Vec::new())).operating_time(1e9), f64::INFINITY);
    }

    #[test]
    fn a_release_opens_at_once_and_never_later_than_the_curve() {
        let fuse = device(100.0, TripCurve::FuseLink);
        let breaker = DeviceType { instantaneous: Some(1000.0), ..fuse.clone() };
        assert_eq!(breaker.operating_time(999.0), fuse.operating_time(999.0));
        assert_eq!(breaker.operating_time(1000.0), DeviceType::OPENING);
        assert_eq!(breaker.operating_time(5000.0), fuse.operating_time(5000.0));
        let low = DeviceType { instantaneous: Some(120.0), ..fuse };
        assert_eq!((low.pickup(), low.operating_time(120.0)), (120.0, DeviceType::OPENING));
    }

    #[test]
    fn time_never_rises_with_current() {
        let curves = [
            TripCurve::FuseLink,
            TripCurve::Inverse { k: 13.5, alpha: 1.0, multiplier: 0.1 },
            TripCurve::Thermal { time_constant: 60.0 },
            TripCurve::Points(vec![(1.3, 3600.0), (3.1, 20.0), (6.0, 0.02)]),
        ];
        for curve in curves {
            let device = DeviceType { instantaneous: Some(700.0), ..device(63.0, curve) };
            let times: Vec<f64> = (0..3000).map(|k| device.operating_time(1.005f64.powi(k))).collect();
            assert!(times.iter().all(|t| *t >= 0.0) && times.windows(2).all(|w| w[0] >= w[1]), "{device:?}");
            assert_eq!(device.operating_time(f64::INFINITY), 0.0, "{device:?}");
            let below = device.pickup() * (1.0 - 1e-12);
            assert!(device.operating_time(below).is_infinite() && device.operating_time(below * 1.01).is_finite());
        }
    }
}
