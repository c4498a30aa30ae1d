//! A quantity by time, and its value at any moment of a trial.
//!
//! In: readings at strictly rising whole seconds. Out: the value at trial moment t of a trial whose
//! zero lies at second `start` of the series, either held, x(t) = x_k for t_k <= t < t_(k+1), or on
//! straight lines, x(t) = x_k + (x_(k+1) − x_k)·(t − t_k)/(t_(k+1) − t_k).

use super::types::{Clock, Source};
use crate::time::Time;
use std::sync::Arc;

const MICROS: i64 = 1_000_000;

/// A cursor looks at so many readings beyond a likely one before it searches.
const NEAR: usize = 4;

/// A quantity by time. Times rise strictly; there are at least two readings, all finite. Copies share them: each layout
/// and each campaign has one.
#[derive(Clone, Debug)]
pub struct Series {
    clock: Clock,
    /// Times of the readings [s], rising.
    times: Arc<[i64]>,
    values: Arc<[f64]>,
    /// The last value holds to here [s].
    end: i64,
    /// Stretches without readings that are too long to bridge [s], in order: no night may touch them.
    holes: Arc<[(i64, i64)]>,
    source: Source,
}

/// Why numbers do not make a series; readings count from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SeriesError {
    /// Fewer than two readings.
    #[error("a series needs at least two readings: one cannot say how long it lasts")]
    TooFew,
    /// There must be as many times as values.
    #[error("{times} times do not go with {values} values")]
    Unequal {
        /// Number of times.
        times: usize,
        /// Number of values.
        values: usize,
    },
    /// Times must rise; number of the first reading that does not.
    #[error("reading {0} does not come after the one before")]
    NotRising(usize),
    /// Number of the first reading that is not finite.
    #[error("reading {0} is not a finite number")]
    NotFinite(usize),
}

impl Series {
    /// A series without holes from times [s] and values; the last value holds as long as the gap
    /// before it.
    ///
    /// # Errors
    /// Fewer than two readings, unequal lengths, times that do not rise, values not finite.
    pub fn from_parts(clock: Clock, times: Vec<i64>, values: Vec<f64>) -> Result<Series, SeriesError> {
        check_values(&times, &values)?;
        if let Some(k) = times.windows(2).position(|pair| pair[0] >= pair[1]) {
            return Err(SeriesError::NotRising(k + 2));
        }
        let [.., before, last] = times[..] else {
            return Err(SeriesError::TooFew);
        };
        let end = last.saturating_add(last.saturating_sub(before));
        let (times, values) = (times.into(), values.into());
        Ok(Series { clock, times, values, end, holes: Arc::default(), source: Source::default() })
    }

    /// The same times, end and holes with other values: for a series derived from this one.
    ///
    /// # Errors
    /// Another number of values, or one that is not finite.
    pub fn with_values(&self, values: Vec<f64>) -> Result<Series, SeriesError> {
        check_values(&self.times, &values)?;
        Ok(Series { values: values.into(), ..self.clone() })
    }

    /// The same readings, ending and broken elsewhere.
    pub(super) fn with_extent(self, end: i64, holes: Vec<(i64, i64)>, source: Source) -> Series {
        Series { end, holes: holes.into(), source, ..self }
    }

    /// What its times count from.
    pub fn clock(&self) -> Clock {
        self.clock
    }
    /// Where it was read from, and what was filled in.
    pub fn source(&self) -> &Source {
        &self.source
    }
    /// Moments of the readings [s], strictly rising.
    pub fn times(&self) -> &[i64] {
        &self.times
    }
    /// The readings, one a time.
    pub fn values(&self) -> &[f64] {
        &self.values
    }
    /// Moment of the first reading [s].
    pub fn first(&self) -> i64 {
        self.times[0]
    }
    /// The last value holds to here [s].
    pub fn end(&self) -> i64 {
        self.end
    }
    /// Stretches without readings, too long to bridge [s].
    pub fn holes(&self) -> &[(i64, i64)] {
        &self.holes
    }

    /// Whether there is a value at every moment of [from, to]: from the first reading to the end
    /// of the last, and no hole in between.
    pub fn covers(&self, from: i64, to: i64) -> bool {
        let ahead = self.holes.partition_point(|hole| hole.1 <= from);
        let clear = self.holes.get(ahead).is_none_or(|hole| to <= hole.0);
        self.first() <= from && from <= to && to <= self.end && clear
    }

    /// Each value held until the next: (value at `t`, moment of the next reading after `t`, or
    /// [`Time::NEVER`]). Before the first reading it is the first value.
    ///
    /// `start` is the second of this series at which the trial begins.
    pub fn held(&self, t: Time, start: i64) -> (f64, Time) {
        self.cursor(start).held(t)
    }

    /// Straight lines between values: (value at `t`, moment of the next reading after `t`, or
    /// [`Time::NEVER`]). Constant before the first reading and after the last.
    pub fn between(&self, t: Time, start: i64) -> (f64, Time) {
        self.cursor(start).between(t)
    }

    /// For many look-ups in one trial: finds a moment near the one before without a search.
    pub fn cursor(&self, start: i64) -> Cursor<'_> {
        Cursor { series: self, start, next: 0 }
    }

    /// Whether a second lies between the reading before number `next`, counted from 0, and that.
    #[inline]
    fn lies_before(&self, next: usize, second: i64) -> bool {
        next > 0
            && self.times.get(next - 1).is_some_and(|&time| time <= second)
            && self.times.get(next).is_none_or(|&time| second < time)
    }

    /// Number of readings before a second, were they evenly spaced.
    fn guess(&self, second: i64) -> usize {
        let (first, last) = (self.times[0], self.times[self.times.len() - 1]);
        let share = second.saturating_sub(first) as f64 / last.saturating_sub(first) as f64;
        (share * (self.times.len() - 1) as f64) as usize
    }

    /// Number of readings at or before a second.
    fn passed(&self, second: i64) -> usize {
        self.times.partition_point(|&time| time <= second)
    }
}

fn check_values(times: &[i64], values: &[f64]) -> Result<(), SeriesError> {
    if times.len() != values.len() {
        return Err(SeriesError::Unequal { times: times.len(), values: values.len() });
    }
    match values.iter().position(|value| !value.is_finite()) {
        Some(k) => Err(SeriesError::NotFinite(k + 1)),
        None => Ok(()),
    }
}

/// A place in a series, for moments that mostly go forward by small steps. Its answers are those
/// of [`Series::held`] and [`Series::between`], bit for bit, in whatever order it is asked.
#[derive(Clone, Copy, Debug)]
pub struct Cursor<'a> {
    series: &'a Series,
    start: i64,
    /// Number of readings at or before the last moment asked for.
    next: usize,
}

/// A straight line of a series: value + rise·(t − origin)/length, until its next reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// The line starts here.
    pub origin: Time,
    /// The next reading, or [`Time::NEVER`].
    pub until: Time,
    /// Length of the stretch [s].
    pub length: f64,
    /// At the start, in the unit of the series.
    pub value: f64,
    /// From the start over `length`, in the unit of the series.
    pub rise: f64,
}

impl Piece {
    /// The same value at all times.
    pub fn constant(value: f64) -> Piece {
        Piece { origin: Time::ZERO, until: Time::NEVER, length: 1.0, value, rise: 0.0 }
    }

    /// At a moment, in the unit of the series.
    pub fn value(&self, t: Time) -> f64 {
        line_value((self.value, self.rise), t.0 as f64 - self.origin.0 as f64, self.length)
    }
}

/// A straight line so many microseconds after it began, `length` [s] being how long it takes to rise by `rise`.
#[inline(always)]
pub fn line_value((value, rise): (f64, f64), micros: f64, length: f64) -> f64 {
    value + rise * (micros * 1e-6 / length)
}

impl Cursor<'_> {
    /// The same as [`Series::held`].
    pub fn held(&mut self, t: Time) -> (f64, Time) {
        let second = self.start.saturating_add(t.0.div_euclid(MICROS));
        let next = self.seek(second);
        (self.series.values[next.saturating_sub(1)], self.moment(next))
    }

    /// The same as [`Series::between`].
    pub fn between(&mut self, t: Time) -> (f64, Time) {
        let piece = self.piece(t);
        (piece.value(t), piece.until)
    }

    /// The straight line that holds at `t`.
    #[inline]
    pub fn piece(&mut self, t: Time) -> Piece {
        let second = self.start.saturating_add(t.0.div_euclid(MICROS));
        let next = self.seek(second);
        let (times, values) = (&self.series.times, &self.series.values);
        let until = self.moment(next);
        if next == 0 || next == times.len() {
            return Piece { until, ..Piece::constant(values[next.saturating_sub(1)]) };
        }
        let length = times[next].saturating_sub(times[next - 1]) as f64;
        let (value, rise) = (values[next - 1], values[next] - values[next - 1]);
        Piece { origin: self.moment(next - 1), until, length, value, rise }
    }

    /// Number of readings at or before `second`: where it was or a little further, where even spacing would have it, or
    /// by search.
    #[inline]
    fn seek(&mut self, second: i64) -> usize {
        let series = self.series;
        let near = |from: usize| (from..=from + NEAR).find(|next| series.lies_before(*next, second));
        let known = near(self.next).or_else(|| near(series.guess(second)));
        self.next = known.unwrap_or_else(|| series.passed(second));
        self.next
    }

    /// Trial moment of reading number `next`, counted from 0.
    #[inline]
    fn moment(&self, next: usize) -> Time {
        match self.series.times.get(next) {
            Some(time) => Time::from_whole_seconds(time.saturating_sub(self.start)),
            None => Time::NEVER,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn three() -> Series {
        Series::from_parts(Clock::Elapsed, vec![0, 3600, 5400], vec![10.0, 20.0, -4.0]).unwrap()
    }

    #[test]
    fn a_value_holds_until_the_next_and_the_last_as_long_as_the_gap_before() {
        let hour = Time::from_whole_seconds(3600);
        assert_eq!(three().held(Time(0), 0), (10.0, hour));
        assert_eq!(three().held(Time(hour.0 - 1), 0), (10.0, hour));
        assert_eq!(three().held(hour, 0), (20.0, Time::from_whole_seconds(5400)));
        assert_eq!(three().held(Time::from_whole_seconds(9999), 0), (-4.0, Time::NEVER));
        assert_eq!(three().held(Time(-5), 0), (10.0, Time::ZERO));
        assert_eq!((three().first(), three().end()), (0, 7200));
    }

    #[test]
    fn lines_join_the_readings_and_microseconds_count() {
        let at = |micros| three().between(Time(micros), 0).0;
        assert_eq!(at(0), 10.0);
        assert_eq!(at(1_800_000_000), 15.0);
        assert!((at(500_000) - (10.0 + 10.0 * 0.5 / 3600.0)).abs() < 1e-12);
        assert_eq!(at(3_600_000_000), 20.0);
        assert_eq!(at(4_500_000_000), 8.0);
        assert_eq!(at(6_000_000_000), -4.0);
    }

    #[test]
    fn a_trial_may_start_anywhere_in_the_series() {
        assert_eq!(three().between(Time(0), 4500), (8.0, Time::from_whole_seconds(900)));
        assert_eq!(three().held(Time::from_whole_seconds(900), 4500), (-4.0, Time::NEVER));
    }

    #[test]
    fn cover_ends_with_the_last_value_and_stops_at_holes() {
        assert!(three().covers(0, 7200) && !three().covers(-1, 7200) && !three().covers(0, 7201));
        assert!(!three().covers(3600, 0));
        let broken = three().with_extent(7200, vec![(3600, 5400)], Source::default());
        assert!(broken.covers(0, 3600) && broken.covers(5400, 7200));
        assert!(!broken.covers(0, 3601) && !broken.covers(5399, 7200) && !broken.covers(4000, 4001));
    }

    #[test]
    fn what_makes_no_series_is_refused() {
        let made = |times: &[i64], values: &[f64]| {
            Series::from_parts(Clock::Local, times.to_vec(), values.to_vec()).map(|_| ()).unwrap_err()
        };
        assert_eq!(made(&[], &[]), SeriesError::TooFew);
        assert_eq!(made(&[1], &[1.0]), SeriesError::TooFew);
        assert_eq!(made(&[1, 2], &[1.0]), SeriesError::Unequal { times: 2, values: 1 });
        assert_eq!(made(&[1, 1], &[1.0, 2.0]), SeriesError::NotRising(2));
        assert_eq!(made(&[1, 2], &[1.0, f64::NAN]), SeriesError::NotFinite(2));
        assert_eq!(
            three().with_values(vec![1.0]).map(|_| ()).unwrap_err(),
            SeriesError::Unequal { times: 3, values: 1 }
        );
    }

    proptest! {
        /// The straightforward scan is the definition; the cursor must agree in any order of asking.
        #[test]
        fn a_cursor_agrees_with_a_plain_scan(
            steps in prop::collection::vec((1i64..5000, -50.0f64..50.0), 2..40),
            asked in prop::collection::vec(-10_000_000_000i64..200_000_000_000, 1..60),
            start in -4000i64..4000,
        ) {
            let times: Vec<i64> = steps.iter().scan(0, |sum, step| { *sum += step.0; Some(*sum) }).collect();
            let values: Vec<f64> = steps.iter().map(|step| step.1).collect();
            let series = Series::from_parts(Clock::Local, times.clone(), values.clone()).unwrap();
            let mut cursor = series.cursor(start);
            for t in asked {
                let micros = start * MICROS + t;
                let last = times.iter().rposition(|&time| time * MICROS <= micros);
                let next = times.iter().find(|&&time| time * MICROS > micros);
                let moment = next.map_or(Time::NEVER, |&time| Time((time - start) * MICROS));
                prop_assert_eq!(cursor.held(Time(t)), (values[last.unwrap_or(0)], moment));
                prop_assert_eq!(cursor.between(Time(t)), series.between(Time(t), start));
            }
        }

        #[test]
        fn no_moment_panics(t in any::<i64>(), start in any::<i64>(), from in any::<i64>(), to in any::<i64>()) {
            let series = Series::from_parts(Clock::Local, vec![i64::MIN, 0, i64::MAX], vec![1.0, 2.0, 3.0]).unwrap();
            let value = series.between(Time(t), start).0;
            prop_assert!((1.0..=3.0).contains(&value));
            prop_assert!((1.0..=3.0).contains(&series.held(Time(t), start).0));
            let _ = series.covers(from, to);
        }
    }
}
