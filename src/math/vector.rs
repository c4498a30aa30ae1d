//! The exponential function without a branch, so that a loop over many numbers becomes vector instructions: the
//! engine's lanes take one by module and one by warm conductor at every step, and the library's, with its branches,
//! would be called for each number by itself.
//!
//! x = k·ln 2 + r with |r| ≤ ½ ln 2 (Cody and Waite: ln 2 in two parts), e^r by a polynomial of degree 11,
//! off by less than 2e-17, and 2^k by its bits. Off by at most 2 units in the last place (tested).

/// Beyond this either way the result stands still: e^708 is near the greatest number.
const GREATEST: f64 = 708.0;
/// 1.5·2^52: adding it rounds to a whole number and leaves that in the low bits.
const SHIFT: f64 = 6_755_399_441_055_744.0;
/// ln 2 in a part of 32 bits, whose products with k are exact, and the rest.
const LN_2_HIGH: f64 = 6.931_471_803_691_238e-1;
const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;

/// (e^r − 1 − r)/r² as a polynomial, from r⁰ on: its series to r²⁴, shortened to r⁹ by Chebyshev's polynomials over
/// |r| ≤ ½ ln 2 (economisation of power series: C. Lanczos, Applied Analysis, 1956; worked out in exact fractions).
const TERMS: [f64; 10] = [
    0.5,
    1.666_666_666_666_667e-1,
    4.166_666_666_662_412e-2,
    8.333_333_333_326_134e-3,
    1.388_888_891_721_558_6e-3,
    1.984_126_987_482_230_7e-4,
    2.480_152_129_346_386_2e-5,
    2.755_725_539_833_871e-6,
    2.762_008_948_195_459e-7,
    2.510_521_769_568_451e-8,
];

/// e^x; x is held within ±708.
#[inline(always)]
pub fn exp(x: f64) -> f64 {
    // Not `clamp`: comparisons become one instruction each.
    let x = if x > GREATEST { GREATEST } else { x };
    let x = if x < -GREATEST { -GREATEST } else { x };
    let rounded = x * std::f64::consts::LOG2_E + SHIFT;
    let k = rounded - SHIFT;
    let r = (x - k * LN_2_HIGH) - k * LN_2_LOW;
    // In pairs, and pairs of pairs: what waits for nothing else is worked out side by side.
    let (square, pair) = (r * r, |n: usize| TERMS[n] + TERMS[n + 1] * r);
    let fourth = square * square;
    let four = |n: usize| pair(n) + pair(n + 2) * square;
    let sum = (four(0) + four(4) * fourth) + pair(8) * (fourth * fourth);
    let power = f64::from_bits(rounded.to_bits().wrapping_add(1023) << 52);
    (sum * square + r + 1.0) * power
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn rises(x in -30.0..30.0_f64) {
            prop_assert!(exp(x) < exp(x + 1e-12 * (1.0 + x.abs())));
        }
    }

    #[test]
    fn the_ends_stand_still() {
        assert_eq!(exp(0.0), 1.0);
        assert!(exp(1e9).is_finite() && exp(-1e9) > 0.0 && exp(f64::NAN).is_nan());
    }
}
