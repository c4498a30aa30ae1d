//! Tables of two columns become curves.

use crate::curve::Curve;
use crate::scenario::document::{Value, Written};

/// The rows of a table, as far as they can be read.
pub type Points = Vec<(Written<f64>, Written<f64>)>;

/// Reads rows of two values, at least `least` of them, the first column rising.
/// `None` where any of it is at fault.
pub fn read<'a>(
    value: &Value<'a>,
    example: &str,
    least: usize,
    x: impl Fn(&Value<'a>) -> Option<Written<f64>>,
    y: impl Fn(&Value<'a>) -> Option<Written<f64>>,
) -> Option<Points> {
    let pairs = value.pairs(example)?;
    if pairs.len() < least {
        let message = format!("{} is a table of {}", value.name, pairs.len());
        value.refuse(message, &format!("must have at least {least} rows"), None);
    }
    // Both columns are read of every row before anything is given up, for their faults.
    let rows: Vec<_> = pairs.iter().map(|[a, b]| (x(a), y(b))).collect();
    let points: Points = rows.into_iter().map(|(a, b)| Some((a?, b?))).collect::<Option<_>>()?;
    let rises = rising(value, &pairs, &points);
    (points.len() >= least && rises).then_some(points)
}

fn rising(value: &Value<'_>, pairs: &[[Value<'_>; 2]], points: &Points) -> bool {
    let mut rises = true;
    for (two, [at, _]) in points.windows(2).zip(pairs.iter().skip(1)) {
        let [before, here] = two else { continue };
        if here.0.value <= before.0.value {
            rises = false;
            let message = format!("{} does not rise above the row before", at.name);
            at.refuse(message, &format!("the first column of {} must rise", value.name), None);
        }
    }
    rises
}

/// The curve through the points, whose rise `read` has checked.
pub fn curve(points: &Points, scale: f64) -> Option<Curve> {
    Curve::new(points.iter().map(|(x, y)| (x.value, y.value * scale)).collect()).ok()
}
