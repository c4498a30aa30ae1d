//! Labels at the ends of lines: moved apart so that none covers another, and one name for two poles.

use crate::output::kit::chart::canvas::{Align, Drawn, Frame, Sheet, line, stroke, write};
use crate::output::kit::chart::palette::{Ink, Texture};

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

/// The end of a line or a mark, where it has one, with its name in an ink.
pub type End = (Option<(f64, f64)>, String, Ink);

/// Names beside a panel, each led to by a thin line from what it names; one that has no place of its own stands at the foot.
pub fn callouts(sheet: &Sheet, frame: Frame, gap: f64, ends: &[End]) -> Drawn {
    let (right, bottom) = (frame.left + frame.width, frame.top + frame.height - 4.0);
    let heights: Vec<f64> = ends.iter().map(|end| end.0.map_or(bottom, |at| at.1)).collect();
    for ((end, name, ink), height) in ends.iter().zip(spread(&heights, gap, frame.top + 4.0, bottom)) {
        if let Some((x, y)) = end {
            line(sheet, &[(x + 7.0, *y), (right + 4.0, height)], stroke(Ink::Muted.with(Texture::Dots), 1.0))?;
        }
        write(sheet, name, (right + 8.0, height), *ink, Align::Start)?;
    }
    Ok(())
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
