//! Which nights the profiles cover.

use super::*;
use bankwright::profile::night::{NoNights, Wanted, list};
use bankwright::profile::{Clock, Night};
use bankwright::time::Time;

const WINTER: Option<((i8, i8), (i8, i8))> = Some(((11, 1), (3, 31)));
const FIVE: Option<i64> = Some(17 * 3600);

fn hours(count: i64) -> Time {
    Time::from_whole_seconds(count * 3600)
}

fn wanted<'a>(load: Option<&'a Series>, air: Option<&'a Series>) -> Wanted<'a> {
    Wanted { load, air, floor: None, start: FIVE, horizon: hours(16), season: None }
}

/// Hourly from one civil time to another, all of them zero.
fn hourly(from: &str, to: &str) -> Series {
    let times: Vec<i64> = (civil(from)..civil(to)).step_by(3600).collect();
    let values = vec![0.0; times.len()];
    Series::from_parts(Clock::Local, times, values).unwrap()
}

fn elapsed(rows: i64) -> Series {
    let times = (0..rows).map(|k| k * 3600).collect();
    Series::from_parts(Clock::Elapsed, times, vec![0.0; rows as usize]).unwrap()
}

fn dates(nights: &[Night]) -> Vec<&str> {
    nights.iter().map(|night| night.date.as_str()).collect()
}

/// Without `start`.
fn at_once(load: Option<&Series>, air: Option<&Series>) -> Result<Vec<Night>, NoNights> {
    list(&Wanted { start: None, ..wanted(load, air) })
}

fn message(wanted: &Wanted) -> String {
    list(wanted).unwrap_err().to_string()
}

/// Numbers of nights by a separate script over the same files.
#[test]
fn two_real_winters_with_one_year_of_load() {
    let (air, load) = (station().air, building());
    let nights = list(&Wanted { season: WINTER, ..wanted(Some(&load), Some(&air)) }).unwrap();
    assert_eq!(nights.len(), 300);
    let counted = |year| nights.iter().filter(|night| night.year == year).count();
    assert_eq!(["2017/18", "2018/19", "2019/20"].map(counted), [90, 150, 60]);
    let first = Night {
        air_start: civil("2018-01-01T17:00"),
        load_start: civil("2019-01-01T17:00"),
        date: "2018-01-01".into(),
        year: "2017/18".into(),
    };
    assert_eq!(nights.first(), Some(&first));
    assert_eq!(nights.last().map(|night| night.load_start), Some(civil("2019-12-30T17:00")));
    assert!(nights.is_sorted_by_key(|night| (night.air_start, night.load_start)));
    let all = list(&wanted(Some(&load), Some(&air))).unwrap();
    assert_eq!((all.len(), all[0].year.as_str()), (723, "2018"));
}

#[test]
fn a_night_must_be_covered_to_its_last_second() {
    let air = hourly("2019-01-01T17:00", "2019-01-03T09:00");
    assert_eq!(dates(&list(&wanted(None, Some(&air))).unwrap()), ["2019-01-01", "2019-01-02"]);
    let longer = Wanted { horizon: Time(hours(16).0 + 1), ..wanted(None, Some(&air)) };
    assert_eq!(dates(&list(&longer).unwrap()), ["2019-01-01"]);
    let earlier = Wanted { start: Some(17 * 3600 - 1), ..wanted(None, Some(&air)) };
    assert_eq!(dates(&list(&earlier).unwrap()), ["2019-01-02"]);
}

#[test]
fn a_night_that_touches_a_hole_is_left_out() {
    let row = |day: i32, h: i32| format!("2018 03 {day:02} {h:02} 0 0 0 0 0 0 0 0\n");
    let broken = |day, h| !(day == 3 && (2..9).contains(&h));
    let rows: String = (1..6)
        .flat_map(|day| (0..24).map(move |h| (day, h)))
        .filter(|&(d, h)| broken(d, h))
        .map(|(d, h)| row(d, h))
        .collect();
    let air = air_from("a", rows, Some(0)).unwrap().air;
    assert_eq!(dates(&list(&wanted(None, Some(&air))).unwrap()), ["2018-03-01", "2018-03-03", "2018-03-04"]);
}

#[test]
fn each_year_of_the_load_is_a_night_of_its_own_where_dates_differ() {
    let air = hourly("2020-02-28T00:00", "2020-03-02T00:00");
    let load = hourly("2017-01-01T00:00", "2019-12-31T00:00");
    let nights = list(&wanted(Some(&load), Some(&air))).unwrap();
    let starts: Vec<(&str, i64)> = nights.iter().map(|night| (night.date.as_str(), night.load_start)).collect();
    assert_eq!(
        starts,
        [
            ("2020-02-28", civil("2017-02-28T17:00")),
            ("2020-02-28", civil("2018-02-28T17:00")),
            ("2020-02-28", civil("2019-02-28T17:00")),
            ("2020-02-29", civil("2017-02-28T17:00")),
            ("2020-02-29", civil("2018-02-28T17:00")),
            ("2020-02-29", civil("2019-02-28T17:00")),
        ]
    );
    let both = hourly("2019-01-01T00:00", "2021-01-01T00:00");
    let nights = list(&wanted(Some(&both), Some(&air))).unwrap();
    assert!(nights.iter().all(|night| night.air_start == night.load_start));
    assert_eq!(nights.len(), 2);
}

#[test]
fn a_season_may_wrap_the_new_year_and_ends_with_its_last_day() {
    let air = hourly("2018-10-30T00:00", "2019-04-03T00:00");
    let nights = list(&Wanted { season: WINTER, ..wanted(None, Some(&air)) }).unwrap();
    assert_eq!((nights[0].date.as_str(), nights.len()), ("2018-11-01", 30 + 31 + 31 + 28 + 31));
    assert_eq!(nights.last().unwrap().date, "2019-03-31");
    assert!(nights.iter().all(|night| night.year == "2018/19"));
    let february = Wanted { season: Some(((2, 1), (2, 28))), ..wanted(None, Some(&air)) };
    let nights = list(&february).unwrap();
    assert_eq!((nights.len(), nights[0].year.as_str()), (28, "2019"));
}

#[test]
fn a_load_calendar_alone_gives_the_days() {
    let load = hourly("2019-01-01T00:00", "2019-01-04T00:00");
    let air = elapsed(16);
    let nights = list(&wanted(Some(&load), Some(&air))).unwrap();
    assert_eq!(dates(&nights), ["2019-01-01", "2019-01-02"]);
    assert!(nights.iter().all(|night| night.air_start == 0 && night.load_start > 0));
}

#[test]
fn the_floor_counts_as_the_air_does() {
    let air = hourly("2019-01-01T00:00", "2019-01-04T00:00");
    let floor = hourly("2019-01-02T00:00", "2019-01-04T00:00");
    let nights = list(&Wanted { floor: Some(&floor), ..wanted(None, Some(&air)) }).unwrap();
    assert_eq!(dates(&nights), ["2019-01-02"]);
}

#[test]
fn without_start_there_is_one_night_from_where_the_profile_starts() {
    let day = elapsed(16);
    let nowhere = Night { air_start: 0, load_start: 0, date: String::new(), year: String::new() };
    for load in [None, Some(&day)] {
        assert_eq!(at_once(load, None).unwrap(), std::slice::from_ref(&nowhere));
    }
    let air = hourly("2018-12-31T18:00", "2019-01-03T00:00");
    let load = hourly("2019-01-01T06:00", "2019-01-03T00:00");
    let first = civil("2019-01-01T06:00");
    let night = at_once(Some(&load), Some(&air)).unwrap();
    assert_eq!((night[0].air_start, night[0].load_start, night[0].date.as_str()), (first, first, "2019-01-01"));
    let night = at_once(Some(&day), Some(&air)).unwrap();
    assert_eq!((night[0].air_start, night[0].load_start, night.len()), (air.first(), 0, 1));
}

#[test]
fn why_there_is_no_night() {
    let (short, air) = (elapsed(4), hourly("2019-06-01T00:00", "2019-07-01T00:00"));
    let load = hourly("2018-01-01T00:00", "2018-02-01T00:00");
    assert_eq!(message(&wanted(Some(&short), Some(&air))), "the load profile covers 4 h, the horizon is 16 h");
    assert_eq!(message(&wanted(Some(&short), None)), "the load profile covers 4 h, the horizon is 16 h");
    let season = Wanted { start: None, season: WINTER, ..wanted(None, None) };
    assert_eq!(message(&season), "`season` needs a profile with dates, and none has a `time` column");
    let winter = Wanted { season: WINTER, ..wanted(Some(&load), Some(&air)) };
    assert_eq!(message(&winter), "no night of 16 h from 17:00 between 11-01 and 03-31 is covered by both profiles");
    assert_eq!(
        list(&winter).unwrap_err().help(),
        "the load profile covers 2018-01-01 00:00 to 2018-02-01 00:00; \
         the air profile covers 2019-06-01 00:00 to 2019-07-01 00:00"
    );
    let once = Wanted { start: None, ..wanted(Some(&load), Some(&air)) };
    assert_eq!(
        message(&once),
        "the night of 16 h from 2019-06-01 00:00, where the profile starts, is not covered by both profiles"
    );
    let summer = Wanted { start: None, season: WINTER, ..wanted(None, Some(&air)) };
    assert_eq!(list(&summer).unwrap_err(), NoNights::OutOfSeason("2019-06-01".into()));
}
