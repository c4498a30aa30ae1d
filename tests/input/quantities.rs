//! Single values and keys that are at fault.

use super::{SMALL, and, faults, refused, with};
use bankwright::diagnostic::render;

#[test]
fn a_bare_number_is_refused_with_the_units() {
    let text = with(SMALL, "\"92 Ah\"", "92");
    refused(&text, "capacity", &["bare number 92", "Ah, mAh or kAh", "\"100 Ah\""]);
}

#[test]
fn wrong_and_missing_units_name_the_accepted() {
    let cases = [
        ("\"92 Ah\"", "\"92 A\"", "a unit of current", "Ah, mAh or kAh"),
        ("\"92 Ah\"", "\"92\"", "no unit", "Ah, mAh or kAh"),
        ("\"92 Ah\"", "\"92 ah\"", "did you mean `Ah`?", "Ah, mAh or kAh"),
        ("\"92 Ah\"", "\"nan Ah\"", "does not start with a number", "Ah"),
        ("\"92 Ah\"", "\"inf Ah\"", "does not start with a number", "Ah"),
        ("\"92 Ah\"", "\"9,2 Ah\"", "decimal comma", "decimal point"),
        ("\"92 Ah\"", "\"\"", "nothing in it", "100 Ah"),
        ("\"92 Ah\"", "true", "`capacity` is true", "Ah, mAh or kAh"),
        ("\"92 Ah\"", "nan", "bare number nan", "Ah, mAh or kAh"),
        ("\"92 Ah\"", "[\"92 Ah\"]", "`capacity` is a list", "Ah, mAh or kAh"),
        ("\"13 mΩ\"", "\"13 m\"", "a unit of length", "mΩ, Ω or µΩ"),
        ("\"13 mΩ\"", "\"1e999 mΩ\"", "beyond anything", "mΩ"),
        ("\"140 A\"", "\"140 Ah\"", "a unit of charge", "A, mA or kA"),
    ];
    for (piece, other, fault, due) in cases {
        refused(&with(SMALL, piece, other), other, &[fault, due]);
    }
}

#[test]
fn impossible_values_name_the_range_and_its_unit() {
    let cases = [
        ("\"92 Ah\"", "\"0 Ah\"", "at least 0.001 Ah"),
        ("\"92 Ah\"", "\"-92 Ah\"", "`capacity` is -92 Ah"),
        ("\"13 mΩ\"", "\"0 mΩ\"", "`resistance` is 0 mΩ"),
        ("\"13 mΩ\"", "\"-13 mΩ\"", "must be at least 1e-9 mΩ"),
        ("\"0.25 mΩ\"", "\"0 Ω\"", "must be at least 1e-9 mΩ"),
        ("\"0.25 mΩ\"", "\"-0.25 mΩ\"", "`resistance` is -0.25 mΩ"),
        ("\"140 A\"", "\"0 A\"", "must be more than 0 A"),
        ("cells = 16", "cells = 0", "from 1 to 64"),
        ("cells = 16", "cells = -16", "from 1 to 64"),
        ("cells = 16", "cells = 65", "from 1 to 64"),
        ("cells = 16", "cells = 16.5", "a bare whole number"),
        ("cells = 16", "cells = 99999999999999999999999999", "from 1 to 64"),
        ("count = 2", "count = 0", "from 1 to 64"),
        ("count = 2", "count = 1000000", "from 1 to 64"),
    ];
    for (piece, other, fragment) in cases {
        refused(&with(SMALL, piece, other), other, &[fragment]);
    }
}

#[test]
fn values_are_judged_though_an_override_makes_one_unused() {
    let all = "count = 2\nopen_circuit = [\"52.8 V\", \"52.8 V\"]";
    let text = with(SMALL, "count = 2", all);
    refused(&with(&text, "\"lfp\"", "\"-52.8 V\""), "-52.8 V", &["must be more than 0 V"]);
}

#[test]
fn every_unknown_key_is_reported_at_once_with_the_nearest() {
    let text = with(SMALL, "capacity =", "capasity =");
    let text = with(&text, "rating =", "ratting =");
    let text = with(&text, "positive = 2", "postive = 2");
    let text = and(&text, "[trails]\ncount = 5");
    let found = faults(&text);
    let shown = render(&found, false);
    for near in ["capacity", "rating", "positive", "trials"] {
        assert!(shown.contains(&format!("did you mean `{near}`?")), "{near}:\n{shown}");
    }
    // The misspelt keys, and the two that are thereby missing and required.
    assert_eq!(found.len(), 6, "{shown}");
    let lines: Vec<usize> = found.iter().map(|d| d.place().0).collect();
    assert!(lines.is_sorted(), "{lines:?}");
}

#[test]
fn a_key_like_none_lists_the_keys() {
    let text = and(SMALL, "[load]\npower = \"1 kW\"\nqqq = 1");
    refused(&text, "qqq", &["not a key of this section", "time_column"]);
}

#[test]
fn missing_keys_point_at_their_section() {
    let cases = [
        ("cells = 16\n", "[module.cellar]", "has no `cells`"),
        ("jumper = \"link\"\n", "[[stack]]", "has no `jumper`"),
        ("name = \"A\"\n", "[[stack]]", "[[stack]] 1 has no `name`"),
        ("format = 1\n", "title", "no `format`"),
        ("title = \"two modules\"\n", "format", "no `title`"),
    ];
    for (piece, at, fragment) in cases {
        refused(&with(SMALL, piece, ""), at, &[fragment]);
    }
    refused(&and(SMALL, "[trials]\ncount = 5"), "[trials]", &["no `horizon`"]);
}

#[test]
fn missing_sections_are_named() {
    let shown = render(&faults("format = 1\ntitle = \"nothing\"\n"), false);
    assert!(shown.contains("no [module.NAME]") && shown.contains("no [[stack]]"), "{shown}");
    assert!(shown.ends_with("2 errors\n"), "{shown}");
}

#[test]
fn another_format_is_refused_and_nothing_else_said() {
    for other in ["2", "\"1\"", "1.0", "true"] {
        let text = with(SMALL, "format = 1", &format!("format = {other}\nshape = 3"));
        refused(&text, "format", &["another format", "`format = 1`"]);
    }
}

#[test]
fn a_section_of_the_wrong_shape() {
    let load = with(SMALL, "title", "load = 5\ntitle");
    refused(&load, "load = 5", &["[load] is the bare number 5"]);
    refused(&with(SMALL, "[[stack]]", "[stack]"), "[stack]", &["[[stack]]"]);
    let flat = with(SMALL, "[module.cellar]", "[module.attic]\n[module]\nspare = 5\n[module.cellar]");
    let shown = render(&faults(&flat), false);
    assert!(shown.contains("[module.spare] is the bare number 5"), "{shown}");
}

#[test]
fn several_faults_are_reported_together_in_the_order_of_the_file() {
    let text = with(SMALL, "cells = 16", "cells = 0");
    let text = with(&text, "\"92 Ah\"", "92");
    let text = with(&text, "\"140 A\"", "\"140 V\"");
    let text = with(&text, "positive = 2", "positive = 9");
    let text = and(&text, "[targets]\nride_trough = \"5 h\"");
    let found = faults(&text);
    let lines: Vec<usize> = found.iter().map(|d| d.place().0).collect();
    assert_eq!(lines, [5, 6, 12, 19, 22], "{}", render(&found, false));
    assert!(render(&found, false).ends_with("5 errors\n"));
}
