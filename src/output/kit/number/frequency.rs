//! How often something is seen in nights: an estimate with its interval, a bound where it was never or always seen.

use crate::output::kit::number::quantity::{
    NONE, counted, digits_after_point, fixed, known, lower, outwards, power_of_ten, probability, trimmed, upper,
};
use crate::summary::Estimate;

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

/// The bound of a probability of what was never seen: `below 0.037 %`, `below 0.037 % by trials, 2.4 % by calendar nights`.
pub fn below(e: &Estimate) -> String {
    format!("below {}", both(|e| upper(e.high), e, ", "))
}

/// The bound of a probability of what was seen in every night.
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

/// The words where nothing is random, so that all nights are the same; `None` where something is.
fn exactly(e: &Estimate) -> Option<String> {
    e.is_exact().then(|| match e.estimate {
        p if p >= 1.0 => "every night".to_string(),
        p if p <= 0.0 => "no night".to_string(),
        p => format!("{} of nights", probability(p)),
    })
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
