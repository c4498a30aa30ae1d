//! Exponentials, logarithms and powers that are the same bits on every machine.
//!
//! The standard library hands these functions on to the C library, whose last bit hangs on its maker, its version and
//! the processor: with and without fused multiplication the same C library differs. Whatever reaches a result
//! therefore takes them from here: the mathematics library of the Rust project (`libm`), which is plain arithmetic,
//! pinned in `Cargo.toml`. The standard library's own are used where IEEE 754 asks for the exact result, rounded: the
//! four operations, square roots, whole numbers below and above. `tests/architecture.rs` looks for others.
//!
//! Off by less than one unit in the last place (tested against values of 30 digits).

pub mod rounded;
pub mod vector;

pub use libm::{exp, expm1 as exp_m1, hypot, log as ln, log1p as ln_1p, log10, pow as powf};

/// xⁿ as products: the compiler may work `f64::powi` out in another order.
pub fn powi(x: f64, n: i32) -> f64 {
    let (mut power, mut square, mut left) = (1.0, x, n.unsigned_abs());
    while left > 0 {
        if left % 2 == 1 {
            power *= square;
        }
        square *= square;
        left /= 2;
    }
    if n < 0 { 1.0 / power } else { power }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // Arguments as they are, answers to 30 digits: worked out with 60 digits by mpmath 1.3 (Python). Those of e, ln 2, ln 10,
    // the logarithms of 2 and 3, and the root of 2 are the same in Abramowitz and Stegun, Handbook of Mathematical Functions
    // (1964), table 1.1 (from memory).
    const EXP: &[(f64, &str)] = &[
        (1.0, "2.71828182845904523536028747135"),
        (-1.0, "0.367879441171442321595523770161"),
        (0.5, "1.64872127070012814684865078781"),
        (-0.001, "0.999000499833374991647259481733"),
        (-1e-09, "0.999999999000000000499999937552"),
        (20.1, "536190464.429389664337130666945"),
        (-36.7, "1.15184094930760963219746061572e-16"),
        (100.3, "3.62857859967653191426202125749e+43"),
        (700.25, "1.30229973669917839353354223862e+304"),
        (-700.25, "7.67872381311087221164988744438e-305"),
    ];
    const EXP_M1: &[(f64, &str)] = &[
        (1.0, "1.71828182845904523536028747135"),
        (-1.0, "-0.632120558828557678404476229839"),
        (0.001, "0.00100050016670834168889326279830"),
        (-1e-10, "-9.99999999950000036433863978521e-11"),
        (0.3, "0.349858807576003088997301031689"),
        (-0.7, "-0.503414696208590463242382388214"),
        (5.5, "243.691932264220387915188949512"),
        (-40.0, "-0.999999999999999995751645744708"),
        (50.1, "5729985768980468919452.32330146"),
        (-2.25, "-0.894600775438135663216782310759"),
    ];
    const LN: &[(f64, &str)] = &[
        (2.0, "0.693147180559945309417232121458"),
        (10.0, "2.30258509299404568401799145468"),
        (1.0001, "0.0000999950003332973230219935167146"),
        (0.9999, "-0.000100005000333347320819644347167"),
        (std::f64::consts::SQRT_2, "0.346573590279972723066702637348"),
        (0.705, "-0.349557476169868455929258679459"),
        (3e-05, "-10.4143131763021187033605212728"),
        (1e-300, "-690.775527898213705180338344570"),
        (123456.789, "11.7236464871858810160296312529"),
        (1.7e+308, "709.726836893228241037791026376"),
    ];
    const LN_1P: &[(f64, &str)] = &[
        (1.0, "0.693147180559945309417232121458"),
        (-0.5, "-0.693147180559945309417232121458"),
        (0.001, "0.000999500333083533187605284746431"),
        (-1e-12, "-1.00000000000049997988664796257e-12"),
        (0.4142135, "0.346573546175533218158932345879"),
        (-0.29, "-0.342490308946775918560029161007"),
        (-0.999, "-6.90775527898213616387555466393"),
        (37.5, "3.65065824129373853975006419995"),
        (1000000.0, "13.8155115579637741044412818114"),
        (-0.0625, "-0.0645385211375711716729239156840"),
    ];
    const LOG10: &[(f64, &str)] = &[
        (2.0, "0.301029995663981195213738894724"),
        (3.0, "0.477121254719662437295027903255"),
        (1.0001, "0.0000434272768626648547275520783448"),
        (0.9999, "-0.0000434316198075056010134556606669"),
        (7e-05, "-4.15490195998574320733351582027"),
        (1.3e-09, "-8.88605664769316321065340441643"),
        (123.456, "2.09151220162777169186746783179"),
        (9.999999, "0.999999956570549670704884891132"),
        (1000000.1, "6.00000004342944600874121264915"),
        (2.5e-300, "-299.602059991327962393944000338"),
    ];
    const POWF: &[(f64, f64, &str)] = &[
        (2.0, 0.5, "1.41421356237309504880168872421"),
        (92.0, 0.02564102564102564, "1.12293219653228139069075324963"),
        (92.0, 0.9230769230769231, "64.9721480485942101353235435788"),
        (92.0, -0.07692307692307693, "0.706219000528197758985704710781"),
        (10.0, -2.5, "0.00316227766016837933199889354443"),
        (10.0, 0.3, "1.99526231496887955034590904281"),
        (1.05, 0.02, "1.00097627953430905001995371837"),
        (1.0001, 2.0, "1.00020000999999997797097250896"),
        (3.7, 1.35, "5.84887483313030798065516371219"),
        (12.5, 0.14, "1.42418826127537522473212057806"),
        (0.001, 0.77, "0.00489778819368446143661909736367"),
        (500.0, -3.1, "0.00000000429727341410949940322544047629"),
    ];
    const HYPOT: &[(f64, f64, &str)] = &[
        (3.0, 4.0, "5.00000000000000000000000000000"),
        (0.001, 0.2, "0.200002499984375206411643848675"),
        (0.05, 0.01, "0.0509901951359278510627652218637"),
        (1e+200, 1e+200, "1.41421356237309500599785966645e+200"),
        (7.25e-08, 0.001, "0.00100000000262812501736316072852"),
        (1.0, 1.0, "1.41421356237309504880168872421"),
    ];

    /// Units in the last place between a number and the true value, itself rounded: one more at most.
    fn apart(found: f64, truth: &str) -> u64 {
        let truth: f64 = truth.parse().unwrap();
        assert_eq!(found.is_sign_negative(), truth.is_sign_negative(), "{found} is not {truth}");
        found.to_bits().abs_diff(truth.to_bits())
    }

    #[test]
    fn functions_are_within_one_unit_of_the_true_value() {
        type OfOne = (&'static str, fn(f64) -> f64, &'static [(f64, &'static str)]);
        type OfTwo = (&'static str, fn(f64, f64) -> f64, &'static [(f64, f64, &'static str)]);
        let of_one: [OfOne; 5] = [
            ("exp", exp, EXP),
            ("exp_m1", exp_m1, EXP_M1),
            ("ln", ln, LN),
            ("ln_1p", ln_1p, LN_1P),
            ("log10", log10, LOG10),
        ];
        for (name, function, values) in of_one {
            for (x, truth) in values {
                assert!(apart(function(*x), truth) <= 1, "{name}({x}) is {truth}");
            }
        }
        let of_two: [OfTwo; 2] = [("powf", powf, POWF), ("hypot", hypot, HYPOT)];
        for (name, function, values) in of_two {
            for (x, y, truth) in values {
                assert!(apart(function(*x, *y), truth) <= 1, "{name}({x}, {y}) is {truth}");
            }
        }
        for (x, truth) in EXP {
            assert!(apart(vector::exp(*x), truth) <= 2, "vector::exp({x}) is {truth}");
        }
    }

    #[test]
    fn rounded_functions_are_the_nearest_numbers() {
        for (x, truth) in EXP.iter().filter(|(x, _)| x.abs() <= 30.0) {
            assert_eq!(apart(rounded::exp(*x), truth), 0, "exp({x}) is {truth}");
        }
        for (x, truth) in LN.iter().filter(|(x, _)| (1e-13..1e13).contains(x)) {
            assert_eq!(apart(rounded::ln(*x), truth), 0, "ln({x}) is {truth}");
        }
        assert_eq!(rounded::ln(0.0), f64::NEG_INFINITY);
    }

    #[test]
    fn powers_of_ten_are_exact() {
        let mut ten = 1.0;
        for n in 0..=22 {
            assert_eq!((powi(10.0, n), powi(10.0, -n), log10(ten)), (ten, 1.0 / ten, f64::from(n)));
            ten *= 10.0;
        }
        for n in -300..=300 {
            let ten: f64 = format!("1e{n}").parse().unwrap();
            assert_eq!(log10(ten), f64::from(n), "log10 of 1e{n}");
        }
        assert_eq!((powi(1.5, 3), powi(-2.0, 5), powi(0.0, 0), powi(7.0, 1)), (3.375, -32.0, 1.0, 7.0));
    }

    proptest! {
        /// Another implementation, the platform's, which errs by a unit itself.
        #[test]
        fn agrees_with_the_platform(x in -700.0..700.0_f64, small in -0.999..10.0_f64, y in -20.0..20.0_f64) {
            let near = |a: f64, b: f64| a.to_bits().abs_diff(b.to_bits()) <= 2;
            let positive = (0.1 * x).exp();
            prop_assert!(near(exp(x), x.exp()) && near(vector::exp(x), x.exp()), "exp({x})");
            prop_assert!(near(exp_m1(small), small.exp_m1()) && near(ln_1p(small), small.ln_1p()), "{small}");
            prop_assert!(near(ln(positive), positive.ln()) && near(log10(positive), positive.log10()), "{positive}");
            prop_assert!(near(powf(1.0 + small, y), (1.0 + small).powf(y)), "{} to the {y}", 1.0 + small);
            prop_assert!(near(hypot(small, y), small.hypot(y)), "{small}, {y}");
            prop_assert!(near(rounded::exp(y), y.exp()) && near(rounded::ln(y.exp()), y.exp().ln()), "{y}");
        }
    }
}
