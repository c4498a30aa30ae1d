//! Counts, currents, times, money, probabilities that were worked out, and bounds.

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

/// The share of nights still served when so many have ended; not a number without trials.
pub fn share_left(trials: u64, ended: u64) -> f64 {
    trials.saturating_sub(ended) as f64 / trials as f64
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

/// A number with this number of decimals; what rounds to zero has no sign.
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
pub(super) fn outwards(x: f64, decimals: usize, round: fn(f64) -> f64) -> f64 {
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

pub(super) fn known(e: &Estimate) -> bool {
    e.estimate.is_finite() && e.low.is_finite() && e.high.is_finite()
}

/// Decimals that leave so many significant digits.
pub(super) fn digits_after_point(x: f64, digits: usize) -> usize {
    if x == 0.0 || !x.is_finite() {
        return 0;
    }
    (digits as i32 - 1 - math::log10(x.abs()).floor() as i32).clamp(0, 15) as usize
}

pub(super) fn trimmed(x: f64, d: usize) -> String {
    let text = fixed(x, d);
    if !text.contains('.') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// `3.1×10⁻⁹`
pub(super) fn power_of_ten(p: f64) -> String {
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
