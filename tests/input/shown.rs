//! Faults as they are drawn.

use super::{SMALL, faults, with};
use bankwright::diagnostic::render;
use bankwright::scenario::check::load;
use std::path::Path;

#[test]
fn a_fault_of_a_quantity() {
    let text = with(SMALL, "\"92 Ah\"", "92");
    insta::assert_snapshot!(render(&faults(&text), false), @r#"
      × error: `capacity` is the bare number 92
       ╭─[bank.toml:6:12]
     6 │ capacity = 92
       ·            ─┬
       ·             ╰── expected a charge in Ah, mAh or kAh, in quotes
       ╰────
      help: write the number with its unit, as in "100 Ah"

    1 error
    "#);
}

#[test]
fn an_unknown_key() {
    let text = with(SMALL, "rating =", "ratting =");
    insta::assert_snapshot!(render(&faults(&text), false), @r#"
      × error: [cable.link] has an unknown key `ratting`
        ╭─[bank.toml:12:1]
     12 │ ratting = "140 A"
        · ───┬───
        ·    ╰── did you mean `rating`?
        ╰────
      help: keys here: resistance, size, length, class, contact, rating

    1 error
    "#);
}

#[test]
fn a_syntax_fault() {
    let text = with(SMALL, "cells = 16", "cells = = 16");
    insta::assert_snapshot!(render(&faults(&text), false), @r#"
      × error: this is not TOML: extra `=`, expected nothing
       ╭─[bank.toml:5:9]
     5 │ cells = = 16
       ·         ┬
       ·         ╰── not understood
       ╰────

    1 error
    "#);
}

#[test]
fn a_key_given_twice_and_a_lead_outside() {
    let text = with(SMALL, "cells = 16", "cells = 16\ncells = 15");
    let text = with(&text, "positive = 2", "positive = 5");
    insta::assert_snapshot!(render(&faults(&text), false), @r#"
      × error: `cells` is given twice
       ╭─[bank.toml:6:1]
     6 │ cells = 15
       · ──┬──
       ·   ╰── a second time here
       ╰────

      × error: `positive` is position 5, outside the stack
        ╭─[bank.toml:20:39]
     20 │ leads = [{ cable = "link", positive = 5, negative = 1 }]
        ·                                       ┬
        ·                                       ╰── must be from 1 (at the floor) to 2
        ╰────

    2 errors
    "#);
}

#[test]
fn a_missing_file() {
    let found = load(Path::new("/nowhere/bank.toml")).expect_err("a fault");
    insta::assert_snapshot!(render(&found, false), @r#"
      × error: cannot read /nowhere/bank.toml: No such file or directory (os error 2)
      help: give the path of a scenario file

    1 error
    "#);
}
