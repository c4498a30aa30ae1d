//! What a number may be, and how that is said.

/// A range of permitted numbers; each end may belong to it or not.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    low: f64,
    low_belongs: bool,
    high: f64,
    high_belongs: bool,
}

impl Limits {
    pub const ANY: Limits =
        Limits { low: f64::NEG_INFINITY, low_belongs: true, high: f64::INFINITY, high_belongs: true };
    pub const POSITIVE: Limits = Limits::more_than(0.0);
    pub const NOT_NEGATIVE: Limits = Limits { low: 0.0, ..Limits::ANY };
    /// A share of a whole: 0 to 1.
    pub const SHARE: Limits = Limits::between(0.0, 1.0);

    pub const fn at_least(low: f64) -> Limits {
        Limits { low, ..Limits::ANY }
    }

    pub const fn more_than(low: f64) -> Limits {
        Limits { low, low_belongs: false, ..Limits::ANY }
    }

    pub const fn between(low: f64, high: f64) -> Limits {
        Limits { low, low_belongs: true, high, high_belongs: true }
    }

    pub const fn at_most(self, high: f64) -> Limits {
        Limits { high, high_belongs: true, ..self }
    }

    pub const fn below(self, high: f64) -> Limits {
        Limits { high, high_belongs: false, ..self }
    }

    pub fn contain(&self, x: f64) -> bool {
        let above = if self.low_belongs { x >= self.low } else { x > self.low };
        let under = if self.high_belongs { x <= self.high } else { x < self.high };
        above && under
    }

    /// `must be more than 0 A`; `show` writes a number with its unit.
    pub fn describe(&self, show: impl Fn(f64) -> String) -> String {
        let low = || match self.low_belongs {
            true => format!("at least {}", show(self.low)),
            false => format!("more than {}", show(self.low)),
        };
        let high = || match self.high_belongs {
            true => format!("at most {}", show(self.high)),
            false => format!("less than {}", show(self.high)),
        };
        match (self.low.is_finite(), self.high.is_finite()) {
            (true, true) => format!("must be {} and {}", low(), high()),
            (true, false) => format!("must be {}", low()),
            (false, true) => format!("must be {}", high()),
            (false, false) => "must be a finite number".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_belong_or_not_and_are_said_so() {
        let limits = Limits::POSITIVE.at_most(2.0);
        assert!(!limits.contain(0.0) && limits.contain(1e-9) && limits.contain(2.0));
        assert!(!limits.contain(2.1) && !limits.contain(f64::NAN));
        let said = limits.describe(|x| format!("{x} A"));
        assert_eq!(said, "must be more than 0 A and at most 2 A");
        assert!(!Limits::SHARE.below(1.0).contain(1.0));
    }
}
