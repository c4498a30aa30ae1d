//! What the load sees at its terminals.
//!
//! In: what elimination leaves between the terminals. Out: the voltage at any current, and the
//! current at any power: V = E − R·I and P = V·I make a quadratic with a closed root.

/// The straight line V = emf − resistance·I that the terminals follow while no branch changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thevenin {
    /// [V]
    pub emf: f64,
    /// [Ω]
    pub resistance: f64,
}

impl Thevenin {
    /// Voltage at a current, positive in discharge [V].
    #[inline(always)]
    pub fn voltage(self, amps: f64) -> f64 {
        self.emf - self.resistance * amps
    }

    /// Whether a load may draw a current [A]: its voltage must not turn.
    #[inline(always)]
    pub fn carries(self, amps: f64) -> bool {
        (amps <= 0.0) | (self.voltage(amps) > 0.0)
    }

    /// The current of least magnitude with V·I = P, and whether the line reaches P at all. Without a branch, for vectors.
    #[inline(always)]
    pub fn least_current(self, power: f64) -> (f64, bool) {
        let discriminant = self.emf * self.emf - 4.0 * self.resistance * power;
        let root = 2.0 * power / (self.emf + discriminant.sqrt());
        (root, (self.emf > 0.0) & (discriminant >= 0.0) & root.is_finite())
    }

    /// The same; `None` where the line never reaches P.
    pub fn root(self, power: f64) -> Option<f64> {
        let (root, reached) = self.least_current(power);
        reached.then_some(root)
    }
}

/// The terminals while a set of branches conducts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Side {
    Line(Thevenin),
    /// At rest: every path is blocked, at this voltage.
    Floating(f64),
    /// Nothing joins the terminals.
    Dead,
}

impl Side {
    pub(super) fn voltage(self, amps: f64) -> Option<f64> {
        match self {
            Side::Line(line) => Some(line.voltage(amps)),
            Side::Floating(voltage) => Some(voltage),
            Side::Dead => None,
        }
    }
}
