//! Long series for a narrow picture: of every stretch of time, the first, least, greatest and last value.
//!
//! A peak of one step survives, which it would not if every n-th value were kept.

/// Splits a series where a value is not a number, and thins each part to at most four points a bucket.
pub fn thin(points: impl Iterator<Item = (f64, f64)>, buckets: usize, span: f64) -> Vec<Vec<(f64, f64)>> {
    let mut parts = vec![Vec::new()];
    for point in points {
        if point.0.is_finite() && point.1.is_finite() {
            if let Some(part) = parts.last_mut() {
                part.push(point);
            }
        } else if parts.last().is_some_and(|p| !p.is_empty()) {
            parts.push(Vec::new());
        }
    }
    parts.into_iter().filter(|p| !p.is_empty()).map(|p| thin_part(&p, buckets, span)).collect()
}

fn thin_part(points: &[(f64, f64)], buckets: usize, span: f64) -> Vec<(f64, f64)> {
    if points.len() <= 4 * buckets || span <= 0.0 {
        return points.to_vec();
    }
    let bucket = |p: &(f64, f64)| (p.0 / span * buckets as f64).floor() as i64;
    points.chunk_by(|a, b| bucket(a) == bucket(b)).flat_map(extremes).collect()
}

/// First, least, greatest and last, in the order of time, each once.
fn extremes(chunk: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let by_value = |a: &usize, b: &usize| chunk[*a].1.total_cmp(&chunk[*b].1);
    let least = (0..chunk.len()).min_by(by_value).unwrap_or(0);
    let greatest = (0..chunk.len()).max_by(by_value).unwrap_or(0);
    let mut kept = vec![0, least, greatest, chunk.len() - 1];
    kept.sort_unstable();
    kept.dedup();
    kept.into_iter().map(|k| chunk[k]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_peak_of_one_step_survives() {
        let series = (0..100_000).map(|k| (f64::from(k), if k == 54_321 { 9.0 } else { f64::from(k % 7) * 0.1 }));
        let thinned = thin(series, 100, 100_000.0);
        assert_eq!(thinned.len(), 1);
        assert!(thinned[0].len() <= 404);
        assert!(thinned[0].contains(&(54_321.0, 9.0)));
        assert_eq!((thinned[0][0].0, thinned[0].last().map(|p| p.0)), (0.0, Some(99_999.0)));
    }

    #[test]
    fn what_is_not_a_number_breaks_the_line() {
        let parts = thin([(0.0, 1.0), (1.0, f64::NAN), (2.0, 3.0), (3.0, 4.0)].into_iter(), 10, 3.0);
        assert_eq!(parts, vec![vec![(0.0, 1.0)], vec![(2.0, 3.0), (3.0, 4.0)]]);
    }
}
