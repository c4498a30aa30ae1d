//! Faults as they are drawn.

use super::{SMALL, and, faults, with};
use bankwright::diagnostic::render;
use bankwright::scenario::check::load;
use std::path::Path;

#[test]
fn a_fault_of_a_quantity() {
    let text = with(SMALL, "\"92 Ah\"", "92");
    insta::assert_snapshot!(render(&faults(&text), false), @r#"
    error: `capacity` is the bare number 92
      ╭▸ bank.toml:6:12
      │
    6 │ capacity = 92
      │            ━━ expected a charge in Ah, mAh or kAh, in quotes
      │
      ╰ help: write the number with its unit, as in "100 Ah"

    1 error
    "#);
}

#[test]
fn an_unknown_key() {
    let text = with(SMALL, "rating =", "ratting =");
    insta::assert_snapshot!(render(&faults(&text), false), @r#"
    error: [cable.link] has an unknown key `ratting`
       ╭▸ bank.toml:12:1
       │
    12 │ ratting = "140 A"
       │ ━━━━━━━ did you mean `rating`?
       │
       ╰ help: keys here: resistance, size, length, class, contact, rating, insulation, ampacity, loaded, base, terminals, bundled, above_base, time_constant, price, price_per_metre

    1 error
    "#);
}

#[test]
fn a_syntax_fault() {
    let text = with(SMALL, "cells = 16", "cells = = 16");
    insta::assert_snapshot!(render(&faults(&text), false), @r#"
    error: this is not TOML: extra `=`, expected nothing
      ╭▸ bank.toml:5:9
      │
    5 │ cells = = 16
      ╰╴        ━ not understood

    1 error
    "#);
}

#[test]
fn a_breaker_without_its_curve_and_without_its_ratings() {
    let text = and(SMALL, "[device.main]\nkind = \"breaker\"\nrated = \"200 A\"");
    insta::assert_snapshot!(render(&faults(&text), false), @r#"
    error: [device.main] has no `curve`
       ╭▸ bank.toml:21:1
       │
    21 │ [device.main]
       │ ━━━━━━━━━━━━━ `curve` is required here
       │
       ╰ help: add `curve = [[1.35, "1 h"], [2, "100 s"], [10, "1 s"]]`

    warning: [device.main] has no `breaking_capacity` and no `voltage`
       ╭▸ bank.toml:21:1
       │
    21 │ [device.main]
       ╰╴━━━━━━━━━━━━━ a rating for direct current belongs to every device

    1 error and 1 warning
    "#);
}

#[test]
fn a_size_that_is_in_no_table() {
    let more = "size = \"16 mm2\"\nlength = \"1 m\"\ninsulation = \"90 °C\"\nampacity = \"table\"";
    let text = with(SMALL, "resistance = \"0.25 mΩ\"", more);
    insta::assert_snapshot!(render(&faults(&text), false), @r#"
    error: no table has 16 mm² with insulation of 90 °C
       ╭▸ bank.toml:14:12
       │
    14 │ ampacity = "table"
       │            ━━━━━━━ give the maker's current instead
       │
       ╰ help: in the tables: 25, 35, 50, 70, 95, 120 or 150 mm² at 70 or 90 °C; 4, 2, 1, 1/0, 2/0, 3/0 or 4/0 AWG at 60, 75 or 90 °C

    1 error
    "#);
}

#[test]
fn a_surge_of_another_kind_than_the_load() {
    let surge = "[[surge]]\nname = \"pump\"\ncurrent = \"60 A\"\nlasts = \"2 s\"\nevery = \"1 h\"";
    let text = and(SMALL, &format!("[load]\npower = \"2 kW\"\n{surge}"));
    insta::assert_snapshot!(render(&faults(&text), false), @r#"
    error: `current` has no meaning here
       ╭▸ bank.toml:25:11
       │
    25 │ current = "60 A"
       ╰╴          ━━━━━━ [load] is a power: give `power`

    1 error
    "#);
}

#[test]
fn a_key_given_twice_and_a_lead_outside() {
    let text = with(SMALL, "cells = 16", "cells = 16\ncells = 15");
    let text = with(&text, "positive = 2", "positive = 5");
    insta::assert_snapshot!(render(&faults(&text), false), @r#"
    error: `cells` is given twice
      ╭▸ bank.toml:6:1
      │
    6 │ cells = 15
      ╰╴━━━━━ a second time here

    error: `positive` is position 5, outside the stack
       ╭▸ bank.toml:20:39
       │
    20 │ leads = [{ cable = "link", positive = 5, negative = 1 }]
       ╰╴                                      ━ must be from 1 (at the floor) to 2

    2 errors
    "#);
}

#[test]
fn a_missing_file() {
    let found = load(Path::new("/nowhere/bank.toml")).expect_err("a fault");
    insta::assert_snapshot!(render(&found, false), @r#"
    error: cannot read /nowhere/bank.toml: No such file or directory (os error 2)
     │
     ╰ help: give the path of a scenario file

    1 error
    "#);
}
