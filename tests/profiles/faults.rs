//! What is refused, and where the caret stands.

use super::*;

#[test]
fn files_that_cannot_be_read_at_all() {
    let missing = read_load(Path::new("/nowhere/a.csv"), "a.csv", &Columns::default(), None);
    assert!(unreadable(missing).starts_with("cannot read `a.csv`: "));
    let folder = Folder::new();
    let itself = read_load(folder.0.path(), "data", &Columns::default(), None);
    assert!(unreadable(itself).starts_with("cannot read `data`: "));
    assert_eq!(unreadable(load_from("", None)), "`load.csv` is empty");
    assert_eq!(unreadable(load_from([b'a', 0, 1, 2], None)), "`load.csv` is not a text file");
    assert!(
        unreadable(air_from("a.gz", &gzip(b"hours,air\n0,1\n1,2\n")[..15], None)).starts_with("cannot unpack `a.gz`")
    );
    assert_eq!(unreadable(weather(&[], None)), "0 weather files are named; 1 to 100 are read");
}

#[test]
fn cells_that_are_no_number() {
    let text = "hours,power\n0,12x\n1,nan\n2,inf\n3, 1e999 \n4,5e9\n5,\"1,5\"\n6,7\n7,8\n";
    assert_eq!(
        places(load_from(text, None)),
        [
            "2: [12x] `12x` in column `power` is not a number",
            "3: [nan] `nan` in column `power` is not a number",
            "4: [inf] `inf` in column `power` is not a number",
            "5: [1e999] `1e999` in column `power` is not a number",
            "6: [5e9] power of 5000000000 W is not possible",
            "7: [\"1,5\"] `1,5` in column `power` is not a number",
        ]
    );
    let first = &faults(load_from(text, None))[0];
    assert_eq!(first.label, "expected power in W");
    assert_eq!(first.source.name, "load.csv");
}

#[test]
fn carets_stand_right_behind_letters_of_several_bytes() {
    let text = "\u{feff}note,hours,power\r\nkalte Nächte,0,zwölf\r\nx,1,2\r\n";
    assert_eq!(places(load_from(text, None)), ["2: [zwölf] `zwölf` in column `power` is not a number"]);
}

#[test]
fn times_that_are_none() {
    let text = "time,power\n2019-02-29 00:00,1\n01/02/2019 13:00,1\n2019-03-01 25:00,1\n0.5,1\n,1\n";
    let list = faults(load_from(text, Some(0)));
    assert_eq!(
        list.iter().map(place).collect::<Vec<_>>(),
        [
            "2: [2019-02-29 00:00] `2019-02-29 00:00` is not a time",
            "3: [01/02/2019 13:00] `01/02/2019 13:00` is not a time",
            "4: [2019-03-01 25:00] `2019-03-01 25:00` is not a time",
            "5: [0.5] `0.5` is not a time",
            "6: [] a row without a time",
        ]
    );
    assert_eq!(list[0].label, "there is no such day from 1900 to 2100");
    assert_eq!(list[1].label, "expected a time such as 2019-01-31 17:00");
    assert_eq!(list[3].help.as_deref(), Some("for bare hours, name the column `hours`"));
    let hours = "hours,power\n-1,1\n2019-01-01 00:00,1\n2e6,1\nnan,1\n";
    assert_eq!(faults(load_from(hours, None)).len(), 4);
}

#[test]
fn times_with_and_without_an_offset() {
    let text = "time,power\n2019-03-01 00:00,1\n2019-03-01 01:00Z,1\n";
    let message = "`2019-03-01 01:00Z` has an offset from UTC, and the first time has none";
    assert_eq!(places(load_from(text, Some(0))), [format!("3: [2019-03-01 01:00Z] {message}")]);
}

#[test]
fn times_that_repeat_or_go_back() {
    let text = "hours,power\n0,1\n1,1\n1,2\n0.5,3\n2,4\n";
    assert_eq!(places(load_from(text, None)), ["4: [1] this time repeats the row before", "5: [0.5] time goes back",]);
    let isd = "2018 01 01 05 0 0 0 0 0 0 0 0\n2018 01 01 04 0 0 0 0 0 0 0 0\n";
    assert_eq!(places(air_from("a", isd, Some(0))), ["2: [2018 01 01 04] time goes back"]);
}

#[test]
fn utc_needs_the_sites_offset() {
    let text = "time,power\n2019-01-01T00:00Z,1\n2019-01-01T01:00Z,1\n";
    let message = "`2019-01-01T00:00Z` has an offset from UTC, and the site's own is not given";
    assert_eq!(places(load_from(text, None)), [format!("2: [2019-01-01T00:00Z] {message}")]);
    let isd = weather(&[shipped("cold_interior_2018.isd-lite.gz")], None);
    let list = faults(isd);
    assert_eq!(list.len(), 1);
    assert_eq!(list[0].message, "`cold_interior_2018.isd-lite.gz` is an ISD-Lite file, whose hours are in UTC");
    assert!(list[0].help.as_ref().unwrap().contains("utc_offset"));
}

#[test]
fn headers_that_lack_a_column() {
    let none = faults(load_from("minutes,watts\n0,1\n1,2\n", None));
    assert_eq!(
        none.iter().map(place).collect::<Vec<_>>(),
        [
            "1: [minutes,watts] no column `time` or `hours` in the header",
            "1: [minutes,watts] no column `power` in the header",
        ]
    );
    assert!(none[0].help.as_ref().unwrap().ends_with("this one has: minutes, watts"));
    assert_eq!(places(load_from("hours,power,power\n0,1,2\n", None)), ["1: [power] two columns are named `power`"]);
    assert_eq!(places(load_from("hours;power\n0;1\n", None)), ["1: [hours;power] no comma in the header"]);
    assert_eq!(places(load_from("hours\tpower\n0\t1\n", None)), ["1: [hours\tpower] no comma in the header"]);
    assert_eq!(places(load_from("hours,power\n", None)), ["1: [hours,power] a header and no rows"]);
}

#[test]
fn rows_of_another_width() {
    let text = "hours,power\n0,1\n1\n2,1,5\n3,1,,\n4,1\n";
    assert_eq!(
        places(load_from(text, None)),
        ["3: [1] the header has 2 cells, this row 1", "4: [2,1,5] the header has 2 cells, this row 3",]
    );
    let open = "hours,power,note\n0,1,\"so\n1,2,b\n";
    assert_eq!(places(load_from(open, None)), ["2: [\"] this quote is not closed"]);
}

#[test]
fn too_few_values() {
    let one = "only one row has a value, which cannot say how long it lasts";
    assert_eq!(places(load_from("hours,power\n0,5\n", None)), [format!("2: [0] {one}")]);
    assert_eq!(places(load_from("hours,power\n0,\n1,5\n", None)), [format!("3: [1] {one}")]);
    assert_eq!(places(load_from("hours,power\n0,\n1,\n", None)), ["2: [0] no row has a value"]);
    let isd = "2018 01 01 00 -9999 0 0 0 0 0 0 0\n2018 01 01 01 -9999 0 0 0 0 0 0 0\n";
    assert_eq!(places(air_from("a", isd, Some(0))), ["1: [2018 01 01 00] no row has a value"]);
}

#[test]
fn rows_of_a_station_that_are_none() {
    let text = "2018 01 01 00 -228 0 0 0 0 0 0 0\n2018 01 01 24 -228 0 0 0 0 0 0 0\n2018 02 30 01 -228 0 0 0 0 0 0 0\n\
                2018 03 01 02 -2\n2018 03 01 03 2731 0 0 0 0 0 0 0\n2018 03 01 04 x 0 0 0 0 0 0 0\n";
    assert_eq!(
        places(air_from("a", text, Some(0))),
        [
            "2: [2018 01 01 24] there is no hour 2018-01-01 24:00",
            "3: [2018 02 30 01] there is no hour 2018-02-30 01:00",
            "4: [2018 03 01 02 -2] not a row of an ISD-Lite file",
            "5: [2731] air temperature of 273.1 °C is not possible",
            "6: [2018 03 01 04 x 0 0 0 0 0 0 0] not a row of an ISD-Lite file",
        ]
    );
}

#[test]
fn rows_of_an_epw_that_are_none() {
    let header = |zone: &str| format!("LOCATION,a,b,c,d,0,65,-150,{zone},0\n2\n3\n4\n5\n6\n7\n8\n");
    let rows = "2018,1,1,1,0,?9,-5\n2018,1,1,25,0,?9,-5\n2018,1,1,3,0,?9\n2018,1,1,4,0,?9,281\n";
    assert_eq!(
        places(air_from("a.epw", header("-9") + rows, None)),
        [
            "10: [2018,1,1,25,0,?9,-5] not a row of an EPW file",
            "11: [2018,1,1,3,0,?9] not a row of an EPW file",
            "12: [281] air temperature of 281 °C is not possible",
        ]
    );
    let day = "2019,2,28,24,0,?9,-5\n2019,2,29,1,0,?9,-5\n";
    assert_eq!(places(air_from("a.epw", header("-9") + day, None)), ["10: [2019,2,29,1,0] there is no day 2019-02-29"]);
    assert_eq!(places(air_from("a.epw", header("x") + rows, None))[0], "1: [x] the header gives no time zone");
    let message = "a header and no rows";
    assert!(places(air_from("a.epw", header("-9"), None))[0].ends_with(message));
}

#[test]
fn an_epw_that_was_cut_off_is_refused_wherever_it_was_cut() {
    let header = "LOCATION,a,b,c,d,0,65,-150,-9,0\n2\n3\n4\n5\n6\n7\n8\n";
    let row = |hour: i32| format!("2018,1,1,{hour},0,?9,-22.8,-25.6,80,97000,0,0\n");
    let whole = header.to_owned() + &(1..=4).map(row).collect::<String>();
    assert!(air_from("a.epw", &whole, None).is_ok());
    let (before, last) = whole.trim_end().rsplit_once('\n').unwrap();
    // In the last field nothing shows that it is shorter than it was.
    let last_field = last.rfind(',').unwrap() + 1;
    for length in 1..last_field {
        let cut = format!("{before}\n{}", &last[..length]);
        let list = faults(air_from("a.epw", &cut, None));
        assert_eq!((list.len(), list[0].place().0), (1, 12), "{cut}");
        assert_eq!(list[0].help.as_deref(), Some("is the file complete?"), "{cut}");
    }
}

#[test]
fn more_rows_than_a_profile_may_have_are_not_read() {
    let rows: String = (0..4_000_001).map(|k| format!("{}:{:02},1\n", k / 60, k % 60)).collect();
    let list = faults(load_from("hours,power\n".to_owned() + &rows.replace(':', "."), None));
    assert!(list.last().unwrap().message.contains("4 000 000 rows"), "{list:?}");
}

#[test]
fn files_that_do_not_go_together() {
    let folder = Folder::new();
    let a = folder.file("a.csv", "time,air\n2019-01-01 00:00,1\n2019-01-01 01:00,2\n");
    let b = folder.file("b.csv", "time,air\n2019-01-01 01:00,2.5\n2019-01-01 02:00,2\n");
    let hours = folder.file("h.csv", "hours,air\n0,1\n1,2\n");
    let isd = folder.file("s", "2018 01 01 00 -228 0 0 0 0 0 0 0\n2018 01 01 01 -228 0 0 0 0 0 0 0\n");
    assert_eq!(
        places(weather(&[a.clone(), b], None)),
        ["2: [2019-01-01 01:00] another value at this time than in `a.csv`",]
    );
    assert_eq!(
        places(weather(&[a.clone(), hours], None)),
        ["2: [0] one of `a.csv` and `h.csv` is by hours and the other by dates",]
    );
    let floor = weather_with(&[isd], &Columns::default(), Some("slab"), Some(0));
    assert_eq!(faults(floor)[0].message, "`s` is no CSV and has no column `slab`");
    let none = weather_with(&[a], &Columns::default(), Some("slab"), None);
    assert_eq!(places(none), ["1: [time,air] no column `slab` in the header"]);
}

#[test]
fn faults_of_all_files_are_told_at_once_and_many_are_counted() {
    let folder = Folder::new();
    let a = folder.file("a.csv", "hours,air\n0,x\n1,2\n");
    let many: String = (0..30).map(|k| format!("{k},?\n")).collect();
    let b = folder.file("b.csv", format!("hours,air\n{many}"));
    let list = places(weather(&[a, b], None));
    assert_eq!(list.len(), 1 + 21);
    assert_eq!(list[21], "22: [?] 10 more faults in `b.csv`");
}
