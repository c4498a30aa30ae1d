//! Exponential and logarithm rounded correctly: the number nearest to the true value, which anybody who computes with
//! enough digits finds too. Slow (some 1100 operations), for what must agree with others to the last bit.
//!
//! Twice the digits of a number are held as the unevaluated sum of two (T. J. Dekker, Numerische Mathematik 18, 1971;
//! D. E. Knuth, The Art of Computer Programming 2, 4.2.2). What is found errs by some 1e-28 of itself: it rounds
//! falsely where the true value lies so near to the middle between two numbers, once in 1e12 arguments.

/// A number, and what is left of it beyond the digits of the first.
#[derive(Clone, Copy)]
struct Long(f64, f64);

/// a + b without an error.
fn sum(a: f64, b: f64) -> Long {
    let sum = a + b;
    let second = sum - a;
    Long(sum, (a - (sum - second)) + (b - second))
}

/// a·b without an error, where nothing overflows.
fn product(a: f64, b: f64) -> Long {
    /// Cuts 53 bits into 26 and 27.
    const CUT: f64 = 134_217_729.0;
    let halves = |x: f64| {
        let high = CUT * x - (CUT * x - x);
        (high, x - high)
    };
    let (product, (a1, a2), (b1, b2)) = (a * b, halves(a), halves(b));
    Long(product, ((a1 * b1 - product) + a1 * b2 + a2 * b1) + a2 * b2)
}

impl Long {
    fn times(self, other: Long) -> Long {
        let whole = product(self.0, other.0);
        sum(whole.0, whole.1 + (self.0 * other.1 + self.1 * other.0))
    }

    fn over(self, divisor: f64) -> Long {
        let quotient = self.0 / divisor;
        let back = product(quotient, divisor);
        sum(quotient, ((self.0 - back.0) - back.1 + self.1) / divisor)
    }

    fn and(self, number: f64) -> Long {
        let whole = sum(self.0, number);
        sum(whole.0, whole.1 + self.1)
    }
}

/// e^x as the 1024th power of e^(x/1024), that by its series; for |x| up to 30.
fn long_exp(x: f64) -> Long {
    let small = Long(x / 1024.0, 0.0);
    let series = (1..=14).rev().fold(Long(1.0, 0.0), |sum, n| sum.times(small).over(f64::from(n)).and(1.0));
    (0..10).fold(series, |power, _| power.times(power))
}

/// e^x for |x| up to 30.
pub fn exp(x: f64) -> f64 {
    long_exp(x).0
}

/// ln x for x from e^−30 to e^30; minus infinity for zero.
pub fn ln(x: f64) -> f64 {
    let near = super::ln(x);
    if near.is_infinite() {
        return near;
    }
    // One step of Newton's method: ln x = l + ln(x·e^−l), and the last is of a number next to one.
    let apart = long_exp(-near).times(Long(x, 0.0)).and(-1.0);
    near + (apart.0 - 0.5 * apart.0 * apart.0)
}
