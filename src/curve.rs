//! Straight lines between points: open-circuit voltage by charge, efficiency by load, and their like.
//!
//! Monotone between its points by construction, and its slope is exact, which the engine's
//! implicit step needs.

/// So few points are all looked at, which vectors do faster than a search by halves does with its guesses.
const FEW: usize = 32;

/// Points (x, y) with x strictly rising; constant beyond both ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    points: Vec<(f64, f64)>,
    /// The x of each point, in a list of its own for the search.
    xs: Vec<f64>,
    /// The piece to the right of each point.
    right_of: Vec<Segment>,
    /// The first point itself, which has the slope of the piece to its right.
    at_first: Segment,
}

/// A straight line: `at_0` + `slope`·x.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Line {
    pub at_0: f64,
    pub slope: f64,
}

impl Line {
    fn through(point: (f64, f64), slope: f64) -> Line {
        Line { at_0: point.1 - slope * point.0, slope }
    }

    #[inline(always)]
    pub fn value(&self, x: f64) -> f64 {
        self.at_0 + self.slope * x
    }
}

/// A straight piece of a curve: its line for `above` < x ≤ `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Segment {
    pub above: f64,
    pub to: f64,
    pub line: Line,
}

impl Segment {
    fn flat(above: f64, to: f64, y: f64) -> Segment {
        Segment { above, to, line: Line { at_0: y, slope: 0.0 } }
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
        Ok(Curve::of(points))
    }

    pub fn constant(y: f64) -> Curve {
        Curve::of(vec![(0.0, y)])
    }

    /// The curve through these points, at least one, in rising order of x.
    fn of(points: Vec<(f64, f64)>) -> Curve {
        let between = |pair: &[(f64, f64)]| {
            let (a, b) = (pair[0], pair[1]);
            Segment { above: a.0, to: b.0, line: Line::through(a, (b.1 - a.1) / (b.0 - a.0)) }
        };
        let last = points[points.len() - 1];
        let mut right_of: Vec<Segment> = points.windows(2).map(between).collect();
        right_of.push(Segment::flat(last.0, f64::INFINITY, last.1));
        let first = points[0].0;
        let at_first = Segment { above: first.next_down(), to: first, line: right_of[0].line };
        let xs = points.iter().map(|p| p.0).collect();
        Curve { points, xs, right_of, at_first }
    }

    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// Whether y is the same at every x.
    pub fn is_constant(&self) -> bool {
        self.points.iter().all(|p| p.1 == self.points[0].1)
    }

    /// The segment that holds a finite x.
    #[inline]
    pub fn segment(&self, x: f64) -> Segment {
        match self.left_of(x) {
            0 if x == self.points[0].0 => self.at_first,
            0 => Segment::flat(f64::NEG_INFINITY, self.at_first.above, self.points[0].1),
            right => self.right_of[right - 1],
        }
    }

    /// How many points lie to the left of x.
    fn left_of(&self, x: f64) -> usize {
        if self.xs.len() <= FEW {
            return self.xs.iter().map(|at| usize::from(*at < x)).sum();
        }
        self.xs.partition_point(|at| *at < x)
    }

    /// From where to where about x the value does not change; `None` where it does.
    pub fn flat_about(&self, x: f64) -> Option<(f64, f64)> {
        let segment = self.segment(x);
        (segment.line.slope == 0.0).then_some((segment.above.next_up(), segment.to))
    }

    pub fn value(&self, x: f64) -> f64 {
        self.segment(x).line.value(x)
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
        assert_eq!(c.segment(0.0).line.slope, 2.0);
        assert_eq!(c.segment(0.3).line.slope, 2.0);
        assert_eq!(c.segment(1.5).line.slope, 0.0);
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
        assert_eq!(constant.line, Line { at_0: 7.0, slope: 0.0 });
    }

    #[test]
    fn refuses_what_is_not_a_curve() {
        assert_eq!(Curve::new(vec![]), Err(CurveError::Empty));
        assert_eq!(Curve::new(vec![(0.0, 1.0), (0.0, 2.0)]), Err(CurveError::NotRising(2)));
        assert_eq!(Curve::new(vec![(0.0, f64::NAN)]), Err(CurveError::NotFinite(1)));
    }
}
