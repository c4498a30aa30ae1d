//! Civil time as seconds: dates, clock times, and how they are written (ISO 8601).
//!
//! In: text such as `2019-01-31 17:00` or numbers of year, month and day. Out: seconds since
//! 1970-01-01 00:00 on the same civil clock, with leap days by the real (Gregorian) calendar.

use jiff::SignedDuration;
use jiff::civil::Date;

pub(super) const MINUTE: i64 = 60;
pub(super) const HOUR: i64 = 3600;
pub(super) const DAY: i64 = 86_400;

/// Years that a profile may lie in; anything else is a slip of the pen.
const FIRST_YEAR: i64 = 1900;
const LAST_YEAR: i64 = 2100;

const EPOCH: Date = Date::constant(1970, 1, 1);

/// Midnight at the start of a day [s]; `None` where there is no such day from 1900 to 2100.
pub(super) fn midnight(year: i64, month: i64, day: i64) -> Option<i64> {
    if !(FIRST_YEAR..=LAST_YEAR).contains(&year) {
        return None;
    }
    let date = Date::new(i16::try_from(year).ok()?, i8::try_from(month).ok()?, i8::try_from(day).ok()?);
    Some(date.ok()?.duration_since(EPOCH).as_secs())
}

/// The day that a moment lies in; moments beyond the calendar get its last day.
pub(super) fn date(seconds: i64) -> Date {
    EPOCH.saturating_add(SignedDuration::from_secs(seconds.div_euclid(DAY).saturating_mul(DAY)))
}

/// `2018-03-02 04:00`, with seconds only where there are any.
pub(super) fn moment(seconds: i64) -> String {
    format!("{} {}", date(seconds), clock_time(seconds.rem_euclid(DAY)))
}

/// `17:00` from seconds after midnight.
pub(super) fn clock_time(seconds: i64) -> String {
    let (hours, minutes) = (seconds / HOUR, seconds / MINUTE % 60);
    match seconds % MINUTE {
        0 => format!("{hours:02}:{minutes:02}"),
        rest => format!("{hours:02}:{minutes:02}:{rest:02}"),
    }
}

/// `16 h`, `1.25 h`, `15 min` or `20 s`.
pub(super) fn length(seconds: i64) -> String {
    if seconds % HOUR == 0 || seconds > HOUR {
        let hours = format!("{:.2}", seconds as f64 / HOUR as f64);
        format!("{} h", hours.trim_end_matches('0').trim_end_matches('.'))
    } else if seconds % MINUTE == 0 {
        format!("{} min", seconds / MINUTE)
    } else {
        format!("{seconds} s")
    }
}

/// A time as written: civil seconds, and the offset east of UTC where one was written [s].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stamp {
    pub civil: i64,
    pub offset: Option<i64>,
}

/// Why a text is not a time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub(super) enum StampFault {
    #[error("expected a time such as 2019-01-31 17:00")]
    Form,
    #[error("there is no such day from 1900 to 2100")]
    Day,
    #[error("there is no such time of day")]
    Clock,
    #[error("the offset is not of the form Z, +01:00 or -0900")]
    Offset,
}

/// Reads an ISO 8601 time: a date, then `T` or a blank and hours and minutes, then seconds and an
/// offset if there are any. Fractions of a second are dropped; a date alone is its midnight.
pub(super) fn stamp(text: &str) -> Result<Stamp, StampFault> {
    let (day, rest) = text.split_once(['T', 't', ' ']).unwrap_or((text, ""));
    let (day, rest) = (civil_day(day)?, rest.trim());
    if rest.is_empty() {
        return Ok(Stamp { civil: day, offset: None });
    }
    let (clock, zone) = rest.split_at(rest.find(['Z', 'z', '+', '-']).unwrap_or(rest.len()));
    let offset = if zone.is_empty() { None } else { Some(zone_offset(zone).ok_or(StampFault::Offset)?) };
    Ok(Stamp { civil: day + seconds_of_day(clock.trim_end())?, offset })
}

fn civil_day(text: &str) -> Result<i64, StampFault> {
    let mut parts = text.split('-');
    let numbers = [parts.next(), parts.next(), parts.next()].map(|p| p.and_then(|p| digits(p, 4)));
    match (numbers, parts.next()) {
        ([Some(year), Some(month), Some(day)], None) => midnight(year, month, day).ok_or(StampFault::Day),
        _ => Err(StampFault::Form),
    }
}

/// Seconds after midnight of `17:00`, `17:00:30`, `17:00:30.25`; `24:00` is the next midnight.
fn seconds_of_day(text: &str) -> Result<i64, StampFault> {
    let (whole, fraction) = text.split_once(['.', ',']).unwrap_or((text, "0"));
    let mut parts = whole.split(':');
    let hour = parts.next().and_then(|p| digits(p, 2));
    let minute = parts.next().and_then(|p| digits(p, 2));
    let second = parts.next().map_or(Some(0), |p| digits(p, 2));
    let (Some(hour), Some(minute), Some(second), None, Some(_)) =
        (hour, minute, second, parts.next(), digits(fraction, 18))
    else {
        return Err(StampFault::Form);
    };
    let seconds = hour * HOUR + minute * MINUTE + second;
    if minute < 60 && second < 60 && seconds <= DAY { Ok(seconds) } else { Err(StampFault::Clock) }
}

/// Seconds east of UTC of `Z`, `+01`, `+01:00` or `-0900`; no zone is 18 h or more away.
fn zone_offset(text: &str) -> Option<i64> {
    if text.eq_ignore_ascii_case("z") {
        return Some(0);
    }
    let sign = if text.starts_with('-') { -1 } else { 1 };
    let number = text.get(1..)?;
    let (hours, minutes) = match (number.split_once(':'), number.len()) {
        (Some(parts), 5) => parts,
        (None, 2) => (number, "0"),
        (None, 4) => (number.get(..2)?, number.get(2..)?),
        _ => return None,
    };
    let (hours, minutes) = (digits(hours, 2)?, digits(minutes, 2)?);
    (hours < 18 && minutes < 60).then_some(sign * (hours * HOUR + minutes * MINUTE))
}

/// A number of ASCII digits alone, at least one and at most `most` (up to 18, so that it fits).
fn digits(text: &str, most: usize) -> Option<i64> {
    let fits = !text.is_empty() && text.len() <= most && text.bytes().all(|b| b.is_ascii_digit());
    if fits { text.parse().ok() } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read_as_iso_8601_writes_them() {
        let at = |text| stamp(text).unwrap();
        let noon = Stamp { civil: 1_546_344_000, offset: None }; // `date -u -d '2019-01-01 12:00' +%s`
        for text in ["2019-01-01T12:00", "2019-01-01 12:00", "2019-01-01 12:00:00", "2019-01-01T12:00:00.75"] {
            assert_eq!(at(text), noon, "{text}");
        }
        assert_eq!(at("2019-01-01T12:00Z").offset, Some(0));
        assert_eq!(at("2019-01-01 12:00 -09:30").offset, Some(-34_200));
        assert_eq!(at("2019-01-01T12:00:00.5+0545").offset, Some(20_700));
        assert_eq!(at("2018-12-31 24:00"), at("2019-01-01"));
    }

    #[test]
    fn leap_days_follow_the_real_calendar() {
        assert_eq!(stamp("2020-02-29 00:00").unwrap().civil, 1_582_934_400);
        assert_eq!(stamp("2019-02-29 00:00"), Err(StampFault::Day));
        assert_eq!(stamp("1900-02-29 00:00"), Err(StampFault::Day));
        assert!(stamp("2000-02-29 00:00").is_ok());
    }

    #[test]
    fn what_is_no_time_is_told_apart() {
        for text in ["", "noon", "01/02/2019 13:00", "2019-01", "2019-01-01 13", "2019-01-01 1:2:3:4", "2019-1-1-1"] {
            assert_eq!(stamp(text), Err(StampFault::Form), "{text}");
        }
        for text in ["2019-01-01 24:01", "2019-01-01 12:60", "2019-01-01 12:00:60"] {
            assert_eq!(stamp(text), Err(StampFault::Clock), "{text}");
        }
        for text in ["2019-01-01 12:00+", "2019-01-01 12:00+1:0", "2019-01-01 12:00+18:00", "2019-01-01 12:00 +é"] {
            assert_eq!(stamp(text), Err(StampFault::Offset), "{text}");
        }
        assert_eq!(stamp("3019-01-01"), Err(StampFault::Day));
    }

    #[test]
    fn times_and_lengths_are_written_for_people() {
        assert_eq!(moment(1_546_344_000), "2019-01-01 12:00");
        assert_eq!(moment(-1), "1969-12-31 23:59:59");
        let lengths = [(57_600, "16 h"), (4500, "1.25 h"), (900, "15 min"), (20, "20 s"), (0, "0 h")];
        for (seconds, text) in lengths {
            assert_eq!(length(seconds), text);
        }
    }
}
