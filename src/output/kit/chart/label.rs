//! Labels at the ends of lines: moved apart so that none covers another, and one name for two poles.

/// Moves heights apart to at least `gap`, within `low..high` where they fit, keeping their order.
pub fn spread(wanted: &[f64], gap: f64, low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|&a, &b| wanted[a].total_cmp(&wanted[b]));
    let mut placed = wanted.to_vec();
    let mut floor = low;
    for &k in &order {
        placed[k] = placed[k].max(floor);
        floor = placed[k] + gap;
    }
    let mut ceiling = high;
    for &k in order.iter().rev() {
        placed[k] = placed[k].min(ceiling);
        ceiling = placed[k] - gap;
    }
    placed
}

/// `A.lead1+/-` of the positive and the negative conductor of one pair; `None` of two that are not such.
pub fn poles(positive: &str, negative: &str) -> Option<String> {
    let pair = positive.strip_suffix('+')?;
    (negative.strip_suffix('-')? == pair).then(|| format!("{pair}+/-"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_keep_their_order_and_distance() {
        let placed = spread(&[50.0, 48.0, 10.0, 49.0], 15.0, 0.0, 60.0);
        let mut sorted = placed.clone();
        sorted.sort_by(f64::total_cmp);
        assert!(sorted.windows(2).all(|w| w[1] - w[0] >= 15.0 - 1e-9), "{placed:?}");
        assert!(placed[1] < placed[3] && placed[3] < placed[0]);
        assert!(placed.iter().all(|y| *y <= 60.0));
    }
}
