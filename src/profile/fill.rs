//! From readings to a series: what is bridged, what is a hole, where it ends.
//!
//! In: readings in order of time, some without a value. Out: a `Series` and a line of report for
//! all that was missing.
//!
//! The usual spacing is the most frequent difference between rows. A stretch between two values
//! that lacks a reading is bridged where it is at most 3 h or 4 usual spacings long, whichever is
//! greater: load by the value before it, weather by a straight line. A longer one is a hole, which
//! no night may touch. Calendar files only: rows of an `hours` file lie where their author put
//! them, so nothing but an empty cell is missing there. A load log whose usual spacing is not even
//! half of its differences was written on change: each of its values holds until the next, up to
//! four days.

use super::calendar::{DAY, HOUR, length, moment};
use super::series::Series;
use super::types::{Clock, Reading, Source};
use std::collections::BTreeMap;

/// The value of a series between two readings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Rule {
    /// Each value holds until the next reading.
    Held,
    /// Straight lines.
    Lines,
}

/// Too little for a series.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TooFew {
    /// No reading has a value.
    None,
    /// Only the reading of this number, from 0, has one.
    One(usize),
}

impl TooFew {
    /// Number of the reading to point at, from 0.
    pub fn row(self) -> usize {
        match self {
            TooFew::None => 0,
            TooFew::One(row) => row,
        }
    }
}

/// Bridged however short the spacing is [s].
const ALWAYS_BRIDGED: i64 = 3 * HOUR;
/// Bridged, in usual spacings.
const BRIDGED_SPACINGS: i64 = 4;
/// Holes that are listed one by one; the rest are summed up.
const LISTED_HOLES: usize = 10;

/// The series of the readings' value number `pick`.
///
/// # Errors
/// Fewer than two values.
pub(super) fn series(
    readings: &[Reading],
    pick: usize,
    rule: Rule,
    clock: Clock,
    mut source: Source,
) -> Result<Series, TooFew> {
    let spacing = Spacing::of(readings, rule, clock);
    let known = known(readings, pick);
    let [.., before, last] = known[..] else {
        return Err(known.first().map_or(TooFew::None, |one| TooFew::One(one.row)));
    };
    let holes: Vec<(i64, i64)> = spacing.stretches(&known).filter_map(|s| spacing.hole(&s)).collect();
    source.gaps.extend(report(readings, &known, &spacing));
    source.gaps.extend(report_holes(&holes, clock));

    let end = last.time + spacing.last_holds(&spacing.stretch(before, last));
    let (times, values) = known.iter().map(|k| (k.time, k.value)).unzip();
    let series = Series::from_parts(clock, times, values).map_err(|_| TooFew::None)?;
    Ok(series.with_extent(end, holes, source))
}

/// A reading that has a value.
#[derive(Clone, Copy)]
struct Known {
    /// Number of the reading, from 0.
    row: usize,
    time: i64,
    value: f64,
}

fn known(readings: &[Reading], pick: usize) -> Vec<Known> {
    let mut known = Vec::with_capacity(readings.len());
    let rows = readings.iter().enumerate();
    known.extend(rows.filter_map(|(row, r)| r.value(pick).map(|value| Known { row, time: r.time, value })));
    known
}

/// The time between two readings that have a value.
#[derive(Clone, Copy)]
struct Stretch {
    from: i64,
    to: i64,
    /// Readings that are missing in between.
    missing: i64,
}

/// The times between the readings of a series.
struct Spacing {
    rule: Rule,
    clock: Clock,
    /// Usual time between two readings [s].
    usual: i64,
    /// Whether a row that is not where the usual spacing puts it is missing.
    even: bool,
}

impl Spacing {
    fn of(readings: &[Reading], rule: Rule, clock: Clock) -> Spacing {
        let mut counts = BTreeMap::new();
        for pair in readings.windows(2) {
            *counts.entry(pair[1].time - pair[0].time).or_insert(0_usize) += 1;
        }
        // The shortest of equally frequent ones: it bridges least.
        let (usual, count) = counts.iter().rev().max_by_key(|entry| entry.1).map_or((DAY, 0), |(&d, &n)| (d, n));
        let by_change = rule == Rule::Held && count * 2 < readings.len().saturating_sub(1);
        let calendar = clock == Clock::Local;
        let usual = if calendar && by_change {
            DAY
        } else if calendar {
            usual.min(DAY)
        } else {
            usual
        };
        Spacing { rule, clock, usual, even: calendar && !by_change }
    }

    fn stretches<'a>(&'a self, known: &'a [Known]) -> impl Iterator<Item = Stretch> + 'a {
        known.windows(2).map(|pair| self.stretch(pair[0], pair[1]))
    }

    fn stretch(&self, a: Known, b: Known) -> Stretch {
        let blank = (b.row - a.row) as i64 - 1;
        let by_spacing = (b.time - a.time + self.usual / 2) / self.usual.max(1) - 1;
        let missing = if self.even { blank.max(by_spacing) } else { blank };
        Stretch { from: a.time, to: b.time, missing }
    }

    fn is_hole(&self, stretch: &Stretch) -> bool {
        let bridged = ALWAYS_BRIDGED.max(self.usual.saturating_mul(BRIDGED_SPACINGS));
        let judged = stretch.missing > 0 || self.clock == Clock::Local;
        judged && stretch.to - stretch.from > bridged
    }

    /// A value that is held is good for the usual spacing even where a hole follows.
    fn hole(&self, stretch: &Stretch) -> Option<(i64, i64)> {
        let from = match self.rule {
            Rule::Held => stretch.from + self.usual,
            Rule::Lines => stretch.from,
        };
        self.is_hole(stretch).then_some((from, stretch.to))
    }

    /// The last load holds as long as the gap before it, the last weather for the usual spacing,
    /// which in a file by hours is the gap before it too.
    fn last_holds(&self, last: &Stretch) -> i64 {
        let by_gap = self.rule == Rule::Held || self.clock == Clock::Elapsed;
        if by_gap && !self.is_hole(last) { last.to - last.from } else { self.usual }
    }
}

/// One line for all that was bridged, one for rows without a value at either end.
fn report(readings: &[Reading], known: &[Known], spacing: &Spacing) -> Vec<String> {
    let bridged = || spacing.stretches(known).filter(|s| s.missing > 0 && !spacing.is_hole(s));
    let missing: i64 = bridged().map(|s| s.missing).sum();
    let longest = bridged().map(|s| s.to - s.from).max().unwrap_or(0);
    let how = match spacing.rule {
        Rule::Held => "the value before",
        Rule::Lines => "straight lines",
    };
    let mut lines = Vec::new();
    if missing > 0 {
        let (noun, longest) = (plural(missing, "reading"), length(longest));
        lines.push(format!("{missing} missing {noun} bridged by {how} (at most {longest} from value to value)"));
    }
    if spacing.clock == Clock::Local && !spacing.even {
        lines.push("rows at uneven times: each value holds until the next, for four days at most".into());
    }
    let leading = known.first().map_or(0, |first| first.row);
    let trailing = known.last().map_or(0, |last| readings.len() - 1 - last.row);
    if leading + trailing > 0 {
        let ends = leading + trailing;
        lines.push(format!("{ends} {} without a value at the ends: not covered", plural(ends as i64, "row")));
    }
    lines
}

fn plural(count: i64, noun: &str) -> String {
    if count == 1 { noun.to_owned() } else { format!("{noun}s") }
}

fn report_holes(holes: &[(i64, i64)], clock: Clock) -> Vec<String> {
    let written = match clock {
        Clock::Local => moment,
        Clock::Elapsed => length,
    };
    let shown = holes.iter().take(LISTED_HOLES).map(|&(from, to)| {
        let (a, b, long) = (written(from), written(to), length(to - from));
        format!("a hole from {a} to {b} ({long}): nights that touch it are left out")
    });
    let mut lines: Vec<String> = shown.collect();
    let rest = holes.get(LISTED_HOLES..).unwrap_or_default();
    if !rest.is_empty() {
        let together = length(rest.iter().map(|hole| hole.1 - hole.0).sum());
        lines.push(format!("{} more holes, {together} together: left out likewise", rest.len()));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One row an entry: hours, and the value if there is one.
    fn rows(entries: &[(f64, Option<f64>)]) -> Vec<Reading> {
        let row = |&(hours, value): &(f64, Option<f64>)| Reading::new((hours * 3600.0) as i64, 0..0, [value, None]);
        entries.iter().map(row).collect()
    }

    fn made(entries: &[(f64, Option<f64>)], rule: Rule, clock: Clock) -> Series {
        series(&rows(entries), 0, rule, clock, Source::default()).unwrap()
    }

    /// Rows at these hours, each with its hour as value.
    fn at(hours: &[f64]) -> Vec<(f64, Option<f64>)> {
        hours.iter().map(|&h| (h, Some(h))).collect()
    }

    fn in_hours(series: &Series) -> (Vec<(f64, f64)>, f64) {
        let h = |s: i64| s as f64 / 3600.0;
        (series.holes().iter().map(|&(a, b)| (h(a), h(b))).collect(), h(series.end()))
    }

    #[test]
    fn four_hours_of_hourly_weather_are_bridged_and_five_are_a_hole() {
        let hours = [0.0, 1.0, 2.0, 6.0, 7.0, 8.0, 9.0, 14.0, 15.0];
        let lines = made(&at(&hours), Rule::Lines, Clock::Local);
        assert_eq!(in_hours(&lines), (vec![(9.0, 14.0)], 16.0));
        let held = made(&at(&hours), Rule::Held, Clock::Local);
        assert_eq!(in_hours(&held), (vec![(10.0, 14.0)], 16.0));
        assert_eq!(
            held.source().gaps,
            [
                "3 missing readings bridged by the value before (at most 4 h from value to value)",
                "a hole from 1970-01-01 10:00 to 1970-01-01 14:00 (4 h): nights that touch it are left out",
            ]
        );
    }

    #[test]
    fn three_hours_are_bridged_however_fine_the_readings() {
        let quarter = |k: i32| f64::from(k) * 0.25;
        let mut hours: Vec<f64> = (0..9).map(quarter).collect();
        hours.extend([5.0, 5.25, 8.5, 8.75]);
        let series = made(&at(&hours), Rule::Lines, Clock::Local);
        assert_eq!(in_hours(&series), (vec![(5.25, 8.5)], 9.0));
        assert_eq!(
            series.source().gaps[0],
            "11 missing readings bridged by straight lines (at most 3 h from value to value)"
        );
    }

    #[test]
    fn an_empty_cell_is_missing_on_any_clock() {
        let entries = [(0.0, Some(1.0)), (1.0, None), (2.0, Some(3.0)), (3.0, None)];
        for clock in [Clock::Elapsed, Clock::Local] {
            let series = made(&entries, Rule::Lines, clock);
            assert_eq!(series.times(), [0, 7200]);
            assert_eq!(
                series.source().gaps,
                [
                    "1 missing reading bridged by straight lines (at most 2 h from value to value)",
                    "1 row without a value at the ends: not covered",
                ]
            );
        }
        let long = [(0.0, Some(1.0)), (1.0, None), (2.0, None), (3.0, None), (4.0, None), (5.0, Some(2.0))];
        let series = made(&long, Rule::Held, Clock::Elapsed);
        assert_eq!(in_hours(&series), (vec![(1.0, 5.0)], 6.0));
        assert_eq!(series.source().gaps, ["a hole from 1 h to 5 h (4 h): nights that touch it are left out"]);
    }

    #[test]
    fn rows_by_hours_lie_where_their_author_put_them() {
        let series = made(&at(&[0.0, 1.0, 2.0, 14.0]), Rule::Held, Clock::Elapsed);
        assert_eq!(in_hours(&series), (vec![], 26.0));
        assert!(series.source().gaps.is_empty());
    }

    #[test]
    fn a_load_written_on_change_has_no_holes_within_four_days() {
        let series = made(&at(&[0.0, 1.0, 2.5, 14.0, 20.0, 120.0, 121.5]), Rule::Held, Clock::Local);
        assert_eq!(in_hours(&series), (vec![(44.0, 120.0)], 123.0));
        assert!(series.source().gaps[0].starts_with("rows at uneven times"));
    }

    #[test]
    fn the_last_load_holds_as_long_as_the_gap_before_unless_that_is_a_hole() {
        let end = |hours: &[f64], rule| in_hours(&made(&at(hours), rule, Clock::Local)).1;
        assert_eq!(end(&[0.0, 1.0, 2.0, 4.0], Rule::Held), 6.0);
        assert_eq!(end(&[0.0, 1.0, 2.0, 4.0], Rule::Lines), 5.0);
        assert_eq!(end(&[0.0, 1.0, 2.0, 20.0], Rule::Held), 21.0);
    }

    #[test]
    fn a_spacing_of_months_is_no_profile() {
        let series = made(&at(&[0.0, 720.0, 1440.0]), Rule::Lines, Clock::Local);
        assert_eq!(in_hours(&series), (vec![(0.0, 720.0), (720.0, 1440.0)], 1464.0));
    }

    #[test]
    fn less_than_two_values_are_too_few() {
        let refused = |entries: &[(f64, Option<f64>)]| {
            series(&rows(entries), 0, Rule::Held, Clock::Elapsed, Source::default()).map(|_| ()).unwrap_err()
        };
        assert_eq!(refused(&[]), TooFew::None);
        assert_eq!(refused(&[(0.0, None), (1.0, None)]), TooFew::None);
        assert_eq!(refused(&[(0.0, None), (1.0, Some(1.0))]), TooFew::One(1));
    }
}
