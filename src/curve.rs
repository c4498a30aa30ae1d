//! Straight lines between points: open-circuit voltage by charge, efficiency by load, and their like.
//!
//! Monotone between its points by construction, and its slope is exact, which the engine's
//! implicit step needs.

/// Points (x, y) with x strictly rising; constant beyond both ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    points: Vec<(f64, f64)>,
}

/// Why points do not make a curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CurveError {
    #[error("a curve needs at least one point")]
    Empty,
    #[error("point {0} does not lie to the right of the one before")]
    NotRising(usize),
    #[error("point {0} is not a finite number")]
    NotFinite(usize),
}

impl Curve {
    /// # Errors
    /// No point, a point that is not finite, or an x that does not rise; points count from 1.
    pub fn new(points: Vec<(f64, f64)>) -> Result<Curve, CurveError> {
        if points.is_empty() {
            return Err(CurveError::Empty);
        }
        for (k, p) in points.iter().enumerate() {
            if !(p.0.is_finite() && p.1.is_finite()) {
                return Err(CurveError::NotFinite(k + 1));
            }
            if k > 0 && p.0 <= points[k - 1].0 {
                return Err(CurveError::NotRising(k + 1));
            }
        }
        Ok(Curve { points })
    }

    pub fn constant(y: f64) -> Curve {
        Curve { points: vec![(0.0, y)] }
    }

    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// Whether y is the same at every x.
    pub fn is_constant(&self) -> bool {
        self.points.iter().all(|p| p.1 == self.points[0].1)
    }

    /// The value at x, and the slope dy/dx of the segment that holds x (0 beyond the ends).
    pub fn at(&self, x: f64) -> (f64, f64) {
        let right = self.points.partition_point(|p| p.0 < x);
        if right == 0 {
            let inside = x == self.points[0].0 && self.points.len() > 1;
            let slope = if inside { self.slope(1) } else { 0.0 };
            return (self.points[0].1, slope);
        }
        if right == self.points.len() {
            return (self.points[right - 1].1, 0.0);
        }
        let slope = self.slope(right);
        let left = self.points[right - 1];
        (left.1 + slope * (x - left.0), slope)
    }

    pub fn value(&self, x: f64) -> f64 {
        self.at(x).0
    }

    fn slope(&self, right: usize) -> f64 {
        let (a, b) = (self.points[right - 1], self.points[right]);
        (b.1 - a.1) / (b.0 - a.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn passes_through_its_points_and_holds_the_ends() {
        let c = Curve::new(vec![(0.0, 2.0), (0.5, 3.0), (1.0, 3.5)]).unwrap();
        for (x, y) in [(-1.0, 2.0), (0.0, 2.0), (0.25, 2.5), (0.5, 3.0), (0.75, 3.25), (1.0, 3.5), (2.0, 3.5)] {
            assert!((c.value(x) - y).abs() < 1e-15, "at {x}");
        }
        assert_eq!(c.at(0.0).1, 2.0);
        assert_eq!(c.at(0.3).1, 2.0);
        assert_eq!(c.at(1.5).1, 0.0);
    }

    #[test]
    fn refuses_what_is_not_a_curve() {
        assert_eq!(Curve::new(vec![]), Err(CurveError::Empty));
        assert_eq!(Curve::new(vec![(0.0, 1.0), (0.0, 2.0)]), Err(CurveError::NotRising(2)));
        assert_eq!(Curve::new(vec![(0.0, f64::NAN)]), Err(CurveError::NotFinite(1)));
    }
}
