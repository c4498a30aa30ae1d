//! Whatever a text holds, pictures, pages and tables are well-formed and show nothing other than it is.

use super::*;
use bankwright::escape::{hidden_in, spreadsheet};
use proptest::prelude::*;

/// The samples with a text of a user's in every place of a name.
fn named(text: &str) -> (Results, Record) {
    let (mut results, mut record) = (sample::results(), sample_night::record(4, true));
    results.scenario = text.into();
    let elements = results.overload.conductors.iter_mut().chain(&mut results.overload.modules);
    elements.for_each(|e| e.id = format!("{text}{}", e.id));
    results.chains.iter_mut().for_each(|c| {
        c.over = text.into();
        c.out.push(text.into());
    });
    results.cascade.sequences.iter_mut().for_each(|s| s.losses.push(text.into()));
    results.warnings.push(text.into());
    record.modules.iter_mut().chain(&mut record.conductors).for_each(|id| id.push_str(text));
    record.events.iter_mut().for_each(|event| event.1 = text.into());
    (results, record)
}

fn is_clean(text: &str) -> bool {
    hidden_in(&text.replace(['\n', '\r', '\t'], "")).is_none()
}

fn holds(text: &str) {
    let (results, record) = named(text);
    for svg in figures(&results, &record) {
        assert!(is_clean(&svg), "{text:?}");
        roxmltree::Document::parse(&svg).unwrap_or_else(|e| panic!("{text:?}: {e}\n{svg}"));
    }
    let html = whole_page(&results, &record);
    markup::check(&html, text);
    assert!(is_clean(&html), "{text:?}");
    for (name, table) in table::all(&results).into_iter().chain([("night.csv", night::table::record_csv(&record))]) {
        assert!(is_clean(&table), "{name} of {text:?}");
        for row in csv::ReaderBuilder::new().has_headers(false).from_reader(table.as_bytes()).records() {
            for cell in &row.unwrap() {
                let formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
                assert!(!formula || cell.parse::<f64>().is_ok(), "{name}: {cell:?}");
            }
        }
    }
    let elements = table::elements(&results);
    let mut reader = csv::Reader::from_reader(elements.as_bytes());
    let first = reader.records().next().unwrap().unwrap();
    assert_eq!(first.get(0).unwrap(), spreadsheet(&results.overload.modules[0].id), "read back");
}

#[test]
fn names_that_are_formulas_markup_or_steer_are_shown_as_they_are() {
    for text in [
        "=HYPERLINK(\"http://x\")",
        "+A1",
        "-A1",
        "@x",
        "'",
        "\t=1",
        "<script>alert(1)</script>",
        "]]>&amp;\"'",
        "\u{1b}[2J",
        "a\u{202e}b\u{2066}",
        "\u{ffff}\u{fffe}",
        "\0\u{8}\u{b}",
        "#F10203=\"#F1",
        "\">\n</text>",
        "電池 آب می‌خواهم",
    ] {
        holds(text);
    }
    let negative = table::dropouts(&sample::results());
    assert!(!negative.contains('\''), "numbers stay numbers");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn every_medium_bears_every_text(text in any::<String>()) {
        holds(&text);
    }
}
