//! Interval of a probability by calendar nights.
//!
//! In: trials and hits of each calendar night. Out: an interval that knows that the trials of one night resemble each
//! other: a record of 300 nights is a sample of 300, however many trials are drawn from it.
//!
//! Nights are taken as drawn independently from a climate; night i shows the share xᵢ of its trials, and what is asked
//! is the mean over all nights that there could be. Shares lie within 0 and 1 and have any distribution. The upper
//! bound is the 1 − α/2 quantile of Σ Dᵢ·x₍ᵢ₎ + Dₙ₊₁·1, the D being the n + 1 gaps between n uniform points: the
//! sample with random weights, and one more night that is a sure hit, since a sample of n cannot exclude a kind of
//! night that comes less often than once in n; the lower bound is the same of the misses (N. Gaffke, "Three test
//! statistics for a nonparametric one-sided hypothesis on the mean of a nonnegative variable", Mathematical Methods of
//! Statistics 14 (2005) 451). That it holds its confidence for every distribution is conjectured, and no counter-example
//! is known; `tests/statistics/by_night.rs` tries it. Where each night is all or nothing it is the interval of Clopper
//! and Pearson by nights, exactly; where all nights are alike it comes to the interval by trials as nights grow many.
//! More hits never lower it. It is never narrower than the interval by trials, whose error it contains.
//!
//! The quantile by its distribution: gaps of uniform points are exponential times over their sum, so that the weighted
//! mean exceeds t where S = Σ aᵢ·Eᵢ > 0, aᵢ = xᵢ − t. P(S > 0) is the integral of M(z)/z/2πi up the complex plane
//! between 0 and the first pole, M(z) = Π 1/(1 − aᵢz) the moment generating function of S. It is taken along a
//! hyperbola through the saddle point, which bends as the steepest descent does there, at equal steps of its
//! parameter; such sums converge exponentially (L. N. Trefethen, J. A. C. Weideman, SIAM Review 56 (2014) 385).

use super::interval::{clopper_pearson_at, tail_of};
use crate::math::{exp, ln, ln_1p};

/// Step of the path's parameter: with half of it the bounds move by less than 1e-12.
const STEP: f64 = 0.0625;
/// e to the power of a step.
const STEP_FACTOR: f64 = 1.064_494_458_917_859_4;
/// No path needs as many steps.
const MOST_STEPS: usize = 2000;
/// The path leaves the saddle point at most so curved.
const MOST_CURVED: f64 = 0.9;
/// The logarithm of what is beyond a bound is found to within this.
const PRECISION: f64 = 1e-12;
const MOST_ROUNDS: usize = 200;
/// Logarithms of probabilities below this are too far off to be interpolated.
const FAR: f64 = -20.0;

/// The interval from (trials, hits) of each night; nights without trials are left out.
///
/// `None` with fewer than two nights: one night says nothing of others.
pub fn by_night(nights: impl Iterator<Item = (u64, u64)> + Clone, confidence: f64) -> Option<[f64; 2]> {
    let nights = nights.filter(|&(trials, _)| trials > 0);
    if nights.clone().count() < 2 {
        return None;
    }
    let hits = shares(nights.clone());
    let misses = shares(nights.map(|(trials, hits)| (trials, trials.saturating_sub(hits))));
    Some([1.0 - upper(&misses, confidence), upper(&hits, confidence)])
}

/// Nights of one share of hits.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Group {
    share: f64,
    nights: u32,
}

/// In rising order.
fn shares(nights: impl Iterator<Item = (u64, u64)>) -> Vec<Group> {
    let mut all: Vec<f64> = nights.map(|(trials, hits)| hits.min(trials) as f64 / trials as f64).collect();
    all.sort_unstable_by(f64::total_cmp);
    let groups = all.chunk_by(|a, b| a == b);
    groups.map(|same| Group { share: same[0], nights: same.len() as u32 }).collect()
}

/// The upper bound of the mean share.
fn upper(groups: &[Group], confidence: f64) -> f64 {
    let count: u64 = groups.iter().map(|g| u64::from(g.nights)).sum();
    if groups.iter().all(|g| g.share == 0.0 || g.share == 1.0) {
        let hit = groups.iter().filter(|g| g.share == 1.0).map(|g| u64::from(g.nights)).sum();
        return clopper_pearson_at(hit, count, confidence).high;
    }
    let mean = groups.iter().map(|g| g.share * f64::from(g.nights)).sum::<f64>() / count as f64;
    quantile(groups, mean, ln(tail_of(confidence)))
}

/// Where ln P(mean with random weights > t) is `ln_tail`, above the mean of the sample: by halves until both ends are
/// known, then by the regula falsi, in which an end that stays twice is halved in weight.
fn quantile(groups: &[Group], mean: f64, ln_tail: f64) -> f64 {
    let excess = |t: f64| ln_exceeds(groups, t) - ln_tail;
    let (mut low, mut high) = (mean, 1.0);
    let (mut above, mut below) = (excess(low), f64::NEG_INFINITY);
    let mut was_above = None;
    for _ in 0..MOST_ROUNDS {
        let line = (high * above - low * below) / (above - below);
        let t = if below > FAR && line > low && line < high { line } else { 0.5 * (low + high) };
        let e = excess(t);
        if e.abs() <= PRECISION || high - low <= f64::EPSILON {
            return t;
        }
        let again = was_above.replace(e > 0.0) == Some(e > 0.0);
        let weight = if again { 0.5 } else { 1.0 };
        if e > 0.0 {
            (low, above, below) = (t, e, weight * below);
        } else {
            (high, below, above) = (t, e, weight * above);
        }
    }
    0.5 * (low + high)
}

/// ln P(Σ aₖ·Eₖ > 0) with aₖ = share − t, and 1 − t for the night that is added.
fn ln_exceeds(groups: &[Group], t: f64) -> f64 {
    let of_sample = groups.iter().map(|g| Term { slope: g.share - t, power: f64::from(g.nights) });
    let terms: Vec<Term> = of_sample.chain([Term { slope: 1.0 - t, power: 1.0 }]).filter(|a| a.slope != 0.0).collect();
    let saddle = saddle_point(&terms);
    let ln_here = -terms.iter().map(|a| a.power * ln_1p(-a.slope * saddle)).sum::<f64>() - ln(saddle);
    // Seen from the saddle point; 1/z is one more factor.
    let seen = terms.iter().map(|a| Term { slope: a.slope / (1.0 - a.slope * saddle), ..*a });
    let seen: Vec<Term> = seen.chain([Term { slope: -1.0 / saddle, power: 1.0 }]).collect();
    ln_here + ln((along_the_path(&seen) / std::f64::consts::PI).max(0.0))
}

/// A factor (1 − slope·z)^−power of the moment generating function.
#[derive(Clone, Copy)]
struct Term {
    slope: f64,
    power: f64,
}

/// Where M(z)/z is least between 0 and the first pole, by Newton's method within brackets. Nearly is enough: the
/// integral is the same along every path between the poles.
fn saddle_point(terms: &[Term]) -> f64 {
    let greatest = terms.iter().map(|a| a.slope).fold(f64::MIN_POSITIVE, f64::max);
    let (mut low, mut high) = (0.0, 1.0 / greatest);
    let mut at = 0.5 * high;
    for _ in 0..100 {
        let of = |a: &Term| {
            let seen = a.slope / (1.0 - a.slope * at);
            (a.power * seen, a.power * seen * seen)
        };
        let sum = terms.iter().map(of).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
        let (slope, bend) = (sum.0 - 1.0 / at, sum.1 + 1.0 / (at * at));
        if slope > 0.0 {
            high = at
        } else {
            low = at
        }
        let next = at - slope / bend;
        let next = if next > low && next < high { next } else { 0.5 * (low + high) };
        if (next - at).abs() <= 1e-4 * at {
            break;
        }
        at = next;
    }
    at
}

/// Im ∫ Π (1 − slope·d)^−power dd along d = w·(κ·(cosh u − 1) + i·sinh u), u from 0.
fn along_the_path(terms: &[Term]) -> f64 {
    let second: f64 = terms.iter().map(|a| a.power * a.slope * a.slope).sum();
    let third: f64 = terms.iter().map(|a| a.power * a.slope * a.slope * a.slope).sum();
    let width = 1.0 / second.sqrt();
    let curve = (2.0 * third * width * width * width / 3.0).clamp(-MOST_CURVED, MOST_CURVED);
    let (mut sum, mut grown) = (0.5 * width, 1.0);
    for _ in 0..MOST_STEPS {
        grown *= STEP_FACTOR;
        let (cosh, sinh) = (0.5 * (grown + 1.0 / grown), 0.5 * (grown - 1.0 / grown));
        let at = [curve * width * (cosh - 1.0), width * sinh];
        let (size, [re, im]) = product(terms, at);
        let [along, up] = [curve * width * sinh, width * cosh];
        sum += size * (re * up + im * along);
        if size * (up + along.abs()) <= 1e-17 * sum {
            break;
        }
    }
    sum * STEP
}

/// Π (1 − slope·d)^−power: its magnitude and its direction.
fn product(terms: &[Term], [re, im]: [f64; 2]) -> (f64, [f64; 2]) {
    let (mut ln_size, mut direction) = (0.0, [1.0, 0.0]);
    for a in terms {
        let (x, y) = (1.0 - a.slope * re, -a.slope * im);
        let size = (x * x + y * y).sqrt();
        ln_size -= a.power * ln(size);
        // Of the reciprocal.
        direction = times(direction, raised([x / size, -y / size], a.power as u32));
    }
    (exp(ln_size), direction)
}

/// A direction to a whole power, by squaring.
fn raised(mut base: [f64; 2], mut power: u32) -> [f64; 2] {
    let mut result = [1.0, 0.0];
    while power > 0 {
        if power & 1 == 1 {
            result = times(result, base);
        }
        base = times(base, base);
        power >>= 1;
    }
    result
}

fn times([a, b]: [f64; 2], [c, d]: [f64; 2]) -> [f64; 2] {
    [a * c - b * d, a * d + b * c]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::summary::interval::CONFIDENCE;

    fn bounds(nights: &[(u64, u64)]) -> [f64; 2] {
        by_night(nights.iter().copied(), CONFIDENCE).unwrap()
    }

    #[test]
    fn fewer_than_two_nights_say_nothing_of_others() {
        assert_eq!(by_night([].into_iter(), CONFIDENCE), None);
        assert_eq!(by_night([(500, 20), (0, 0)].into_iter(), CONFIDENCE), None);
    }

    /// The integral, not the short cut to Clopper and Pearson.
    #[test]
    fn all_or_nothing_is_clopper_and_pearson_by_nights() {
        for (hit, count) in [(0u32, 2u32), (0, 300), (1, 20), (2, 300), (150, 300), (299, 300), (7, 50), (30, 10_000)] {
            for confidence in [0.5, 0.95, 0.9999] {
                let groups: Vec<Group> = [(0.0, count - hit), (1.0, hit)]
                    .into_iter()
                    .filter(|g| g.1 > 0)
                    .map(|(share, nights)| Group { share, nights })
                    .collect();
                let mean = f64::from(hit) / f64::from(count);
                let got = quantile(&groups, mean, ln(tail_of(confidence)));
                let exact = clopper_pearson_at(u64::from(hit), u64::from(count), confidence).high;
                assert!((got / exact - 1.0).abs() < 1e-11, "{hit} of {count} at {confidence}: {got} {exact}");
            }
        }
    }

    #[test]
    fn no_hit_is_not_certainty() {
        // 1 − 0.025^(1/30), the upper bound of none of thirty nights.
        let bound = 1.0 - 0.025f64.powf(1.0 / 30.0);
        let [low, high] = bounds(&[(100_000, 0); 30]);
        assert_eq!(low, 0.0);
        assert!((high - bound).abs() < 1e-14);
        let [low, high] = bounds(&[(100_000, 100_000); 30]);
        assert!((low - (1.0 - bound)).abs() < 1e-14);
        assert_eq!(high, 1.0);
    }

    /// Of two nights and three gaps the weighted mean is within a triangle of weights: its distribution by areas.
    #[test]
    fn two_nights_by_hand() {
        // Shares ½ and ½: ½ + ½·D, D the added gap of three: P(D > d) = (1 − d)².
        let [low, high] = bounds(&[(10, 5), (20, 10)]);
        let by_hand = 0.5 + 0.5 * (1.0 - 0.025f64.sqrt());
        assert!((high - by_hand).abs() < 1e-12 && (low - (1.0 - by_hand)).abs() < 1e-12, "{low} {high}");
    }
}
