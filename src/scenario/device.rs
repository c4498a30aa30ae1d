//! Protective devices: fuse-links and breakers, and where they are fitted.

/// A type of protective device.
#[derive(Clone, Debug, PartialEq)]
pub struct DeviceType {
    pub name: String,
    pub kind: DeviceKind,
    /// Rated current [A].
    pub rated: f64,
    pub curve: TripCurve,
    /// At and above this current it opens at once [A].
    pub instantaneous: Option<f64>,
    /// With which what it has been through is forgotten while it carries less than it opens at [s].
    pub cooling: f64,
    /// Of one device [Ω].
    pub resistance: f64,
    /// Greatest direct current that it can break [A]; `None`: not stated.
    pub breaking_capacity: Option<f64>,
    /// Greatest direct voltage that it can break [V]; `None`: not stated.
    pub voltage: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DeviceKind {
    Fuse,
    Breaker,
}

impl DeviceKind {
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
    Inverse { k: f64, alpha: f64, multiplier: f64 },
    /// Thermal memory with this time constant [s] (IEC 60255-149): opens where its temperature rise
    /// comes to that of the rated current.
    Thermal { time_constant: f64 },
    /// (M, t [s]) with M rising and t not; straight on logarithmic scales, never below the first,
    /// with a constant I²t above the last.
    Points(Vec<(f64, f64)>),
}

/// A device type where it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fitted {
    /// Index into `Scenario::devices`.
    pub device: usize,
    pub poles: Poles,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Poles {
    Positive,
    Negative,
    Both,
}

impl Poles {
    /// Whether the positive (or the negative) pole has one.
    pub fn has(self, positive: bool) -> bool {
        self != if positive { Poles::Negative } else { Poles::Positive }
    }

    pub fn count(self) -> u32 {
        if self == Poles::Both { 2 } else { 1 }
    }
}
