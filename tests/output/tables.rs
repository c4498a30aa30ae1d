//! CSV, and its description.

use super::*;

#[test]
fn every_table_has_rows_as_wide_as_its_header() {
    for (name, results, record) in cases() {
        let mut all = table::all(&results);
        all.push(("night.csv", night::table::record_csv(&record)));
        for (file, text) in all {
            assert!(!text.contains("NaN") && !text.contains("inf"), "{name} {file}");
            let mut reader = csv::Reader::from_reader(text.as_bytes());
            for row in reader.records() {
                row.unwrap_or_else(|e| panic!("{name} {file}: {e}"));
            }
        }
    }
}

#[test]
fn devices_and_temperatures_read_back() {
    let results = sample::results();
    let of = |text: &str, id: &str| -> Vec<String> {
        text.lines().find(|l| l.starts_with(id)).unwrap().split(',').map(String::from).collect()
    };
    let text = table::devices(&results);
    let named = |id: &str, column: &str| {
        let k = text.lines().next().unwrap().split(',').position(|c| c == column).unwrap();
        of(&text, id)[k].clone()
    };
    assert_eq!(named("main.breaker,", "breaking_capacity_a"), "6000");
    assert_eq!(named("main.breaker,", "prospective_a"), "9123.4");
    assert_eq!(named("main.breaker,", "breaks"), "false");
    assert_eq!(named("main.breaker,", "highest_v"), "54.32");
    assert_eq!(named("A.lead1+.fuse,", "opens_after_s"), "0.0042");
    assert_eq!(named("A.lead1+.fuse,", "nights"), "17");
    assert_eq!(named("A1.fuse,", "conductor_stands_s"), "", "not known");
    let lead = of(&table::temperatures(&results), "A.lead1+,");
    assert_eq!(
        (&lead[1..4], &lead[6..]),
        (&["75", "78.64", "0.0031"].map(String::from)[..], &["31", "0.4"].map(String::from)[..])
    );
    let none = sample::nothing_seen();
    assert_eq!(table::devices(&none).lines().count(), 1, "the header alone");
    assert_eq!(table::temperatures(&none).lines().count(), 1, "the header alone");
}

#[test]
fn a_night_has_a_temperature_of_each_conductor_with_insulation_data_and_of_no_other() {
    let text = night::table::record_csv(&sample_night::record(4, true));
    let header: Vec<&str> = text.lines().next().unwrap().split(',').collect();
    let warm: Vec<&&str> = header.iter().filter(|c| c.contains('.') && c.ends_with("_degc")).collect();
    assert_eq!(warm, [&"A.lead1+_degc", &"A.lead1-_degc", &"B.lead1+_degc", &"B.lead1-_degc"]);
    let first: Vec<&str> = text.lines().nth(1).unwrap().split(',').collect();
    let cell = |column: &str| first[header.iter().position(|c| *c == column).unwrap()].parse::<f64>().unwrap();
    assert!((cell("A.lead1+_degc") - (20.0 + cell("bus_a") / 8.0)).abs() < 1e-12);
}

/// Every column that a table has is told of, and no other.
#[test]
fn the_columns_are_those_that_are_described() {
    let described = include_str!("../../output/README.md");
    let columns_of = |file: &str| -> Vec<String> {
        let mark = format!("\n### `{file}`\n");
        let section = described.split(&mark).nth(1).unwrap_or_else(|| panic!("{file} is not described"));
        let rows = section.split("\n#").next().unwrap().lines().filter_map(|l| l.strip_prefix("| `"));
        rows.map(|l| l.split("` |").next().unwrap().to_string()).collect()
    };
    for (file, text) in table::all(&sample::results()) {
        assert_eq!(columns_of(file), text.lines().next().unwrap().split(',').collect::<Vec<_>>(), "{file}");
    }
    let text = night::table::record_csv(&sample_night::record(1, false));
    let night = text.lines().next().unwrap().split(',').map(|c| match c.split_once('_') {
        Some(("A1", quantity)) => format!("<module>_{quantity}"),
        Some((id, quantity)) if id.contains('.') => format!("<conductor>_{quantity}"),
        _ => c.to_string(),
    });
    let mut night: Vec<String> = night.collect();
    night.dedup();
    assert_eq!(columns_of("night.csv"), night);
}

#[test]
fn numbers_read_back_the_same() {
    let results = sample::results();
    let text = table::elements(&results);
    let lead = text.lines().find(|l| l.starts_with("A.lead1+,")).unwrap();
    let cells: Vec<_> = lead.split(',').collect();
    assert_eq!(cells[4].parse::<f64>().unwrap(), results.overload.conductors[0].estimate);
    assert_eq!(cells[2], "160");
}

#[test]
fn a_name_with_a_comma_or_quote_is_quoted() {
    let mut results = sample::results();
    results.overload.modules[0].id = "A,\"1".into();
    assert!(table::elements(&results).contains("\r\n\"A,\"\"1\",module,"));
}

#[test]
fn survivors_are_what_has_not_ended() {
    let text = table::ride_through(&sample::all_ended());
    assert!(text.trim_end().ends_with(",0"), "{text}");
}
