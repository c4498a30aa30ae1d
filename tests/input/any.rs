//! Whatever the text, there is an answer.

use super::{WHOLE, judge};
use bankwright::diagnostic::{Severity, render};
use proptest::prelude::*;

/// The text with some of its characters replaced, removed or doubled, or its end cut off.
fn mutated(text: &str, edits: &[(usize, u8, char)]) -> String {
    let mut chars: Vec<char> = text.chars().collect();
    for (place, what, c) in edits {
        let at = place % chars.len().max(1);
        match what % 4 {
            0 if at < chars.len() => chars[at] = *c,
            1 if at < chars.len() => drop(chars.remove(at)),
            2 => chars.insert(at, *c),
            _ => chars.truncate(chars.len().saturating_sub(place % 40)),
        }
    }
    chars.into_iter().collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn no_mutation_of_a_scenario_makes_it_panic(
        edits in prop::collection::vec((any::<usize>(), any::<u8>(), any::<char>()), 1..6)
    ) {
        if let Err(found) = judge(&mutated(WHOLE, &edits)) {
            prop_assert!(found.iter().any(|d| d.severity == Severity::Error));
            prop_assert!(!render(&found, false).is_empty());
        }
    }

    #[test]
    fn no_exchange_of_values_makes_it_panic(a in 0usize..400, b in 0usize..400) {
        // Every value in every place: right in form, wrong in kind.
        let mut lines: Vec<String> = WHOLE.lines().map(str::to_owned).collect();
        let value = |line: &String| line.split_once(" = ").map(|(_, v)| v.to_owned());
        let values: Vec<String> = lines.iter().filter_map(value).collect();
        let at = a % lines.len();
        if let Some((key, _)) = lines[at].clone().split_once(" = ") {
            lines[at] = format!("{key} = {}", values[b % values.len()]);
        }
        if let Err(found) = judge(&lines.join("\n")) {
            prop_assert!(found.iter().any(|d| d.severity == Severity::Error));
        }
    }

    #[test]
    fn no_text_at_all_makes_it_panic(text in any::<String>()) {
        prop_assert!(judge(&text).is_err());
    }
}

#[test]
fn nesting_without_end_is_a_fault_and_no_crash() {
    let deep = 100_000;
    let lists = format!("format = {}{}", "[".repeat(deep), "]".repeat(deep));
    let tables = format!("format = {}1{}", "{ a = ".repeat(deep), " }".repeat(deep));
    let dots = format!("format{} = 1", ".a".repeat(deep));
    let header = format!("[module{}]", ".a".repeat(deep));
    for text in [lists, tables, dots, header] {
        let found = judge(&text).expect_err("a fault");
        assert!(render(&found, false).len() < 200_000);
    }
}

#[test]
fn faults_without_end_are_counted_and_not_all_drawn() {
    let text: String = (0..2_000).map(|k| format!("unknown{k} = 1\n")).collect();
    let shown = render(&judge(&text).expect_err("a fault"), false);
    assert!(shown.contains("… and 801 more") && shown.ends_with("1001 errors\n"), "{}", shown.len());
}
