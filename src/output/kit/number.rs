//! How numbers look, in one place: `.` decimals, a blank before the unit, no more digits than the
//! interval carries, and a word instead of a number that is not one.
//!
//! Bounds are rounded outwards, so that a printed interval never claims more than the exact one.
//! A probability of zero is never printed as such: it is an upper bound.

mod frequency;
mod quantity;

pub use frequency::{
    as_served, below, frequency, frequency_narrow, frequency_short, interval, of_nights, served_short, share,
};
pub use quantity::{
    LEAST, NONE, celsius, celsius_asked, change, chosen, count, counted, current, duration, energy, exponent,
    fault_current, fixed, hours, hours_apart, lower, money, nights, points, probability, probability_tick, rating,
    rounded_up, seconds, share_left, significant, upper, voltage,
};

#[cfg(test)]
mod tests {
    use super::*;
    use crate::summary::Estimate;

    fn e(estimate: f64, low: f64, high: f64) -> Estimate {
        Estimate::new(estimate, low, high)
    }

    #[test]
    fn digits_follow_the_interval() {
        assert_eq!(frequency(&e(0.0123, 0.0090, 0.0150), 1000), "1.2 % of nights (0.9–1.5 %)");
        assert_eq!(frequency(&e(0.0123, 0.0094, 0.0151), 10_000), "1.23 % of nights (0.94–1.51 %)");
        assert_eq!(frequency(&e(0.34, 0.27, 0.42), 100), "34 % of nights (27–42 %)");
        assert_eq!(frequency(&e(0.9731, 0.9698, 0.9760), 10_000), "97.3 % of nights (96.9–97.6 %)");
        assert_eq!(frequency_short(&e(3e-4, 6.2e-5, 8.8e-4)), "0.030 % (0.006–0.088 %)");
    }

    #[test]
    fn never_and_always_are_bounds() {
        assert_eq!(frequency(&e(0.0, 0.0, 3.688e-4), 10_000), "none seen in 10,000 nights: below 0.037 %");
        assert_eq!(frequency(&e(1.0, 0.999_631, 1.0), 10_000), "all of 10,000 nights: above 99.963 %");
        assert_eq!(frequency_short(&e(0.0, 0.0, 0.975)), "none seen (< 98 %)");
        assert_eq!(frequency(&e(1.0, 0.025, 1.0), 1), "all of 1 night: above 2.5 %");
    }

    #[test]
    fn calendar_nights_stand_beside_trials() {
        let nights = |e: Estimate, low, high| e.and_by_night(Some([low, high]));
        let told = frequency(&nights(e(0.0066, 0.0051, 0.0084), 0.002, 0.014), 10_000);
        assert_eq!(told, "0.66 % of nights (0.51–0.84 % by trials; 0.2–1.4 % by calendar nights)");
        let never = nights(e(0.0, 0.0, 3.688e-4), 0.0, 0.0239);
        assert_eq!(
            frequency(&never, 10_000),
            "none seen in 10,000 nights: below 0.037 % by trials, 2.4 % by calendar nights"
        );
        assert_eq!(
            of_nights(&never, 10_000),
            "none of 10,000 nights (below 0.037 % by trials, 2.4 % by calendar nights)"
        );
        let always = nights(e(1.0, 0.999_631, 1.0), 0.976, 1.0);
        assert_eq!(
            frequency(&always, 10_000),
            "all of 10,000 nights: above 99.963 % by trials, 97.6 % by calendar nights"
        );
        assert_eq!(frequency_short(&never), "none seen (< 0.037 %)");
    }

    #[test]
    fn what_is_exact_has_no_interval() {
        let (every, no) = (e(1.0, 1.0, 1.0), e(0.0, 0.0, 0.0));
        assert_eq!([&every, &no].map(|e| frequency(e, 1)), ["in every night", "in no night"]);
        assert_eq!([&every, &no].map(|e| of_nights(e, 400)), ["every night", "no night"]);
        assert_eq!([&every, &no].map(frequency_short), ["every night", "no night"]);
    }

    #[test]
    fn what_is_not_a_number_is_not_printed_as_one() {
        let n = f64::NAN;
        let texts = [
            frequency(&e(n, n, n), 5),
            frequency_short(&e(0.5, n, 1.0)),
            share(&e(n, 0.0, 1.0)),
            interval(&e(0.1, 0.0, f64::INFINITY)),
            current(n),
            hours(f64::INFINITY),
            duration(n),
            energy(n),
            exponent(n),
            chosen(n),
            upper(n),
            lower(n),
            seconds(f64::INFINITY),
            fault_current(n),
            voltage(rounded_up(n)),
            celsius(n),
            significant(n, 3),
        ];
        for text in texts {
            assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
        }
    }

    #[test]
    fn lengths_of_time_change_their_unit() {
        assert_eq!(duration(25.0 / 3600.0), "25 s");
        assert_eq!(duration(0.2), "12 min");
        assert_eq!(duration(2.5), "2.5 h");
        assert_eq!(hours(16.0), "16 h");
        assert_eq!(hours(-0.01), "0 h");
    }

    #[test]
    fn what_is_withstood_is_rounded_up_and_what_is_stated_is_not() {
        assert_eq!(fault_current(rounded_up(10_040.0)), "10.1 kA");
        assert_eq!(fault_current(rounded_up(912.34)), "913 A");
        assert_eq!(fault_current(20_000.0), "20 kA");
        assert_eq!(voltage(rounded_up(54.32)), "54.4 V");
        assert_eq!(voltage(rounded_up(54.4)), "54.4 V");
        assert_eq!((celsius(71.43), celsius_asked(-5.25)), ("71.4 °C".into(), "−5.25 °C".into()));
        assert_eq!((celsius(-0.04), celsius(-11.0)), ("0 °C".into(), "−11 °C".into()));
        assert_eq!([0.0, 0.0083, 0.8, 12.52, 240.0].map(seconds), ["0 ms", "8.3 ms", "800 ms", "12.5 s", "4 min"]);
    }

    /// One hit of 100 nights: Clopper and Pearson's low end is 1 − 0.975^(1/100), 0.0253 %.
    #[test]
    fn an_end_that_is_not_zero_or_all_never_looks_like_it() {
        assert_eq!(frequency_short(&e(0.01, 0.000_253, 0.0545)), "1.0 % (0.02–5.5 %)");
        assert_eq!(frequency_short(&e(0.99, 0.9455, 0.999_747)), "99.0 % (94.5–99.98 %)");
        assert_eq!(interval(&e(0.5, 0.0, 1.0)), "0–100 %");
        assert_eq!(points(&e(-0.05, -0.1, -2e-8)), "−5.000000 points (−10.000000 to −0.000002)");
    }

    #[test]
    fn nothing_has_no_sign() {
        let none = [-0.0, -0.04, -1e-300].map(current);
        assert_eq!(none, ["0.0 A", "0.0 A", "0.0 A"]);
        assert_eq!([fixed(-0.5, 0), fixed(-0.4, 0), fixed(-0.6, 0)], ["0", "0", "-1"]);
        assert_eq!([change(-0.001, 2), change(-0.01, 2), change(0.01, 2)], ["+0.00", "−0.01", "+0.01"]);
        assert_eq!((significant(-0.0, 3), energy(-0.0), celsius(-0.0)), ("0".into(), "0 Wh".into(), "0 °C".into()));
    }

    #[test]
    fn small_ones_are_powers_of_ten() {
        assert_eq!(frequency_short(&e(2.3e-9, 1.1e-9, 4.0e-9)), "2.3×10⁻⁹ (1.1×10⁻⁹–4.0×10⁻⁹)");
        assert_eq!((probability(5.18e-9), probability(2.1e-22)), ("5.2×10⁻⁹".into(), "below 10⁻⁹".into()));
        assert_eq!(
            (upper(3.11e-9), upper(3.1e-9), upper(2.1e-22)),
            ("3.2×10⁻⁹".into(), "3.1×10⁻⁹".into(), "10⁻⁹".into())
        );
        assert_eq!([1e-9, 1e-8, 1e-4, 0.1].map(probability_tick), ["10⁻⁹", "10⁻⁸", "0.01 %", "10 %"]);
    }

    #[test]
    fn others() {
        assert_eq!(count(1_234_567), "1,234,567");
        assert_eq!(money(Some(12_345.4), Some("EUR")), "12,345 EUR");
        assert_eq!(money(None, Some("EUR")), NONE);
        assert_eq!(points(&e(-0.0062, -0.0081, -0.0044)), "−0.62 points (−0.81 to −0.44)");
        assert_eq!(points(&e(-0.04, -0.081, -0.0004)), "−4.00 points (−8.10 to −0.04)");
        assert_eq!(points(&e(0.0, -0.0003, 0.0003)), "+0.00 points (−0.03 to +0.03)");
        // −0.057 is decided, and no zero.
        assert_eq!(points(&e(-0.014, -0.0316, -0.00057)), "−1.40 points (−3.16 to −0.05)");
        assert_eq!(points(&e(-0.04, -0.083, -0.0012)), "−4.0 points (−8.3 to −0.1)");
        assert_eq!(
            (points(&e(0.0, 0.0, 0.0)), points(&e(-1.0, -1.0, -1.0))),
            ("+0 points".into(), "−100 points".into())
        );
        assert_eq!(count(999), "999");
        assert_eq!(hours_apart(&e(-1.2, -1.61, -0.83)), "−1.2 h (−1.7 to −0.8 h)");
        assert_eq!(chosen(1e-3), "0.1 %");
        assert_eq!(chosen(0.99), "99 %");
        assert_eq!(upper(1e-3), "0.1 %");
        assert_eq!(energy(5612.0), "5.61 kWh");
        assert_eq!(energy(742.4), "742 Wh");
    }
}
