//! How numbers look, in one place: `.` decimals, a blank before the unit, no more digits than the
//! interval carries, and a word instead of a number that is not one.
//!
//! Bounds are rounded outwards, so that a printed interval never claims more than the exact one.
//! A probability of zero is never printed as such: it is an upper bound.

use crate::math;
use crate::summary::Estimate;

/// Stands where there is no number.
pub const NONE: &str = "–";

/// `12,345`
pub fn count(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (k, digit) in digits.chars().enumerate() {
        if k > 0 && (digits.len() - k).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// `4,000 nights of 3 h from 1 calendar night`
pub fn nights(trials: u64, horizon_h: f64, distinct: u64) -> String {
    format!(
        "{} of {} from {}",
        counted(trials, "night", "nights"),
        hours(horizon_h),
        counted(distinct, "calendar night", "different calendar nights")
    )
}

/// `1 night`, `37 nights`
pub fn counted(n: u64, one: &str, many: &str) -> String {
    format!("{} {}", count(n), if n == 1 { one } else { many })
}

/// `173.2 A`
pub fn current(amperes: f64) -> String {
    if amperes.is_finite() { format!("{} A", fixed(amperes, 1)) } else { NONE.into() }
}

/// `160.0 A`, or `unrated`.
pub fn rating(amperes: Option<f64>) -> String {
    amperes.map_or_else(|| "unrated".into(), current)
}

/// A moment or length of a night: `13.4 h`, whole hours without a decimal.
pub fn hours(h: f64) -> String {
    if h.is_finite() { format!("{} h", trimmed(h, 1)) } else { NONE.into() }
}

/// How long something lasted: `40 s`, `12 min`, `1.5 h`.
pub fn duration(h: f64) -> String {
    if !h.is_finite() {
        NONE.into()
    } else if h == 0.0 {
        "0 s".into()
    } else if h * 3600.0 < 99.5 {
        format!("{:.0} s", (h * 3600.0).max(1.0))
    } else if h * 60.0 < 99.5 {
        format!("{:.0} min", h * 60.0)
    } else {
        hours(h)
    }
}

/// `5.6 kWh`, `740 Wh`
pub fn energy(wh: f64) -> String {
    if !wh.is_finite() {
        NONE.into()
    } else if wh.abs() < 999.5 {
        format!("{} Wh", significant(wh, 3))
    } else {
        format!("{} kWh", significant(wh / 1000.0, 3))
    }
}

/// How long a device or a conductor carries a current: `8.3 ms`, `12.5 s`, `4 min`.
pub fn seconds(s: f64) -> String {
    if !s.is_finite() {
        NONE.into()
    } else if s < 0.9995 {
        format!("{} ms", significant(s * 1e3, 3))
    } else if s < 99.5 {
        format!("{} s", significant(s, 3))
    } else {
        duration(s / 3600.0)
    }
}

/// A current that somebody states, as large as those of a fault: `800 A`, `20 kA`.
pub fn fault_current(amperes: f64) -> String {
    if !amperes.is_finite() {
        NONE.into()
    } else if amperes < 1000.0 {
        format!("{} A", significant(amperes, 6))
    } else {
        format!("{} kA", significant(amperes / 1000.0, 6))
    }
}

/// A voltage that somebody states: `60 V`.
pub fn voltage(volts: f64) -> String {
    if volts.is_finite() { format!("{} V", significant(volts, 6)) } else { NONE.into() }
}

/// What something has to withstand, three digits, rounded up: 9130 of 9123.4.
pub fn rounded_up(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return x;
    }
    let decimals = 2 - math::log10(x.abs()).floor() as i32;
    // A hair down, so that 54.4 does not become 54.5 by representation. Powers of ten are exact
    // above one alone.
    let (x, unit) = (x * (1.0 - 1e-12), math::powi(10.0, decimals.abs()));
    if decimals < 0 { (x / unit).ceil() * unit } else { (x * unit).ceil() / unit }
}

/// `71.4 °C`, whole degrees without a decimal.
pub fn celsius(degrees: f64) -> String {
    if degrees.is_finite() { format!("{} °C", with_minus(trimmed(degrees, 1))) } else { NONE.into() }
}

/// The temperature that somebody asked for, with all its digits: `−5.25 °C`.
pub fn celsius_asked(degrees: f64) -> String {
    format!("{} °C", with_minus(significant(degrees, 4)))
}

/// A sign and not a hyphen.
fn with_minus(number: String) -> String {
    number.strip_prefix('-').map_or_else(|| number.clone(), |digits| format!("−{digits}"))
}

/// A sum of money, whole: `12,345 EUR`.
pub fn money(sum: Option<f64>, currency: Option<&str>) -> String {
    match sum.filter(|s| s.is_finite() && *s >= 0.0) {
        Some(sum) => format!("{} {}", count(sum.round() as u64), currency.unwrap_or_default()).trim_end().to_owned(),
        None => NONE.into(),
    }
}

/// A difference of two probabilities in points of a per cent with its interval: `−0.62 points (−0.81 to −0.44)`; of an
/// exact one there is none.
pub fn points(e: &Estimate) -> String {
    if !known(e) {
        return NONE.into();
    }
    let mut d = digits_after_point((e.high - e.low) * 50.0 / 3.0, 1).min(9);
    // An end that is not zero keeps its sign, rounded outwards too: the sign is what a difference is asked for.
    let ends = |d: usize| (outwards(e.low * 100.0, d, f64::floor), outwards(e.high * 100.0, d, f64::ceil));
    let lost = |p: f64, shown: f64, d: usize| p != 0.0 && is_nothing(&fixed(shown, d));
    while d < 9 && (lost(e.low, ends(d).0, d) || lost(e.high, ends(d).1, d)) {
        d += 1;
    }
    if e.is_exact() {
        return format!("{} points", change(e.estimate * 100.0, d));
    }
    let (low, high) = ends(d);
    format!("{} points ({} to {})", change(e.estimate * 100.0, d), change(low, d), change(high, d))
}

/// A difference of two times with its interval: `−1.2 h (−1.6 to −0.8 h)`.
pub fn hours_apart(e: &Estimate) -> String {
    if !known(e) {
        return NONE.into();
    }
    let d = digits_after_point((e.high - e.low) / 6.0, 1).min(4);
    let (low, high) = (outwards(e.low, d, f64::floor), outwards(e.high, d, f64::ceil));
    format!("{} h ({} to {} h)", change(e.estimate, d), change(low, d), change(high, d))
}

/// With so many decimals; what rounds to nothing has no sign.
pub fn fixed(x: f64, decimals: usize) -> String {
    let text = format!("{x:.decimals$}");
    if is_nothing(&text) { text.trim_start_matches('-').to_owned() } else { text }
}

/// The same with a sign and not a hyphen before it: `+0.62`, `−0.62`; `+0.00` of what rounds to nothing.
pub fn change(x: f64, decimals: usize) -> String {
    let text = fixed(x, decimals);
    text.strip_prefix('-').map_or_else(|| format!("+{text}"), |digits| format!("−{digits}"))
}

/// Whether a number as it is written is zero.
fn is_nothing(text: &str) -> bool {
    text.bytes().all(|c| matches!(c, b'-' | b'0' | b'.'))
}

/// To so many decimals away from what lies within; a hair is forgiven, so that 0.1 does not become 0.2 by
/// representation.
fn outwards(x: f64, decimals: usize, round: fn(f64) -> f64) -> f64 {
    let unit = math::powi(10.0, decimals as i32);
    let hair = if round(0.5) > 0.5 { -1e-6 } else { 1e-6 };
    round(x * unit + hair) / unit
}

/// A very small or very large quantity: `3.1e-13`.
pub fn exponent(x: f64) -> String {
    if x.is_finite() { format!("{x:.1e}") } else { NONE.into() }
}

/// A probability that somebody chose, with all its digits: `0.1 %`.
pub fn chosen(p: f64) -> String {
    if p.is_finite() { format!("{} %", significant(p * 100.0, 6)) } else { NONE.into() }
}

/// How often, with its interval: `1.2 % of nights (0.9–1.5 %)`, or where calendar nights are told apart `1.2 % of nights
/// (0.9–1.5 % by trials; 0.6–2.4 % by calendar nights)`. Where it was never or always seen, the bound; where nothing is
/// random, `in every night` or `in no night`.
pub fn frequency(e: &Estimate, nights: u64) -> String {
    if !known(e) {
        return "not known".into();
    }
    if let Some(words) = exactly(e) {
        return format!("in {words}");
    }
    if e.estimate <= 0.0 {
        return format!("none seen in {}: {}", counted(nights, "night", "nights"), below(e));
    }
    if e.estimate >= 1.0 {
        return format!("all of {}: {}", counted(nights, "night", "nights"), above(e));
    }
    format!("{} of nights ({})", share(e), both(interval, e, "; "))
}

/// The same within a sentence: `97.3 % of nights (96.9–97.6 %)`, `none of 10,000 nights (below 0.037 %)`.
pub fn of_nights(e: &Estimate, nights: u64) -> String {
    if let Some(words) = exactly(e) {
        return words;
    }
    if known(e) && e.estimate <= 0.0 {
        return format!("none of {} ({})", counted(nights, "night", "nights"), below(e));
    }
    if known(e) && e.estimate >= 1.0 {
        return format!("all of {} ({})", counted(nights, "night", "nights"), above(e));
    }
    frequency(e, nights)
}

/// Of what was never seen: `below 0.037 %`, `below 0.037 % by trials, 2.4 % by calendar nights`.
pub fn below(e: &Estimate) -> String {
    format!("below {}", both(|e| upper(e.high), e, ", "))
}

/// Of what was always seen.
fn above(e: &Estimate) -> String {
    format!("above {}", both(|e| lower(e.low), e, ", "))
}

/// What trials leave open, and what calendar nights leave, where they are told apart.
fn both(show: impl Fn(&Estimate) -> String, e: &Estimate, between: &str) -> String {
    match e.by_nights() {
        Some(nights) => format!("{} by trials{between}{} by calendar nights", show(e), show(&nights)),
        None => show(e),
    }
}

/// The same, by trials alone, for a narrow column: `1.2 % (0.9–1.5 %)`, `none seen (< 0.037 %)`.
pub fn frequency_short(e: &Estimate) -> String {
    if !known(e) {
        return NONE.into();
    }
    if let Some(words) = exactly(e) {
        return words;
    }
    if e.estimate <= 0.0 {
        return format!("none seen (< {})", upper(e.high));
    }
    if e.estimate >= 1.0 {
        return format!("every night (> {})", lower(e.low));
    }
    format!("{} ({})", share(e), interval(e))
}

/// The same with the interval that decides a target: where calendar nights are told apart, theirs.
pub fn frequency_narrow(e: &Estimate) -> String {
    let by_nights = e.by_nights();
    let told = frequency_short(by_nights.as_ref().unwrap_or(e));
    if by_nights.is_some() { told + " by calendar nights" } else { told }
}

/// How often something wanted was seen, for a narrow column: `97.3 % (96.9–97.6 %)`, `no night (< 0.037 %)`.
pub fn served_short(e: &Estimate) -> String {
    as_served(&frequency_short(e))
}

/// A frequency of something wanted, which nobody sees too seldom: `none seen` is `no night`.
pub fn as_served(told: &str) -> String {
    told.replace("none seen", "no night")
}

/// The estimate alone, with the digits that its interval carries: `1.2 %`.
pub fn share(e: &Estimate) -> String {
    if !known(e) {
        return NONE.into();
    }
    match decimals(e) {
        Some(d) => format!("{:.d$} %", e.estimate * 100.0),
        None => power_of_ten(e.estimate),
    }
}

/// The interval alone, rounded outwards: `0.9–1.5 %`. An end that is not 0 or 100 % never looks as if it were: it then
/// has a digit of its own, `0.02–5.5 %`.
pub fn interval(e: &Estimate) -> String {
    if !known(e) {
        return NONE.into();
    }
    let Some(d) = decimals(e) else {
        return format!("{}–{}", power_of_ten(e.low), power_of_ten(e.high));
    };
    let (low, high) = (e.low * 100.0, e.high * 100.0);
    // Of a distance from 0 or 100 %, one digit, rounded towards it.
    let near = |distance: f64| {
        let own = digits_after_point(distance, 1);
        (outwards(distance, own, f64::floor), own)
    };
    let low = match outwards(low, d, f64::floor).max(0.0) {
        0.0 if low > 0.0 => trimmed(near(low).0, near(low).1),
        shown => fixed(shown, d),
    };
    let high = match outwards(high, d, f64::ceil).min(100.0) {
        100.0 if e.high < 1.0 => fixed(100.0 - near(100.0 - high).0, near(100.0 - high).1),
        shown => fixed(shown, d),
    };
    format!("{low}–{high} %")
}

/// A chance that was worked out and is below this is told as "below 10⁻⁹": what the model leaves out, such as one cause
/// that takes all, is then likelier than what it counts, and its digits mean nothing.
pub const LEAST: f64 = 1e-9;
const LEAST_SHOWN: &str = "10⁻⁹";

/// A probability that was worked out, three digits: `0.0508 %`, `3.1×10⁻⁹`, `below 10⁻⁹`.
pub fn probability(p: f64) -> String {
    match p {
        p if p > 0.0 && p < LEAST => format!("below {LEAST_SHOWN}"),
        p if p > 0.0 && p < 1e-7 => power_of_ten(p),
        _ => format!("{} %", significant(p * 100.0, 3)),
    }
}

/// A probability on an axis, which has room for powers of ten alone: `0.01 %`, `10⁻⁸`.
pub fn probability_tick(p: f64) -> String {
    let text = probability(p * (1.0 + 1e-12));
    text.strip_prefix("1.0×").map_or_else(|| text.clone(), str::to_owned)
}

/// An upper bound, two digits, rounded up: `0.037 %`; `10⁻⁹` for all below it.
pub fn upper(p: f64) -> String {
    if p > 0.0 && p <= LEAST { LEAST_SHOWN.to_owned() } else { bound(p, f64::ceil) }
}

/// A lower bound near one, two digits of its distance from one, rounded down: `99.963 %`.
pub fn lower(p: f64) -> String {
    if !p.is_finite() {
        return NONE.into();
    }
    let gap = 1.0 - p;
    if p < 0.5 || gap <= 1e-12 {
        return bound(p, f64::floor);
    }
    let d = digits_after_point(gap * 100.0, 2);
    format!("{} %", trimmed(outwards(p * 100.0, d, f64::floor), d))
}

fn bound(p: f64, round: fn(f64) -> f64) -> String {
    if !p.is_finite() {
        return NONE.into();
    }
    if p > 0.0 && p < 1e-7 {
        let scale = math::powi(10.0, -math::log10(p).floor() as i32);
        return power_of_ten(outwards(p * scale, 1, round) / scale);
    }
    let d = digits_after_point(p * 100.0, 2);
    format!("{} %", trimmed(outwards(p * 100.0, d, round), d))
}

/// At least `digits` significant digits without trailing zeros; with an exponent from 1e12 on.
pub fn significant(x: f64, digits: usize) -> String {
    if x.is_finite() && x.abs() >= 1e12 {
        return exponent(x);
    }
    if x.is_finite() { trimmed(x, digits_after_point(x, digits)) } else { NONE.into() }
}

/// Of what chance has no part in: all nights are one.
fn exactly(e: &Estimate) -> Option<String> {
    e.is_exact().then(|| match e.estimate {
        p if p >= 1.0 => "every night".to_string(),
        p if p <= 0.0 => "no night".to_string(),
        p => format!("{} of nights", probability(p)),
    })
}

fn known(e: &Estimate) -> bool {
    e.estimate.is_finite() && e.low.is_finite() && e.high.is_finite()
}

/// Decimals of a percentage, so that half the width of its interval is at least three units of the last one, and
/// a low end above zero does not look like zero. `None` where the number is too small for a percentage.
fn decimals(e: &Estimate) -> Option<usize> {
    if e.estimate > 0.0 && e.estimate < 1e-7 {
        return None;
    }
    let half = (e.high - e.low) * 50.0;
    let half = if half > 0.0 { half } else { e.estimate * 30.0 };
    let d = digits_after_point(half / 3.0, 1);
    let of_low = if e.low > 0.0 { digits_after_point(e.low * 100.0, 1) } else { 0 };
    Some(d.max(of_low.min(digits_after_point(half, 1) + 1)).min(9))
}

/// Decimals that leave so many significant digits.
fn digits_after_point(x: f64, digits: usize) -> usize {
    if x == 0.0 || !x.is_finite() {
        return 0;
    }
    (digits as i32 - 1 - math::log10(x.abs()).floor() as i32).clamp(0, 15) as usize
}

fn trimmed(x: f64, d: usize) -> String {
    let text = fixed(x, d);
    if !text.contains('.') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// `3.1×10⁻⁹`
fn power_of_ten(p: f64) -> String {
    if p == 0.0 {
        return "0".into();
    }
    let text = format!("{p:.1e}");
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    let raised: String = exponent.chars().map(superscript).collect();
    if raised == "⁰" { mantissa.into() } else { format!("{mantissa}×10{raised}") }
}

fn superscript(c: char) -> char {
    const DIGITS: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    c.to_digit(10).and_then(|d| DIGITS.get(d as usize).copied()).unwrap_or('⁻')
}

#[cfg(test)]
mod tests {
    use super::*;

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
