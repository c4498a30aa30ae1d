//! What is read from good files.

use super::*;
use bankwright::profile::Clock;
use bankwright::time::Time;
use proptest::prelude::*;

/// Counts and extremes by a separate script over the same files.
#[test]
fn two_years_of_a_real_station_are_one_local_series() {
    let air = station().air;
    assert_eq!(air.clock(), Clock::Local);
    assert_eq!(air.times().len(), 17_177);
    assert_eq!(air.first(), civil("2017-12-31T15:00"));
    assert_eq!(air.end(), civil("2019-12-31T15:00"));
    assert_eq!(air.values()[..2], [-22.8, -25.6]);
    assert_eq!(air.values().iter().copied().fold(f64::INFINITY, f64::min), -43.9);
    let hole = |from, to| (civil(from), civil(to));
    assert_eq!(
        air.holes(),
        [
            hole("2018-10-23T03:00", "2018-10-23T08:00"),
            hole("2019-09-27T22:00", "2019-09-28T07:00"),
            hole("2019-09-28T16:00", "2019-09-29T08:00"),
            hole("2019-09-29T16:00", "2019-09-30T07:00"),
            hole("2019-09-30T16:00", "2019-10-01T15:00"),
        ]
    );
    let gaps = &air.source().gaps;
    assert_eq!(gaps[0], "`cold_interior_2018.isd-lite.gz`: hours in UTC moved by -9 h to local time");
    assert_eq!(gaps[2], "280 missing readings bridged by straight lines (at most 3 h from value to value)");
    assert_eq!(gaps[3], "a hole from 2018-10-23 03:00 to 2018-10-23 08:00 (5 h): nights that touch it are left out");
    assert_eq!(gaps.len(), 8);
}

#[test]
fn the_order_of_files_does_not_matter_and_each_has_its_digest() {
    let back = weather(&[shipped("cold_interior_2019.isd-lite.gz"), shipped("cold_interior_2018.isd-lite.gz")], ALASKA);
    let (forth, back) = (station().air, back.unwrap().air);
    assert_eq!((forth.times(), forth.values()), (back.times(), back.values()));
    // `sha256sum`
    let digests = [
        "e06bd273f20ce4b338178798251fbe512f44e97a5228ded4d19ca4ca20f72da5",
        "8de819caf1d2b2fd964882282424167a2edbb6165f905838381a9b34919874ef",
    ];
    let found: Vec<&str> = forth.source().files.iter().map(|file| file.1.as_str()).collect();
    assert_eq!(found, digests);
}

#[test]
fn a_real_building_is_complete_and_scaled() {
    let load = building();
    assert_eq!(load.times().len(), 35_040);
    assert_eq!((load.first(), load.end()), (civil("2019-01-01T00:00"), civil("2020-01-01T00:00")));
    assert!(load.source().gaps.is_empty() && load.holes().is_empty());
    assert_eq!(load.held(Time::ZERO, load.first()), (1164.0, Time::from_whole_seconds(900)));
}

#[test]
fn a_load_holds_and_weather_runs_straight() {
    let rows: String = (0..16).map(|hour| format!("{hour},{}\n", hour * 3)).collect();
    let load = load_from(format!("hours,power\n{rows}"), None).unwrap();
    let air = air_from("air.csv", format!("hours,air\n{rows}"), None).unwrap().air;
    let half_past_two = Time::from_whole_seconds(9000);
    let three = Time::from_whole_seconds(10_800);
    assert_eq!(load.held(half_past_two, 0), (6.0, three));
    assert_eq!(air.between(half_past_two, 0), (7.5, three));
    for series in [load, air] {
        assert_eq!(series.clock(), Clock::Elapsed);
        assert!(series.covers(0, 16 * 3600) && !series.covers(0, 16 * 3600 + 1));
    }
}

#[test]
fn spelling_of_a_csv_may_vary() {
    let plain = load_from("hours,power\n0,100\n0.25,250.5\n", None).unwrap();
    let same = [
        "\u{feff}hours,power\r\n0,100\r\n0.25,250.5\r\n",
        "\n  hours , power\n\n0, 100\n0.25 ,2.505e2\n\n,,\n",
        "\"hours\",\"note, of mine\",\"power\"\n0,\"a \"\"b\"\", c\",\"100\"\n0.25,\"two\nlines\",250.5",
        "Hours,Power\n0,1e2\n.25,250.5\n",
    ];
    for text in same {
        let series = load_from(text, None).unwrap();
        assert_eq!((series.times(), series.values()), (plain.times(), plain.values()), "{text}");
    }
    assert_eq!(plain.times(), [0, 900]);
}

#[test]
fn stray_bytes_in_a_column_that_is_not_wanted_do_no_harm() {
    let series = load_from(b"hours,power,temp (\xb0C)\n0,1,5\n1,2,5\n", None).unwrap();
    assert_eq!(series.values(), [1.0, 2.0]);
}

#[test]
fn the_users_own_columns_are_hours_or_dates_by_their_first_row() {
    let folder = Folder::new();
    let path = folder.file("own.csv", "when,kW,at\n2019-01-01 00:00,1.5,0\n2019-01-01 01:00,-2,0.5\n");
    let read = |time: &str| {
        let columns = Columns { value: Some("kW".into()), time: Some(time.into()), scale: Some(1000.0) };
        read_load(&path, "own.csv", &columns, None).unwrap()
    };
    assert_eq!((read("when").clock(), read("when").first()), (Clock::Local, civil("2019-01-01T00:00")));
    assert_eq!((read("at").clock(), read("at").times()), (Clock::Elapsed, &[0, 1800][..]));
    assert_eq!(read("at").values(), [1500.0, -2000.0]);
}

#[test]
fn offsets_lead_to_local_time_through_a_change_of_clocks() {
    // Central Europe, 2019-10-27: the hour from 02:00 comes twice.
    let text = "time,power\n2019-10-27T01:30+02:00,1\n2019-10-27T02:30+02:00,2\n2019-10-27T02:30+01:00,3\n";
    let load = load_from(text, Some(3600)).unwrap();
    let first = civil("2019-10-27T00:30");
    assert_eq!(load.times(), [first, first + 3600, first + 7200]);
    let utc = load_from("time,power\n2018-01-01T00:00Z,1\n2018-01-01T01:00Z,2\n", ALASKA).unwrap();
    assert_eq!(utc.first(), civil("2017-12-31T15:00"));
}

#[test]
fn a_leap_day_is_a_day() {
    let hours = |day: &str| (0..24).map(|h| format!("{day} {h:02}:00,{h}\n")).collect::<String>();
    let text = format!("time,air\n{}{}{}", hours("2020-02-28"), hours("2020-02-29"), hours("2020-03-01"));
    let air = air_from("air.csv", text, None).unwrap().air;
    assert_eq!(air.end() - air.first(), 3 * 86_400);
    assert!(air.source().gaps.is_empty());
    let isd = "2020 02 29 23 -10 0 0 0 0 0 0 0\n2020 03 01 00 -20 0 0 0 0 0 0 0\n";
    assert_eq!(air_from("a", isd, Some(0)).unwrap().air.times()[1], civil("2020-03-01T00:00"));
}

#[test]
fn missing_hours_of_a_station_are_bridged_or_a_hole() {
    let hour = |day: i32, h: i32, tenths: i32| format!("2018 03 {day:02} {h:02} {tenths} -9999 0 0 0 0 0 0\n");
    let mut text: String = (0..5).map(|h| hour(2, h, -10 * h)).collect();
    text += &hour(2, 5, -9999);
    text += &hour(2, 6, -60);
    text += &hour(3, 13, 50);
    text += &hour(3, 14, 60);
    let air = air_from("station.isd-lite", text, Some(0)).unwrap().air;
    let start = air.first();
    assert_eq!(air.between(Time::from_whole_seconds(5 * 3600), start), (-5.0, Time::from_whole_seconds(6 * 3600)));
    assert_eq!(
        air.source().gaps[1..],
        [
            "1 missing reading bridged by straight lines (at most 2 h from value to value)",
            "a hole from 2018-03-02 06:00 to 2018-03-03 13:00 (31 h): nights that touch it are left out",
        ]
    );
    assert!(air.covers(start, civil("2018-03-02T06:00")) && !air.covers(start, civil("2018-03-02T06:01")));
    assert!(air.covers(civil("2018-03-03T13:00"), civil("2018-03-03T15:00")));
}

#[test]
fn gzip_is_known_by_its_bytes_and_changes_nothing_but_the_digest() {
    let text = "time,air\n2019-01-01 00:00,1\n2019-01-01 01:00,2\n";
    let plain = air_from("air.csv", text, None).unwrap().air;
    let zipped = air_from("air.csv", gzip(text.as_bytes()), None).unwrap().air;
    assert_eq!((plain.times(), plain.values()), (zipped.times(), zipped.values()));
    assert_ne!(plain.source().files, zipped.source().files);
}

#[test]
fn a_floor_has_its_own_column_and_its_own_gaps() {
    let folder = Folder::new();
    let path = folder.file("air.csv", "hours,air,slab\n0,-30,4\n1,-31,\n2,-32,2\n");
    let both = weather_with(std::slice::from_ref(&path), &Columns::default(), Some("slab"), None).unwrap();
    let floor = both.floor.unwrap();
    assert_eq!((both.air.values(), floor.values()), (&[-30.0, -31.0, -32.0][..], &[4.0, 2.0][..]));
    assert_eq!((both.air.source().gaps.len(), floor.source().gaps.len()), (0, 1));
    assert!(weather(&[path], None).unwrap().floor.is_none());
}

#[test]
fn rows_that_two_files_share_count_once_and_fill_each_other() {
    let folder = Folder::new();
    let a = folder.file("a.csv", "time,air\n2019-01-01 00:00,1\n2019-01-01 01:00,2\n2019-01-01 02:00,\n");
    let b = folder.file("b.csv", "time,air\n2019-01-01 01:00,2\n2019-01-01 02:00,3\n2019-01-01 03:00,4\n");
    let air = weather(&[b, a], None).unwrap().air;
    assert_eq!(air.values(), [1.0, 2.0, 3.0, 4.0]);
    assert!(air.source().gaps.is_empty());
}

const EPW_HEADER: &str = "LOCATION,Nowhere,-,-,invented,0,65.0,-150.0,-9.0,200.0\nDESIGN CONDITIONS,0\n\
    TYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\nHOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,\n\
    COMMENTS 2,\nDATA PERIODS,1,1,Data,Sunday,1/1,1/1\n";

fn epw(rows: &[(i32, i32, i32, i32, &str)]) -> String {
    let row = |(y, m, d, h, air): &(i32, i32, i32, i32, &str)| format!("{y},{m},{d},{h},0,?9,{air},-50.0,60,97000\n");
    EPW_HEADER.to_owned() + &rows.iter().map(row).collect::<String>()
}

#[test]
fn an_epw_reading_stands_at_the_end_of_its_hour_in_the_sites_time() {
    let text = epw(&[(2018, 12, 31, 23, "-40.5"), (2018, 12, 31, 24, "99.9"), (2019, 1, 1, 1, "-41.5")]);
    let air = air_from("a.epw", &text, None).unwrap().air;
    assert_eq!(air.times(), [civil("2018-12-31T23:00"), civil("2019-01-01T01:00")]);
    assert_eq!(air.values(), [-40.5, -41.5]);
    assert_eq!(air.source().gaps.len(), 1);
    assert_eq!(air_from("a", &text, ALASKA).unwrap().air.times(), air.times());
    let moved = air_from("a.epw", &text, Some(-10 * 3600)).unwrap().air;
    assert_eq!(moved.first(), civil("2018-12-31T22:00"));
    assert_eq!(moved.source().gaps[0], "`a.epw`: its standard time moved by -1 h");
}

/// A file that was cut off between two rows has whole rows; its header tells that some are missing.
#[test]
fn an_epw_that_ends_before_its_header_says_is_told() {
    let text = epw(&[(2018, 7, 28, 7, "10.5"), (2018, 7, 28, 8, "11.5")]);
    assert!(air_from("a.epw", &text, None).unwrap().air.source().gaps.is_empty());
    let text = text.replace("1/1,1/1", "1/1,12/31");
    assert_eq!(
        air_from("a.epw", &text, None).unwrap().air.source().gaps,
        ["`a.epw`: its header declares data to 12/31, its last row is of 7/28: is the file complete?"]
    );
}

#[test]
fn a_typical_year_is_put_on_one_year() {
    let back = [(1991, 2, 28, 23, "-1"), (1991, 2, 28, 24, "-2"), (1984, 3, 1, 1, "-3")];
    let forward = [(1984, 2, 28, 23, "-1"), (1984, 2, 28, 24, "-2"), (1991, 3, 1, 1, "-3")];
    for rows in [back, forward] {
        let air = air_from("a.epw", epw(&rows), None).unwrap().air;
        let first = civil("2001-02-28T23:00");
        assert_eq!(air.times(), [first, first + 3600, first + 7200]);
        assert_eq!(
            air.source().gaps,
            ["`a.epw` is a typical year of months of several years: its days are put on 2001"]
        );
    }
    let leap = [(1991, 2, 28, 24, "-1"), (1984, 2, 29, 1, "-2"), (1984, 2, 29, 2, "-2")];
    assert_eq!(air_from("a.epw", epw(&leap), None).unwrap().air.first(), civil("2004-02-29T00:00"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = load_from(&bytes, Some(0));
        let _ = air_from("a.csv", &bytes, Some(0));
    }

    /// Near misses: files made of the pieces that readers look for.
    #[test]
    fn no_near_miss_panics(
        head in prop::sample::select(vec!["hours,power,air\n", "time,power,air\n", EPW_HEADER, "", "2018 01 01 00 5"]),
        body in "([0-9]{1,4}|-9999|[-,: \"\n;TZé+.]|2019-01-0[1-9]|0[0-9]:00|99.9|nan|1e999|\r\n){0,60}",
        floor in any::<bool>(),
    ) {
        let text = format!("{head}{body}");
        let folder = Folder::new();
        let path = folder.file("a.csv", &text);
        let _ = load_from(&text, Some(0));
        let _ = weather_with(&[path], &Columns::default(), floor.then_some("power"), Some(-3600));
    }

    /// Whatever lies in a valid file comes out as it was written.
    #[test]
    fn values_come_out_as_written(values in prop::collection::vec(-90.0f64..60.0, 2..50)) {
        let rows: String = values.iter().enumerate().map(|(k, v)| format!("{k},{v}\n")).collect();
        let air = air_from("air.csv", format!("hours,air\n{rows}"), None).unwrap().air;
        prop_assert_eq!(air.values(), &values[..]);
    }
}
