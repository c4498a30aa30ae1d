//! Straight lines between points: open-circuit voltage by charge, efficiency by load, and their like.
//!
//! Monotone between its points by construction, and its slope is exact, which the engine's
//! implicit step needs.

/// Points (x, y) with x strictly rising; constant beyond both ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    points: Vec<(f64, f64)>,
}

/// A straight piece of a curve: y + slope·(x − origin) for `above` < x ≤ `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Segment {
    pub above: f64,
    pub to: f64,
    pub origin: f64,
    pub y: f64,
    pub slope: f64,
}

impl Segment {
    #[inline(always)]
    pub fn value(&self, x: f64) -> f64 {
        self.y + self.slope * (x - self.origin)
    }
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
        let segment = self.segment(x);
        (segment.value(x), segment.slope)
    }

    /// The segment that holds a finite x.
    pub fn segment(&self, x: f64) -> Segment {
        let points = &self.points;
        let flat = |above, to, (origin, y): (f64, f64)| Segment { above, to, origin, y, slope: 0.0 };
        let right = points.partition_point(|p| p.0 < x);
        let first = points[0];
        if right == points.len() {
            return flat(points[right - 1].0, f64::INFINITY, points[right - 1]);
        }
        if right == 0 {
            let before = first.0.next_down();
            let inside = x == first.0 && points.len() > 1;
            return if inside {
                Segment { above: before, to: first.0, origin: first.0, y: first.1, slope: self.slope(1) }
            } else {
                flat(f64::NEG_INFINITY, if points.len() > 1 { before } else { first.0 }, first)
            };
        }
        let left = points[right - 1];
        Segment { above: left.0, to: points[right].0, origin: left.0, y: left.1, slope: self.slope(right) }
    }

    /// From where to where about x the value does not change; `None` where it does.
    pub fn flat_about(&self, x: f64) -> Option<(f64, f64)> {
        let segment = self.segment(x);
        (segment.slope == 0.0).then_some((segment.above.next_up(), segment.to))
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

    /// Every x lies in its own segment, and a segment's neighbours take over where it ends.
    #[test]
    fn segments_cover_every_x_once() {
        let c = Curve::new(vec![(0.0, 2.0), (0.5, 3.0), (1.0, 3.5)]).unwrap();
        for x in [-1.0, 0.0_f64.next_down(), 0.0, 1e-300, 0.5, 0.7, 1.0, 1.0_f64.next_up(), 9.0] {
            let s = c.segment(x);
            assert!(s.above < x && x <= s.to, "{x} in {s:?}");
            assert_eq!(c.segment(s.to.min(1e9)), s);
            assert!(s.above == f64::NEG_INFINITY || c.segment(s.above) != s, "{x}");
        }
        let constant = Curve::constant(7.0).segment(3.0);
        assert_eq!((constant.value(3.0), constant.slope), (7.0, 0.0));
    }

    #[test]
    fn refuses_what_is_not_a_curve() {
        assert_eq!(Curve::new(vec![]), Err(CurveError::Empty));
        assert_eq!(Curve::new(vec![(0.0, 1.0), (0.0, 2.0)]), Err(CurveError::NotRising(2)));
        assert_eq!(Curve::new(vec![(0.0, f64::NAN)]), Err(CurveError::NotFinite(1)));
    }
}
