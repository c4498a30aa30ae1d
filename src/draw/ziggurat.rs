//! Normal and exponential draws.
//!
//! In: a generator. Out: a draw of mean 0 and deviation 1, or of mean 1. The ziggurat method (G. Marsaglia, W. W. Tsang,
//! The Ziggurat Method for Generating Random Variables, Journal of Statistical Software 5(8), 2000) with 256 strips of one
//! area under the density, r and v theirs: one word of 64 bits decides nearly every draw, its low 8 bits which strip, its
//! high 52 bits where in it.
//!
//! Words are used as the crate `rand_distr` uses them, and the strips' edges are its own to the last bit, so that draws
//! are the same as with it (tested). But that asks the platform for exponential and logarithm, whose last bit differs
//! from one machine to the next.

use crate::math::{self, rounded};
use rand::{Rng, RngExt};
use std::sync::LazyLock;

const STRIPS: usize = 256;

static NORMAL: LazyLock<Ziggurat> = LazyLock::new(|| {
    let edge = |height: f64| (-2.0 * rounded::ln(height)).sqrt();
    Ziggurat::new(3.654_152_885_361_009, 0.004_928_673_233_99, |x| rounded::exp(-x * x / 2.0), edge)
});

static EXPONENTIAL: LazyLock<Ziggurat> = LazyLock::new(|| {
    let edge = |height: f64| -rounded::ln(height);
    Ziggurat::new(7.697_117_470_131_05, 0.003_949_659_822_581_557, |x| rounded::exp(-x), edge)
});

/// Strips of one area, the lowest with the tail.
struct Ziggurat {
    /// Right edge of each, falling to zero; that of the lowest is where a box of its area would end.
    edges: [f64; STRIPS + 1],
    /// The density there.
    heights: [f64; STRIPS + 1],
}

/// Where a word falls.
enum Place {
    Found(f64),
    /// In a strip's corner: found if a uniform number picks a height under the density.
    Corner(f64),
    Tail,
}

impl Ziggurat {
    /// `r`: where the tail begins. `v`: the area of a strip. Each edge follows from the one below it, in plain double
    /// precision, so that only functions which are rounded correctly give the same edges everywhere.
    fn new(r: f64, v: f64, density: impl Fn(f64) -> f64, edge: impl Fn(f64) -> f64) -> Ziggurat {
        let mut edges = [0.0; STRIPS + 1];
        edges[0] = v / density(r);
        edges[1] = r;
        for k in 2..STRIPS {
            edges[k] = edge(v / edges[k - 1] + density(edges[k - 1]));
        }
        Ziggurat { edges, heights: edges.map(density) }
    }

    fn tail(&self) -> f64 {
        self.edges[1]
    }

    /// Of a strip, and a share of its width (−1…1).
    fn place(&self, strip: usize, share: f64) -> Place {
        let x = share * self.edges[strip];
        match x.abs() < self.edges[strip + 1] {
            true => Place::Found(x),
            false if strip == 0 => Place::Tail,
            false => Place::Corner(x),
        }
    }

    /// Whether a uniform number (0…1) picks a height of a strip that is below this one.
    fn below(&self, strip: usize, uniform: f64, height: f64) -> bool {
        let (top, foot) = (self.heights[strip + 1], self.heights[strip]);
        top + (foot - top) * uniform < height
    }
}

fn strip(word: u64) -> usize {
    (word & 0xff) as usize
}

/// In 1…2, the upper end exclusive, by the high 52 bits.
fn from_one_to_two(word: u64) -> f64 {
    f64::from_bits(1.0f64.to_bits() | word >> 12)
}

/// In 0…1, both ends exclusive.
fn open(word: u64) -> f64 {
    from_one_to_two(word) - (1.0 - 0.5 * f64::EPSILON)
}

/// A draw from the normal distribution of mean 0 and standard deviation 1.
pub fn normal(rng: &mut impl Rng) -> f64 {
    loop {
        let word = rng.next_u64();
        let share = 2.0 * from_one_to_two(word) - 3.0;
        match NORMAL.place(strip(word), share) {
            Place::Found(x) => return x,
            Place::Corner(x) if NORMAL.below(strip(word), rng.random(), math::exp(-x * x / 2.0)) => return x,
            Place::Corner(_) => {}
            Place::Tail => return beyond(rng, NORMAL.tail()).copysign(share),
        }
    }
}

/// A normal draw above r: r + x with x exponential of mean 1/r, taken with probability e^(−x²/2) (G. Marsaglia, 1964).
fn beyond(rng: &mut impl Rng, r: f64) -> f64 {
    loop {
        let x = rounded::ln(open(rng.next_u64())) / r;
        let y = rounded::ln(open(rng.next_u64()));
        if -2.0 * y >= x * x {
            return r - x;
        }
    }
}

/// A draw from the exponential distribution of mean 1.
pub fn exponential(rng: &mut impl Rng) -> f64 {
    loop {
        let word = rng.next_u64();
        match EXPONENTIAL.place(strip(word), open(word)) {
            Place::Found(x) => return x,
            Place::Corner(x) if EXPONENTIAL.below(strip(word), rng.random(), math::exp(-x)) => return x,
            Place::Corner(_) => {}
            // It has no memory: beyond r it begins anew.
            Place::Tail => return EXPONENTIAL.tail() - rounded::ln(rng.random()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Exp1, StandardNormal};

    /// The same words give the same numbers, and leave the generator at the same place. Of a million draws some 260 normal
    /// and 450 exponential ones are in the tail, where the other's logarithm may err in the last place.
    #[test]
    fn draws_are_those_of_rand_distr() {
        let (mut ours, mut theirs) = (ChaCha8Rng::seed_from_u64(1), ChaCha8Rng::seed_from_u64(1));
        for _ in 0..1_000_000 {
            let pairs: [(f64, f64, f64); 2] = [
                (normal(&mut ours), StandardNormal.sample(&mut theirs), NORMAL.tail()),
                (exponential(&mut ours), Exp1.sample(&mut theirs), EXPONENTIAL.tail()),
            ];
            for (ours, theirs, tail) in pairs {
                let apart = (ours - theirs).abs();
                assert!(ours == theirs || ours.abs() > tail && apart <= 2e-15, "{ours} and {theirs}");
            }
            assert_eq!(ours.get_word_pos(), theirs.get_word_pos());
        }
    }

    /// Φ(−4) and Φ(−r), e^−r: published tables give 3.167e-5 (Abramowitz and Stegun, table 26.1, from memory).
    #[test]
    fn tails_are_as_heavy_as_they_should_be() {
        const DRAWS: u64 = 4_000_000;
        let mut rng = ChaCha8Rng::seed_from_u64(2);
        let far = (0..DRAWS).filter(|_| normal(&mut rng).abs() > 4.0).count() as f64;
        let expected = 2.0 * 3.167e-5 * DRAWS as f64;
        assert!((far - expected).abs() < 4.0 * expected.sqrt(), "{far} of {expected}");
        let far = (0..DRAWS).filter(|_| exponential(&mut rng) > 9.0).count() as f64;
        let expected = 1.2341e-4 * DRAWS as f64;
        assert!((far - expected).abs() < 4.0 * expected.sqrt(), "{far} of {expected}");
    }
}
